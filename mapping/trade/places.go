package trade

import (
	"cmp"
	"slices"
)

// nestingMost bounds how far places are followed outwards, should they run in a ring.
const nestingMost = 50

// around is what lies directly around each place, or each event.
type around map[ID][]ID

// lies reports whether one lies in another or is the same, as far as is known.
func (w around) lies(in, out ID) bool {
	front := []ID{in}
	for range nestingMost {
		var next []ID
		for _, p := range front {
			if p == out {
				return true
			}
			for _, q := range w[p] {
				if !slices.Contains(next, q) {
					next = append(next, q)
				}
			}
		}
		if front = next; len(front) == 0 {
			return false
		}
	}
	return true // not to be told
}

// atlas is what stays are held against.
type atlas struct {
	same           map[ID]ID // places that are one: leads to the one that stands for them
	places, events around
	joints         []ID // places that lie in several others directly
	shows          map[ID][]show
}

func newAtlas(l *Ledger) *atlas {
	w := &atlas{same: map[ID]ID{}, places: around{}, events: around{}, shows: map[ID][]show{}}
	for _, i := range l.insides {
		switch i.kind {
		case placeSame:
			if a, b := w.place(i.part), w.place(i.whole); a != b {
				w.same[max(a, b)] = min(a, b)
			}
		case eventIn:
			w.events[i.part] = append(w.events[i.part], i.whole)
		}
	}
	for _, i := range l.insides {
		if i.kind != placeIn {
			continue
		}
		in, out := w.place(i.part), w.place(i.whole)
		if in == out || slices.Contains(w.places[in], out) {
			continue
		}
		if w.places[in] = append(w.places[in], out); len(w.places[in]) == 2 {
			w.joints = append(w.joints, in)
		}
	}
	for _, s := range l.shows {
		w.shows[s.event] = append(w.shows[s.event], s)
	}
	return w
}

// place is the place that stands for all that are said to be the same.
func (w *atlas) place(p ID) ID {
	for {
		q, ok := w.same[p]
		if !ok {
			return p
		}
		p = q
	}
}

// station is one statement of where an object was: at one of its places, if it tells any.
type station struct {
	stay
	places []ID
	itself ID   // the event with a document of its own that it speaks of; else 0
	lent   bool // its place or time are those of that event
}

func (s *station) sides() []Side {
	out := []Side{{s.doc, s.ev}}
	if s.lent {
		out = append(out, Side{s.in, 0})
	}
	return out
}

// whereabouts finds objects that were in two places at one time, and those between two
// of whose moves one is missing.
func (l *Ledger) whereabouts() {
	if len(l.stays) == 0 {
		return
	}
	l.dropIdle()
	w := newAtlas(l)
	slices.SortFunc(l.homes, func(a, b home) int { return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.place, b.place)) })
	slices.SortFunc(l.stays, func(a, b stay) int {
		return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.doc, b.doc), cmp.Compare(a.event, b.event), cmp.Compare(a.way, b.way),
			cmp.Compare(a.ev, b.ev), cmp.Compare(a.place, b.place))
	})
	homes, transfers := l.homes, l.transfers
	group(l.stays, func(s *stay) ID { return s.object }, func(list []stay) {
		object := list[0].object
		homes = skip(homes, func(h *home) bool { return h.object < object })
		transfers = skip(transfers, func(t *transfer) bool { return t.object < object })
		stations := l.stations(w, list)
		l.twoPlaces(w, stations)
		for i := 0; i < len(transfers) && transfers[i].object == object; i++ {
			t := &transfers[i]
			stations = append(stations, station{stay: stay{doc: t.doc, event: t.ev, span: Span{t.from, t.to, t.from, t.to}}})
		}
		var at *home
		if len(homes) > 0 && homes[0].object == object {
			at = &homes[0]
		}
		l.placeGaps(w, stations, at)
	})
}

// dropIdle drops the stays of objects of which no statement lasts and no move has an end:
// nothing can be concluded of them. Objects are told apart by some bits only, so some stay.
func (l *Ledger) dropIdle() {
	size := uint64(64)
	for size < 8*uint64(len(l.stays)) {
		size *= 2
	}
	wanted := make([]uint64, size/64)
	for i := range l.stays {
		if s := &l.stays[i]; s.way == arrived || s.in != 0 || s.span.EB < s.span.BE {
			bit := uint64(s.object) % size
			wanted[bit/64] |= 1 << (bit % 64)
		}
	}
	l.stays = slices.DeleteFunc(l.stays, func(s stay) bool {
		bit := uint64(s.object) % size
		return wanted[bit/64]>>(bit%64)&1 == 0
	})
}

