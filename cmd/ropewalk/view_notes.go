package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render/view"
	"ropewalk/mapping/source"
)

// ruleLeftOut is told of a document that a view cannot hold: its Value is the view's
// name, its Nearest the code of the reason. It is no problem of the record.
const ruleLeftOut mapping.ProblemRule = "left-out-of-view"

// leaveOut tells of the views that are made for documents of the kind but cannot hold
// this one. Views that leave nobody out for what a record lacks are not asked.
func leaveOut(d *entity.Document, m mapping.Meta, c *view.Context, tell func(mapping.RecordProblem)) {
	for _, v := range view.Views() {
		if v.Endpoints == nil || m.Endpoint == nil || !v.Covers(m.Endpoint.Name) {
			continue
		}
		var why *view.Reason
		if err := v.Check(d, c); !errors.As(err, &why) {
			continue
		}
		r := mapping.RecordProblem{Rule: ruleLeftOut, IRI: why.Document, Message: why.Text, Value: v.Name, Nearest: []string{why.Code}}
		if m.Row != nil && m.Row.File != nil {
			r.Places = []source.Place{{File: m.Row.File.Name, Row: m.Row.Num}}
		}
		tell(r)
	}
}

// viewNote counts the documents that a view leaves out for one reason.
type viewNote struct {
	view, code string
	n          int
	first      mapping.RecordProblem
}

type viewNotes []viewNote

// add counts one, if that is what it is.
func (n *viewNotes) add(r mapping.RecordProblem) bool {
	if r.Rule != ruleLeftOut {
		return false
	}
	code := strings.Join(r.Nearest, "")
	i := slices.IndexFunc(*n, func(o viewNote) bool { return o.view == r.Value && o.code == code })
	if i < 0 {
		i = len(*n)
		*n = append(*n, viewNote{view: r.Value, code: code, first: r})
	}
	(*n)[i].n++
	return true
}

// print says how many documents are left out of each view, why, and which is the first.
func (n viewNotes) print(w io.Writer, lead string) {
	slices.SortStableFunc(n, func(a, b viewNote) int {
		return cmp.Or(strings.Compare(a.view, b.view), cmp.Compare(b.n, a.n), strings.Compare(a.code, b.code))
	})
	for _, o := range n {
		first := "<" + o.first.IRI + ">"
		if len(o.first.Places) > 0 {
			first += " (" + place(o.first.Places[0]) + ")"
		}
		fmt.Fprintf(w, "%s%s of %s, %s: %s; the first is %s\n", lead, count(o.n, "document"), view.ByName(o.view).Title, o.code, o.first.Message, first)
	}
}
