package reading

import (
	"math/big"
	"strconv"
	"strings"
	"testing"
)

// renderMoney shows everything that was read, in one line.
func renderMoney(text string, c *Conventions) string {
	m, err := ReadMoney(text, c)
	if err != nil {
		return unreadCode(err)
	}
	var b strings.Builder
	b.Write(m.AppendText(nil))
	if m.Value.Given() {
		b.WriteString(" = " + m.Rat().RatString())
	}
	b.WriteString(" " + string(m.Currency))
	if m.Code != "" {
		b.WriteString(" " + m.Code)
	}
	if m.Each {
		b.WriteString(" each")
	}
	if m.Before != "" || m.After != "" {
		b.WriteString(" [" + m.Before + "|" + m.After + "]")
	}
	return b.String()
}

func TestReadMoneyGolden(t *testing.T) {
	checkGolden(t, "testdata/money.txt", 130, renderMoney)
}

// TestCoinage compares the coins with the tables of the coinage. Pounds, shillings and
// pence, guinea, crown, florin, groat, farthing: Royal Mint, coinage before 15 February
// 1971. Livre, stuiver, anna, maravedí: common knowledge of the trade.
func TestCoinage(t *testing.T) {
	for _, row := range []struct{ text, value string }{
		{"1 shilling", "1/20"}, {"1d", "1/240"}, {"1 farthing", "1/960"}, {"1 guinea", "21/20"}, {"1 crown", "1/4"}, {"1 half-crown", "1/8"},
		{"1 groat", "1/60"}, {"1 halfpenny", "1/480"}, {"1 sovereign", "1"}, {"sixpence", "1/40"}, {"1 half-guinea", "21/40"},
		{"1 livre 1 sol 1 denier", "253/240"}, {"1 gulden 1 stuiver", "21/20"}, {"1 rupee 1 anna", "17/16"}, {"1 real", "1"},
		{"1 dollar 1 cent", "101/100"}, {"1 franc 1 centime", "101/100"}, {"1 Mark 1 Pfennig", "101/100"}, {"1 krona 1 öre", "101/100"}, {"1 ruble 1 kopek", "101/100"},
	} {
		m, err := ReadMoney(row.text, nil)
		if err != nil {
			t.Errorf("%s: %v", row.text, err)
			continue
		}
		want, _ := new(big.Rat).SetString(row.value)
		if m.Rat().Cmp(want) != 0 {
			t.Errorf("%s = %s, want %s", row.text, m.Rat().RatString(), row.value)
		}
	}
}

// FuzzReadMoney: reading never panics, spans lie in the text, and what is written is
// read back to the same amount.
func FuzzReadMoney(f *testing.F) {
	for _, g := range readMeasureGolden(f, "testdata/money.txt", 130) {
		f.Add(g.text)
	}
	f.Add("½pF")
	f.Add("$1000000m")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ReadMoney(text, nil)
		if err != nil {
			if u, ok := err.(*Unread); !ok || u.Code == "" || u.Text != text || u.At > len(text) {
				t.Fatalf("%q: error %#v", text, err)
			}
			return
		}
		if m.Start < 0 || m.Start >= m.End || m.End > len(text) {
			t.Fatalf("%q: span %d to %d", text, m.Start, m.End)
		}
		if m.Currency == "" || !m.Value.Given() && !m.Lower.Given() && !m.Upper.Given() {
			t.Fatalf("%q: %+v", text, m)
		}
		for _, n := range []Number{m.Value, m.Lower, m.Upper} {
			if n.Given() && (n.Num < 0 || n.Den < 1) {
				t.Fatalf("%q: %d/%d", text, n.Num, n.Den)
			}
			if n.Given() && n.Den > 1 && n.Places < 0 && !properFraction(n.Num%n.Den, n.Den) {
				return // the regular form has the fractions of common coins
			}
		}
		out := string(m.AppendText(nil))
		again, err := ReadMoney(out, nil)
		if err != nil {
			t.Fatalf("%q: written %q: %v", text, out, err)
		}
		same := func(a, b Number) bool { return a.Num == b.Num && a.Den == b.Den }
		if !same(again.Value, m.Value) || !same(again.Lower, m.Lower) || !same(again.Upper, m.Upper) || again.Currency != m.Currency ||
			again.Year != m.Year || again.Approximate != m.Approximate || again.Uncertain != m.Uncertain || !same(again.Guineas, m.Guineas) {
			t.Fatalf("%q: written %q is read as %+v", text, out, again)
		}
	})
}

func BenchmarkReadMoney(b *testing.B) {
	cells := []string{"£12 7s 6d", "£215", "7/6", "10 guineas", "$1,200.50", "12 francs 50 centimes", "£1,200 10s", "12:50 kr"}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, err := ReadMoney(cells[i%len(cells)], nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "amounts/s")
}

// BenchmarkReadMoneyFloor turns the digits of one number into a number.
func BenchmarkReadMoneyFloor(b *testing.B) {
	for b.Loop() {
		if _, err := strconv.ParseFloat("12.375", 64); err != nil {
			b.Fatal(err)
		}
	}
}

// A fraction set apart from pounds belongs to the penny behind it.
func TestPoundsAndAFractionOfAPenny(t *testing.T) {
	for text, farthings := range map[string]int64{"£2 ½d": 2*960 + 2, "£149 ¼d.": 149*960 + 1, "£2½": 2400, "£2 ½": 2400, "6 ½d": 26, "£1 6 ½d": 960 + 26} {
		m, err := ReadMoney(text, nil)
		if err != nil || m.Value.Num*960 != farthings*m.Value.Den {
			t.Errorf("%q: %v, %v; want %d farthings", text, m.Value, err, farthings)
		}
	}
}
