package mapping

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// source is the text of a file by lines and characters, as spans count them.
type sourceText [][]rune

func textOf(data []byte) sourceText {
	s := strings.ReplaceAll(strings.ReplaceAll(strings.TrimPrefix(string(data), "\ufeff"), "\r\n", "\n"), "\r", "\n")
	var out sourceText
	for _, l := range strings.Split(s, "\n") {
		out = append(out, []rune(l))
	}
	return out
}

// under gives the characters that a span underlines, and all that follow on the
// line.
func (s sourceText) under(t testing.TB, sp Span) (marked, rest string) {
	t.Helper()
	if sp.Line < 1 || sp.Line > len(s) || sp.Col < 1 || sp.Col > len(s[sp.Line-1])+1 || sp.Len < 1 {
		t.Fatalf("%s:%d:%d+%d is outside the file", sp.File, sp.Line, sp.Col, sp.Len)
	}
	l := s[sp.Line-1][sp.Col-1:]
	return string(l[:min(sp.Len, len(l))]), string(l)
}

// checkSpans compares every scalar of a file with what its span underlines, and
// every character of its text with the place given for it. It returns the number
// of scalars.
func checkSpans(t testing.TB, name string, data []byte) int {
	t.Helper()
	tree, err := ParseYAML(name, data)
	if err != nil {
		t.Fatalf("%v\n%s", err, data)
	}
	src := textOf(data)
	n := 0
	scalar := func(s *Scalar) {
		n++
		marked, rest := src.under(t, s.Span)
		where := fmt.Sprintf("%s:%d:%d: text %q, marked %q", name, s.Line, s.Col, s.Text, marked)
		first, _, folded := strings.Cut(s.Text, "\n")
		switch {
		case s.Null:
			if marked != "null" && marked != "~" && marked != "Null" && marked != "NULL" && strings.Trim(rest, " ,}]#") != "" &&
				!strings.HasPrefix(rest, " #") && rest[0] != ',' && rest[0] != '}' {
				t.Errorf("%s: nothing is written here, or null", where)
			}
			return
		case s.Block:
			if marked != "|" && marked != ">" {
				t.Errorf("%s: a block's span is its mark", where)
			}
		case s.Quoted:
			q := marked[:1]
			if q != `"` && q != "'" {
				t.Errorf("%s: no quotes", where)
			}
			if strings.TrimRight(rest, " ") != marked && !strings.HasSuffix(marked, q) {
				t.Errorf("%s: not as far as the quotes", where)
			}
		default:
			if marked != s.Text && !(folded || strings.HasPrefix(s.Text, marked) && strings.TrimRight(rest, " ") == marked) {
				t.Errorf("%s: %q", where, first)
			}
		}
		for i, r := range s.Text {
			if r == ' ' || r == '\n' || r == '\t' {
				continue // folded white space has no exact place
			}
			m, _ := src.under(t, s.at(i, i+utf8.RuneLen(r)))
			if m != string(r) && !(s.Quoted && (strings.HasPrefix(m, `\`) || m == "'" && r == '\'')) {
				t.Errorf("%s: character %q at byte %d is placed at %q", where, r, i, m)
				return
			}
		}
	}
	var walk func(v Value)
	walk = func(v Value) {
		switch x := v.(type) {
		case *Scalar:
			scalar(x)
		case *List:
			if m, rest := src.under(t, x.Span); m != "[" && m != "-" && len(x.Items) > 0 {
				t.Errorf("%s:%d:%d: a list begins at %q", name, x.Line, x.Col, rest)
			}
			for _, i := range x.Items {
				walk(i)
			}
		case *Map:
			if len(x.Entries) > 0 && x.Span != x.Entries[0].Key.Span {
				t.Errorf("%s:%d:%d: a mapping is marked by its first key, at %d:%d", name, x.Line, x.Col, x.Entries[0].Key.Line, x.Entries[0].Key.Col)
			}
			for _, e := range x.Entries {
				scalar(e.Key)
				walk(e.Value)
			}
		default:
			t.Errorf("%s: %T in the tree", name, v)
		}
	}
	for _, d := range tree.Docs {
		walk(d)
	}
	return n
}

// Every scalar of every mapping file at hand has the place where it is written.
func TestSpans(t *testing.T) {
	total := 0
	for glob, least := range map[string]int{
		"testdata/spans/*.yaml":                       3,
		"patterns/*.yaml":                             9,
		"../service/demo/site/*.yaml":                 1,
		"../service/demo/site/mapping/*.yaml":         6,
		"../conformance/collections/*/*.yaml":         1,
		"../conformance/collections/*/mapping/*.yaml": 1,
	} {
		files, err := filepath.Glob(glob)
		if err != nil {
			t.Fatal(err)
		}
		if len(files) < least {
			t.Errorf("%s: %d files, at least %d expected", glob, len(files), least)
		}
		for _, f := range files {
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			total += checkSpans(t, f, data)
			// The same with the line ends and the mark of another system.
			crlf := append([]byte("\ufeff"), bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n"))...)
			checkSpans(t, f+" (CRLF)", crlf)
		}
	}
	if total < 1500 {
		t.Errorf("%d scalars in all, which is too few to prove anything", total)
	}
}

// Random YAML whose scalars are known: each comes out with its text, at its place.
func TestSpansRandom(t *testing.T) {
	word := rapid.StringMatching(`[a-zäöéß漢😀{}][a-z {}ä漢😀.]{0,12}[a-zé]`)
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		var want []string
		key := 0
		inline := func(text string) string {
			want = append(want, text)
			switch rapid.IntRange(0, 2).Draw(t, "style") {
			case 0:
				return `"` + strings.NewReplacer(`é`, `\u00e9`, `ß`, `\xdf`, `😀`, `\U0001F600`).Replace(text) + `"`
			case 1:
				want[len(want)-1] = text + "'s"
				return `'` + text + `''s'`
			}
			if strings.ContainsAny(text, "{}") {
				return `"` + text + `"`
			}
			return text
		}
		var block func(indent int)
		block = func(indent int) {
			pad := strings.Repeat(" ", indent)
			for range rapid.IntRange(1, 3).Draw(t, "entries") {
				key++
				k := fmt.Sprintf("k%dä", key)
				want = append(want, k)
				b.WriteString(pad + k + ":")
				switch rapid.IntRange(0, 6).Draw(t, "value") {
				case 0:
					if indent < 8 {
						b.WriteString("\n")
						block(indent + 2)
						continue
					}
					fallthrough
				case 1:
					b.WriteString(" " + inline(word.Draw(t, "w")) + "   # ä {c}\n")
				case 2:
					b.WriteString(" |\n")
					x, y := word.Draw(t, "x"), word.Draw(t, "y")
					b.WriteString(pad + "   " + x + "\n" + pad + "     " + y + "\n")
					want = append(want, x+"\n  "+y+"\n")
				case 3:
					b.WriteString(" >-\n")
					x, y := word.Draw(t, "x"), word.Draw(t, "y")
					b.WriteString("\n" + pad + "  " + x + "\n" + pad + "  " + y + "\n")
					want = append(want, "\n"+x+" "+y)
				case 4:
					x, y, z := word.Draw(t, "x"), word.Draw(t, "y"), word.Draw(t, "z")
					b.WriteString(` "` + x + "\n\n" + pad + "  " + y + "\n" + pad + ` ` + z + `"` + "\n")
					want = append(want, x+"\n"+y+" "+z)
				case 5:
					b.WriteString(" {")
					for i := range rapid.IntRange(1, 3).Draw(t, "pairs") {
						if i > 0 {
							b.WriteString(", ")
						}
						key++
						k := fmt.Sprintf("f%d", key)
						want = append(want, k)
						b.WriteString(k + ": " + inline(word.Draw(t, "w")))
					}
					b.WriteString("}\n")
				default:
					b.WriteString("\n")
					for range rapid.IntRange(1, 3).Draw(t, "items") {
						b.WriteString(pad + "  - " + inline(word.Draw(t, "w")) + "\n")
					}
				}
			}
		}
		for i := range rapid.IntRange(1, 3).Draw(t, "documents") {
			if i > 0 {
				b.WriteString("---\n# between\n")
				if rapid.Bool().Draw(t, "empty") {
					b.WriteString("---\n")
				}
			}
			block(0)
		}
		data := []byte(b.String())
		checkSpans(rapidTB{TB: nil, T: t}, "random", data)
		tree, _ := ParseYAML("random", data)
		var got []string
		var walk func(v Value)
		walk = func(v Value) {
			switch x := v.(type) {
			case *Scalar:
				got = append(got, x.Text)
			case *List:
				for _, i := range x.Items {
					walk(i)
				}
			case *Map:
				for _, e := range x.Entries {
					got = append(got, e.Key.Text)
					walk(e.Value)
				}
			}
		}
		for _, d := range tree.Docs {
			walk(d)
		}
		if strings.Join(got, "\x00") != strings.Join(want, "\x00") {
			t.Fatalf("texts\n%q\nwant\n%q\nin\n%s", got, want, data)
		}
	})
}

// rapidTB lets a rapid test stand where a testing.TB is asked for.
type rapidTB struct {
	testing.TB
	T *rapid.T
}

func (r rapidTB) Helper()                   { r.T.Helper() }
func (r rapidTB) Errorf(f string, a ...any) { r.T.Errorf(f, a...) }
func (r rapidTB) Fatalf(f string, a ...any) { r.T.Fatalf(f, a...) }

// Whatever the file, parsing ends with a tree or with diagnostics, and all places
// lie within the file.
func FuzzParseYAML(f *testing.F) {
	for _, glob := range []string{"testdata/spans/*.yaml", "patterns/*.yaml"} {
		files, err := filepath.Glob(glob)
		if err != nil || len(files) == 0 {
			f.Fatal("no seeds: ", glob, err)
		}
		for _, n := range files {
			data, err := os.ReadFile(n)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	for _, s := range []string{"", "a: b\na: c\n", "a: [b\n", "a: \"x\n", "a:\n\tb: c\n", "%YAML 1.2\n---\na: b\n", "a: *x\n", "? [a]\n: b\n", "<<: {a: b}\n", "a: \xff\n", "a: |9\n x\n", "a: |+\n\n", "|++\n", " \r0", "a: b\rc: [d\r", "- - - -\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		src := textOf(data)
		inside := func(sp Span) {
			if sp.Line < 1 || sp.Line > len(src) || sp.Col < 1 || sp.Len < 1 {
				t.Fatalf("%d:%d+%d is outside %q", sp.Line, sp.Col, sp.Len, data)
			}
		}
		tree, err := ParseYAML("f", data)
		if err != nil {
			for _, d := range err.(Diagnostics) {
				inside(d.Span)
				if d.Message == "" {
					t.Fatal("nothing is said")
				}
			}
			return
		}
		var walk func(v Value)
		walk = func(v Value) {
			inside(v.Place())
			switch x := v.(type) {
			case *Scalar:
				for i := 0; i < len(x.Text); i += 1 + len(x.Text)/20 {
					inside(x.at(i, i+1))
				}
			case *List:
				for _, i := range x.Items {
					walk(i)
				}
			case *Map:
				for _, e := range x.Entries {
					walk(e.Key)
					walk(e.Value)
				}
			}
		}
		for _, d := range tree.Docs {
			walk(d)
		}
	})
}

func TestColonWithinKey(t *testing.T) {
	for _, tt := range []struct{ text, at string }{
		{"on: { lido:recordID: ObmObjId }", "1:11"},
		{"on: { id:name }", "1:9"},
		{"on: { \"lido:recordID\": ObmObjId }", ""},
		{"on: {id: name, a: {b:\n c}, d:, e: lido:x}", ""},
		{"lido:recordID: ObmObjId", ""},
	} {
		_, err := ParseYAML("t.yaml", []byte(tt.text))
		got := ""
		var ds Diagnostics
		if errors.As(err, &ds) {
			got = fmt.Sprintf("%d:%d", ds[0].Line, ds[0].Col)
		}
		if got != tt.at {
			t.Errorf("%s: %v, want a diagnostic at %q", tt.text, err, tt.at)
		}
	}
}
