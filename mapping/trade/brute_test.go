package trade

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The rules are held against a checker that tries every reading: each event gets a
// first and a last day within its corners, and a rule must fire if and only if there
// is a contradiction in all readings. Days are small numbers; far enough from 1970 for
// the calendars not to matter, nothing else of a day is used.

const (
	days = 6
	base = Day(20_000)
)

// reading is one day or stretch that the corners of a span allow.
type readings [][2]Day

// all gives the readings of a span: every begin and end it allows. What is open ends a
// little beyond the days that anything else names.
func all(s Span) readings {
	clip := func(d Day) Day { return min(max(d, base-2), base+days+2) }
	var out readings
	for b := clip(s.BB); b <= clip(s.EB); b++ {
		for e := max(b, clip(s.BE)); e <= clip(s.EE); e++ {
			out = append(out, [2]Day{b, e})
		}
	}
	return out
}

func drawSpan(t *rapid.T, name string) Span {
	for {
		s := Always
		day := func(what string, open Day) Day {
			if rapid.IntRange(0, 4).Draw(t, name+what+"?") == 0 {
				return open
			}
			return base + Day(rapid.IntRange(0, days).Draw(t, name+what))
		}
		s.BB, s.EB, s.BE, s.EE = day("BB", Never), day("EB", Forever), day("BE", Never), day("EE", Forever)
		if s.tidy() {
			return s
		}
	}
}

func TestLivesByBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		born, died, event := drawSpan(t, "born"), drawSpan(t, "died"), drawSpan(t, "event")
		l := NewLedger()
		l.judge(&take{1, 2, event.BB, event.EE, 0, actor, happening}, &life{born.BB, died.EE, 0, 0, true})
		got := map[RuleID]bool{}
		for _, f := range l.found {
			got[f.Rule] = true
		}
		early, late := true, true
		for _, e := range all(event) {
			for _, b := range all(born) {
				early = early && e[1] < b[0]
			}
			for _, d := range all(died) {
				late = late && d[1] < e[0]
			}
		}
		switch {
		case early && late: // a life that ends before it begins, which is told apart
			if !got[BeforeParticipant] && !got[AfterParticipant] {
				t.Fatal("nothing is told")
			}
		case early != got[BeforeParticipant] || late != got[AfterParticipant]:
			t.Fatalf("born %v, died %v, event %v: told %v, but early %v, late %v", born, died, event, got, early, late)
		}
	})
}

// world is an object with changes of owner; each happens on one day.
type world struct {
	deeds []deed
	now   []owned
}

const theObject = 999

func drawWorld(t *rapid.T) world {
	var w world
	people := func(name string) []ID {
		out := make([]ID, []int{0, 1, 1, 1, 1, 2}[rapid.IntRange(0, 5).Draw(t, name)])
		for i := range out {
			out[i] = ID(rapid.IntRange(1, 4).Draw(t, "who"))
		}
		return sorted(out)
	}
	two := rapid.Bool().Draw(t, "two owners")
	deeds := rapid.IntRange(2, 4).Draw(t, "deeds")
	if two {
		deeds = 4
	}
	for i := range deeds {
		s := drawSpan(t, fmt.Sprint(i))
		if two || rapid.IntRange(0, 3).Draw(t, "exact") > 0 {
			d := base + Day(rapid.IntRange(0, days).Draw(t, "day"))
			if two { // first they get it, then they give it, or nearly so
				d = d/2 + base/2 + Day(i/2*2)
			}
			s = Span{d, d, d + Day(rapid.IntRange(0, 1).Draw(t, "more")), d + 1}
			s.EE = s.BE
		}
		givers, receivers := people("givers"), people("receivers")
		if two { // two owners who get and give the object
			givers, receivers = [][]ID{nil, nil, {1}, {2}}[i], [][]ID{{1}, {2}, nil, nil}[i]
		}
		w.deeds = append(w.deeds, deed{from: s.BB, to: s.EE, givers: givers, receivers: receivers, side: Side{ID(i), 0}})
	}
	for _, who := range people("now") {
		if two {
			break
		}
		w.now = append(w.now, owned{theObject, who, 0})
	}
	return w
}

// assignments calls f with every choice of a day for each deed.
func (w *world) assignments(f func(at []Day)) {
	at := make([]Day, len(w.deeds))
	var next func(i int)
	next = func(i int) {
		if i == len(at) {
			f(at)
			return
		}
		d := &w.deeds[i]
		for day := max(d.from, base-1); day <= min(d.to, base+days+1); day++ {
			at[i] = day
			next(i + 1)
		}
	}
	next(0)
}

func (w *world) owns(who ID) bool {
	return slices.ContainsFunc(w.now, func(o owned) bool { return o.who == who })
}

