package trade

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
)

// Where an object was is held against a checker that knows nothing of intervals: it goes
// through every reading of the dates of two documents, and through every instant of
// the days, and asks whether there is a history of which both tell the truth. A day has a few
// instants, so that a thing can leave here and arrive there on one day; a place is the set of
// the spots in it; from one instant to the next a thing may go anywhere.

const (
	someDays = 5 // of which dates speak; a day more on either side stands for what is open
	instants = 4 // of a day: two moves
	spots    = 5 // of the last place on, there is nothing smaller
)

// told is one document about the object.
type told struct {
	name   string
	kind   string
	span   Span
	at, to []int // places
	outer  bool  // the date is that of the dealing of which the move is a part: the move lies within
	whole  int   // the exhibition of which it is a part; -1: none
}

// geography says which spots lie in each place.
type geography [spots]uint

func drawGeography(t *rapid.T) (geography, []*entity.Document) {
	var g geography
	lies := [spots][]int{}
	for p := range spots {
		g[p] = 1 << p
		for range rapid.IntRange(0, 2).Draw(t, "around") {
			if p > 0 {
				lies[p] = append(lies[p], rapid.IntRange(0, p-1).Draw(t, "in"))
			}
		}
	}
	for p := spots - 1; p >= 0; p-- { // from the innermost outwards
		for _, q := range lies[p] {
			g[q] |= g[p]
		}
	}
	var out []*entity.Document
	for p := range spots {
		out = append(out, doc(t, "Place", fmt.Sprint("place", p), func(m *maker) {
			for _, q := range lies[p] {
				m.refer("part_of", "Place", fmt.Sprint("place", q))
			}
		}))
	}
	return g, out
}

func (g *geography) spots(places []int) uint {
	var out uint
	for _, p := range places {
		out |= g[p]
	}
	return out
}

// dated adds a time span with what is known of its corners.
func (m *maker) dated(s Span) {
	if s == Always {
		return
	}
	m.node("timespan", "TimeSpan", func() {
		for i, key := range []string{"begin_of_the_begin", "end_of_the_begin", "begin_of_the_end", "end_of_the_end"} {
			d := [...]Day{s.BB, s.EB, s.BE, s.EE}[i]
			if d == Never || d == Forever {
				continue
			}
			y, mo, da := dateOf(d)
			m.d.Value(entity.DateTime, m.term(key), false, fmt.Sprintf("%04d-%02d-%02dT%s", y, mo, da, [...]string{"00:00:00Z", "23:59:59Z"}[i%2]), -1)
		}
	})
}

func (m *maker) places(key string, places []int) {
	for _, p := range places {
		m.refer(key, "Place", fmt.Sprint("place", p))
	}
}

var kindsTold = []string{"exhibition", "exhibition", "exhibition", "tour", "move", "find", "treatment"}

func (x *told) document(t failer) *entity.Document {
	return doc(t, "Activity", x.name, func(m *maker) {
		switch x.kind {
		case "exhibition", "tour":
			m.refer("classified_as", "Type", map[string]string{"exhibition": "http://vocab.getty.edu/aat/300054766", "tour": "http://vocab.getty.edu/aat/300054773"}[x.kind])
			m.dated(x.span)
			m.places("took_place_at", x.at)
			m.refer("used_specific_object", "HumanMadeObject", "o")
			if x.whole >= 0 {
				m.refer("part_of", "Activity", fmt.Sprint("t", x.whole))
			}
		case "move":
			if x.outer {
				m.dated(x.span)
			}
			m.node("part", "Move", func() {
				if !x.outer {
					m.dated(x.span)
				}
				m.refer("moved", "HumanMadeObject", "o")
				m.places("moved_from", x.at)
				m.places("moved_to", x.to)
			})
		case "find":
			m.node("part", "Encounter", func() {
				m.dated(x.span)
				m.places("took_place_at", x.at)
				m.refer("encountered", "HumanMadeObject", "o")
			})
		case "custody":
			m.node("part", "TransferOfCustody", func() {
				m.dated(x.span)
				m.refer("transferred_custody_of", "HumanMadeObject", "o")
			})
		case "sale":
			m.node("part", "Acquisition", func() {
				m.dated(x.span)
				m.refer("transferred_title_of", "HumanMadeObject", "o")
			})
		case "treatment":
			m.node("part", "Modification", func() {
				m.dated(x.span)
				m.places("took_place_at", x.at)
				m.refer("modified", "HumanMadeObject", "o")
			})
		}
	})
}

