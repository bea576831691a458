package concordance

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// small is a catalogue in two editions, to order from.
func small(lines ...Line) *Input {
	in := &Input{About: 10}
	for i, l := range lines {
		if l.Document == "" {
			l.Document = "D"
		}
		if l.Line == "" {
			l.Folio, l.Line = "1", string(rune('1'+i))
		}
		if l.Quantity == "" {
			l.Quantity = "1"
		}
		in.Lines = append(in.Lines, l)
	}
	for _, e := range [][4]string{
		{"1871", "12", "Rain gauge", "£1"}, {"1871", "13", "Dip circle", "£9 9s"}, {"1871", "14", "Sextant", "£7"}, {"1871", "14a", "Box sextant", "£3"},
		{"1871", "15", "Octant", "£4"}, {"1871", "15", "Quadrant", "£2"},
		{"1884", "12", "Rain gauge", "£1 1s"}, {"1884", "13", "Barograph", "£8"}, {"1884", "20", "Dip circle", "£9"}, {"1884", "XIV", "Telescope", ""},
	} {
		in.Entries = append(in.Entries, Entry{Catalogue: "maker", Edition: e[0], Published: e[0], Number: e[1], Name: e[2], Price: e[3]})
	}
	return in
}

func TestIdentify(t *testing.T) {
	for _, c := range []struct {
		about string
		line  Line
		state State
		means string // label of the first entry
		why   string // part of the reason
	}{
		{"one article has the number", Line{Number: "14a"}, Identified, "1871 no. 14a", "by number"},
		{"both editions have the article: the newest", Line{Number: "12"}, Identified, "1884 no. 12", "2 editions have it alike"},
		{"the price says which edition", Line{Number: "12", Price: "£1"}, Identified, "1871 no. 12", "by number"},
		{"the date says which edition", Line{Number: "13", Date: "1880"}, Identified, "1871 no. 13", "by number"},
		{"a year in which the second came out may be either", Line{Number: "13", Date: "1884"}, Ambiguous, "", "2 articles fit"},
		{"nothing says which edition", Line{Number: "13"}, Ambiguous, "", "2 articles fit"},
		{"the price says which article", Line{Number: "13", Price: "£8"}, Identified, "1884 no. 13", "number and price"},
		{"the amount of the line says it", Line{Number: "13", Quantity: "3", Amount: "£24"}, Identified, "1884 no. 13", "number and price"},
		{"the document names the edition", Line{Number: "13", Edition: "1871"}, Identified, "1871 no. 13", "by number"},
		{"the words say which article", Line{Number: "13", Name: "dip circ."}, Identified, "1871 no. 13", "number and words"},
		{"words of neither", Line{Number: "13", Name: "chronometer"}, Unexplained, "", "called otherwise"},
		{"the price of neither", Line{Number: "13", Price: "£5"}, Unexplained, "", "its price is another"},
		{"about a price decides nothing", Line{Number: "13", Price: "about £8"}, Ambiguous, "", "2 articles fit"},
		{"a number twice in one edition", Line{Number: "15"}, Ambiguous, "", "2 articles fit"},
		{"a number twice, and the price", Line{Number: "15", Price: "£2"}, Identified, "1871 no. 15", "number and price"},
		{"a doubt, or an illegible figure", Line{Number: "2?"}, Ambiguous, "", "in doubt"},
		{"an illegible figure, marked as such", Line{Number: "2[.]"}, Identified, "1884 no. 20", "figures that can be read"},
		{"an illegible figure, several articles", Line{Number: "1[.]"}, Ambiguous, "", "articles fit"},
		{"an illegible figure, and the price", Line{Number: "1[.]", Price: "£7"}, Identified, "1871 no. 14", "and price"},
		{"a doubt", Line{Number: "14a (?)"}, Ambiguous, "", "in doubt"},
		{"a doubt that the price settles", Line{Number: "14a (?)", Price: "£3"}, Identified, "1871 no. 14a", "price"},
		{"Roman figures", Line{Number: "XII"}, Identified, "1884 no. 12", "Roman figures"},
		{"Roman figures that are also a number", Line{Number: "xiv"}, Ambiguous, "", "2 articles fit"},
		{"a letter too many is no match", Line{Number: "13b"}, Unexplained, "", "no catalogue has the number 13b"},
		{"before the catalogue was printed", Line{Number: "12", Date: "1860"}, Unexplained, "", "can't be meant"},
		{"struck out", Line{Number: "~~12~~"}, StruckOut, "", "struck out"},
		{"struck out, as the note says", Line{Number: "12", Note: "struck out in red"}, StruckOut, "", "as the note says"},
		{"struck out and replaced", Line{Number: "~~13~~ 14a"}, Identified, "1871 no. 14a", "by number"},
		{"illegible", Line{Number: "[illegible]"}, Unexplained, "", "can't be read"},
		{"no number", Line{Number: "a barometer"}, Unexplained, "", "can't be read"},
		{"a ditto of nothing", Line{Number: "do."}, Unexplained, "", "no line above"},
		{"a range, all known", Line{Number: "12 & 14a", Quantity: "2"}, Identified, "1884 no. 12", "by number"},
		{"a range, one ambiguous", Line{Number: "12-13", Quantity: "2"}, Ambiguous, "", "13: 2 articles fit"},
	} {
		in := small(c.line)
		l := &Work(in).Lines[0]
		means := ""
		if len(l.Items) > 0 && len(l.Items[0].Entries) > 0 && l.State == Identified {
			means = in.Entries[l.Items[0].Entries[0]].Label()
		}
		if l.State != c.state || means != c.means || !strings.Contains(l.Why, c.why) {
			t.Errorf("%s: %q: %s, %q, because %q; want %s, %q, %q", c.about, c.line.Number, l.State, means, l.Why, c.state, c.means, c.why)
		}
	}
}

