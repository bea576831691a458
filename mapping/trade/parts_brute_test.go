package trade

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// gauge is one measure as a record tells it: a number of units, or from one to another.
type gauge struct {
	kind    string
	unit    string
	low, up int
}

// By hand, from the definitions of the units: how many millimetres or grams.
var inUnit = map[string]float64{"mm": 1, "cm": 10, "m": 1000, "[in_i]": 25.4, "[ft_i]": 304.8, "g": 1, "kg": 1000, "[lb_av]": 453.59237, "[oz_av]": 28.349523125}

var kindIRI = map[string]string{"weight": "300056240", "height": "300055644", "width": "300055647", "depth": "300072633",
	"length": "300055645", "diameter": "300055624", "thickness": "300055646"}

// Measures that say how large a body is in all directions.
var boxes = [][]string{{"height", "width", "depth"}, {"height", "width", "thickness"}, {"height", "width", "length"}, {"length", "width", "depth"},
	{"length", "width", "thickness"}, {"length", "height", "depth"}, {"length", "height", "thickness"},
	{"diameter", "height"}, {"diameter", "length"}, {"diameter", "depth"}}

func measured(t failer, iri, whole string, gauges []gauge) *entity.Document {
	return object(t, iri, func(m *maker) {
		if whole != "" {
			m.refer("part_of", "HumanMadeObject", whole)
		}
		for _, g := range gauges {
			m.node("dimension", "Dimension", func() {
				m.refer("classified_as", "Type", authority(kindIRI[g.kind]))
				number := func(key string, n float64) {
					m.d.Value(entity.Number, m.term(key), false, strconv.FormatFloat(n, 'f', -1, 64), -1)
				}
				number("value", float64(g.low+g.up)/2)
				if g.low != g.up {
					number("lower_value_limit", float64(g.low))
					number("upper_value_limit", float64(g.up))
				}
				a, ok := vocab.AuthorityByCode("MeasurementUnit", g.unit)
				if !ok {
					t.Fatalf("no unit %s", g.unit)
				}
				m.refer("unit", "MeasurementUnit", a.IRI)
			})
		}
	})
}

// A part is too large if and only if it is so in every reading of the measures, one number
// each: heavier, or longer than the diagonal of any box that the whole can be.
func TestPartsByReadings(t *testing.T) {
	weights, boxed, unboxed, same := 0, 0, 0, 0
	manyChecks(t, 10, func(t *rapid.T) {
		draw := func(name string) []gauge {
			var out []gauge
			for range rapid.IntRange(1, 5).Draw(t, name) {
				g := gauge{kind: rapid.SampledFrom([]string{"weight", "height", "width", "depth", "length", "diameter", "thickness"}).Draw(t, "kind")}
				units := []string{"mm", "cm", "m", "[in_i]", "[ft_i]"}
				if g.kind == "weight" {
					units = []string{"g", "kg", "[lb_av]", "[oz_av]"}
				}
				g.unit = rapid.SampledFrom(units).Draw(t, "unit")
				mm := rapid.IntRange(20, 900).Draw(t, "size")
				g.low = max(1, int(math.Round(float64(mm)/inUnit[g.unit])))
				g.up = g.low + rapid.IntRange(0, 2).Draw(t, "spread")
				out = append(out, g)
			}
			return out
		}
		part, whole := draw("part"), draw("whole")
		// Of several measures of a kind one is meant, which is not known.
		readings := func(gs []gauge, kind string) []float64 {
			var out []float64
			for _, g := range gs {
				for n := g.low; g.kind == kind && n <= g.up; n++ {
					out = append(out, float64(n)*inUnit[g.unit])
				}
			}
			return out
		}
		near := false
		fits := func(x, y float64) bool {
			limit := y*1.01 + 1
			near = near || math.Abs(x-limit) < 1e-3*limit
			return x <= limit
		}
		anyFits := func(xs, ys []float64) bool {
			return len(xs) == 0 || len(ys) == 0 || slices.ContainsFunc(xs, func(x float64) bool {
				return slices.ContainsFunc(ys, func(y float64) bool { return fits(x, y) })
			})
		}
		want := map[string]bool{}
		if !anyFits(readings(part, "weight"), readings(whole, "weight")) {
			want["part-larger"] = true
			weights++
		}
		// Every box that the whole can be: one number for each kind, and all directions at
		// right angles, which is the most that they can span.
		diagonals := []float64{0}
		for kind := range kindIRI {
			if rs := readings(whole, kind); kind != "weight" && len(rs) > 0 {
				var next []float64
				for _, d := range diagonals {
					for _, r := range rs {
						if kind == "diameter" {
							r *= math.Sqrt2
						}
						next = append(next, math.Hypot(d, r))
					}
				}
				diagonals = next
			}
		}
		isBox := slices.ContainsFunc(boxes, func(kinds []string) bool {
			return !slices.ContainsFunc(kinds, func(k string) bool { return len(readings(whole, k)) == 0 })
		})
		for kind := range kindIRI {
			rs := readings(part, kind)
			switch {
			case kind == "weight" || len(rs) == 0:
			case isBox && !anyFits(rs, diagonals):
				want["part-larger"] = true
				boxed++
			case !anyFits(rs, readings(whole, kind)):
				want["part-measure-larger"] = true
				same++
			case !isBox && !anyFits(rs, diagonals):
				unboxed++
			}
		}
		if near {
			return // rounding decides
		}
		got := map[string]bool{}
		for _, f := range strings.Split(findings(t, measured(t, "whole", "", whole), measured(t, "part", "whole", part)), "; ") {
			if f != "" {
				got[strings.Fields(f)[0]] = true
			}
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("told %v, want %v: part %v, whole %v", got, want, part, whole)
		}
	})
	if weights < 10 || boxed < 4 || unboxed < 40 || same < 40 {
		t.Errorf("only %d heavier, %d too long, %d longer than what is known, %d larger measures", weights, boxed, unboxed, same)
	}
}

