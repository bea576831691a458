package reading

import (
	"testing"
	"unicode/utf8"
)

// FuzzReadDimensions: reading never panics, is deterministic, every span lies in the
// text at rune boundaries, and what is written is read back to the same measures.
func FuzzReadDimensions(f *testing.F) {
	for _, g := range readMeasureGolden(f, "testdata/dimensions.txt", 400) {
		f.Add(g.text, "", "")
		f.Add(g.text, "cm", ",")
	}
	f.Fuzz(func(t *testing.T, text, unit, decimal string) {
		c := &Conventions{}
		if Unit(unit).Known() && units[Unit(unit)].class == classLength {
			c.Dimension.Unit = Unit(unit)
		}
		if decimal == "," || decimal == "." {
			c.Dimension.Decimal = decimal
		}
		d, err := ReadDimensions(text, c)
		if err != nil {
			u, ok := err.(*Unread)
			if !ok || u.Code == "" || u.Reason == "" || u.Text != text || u.At > len(text) {
				t.Fatalf("%q: error %#v", text, err)
			}
			if len(d.Measures) > 0 {
				t.Fatalf("%q: measures beside an error", text)
			}
			return
		}
		if len(d.Measures) == 0 {
			t.Fatalf("%q: neither measures nor error", text)
		}
		for i := range d.Measures {
			checkMeasure(t, text, &d.Measures[i])
		}
		for _, n := range d.Notes {
			if n.Start < 0 || n.Start > n.End || n.End > len(text) {
				t.Fatalf("%q: note at %d to %d", text, n.Start, n.End)
			}
		}
		again, err := ReadDimensions(text, c)
		if err != nil || again.String() != d.String() {
			t.Fatalf("%q: read twice: %q and %q", text, d, again)
		}
	})
}

func checkMeasure(t *testing.T, text string, m *Measure) {
	amounts := append([]Amount{m.Amount}, m.Also...)
	for _, a := range amounts {
		if a.Start < 0 || a.Start >= a.End || a.End > len(text) {
			t.Fatalf("%q: span %d to %d", text, a.Start, a.End)
		}
		if utf8.ValidString(text) && !utf8.ValidString(text[a.Start:a.End]) {
			t.Fatalf("%q: span %d to %d cuts a character", text, a.Start, a.End)
		}
		if a.Unit != UnitNone && !a.Unit.Known() {
			t.Fatalf("%q: unit %q", text, a.Unit)
		}
		if !a.Value.Given() && !a.Lower.Given() && !a.Upper.Given() {
			t.Fatalf("%q: an amount without a number", text)
		}
		for _, n := range []Number{a.Value, a.Lower, a.Upper} {
			if n.Given() && (n.Num < 0 || n.Den < 1 || gcd64(n.Num, n.Den) != 1) {
				t.Fatalf("%q: number %d/%d", text, n.Num, n.Den)
			}
		}
		if a.Lower.Given() && a.Upper.Given() && !a.Lower.less(a.Upper) {
			t.Fatalf("%q: range %v to %v", text, a.Lower, a.Upper)
		}
	}
	// Written and read back. The words of a part are free and may mean anything
	// elsewhere, so they stay out.
	bare := *m
	bare.Part, bare.PartTerm, bare.Remark = "", "", ""
	if bare.Disagrees {
		bare.Also = nil // alone, it need not seem the same measure
	}
	if !writable(&bare) {
		return
	}
	out := string(bare.AppendText(nil))
	d, err := ReadDimensions(out, nil)
	if err != nil {
		t.Fatalf("%q: written %q: %v", text, out, err)
	}
	if len(d.Measures) != 1 {
		t.Fatalf("%q: written %q has %d measures", text, out, len(d.Measures))
	}
	got := &d.Measures[0]
	if got.Element != bare.Element || got.Approximate != bare.Approximate || got.Uncertain != bare.Uncertain || got.Each != bare.Each ||
		!sameAmount(&got.Amount, &bare.Amount) {
		t.Fatalf("%q: written %q is read as %+v", text, out, got)
	}
}

// writable leaves out what the regular form does not promise: fractions finer than
// those of a ruler, and names of old units, which no unit class admits an element for.
func writable(m *Measure) bool {
	for _, a := range append([]Amount{m.Amount}, m.Also...) {
		for _, n := range []Number{a.Value, a.Lower, a.Upper} {
			if n.Given() && n.Places < 0 && n.Den > 1 && !properFraction(n.Num%n.Den, n.Den) {
				return false
			}
			if n.Given() && (n.Num/n.Den >= 1e15 || n.Places > 15 || n.Places == 3) {
				return false
			}
			if n.Given() && n.Places < 0 && n.Den > 1 && units[a.Unit].system == systemMetric && eitherOr(Number{Text: "a/b", Num: n.Num, Den: n.Den, Places: -1}) {
				return false
			}
		}
	}
	return true
}

func sameAmount(a, b *Amount) bool {
	same := func(x, y Number) bool {
		return x.Num == y.Num && x.Den == y.Den && (x.Places == y.Places || x.Den == 1)
	}
	return a.Unit == b.Unit && same(a.Value, b.Value) && same(a.Lower, b.Lower) && same(a.Upper, b.Upper)
}