func TestDittos(t *testing.T) {
	in := small(Line{Number: "14", Price: "£7"}, Line{Number: "do. a"}, Line{Number: "\"", Price: "do."}, Line{Number: "~~12~~ 13", Price: "£8"}, Line{Number: "do.", Price: "do."},
		Line{Number: "2?2"}, Line{Number: "do."}, Line{Number: "do.", Folio: "3", Line: "1"}, Line{Document: "E", Number: "do.", Folio: "1", Line: "1"})
	res := Work(in)
	want := []string{"14", "14a", "14a", "13", "13", "2?2", "2?2", "", ""}
	for i, w := range want {
		if l := &res.Lines[i]; l.Items[0].Number != w {
			t.Errorf("line %d, %q: %q, want %q", i+1, l.Number, l.Items[0].Number, w)
		}
	}
	if l := &res.Lines[4]; !l.Unit.Exact() || l.Unit.Low != 8*960 || l.State != Identified {
		t.Errorf("the price is a ditto: %+v", l)
	}
	if l := &res.Lines[2]; l.Unit.Given || len(l.Notes) != 1 {
		t.Errorf("a ditto of a price that is not there: %+v", l)
	}
	if l := &res.Lines[7]; !strings.Contains(l.Why, "leaf 2 is missing") {
		t.Errorf("%q", l.Why)
	}
}

// Objects in doubt are never given to a line.
func TestObjects(t *testing.T) {
	in := small(Line{Number: "14", Quantity: "2", Date: "1875"}, Line{Number: "15"}, Line{Number: "14a"}, Line{Number: "14a"}, Line{Number: "12", Quantity: "1"})
	in.Objects = []Object{
		{ID: "a", Numbers: []string{"14"}, Edition: "1871"}, {ID: "b", Numbers: []string{"14"}, Edition: "1871", Fragmentary: true}, // two of two
		{ID: "c", Numbers: []string{"15"}},                                     // an ambiguous line
		{ID: "d", Numbers: []string{"14a"}},                                    // two lines
		{ID: "e", Numbers: []string{"12"}}, {ID: "f", Numbers: []string{"12"}}, // two of one
		{ID: "g", Numbers: []string{"20"}, Name: "Dip circle"}, {ID: "h"}, {ID: "i", Numbers: []string{"99"}}, {ID: "j", Numbers: []string{"a box"}},
		{ID: "k", Numbers: []string{"14"}, Document: "E"},
		{ID: "l", Numbers: []string{"13"}, Name: "Barograph"}, // named: not the dip circle of the other edition
	}
	res := Work(in)
	for i, want := range []ObjectState{OfLine, OfLine, OfSeveral, OfSeveral, OfSeveral, OfSeveral, NeverOrdered, NoNumber, NotListed, NotRead, NeverOrdered, NeverOrdered} {
		if o := &res.Objects[i]; o.State != want || o.Why == "" {
			t.Errorf("%s: %s, %q; want %s", in.Objects[i].ID, o.State, o.Why, want)
		}
	}
	if o := res.Objects[11]; len(o.Entries) != 1 || in.Entries[o.Entries[0]].Name != "Barograph" {
		t.Errorf("a barograph may mean %v", o.Entries)
	}
	a := res.All
	if a.Surviving != (Range{Low: 3, High: 4}) || a.Fragmentary != exactly(1) {
		t.Errorf("surviving %s, fragmentary %s", a.Surviving, a.Fragmentary)
	}
	// One of e and f is the piece, whichever: it is not known which, and it is known that one is.
	if l := &res.Lines[4]; len(l.Pieces) != 2 || l.Pieces[0].Certain || l.Pieces[1].Certain {
		t.Errorf("%+v", l.Pieces)
	}
}

