package source

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf16"
)

// files makes a file system of names and contents.
func files(pairs ...string) fstest.MapFS {
	m := fstest.MapFS{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i]] = &fstest.MapFile{Data: []byte(pairs[i+1])}
	}
	return m
}

func mustNew(t testing.TB, fsys fstest.MapFS, specs ...Spec) *Set {
	t.Helper()
	set, err := New(fsys, specs)
	if err != nil {
		t.Fatal(err)
	}
	return set
}

// rowsOf reads a source whole: each row as "num/line: cell|cell", child rows below
// it with an indent for each level.
func rowsOf(t testing.TB, src *Source, l *Layout, rep *Report) []string {
	t.Helper()
	out, err := readAll(src, l, Options{Report: rep})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func readAll(src *Source, l *Layout, opt Options) ([]string, error) {
	var out []string
	var add func(l *Layout, r *Row, indent string)
	add = func(l *Layout, r *Row, indent string) {
		s := fmt.Sprintf("%s%d/%d", indent, r.Num, r.Line)
		if r.Path != "" {
			s += " " + r.Path
		}
		out = append(out, strings.Clone(s+": "+strings.Join(r.Cells, "|")))
		for i := range l.kids {
			for k := range r.Kids[i] {
				add(l.kids[i].l, &r.Kids[i][k], indent+"  ")
			}
		}
	}
	err := src.Read(context.Background(), l, opt, func(b *Batch) error {
		for i := range b.Rows {
			add(l, &b.Rows[i], "")
		}
		b.Release()
		return nil
	})
	return out, err
}

// allColumns is a layout of every column that Describe lists.
func allColumns(t testing.TB, src *Source) *Layout {
	t.Helper()
	d, err := src.Describe()
	if err != nil {
		t.Fatal(err)
	}
	l := src.Layout()
	for _, c := range d.Columns {
		slots(t, l, c.Path)
	}
	return l
}

// noted is a report as "kind column: count @ places".
func noted(rep *Report) []string {
	var out []string
	for _, n := range rep.Notes() {
		s := fmt.Sprintf("%s %s: %d @", n.Kind, n.Column, n.Count)
		for _, p := range n.Places {
			s += fmt.Sprintf(" %s", place(p))
		}
		out = append(out, s)
	}
	return out
}

func place(p Place) string {
	s := fmt.Sprintf("%s row %d line %d %s=%q", p.File, p.Row, p.Line, p.Column, p.Value)
	return strings.NewReplacer(`\u00a0`, "\u00a0", `\u0080`, "\u0080", `\u0081`, "\u0081").Replace(s)
}

func same(t testing.TB, what string, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got  %s\n want %s", what, strings.Join(got, "\n      "), strings.Join(want, "\n      "))
	}
}

// failure reads a source and returns the error, which must be of type *Error.
func failure(t testing.TB, src *Source, l *Layout) *Error {
	t.Helper()
	_, err := readAll(src, l, Options{})
	var e *Error
	if !errors.As(err, &e) {
		t.Fatalf("the error is %v, want an *Error", err)
	}
	return e
}

func utf16LE(s string, bom bool) string {
	units := utf16.Encode([]rune(s))
	if bom {
		units = slices.Insert(units, 0, 0xfeff)
	}
	var b strings.Builder
	for _, u := range units {
		b.WriteByte(byte(u))
		b.WriteByte(byte(u >> 8))
	}
	return b.String()
}

func swap(s string) string {
	b := []byte(s)
	for i := 0; i+1 < len(b); i += 2 {
		b[i], b[i+1] = b[i+1], b[i]
	}
	return string(b)
}
