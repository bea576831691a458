package mapping

import (
	"strconv"
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["quantity"] = &reader{name: "quantity", key: "Dimension", many: true, scan: scanQuantity}
}

// countFinding is a count as a dimension: the profile's examples count sets and
// pages so (a type "count of" and a unit).
type countFinding struct {
	label string
	figures
}

var countType, countUnit = func() (t, u *vocab.Authority) {
	t, _ = vocab.AuthorityByCURIE("aat:300404433")
	if a, ok := vocab.AuthorityByCURIE("aat:300241583"); ok {
		c := *a
		c.Label = "components" // the term's own name; as a kind of part the profile calls it otherwise
		u = &c
	}
	return
}()

func scanQuantity(r *Run, v *value, text string, found []finding) ([]finding, error) {
	q, err := reading.ReadQuantity(text, v.read.conv)
	if err != nil {
		return found, err
	}
	for i := range q.Counts {
		c := &q.Counts[i]
		f := &countFinding{label: countLabel(q.Counts, i, text)}
		if c.Lower != c.Value || c.Upper != c.Value {
			if c.Upper < 0 {
				r.textProblem(problemCannotCarry, v.text, text, "a count with one bound has no value, which the profile requires")
				continue
			}
			f.lower, f.upper = strconv.FormatInt(c.Lower, 10), strconv.FormatInt(c.Upper, 10)
		}
		switch {
		case c.Value >= 0:
			f.val = strconv.FormatInt(c.Value, 10)
		case (c.Lower+c.Upper)%2 == 0:
			f.val = strconv.FormatInt((c.Lower+c.Upper)/2, 10)
		default:
			f.val = strconv.FormatInt((c.Lower+c.Upper)/2, 10) + ".5"
		}
		found = append(found, f)
	}
	return found, nil
}

// countLabel gives the words of a count: of the whole cell where there is one.
func countLabel(counts []reading.Count, i int, text string) string {
	if len(counts) == 1 {
		return strings.TrimSpace(text)
	}
	s := strings.TrimSpace(text[counts[i].Start:counts[i].End])
	if counts[i].Approximate {
		s = "about " + s
	}
	if counts[i].Uncertain {
		s += " (?)"
	}
	if counts[i].Noun != "" {
		s += " " + counts[i].Noun
	}
	return s
}

func (f *countFinding) write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool {
	switch slot.Key {
	case "_label":
		r.say(entity.Text, v, slot, term, f.label)
	case "classified_as":
		r.sayTerm(v, term, slot.Many, typeClass, countType)
	case "unit":
		r.sayTerm(v, term, slot.Many, unitClass, countUnit)
	default:
		return f.figures.write(r, v, slot, term)
	}
	return true
}