// overlaps finds the pairs of owners who have the object at one time in all readings,
// among those of whom it is known when they had it.
func (w *world) overlaps() map[[2]ID]bool {
	type hold struct{ gain, loss int }
	holds := map[ID]hold{}
	for who := ID(1); who <= 4; who++ {
		h := hold{-1, -1}
		gains, losses := 0, 0
		for i := range w.deeds {
			if slices.Contains(w.deeds[i].receivers, who) {
				h.gain = i
				gains++
			}
			if slices.Contains(w.deeds[i].givers, who) {
				h.loss = i
				losses++
			}
		}
		if gains == 1 && losses <= 1 && h.gain != h.loss && (losses == 0) == w.owns(who) {
			holds[who] = h
		}
	}
	out := map[[2]ID]bool{}
	for a, x := range holds {
		for b, y := range holds {
			if a >= b || x.gain == y.gain || x.loss == y.loss {
				continue
			}
			surely := true
			w.assignments(func(at []Day) {
				since, till := max(at[x.gain], at[y.gain]), base+days+9
				if x.loss >= 0 {
					till = min(till, at[x.loss])
				}
				if y.loss >= 0 {
					till = min(till, at[y.loss])
				}
				surely = surely && since < till
			})
			if surely {
				out[[2]ID{a, b}] = true
			}
		}
	}
	return out
}

// gaps finds the deeds that follow upon one another in all readings though the giver
// of the later is none of the receivers of the earlier.
func (w *world) gaps() map[[2]int]bool {
	out := map[[2]int]bool{}
	for i := range w.deeds {
		a := &w.deeds[i]
		last := len(a.receivers) > 0 && len(w.now) > 0
		for k := range w.deeds {
			b := &w.deeds[k]
			if i == k {
				continue
			}
			follows := len(a.receivers) > 0 && len(b.givers) > 0 && !meet(a.receivers, b.givers)
			w.assignments(func(at []Day) {
				follows = follows && at[i] < at[k]
				last = last && at[k] < at[i]
				for m := range at {
					follows = follows && (m == i || m == k || at[m] < at[i] || at[m] > at[k])
				}
			})
			if follows {
				out[[2]int{i, k}] = true
			}
		}
		if last && !slices.ContainsFunc(a.receivers, w.owns) {
			out[[2]int{i, -1}] = true
		}
	}
	return out
}

func TestOwnersByBruteForce(t *testing.T) {
	overlaps, gaps := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		l := NewLedger()
		want := w.overlaps()
		overlaps += len(want)
		var pairs [][2]ID
		ts := tenures(w.deeds, w.now)
		l.overlaps(theObject, w.deeds, w.now)
		if len(l.found) != len(want) {
			for p := range want {
				pairs = append(pairs, p)
			}
			t.Fatalf("%d overlaps told, %v wanted\ndeeds %+v\nnow %v\ntenures %+v", len(l.found), pairs, w.deeds, w.now, ts)
		}
		l.found = nil
		l.gaps(theObject, w.deeds, w.now)
		wantGaps := w.gaps()
		gaps += len(wantGaps)
		got := map[[2]int]bool{}
		for _, f := range l.found {
			to := int(f.Sides[1].Doc)
			if to == theObject {
				to = -1 // the owner now
			}
			got[[2]int{int(f.Sides[0].Doc), to}] = true
		}
		if len(got) != len(wantGaps) {
			t.Fatalf("gaps %v, want %v: %+v", got, wantGaps, w)
		}
		for k := range wantGaps {
			if !got[k] {
				t.Fatalf("gaps %v, want %v: %+v", got, wantGaps, w)
			}
		}
	})
	if overlaps < 3 || gaps < 5 {
		t.Errorf("only %d overlaps and %d gaps among the worlds", overlaps, gaps)
	}
}

// The order in which documents come does not matter.
func TestAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b Batch
		who := func(name string) ID { return ID(rapid.IntRange(1, 5).Draw(t, name)) }
		n := rapid.IntRange(0, 12).Draw(t, "documents")
		seen := map[ID]bool{}
		for i := range n {
			s := drawSpan(t, fmt.Sprint(i))
			id := ID(100 + i)
			switch rapid.IntRange(0, 7).Draw(t, "what") {
			case 0:
				if p := who("life"); !seen[p] { // one document for each
					seen[p] = true
					b.lives = append(b.lives, lifeOf{p, life{s.BB, s.EE, 1, 2, true}})
				}
			case 1:
				b.takes = append(b.takes, take{who("taker"), id, s.BB, s.EE, 0, role(rapid.IntRange(1, 7).Draw(t, "role")), happening})
			case 2:
				at := uint32(len(b.parties))
				b.parties = append(b.parties, who("giver"), who("receiver"))
				b.transfers = append(b.transfers, transfer{who("object"), id, s.BB, s.EE, 0, at, 1, 1})
			case 3:
				b.owners = append(b.owners, owned{who("owned"), who("owner"), 0})
			case 4:
				b.stays = append(b.stays, stay{object: who("thing"), place: who("place"), doc: id, span: s, way: way(rapid.IntRange(0, 5).Draw(t, "way"))})
			case 5:
				b.homes = append(b.homes, home{who("thing"), who("place"), 0})
			case 6:
				b.shows = append(b.shows, show{event: id, place: who("place"), span: s, outer: s})
			case 7:
				b.insides = append(b.insides, inside{who("place"), who("around"), 0, insideKind(rapid.IntRange(0, 3).Draw(t, "kind"))})
			}
			b.close()
		}
		run := func(order []int) string {
			l := NewLedger()
			for _, i := range order {
				l.Take(&b, i)
			}
			return fmt.Sprint(l.Findings())
		}
		order := make([]int, n)
		for i := range order {
			order[i] = i
		}
		want := run(order)
		if got := run(rapid.Permutation(order).Draw(t, "order")); got != want {
			t.Fatalf("%s\nin another order\n%s", want, got)
		}
	})
}
