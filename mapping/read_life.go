package mapping

import (
	"strings"

	"ropewalk/mapping/reading"
)

func init() {
	for name, part := range map[string]func(*reading.Life) *reading.Date{
		"birth":    func(l *reading.Life) *reading.Date { return &l.Born },
		"death":    func(l *reading.Life) *reading.Date { return &l.Died },
		"activity": func(l *reading.Life) *reading.Date { return &l.Active },
	} {
		readers[name] = &reader{name: name, key: "TimeSpan",
			scan: func(r *Run, v *value, text string, found []finding) ([]finding, error) {
				return scanLife(r, v, text, part, found)
			}}
	}
}

// scanLife makes a time span of one of the dates that the words about a life give;
// nothing, if they do not give it.
func scanLife(r *Run, v *value, text string, part func(*reading.Life) *reading.Date, found []finding) ([]finding, error) {
	l, err := reading.ReadLife(text, v.read.conv)
	if err != nil {
		return found, err
	}
	d := part(&l)
	if d.Text == "" {
		return found, nil
	}
	f := corners(d)
	f.words = strings.Clone(text)
	if lost := f.lost[0] + f.lost[3]; lost != "" {
		r.textProblem(problemCannotCarry, v.text, text, "the profile's syntax can't carry "+lost+"; the words are kept as the display title")
	}
	return append(found, f), nil
}
