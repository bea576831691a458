package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"

	"ropewalk/mapping"
	"ropewalk/mapping/line"
	"ropewalk/mapping/source"
)

// painter draws diagnostics and problems for people.
type painter struct {
	w     io.Writer
	color bool
	text  func(file string) ([]byte, bool)
}

// colorful reports whether w is a terminal whose user has not asked for plain
// text (NO_COLOR, a common convention).
func colorful(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

func (p *painter) style(code, s string) string {
	if !p.color {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func (p *painter) bold(s string) string { return p.style("1", s) }
func (p *painter) red(s string) string  { return p.style("31", s) }
func (p *painter) faint(s string) string {
	return p.style("2", s)
}

// diagnostic draws one diagnostic: place, rule, the line with a caret, the
// message, the hint.
func (p *painter) diagnostic(d *mapping.Diagnostic) {
	word := p.red(d.Rule)
	if d.Severity == mapping.Notice {
		word = d.Rule + " (notice)"
	}
	fmt.Fprintf(p.w, "%s: %s\n", p.bold(fmt.Sprintf("%s:%d:%d", d.File, d.Line, d.Col)), word)
	if d.Severity == mapping.Problem {
		p.line(d.Span)
	}
	p.para("  ", d.Message)
	if d.Hint != "" {
		p.para("  hint: ", d.Hint)
	}
	for _, s := range d.Also {
		fmt.Fprintf(p.w, "  see also %s:%d:%d\n", s.File, s.Line, s.Col)
	}
	fmt.Fprintln(p.w)
}

// para writes text behind a lead, in lines of at most width characters, the later
// ones below the first.
func (p *painter) para(lead, text string) {
	const width = 100
	rest := strings.Repeat(" ", utf8.RuneCountInString(lead))
	var b strings.Builder
	b.WriteString(lead)
	at := len(rest)
	for i, word := range strings.Split(text, " ") {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case at+1+n > width:
			b.WriteString("\n" + rest)
			at = len(rest)
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	fmt.Fprintln(p.w, b.String())
}

// line draws the line of a span with a caret below.
func (p *painter) line(s mapping.Span) {
	if p.text == nil {
		return
	}
	data, ok := p.text(s.File)
	if !ok {
		return
	}
	lines := bytes.Split(bytes.TrimPrefix(data, []byte("\ufeff")), []byte("\n"))
	if s.Line < 1 || s.Line > len(lines) {
		return
	}
	l := strings.TrimRight(string(lines[s.Line-1]), "\r")
	col := max(s.Col-1, 0)
	var pad strings.Builder
	i := 0
	for _, r := range l {
		if i >= col {
			break
		}
		if r == '\t' {
			pad.WriteByte('\t')
		} else {
			pad.WriteByte(' ')
		}
		i++
	}
	n := max(1, min(s.Len, utf8.RuneCountInString(l)-col))
	num := fmt.Sprintf("%5d", s.Line)
	fmt.Fprintf(p.w, "%s %s\n%s %s%s\n", p.faint(num+" |"), l, p.faint("      |"), pad.String(), p.red(strings.Repeat("^", n)))
}

// place says a cell's place: file, row, column.
func place(p source.Place) string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Sheet != "" {
		fmt.Fprintf(&b, ", sheet %s", p.Sheet)
	}
	if p.Row > 0 {
		fmt.Fprintf(&b, ", row %d", p.Row)
	}
	if p.Column != "" {
		fmt.Fprintf(&b, ", column %q", p.Column)
	}
	return b.String()
}

// problem draws one problem of a record.
func (p *painter) problem(r mapping.RecordProblem) {
	var out bytes.Buffer // written at once, so that nothing comes between
	defer func(w io.Writer) {
		p.w = w
		_, _ = out.WriteTo(w)
	}(p.w)
	p.w = &out
	head := r.IRI
	if len(r.Places) > 0 {
		head = place(r.Places[0])
	}
	word := p.red(string(r.Rule))
	if r.Severity == mapping.Notice {
		word = string(r.Rule) + " (notice)"
	}
	if head == "" {
		head = fmt.Sprintf("%s:%d:%d", r.Span.File, r.Span.Line, r.Span.Col)
	}
	fmt.Fprintf(p.w, "%s: %s\n", p.bold(head), word)
	if len(r.Sides) > 0 {
		p.para("  ", r.Message)
		p.sides(r.Sides)
		fmt.Fprintln(p.w)
		return
	}
	v := r.Value
	if v == "" && len(r.Places) > 0 {
		v = r.Places[0].Value
	}
	if v != "" {
		fmt.Fprintf(p.w, "  value: %s\n", quote(v))
	}
	p.para("  ", r.Message)
	if len(r.Nearest) > 0 {
		p.para("  hint: ", "near words: "+strings.Join(r.Nearest, ", "))
	}
	var more []string
	if len(r.Places) > 0 && r.IRI != "" && r.IRI != v {
		more = append(more, "document <"+r.IRI+">")
	}
	if r.Span.File != "" {
		more = append(more, fmt.Sprintf("mapped at %s:%d", r.Span.File, r.Span.Line))
	}
	if len(more) > 0 {
		fmt.Fprintf(p.w, "  %s\n", p.faint(strings.Join(more, ", ")))
	}
	fmt.Fprintln(p.w)
}

// sides says what contradicts what: each statement with the cells it was made of.
func (p *painter) sides(sides []mapping.Side) {
	for _, s := range sides {
		label := ""
		if s.Label != "" {
			label = "  " + s.Label
		}
		fmt.Fprintf(p.w, "  <%s>%s\n    %s: %s\n", s.IRI, label, s.What, quote(s.Says))
		for _, c := range s.Places {
			fmt.Fprintf(p.w, "      %s = %s\n", place(c), quote(c.Value))
		}
		if len(s.Places) == 0 && s.Span.File != "" {
			fmt.Fprintf(p.w, "      %s\n", p.faint(fmt.Sprintf("mapped at %s:%d", s.Span.File, s.Span.Line)))
		}
	}
}

// waived draws something that breaks a rule and is let be.
func (p *painter) waived(w line.Waived) {
	var out bytes.Buffer
	q := &painter{w: &out, color: p.color, text: p.text}
	fmt.Fprintf(&out, "%s: waived\n", q.bold(w.Rule))
	q.para("  because: ", w.Because)
	q.sides(w.Sides)
	fmt.Fprintln(&out)
	_, _ = out.WriteTo(p.w)
}

// quote shortens and quotes a value for a line of output.
func quote(s string) string {
	const most = 120
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
