package mapping

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestCoarse(t *testing.T) {
	for _, r := range []struct {
		in   string
		grid float64
		want string
	}{
		{"44.21345", 0.1, "44.2"}, {"-41.30122", 0.1, "-41.3"}, {"44.25", 0.5, "44.5"}, {"44.2", 1, "44"}, {"-0.04", 0.1, "0.0"},
		{"", 0.1, ""}, {" 12.5 ", 10, "10"}, {"44.2134", 0.001, "44.213"}, {"7.3", 0.25, "7.25"},
	} {
		if got, err := coarse(r.in, r.grid); err != nil || got != r.want {
			t.Errorf("%q on %v: %q, %v; want %q", r.in, r.grid, got, err, r.want)
		}
	}
	for _, bad := range []string{"44° 12'", "north", "1e999", "NaN", "4421345"} {
		if got, err := coarse(bad, 0.1); err == nil || strings.Contains(err.Error(), bad) {
			t.Errorf("%q: %q, %v", bad, got, err)
		}
	}
	for _, g := range []float64{0, -1, 0.0001, 11, math.Inf(1), math.NaN()} {
		if got, err := coarse("44", g); err == nil {
			t.Errorf("a grid of %v gives %q", g, got)
		}
	}
}

// What comes out is a line of the grid, nowhere further than half a grid away, and
// the same for all that lies about it: nothing finer can be told from it.
func TestCoarseTellsNoMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grid := rapid.SampledFrom([]float64{0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 1, 10}).Draw(t, "grid")
		v := rapid.Float64Range(-180, 180).Draw(t, "degrees")
		s, err := coarse(strconv.FormatFloat(v, 'f', 12, 64), grid)
		if err != nil {
			t.Fatal(err)
		}
		got, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-v) > grid/2+1e-9 {
			t.Fatalf("%v on %v is %v", v, grid, got)
		}
		if k := math.Round(got / grid); math.Abs(got-k*grid) > 1e-9 {
			t.Fatalf("%v is no line of a grid of %v", got, grid)
		}
		if again, _ := coarse(s, grid); again != s {
			t.Fatalf("%s becomes %s", s, again)
		}
	})
}

func TestYearOnly(t *testing.T) {
	for in, want := range map[string]string{"4 May 1861": "1861", "1861-05-04": "1861", "1861": "1861", "": "", "May 1861": "1861"} {
		if got, err := yearOnly(in); err != nil || got != want {
			t.Errorf("%q: %q, %v; want %q", in, got, err, want)
		}
	}
	for _, bad := range []string{"1861–1865", "long ago", "about 1861", "4.5.61"} {
		if got, err := yearOnly(bad); err == nil || got != "" || strings.Contains(err.Error(), bad) {
			t.Errorf("%q: %q, %v", bad, got, err)
		}
	}
}

// Every caution shows what it is about, and where to turn; none tells how to do
// anything.
func TestCautions(t *testing.T) {
	table, list := cautionTable()
	if len(table) < 11 || list.Len() != len(table) {
		t.Fatalf("%d kinds, %d words", len(table), list.Len())
	}
	must := map[string][]string{
		"hazard":    {"Handle it only as trained", "no instruction", "codes that apply where it is", "a specialist licensed"},
		"community": {"consent", "community", "codes that apply", "trained"},
		"location":  {"codes that apply", "licensed specialist", "roughly"},
		"person":    {"law", "left out"},
	}
	seen := map[string]int{}
	for _, c := range table {
		seen[c.concerns]++
		for _, w := range must[c.concerns] {
			if !strings.Contains(c.words, w) {
				t.Errorf("%s does not say %q: %s", c.kind, w, c.words)
			}
		}
		if len(must[c.concerns]) == 0 {
			t.Errorf("%s concerns %q", c.kind, c.concerns)
		}
		if n := len(c.words); n < 100 || n > 480 {
			t.Errorf("%s has %d letters: %s", c.kind, n, c.words)
		}
		if cautionWords(c.kind) != c.words || cautionOf(strings.ToUpper(c.kind)) == nil {
			t.Errorf("%s is not found", c.kind)
		}
	}
	for _, kind := range []string{"arsenic", "mercury", "asbestos", "radium", "lead", "human-remains", "sacred", "find-spot", "nesting-site", "personal"} {
		if cautionOf(kind) == nil {
			t.Errorf("there is no caution %q", kind)
		}
	}
	if len(seen) != len(must) || cautionWords("dragons") != "" {
		t.Errorf("concerns: %v", seen)
	}
}

// Headers and cells that look as if they should not be published, and others that come
// near.
func TestLooks(t *testing.T) {
	for _, r := range []struct {
		is      func(string) bool
		yes, no []string
	}{
		{emailValue.MatchString, []string{"ann@fell.example", "a.b+c@d.e.example"}, []string{"@fell", "ann at fell.example", "1911.7@", "a@b"}},
		{phoneValue.MatchString, []string{"+44 1632 960001", "0046 (0)8-123 45 67", "+1 555-0100 100"}, []string{"1911.7", "12 34 56", "1874-05-04", "0044", "9780000000000"}},
		{streetValue.MatchString, []string{"2 Chapel Steps", "12b Old Mill Lane, Marrowhythe", "7 Windlass Lane"}, []string{"2 barometers", "40 cm", "1874 Order", "Old Quay"}},
		{isCoordinates, []string{"44.21345, -41.30122", "44.21345 -41.30122", "N 44° 12' 30\" W 41° 18'", "POINT(-41.3 44.2)"}, []string{"44.2, 41.3", "30 x 40", "1874.123", "12° C"}},
	} {
		for _, s := range r.yes {
			if !r.is(s) {
				t.Errorf("%q is not recognised", s)
			}
		}
		for _, s := range r.no {
			if r.is(s) {
				t.Errorf("%q is taken for one", s)
			}
		}
	}
}
