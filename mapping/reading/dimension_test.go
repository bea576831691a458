package reading

import (
	"math/big"
	"strconv"
	"strings"
	"testing"
)

// renderDimensions shows everything that was read, in one line.
func renderDimensions(text string, c *Conventions) string {
	d, err := ReadDimensions(text, c)
	if err != nil {
		return unreadCode(err)
	}
	var b strings.Builder
	for i := range d.Measures {
		m := d.Measures[i]
		if i > 0 {
			b.WriteString(" | ")
		}
		bare := m
		bare.Part = ""
		b.Write(bare.AppendText(nil))
		if m.Part != "" {
			b.WriteString(" {" + m.Part)
			if m.PartTerm != "" && m.PartTerm != m.Part {
				b.WriteString(" = " + m.PartTerm)
			}
			b.WriteString("}")
		}
		if m.Remark != "" {
			b.WriteString(" [" + m.Remark + "]")
		}
		if m.Disagrees {
			b.WriteString(" disagrees")
		}
	}
	for _, n := range d.Notes {
		b.WriteString(" # " + n.Code)
	}
	return b.String()
}

func TestReadDimensionsGolden(t *testing.T) {
	checkGolden(t, "testdata/dimensions.txt", 400, renderDimensions)
}

func TestReadDimensionsSpans(t *testing.T) {
	text := "Höjd: 24,5 cm (9 5/8 in.), Ø 3⅜ in."
	d, err := ReadDimensions(text, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"24,5 cm", "9 5/8 in.", "3⅜ in."}
	var got []string
	for _, m := range d.Measures {
		got = append(got, text[m.Start:m.End])
		for _, a := range m.Also {
			got = append(got, text[a.Start:a.End])
		}
	}
	if strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("spans %q, want %q", got, want)
	}
}

// TestUnitFactors compares the factors with the published ones. NIST SP 811 (2008),
// appendix B.8, gives exact factors in bold; those rows are marked so here.
func TestUnitFactors(t *testing.T) {
	table := []struct {
		unit   Unit
		factor string // in m, kg, l, m² or s
		source string
	}{
		{"in", "0.0254", "NIST SP 811 B.8, exact; 1/36 of the international yard"},
		{"ft", "0.3048", "NIST SP 811 B.8, exact; 1/3 of the international yard"},
		{"yd", "0.9144", "international yard and pound agreement 1959, exact"},
		{"mi", "1609.344", "NIST SP 811 B.8, exact"},
		{"lb", "0.45359237", "international yard and pound agreement 1959, exact"},
		{"oz", "0.028349523125", "1/16 of the pound, exact; NIST SP 811 B.8 rounds it to 2.834952 E-02"},
		{"st", "6.35029318", "14 pounds, exact; NIST SP 811 does not list it: UK Weights and Measures Act 1985 schedule 1"},
		{"oz t", "0.0311034768", "480 grains, exact; NIST SP 811 B.8 rounds it to 3.110348 E-02"},
		{"dwt", "0.00155517384", "24 grains, exact; NIST SP 811 B.8 rounds it to 1.555174 E-03"},
		{"gr", "0.00006479891", "NIST SP 811 B.8, exact; 1/7000 of the pound"},
		{"ct", "0.0002", "NIST SP 811 B.8, exact (metric carat)"},
		{"in3", "0.016387064", "cube of the inch, exact; NIST SP 811 B.8 rounds it to 1.638706 E-05 m³"},
		{"ft3", "28.316846592", "cube of the foot, exact; NIST SP 811 B.8 rounds it to 2.831685 E-02 m³"},
		{"in2", "0.00064516", "NIST SP 811 B.8, exact"},
		{"ft2", "0.09290304", "NIST SP 811 B.8, exact"},
		{"ha", "10000", "NIST SP 811 table 6, exact"},
		{"min", "60", "NIST SP 811 table 6, exact"},
		{"h", "3600", "NIST SP 811 table 6, exact"},
		{"mm", "0.001", "SI prefix"}, {"cm", "0.01", "SI prefix"}, {"dm", "0.1", "SI prefix"}, {"m", "1", "SI"}, {"km", "1000", "SI prefix"},
		{"µm", "0.000001", "SI prefix"}, {"mg", "0.000001", "SI prefix"}, {"g", "0.001", "SI prefix"}, {"hg", "0.1", "SI prefix"},
		{"kg", "1", "SI"}, {"t", "1000", "NIST SP 811 table 6"}, {"ml", "0.001", "SI prefix"}, {"cl", "0.01", "SI prefix"}, {"dl", "0.1", "SI prefix"},
		{"l", "1", "NIST SP 811 table 6: 1 dm³"}, {"hl", "100", "SI prefix"}, {"mm3", "0.000001", "SI"}, {"cm3", "0.001", "SI"}, {"dm3", "1", "SI"},
		{"m3", "1000", "SI"}, {"mm2", "0.000001", "SI"}, {"cm2", "0.0001", "SI"}, {"m2", "1", "SI"}, {"s", "1", "SI"},
	}
	seen := map[Unit]bool{}
	for _, row := range table {
		want, ok := new(big.Rat).SetString(row.factor)
		got, exact := row.unit.Factor()
		if !ok || !exact || got.Cmp(want) != 0 {
			t.Errorf("%s: %v, want %s (%s)", row.unit, got, row.factor, row.source)
		}
		seen[row.unit] = true
	}
	for u, info := range units {
		if info.den != 0 && !seen[u] {
			t.Errorf("%s has a factor that is not in the table", u)
		}
	}
}

