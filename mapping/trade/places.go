package trade

import (
	"cmp"
	"slices"
)

// nestingMost bounds how far places are followed outwards, should they run in a ring.
const nestingMost = 50

// whereabouts finds objects that were in two places at one time.
func (l *Ledger) whereabouts() {
	wholes := map[ID][]ID{}
	for _, i := range l.insides {
		if i.place {
			wholes[i.part] = append(wholes[i.part], i.whole)
		}
	}
	slices.SortFunc(l.stays, func(a, b stay) int {
		return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to), cmp.Compare(a.doc, b.doc), cmp.Compare(a.place, b.place))
	})
	group(l.stays, func(s *stay) ID { return s.object }, func(list []stay) {
		for i := range list {
			for k := i + 1; k < len(list); k++ {
				a, b := &list[i], &list[k]
				// On one day a thing can leave here and arrive there.
				if a.place != b.place && a.doc != b.doc && before(max(a.from, b.from), min(a.to, b.to)) &&
					!nested(wholes, a.place, b.place) && !nested(wholes, b.place, a.place) {
					l.found = append(l.found, Finding{TwoPlaces, []Side{{a.doc, a.ev}, {b.doc, b.ev}}})
				}
			}
		}
	})
}

// nested reports whether a place lies in another, as far as is known.
func nested(wholes map[ID][]ID, in, out ID) bool {
	front := []ID{in}
	for range nestingMost {
		var next []ID
		for _, p := range front {
			if p == out {
				return true
			}
			next = append(next, wholes[p]...)
		}
		if front = next; len(front) == 0 {
			return false
		}
	}
	return true // not to be told
}