func TestDecisionsAndRows(t *testing.T) {
	in := small(Line{Number: "15", Quantity: "4"}, Line{Number: "12", Quantity: "about 40"}, Line{Number: "???"})
	in.Objects = []Object{{ID: "1926.5", Name: "Quadrant of the Plenty"}, {ID: "x", Fragmentary: true}}
	say := func(line, kind, edition, number, object, pieces string) {
		in.Decisions = append(in.Decisions, Decision{Document: "D", Folio: "1", Line: line, Kind: kind, Edition: edition, Number: number, Object: object, Pieces: pieces,
			By: "Curator", On: "2024-02", Because: "seen", Place: Place{File: "decisions.csv", Row: len(in.Decisions) + 2}})
	}
	in.Entries[5].Number = "15" // the quadrant and the octant share it: only by row can it be told
	in.Entries[5].Edition = "1875"
	say("1", "entry", "1875", "15", "", "")
	say("1", "object", "", "", "1926.5", "")
	say("1", "lost", "", "", "", "2")
	say("2", "entry", "1871", "12", "", "")
	say("2", "object", "", "", "x", "")
	say("3", "none", "", "", "", "")
	res := Work(in)
	if len(res.Problems) > 0 {
		t.Fatalf("%+v", res.Problems)
	}
	col := func(row []string, name string) string { return row[slices.Index(Columns, name)] }
	var got []string
	for _, r := range res.Rows() {
		if len(r) != len(Columns) {
			t.Fatalf("a row of %d cells", len(r))
		}
		got = append(got, strings.Join([]string{col(r, "key"), col(r, "state"), col(r, "entry_name"), col(r, "object"), col(r, "pieces"), col(r, "decided"), col(r, "decision_row")}, " "))
	}
	want := []string{
		"d-1-1-1926.5 surviving Quadrant 1926.5 1 object decisions.csv, row 3",
		"d-1-1-lost-1 lost Quadrant  1 lost decisions.csv, row 4",
		"d-1-1-lost-2 lost Quadrant  1 lost decisions.csv, row 4",
		"d-1-1-open open Quadrant  1 entry decisions.csv, row 2",
		"d-1-2-x fragmentary Rain gauge x 1 object decisions.csv, row 6",
		"d-1-2-open open Rain gauge   entry decisions.csv, row 5",
		"d-1-3-none none    none decisions.csv, row 7",
	}
	if !slices.Equal(got, want) {
		t.Errorf("rows\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if l := &res.Lines[1]; l.Quantity != (Range{Low: 36, High: 44, About: 40}) {
		t.Errorf("about 40 is %+v", l.Quantity)
	}
}

// Without a decision nothing is published, however certain the rules are.
func TestNothingIsDecidedByRules(t *testing.T) {
	tr := generate(3, 80)
	if rows := Work(tr.in).Rows(); len(rows) > 0 {
		t.Errorf("%d rows without a decision", len(rows))
	}
}

func TestReadSum(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"£1 12s", "£1 12s"}, {"32/6", "£1 12s 6d"}, {"2 guineas", "£2 2s"}, {"6½d", "6½d"}, {"¼d", "¼d"}, {"£12 7s 6¾d", "£12 7s 6¾d"},
		{"about £5", "about £5 (£4 10s to £5 10s)"}, {"£2 to £3", "£2 to £3"}, {"12 francs", ""}, {"", ""}, {"⅓d", ""}, {"a trifle", ""},
	} {
		s := ReadSum(c.text, nil, 10)
		if s.String() != c.want || s.Given == (s.Why != "") {
			t.Errorf("%q: %q (%s), want %q", c.text, s, s.Why, c.want)
		}
	}
}

