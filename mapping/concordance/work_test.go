package concordance

import (
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// score counts what was found of what could be found.
type score struct {
	right, wrong, missed int // of what is unambiguous
	silent               int // ambiguous, and picked all the same
	open                 int // ambiguous, and said so
}

func (s score) precision() float64 { return share(s.right, s.right+s.wrong) }
func (s score) recall() float64    { return share(s.right, s.right+s.wrong+s.missed) }

func share(n, of int) float64 {
	if of == 0 {
		return 1
	}
	return float64(n) / float64(of)
}

// Invented orders with typical damage: what the evidence leaves clear is found, and what
// it leaves open is never picked.
func TestKnownTruth(t *testing.T) {
	for _, size := range []struct{ lines, seeds, long int }{{20, 30, 400}, {80, 10, 120}, {1000, 1, 8}} {
		seeds := size.seeds
		if os.Getenv("ROPEWALK_LONG") != "" {
			seeds = size.long
		}
		var lines, objects score
		damage := map[string]int{}
		for seed := range seeds {
			tr := generate(uint64(seed+1), size.lines)
			res := Work(tr.in)
			if len(res.Problems) > 0 {
				t.Fatalf("%d lines, seed %d: %+v", size.lines, seed+1, res.Problems[0])
			}
			for k, n := range tr.damage {
				damage[k] += n
			}
			scoreLines(t, tr, res, &lines, seed+1)
			scoreObjects(t, tr, res, &objects, seed+1)
			checkSums(t, tr, res)
		}
		t.Logf("%d lines, %d lists: entries %d right, %d wrong, %d missed (precision %.4f, recall %.4f), %d open, %d silent picks; objects %d right, %d wrong, %d missed (precision %.4f, recall %.4f), %d open, %d silent picks; damage %v",
			size.lines, seeds, lines.right, lines.wrong, lines.missed, lines.precision(), lines.recall(), lines.open, lines.silent,
			objects.right, objects.wrong, objects.missed, objects.precision(), objects.recall(), objects.open, objects.silent, damage)
		for what, s := range map[string]score{"entries": lines, "objects": objects} {
			if s.precision() < 0.99 || s.recall() < 0.95 {
				t.Errorf("%d lines, %s: precision %.4f, recall %.4f", size.lines, what, s.precision(), s.recall())
			}
			if s.silent > 0 {
				t.Errorf("%d lines, %s: %d silent picks", size.lines, what, s.silent)
			}
			if s.right < size.lines/2 || s.open < size.lines/8 {
				t.Errorf("%d lines, %s: only %d clear ones and %d open ones: the test shows little", size.lines, what, s.right, s.open)
			}
		}
		for _, k := range []string{"dittos", "dittos without a line above", "missing leaves", "double numbers", "illegible figures", "illegible numbers", "doubtful numbers", "slips of the pen", "struck out"} {
			if damage[k] == 0 {
				t.Errorf("%d lines: no %s", size.lines, k)
			}
		}
	}
}

func scoreLines(t *testing.T, tr *truth, res *Result, s *score, seed int) {
	for i, tl := range tr.lines {
		l := &res.Lines[i]
		if tl.articles == nil {
			if l.State != StruckOut {
				t.Errorf("seed %d, %s: struck out, and %s", seed, l.ID(), l.State)
			}
			continue
		}
		for k := range l.Items {
			it := &l.Items[k]
			right := it.State == Identified && len(it.Entries) > 0 && tr.entryOf[it.Entries[0]] == tl.articles[min(k, len(tl.articles)-1)]
			for _, e := range it.Entries {
				right = right && tr.entryOf[e] == tl.articles[k]
			}
			clear := tl.clear
			if len(tl.fit) > 1 { // each number of a list for itself
				clear = len(tl.fit[k]) == 1 && tl.fit[k][0] == tl.articles[k]
			}
			switch {
			case !clear && it.State == Identified:
				s.silent++
				t.Errorf("seed %d, %s: %q is ambiguous by the truth (%v fit), and was picked: %s", seed, l.ID(), l.Number, tl.fit, it.Why)
			case !clear:
				s.open++
			case right:
				s.right++
			case it.State == Identified:
				s.wrong++
				t.Logf("seed %d, %s: %q is wrong: %s", seed, l.ID(), l.Number, it.Why)
			default:
				s.missed++
				t.Logf("seed %d, %s: %q is missed: %s", seed, l.ID(), l.Number, it.Why)
			}
			if it.State == Identified && (it.Why == "" || len(it.Candidates) == 0 || len(it.Candidates[0].Reasons) == 0) {
				t.Errorf("seed %d, %s: identified without a reason", seed, l.ID())
			}
		}
	}
}

func scoreObjects(t *testing.T, tr *truth, res *Result, s *score, seed int) {
	for i, to := range tr.objects {
		o := &res.Objects[i]
		picked := o.State == OfLine
		switch {
		case to.clear && picked && o.Line == to.line:
			s.right++
		case to.clear && picked:
			s.wrong++
			t.Logf("seed %d, %s: wrong line", seed, tr.in.Objects[i].ID)
		case to.clear:
			s.missed++
			t.Logf("seed %d, %s: missed: %s, %s", seed, tr.in.Objects[i].ID, o.State, o.Why)
		case picked && to.implied && to.line >= 0:
			if o.Line == to.line {
				s.right++
			} else {
				s.wrong++
				t.Logf("seed %d, %s: wrong line, by what is left for it", seed, tr.in.Objects[i].ID)
			}
		case picked && (to.matched || to.implied):
			// The evidence that is left is clear, and what it was ordered with is on a leaf that
			// is missing: nobody can know. The match says that a part is missing.
			l := &res.Lines[o.Line]
			k := slices.IndexFunc(l.Pieces, func(p Piece) bool { return p.Object == i })
			if k < 0 || !slices.ContainsFunc(l.Pieces[k].Reasons, func(r Reason) bool { return strings.HasPrefix(r.Text, "parts of ") }) && to.line == -2 {
				s.silent++
				t.Errorf("seed %d, %s: ordered on a missing leaf, and the match does not say that one is missing", seed, tr.in.Objects[i].ID)
			}
		case picked:
			s.silent++
			t.Errorf("seed %d, %s: ambiguous by the truth, and given to %s: %s (truth %+v)", seed, tr.in.Objects[i].ID, res.Lines[o.Line].ID(), o.Why, to)
		default:
			s.open++
		}
	}
}

// checkSums holds the money and the pieces against the generator's own integers.
func checkSums(t *testing.T, tr *truth, res *Result) {
	for _, d := range res.Documents {
		if want := tr.sums[d.Document]; !d.Sum.Exact() && want > 0 || d.Sum.Low != want {
			t.Errorf("%s: the lines come to %s, by the truth %s", d.Document, d.Sum, want)
		}
		if d.OwnSum.Low != tr.totals[d.Document] {
			t.Errorf("%s: its total is %s, by the truth %s", d.Document, d.OwnSum, tr.totals[d.Document])
		}
		checkTotals(t, &d)
	}
	checkTotals(t, &res.All)
	// No object is a piece of two lines, and no line has more certain pieces than it orders.
	seen := map[int]int{}
	present := 0
	for i := range res.Lines {
		l := &res.Lines[i]
		n := 0
		for _, p := range l.Pieces {
			if p.Certain {
				n++
				if k, twice := seen[p.Object]; twice {
					t.Errorf("object %d is a piece of %s and %s", p.Object, res.Lines[k].ID(), l.ID())
				}
				seen[p.Object] = i
			}
		}
		present += n
		if l.Quantity.High >= 0 && n > l.Quantity.High {
			t.Errorf("%s orders %s and has %d pieces", l.ID(), l.Quantity, n)
		}
	}
	if a := &res.All; a.Surviving.High+a.Fragmentary.High < present {
		t.Errorf("%d pieces are certain, and %s and %s survive", present, a.Surviving, a.Fragmentary)
	}
}

// checkTotals checks that what was ordered is known or not, and what is known is there
// or not.
func checkTotals(t *testing.T, d *Totals) {
	if d.Ordered.Low != d.Identified.Low+d.Unexplained.Low && d.Ordered.Low == d.Ordered.High {
		t.Errorf("%s: %s ordered, %s identified, %s not explained", d.Document, d.Ordered, d.Identified, d.Unexplained)
	}
	for what, r := range map[string]Range{"ordered": d.Ordered, "identified": d.Identified, "surviving": d.Surviving, "fragmentary": d.Fragmentary,
		"lost": d.Lost, "recorded as lost": d.RecordedLost, "unexplained": d.Unexplained} {
		if r.Low < 0 || r.High >= 0 && r.High < r.Low {
			t.Errorf("%s: %s: %d to %d", d.Document, what, r.Low, r.High)
		}
	}
}

// The same input gives the same result, and the order of objects changes nothing but
// their numbers.
func TestDeterministic(t *testing.T) {
	a, b := generate(7, 200), generate(7, 200)
	if x, y := Work(a.in), Work(b.in); !reflect.DeepEqual(x, y) {
		t.Error("two runs differ")
	}
	n := len(b.in.Objects)
	slices.Reverse(b.in.Objects)
	x, y := Work(a.in), Work(b.in)
	for i := range x.Objects {
		o, p := x.Objects[i], y.Objects[n-1-i]
		if o.State != p.State || o.Line != p.Line || !slices.Equal(o.Options, p.Options) {
			t.Errorf("%s: %+v and %+v", a.in.Objects[i].ID, o, p)
		}
	}
	if !reflect.DeepEqual(x.All, y.All) {
		t.Errorf("totals differ: %+v, %+v", x.All, y.All)
	}
}
