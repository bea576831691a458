package trade

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

var today = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// failer is a test, of the standard library or of rapid.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// maker builds documents by hand.
type maker struct {
	d     entity.Document
	class []*vocab.Class
	t     failer
}

func doc(t failer, class, iri string, fill func(m *maker)) *entity.Document {
	m := &maker{t: t}
	c := vocab.ClassByKey(class)
	m.class = append(m.class, c)
	m.d.Begin(nil, false, c, true, "https://a.example/"+iri, -1)
	fill(m)
	m.d.End()
	return &m.d
}

func (m *maker) term(key string) *vocab.Term {
	t := m.class[len(m.class)-1].Term(key)
	if t == nil {
		m.t.Fatalf("%s has no key %s", m.class[len(m.class)-1].Key, key)
	}
	return t
}

func (m *maker) node(key, class string, fill func()) {
	c := vocab.ClassByKey(class)
	m.d.Begin(m.term(key), false, c, false, "", -1)
	m.class = append(m.class, c)
	fill()
	m.class = m.class[:len(m.class)-1]
	m.d.End()
}

func (m *maker) refer(key, class, iri string) {
	if !strings.Contains(iri, "://") {
		iri = "https://a.example/" + iri
	}
	m.d.Begin(m.term(key), true, vocab.ClassByKey(class), true, iri, -1)
	m.d.End()
}

// when adds a time span: "1790", "1790/1795", "1790-05-04", "../1800".
func (m *maker) when(s string) {
	from, to, ok := strings.Cut(s, "/")
	if !ok {
		to = from
	}
	m.node("timespan", "TimeSpan", func() {
		if from != ".." {
			m.d.Value(entity.DateTime, m.term("begin_of_the_begin"), false, first(from), -1)
		}
		if to != ".." {
			m.d.Value(entity.DateTime, m.term("end_of_the_end"), false, last(to), -1)
		}
	})
}

// throughout adds a time span of which begin and end are known to the day.
func (m *maker) throughout(from, to string) {
	m.node("timespan", "TimeSpan", func() {
		m.d.Value(entity.DateTime, m.term("begin_of_the_begin"), false, first(from), -1)
		m.d.Value(entity.DateTime, m.term("end_of_the_begin"), false, last(from), -1)
		m.d.Value(entity.DateTime, m.term("begin_of_the_end"), false, first(to), -1)
		m.d.Value(entity.DateTime, m.term("end_of_the_end"), false, last(to), -1)
	})
}

func first(s string) string {
	if len(s) == 4 {
		s += "-01-01"
	}
	return s + "T00:00:00Z"
}

func last(s string) string {
	if len(s) == 4 {
		s += "-12-31"
	}
	return s + "T23:59:59Z"
}

func (m *maker) event(key, class, when string, fill ...func()) {
	m.node(key, class, func() {
		if when != "" {
			m.when(when)
		}
		for _, f := range fill {
			f()
		}
	})
}

func (m *maker) by(key, class, iri string) func() { return func() { m.refer(key, class, iri) } }

func person(t failer, iri, born, died string) *entity.Document {
	return doc(t, "Person", iri, func(m *maker) {
		if born != "" {
			m.event("born", "Birth", born)
		}
		if died != "" {
			m.event("died", "Death", died)
		}
	})
}

func object(t failer, iri string, fill func(m *maker)) *entity.Document {
	return doc(t, "HumanMadeObject", iri, fill)
}

// findings are those of some documents, as text: the rule and its documents.
func findings(t failer, docs ...*entity.Document) string {
	t.Helper()
	names := map[ID]string{}
	x, l, b := NewExtractor(today, Wants{true, true, true}), NewLedger(), &Batch{}
	for _, d := range docs {
		names[IDOf(d.IRI())] = strings.TrimPrefix(d.IRI(), "https://a.example/")
		if i := x.Take(b, d); i >= 0 {
			l.Take(b, i)
		}
	}
	var out []string
	for _, f := range l.Findings() {
		var sides []string
		for _, s := range f.Sides {
			if names[s.Doc] == "" {
				t.Fatalf("%v speaks of a document that nobody gave", f)
			}
			sides = append(sides, names[s.Doc])
		}
		slices.Sort(sides)
		out = append(out, f.Rule.Rule().Name+" "+strings.Join(sides, " "))
	}
	slices.Sort(out)
	return strings.Join(out, "; ")
}