// stations puts together what is one statement, and looks up what it leaves to the
// exhibition that it names.
func (l *Ledger) stations(w *atlas, list []stay) []station {
	out := make([]station, 0, len(list))
	for i := range list {
		a := &list[i]
		if n := len(out); n > 0 && out[n-1].doc == a.doc && out[n-1].event == a.event && out[n-1].way == a.way {
			out[n-1].places = append(out[n-1].places, a.place)
			continue
		}
		s := station{stay: *a}
		if a.event == 0 {
			s.itself = a.doc
		}
		if a.place != 0 {
			s.places = []ID{a.place}
		}
		if shows := w.shows[a.in]; len(shows) > 0 && a.way == stood {
			if len(s.places) == 0 {
				for i := range shows {
					if shows[i].place != 0 {
						s.places = append(s.places, shows[i].place)
					}
				}
				s.itself, s.lent = a.in, true
			}
			if sh := &shows[0]; s.span == Always {
				s.span, s.lent = sh.span, true
				if x, ok := l.lives[a.object]; ok {
					l.judge(&take{a.object, sh.event, sh.outer.BB, sh.outer.EE, sh.when, thing, happening}, &x)
				}
			}
		}
		out = append(out, s)
	}
	return out
}

// twoPlaces finds statements of which each puts the object somewhere before the other can
// have let it go: one after the other is impossible. On one day a thing can leave here
// and arrive there.
func (l *Ledger) twoPlaces(w *atlas, list []station) {
	if len(list) < 2 || !slices.ContainsFunc(list, func(s station) bool { return s.span.EB < s.span.BE }) {
		return
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b station) int { return cmp.Compare(a.span.EB, b.span.EB) })
	for i := range list {
		a := &list[i]
		if a.span.EB >= a.span.BE || len(a.places) == 0 {
			continue // nothing can contradict it but what lasts longer
		}
		for k := range list {
			b := &list[k]
			if b.span.EB >= a.span.BE {
				break
			}
			if k == i || k < i && b.span.EB < b.span.BE || len(b.places) == 0 {
				continue
			}
			if before(a.span.EB, b.span.BE) && before(b.span.EB, a.span.BE) && w.apart(a.places, b.places) && !w.together(a, b) && !w.together(b, a) {
				sides := append(a.sides(), b.sides()...)
				slices.SortFunc(sides, compareSides)
				l.found = append(l.found, Finding{TwoPlaces, slices.Compact(sides), a.object})
			}
		}
	}
}

// apart reports whether no place of the one has anything in common with one of the other,
// as far as the records of places tell: neither lies in the other, and no third in both.
func (w *atlas) apart(a, b []ID) bool {
	for _, p := range a {
		for _, q := range b {
			p, q := w.place(p), w.place(q)
			if w.places.lies(p, q) || w.places.lies(q, p) ||
				slices.ContainsFunc(w.joints, func(j ID) bool { return w.places.lies(j, p) && w.places.lies(j, q) }) {
				return false
			}
		}
	}
	return true
}

// together reports whether a statement speaks of what is a part of what the other speaks
// of, or of the same: where the one was, the other was.
func (w *atlas) together(part, whole *station) bool {
	if whole.itself == 0 {
		return false
	}
	return part.itself != 0 && w.events.lies(part.itself, whole.itself) || part.in != 0 && w.events.lies(part.in, whole.itself)
}

// placeGaps finds moves away from a place other than the one to which the move before
// had brought the object, where it is sure that nothing else lies between; and objects
// that are elsewhere now than where the last move brought them.
func (l *Ledger) placeGaps(w *atlas, list []station, now *home) {
	for i := range list {
		a := &list[i]
		if a.way != arrived {
			continue
		}
		// What does not lie surely before the arrival, and of it the departure that is over
		// first: only that can be the next thing.
		var rest []*station
		var b *station
		for k := range list {
			c := &list[k]
			if c.doc == a.doc && c.event == a.event || before(c.span.EE, a.span.BB) {
				continue
			}
			rest = append(rest, c)
			if c.way == left && (b == nil || c.span.EE < b.span.EE) {
				b = c
			}
		}
		switch {
		case len(rest) == 0 && now != nil && w.apart(a.places, []ID{now.place}):
			l.found = append(l.found, Finding{PlaceGap, append(a.sides(), Side{now.object, now.ev}), a.object})
		case b == nil || !before(a.span.EE, b.span.BB) || !w.apart(a.places, b.places):
		case slices.ContainsFunc(rest, func(c *station) bool {
			return (c.doc != b.doc || c.event != b.event) && !before(b.span.EE, c.span.BB)
		}):
		default:
			l.found = append(l.found, Finding{PlaceGap, append(a.sides(), b.sides()...), a.object})
		}
	}
}
