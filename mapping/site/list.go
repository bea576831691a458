package site

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"ropewalk/mapping"
	"ropewalk/mapping/source"
)

// list reads a list that the site file names at a pointer, or a file of the usual name
// if there is one, and calls row with the cells of each row: those of columns that must
// be there and then of those that may.
func (l *loader) list(pointer, key, usual string, rule *mapping.Rule, must, may []string, row func(cells []string, where func(int) source.Place)) {
	name := mapping.Text(l.root, pointer)
	said := mapping.Find(l.root, pointer)
	if name == "" {
		name = usual
		if _, err := fs.Stat(l.fsys, name); errors.Is(err, fs.ErrNotExist) {
			return
		}
		said = mapping.Span{File: name, Line: 1, Col: 1, Len: 1}
	}
	data, err := fs.ReadFile(l.fsys, name)
	if err != nil {
		l.add(said, rule, fmt.Sprintf("%s can't be read: %s", name, reason(err)), "")
		return
	}
	l.site.files[name] = data
	set, err := source.New(l.fsys, []source.Spec{{Name: key, Files: []string{name}}})
	if err != nil {
		var se *source.SpecError
		msg := err.Error()
		if errors.As(err, &se) {
			msg = se.Reason
		}
		l.add(said, rule, fmt.Sprintf("%s can't be read: %s", name, msg), "")
		return
	}
	src := set.Source(key)
	desc, err := src.Describe()
	if err == nil && src.Nested() {
		err = errors.New("a table is expected here")
	}
	if err != nil {
		l.add(said, rule, err.Error(), "")
		return
	}
	want := slices.Concat(must, may)
	layout := src.Layout()
	slots := make([]int, len(want))
	for i := range slots {
		slots[i] = -1
	}
	head := source.Place{File: name, Line: 1}
	for _, c := range desc.Columns {
		i := slices.Index(want, strings.ToLower(c.Path))
		if i < 0 {
			head.Value = c.Path
			l.add(l.cell(head), rule, fmt.Sprintf("there is no column %q in this list", c.Path), "its columns are "+strings.Join(want, ", "))
			return
		}
		if slots[i], err = layout.Field(c.Path); err != nil {
			l.add(said, rule, err.Error(), "")
			return
		}
	}
	for i, n := range must {
		if slots[i] < 0 {
			head.Value = ""
			l.add(l.cell(head), rule, fmt.Sprintf("the list has no column %q", n), "its columns are "+strings.Join(want, ", "))
			return
		}
	}
	rep := &source.Report{}
	err = src.Read(context.Background(), layout, source.Options{Report: rep}, func(b *source.Batch) error {
		defer b.Release()
		for i := range b.Rows {
			r := &b.Rows[i]
			cells := make([]string, len(want))
			for k, s := range slots {
				if s >= 0 {
					cells[k] = strings.Clone(r.Cells[s])
				}
			}
			row(cells, func(k int) source.Place {
				p := layout.WhereRow(r)
				if slots[k] >= 0 {
					p = layout.Where(r, slots[k])
				}
				p.Value = cells[k]
				return p
			})
		}
		return nil
	})
	if err != nil {
		l.add(said, rule, err.Error(), "")
	}
	for _, n := range rep.Notes() {
		if n.Kind != source.LongRow {
			continue
		}
		for _, p := range n.Places {
			p.Value = ""
			l.addCell(rule, p, "the row has more cells than the header", "text with a comma stands in quotes")
		}
	}
}