type row struct {
	name string
	docs []*entity.Document
	want string
}

func TestRules(t *testing.T) {
	made := func(iri, when, by string) *entity.Document {
		return object(t, iri, func(m *maker) { m.event("produced_by", "Production", when, m.by("carried_out_by", "Person", by)) })
	}
	got := func(iri string, deeds ...string) *entity.Document { // "1790 a>b"
		return object(t, iri, func(m *maker) {
			for _, d := range deeds {
				when, people, _ := strings.Cut(d, " ")
				from, to, _ := strings.Cut(people, ">")
				if when == "now" {
					m.refer("current_owner", "Group", to)
					continue
				}
				m.node("changed_ownership_through", "Acquisition", func() {
					if when != "?" {
						m.when(when)
					}
					if from != "" {
						m.refer("transferred_title_from", "Person", from)
					}
					if to == "" {
						return
					}
					for _, x := range strings.Split(to, "+") {
						m.refer("transferred_title_to", "Group", x)
					}
				})
			}
		})
	}
	shown := func(iri, from, to, at string, things ...string) *entity.Document {
		return doc(t, "Activity", iri, func(m *maker) {
			m.refer("classified_as", "Type", exhibition)
			m.throughout(from, to)
			m.refer("took_place_at", "Place", at)
			for _, o := range things {
				m.refer("used_specific_object", "HumanMadeObject", o)
			}
		})
	}
	lies := func(in, out string) *entity.Document {
		return doc(t, "Place", in, func(m *maker) { m.refer("part_of", "Place", out) })
	}
	sized := func(iri, whole string, unit string, measures ...string) *entity.Document { // "300055644 30.5"
		return object(t, iri, func(m *maker) {
			if whole != "" {
				m.refer("part_of", "HumanMadeObject", whole)
			}
			for _, s := range measures {
				kind, val, _ := strings.Cut(s, " ")
				m.node("dimension", "Dimension", func() {
					m.refer("classified_as", "Type", authority(kind))
					m.d.Value(entity.Number, m.term("value"), false, val, -1)
					a, ok := vocab.AuthorityByCode("MeasurementUnit", unit)
					if !ok {
						t.Fatalf("no unit %s", unit)
					}
					m.refer("unit", "MeasurementUnit", a.IRI)
				})
			}
		})
	}
	numbered := func(nr, when string) *entity.Document {
		return object(t, "o", func(m *maker) {
			m.node("identified_by", "Identifier", func() {
				m.refer("classified_as", "Type", accessionNumber)
				m.d.Text(m.term("content"), false, nr, -1)
			})
			m.event("changed_ownership_through", "Acquisition", when, m.by("transferred_title_to", "Group", "museum"))
		})
	}
	about := func(iri, when string, kinds ...string) *entity.Document {
		return doc(t, "Activity", iri, func(m *maker) {
			for _, k := range kinds {
				m.refer("classified_as", "Type", k)
			}
			m.when(when)
			m.refer("used_specific_object", "HumanMadeObject", "o")
		})
	}
	lived := func(key, class, made, gone string) *entity.Document { // and what was done with it in 1900
		return object(t, "o", func(m *maker) {
			if made != "" {
				m.event("produced_by", "Production", made)
			}
			if gone != "" {
				m.event("destroyed_by", "Destruction", gone)
			}
			if key != "" {
				m.event(key, class, "1900", func() { m.refer("classified_as", "Type", exhibition) })
			}
		})
	}
	docs := func(d ...*entity.Document) []*entity.Document { return d }
	const h, w, dp, weigh = "300055644", "300055647", "300072633", "300056240"
	for _, r := range []row{
		{"made in her lifetime", docs(made("o", "1850", "p"), person(t, "p", "1820", "1880")), ""},
		{"made before her birth", docs(made("o", "1810", "p"), person(t, "p", "1820", "1880")), "before-participant o p"},
		{"made by a child of the same year", docs(made("o", "1820", "p"), person(t, "p", "1820", "1880")), ""},
		{"about the year of birth", docs(made("o", "1790/1825", "p"), person(t, "p", "1820", "1880")), ""},
		{"no date", docs(made("o", "", "p"), person(t, "p", "1820", "1880")), ""},
		{"no birth", docs(made("o", "1700", "p"), person(t, "p", "", "")), ""},
		{"nobody's record", docs(made("o", "1700", "p")), ""},
		{"open end", docs(made("o", "1700/..", "p"), person(t, "p", "1820", "1880")), ""},
		{"open begin", docs(made("o", "../1700", "p"), person(t, "p", "1820", "1880")), "before-participant o p"},
		{"cast after death", docs(made("o", "1900", "p"), person(t, "p", "1820", "1880")), "posthumous-making o p"},
		{"old style and new", docs(made("o", "1700-01-20", "p"), person(t, "p", "1700-01-28", "")), ""},
		{"beyond old style and new", docs(made("o", "1700-01-10", "p"), person(t, "p", "1700-01-28", "")), "before-participant o p"},
		{"no two styles any more", docs(made("o", "1950-01-20", "p"), person(t, "p", "1950-01-28", "2000")), "before-participant o p"},
		{"a part has the time of its whole", docs(object(t, "o", func(m *maker) {
			m.event("produced_by", "Production", "1810", func() {
				m.node("part", "Production", m.by("carried_out_by", "Person", "p"))
			})
		}), person(t, "p", "1820", "")), "before-participant o p"},
		{"a claim is no fact", docs(object(t, "o", func(m *maker) {
			m.node("attributed_by", "AttributeAssignment", func() {
				m.node("assigned", "Production", func() { m.when("1810"); m.refer("carried_out_by", "Person", "p") })
			})
		}), person(t, "p", "1820", "")), ""},
		{"an alteration after death", docs(object(t, "o", func(m *maker) {
			m.event("modified_by", "Modification", "1900", m.by("carried_out_by", "Person", "p"))
		}), person(t, "p", "1820", "1880")), "after-participant o p"},
		{"an estate gives", docs(got("o", "1900 p>museum"), person(t, "p", "1820", "1880")), ""},
		{"the dead do not receive", docs(got("o", "1900 p>q"), person(t, "q", "1820", "1880")), "after-participant o q"},
		{"a firm before its founding", docs(made("o", "1810", "g"), doc(t, "Group", "g", func(m *maker) { m.event("formed_by", "Formation", "1838") })), "before-participant g o"},
		{"a life backwards", docs(person(t, "p", "1880", "1820")), "end-before-beginning p p"},
		{"destroyed before it was made", docs(object(t, "o", func(m *maker) {
			m.event("produced_by", "Production", "1907")
			m.event("destroyed_by", "Destruction", "1883")
		})), "end-before-beginning o o"},
		{"bought before it was made", docs(object(t, "o", func(m *maker) {
			m.event("produced_by", "Production", "1907")
			m.event("changed_ownership_through", "Acquisition", "1883", m.by("transferred_title_to", "Group", "museum"))
		})), "before-making o o"},
		{"lent after the flood", docs(object(t, "o", func(m *maker) { m.event("destroyed_by", "Destruction", "1907-02-02") }),
			doc(t, "Activity", "loan", func(m *maker) {
				m.when("1920")
				m.node("part", "TransferOfCustody", m.by("transferred_custody_of", "HumanMadeObject", "o"))
			})), "after-destruction loan o"},
		{"ordered before it was made", docs(lived("", "", "1907", ""), about("order", "1900", provenanceActivity)), ""},
		{"promised before it was made", docs(lived("", "", "1907", ""), about("order", "1900", promise)), ""},
		{"given up after the flood", docs(lived("", "", "", "1883"), about("deaccession", "1900", provenanceActivity)), ""},
		{"claimed after it was burnt", docs(lived("", "", "", "1883"), about("claim", "1900")), ""},
		{"used before it was made", docs(lived("", "", "1907", ""), about("voyage", "1900")), "before-making o voyage"},
		{"shown after it was burnt", docs(lived("", "", "", "1883"), about("show", "1900", exhibition)), "after-destruction o show"},
		{"shown before it was made", docs(lived("", "", "1907", ""), about("show", "1900", exhibition)), "before-making o show"},
		{"shown after it was burnt, as it says itself", docs(lived("used_for", "Activity", "", "1883")), "after-destruction o o"},
		{"found before it was made", docs(lived("encountered_by", "Encounter", "1907", "")), "before-making o o"},
		{"shown after it was burnt, as another record says when", docs(doc(t, "Activity", "show", func(m *maker) {
			m.refer("classified_as", "Type", exhibition)
			m.when("1900")
		}), object(t, "o", func(m *maker) {
			m.event("destroyed_by", "Destruction", "1883")
			m.node("used_for", "Activity", func() {
				m.refer("classified_as", "Type", exhibition)
				m.refer("part_of", "Activity", "show")
			})
		})), "after-destruction o show"},
		{"a right of somebody not yet born", docs(doc(t, "Activity", "deed", func(m *maker) {
			m.when("1810")
			m.node("part", "RightAcquisition", func() {
				m.node("establishes", "Right", func() { m.refer("possessed_by", "Person", "p") })
			})
		}), person(t, "p", "1820", "1880")), "before-participant deed p"},
		{"one after another", docs(got("o", "1800 a>b", "1850 b>c", "1900 c>museum", "now >museum")), ""},
		{"a gap", docs(got("o", "1800 a>b", "1900 c>museum", "now >museum")), "owner-gap o o"},
		{"perhaps a gap, perhaps not", docs(got("o", "1800 a>b", "1700/1900 b>c", "1900 c>museum")), ""},
		{"something without a date lies between", docs(got("o", "1800 a>b", "? b>c", "1900 c>museum")), ""},
		{"given by nobody known", docs(got("o", "1800 a>b", "1900 >museum")), ""},
		{"the owner now is another", docs(got("o", "1800 a>b", "now >museum")), "owner-gap o o"},
		{"two owners", docs(got("o", "1800 a>b", "1850 b>c", "1820 d>e", "1830 e>f")), "owner-gap o o; owner-gap o o; owners-overlap o o o o"},
		{"owners together", docs(got("o", "1800 a>b+c", "1850 b>d", "1860 c>d")), "owner-gap o o"},
		{"bought back", docs(got("o", "1800 a>b", "1810 b>c", "1820 c>b", "1830 b>d")), ""},
		{"told twice", docs(got("o", "1911 a>museum", "now >museum"), doc(t, "Activity", "deed", func(m *maker) {
			m.when("1911-06-09")
			m.node("part", "Acquisition", func() {
				m.refer("transferred_title_of", "HumanMadeObject", "o")
				m.refer("transferred_title_from", "Person", "a")
				m.refer("transferred_title_to", "Group", "museum")
			})
		})), ""},
		{"seller and buyer of different deeds", docs(got("o", "? a>", "? >b", "now >museum")), ""},
		{"in two places", docs(shown("e1", "1931-05-01", "1931-09-30", "town", "o"), shown("e2", "1931-08-01", "1931-12-01", "city", "o")), "two-places e1 e2"},
		{"one after the other", docs(shown("e1", "1931-05-01", "1931-08-01", "town", "o"), shown("e2", "1931-08-01", "1931-12-01", "city", "o")), ""},
		{"a hall in the town", docs(shown("e1", "1931-05-01", "1931-09-30", "hall", "o"), shown("e2", "1931-08-01", "1931-12-01", "town", "o"),
			lies("hall", "quarter"), lies("quarter", "town")), ""},
		{"another thing", docs(shown("e1", "1931-05-01", "1931-09-30", "town", "o"), shown("e2", "1931-08-01", "1931-12-01", "city", "u")), ""},
		{"a part fits", docs(sized("o", "", "cm", h+" 30"), sized("p", "o", "mm", h+" 290")), ""},
		{"a part is taller", docs(sized("o", "", "cm", h+" 30"), sized("p", "o", "mm", h+" 350")), "part-measure-larger o p"},
		{"a part can't go in", docs(sized("o", "", "cm", h+" 30", w+" 40", dp+" 10"), sized("p", "o", "cm", w+" 60")), "part-larger o p"},
		{"a part stands on its side", docs(sized("o", "", "cm", h+" 30", w+" 40", dp+" 10"), sized("p", "o", "cm", h+" 38")), "part-measure-larger o p"},
		{"a part is heavier", docs(sized("o", "", "kg", weigh+" 2"), sized("p", "o", "g", weigh+" 2500")), "part-larger o p"},
		{"rounding", docs(sized("o", "", "cm", h+" 30"), sized("p", "o", "mm", h+" 301")), ""},
		{"number of its year", docs(numbered("1911.7", "1911-06-09")), ""},
		{"number of another year", docs(numbered("KQ.1910.7", "1911")), "accession-year o o"},
		{"number that runs on", docs(numbered("1910", "1911")), ""},
		{"number without a year", docs(numbered("N05564", "1911")), ""},
		{"somebody's birthday", docs(person(t, "p", "1980-05-04", "")), "possibly-living p"},
		{"somebody's year of birth", docs(person(t, "p", "1980", "")), ""},
		{"somebody long ago", docs(person(t, "p", "1880-05-04", "")), ""},
		{"somebody who died", docs(person(t, "p", "1980-05-04", "..")), ""},
	} {
		t.Run(r.name, func(t *testing.T) {
			if got := findings(t, r.docs...); got != r.want {
				t.Errorf("%q, want %q", got, r.want)
			}
			slices.Reverse(r.docs)
			if got := findings(t, r.docs...); got != r.want {
				t.Errorf("in the other order: %q, want %q", got, r.want)
			}
		})
	}
	// No rule goes without a row that breaks it.
	for _, n := range Names() {
		if r, ok := ByName(n); !ok || r.Rule().About == "" {
			t.Errorf("%s is not found", n)
		}
	}
}