func TestConvert(t *testing.T) {
	d, err := ReadDimensions("9 5/8 in.", nil)
	if err != nil {
		t.Fatal(err)
	}
	got, ok := Convert(d.Measures[0].Value, "in", "mm")
	if want := big.NewRat(244475, 1000); !ok || got.Cmp(want) != 0 {
		t.Errorf("9 5/8 in = %v mm, want %v", got, want)
	}
	for _, pair := range [][2]Unit{{"in", "kg"}, {"gal", "l"}, {"Zoll", "mm"}} {
		if r, ok := Convert(d.Measures[0].Value, pair[0], pair[1]); ok {
			t.Errorf("%s in %s = %v", pair[0], pair[1], r)
		}
	}
}

func TestNumberDecimal(t *testing.T) {
	for _, row := range []struct {
		n    Number
		want string
	}{
		{Number{Num: 77, Den: 8, Places: -1}, "9.625"},
		{Number{Num: 49, Den: 2, Places: 1}, "24.5"},
		{Number{Num: 33, Den: 1, Places: 1}, "33.0"},
		{Number{Num: 33, Den: 1, Places: 2}, "33.00"},
		{Number{Num: 1, Den: 3, Places: -1}, ""},
		{Number{Num: 0, Den: 1}, "0"},
		{Number{}, ""},
	} {
		if got := row.n.Decimal(); got != row.want {
			t.Errorf("%+v: %q, want %q", row.n, got, row.want)
		}
	}
}

func TestReadDimensionsAllocates(t *testing.T) {
	c := &Conventions{}
	for _, text := range []string{"support: 483 x 343 mm", "Höjd: 37,6 mm", "H 24.5 x W 10 x D 5 cm"} {
		if n := testing.AllocsPerRun(100, func() {
			if _, err := ReadDimensions(text, c); err != nil {
				t.Fatal(err)
			}
		}); n > 1 {
			t.Errorf("%s: %v allocations, want 1 for the measures", text, n)
		}
	}
}

var benchmarkCells = []string{
	"support: 425 x 539 mm", "support: 483 x 343 mm ; frame: 633 x 490 x 56 mm", "1149 g", "pipa 572 mm", "26,7 cm",
	"15 3/8 x 10 1/8 in.", "H: 5 3/8 in.", "13 3/4 x 9 3/4 in. |  34.9 x 24.8 cm.", "5 3/4 x 8 1/16 in. (image) ; 6 11/16 x 9 11/16 in. (sheet)",
	"H 24.5 x W 10 cm; 9 5/8 in.", "object: 310 x 88 x 90 mm, 0.9 kg", "Höhe: 24,5 cm; Breite: 10 cm; Tiefe: 5 cm",
}

func BenchmarkReadDimensions(b *testing.B) {
	c := &Conventions{}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, err := ReadDimensions(benchmarkCells[i%len(benchmarkCells)], c); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cells/s")
}

// BenchmarkReadDimensionsFloor is the least any reader must do: turn the digits of one
// number into a number.
func BenchmarkReadDimensionsFloor(b *testing.B) {
	texts := []string{"425", "483", "1149", "572", "26.7", "15.375", "5.375", "13.75", "5.75", "24.5", "310", "24.5"}
	for i := 0; b.Loop(); i++ {
		if _, err := strconv.ParseFloat(texts[i%len(texts)], 64); err != nil {
			b.Fatal(err)
		}
	}
}
