package reading

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
)

// renderMakers shows everything that was read, in one line.
func renderMakers(text string, c *Conventions) string {
	makers, err := ReadMakers(text, c)
	if err != nil {
		return unreadCode(err)
	}
	var b strings.Builder
	for i, m := range makers {
		if i > 0 {
			b.WriteString(" | ")
		}
		b.WriteString(m.Name)
		field := func(key, value string) {
			if value != "" {
				fmt.Fprintf(&b, " %s=%s", key, value)
			}
		}
		field("inverted", m.Inverted)
		field("kind", string(m.Kind))
		field("qualifier", string(m.Qualifier))
		if m.QualifierText != string(m.Qualifier) {
			field("from", m.QualifierText)
		}
		field("certainty", string(m.Certainty))
		field("role", m.Role)
		field("life", m.Life)
		field("nationality", m.Nationality)
		field("note", m.Note)
	}
	return b.String()
}

func TestReadMakersGolden(t *testing.T) {
	checkGolden(t, "testdata/makers.txt", 270, renderMakers)
}

func TestMakerSpans(t *testing.T) {
	text := "Charles Turner, after J.M.W. Turner; Troughton & Simms, London"
	makers, err := ReadMakers(text, nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, m := range makers {
		got = append(got, text[m.Start:m.End])
	}
	want := []string{"Charles Turner", "after J.M.W. Turner", "Troughton & Simms, London"}
	if strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("spans %q, want %q", got, want)
	}
}

// FuzzReadMakers: reading never panics and is deterministic, spans lie in the text, and a
// maker with a plain name is read back from its regular form.
func FuzzReadMakers(f *testing.F) {
	for _, g := range readMeasureGolden(f, "testdata/makers.txt", 270) {
		f.Add(g.text, uint8(0))
		f.Add(g.text, uint8(2))
	}
	f.Add("Paul Aaa(Flemish,Z0010)", uint8(0))
	f.Add("Aaa,Ola b0170,b0001", uint8(0))
	f.Add("Paul Aaa (Dutch, Flemish, Siegen 1577-1640 Antwerp)", uint8(0))
	f.Fuzz(func(t *testing.T, text string, order uint8) {
		c := &Conventions{Maker: MakerConventions{Order: NameOrder(order % 3)}}
		makers, err := ReadMakers(text, c)
		if err != nil {
			if u, ok := err.(*Unread); !ok || u.Code == "" || u.Text != text || u.At > len(text) {
				t.Fatalf("%q: error %#v", text, err)
			}
			return
		}
		if len(makers) == 0 {
			t.Fatalf("%q: neither makers nor error", text)
		}
		again, err := ReadMakers(text, c)
		if err != nil || fmt.Sprint(again) != fmt.Sprint(makers) {
			t.Fatalf("%q: read twice: %v and %v", text, makers, again)
		}
		for i := range makers {
			m := &makers[i]
			if m.Name == "" || m.Start < 0 || m.Start >= m.End || m.End > len(text) {
				t.Fatalf("%q: %+v", text, m)
			}
			if !plainName(m.Name) || m.Kind != MakerPerson || strings.Contains(m.Role, " and ") || m.Role == "maker of the copy" {
				continue
			}
			out := string(m.AppendText(nil))
			back, err := ReadMakers(out, nil)
			if err != nil || len(back) != 1 {
				t.Fatalf("%q: written %q is read as %v, %v", text, out, back, err)
			}
			if b := back[0]; b.Name != m.Name || b.Qualifier != m.Qualifier || b.Life != m.Life || !m.Influence() && b.Role != m.Role {
				t.Fatalf("%q: written %q is read as %+v", text, out, b)
			}
		}
	})
}

// plainName: two or three words of small Latin letters after a capital.
func plainName(s string) bool {
	words := strings.Split(s, " ")
	for i, w := range words {
		if len(w) < 3 || w[0] < 'A' || w[0] > 'Z' || strings.Trim(w[1:], "abcdefghijklmnopqrstuvwxyz") != "" {
			return false
		}
		l := strings.ToLower(w)
		if i == 0 && !givenNames[l] || i > 0 && (givenNames[l] || nameTitles[l] || groupWords[l] || nationalities[l] || makerRoles[l] != "" || knownPlaces[l]) {
			return false
		}
		if ph, ok := makerPhrases[l]; ok && (ph.prefix || ph.suffix) {
			return false
		}
	}
	return len(words) == 2
}

func BenchmarkReadMakers(b *testing.B) {
	cells := []string{"Joseph Mallord William Turner", "Turner, Joseph Mallord William", "Charles Turner, after Joseph Mallord William Turner", "attributed to Jan Wyck",
		"Johan Pasch (Tillverkare, av original, )", "Troughton & Simms, London", "Peter Fischli, David Weiss", "John Smith (British, 1775–1851)"}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, err := ReadMakers(cells[i%len(cells)], nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cells/s")
}

// BenchmarkReadMakersFloor reads one year as a number.
func BenchmarkReadMakersFloor(b *testing.B) {
	for b.Loop() {
		if _, err := strconv.ParseFloat("1775", 64); err != nil {
			b.Fatal(err)
		}
	}
}