func TestDays(t *testing.T) {
	for n := Day(-800_000); n < 800_000; n += 17 {
		y, m, d := dateOf(n)
		if back := dayOf(y, m, d); back != n {
			t.Fatalf("%d is %d-%d-%d, which is %d", n, y, m, d, back)
		}
		want := time.Unix(int64(n)*86400, 0).UTC()
		if y != want.Year() || m != int(want.Month()) || d != want.Day() {
			t.Fatalf("%d is %d-%d-%d, want %v", n, y, m, d, want)
		}
	}
	for _, r := range []struct {
		s    string
		late bool
		want string
	}{{"1874-05-04T00:00:00Z", false, "1874-5-4"}, {"1874-12-31T23:59:59Z", true, "1874-12-31"}, {"1874-05-04T00:00:00+02:00", false, "1874-5-3"}, {"1874-05-04T23:00:00-02:00", true, "1874-5-5"}} {
		n, ok := parseDay(r.s, r.late)
		y, m, d := dateOf(n)
		if got := fmt.Sprintf("%d-%d-%d", y, m, d); !ok || got != r.want {
			t.Errorf("%s: %s, want %s", r.s, got, r.want)
		}
	}
}

func TestNumberYear(t *testing.T) {
	for s, want := range map[string]int{"1926.17": 1926, "KQ.1911.4": 1911, "M 1903-2": 1903, "2003/4": 2003, "1926": 0, "N05564": 0,
		"1926.x": 0, "12.1926.3": 0, "1926a": 0, "3001.2": 0, "19261.2": 0, "": 0} {
		if got, ok := numberYear(s); got != want || ok != (want > 0) {
			t.Errorf("%q: %d, want %d", s, got, want)
		}
	}
}
