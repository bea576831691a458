package mapping

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/vm"
)

// expression is a compiled expression over fields or holes.
type expression struct {
	span    Span
	code    string
	vars    []exprVar
	program *vm.Program

	// The commonest conditions need no machine: one variable compared with one string.
	simple  bool
	negated bool
	equal   string
	konst   *bool // it has the same value for every record
}

type exprVar struct {
	name   string
	text   *text
	coarse bool // it only goes into functions that make it coarse
}

// expressionOptions are the functions as the expression library wants them.
func expressionOptions() []expr.Option {
	one := func(f func(string) string) func(...any) (any, error) {
		return func(a ...any) (any, error) { return f(a[0].(string)), nil }
	}
	two := func(f func(a, b string) string) func(...any) (any, error) {
		return func(a ...any) (any, error) { return f(a[0].(string), a[1].(string)), nil }
	}
	return []expr.Option{
		expr.Function("slug", one(slug), new(func(string) string)),
		expr.Function("first_line", one(firstLine), new(func(string) string)),
		expr.Function("squash", one(squash), new(func(string) string)),
		expr.Function("after", two(after), new(func(string, string) string)),
		expr.Function("before", two(before), new(func(string, string) string)),
		expr.Function("match", func(a ...any) (any, error) { return match(a[0].(string), a[1].(string)) }, new(func(string, string) string)),
		expr.Function("filled", func(a ...any) (any, error) { return strings.TrimSpace(a[0].(string)) != "", nil }, new(func(string) bool)),
		expr.Function("grid_cell", func(a ...any) (any, error) { return gridCell(a[0].(string), a[1].(string), a[2].(string)) },
			new(func(latitude, longitude, grid string) string)),
		expr.Function("caution_words", one(cautionWords), new(func(string) string)),
		expr.Function("coarse", func(a ...any) (any, error) {
			grid, _ := a[1].(float64)
			if i, ok := a[1].(int); ok {
				grid = float64(i)
			}
			return coarse(a[0].(string), grid)
		}, new(func(string, float64) string), new(func(string, int) string)),
		expr.Function("year_only", func(a ...any) (any, error) { return yearOnly(a[0].(string)) }, new(func(string) string)),
		expr.Function("number", func(a ...any) (any, error) {
			s := strings.TrimSpace(a[0].(string))
			f, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return nil, fmt.Errorf("%q is not a number", s)
			}
			return f, nil
		}, new(func(string) float64)),
		expr.Function("either", func(a ...any) (any, error) {
			for _, x := range a {
				if s := x.(string); s != "" {
					return s, nil
				}
			}
			return "", nil
		}, new(func(...string) string)),
	}
}

