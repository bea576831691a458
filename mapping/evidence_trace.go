package mapping

import (
	"slices"
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
)

// Evidence is an attribute assignment that was made of the evidence of a statement.
type Evidence struct {
	Assignment int            // index of its Open event
	Statement  int            // index of the Open event of the statement as the document asserts it; -1 if it does not
	Of         string         // the keys that lead to the statement, and the IRI of what it refers to
	Words      []string       // how sure it is, who says so, when, and which documents prove it
	Places     []source.Place // the cells it took that from
}

// Evidence lists the attribute assignments that were made of evidence, in the order of
// the document last made. It needs Trace.
func (r *Run) Evidence(d *entity.Document) []Evidence {
	ev := d.Events()
	var out []Evidence
	for i := range ev {
		if ev[i].Kind != entity.Open || ev[i].Term == nil || ev[i].Term.Key != "attributed_by" {
			continue
		}
		e := Evidence{Assignment: i, Statement: -1}
		of := int32(0)
		var keys []string
		property, iri := "", ""
		for k := i + 1; k < int(ev[i].End); k++ {
			x := &ev[k]
			if x.Term.Key == "assigned_property" {
				property = x.Value
			}
			if x.Term.Key != "assigned" || x.Kind != entity.Open {
				e.see(r, ev, k)
				if x.Kind == entity.Open {
					for m := k + 1; m < int(x.End); m++ {
						e.places(r, m)
					}
					k = int(x.End)
				}
				continue
			}
			for m := k; m < int(x.End); m++ {
				o, ok := r.p.Origin(ev[m].Origin)
				if ok && o.Of > 0 && o.Of != of && ev[m].Kind == entity.Open { // the last one is the statement
					of = o.Of
					e.Statement = asserted(ev, m, of-1)
					if m > k {
						keys = append(keys, ev[m].Term.Key)
					}
					if iri = ""; ev[m].Ref {
						iri = " <" + ev[m].Value + ">"
					}
				}
			}
			k = int(x.End)
		}
		e.Of = strings.Join(append([]string{property}, keys...), "/") + iri
		if of > 0 {
			out = append(out, e)
		}
	}
	return out
}

// asserted finds the statement from which the node at index at was copied: a node with
// its origin that says the same. It returns -1 if the document has none.
func asserted(ev []entity.Event, at int, origin int32) int {
	for i := range ev {
		if ev[i].Kind != entity.Open || ev[i].Origin != origin || ev[i].End-int32(i) != ev[at].End-int32(at) {
			continue
		}
		same := ev[i].Ref == ev[at].Ref && ev[i].Value == ev[at].Value
		for k := 1; same && k < int(ev[at].End)-at; k++ {
			a, b := &ev[i+k], &ev[at+k]
			same = a.Kind == b.Kind && a.Term == b.Term && a.Class == b.Class && a.Value == b.Value
		}
		if same {
			return i
		}
	}
	return -1
}

// see adds what the event at index at says to the words.
func (e *Evidence) see(r *Run, ev []entity.Event, at int) {
	e.places(r, at)
	x := &ev[at]
	if x.Kind != entity.Open {
		if x.Term.Key != "assigned_property" {
			e.Words = append(e.Words, x.Value)
		}
		return
	}
	lead := map[string]string{"carried_out_by": "by ", "timespan": "on ", "used_specific_object": "from ", "influenced_by": "from "}[x.Term.Key]
	text := x.Value
	if x.Ref {
		text = "<" + x.Value + ">"
	}
	for k := at + 1; k < int(x.End); k++ {
		switch y := &ev[k]; {
		case y.Kind == entity.Open && (x.Term.Key != "timespan" || y.Term.Key != "identified_by"):
			k = int(y.End)
		case y.Kind == entity.Text && x.Ref && y.Term.Key == "_label":
			if text = y.Value + " " + text; x.Term.Key == "classified_as" {
				text = y.Value
			}
		case y.Kind == entity.Text && y.Term.Key == "content":
			text = y.Value
		case y.Kind == entity.Open && y.Term.Key == "identified_by":
			for m := k + 1; m < int(y.End); m++ {
				if ev[m].Kind == entity.Text && ev[m].Term.Key == "content" {
					text = ev[m].Value
				}
			}
			k = int(y.End)
		}
	}
	if text != "" {
		e.Words = append(e.Words, lead+text)
	}
}

func (e *Evidence) places(r *Run, at int) {
	for _, p := range r.Places(at) {
		if !slices.Contains(e.Places, p) {
			e.Places = append(e.Places, p)
		}
	}
}
