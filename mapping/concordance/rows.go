package concordance

import (
	"fmt"
	"strconv"
	"strings"
)

// Columns are the columns of [Result.Rows].
var Columns = []string{"key", "line_key", "document", "folio", "line", "number_as_written", "words", "quantity", "price", "amount", "note",
	"catalogue", "edition", "catalogue_number", "entry_name", "entry_price", "entry_description",
	"state", "object", "object_name", "piece", "pieces", "decided", "decided_by", "decided_on", "because", "rules", "order_row", "decision_row"}

// The values of the column "state".
const (
	RowWhole      = "surviving"
	RowFragment   = "fragmentary"
	RowLost       = "lost"
	RowRecordLost = "recorded as lost" // an object of the collection's records that is itself lost
	RowOpen       = "open"             // the entry is accepted, and it is not decided what became of the pieces
	RowNone       = "none"             // decided to be no entry of the catalogues
)

// Rows are what curators have decided, for mappings: nothing that only rules or points
// have found stands here. A line of which something is decided has one row for each
// accepted object, one for each piece declared lost, and, if it is not decided what
// became of all its pieces, one with the state "open" for the rest. A row has a cell
// for each of [Columns].
//
//   - key names the row for good: the line's key, then the object, or "lost" and a
//     number. line_key is the same for all rows of a line.
//   - piece counts the pieces declared lost, and pieces is how many a row stands for: 1,
//     or the rest of an open line if it is known.
//   - decided is the kind of the decision that the row's decided_by, decided_on and
//     because belong to.
func (r *Result) Rows() [][]string {
	var out [][]string
	for i := range r.Lines {
		if l := &r.Lines[i]; len(l.decisions) > 0 {
			out = append(out, r.rows(l)...)
		}
	}
	return out
}

func (r *Result) rows(l *LineResult) [][]string {
	var out [][]string
	var entryRow, noneRow, lostRow *made
	objects := 0
	for _, k := range l.decisions {
		d := &r.made[k]
		switch d.Kind {
		case decideNone:
			noneRow = d
		case decideLost:
			lostRow = d
		case decideEntry:
			if entryRow == nil {
				entryRow = d
			}
		}
	}
	add := func(d *made, key, state string, item int, fill func(set func(column, value string))) {
		row := make([]string, len(Columns))
		set := func(column, value string) {
			for i, c := range Columns {
				if c == column {
					row[i] = value
				}
			}
		}
		for _, c := range [][2]string{{"key", key}, {"line_key", l.Key}, {"document", l.Document}, {"folio", l.Folio}, {"line", l.Line.Line},
			{"number_as_written", l.Number}, {"words", l.Name}, {"quantity", l.Line.Quantity}, {"price", l.Price}, {"amount", l.Amount}, {"note", l.Note},
			{"state", state}, {"decided", d.Kind}, {"decided_by", d.By}, {"decided_on", d.On}, {"because", d.Because},
			{"order_row", l.Place.String()}, {"decision_row", d.Place.String()}} {
			set(c[0], c[1])
		}
		if e, rule := l.acceptedEntry(item); e >= 0 {
			x := &r.Input.Entries[e]
			for _, c := range [][2]string{{"catalogue", x.Catalogue}, {"edition", x.Edition}, {"catalogue_number", x.Number}, {"entry_name", x.Name},
				{"entry_price", x.Price}, {"entry_description", x.Description}, {"rules", rule}} {
				set(c[0], c[1])
			}
		}
		fill(set)
		out = append(out, row)
	}
	if noneRow != nil {
		add(noneRow, l.Key+"-none", RowNone, -1, func(func(string, string)) {})
		return out
	}
	for _, p := range l.Pieces {
		if !p.Decided {
			continue
		}
		o := &r.Input.Objects[p.Object]
		for _, k := range l.decisions {
			if d := &r.made[k]; d.object == p.Object {
				state := RowWhole
				switch {
				case o.Lost:
					state = RowRecordLost
				case o.Fragmentary:
					state = RowFragment
				}
				add(d, l.Key+"-"+slug(o.ID), state, p.Item, func(set func(string, string)) {
					set("object", o.ID)
					set("object_name", o.Name)
					set("pieces", "1")
				})
				objects++
			}
		}
	}
	for n := 1; n <= l.Lost; n++ {
		add(lostRow, fmt.Sprintf("%s-lost-%d", l.Key, n), RowLost, -1, func(set func(string, string)) {
			set("piece", strconv.Itoa(n))
			set("pieces", "1")
		})
	}
	if entryRow == nil {
		return out
	}
	rest := l.Quantity.minus(exactly(objects + l.Lost))
	if len(l.Items) < 2 {
		if rest.High != 0 {
			add(entryRow, l.Key+"-open", RowOpen, -1, func(set func(string, string)) {
				if rest.Low == rest.High {
					set("pieces", strconv.Itoa(rest.Low))
				}
			})
		}
		return out
	}
	// A line with several numbers: one row for each that has an entry.
	for i := range l.Items {
		e, _ := l.acceptedEntry(i)
		for _, k := range l.decisions {
			if d := &r.made[k]; e >= 0 && d.Kind == decideEntry && d.entry == e && rest.High != 0 {
				add(d, fmt.Sprintf("%s-open-%d", l.Key, i+1), RowOpen, i, func(set func(string, string)) {
					if hi := l.Items[i].hi; hi > 0 && l.Lost == 0 && objects == 0 {
						set("pieces", strconv.Itoa(hi))
					}
				})
			}
		}
	}
	return out
}

// acceptedEntry is the entry accepted for an item, or for the line if it has one.
func (l *LineResult) acceptedEntry(item int) (entry int, rule string) {
	if item < 0 && len(l.Items) == 1 {
		item = 0
	}
	if item >= 0 && item < len(l.Items) && l.Items[item].State == Accepted {
		return l.Items[item].Entries[0], l.Items[item].Rule
	}
	return -1, ""
}

// OrderedNumbers are the numbers of a line in the regular form.
func (l *LineResult) OrderedNumbers() string {
	var parts []string
	for i := range l.Items {
		if n := l.Items[i].Number; n != "" {
			parts = append(parts, n)
		}
	}
	return strings.Join(parts, ", ")
}
