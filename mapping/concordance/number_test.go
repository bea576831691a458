package concordance

import (
	"errors"
	"testing"

	"ropewalk/mapping/reading"
)

func TestReadNumbers(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", ""},
		{"212", "212"},
		{" 212. ", "212"},
		{"0212", "212"},
		{"212a", "212a"},
		{"212 A", "212a"},
		{"212 (bis)", "212 bis"},
		{"No. 212 (bis)", "212 bis"},
		{"Nos. 212, 214", "212, 214"},
		{"Nº 212", "212"},
		{"№ 212", "212"},
		{"Nr 212", "212"},
		{"nr. 212b", "212b"},
		{"Cat. no. 212", "212"},
		{"#212", "212"},
		{"212½", "212½"},
		{"212*", "212*"},
		{"212/3", "212/3"},
		{"A 12", "a 12"},
		{"A.12b", "a 12b"},
		{"AB12", "ab 12"},
		{"212-15", "212, 213, 214, 215"},
		{"212–5", "212, 213, 214, 215"},
		{"212 — 215", "212, 213, 214, 215"},
		{"212 to 214", "212, 213, 214"},
		{"Nr. 212 bis 214", "212, 213, 214"},
		{"98-101", "98, 99, 100, 101"},
		{"212a-d", "212a, 212b, 212c, 212d"},
		{"212-a", "212a"},
		{"212 a & b", "212a, 212b"},
		{"212 & 214", "212, 214"},
		{"212; 214 and 216-18", "212, 214, 216, 217, 218"},
		{"212, 13", "212, 13 (?)"},
		{"12, 213", "12, 213"},
		{"2270, 121", "2270, 121"},
		{"XIV", "xiv"},
		{"No. xiv", "xiv"},
		{"CCXII", "ccxii"},
		{"XIV a", "xiv a"},
		{"C", "c"},
		{"AA", "aa"},
		{"ditto", "ditto"},
		{"Do.", "ditto"},
		{"do", "ditto"},
		{"\"", "ditto"},
		{"”", "ditto"},
		{"〃", "ditto"},
		{"-\"-", "ditto"},
		{",,", "ditto"},
		{"id.", "ditto"},
		{"dto.", "ditto"},
		{"the same", "ditto"},
		{"do. b", "ditto b"},
		{"ditto (bis)", "ditto bis"},
		{"2?2", "2?2"},
		{"?12", "?12"},
		{"2__", "2??"},
		{"2[.]2", "2?2"},
		{"21[.]", "21[.]"},
		{"2[..]", "2??"},
		{"2…", "2…"},
		{"2[...]", "2…"},
		{"2[1]2", "212 (?)"},
		{"2[1?]2", "212 (?)"},
		{"212 (?)", "212 (?)"},
		{"212 ?", "212 (?)"},
		{"212?", "212?"},
		{"212a?", "212a (?)"},
		{"[illegible]", "[illegible]"},
		{"???", "[illegible]"},
		{"~~212~~", "~~212~~"},
		{"~~212~~ 213", "~~212~~ 213"},
		{"⟦212⟧ 213", "~~212~~ 213"},
		{"[[212]]", "~~212~~"},
		{"[struck out: 212] 213", "~~212~~ 213"},
		{"212 (struck out)", "~~212~~"},
		{"212 crossed out, 213", "~~212~~ 213"},
		{"struck out: 212", "~~212~~"},
		{"(struck out)", "(struck out)"},
	} {
		w, err := ReadNumbers(c.text)
		if err != nil || w.String() != c.want {
			t.Errorf("%q: %q, %v; want %q", c.text, w.String(), err, c.want)
		}
	}
	if n := mustNumber(t, "XIV"); n.Roman != 14 {
		t.Errorf("XIV is %d", n.Roman)
	}
	if n := mustNumber(t, "mdcccclxxxxviiii"); n.Roman != 1999 {
		t.Errorf("MDCCCCLXXXXVIIII is %d", n.Roman)
	}
}

func mustNumber(t *testing.T, s string) Number {
	t.Helper()
	w, err := ReadNumbers(s)
	if err != nil || len(w.Numbers) != 1 {
		t.Fatalf("%q: %v, %v", s, w, err)
	}
	return w.Numbers[0]
}

// What could mean two things is not read.
func TestReadNumbersRefuses(t *testing.T) {
	for _, c := range []struct{ text, code string }{
		{"1,212", "one-or-two"},
		{"215-212", "backwards"},
		{"2-2", "backwards"},
		{"212d-a", "backwards"},
		{"100-900", "too-long"},
		{"2?2-15", "illegible-range"},
		{"212-2?", "illegible-range"},
		{"Fig. 212", "unknown-words"},
		{"fig 212", "unknown-words"},
		{"No No 2", "unknown-words"},
		{"a barometer", "unknown-words"},
		{"212 barometers", "unknown-words"},
		{"212 &", "unknown-words"},
		{"ditto 212", "unknown-words"},
		{"~~do.~~", "unknown-words"},
		{"2x2", "unknown-words"},
		{"2.2", "unknown-words"},
		{"1234567", "unknown-words"},
		{"IIIIII", "unknown-words"},
	} {
		w, err := ReadNumbers(c.text)
		var u *reading.Unread
		if !errors.As(err, &u) || u.Code != c.code {
			t.Errorf("%q: %q, %v; want %s", c.text, w.String(), err, c.code)
		}
		if w.Numbers != nil || w.Struck != nil || w.Ditto {
			t.Errorf("%q: read and not read: %+v", c.text, w)
		}
	}
}

func TestFits(t *testing.T) {
	for _, c := range []struct {
		pattern, figures string
		want             bool
	}{
		{"2?2", "212", true}, {"2?2", "22", false}, {"2?2", "2122", false}, {"2…", "2", true}, {"2…", "2999", true}, {"…2", "12", true},
		{"2…2", "22", true}, {"2…2", "2", false}, {"212", "212", true}, {"??1", "121", true},
	} {
		if got := fits(c.pattern, c.figures); got != c.want {
			t.Errorf("fits(%q, %q) = %v", c.pattern, c.figures, got)
		}
	}
}

// Whatever is read can be written in the regular form, which says the same.
func FuzzReadNumbers(f *testing.F) {
	for _, s := range []string{"212", "No. 212 (bis)", "212-15", "212a-d", "212 a & b", "ditto b", "~~212~~ 213", "2?2", "2[1]2", "21[.]", "212?",
		"XIV a", "[illegible]", "⟦1⟧", "Nos. 1; 2 and 3", "212 crossed out, 213", "2…2", "u.", "c?", "A.12b (?)", "0", "212, 13"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, err := ReadNumbers(s)
		if err != nil {
			var u *reading.Unread
			if !errors.As(err, &u) || u.Code == "" || u.Reason == "" {
				t.Fatalf("%q: an error without a reason: %v", s, err)
			}
			if w.Numbers != nil || w.Struck != nil || w.Ditto || w.Illegible {
				t.Fatalf("%q: read and not read", s)
			}
			return
		}
		for _, n := range w.Numbers {
			if n.Prefix == "" && n.Figures == "" {
				t.Fatalf("%q: a number of nothing", s)
			}
		}
		again, err := ReadNumbers(w.String())
		if err != nil || !again.same(w) {
			t.Fatalf("%q is written %q and then read %+v, %v; before %+v", s, w.String(), again, err, w)
		}
	})
}
