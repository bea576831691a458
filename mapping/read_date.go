package mapping

import (
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["date"] = &reader{name: "date", key: "TimeSpan", scan: scanDate}
}

// dateFinding is a date as a time span: its words as display title and the four
// corners. Dates come back again and again in a collection, so a run remembers
// them.
type dateFinding struct {
	words   string
	corners [4]string // in the order of cornerKeys; "" where open
	lost    [4]string // corners that the profile's syntax can't carry
	err     error
}

var cornerKeys = [4]string{"begin_of_the_begin", "end_of_the_begin", "begin_of_the_end", "end_of_the_end"}

// datesKept is how many dates a run remembers.
const datesKept = 20_000

type dateKey struct {
	conv *reading.Conventions
	text string
}

// scanDate makes a time span of a date. Words that can't be read still give one
// with its display title.
func scanDate(r *Run, v *value, text string, found []finding) ([]finding, error) {
	d := r.dates[dateKey{v.read.conv, text}]
	if d == nil {
		d = newDateFinding(strings.Clone(text), v.read.conv)
		if r.dates == nil || len(r.dates) >= datesKept {
			r.dates = map[dateKey]*dateFinding{}
		}
		r.dates[dateKey{v.read.conv, d.words}] = d
	}
	if l := d.lost[0] + d.lost[3]; l != "" {
		r.textProblem(problemCannotCarry, v.text, text, "the profile's syntax can't carry "+l+"; the words are kept as the display title")
	}
	return append(found, d), d.err
}

func newDateFinding(text string, c *reading.Conventions) *dateFinding {
	d, err := reading.ReadDate(text, c)
	if err != nil {
		return &dateFinding{words: text, err: err}
	}
	f := corners(&d)
	f.words = text
	return f
}

// corners takes over the corners of a date as far as the profile can carry them.
func corners(d *reading.Date) *dateFinding {
	f := &dateFinding{corners: [4]string{d.BeginOfTheBegin(), d.EndOfTheBegin(), d.BeginOfTheEnd(), d.EndOfTheEnd()}}
	// The inner corners say nothing where they follow from the outer ones: a thing made
	// in 1874 was begun by the end of 1874 and ended after its beginning.
	if d.LatestBegin == d.LatestEnd {
		f.corners[1] = ""
	}
	if d.EarliestEnd == d.EarliestBegin {
		f.corners[2] = ""
	}
	for i, corner := range f.corners {
		// The profile's schemas hold a date-time to RFC 3339: no years BCE.
		if corner != "" && !goodDateTime(corner) {
			f.lost[i], f.corners[i] = corner, ""
		}
	}
	return f
}

func (d *dateFinding) write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool {
	if slot.Key == "identified_by" {
		r.sayName(v, slot, term, d.words)
		return true
	}
	if slot.Kind != vocab.KindDateTime {
		return false
	}
	for i, key := range &cornerKeys {
		if slot.Key == key && d.corners[i] != "" {
			r.say(entity.DateTime, v, slot, term, d.corners[i])
			return true
		}
	}
	return false
}
