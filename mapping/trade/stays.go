package trade

// stay is that an object was at a place. Its span says when it came there and went, as
// far as the statement tells: it came on one of the days from BB to EB and was there
// until one from BE to EE. Stays of one document that agree in node and way are one
// statement, which leaves open at which of the places it was.
type stay struct {
	object, doc ID
	place       ID // 0: the statement tells none
	in          ID // the exhibition with a document of its own in which the thing was shown; else 0
	span        Span
	event       int32 // the node of what happened
	ev          int32 // the node to be shown: the object as that names it, or the same
	way         way
}

// way is in which way a statement puts an object somewhere.
type way uint8

const (
	nowhere way = iota // it says only that the object may have gone from one place to another
	stood              // it stood there, or something happened to it there
	begun              // something began to happen to it there
	ended              // something that happened to it ended there
	left               // a move began there
	arrived            // a move ended there
)

// show is an exhibition that has a document of its own, at one of its places.
type show struct {
	event, place ID
	span, outer  Span // outer: of the whole, as its document tells it
	when         int32
}

// home is where an object is now.
type home struct {
	object, place ID
	ev            int32
}

// moment is the span of something that happened at some moment from one day to another.
func moment(from, to Day) Span { return Span{from, to, from, to} }

// stays notes where an event puts the objects that it names.
//
// What is shown stands there from the opening to the close. What is altered is there when
// the work begins and when it ends, and may be elsewhere in between; what is moved is at
// the one place when the move begins and at the other when it ends. What is made, found
// or taken apart is there at some moment, what is destroyed when the destruction begins.
// A keeper is no place: he may store, show and lend things wherever he likes.
func (f *filler) stays(i int) {
	e, s := &f.p.events[i], f.x.spans[i]
	if e.ev == 0 {
		for k := range e.partOf {
			f.b.insides = append(f.b.insides, inside{f.id, IDOf(f.x.get(&e.partOf[k])), e.partOf[k].ev, eventIn})
		}
	}
	some := moment(s.BB, s.EE)
	switch e.name {
	case "Activity":
		switch {
		case f.isKind(e.kinds, travellingExhibition):
			f.put(i, some, stood, place) // on its tour it is there for some time only
		case f.isKind(e.kinds, exhibition):
			f.put(i, s, stood, place)
		}
	case "Move":
		f.put(i, moment(s.BB, s.EB), left, origin)
		f.put(i, moment(s.BE, s.EE), arrived, destination)
		if !f.covers(i, origin, destination) {
			f.put(i, s, nowhere, 0)
		}
	case "Modification":
		f.put(i, moment(s.BB, s.EB), begun, place)
		f.put(i, moment(s.BE, s.EE), ended, place)
		if !f.covers(i, place, place) {
			f.put(i, s, nowhere, 0)
		}
	case "Encounter", "PartAddition", "PartRemoval":
		f.put(i, some, stood, place)
	case "Production":
		if e.madeOf && s.BB != Never && s.EE != Forever {
			f.put(i, some, stood, place)
		}
	case "Destruction":
		if e.madeOf && s.BB != Never && s.EB != Forever {
			f.put(i, moment(s.BB, s.EB), stood, place)
		}
	case "TransferOfCustody":
		f.put(i, s, nowhere, 0)
	}
}

// covers reports whether what an event says of its beginning and of its end, where it tells
// places of these roles, leaves no day of it out.
func (f *filler) covers(i int, begin, end role) bool {
	s, told := f.x.spans[i], [2]bool{}
	for _, t := range f.p.events[i].roles {
		told[0], told[1] = told[0] || t.role == begin, told[1] || t.role == end
	}
	return (told[0] || s.BB == s.BE) && (told[1] || s.EB == s.EE) && (told[0] || told[1]) && s.BE <= s.EB
}

// put notes that the objects of an event were at its places of a role.
func (f *filler) put(i int, s Span, w way, r role) {
	e := &f.p.events[i]
	add := func(object ID, ev int32) {
		st := stay{object: object, doc: f.id, span: s, event: e.ev, ev: ev, way: w}
		if e.ofRoot && len(e.partOf) > 0 {
			st.in = IDOf(f.x.get(&e.partOf[0]))
		}
		told := false
		for k := range e.roles {
			if e.roles[k].role == r && r != 0 {
				st.place = IDOf(f.x.get(&e.roles[k].who))
				f.b.stays = append(f.b.stays, st)
				told = true
			}
		}
		if !told && (w == nowhere || st.in != 0 && w == stood) {
			f.b.stays = append(f.b.stays, st)
		}
	}
	if e.ofRoot || e.madeOf {
		add(f.id, e.ev)
	}
	for k := range e.roles {
		if t := &e.roles[k]; t.object && (t.role == thing || t.role == used && e.name == "Activity") {
			add(IDOf(f.x.get(&t.who)), t.who.ev)
		}
	}
	if e.ev == 0 && e.name == "Activity" {
		sh := show{event: f.id, span: s, outer: f.x.spans[i], when: f.when(i)}
		n := len(f.b.shows)
		for k := range e.roles {
			if e.roles[k].role == place {
				sh.place = IDOf(f.x.get(&e.roles[k].who))
				f.b.shows = append(f.b.shows, sh)
			}
		}
		if len(f.b.shows) == n {
			f.b.shows = append(f.b.shows, sh)
		}
	}
}
