package trade

import (
	"strings"

	"ropewalk/mapping/entity"
)

// What says what a node that is a [Side] is about: "born", "made", "accession number".
func What(evs []entity.Event, at int) string {
	e := &evs[at]
	if ev := happened(evs, at); ev >= 0 {
		if isShow(evs, ev) {
			return "shown"
		}
		return eventWord(evs[ev].Class)
	}
	if e.Term == nil {
		return eventWord(e.Class)
	}
	switch e.Term.Key {
	case "timespan":
		return eventWord(evs[parent(evs, at)].Class)
	case "current_owner":
		return "owner now"
	case "current_location":
		return "place now"
	case "dimension":
		return "measure"
	case "identified_by":
		return "accession number"
	}
	return e.Term.Key
}

// happened is the event that a node is, or of which it names a thing; -1: none.
func happened(evs []entity.Event, at int) int {
	e := &evs[at]
	switch {
	case happens(evs, at):
		return at
	case e.Kind == entity.Open && e.Ref && e.Term != nil && (roleOf[e.Term.Key] == thing || roleOf[e.Term.Key] == used):
		if at = parent(evs, at); happens(evs, at) {
			return at
		}
	}
	return -1
}

func isShow(evs []entity.Event, at int) bool {
	found := false
	eachChild(evs, at, func(i int) {
		if e := &evs[i]; e.Term.Key == "classified_as" && (e.Value == exhibition || e.Value == travellingExhibition) {
			found = true
		}
	})
	return found
}

// Says is what stands there: the words of a time span, of a number or of a measure, the
// name of what is referred to.
func Says(evs []entity.Event, at int) string {
	e := &evs[at]
	if e.Kind != entity.Open {
		return e.Value
	}
	if ev := happened(evs, at); ev >= 0 {
		if eventClasses[evs[ev].Class.Key] == getting {
			return deal(evs, ev)
		}
		return whereabouts(evs, ev, at)
	}
	return words(evs, at)
}

// words are those of a node itself: its text, its name or its bounds.
func words(evs []entity.Event, at int) string {
	e := &evs[at]
	best, bounds := "", [2]string{}
	for i := at + 1; i < int(e.End); i++ {
		x := &evs[i]
		if x.Kind == entity.Open || x.Term == nil {
			continue
		}
		switch x.Term.Key {
		case "content":
			if best == "" {
				best = x.Value
			}
		case "_label":
			if best == "" && parent(evs, i) == at {
				best = x.Value
			}
		case "value":
			if best == "" {
				best = x.Value
			}
		case "begin_of_the_begin":
			bounds[0] = date(x.Value)
		case "end_of_the_end":
			bounds[1] = date(x.Value)
		}
	}
	switch {
	case best != "":
		return best
	case bounds[0] != "" || bounds[1] != "":
		return bounds[0] + "/" + bounds[1]
	}
	return e.Value
}

// Cells calls f for the events of a document whose cells a [Side] is made of: the node
// with all in it; of something that happened only who took part, and when.
func Cells(evs []entity.Event, at int, f func(i int)) {
	all := func(at int) {
		for i := at; i <= int(evs[at].End); i++ {
			f(i)
		}
	}
	if evs[at].Kind != entity.Open {
		f(at)
		return
	}
	ev := happened(evs, at)
	if ev != at {
		all(at)
	}
	if ev < 0 {
		return
	}
	if w := timespan(evs, ev); w >= 0 {
		all(w)
	}
	getting := eventClasses[evs[ev].Class.Key] == getting
	eachChild(evs, ev, func(i int) {
		e := &evs[i]
		if e.Kind != entity.Open || !e.Ref {
			return
		}
		switch r := roleOf[e.Term.Key]; {
		case r == place, r == origin, r == destination, r != 0 && getting, e.Term.Key == "part_of":
			all(i)
		}
	})
}

func happens(evs []entity.Event, at int) bool {
	c := evs[at].Class
	return c != nil && eventClasses[c.Key] != 0 && (at == 0 || !evs[at].Ref)
}

func eachChild(evs []entity.Event, at int, f func(i int)) {
	for i := at + 1; i < int(evs[at].End); i++ {
		if evs[i].Term != nil {
			f(i)
		}
		if evs[i].Kind == entity.Open {
			i = int(evs[i].End)
		}
	}
}

// timespan is the time span of an event or of the whole it is a part of; -1: none.
func timespan(evs []entity.Event, at int) int {
	for happens(evs, at) {
		found := -1
		eachChild(evs, at, func(i int) {
			if e := &evs[i]; e.Kind == entity.Open && e.Term.Key == "timespan" {
				found = i
			}
		})
		if found >= 0 || at == 0 {
			return found
		}
		at = parent(evs, at)
	}
	return -1
}

// deal puts a change of owner into words: from whom, to whom, when.
func deal(evs []entity.Event, at int) string {
	var names [2][]string
	eachChild(evs, at, func(i int) {
		side := 0
		switch evs[i].Term.Key {
		case "transferred_title_to":
			side = 1
		case "transferred_title_from":
		default:
			return
		}
		names[side] = append(names[side], words(evs, i))
	})
	out := ""
	if len(names[0]) > 0 {
		out = "from " + strings.Join(names[0], " and ")
	}
	if len(names[1]) > 0 {
		out += " to " + strings.Join(names[1], " and ")
	}
	if w := timespan(evs, at); w >= 0 {
		out += ", " + words(evs, w)
	}
	return strings.TrimLeft(out, " ,")
}

// whereabouts puts into words where something happened, or from where to where, and
// when. The thing at the index of is named if the event does not stand in its own record.
func whereabouts(evs []entity.Event, at, of int) string {
	var parts [4][]string // at, from, to; else in what it is a part
	eachChild(evs, at, func(i int) {
		if e := &evs[i]; e.Kind != entity.Open || !e.Ref {
			return
		}
		switch k := evs[i].Term.Key; {
		case roleOf[k] == place:
			parts[0] = append(parts[0], words(evs, i))
		case roleOf[k] == origin:
			parts[1] = append(parts[1], words(evs, i))
		case roleOf[k] == destination:
			parts[2] = append(parts[2], words(evs, i))
		case k == "part_of":
			parts[3] = append(parts[3], words(evs, i))
		}
	})
	if len(parts[0]) > 0 {
		parts[3] = nil
	}
	out := ""
	for i, word := range [...]string{"at", "from", "to", "in"} {
		if len(parts[i]) > 0 {
			out += " " + word + " " + strings.Join(parts[i], " and ")
		}
	}
	if of != at {
		out = words(evs, of) + out
	}
	if w := timespan(evs, at); w >= 0 {
		out += ", " + words(evs, w)
	}
	return strings.TrimLeft(out, " ,")
}

// date is the date of a dateTime.
func date(s string) string {
	if len(s) > 10 {
		return s[:10]
	}
	return s
}

// parent is the node in which the one at i stands.
func parent(evs []entity.Event, i int) int {
	for k := i - 1; k > 0; k-- {
		switch evs[k].Kind {
		case entity.Close:
			k = int(evs[k].End)
		case entity.Open:
			return k
		}
	}
	return 0
}