// expression compiles code, which begins at byte base of the scalar s. With
// boolean it must give true or false.
func (c *compiler) expression(code string, s *Scalar, base int, env *env, sc *scope, boolean bool) *expression {
	e := &expression{span: s.at(base, base+len(code)), code: code}
	// Holes within the expression become names of the same length, so that places in
	// messages stay right.
	holes := map[string]*text{}
	var b strings.Builder
	stand := func(t *text, from, to int) {
		name := fmt.Sprintf("_%d", len(holes))
		holes[name] = t
		b.WriteString(name)
		b.WriteString(strings.Repeat(" ", max(0, to-from-len(name))))
	}
	for i := 0; i < len(code); {
		if to := dottedName(code, i); to > i && env == nil {
			t, known := c.dotted(code[i:to], s.at(base+i, base+to), s, sc)
			if known && t == nil {
				return nil
			}
			if known {
				stand(t, i, to)
				i = to
				continue
			}
			b.WriteString(code[i:to])
			i = to
			continue
		}
		switch ch := code[i]; ch {
		case '"', '\'', '`':
			j := i + 1
			for j < len(code) && code[j] != ch {
				if code[j] == '\\' && ch != '`' {
					j++
				}
				j++
			}
			j = min(j+1, len(code))
			b.WriteString(code[i:j])
			i = j
		case '{':
			end := closing(code, i)
			if end < 0 {
				c.add(ruleBadText, s.at(base+i, base+i+1), "this brace is never closed", "close it behind the name of the field")
				return nil
			}
			stand(c.hole(strings.TrimSpace(code[i+1:end]), s, base+i+1, base+end, env, sc), i, end+1)
			i = end + 1
		case '.':
			if !aloneAt(code, i) {
				b.WriteByte(ch)
				i++
				continue
			}
			stand(c.hole(".", s, base+i, base+i+1, env, sc), i, i+1) // the row's own value
			i++
		default:
			b.WriteByte(ch)
			i++
		}
	}
	src, put := pipes(b.String())
	place := func(n int) int { // characters of src to bytes of code
		at := runeAt(src, n)
		for _, p := range slices.Backward(put) {
			if at > p {
				at -= len("()")
			}
		}
		return at
	}
	tree, err := parser.Parse(src)
	if err != nil {
		c.expressionError(err, s, base, code, place)
		return nil
	}
	bad := &badPattern{}
	ast.Walk(&tree.Node, bad)
	if bad.err != nil {
		loc := bad.at.Location()
		c.add(ruleBadExpression, s.at(base+place(loc.From), base+place(loc.To)),
			"the regular expression can't be used: "+strings.TrimPrefix(bad.err.Error(), "error parsing regexp: "), "")
		return nil
	}
	open := &openNames{coarse: map[*ast.IdentifierNode]bool{}}
	ast.Walk(&tree.Node, open)
	if open.badGrid != nil {
		loc := open.badGrid.Location()
		c.add(ruleBadExpression, s.at(base+place(loc.From), base+place(loc.To)),
			fmt.Sprintf("the grid of \"coarse\" is a number of degrees from %v to %v", gridLeast, gridMost), "such as coarse({Latitude}, 0.1), some eleven kilometres")
		return nil
	}
	vis := &identifiers{}
	ast.Walk(&tree.Node, vis)
	types := map[string]any{}
	for _, id := range vis.found {
		if _, done := types[id.Value]; done {
			continue
		}
		t, ok := holes[id.Value]
		if !ok {
			from := base + place(id.Location().From)
			t = c.hole(id.Value, s, from, from+len(id.Value), env, sc)
		}
		if t == nil {
			return nil // said already
		}
		types[id.Value] = ""
		e.vars = append(e.vars, exprVar{name: id.Value, text: t, coarse: open.onlyCoarse(id.Value)})
	}
	opts := append(expressionOptions(), expr.Env(types))
	if boolean {
		opts = append(opts, expr.AsBool())
	}
	e.program, err = expr.Compile(src, opts...)
	if err != nil {
		c.expressionError(err, s, base, code, place)
		return nil
	}
	e.shortcuts(e.program.Node())
	if boolean && len(e.vars) == 0 && e.konst == nil {
		if out, err := expr.Run(e.program, nil); err == nil {
			b, _ := out.(bool)
			e.konst = &b
		}
	}
	return e
}

// aloneAt reports whether the point at byte i of code belongs to nothing beside it.
func aloneAt(code string, i int) bool {
	part := func(c byte) bool {
		return c == '.' || c == '?' || c == ')' || c == ']' || c == '}' || isWord("_"+string(c))
	}
	return (i == 0 || !part(code[i-1])) && (i+1 == len(code) || !part(code[i+1]) || code[i+1] == ')' || code[i+1] == ']')
}

// dottedName gives the end of the words joined by dots ("maker.name") that begin
// at byte i of code, or i if there are none.
func dottedName(code string, i int) int {
	word := func(i int) int {
		for j := i; ; j++ {
			if j == len(code) || !isWord("_"+code[j:j+1]) {
				return j
			}
		}
	}
	if i > 0 && (code[i-1] == '.' || isWord("_"+code[i-1:i])) || !isWord(code[i:i+1]) {
		return i
	}
	end := word(i)
	dots := 0
	for end+1 < len(code) && code[end] == '.' && isWord(code[end+1:end+2]) {
		end = word(end + 1)
		dots++
	}
	if dots == 0 || end < len(code) && code[end] == '(' {
		return i
	}
	return end
}

// dotted resolves words joined by dots to a field. known is false if the first
// word stands for something else; t is nil after saying what is wrong.
func (c *compiler) dotted(path string, sp Span, s *Scalar, sc *scope) (t *text, known bool) {
	f, err := c.field(path, sp, sc)
	if f != nil {
		return &text{src: s, holes: 1, segs: []segment{{field: f, span: sp}}}, true
	}
	first, _, _ := strings.Cut(path, ".")
	if f, _ := c.field(first, sp, sc); f != nil {
		return nil, false
	}
	c.unknownField(path, sp, sc, err)
	return nil, true
}