var beginsWithYear = regexp.MustCompile(`^[A-Za-z]*[ .:/_-]*(1[5-9][0-9][0-9]|20[0-9][0-9])[ .:/_-][0-9]`)

// The year of an accession number is another than that of the acquisition if and only if
// no day on which that can have been lies in it.
func TestAccessionYearByDays(t *testing.T) {
	fired, quiet, undated := 0, 0, 0
	manyChecks(t, 10, func(t *rapid.T) {
		from := time.Date(rapid.IntRange(1898, 1903).Draw(t, "year"), time.Month(rapid.SampledFrom([]int{1, 1, 6, 12, 12}).Draw(t, "month")), rapid.SampledFrom([]int{1, 2, 15, 30, 31}).Draw(t, "day"), 0, 0, 0, 0, time.UTC)
		to := from.AddDate(0, 0, rapid.SampledFrom([]int{0, 0, 1, 30, 364, 365, 800}).Draw(t, "days"))
		number := rapid.SampledFrom([]string{"", "", "KQ.", "M ", "a-", "1.", "É"}).Draw(t, "before") +
			rapid.SampledFrom([]string{"1899", "1900", "1901", "1902", "1899", "1900", "1901", "1902", "190", "19011", "1499", "2100", "3001"}).Draw(t, "year") +
			rapid.SampledFrom([]string{".7", "-12", "/3", " 4", ":1.2", ".7", "-12", "/3", ".", "", ".x", "a"}).Draw(t, "after")
		deeds := rapid.IntRange(1, 2).Draw(t, "deeds")
		ours := rapid.SampledFrom([]int{1, 1, 1, 0, 2}).Draw(t, "ours") // how many deeds name the owner of now, if any is known
		owner := rapid.Bool().Draw(t, "owner")
		open := rapid.SampledFrom([]string{"", "", "", "", "", "", "", "from", "to"}).Draw(t, "open")
		d := object(t, "o", func(m *maker) {
			m.node("identified_by", "Identifier", func() {
				m.refer("classified_as", "Type", accessionNumber)
				m.d.Text(m.term("content"), false, number, -1)
			})
			if owner {
				m.refer("current_owner", "Group", "museum")
			}
			for i := range deeds {
				m.node("changed_ownership_through", "Acquisition", func() {
					b, e := from.AddDate(-50*i, 0, 0).Format(time.DateOnly), to.AddDate(-50*i, 0, 0).Format(time.DateOnly)
					if open == "from" {
						b = ".."
					}
					if open == "to" {
						e = ".."
					}
					m.when(b + "/" + e)
					if i < ours {
						m.refer("transferred_title_to", "Group", "museum")
					} else {
						m.refer("transferred_title_to", "Group", fmt.Sprint("other", i))
					}
				})
			}
		})
		which := -1 // the one deed by which it came here
		for i := range deeds {
			if owner && i >= ours {
				continue
			}
			if which >= 0 {
				which = -2
				break
			}
			which = i
		}
		want := false
		if y := beginsWithYear.FindStringSubmatch(number); y != nil && which >= 0 && open == "" {
			want = true
			for day := from.AddDate(-50*which, 0, 0); !day.After(to.AddDate(-50*which, 0, 0)); day = day.AddDate(0, 0, 1) {
				want = want && fmt.Sprint(day.Year()) != y[1]
			}
			if want {
				fired++
			} else {
				quiet++
			}
		} else {
			undated++
		}
		if got := strings.Contains(findings(t, d), "accession-year"); got != want {
			t.Fatalf("%q, %v to %v, open %q, %d deeds, %d ours, owner %v: told %v, want %v", number, from, to, open, deeds, ours, owner, got, want)
		}
	})
	if fired < 30 || quiet < 8 || undated < 50 {
		t.Errorf("only %d other years, %d the same, %d not to be told", fired, quiet, undated)
	}
}