// inOwnRecord is what the object's own record tells.
func (x *told) inOwnRecord(t failer) *entity.Document {
	return object(t, "o", func(m *maker) {
		key := map[string]string{"made": "produced_by Production", "gone": "destroyed_by Destruction", "found": "encountered_by Encounter", "shown": "used_for Activity"}[x.kind]
		key, class, ok := strings.Cut(key, " ")
		if !ok {
			return
		}
		m.node(key, class, func() {
			if x.kind == "shown" {
				m.refer("classified_as", "Type", "http://vocab.getty.edu/aat/300054766")
			}
			m.dated(x.span)
			m.places("took_place_at", x.at)
			if x.whole >= 0 {
				m.refer("part_of", "Activity", fmt.Sprint("t", x.whole))
			}
		})
	})
}

// full is what a record tells together with that of the exhibition that it names.
func (x told) full(ts []*told) (out told, lent bool) {
	if x.kind != "shown" {
		return x, false
	}
	x.kind = "exhibition"
	if x.whole < 0 {
		return x, false
	}
	e := ts[x.whole]
	if len(x.at) == 0 {
		x.at, lent = e.at, true
	}
	if x.span == Always {
		x.span, x.kind, lent = e.span, e.kind, true
	}
	return x, lent
}

// claims calls f with every way in which a document can be true: what is left of the spots
// at each instant.
func (x told) claims(g *geography, f func(c []uint) (more bool)) {
	const n = (someDays + 2) * instants
	at, to := g.spots(x.at), g.spots(x.to)
	free := func(places []int, s uint) uint {
		if len(places) == 0 {
			return 1<<(spots+1) - 1 // and elsewhere
		}
		return s
	}
	all := free(nil, 0)
	if x.outer {
		x.span.EB, x.span.BE = x.span.EE, x.span.BB
	}
	clip := func(d Day) int { return int(min(max(d, base-1), base+someDays)-base) + 1 }
	for b := clip(x.span.BB); b <= clip(x.span.EB); b++ {
		for e := max(b, clip(x.span.BE)); e <= clip(x.span.EE); e++ {
			for i := b * instants; i < (b+1)*instants; i++ {
				for k := max(i, e*instants); k < (e+1)*instants; k++ {
					c := make([]uint, n)
					for m := range c {
						c[m] = all
					}
					points := []int{i, k}
					switch x.kind {
					case "exhibition":
						for m := i; m <= k; m++ {
							c[m] &= free(x.at, at)
						}
						points = nil
					case "move":
						c[i] &= free(x.at, at)
						c[k] &= free(x.to, to)
						points = nil
					case "gone":
						points = []int{i}
					case "find", "tour", "made", "found": // somewhere from the beginning to the end
						for m := i; m <= k; m++ {
							one := slices.Clone(c)
							one[m] &= free(x.at, at)
							if !f(one) {
								return
							}
						}
						continue
					}
					for _, m := range points {
						c[m] &= free(x.at, at)
					}
					if !f(c) {
						return
					}
				}
			}
		}
	}
}

// agree reports whether there is a history of which two documents tell the truth.
func agree(g *geography, x, y *told) bool {
	found := false
	x.claims(g, func(a []uint) bool {
		y.claims(g, func(b []uint) bool {
			for m := range a {
				if a[m]&b[m] == 0 {
					return true
				}
			}
			found = true
			return false
		})
		return !found
	})
	return found
}

// drawDates draws corners of a span within some days.
func drawDates(t *rapid.T, exact bool) Span {
	for {
		s := Always
		day := func(open Day) Day {
			if !exact && rapid.IntRange(0, 3).Draw(t, "open") == 0 {
				return open
			}
			return base + Day(rapid.IntRange(0, someDays-1).Draw(t, "day"))
		}
		s.BB, s.EE = day(Never), day(Forever)
		if rapid.Bool().Draw(t, "inner") {
			s.EB, s.BE = day(Forever), day(Never)
		}
		if exact {
			s.EB, s.BE = s.BB, s.EE
		}
		if s.tidy() {
			return s
		}
	}
}

