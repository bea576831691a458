package reading

import (
	"fmt"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// drawNumber draws a number as museums write them: decimals or the fractions of a ruler.
func drawNumber(t *rapid.T, fractions bool) (text string, value *big.Rat) {
	whole := rapid.Int64Range(0, 3000).Draw(t, "whole")
	if fractions && rapid.Bool().Draw(t, "fraction") {
		den := rapid.SampledFrom([]int64{2, 4, 8, 16}).Draw(t, "den")
		num := rapid.Int64Range(1, den-1).Draw(t, "num")
		value = new(big.Rat).Add(big.NewRat(whole, 1), big.NewRat(num, den))
		f := newFraction(num, den)
		if whole == 0 {
			return fmt.Sprintf("%d/%d", f.num, f.den), value
		}
		return fmt.Sprintf("%d %d/%d", whole, f.num, f.den), value
	}
	switch places := rapid.IntRange(0, 2).Draw(t, "places"); places {
	case 1:
		d := rapid.Int64Range(1, 9).Draw(t, "tenths")
		return fmt.Sprintf("%d.%d", whole, d), big.NewRat(whole*10+d, 10)
	case 2:
		d := rapid.Int64Range(1, 99).Draw(t, "hundredths")
		return fmt.Sprintf("%d.%02d", whole, d), big.NewRat(whole*100+d, 100)
	}
	return fmt.Sprint(whole + 1), big.NewRat(whole+1, 1)
}

// TestDimensionsOfLists: named measures are read with their numbers, in every order and
// with every separator.
func TestDimensionsOfLists(t *testing.T) {
	words := map[Element][]string{
		ElementHeight:   {"H.", "H:", "height", "Höjd", "Höhe:", "hauteur", "h"},
		ElementWidth:    {"W.", "W:", "width", "Bredd", "Breite:", "largeur", "b"},
		ElementLength:   {"L.", "L:", "length", "Längd", "Länge:", "longueur"},
		ElementDiameter: {"Diam.", "diameter", "Ø", "Durchmesser:"},
	}
	elements := []Element{ElementHeight, ElementWidth, ElementLength, ElementDiameter}
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.Permutation(elements).Draw(t, "order")[:rapid.IntRange(1, 4).Draw(t, "n")]
		unit := rapid.SampledFrom([]Unit{"cm", "mm", "in", "m"}).Draw(t, "unit")
		separator := rapid.SampledFrom([]string{", ", "; ", " x ", " | "}).Draw(t, "separator")
		text := ""
		var values []*big.Rat
		for i, e := range order {
			number, value := drawNumber(t, unit == "in")
			values = append(values, value)
			if i > 0 {
				text += separator
			}
			text += rapid.SampledFrom(words[e]).Draw(t, "word") + " " + number + " " + string(unit)
		}
		d, err := ReadDimensions(text, &Conventions{Dimension: DimensionConventions{Decimal: "."}})
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if len(d.Measures) != len(order) {
			t.Fatalf("%q: %s", text, d)
		}
		for i, m := range d.Measures {
			if m.Element != order[i] || m.Unit != unit || m.Value.Rat().Cmp(values[i]) != 0 {
				t.Fatalf("%q: %s", text, d)
			}
		}
	})
}

// TestDimensionsGivenTwice: inches beside their centimetres are one measure; a number
// that is off by more than rounding is reported, and neither is lost.
func TestDimensionsGivenTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sixteenths := rapid.Int64Range(16, 1600).Draw(t, "sixteenths")
		inches := newFraction(sixteenths, 16)
		text := string(Number{Num: inches.num, Den: inches.den, Places: -1}.AppendText(nil)) + " in. "
		millimetres := new(big.Rat).Mul(big.NewRat(sixteenths, 16), big.NewRat(254, 10))
		tenths, _ := new(big.Int).SetString(millimetres.FloatString(0), 10)
		off := rapid.SampledFrom([]int64{0, 0, 60}).Draw(t, "off")
		cm := new(big.Rat).SetFrac64(tenths.Int64()+off, 10)
		text += "(" + cm.FloatString(1) + " cm)"
		d, err := ReadDimensions(text, nil)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		found := 0
		for _, m := range d.Measures {
			found += 1 + len(m.Also)
		}
		if found != 2 {
			t.Fatalf("%q: %s", text, d)
		}
		if off == 0 && (len(d.Measures) != 1 || d.Measures[0].Disagrees) {
			t.Fatalf("%q is not one measure: %s", text, d)
		}
		if off != 0 && len(d.Measures) == 1 && !d.Measures[0].Disagrees && inches.den > 2 {
			t.Fatalf("%q: the disagreement is not reported", text)
		}
	})
}