// pipes lets a function behind a bar go without its parentheses: "title | slug".
// put are the places in the result where they were added.
func pipes(s string) (out string, put []int) {
	var b strings.Builder
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == '"' || c == '\'' || c == '`':
			j := i + 1
			for j < len(s) && s[j] != c {
				if s[j] == '\\' && c != '`' {
					j++
				}
				j++
			}
			j = min(j+1, len(s))
			b.WriteString(s[i:j])
			i = j
		case c == '|' && i+1 < len(s) && s[i+1] == '|':
			b.WriteString("||")
			i += 2
		case c == '|':
			j := i + 1
			for j < len(s) && s[j] == ' ' {
				j++
			}
			k := j
			for k < len(s) && (s[k] == '_' || 'a' <= s[k] && s[k] <= 'z' || 'A' <= s[k] && s[k] <= 'Z' || k > j && '0' <= s[k] && s[k] <= '9') {
				k++
			}
			b.WriteString(s[i:k])
			if rest := strings.TrimLeft(s[k:], " "); k > j && !strings.HasPrefix(rest, "(") {
				put = append(put, b.Len())
				b.WriteString("()")
			}
			i = k
		default:
			b.WriteByte(c)
			i++
		}
	}
	return b.String(), put
}

// shortcuts recognises constants and comparisons of one field with one string.
func (e *expression) shortcuts(n ast.Node) {
	switch v := n.(type) {
	case *ast.BoolNode:
		e.konst = &v.Value
	case *ast.ConstantNode:
		if b, ok := v.Value.(bool); ok {
			e.konst = &b
		}
	case *ast.CallNode: // filled(x)
		f, ok := v.Callee.(*ast.IdentifierNode)
		if ok && f.Value == "filled" && len(v.Arguments) == 1 && len(e.vars) == 1 {
			if id, ok := v.Arguments[0].(*ast.IdentifierNode); ok && id.Value == e.vars[0].name {
				e.simple, e.negated = true, true
			}
		}
	case *ast.BinaryNode:
		id, ok := v.Left.(*ast.IdentifierNode)
		str, ok2 := v.Right.(*ast.StringNode)
		if ok && ok2 && len(e.vars) == 1 && id.Value == e.vars[0].name && (v.Operator == "==" || v.Operator == "!=") {
			e.simple, e.equal, e.negated = true, str.Value, v.Operator == "!="
		}
	}
}

// identifiers collects the names an expression uses as values.
type identifiers struct{ found []*ast.IdentifierNode }

func (v *identifiers) Visit(n *ast.Node) {
	switch x := (*n).(type) {
	case *ast.IdentifierNode:
		v.found = append(v.found, x)
	case *ast.CallNode: // visited after its callee
		v.found = slices.DeleteFunc(v.found, func(id *ast.IdentifierNode) bool { return id == x.Callee })
	}
}

// holds reports whether all conditions are true.
func (r *Run) holds(whens []*expression) bool {
	for _, w := range whens {
		if !r.truth(w) {
			return false
		}
	}
	return true
}

// truth runs a condition.
func (r *Run) truth(e *expression) bool {
	if e.konst != nil {
		return *e.konst
	}
	if e.simple {
		v, _ := r.fill(e.vars[0].text)
		return (v == e.equal) != e.negated
	}
	out, err := r.eval(e)
	if err != nil {
		r.problem(problemExpression, e.span, e.vars, "", err.Error())
		r.failed = true
		return false
	}
	b, _ := out.(bool)
	return b
}

// eval runs an expression on the record. One that fails although nothing but
// empty cells went into it gives nothing: "{number(height) / 10}" where there is no
// height.
func (r *Run) eval(e *expression) (any, error) {
	env := make(map[string]any, len(e.vars))
	empty := true
	for i := range e.vars {
		s, _ := r.fill(e.vars[i].text)
		env[e.vars[i].name] = s
		empty = empty && s == ""
	}
	out, err := r.machine.Run(e.program, env)
	if err != nil && empty && len(e.vars) > 0 {
		return nil, nil
	}
	var fe *file.Error
	if errors.As(err, &fe) {
		return nil, errors.New(fe.Message)
	}
	return out, err
}

// asText gives an expression's result as text: numbers in their shortest decimal
// form.
func asText(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return x
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	case int:
		return strconv.Itoa(x)
	case bool:
		return strconv.FormatBool(x)
	default:
		return fmt.Sprint(x)
	}
}