func TestPlacesByHistories(t *testing.T) {
	fired, quiet := map[string]int{}, 0
	manyChecks(t, 10, func(t *rapid.T) {
		g, docs := drawGeography(t)
		places := func() []int {
			out := make([]int, []int{1, 1, 1, 2}[rapid.IntRange(0, 3).Draw(t, "places")])
			for i := range out {
				out[i] = rapid.IntRange(0, spots-1).Draw(t, "place")
			}
			slices.Sort(out)
			return slices.Compact(out)
		}
		var ts []*told
		for i := range rapid.IntRange(3, 6).Draw(t, "documents") {
			x := &told{name: fmt.Sprint("t", i), whole: -1, kind: rapid.SampledFrom(kindsTold).Draw(t, "kind"), span: drawDates(t, rapid.IntRange(0, 2).Draw(t, "exact") > 0), at: places()}
			if i == 0 && rapid.Bool().Draw(t, "long") { // it leaves no room for others
				x.kind, x.span = "exhibition", Span{base, base, base + someDays - 1, base + someDays - 1}
			}
			switch x.kind {
			case "move":
				x.at, x.to, x.outer = x.at[:1], places()[:1], rapid.Bool().Draw(t, "outer")
				if rapid.IntRange(0, 3).Draw(t, "to only") == 0 {
					x.at = nil
				}
			case "exhibition", "tour":
				if i > 0 && (ts[i-1].kind == "exhibition" || ts[i-1].kind == "tour") && rapid.IntRange(0, 4).Draw(t, "part") == 0 {
					x.whole = i - 1
				}
			}
			ts = append(ts, x)
			docs = append(docs, x.document(t))
		}
		own := &told{name: "o", whole: -1, kind: rapid.SampledFrom([]string{"", "made", "gone", "found", "shown", "shown"}).Draw(t, "own"), span: drawDates(t, rapid.Bool().Draw(t, "exact"))}
		if own.at = places(); own.kind == "shown" {
			for i, x := range ts {
				if strings.Contains("exhibition tour", x.kind) {
					own.whole = i
				}
			}
			if rapid.Bool().Draw(t, "no place") {
				own.at = nil
			}
			if rapid.Bool().Draw(t, "no date") {
				own.span = Always
			}
		}
		if own.kind != "" {
			ts = append(ts, own)
		}
		docs = append(docs, own.inOwnRecord(t))
		var want []string
		for i, x := range ts {
			for k := i + 1; k < len(ts); k++ {
				y, part := ts[k], false
				for m := k; m >= 0; m = ts[m].whole {
					part = part || m == i // what is shown in a part of an exhibition is shown in it
				}
				z, lent := y.full(ts)
				if !part && !agree(&g, x, &z) {
					names := []string{x.name, y.name}
					if lent {
						names = append(names, ts[y.whole].name)
					}
					slices.Sort(names)
					want = append(want, "two-places "+strings.Join(names, " "))
					fired[x.kind+" "+y.kind]++
				} else {
					quiet++
				}
			}
		}
		var got []string
		for _, f := range strings.Split(findings(t, docs...), "; ") {
			if strings.HasPrefix(f, "two-places") {
				got = append(got, f)
			}
		}
		slices.Sort(want)
		if !slices.Equal(slices.Compact(got), want) {
			t.Fatalf("told %q, want %q\n%+v\n%+v", got, want, g, say(ts))
		}
	})
	if n := len(fired); n < 8 || quiet < 1000 {
		t.Errorf("only %d kinds of contradictions (%v) beside %d pairs without any", n, fired, quiet)
	}
}

// days calls f with every first and last day on which what a document tells can have been.
func (x told) days(f func(b, e int)) {
	if x.outer {
		x.span.EB, x.span.BE = x.span.EE, x.span.BB
	}
	for _, r := range all(x.span) {
		f(int(r[0]), int(r[1]))
	}
}