// TestDimensionsApproximate: a word for about changes nothing but the flag.
func TestDimensionsApproximate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number, _ := drawNumber(t, false)
		plain := number + " cm"
		word := rapid.SampledFrom([]string{"c.", "ca", "circa", "about", "approx.", "ungefär", "etwa", "environ", "~"}).Draw(t, "word")
		a, err := ReadDimensions(plain, nil)
		if err != nil {
			t.Fatalf("%q: %v", plain, err)
		}
		b, err := ReadDimensions(word+" "+plain, nil)
		if err != nil {
			t.Fatalf("%s %q: %v", word, plain, err)
		}
		if len(b.Measures) != 1 || !b.Measures[0].Approximate || a.Measures[0].Approximate ||
			b.Measures[0].Value.Rat().Cmp(a.Measures[0].Value.Rat()) != 0 || b.Measures[0].Lower.Given() {
			t.Fatalf("%s %q: %s", word, plain, b)
		}
	})
}

// TestMoneySpellings: pounds, shillings and pence in every usual spelling are the same
// amount.
func TestMoneySpellings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.Int64Range(1, 5000).Draw(t, "l")
		s := rapid.Int64Range(0, 19).Draw(t, "s")
		d := rapid.Int64Range(0, 11).Draw(t, "d")
		want := big.NewRat(l*240+s*12+d, 240)
		format := rapid.SampledFrom([]string{"£%d %ds %dd", "£%d. %ds. %dd.", "£%d.%d.%d", "£%d-%d-%d", "£%d:%d:%d", "£%d %d/%d", "%dl. %ds. %dd.", "£%d, %ds, %dd", "£%d %d %d", "£%d/%d/%d"}).Draw(t, "format")
		text := fmt.Sprintf(format, l, s, d)
		m, err := ReadMoney(text, nil)
		if format == "£%d %d/%d" && s < d && err != nil && unreadCode(err) == "unread: ambiguous-number" {
			return // "£1 1/2" may be a pound and a half
		}
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if m.Rat().Cmp(want) != 0 || m.Pounds != l || m.Shillings != s || m.Pence.Num != d {
			t.Fatalf("%q = %s, want %s", text, m.Rat().RatString(), want.RatString())
		}
	})
}

// TestMakersOfLists: full names are read one by one whatever parts them.
func TestMakersOfLists(t *testing.T) {
	given := []string{"John", "Mary", "Johann", "Karin", "Pierre", "Jan"}
	family := []string{"Ekholm", "Brenner", "Duval", "Haverkamp", "Oakes", "Lindqvist"}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "n")
		inverted := rapid.Bool().Draw(t, "inverted")
		separator := rapid.SampledFrom([]string{"; ", ", ", " and ", " & ", " | "}).Draw(t, "separator")
		if inverted {
			separator = rapid.SampledFrom([]string{"; ", " | "}).Draw(t, "separator")
		}
		text := ""
		var names []string
		for i := range n {
			g, f := rapid.SampledFrom(given).Draw(t, "given"), rapid.SampledFrom(family).Draw(t, "family")
			names = append(names, g+" "+f)
			if i > 0 {
				text += separator
			}
			if inverted {
				text += f + ", " + g
			} else {
				text += g + " " + f
			}
		}
		makers, err := ReadMakers(text, nil)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if len(makers) != n {
			t.Fatalf("%q: %v", text, makers)
		}
		for i := range makers {
			if makers[i].Name != names[i] || makers[i].Kind != MakerPerson {
				t.Fatalf("%q: %v", text, makers)
			}
		}
	})
}
