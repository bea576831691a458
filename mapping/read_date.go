package mapping

import (
	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["date"] = &reader{name: "date", key: "TimeSpan", scan: scanDate}
}

// scanDate makes a time span of a date: the four corners and the words as
// written, as the display name. Words that can't be read still give a time span
// with its display name.
func scanDate(r *Run, v *value, text string, c *reading.Conventions, mk func(writeFunc)) error {
	d, err := reading.ReadDate(text, c)
	mk(func(r *Run, class *vocab.Class, slot *vocab.Slot, origin int32) bool {
		corner := ""
		switch slot.Key {
		case "identified_by":
			r.sayName(class, slot, text, "aat:300404669", v, origin) // display titles
			return true
		case "begin_of_the_begin":
			corner = d.BeginOfTheBegin()
		case "end_of_the_begin":
			corner = d.EndOfTheBegin()
		case "begin_of_the_end":
			corner = d.BeginOfTheEnd()
		case "end_of_the_end":
			corner = d.EndOfTheEnd()
		}
		if err != nil || corner == "" {
			return false
		}
		if !goodDateTime(corner) {
			// The profile's schemas hold a date-time to RFC 3339: no years BCE.
			if slot.Key == "begin_of_the_begin" || slot.Key == "end_of_the_end" {
				r.textProblem(problemCannotCarry, v.text, text, "the profile's syntax can't carry "+corner+"; the words are kept as the display name")
			}
			return false
		}
		r.say(entity.DateTime, class, slot, corner, v, origin)
		return true
	})
	return err
}