// A missing move is told if and only if, whatever the days, one move follows upon another
// from a place apart, and all else was over before the first or began after the second.
func TestPlaceGapsByBruteForce(t *testing.T) {
	moves, homes, quiet := 0, 0, 0
	manyChecks(t, 10, func(t *rapid.T) {
		g, docs := drawGeography(t)
		var ts []*told
		for i := range rapid.IntRange(1, 5).Draw(t, "documents") {
			kind := "move"
			if i > 1 {
				kind = rapid.SampledFrom([]string{"move", "find", "treatment", "exhibition", "tour", "custody", "sale"}).Draw(t, "kind")
			}
			place := func() []int { return []int{rapid.IntRange(0, spots-1).Draw(t, "place")} }
			x := &told{name: fmt.Sprint("t", i), kind: kind, span: drawDates(t, rapid.IntRange(0, 3).Draw(t, "exact") > 0), at: place(), to: place(), whole: -1}
			if rapid.IntRange(0, 3).Draw(t, "one day") > 0 {
				x.span = Span{x.span.BB, x.span.BB, x.span.BB, x.span.BB}
				if x.span.BB == Never {
					x.span = Always
				}
			}
			if kind == "move" {
				x.outer = rapid.Bool().Draw(t, "outer")
			}
			ts = append(ts, x)
			docs = append(docs, x.document(t))
		}
		at := rapid.IntRange(-1, spots-1).Draw(t, "now at")
		docs = append(docs, object(t, "o", func(m *maker) {
			if at >= 0 {
				m.places("current_location", []int{at})
			}
		}))
		always := func(xs []*told, f func(b, e []int) bool) bool {
			b, e, out := make([]int, len(xs)), make([]int, len(xs)), true
			var next func(i int)
			next = func(i int) {
				switch {
				case !out:
				case i == len(xs):
					out = f(b, e)
				default:
					xs[i].days(func(first, last int) {
						b[i], e[i] = first, last
						next(i + 1)
					})
				}
			}
			next(0)
			return out
		}
		var want []string
		for _, x := range ts {
			if x.kind != "move" {
				continue
			}
			for _, y := range ts {
				if y.kind != "move" || y == x || g.spots(x.to)&g.spots(y.at) != 0 {
					continue
				}
				follows := always([]*told{x, y}, func(b, e []int) bool { return e[0] < b[1] })
				for _, z := range ts {
					follows = follows && (z == x || z == y || always([]*told{x, y, z}, func(b, e []int) bool { return e[2] < e[0] || b[2] > b[1] }))
				}
				if follows {
					want = append(want, "place-gap "+min(x.name, y.name)+" "+max(x.name, y.name))
					moves++
				} else {
					quiet++
				}
			}
			last := at >= 0 && g.spots(x.to)&g.spots([]int{at}) == 0
			for _, z := range ts {
				last = last && (z == x || always([]*told{x, z}, func(b, e []int) bool { return e[1] < e[0] }))
			}
			if last {
				want = append(want, "place-gap o "+x.name)
				homes++
			}
		}
		var got []string
		for _, f := range strings.Split(findings(t, docs...), "; ") {
			if strings.HasPrefix(f, "place-gap") {
				got = append(got, f)
			}
		}
		if slices.Sort(want); !slices.Equal(got, want) {
			t.Fatalf("told %q, want %q\n%+v, now at %d\n%+v", got, want, g, at, say(ts))
		}
	})
	if moves < 12 || homes < 20 || quiet < 200 {
		t.Errorf("only %d gaps between moves, %d to where it is now, %d moves without any", moves, homes, quiet)
	}
}

// manyChecks goes through n times as many worlds as others do, and a hundred times more in the
// long runs.
func manyChecks(t *testing.T, n int, f func(t *rapid.T)) {
	if os.Getenv("ROPEWALK_LONG") != "" {
		n *= 100
	}
	for range n {
		rapid.Check(t, f)
	}
}

func say(ts []*told) string {
	var out []string
	for _, x := range ts {
		out = append(out, fmt.Sprintf("%+v", *x))
	}
	return strings.Join(out, "\n")
}
