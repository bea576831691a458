package trade

import (
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// plan is where in the documents of one shape the facts lie. It is worked out once
// for each shape; from then on only values are looked at.
type plan struct {
	size, vals int
	root       value
	person     bool // or group
	human      bool
	thing      bool // an object that can be held in the hand
	place      bool
	events     []event
	born, died int // indexes of events, -1: none
	diedKnown  bool
	owners     []value
	wholes     []value
	alike      []value // of a place: what it is said to be the same as
	home       *value  // of a thing: where it is now
	measures   []measure
	numbers    []number
	idle       bool // documents of this shape say nothing that a rule asks for
}

// value is a value of the documents of a shape.
type value struct {
	ev    int32  // index of the event
	nth   int32  // among the values that do not belong to the shape; -1: it does
	fixed string // then the value
}

// event is something that happened.
type event struct {
	class   eventClass
	whole   int   // the event of which it is a part; -1: none
	ev      int32 // the node
	when    int32 // its time span; -1: none
	corners [4]value
	has     [4]bool
	kinds   []value
	roles   []taking
	partOf  []value // events with documents of their own
	name    string  // of the class
	ofRoot  bool    // it happened to the document's object
	madeOf  bool    // it made or destroyed the document's object
	byRoot  bool    // the document's person did it
	usedFor bool    // the document's object was used for it
}

// taking is that somebody or something took part in an event.
type taking struct {
	role   role
	object bool // a thing that can be held in the hand, and no set of them
	who    value
}

type role uint8

const (
	actor       role = iota + 1
	participant      // took part, in whatever way
	giver
	receiver
	titleGiver
	titleReceiver
	thing
	used
	place
	origin
	destination
)

var roleOf = map[string]role{
	"carried_out_by": actor, "participant": participant,
	"transferred_custody_from": giver, "paid_from": giver, "transferred_custody_to": receiver, "paid_to": receiver,
	"transferred_title_from": titleGiver, "transferred_title_to": titleReceiver,
	"transferred_title_of": thing, "transferred_custody_of": thing, "moved": thing, "modified": thing, "encountered": thing,
	"used_specific_object": used, "took_place_at": place, "moved_from": origin, "moved_to": destination,
}

type eventClass uint8

const (
	happening eventClass = iota + 1
	making
	creating
	getting // a change of owner
	beginning
	ending
)

// eventClasses are the classes of what happens and has participants. What stands
// under other classes is no event to us.
var eventClasses = map[string]eventClass{
	"Production": making, "Creation": creating, "Acquisition": getting, "Birth": beginning, "Formation": beginning,
	"Death": ending, "Dissolution": ending, "Destruction": ending,
	"Activity": happening, "Event": happening, "TransferOfCustody": happening, "Payment": happening, "Encounter": happening,
	"Modification": happening, "Move": happening, "PartAddition": happening, "PartRemoval": happening,
	"AttributeAssignment": happening, "RightAcquisition": happening,
}

// What happens to an object, or is done by a person, under these keys of its own
// document.
var (
	toRoot = map[string]bool{"changed_ownership_through": true, "custody_transferred_through": true, "encountered_by": true,
		"modified_by": true, "moved_by": true, "removed_by": true, "used_for": true}
	ofLife = map[string]bool{"produced_by": true, "destroyed_by": true}
	byRoot = map[string]bool{"carried_out": true, "participated_in": true}
)

// things are the classes of objects that are made, owned and destroyed.
var things = map[string]bool{"HumanMadeObject": true, "PhysicalObject": true, "BiologicalObject": true}

type measure struct {
	kinds           []value
	value, low, top value
	hasLow, hasTop  bool
	unit            value
	hasUnit         bool
	ev              int32
}

type number struct {
	kinds   []value
	content value
	ev      int32
}

var cornerOf = map[string]int{"begin_of_the_begin": 0, "end_of_the_begin": 1, "begin_of_the_end": 2, "end_of_the_end": 3}

// planner works out a plan.
type planner struct {
	p   *plan
	evs []entity.Event
	nth []int32
}

// newPlan makes the plan of a document's shape.
func newPlan(d *entity.Document) *plan {
	evs := d.Events()
	w := &planner{p: &plan{size: len(evs), born: -1, died: -1}, evs: evs, nth: make([]int32, len(evs))}
	for i := range evs {
		w.nth[i] = int32(w.p.vals)
		if evs[i].Kind != entity.Close && !evs[i].Fixed {
			w.p.vals++
		}
	}
	p := w.p
	p.root = w.value(0)
	class := evs[0].Class.Key
	p.human = class == "Person"
	p.person, p.place, p.thing = class == "Person" || class == "Group", class == "Place", things[class]
	if c, ok := eventClasses[class]; ok {
		w.event(0, c, -1, "")
	} else {
		w.inside(0, -1, func(i int, key string) {
			w.ofRoot(i, key)
		})
	}
	p.idle = len(p.events) == 0 && len(p.wholes) == 0 && len(p.alike) == 0 && p.home == nil && len(p.measures) == 0 && len(p.owners) == 0
	return p
}

func (w *planner) value(i int) value {
	if w.evs[i].Fixed {
		return value{ev: int32(i), nth: -1, fixed: strings.Clone(w.evs[i].Value)}
	}
	return value{ev: int32(i), nth: w.nth[i]}
}

// inside goes through what stands directly in a node, and calls f for all that is no
// event of its own.
func (w *planner) inside(at, whole int, f func(i int, key string)) {
	for i := at + 1; i < int(w.evs[at].End); i++ {
		e := &w.evs[i]
		if e.Term != nil {
			if c, ok := w.isEvent(i); ok && e.Term.Key != "assigned" {
				w.event(i, c, whole, e.Term.Key)
			} else {
				f(i, e.Term.Key)
			}
		}
		if e.Kind == entity.Open {
			i = int(e.End)
		}
	}
}

func (w *planner) isEvent(i int) (eventClass, bool) {
	e := &w.evs[i]
	if e.Kind != entity.Open || e.Ref || e.Class == nil {
		return 0, false
	}
	c, ok := eventClasses[e.Class.Key]
	return c, ok
}

// ofRoot takes what an entity's own document says of it.
func (w *planner) ofRoot(i int, key string) {
	p := w.p
	switch e := &w.evs[i]; {
	case e.Kind != entity.Open:
	case key == "current_owner" && e.Ref:
		p.owners = append(p.owners, w.value(i))
	case key == "part_of" && e.Ref && (p.thing || p.place):
		p.wholes = append(p.wholes, w.value(i))
	case key == "equivalent" && e.Ref && p.place:
		p.alike = append(p.alike, w.value(i))
	case key == "current_location" && e.Ref && p.thing:
		v := w.value(i)
		p.home = &v
	case key == "dimension" && p.thing && !e.Ref:
		w.measure(i)
	case key == "identified_by" && p.thing && e.Class != nil && e.Class.Key == "Identifier":
		n := number{ev: int32(i), content: value{ev: -1}}
		w.inside(i, -1, func(k int, key string) {
			switch key {
			case "classified_as":
				n.kinds = append(n.kinds, w.value(k))
			case "content":
				n.content = w.value(k)
			}
		})
		if n.content.ev >= 0 {
			p.numbers = append(p.numbers, n)
		}
	}
}

func (w *planner) measure(i int) {
	m := measure{ev: int32(i), value: value{ev: -1}}
	w.inside(i, -1, func(k int, key string) {
		switch key {
		case "classified_as":
			m.kinds = append(m.kinds, w.value(k))
		case "value":
			m.value = w.value(k)
		case "lower_value_limit":
			m.low, m.hasLow = w.value(k), true
		case "upper_value_limit":
			m.top, m.hasTop = w.value(k), true
		case "unit":
			m.unit, m.hasUnit = w.value(k), true
		}
	})
	if m.value.ev >= 0 && m.hasUnit {
		w.p.measures = append(w.p.measures, m)
	}
}

// event takes an event and the events that are its parts. What is assigned is what
// somebody claims, and no fact.
func (w *planner) event(i int, class eventClass, whole int, key string) {
	at := len(w.p.events)
	w.p.events = append(w.p.events, event{class: class, whole: whole, ev: int32(i), when: -1,
		name: w.evs[i].Class.Key, ofRoot: toRoot[key] && w.p.thing, madeOf: ofLife[key] && w.p.thing, byRoot: byRoot[key] && w.p.person, usedFor: key == "used_for"})
	switch key {
	case "born", "formed_by", "produced_by":
		w.p.born = at
	case "died", "dissolved_by", "destroyed_by":
		w.p.died, w.p.diedKnown = at, true
	}
	if key == "part" && whole >= 0 && w.p.events[whole].ofRoot {
		w.p.events[at].ofRoot = true
	}
	w.inside(i, at, func(k int, key string) {
		e := &w.evs[k]
		ev := &w.p.events[at]
		switch {
		case key == "timespan" && e.Kind == entity.Open && !e.Ref:
			ev.when = int32(k)
			for j := k + 1; j < int(e.End); j++ {
				x := &w.evs[j]
				if x.Kind == entity.Open {
					j = int(x.End)
				} else if c, ok := cornerOf[x.Term.Key]; ok && x.Kind == entity.DateTime {
					ev.corners[c], ev.has[c] = w.value(j), true
				}
			}
		case key == "classified_as" && e.Ref:
			ev.kinds = append(ev.kinds, w.value(k))
		case key == "establishes" && e.Kind == entity.Open && !e.Ref:
			w.inside(k, at, func(j int, key string) {
				if key == "possessed_by" && w.evs[j].Ref { // who comes to hold a right
					ev.roles = append(ev.roles, taking{role: receiver, who: w.value(j)})
				}
			})
		case key == "part_of" && e.Ref:
			ev.partOf = append(ev.partOf, w.value(k))
		case e.Kind == entity.Open && e.Ref:
			if r, ok := roleOf[key]; ok {
				ev.roles = append(ev.roles, taking{r, e.Class != nil && things[e.Class.Key], w.value(k)})
			}
		}
	})
}

// eventWord says what an event was, for people.
func eventWord(c *vocab.Class) string {
	if w, ok := eventWords[c.Key]; ok {
		return w
	}
	return "happened"
}

var eventWords = map[string]string{
	"Production": "made", "Creation": "created", "Acquisition": "changed owner", "Birth": "born", "Formation": "founded",
	"Death": "died", "Dissolution": "dissolved", "Destruction": "destroyed", "TransferOfCustody": "changed keeper",
	"Payment": "paid", "Encounter": "found", "Modification": "altered", "Move": "moved", "AttributeAssignment": "assigned",
}
