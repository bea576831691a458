package mapping

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"ropewalk/mapping/source"
)

// Missed is a document that a record should have made and did not.
type Missed struct {
	IRI   string // "" if the record does not say which
	Why   Why
	From  time.Time    // Embargoed: when it becomes public
	Place source.Place // the record
}

// Why says why a document was not made.
type Why uint8

// The reasons.
const (
	Unfit     Why = iota + 1 // something it needs is missing or failed; the problem was told
	Embargoed                // it becomes public later
	Undated                  // whether it may be public can't be told: "public_from" holds no date
)

func (r *Run) missed(iri string, why Why, from time.Time) {
	if r.Missed != nil {
		r.Missed(Missed{IRI: strings.Clone(iri), Why: why, From: from, Place: r.Cell()})
	}
}

// quietIRI is the IRI of a document that will not be made, or "".
func (r *Run) quietIRI(n *node) string {
	tell := r.Problem
	r.Problem = nil
	iri, _ := r.iri(n)
	r.Problem = tell
	return iri
}

// PublicFrom reads the date from which a document is public: YYYY-MM-DD, at the
// beginning of that day in UTC, or a date with a time of day (ISO 8601 extended
// format, seconds optional; a space may stand for the T), in UTC if no offset is
// given. Years and months alone are refused: whether they mean their first or last
// day is not said.
func PublicFrom(s string) (time.Time, error) {
	for _, layout := range [...]string{time.DateOnly, "2006-01-02T15:04:05Z07:00", "2006-01-02T15:04Z07:00", "2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if len(s) > 10 && s[10] == ' ' {
			s = s[:10] + "T" + s[11:]
		}
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fmt.Errorf("this is not a date such as 2031-05-01")
}

// public decides whether a document may be made now. What holds it back is told in
// any case.
func (r *Run) public(t *text, iri string) bool {
	r.failed = false
	s, _ := r.fill(t)
	if s == "" && !r.failed && !t.must() {
		return true
	}
	from, err := PublicFrom(s)
	switch {
	case err != nil:
		if s != "" && r.Problem != nil { // if it is empty, why has been said
			r.tell(RecordProblem{Rule: problemPublicFrom, Places: r.places(t, nil), Span: t.src.Span, IRI: iri, Value: s,
				Message: err.Error() + ": as long as it can't be told when the document becomes public, it is not"})
		}
		r.missed(iri, Undated, time.Time{})
		return r.Early
	case from.After(r.Now):
		r.missed(iri, Embargoed, from)
		return r.Early
	}
	return true
}

// must reports whether a hole of t must be filled.
func (t *text) must() bool {
	return slices.ContainsFunc(t.segs, func(s segment) bool { return s.must })
}

// publicFrom compiles the word of that name.
func (c *compiler) publicFrom(v Value, sc *scope) *text {
	const hint = "such as public_from: \"{embargo_until}\", a cell with dates such as 2031-05-01"
	s, ok := v.(*Scalar)
	if !ok {
		if m, isMap := v.(*Map); isMap && c.wantsQuotes(m) {
			return nil
		}
		c.add(ruleWrongValue, v.Place(), "\"public_from\" is a date, or the field that holds it", hint)
		return nil
	}
	t := c.text(s, nil, sc, false)
	if t == nil {
		return nil
	}
	if t.holes == 0 {
		if _, err := PublicFrom(t.fixed); err != nil {
			c.add(ruleWrongValue, s.Span, fmt.Sprintf("\"public_from\" can't hold %q: %v", t.fixed, err), hint)
			return nil
		}
	}
	return t
}