// What is written as money is read back to the farthing, and sums are those of integers.
func TestFarthings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOf(rapid.Int64Range(1, 1<<30)).Draw(t, "farthings")
		var sum Sum
		var want Farthings
		for _, f := range list {
			s := ReadSum(Farthings(f).String(), nil, 10)
			if !s.Exact() || s.Low != Farthings(f) {
				t.Fatalf("%d farthings are written %q and read %+v", f, Farthings(f), s)
			}
			sum = sum.plus(s)
			want += Farthings(f)
		}
		if sum.Low != want || sum.High != want {
			t.Fatalf("%v: %s, want %s", list, sum, want)
		}
	})
}

func TestReadQuantity(t *testing.T) {
	for _, c := range []struct {
		text string
		want string
		each bool
	}{{"3", "3", false}, {"about 40", "about 40 (36–44)", false}, {"2 each", "2", true}, {"2 of each", "2", true}, {"3 to 5", "3–5", false}, {"2 doz.", "24", false}, {"1 gross", "144", false}, {"2 dozen", "24", false}, {"3 pair", "3", false},
		{"at least 6", "at least 6", false}, {"several", "at least 0", false}, {"about 40, 9 survive", "at least 0", false}} {
		r, each, why := readQuantity(c.text, nil, 10)
		if r.String() != c.want || each != c.each || (why != "") != (c.want == "at least 0") {
			t.Errorf("%q: %s, %v (%s); want %s, %v", c.text, r, each, why, c.want, c.each)
		}
	}
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		total string
		lines []Line
		want  string
	}{
		{"£3", []Line{{Number: "12", Quantity: "2", Price: "£1"}, {Number: "12", Price: "£1"}}, "the lines come to £3, as the document says"},
		{"£4 0s 0½d", []Line{{Number: "12", Quantity: "2", Price: "£1"}}, "the lines come to £2, which is £2 ½d less than the document says (£4 ½d)"},
		{"£1", []Line{{Number: "12", Quantity: "2", Price: "£1"}}, "the lines come to £2, which is £1 more than the document says (£1)"},
		{"£5", []Line{{Number: "12", Price: "£1"}, {Number: "13"}}, "1 line has no price that can be read; the others come to £1, and the document says £5: £4 is left for them"},
		{"£21", []Line{{Number: "12", Quantity: "about 20", Price: "£1"}}, "the lines come to about £20 (£18 to £22), and the document says £21, which may be the same"},
		{"", []Line{{Number: "12", Price: "£1"}}, "the document gives no total"},
		{"much", []Line{{Number: "12", Price: "£1"}}, "the document's total \"much\" can't be read: "},
		{"£1", []Line{{Number: "12", Price: "£1"}, {Number: "~~13~~", Price: "£9"}}, "the lines come to £1, as the document says"},
	} {
		for i := range c.lines {
			c.lines[i].Total = c.total
		}
		if got := Work(small(c.lines...)).Documents[0].Verdict; !strings.HasPrefix(got, c.want) {
			t.Errorf("%q: %q, want %q", c.total, got, c.want)
		}
	}
}

// An amount that is not price times pieces is told, and so is a total told in two ways.
func TestContradictions(t *testing.T) {
	res := Work(small(Line{Number: "12", Quantity: "2", Price: "£1", Amount: "£3", Total: "£3"}, Line{Number: "12", Total: "£4"}))
	if n := res.Lines[0].Notes; len(n) != 1 || !strings.Contains(n[0], "which would be £2") {
		t.Errorf("%q", n)
	}
	if v := res.Documents[0].Verdict; !strings.Contains(v, "several totals") {
		t.Errorf("%q", v)
	}
}
