package reading

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// checkDate asserts what holds of every reading: it is deterministic, its known
// corners are ordered, widening never narrows, and its EDTF reads back.
func checkDate(t interface{ Errorf(string, ...any) }, text string, conv *Conventions) {
	d, err := ReadDate(text, conv)
	again, err2 := ReadDate(text, conv)
	if !reflect.DeepEqual(d, again) || (err == nil) != (err2 == nil) {
		t.Errorf("%q is read in two ways", text)
	}
	if err != nil {
		u, ok := err.(*Unread)
		if !ok || u.Code == "" || u.Reason == "" || u.Text != text || u.At >= len(text)+1 {
			t.Errorf("%q: bad error %#v", text, err)
		}
		return
	}
	checkOrdered(t, text, &d.DateCorners)
	for i := range d.Alternatives {
		checkOrdered(t, text, &d.Alternatives[i])
	}
	edtf := d.EDTF()
	if edtf == "" && !d.EDTFExact() && !d.EarliestBegin.Known() && !d.LatestEnd.Known() {
		return
	}
	e, err := ReadDate(edtf, conv)
	if err != nil {
		t.Errorf("%q gives %s, which is not read: %v", text, edtf, err)
		return
	}
	if e.EarliestBegin != d.EarliestBegin || e.LatestEnd != d.LatestEnd || d.EDTFExact() && e.DateCorners != d.DateCorners {
		t.Errorf("%q is %v, but its EDTF %s is %v", text, d.DateCorners, edtf, e.DateCorners)
	}
	if _, err := ParseEDTF(edtf); err != nil {
		t.Errorf("%q gives %s, which is no EDTF: %v", text, edtf, err)
	}
	narrow := *conv
	narrow.Date.Circa, narrow.Date.CircaYears = DateCircaFixed, 0
	if n, err := ReadDate(text, &narrow); err != nil {
		t.Errorf("%q is read only where circa widens: %v", text, err)
	} else if d.EarliestBegin.Known() && d.EarliestBegin.Compare(n.EarliestBegin) > 0 || d.LatestEnd.Known() && d.LatestEnd.Compare(n.LatestEnd) < 0 {
		t.Errorf("%q: circa narrows %v to %v", text, n.DateCorners, d.DateCorners)
	}
}

func checkOrdered(t interface{ Errorf(string, ...any) }, text string, c *DateCorners) {
	for _, p := range [][2]DateDay{{c.EarliestBegin, c.LatestBegin}, {c.EarliestEnd, c.LatestEnd}, {c.EarliestBegin, c.EarliestEnd}, {c.LatestBegin, c.LatestEnd}} {
		if p[0].Known() && p[1].Known() && p[0].Compare(p[1]) > 0 {
			t.Errorf("%q: corners out of order: %v", text, *c)
		}
	}
	for _, d := range []DateDay{c.EarliestBegin, c.LatestBegin, c.EarliestEnd, c.LatestEnd} {
		if d.Known() && (d.Month > 12 || d.Day < 1 || d.Day > daysInMonth(d.Year, d.Month)) {
			t.Errorf("%q: no such day: %v", text, d)
		}
	}
}

// checkLife asserts that each date of a life is in order, and that its death does
// not come before its birth.
func checkLife(t interface{ Errorf(string, ...any) }, text string, conv *Conventions) {
	l, err := ReadLife(text, conv)
	if err != nil {
		return
	}
	for _, d := range []*Date{&l.Born, &l.Died, &l.Active} {
		if d.Text != "" {
			checkOrdered(t, text, &d.DateCorners)
		}
	}
	if a, z := l.Born.EarliestBegin, l.Died.LatestEnd; a.Known() && z.Known() && z.Compare(a) < 0 {
		t.Errorf("%q: born %v, died %v", text, l.Born.DateCorners, l.Died.DateCorners)
	}
}

func fuzzConventions() []*Conventions {
	list := []*Conventions{{}}
	for _, c := range []DateConventions{
		{Circa: DateCircaFixed, CircaYears: 7, Century: DateCenturyFrom01, Order: DateDayFirst, TwoDigitYears: 1870, BeforeYears: 25, AfterYears: 25, Plus: DatePlusDied},
		{CircaRanges: DateCircaKeepsRanges, Hundreds: DateHundredsDecade, Order: DateMonthFirst, MinYear: 1, Exclusive: true, Southern: true, Plus: DatePlusOnwards, LaterStages: DateStageNames()},
		{JulianUntil: DateDay{1752, 9, 14}, EarlyPercent: 25, MidPercent: 20, LatePercent: 50, LaterStages: []string{}},
	} {
		list = append(list, &Conventions{Date: c})
	}
	return list
}

func FuzzReadDate(f *testing.F) {
	for _, g := range dateGolden(f) {
		f.Add(g.text)
	}
	f.Add("1000 and 001/2")
	f.Add("1640-650/1")
	f.Add("[%2101]")
	f.Add("[2101-05?]")
	f.Add("[3101S2]")
	f.Add("act 1550 but before 1550")
	f.Add("from 1550 to before 1550")
	f.Add("born 1550, died before 1549")
	convs := fuzzConventions()
	f.Fuzz(func(t *testing.T, text string) {
		for _, c := range convs {
			checkDate(t, text, c)
			checkLife(t, text, c)
		}
	})
}

// TestDateWords puts words of the tables and numbers together at random.
func TestDateWords(t *testing.T) {
	var words []string
	for w := range dateLexicon {
		words = append(words, w)
	}
	for first, ps := range datePhrases {
		for _, p := range ps {
			words = append(words, first+" "+strings.Join(p.rest, " "))
		}
	}
	slices.Sort(words)
	pieces := rapid.OneOf(
		rapid.SampledFrom(words),
		rapid.SampledFrom([]string{"1874", "1871", "76", "6", "12", "1900", "300", "19th", "XIX", "XVe", "1870s", "18??", "187X", "1921-25", "3.4.1921", "1874-05-03", "0", "31", "'700", "901", "01/2", "001/2", "1831/2", "2101", "3101S2", "1874-23", "9999", "5000"}),
		rapid.SampledFrom([]string{"%", "-", "–", "--", "/", ",", ";", "(", ")", "[", "]", "?", "(?)", "~", "*", "+", "†", ".", ":", "&"}),
	)
	convs := fuzzConventions()
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		for i := range rapid.IntRange(1, 7).Draw(t, "n") {
			if i > 0 && rapid.Bool().Draw(t, "space") {
				b.WriteByte(' ')
			}
			b.WriteString(pieces.Draw(t, "piece"))
		}
		c := convs[rapid.IntRange(0, len(convs)-1).Draw(t, "conventions")]
		checkDate(t, b.String(), c)
		checkLife(t, b.String(), c)
	})
}

func FuzzParseEDTF(f *testing.F) {
	for _, x := range []string{"1985-04-12", "2004?-06-~11", "156X-12-25", "[1667,1668,1670..1672]", "{..1984}", "Y-17E7", "1950S2", "1985/..", "-01XX~", "2001-34", "1985-04-12T23:20:30+04:30"} {
		f.Add(x)
	}
	f.Fuzz(func(t *testing.T, text string) {
		e, err := ParseEDTF(text)
		if err != nil {
			return
		}
		c := e.Corners(nil)
		checkOrdered(t, text, &c)
		s := e.String()
		again, err := ParseEDTF(s)
		if err != nil || again.Corners(nil) != c || again.String() != s {
			t.Errorf("%q is written %s, which reads %v, %v", text, s, again.Corners(nil), err)
		}
	})
}
