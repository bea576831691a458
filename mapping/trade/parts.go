package trade

import (
	"cmp"
	"math"
	"slices"
)

// extent is what is known of an object's measures: by kind, the least that is told
// and the most.
type extent [thickness + 1]struct {
	low, up float64
	ev      int32
	known   bool
}

// Measures are rounded: a part counts as larger from one in a hundred and a
// millimetre, or a gram, on.
func larger(part, whole float64) bool { return part > whole*1.01+1 }

// parts holds the measures of parts against those of their wholes.
func (l *Ledger) parts() {
	wanted := map[ID]*extent{}
	for _, i := range l.insides {
		if i.kind == thingIn {
			wanted[i.part], wanted[i.whole] = nil, nil
		}
	}
	if len(wanted) == 0 {
		return
	}
	slices.SortFunc(l.sizes, func(a, b size) int {
		return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.ev, b.ev))
	})
	for _, s := range l.sizes {
		x, ok := wanted[s.object]
		if !ok {
			continue
		}
		if x == nil {
			x = &extent{}
			wanted[s.object] = x
		}
		k := &x[s.kind]
		if !k.known {
			k.low, k.up, k.ev, k.known = float64(s.low), float64(s.up), s.ev, true
			continue
		}
		k.low, k.up = min(k.low, float64(s.low)), max(k.up, float64(s.up))
	}
	for _, i := range l.insides {
		if p, w := wanted[i.part], wanted[i.whole]; i.kind == thingIn && p != nil && w != nil {
			l.part(i, p, w)
		}
	}
}

func (l *Ledger) part(i inside, part, whole *extent) {
	say := func(r RuleID, kind, other uint8) {
		l.found = append(l.found, Finding{Rule: r, Sides: []Side{{i.part, part[kind].ev}, {i.whole, whole[other].ev}}})
	}
	if part[weight].known && whole[weight].known && larger(part[weight].low, whole[weight].up) {
		say(PartLarger, weight, weight)
	}
	diagonal, boxed := whole.diagonal()
	for k := height; k <= thickness; k++ {
		switch {
		case !part[k].known:
		case boxed && larger(part[k].low, diagonal):
			say(PartLarger, k, firstKnown(whole))
		case whole[k].known && larger(part[k].low, whole[k].up):
			say(PartMeasureLarger, k, k)
		}
	}
}

// diagonal is that of a box around a body: what goes into it is no longer. It reports false
// if the measures do not say how far the body goes in all three directions. A diameter
// counts for two of them, but not together with a thickness, which may be that of a wall,
// or a width, which may be the same. Depth and thickness may be one direction.
func (x *extent) diagonal() (d float64, ok bool) {
	has := func(kinds ...uint8) int {
		if slices.ContainsFunc(kinds, func(k uint8) bool { return x[k].known }) {
			return 1
		}
		return 0
	}
	for k := height; k <= thickness; k++ {
		d += x[k].up * x[k].up
	}
	d += x[diameter].up * x[diameter].up
	ok = has(height)+has(width)+has(length)+has(depth, thickness) >= 3 || has(diameter)+has(height, length, depth) == 2
	return math.Sqrt(d), ok
}

func firstKnown(x *extent) uint8 {
	for k := height; k <= thickness; k++ {
		if x[k].known {
			return k
		}
	}
	return noKind
}
