package validate

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/vocab"
)

func newDeep(t testing.TB) *Deep {
	t.Helper()
	x, err := NewDeep()
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestDeepAgreesOnGoodDocuments(t *testing.T) {
	x := newDeep(t)
	docs := []*entity.Document{small("https://example.org/object/1"), record(7)}
	files, examples, _ := published(t)
	names := []string{"small", "record"}
	for i, f := range files {
		if examples[f] != nil && i%3 == 0 {
			docs = append(docs, examples[f])
			names = append(names, f)
		}
	}
	for i, d := range docs {
		for _, p := range x.Check(d) {
			t.Errorf("%s: %+v", names[i], p)
		}
	}
	if len(docs) < 40 {
		t.Errorf("only %d documents", len(docs))
	}
	t.Logf("%d documents say the same in JSON-LD and RDF", len(docs))
}

func TestDeepAgreesOnRandomDocuments(t *testing.T) {
	x := newDeep(t)
	compared := 0
	docs := entitytest.Documents(entitytest.Options{Keys: true, Text: entitytest.XMLText(), Depth: 3})
	for seed := range 120 {
		d := docs.Example(seed)
		if d.Err() != nil {
			continue
		}
		compared++
		for _, p := range x.Check(d) {
			t.Errorf("%d: %+v", seed, p)
		}
	}
	if compared < 100 {
		t.Errorf("only %d documents compared", compared)
	}
}

func TestDeepShowsWhatDiffers(t *testing.T) {
	d := small("https://example.org/object/1")
	ours := graph{}
	for i, tr := range d.Triples() {
		ours[full(tr)] = i
	}
	theirs := graph{}
	for tr, i := range ours {
		switch local(tr.Predicate.Value) {
		case "P90_has_value":
			tr.Object.Datatype = entity.XSDInteger
		case "P82a_begin_of_the_begin":
			tr.Object.Value = "1852-01-01T00:00:00Z"
		case "P91_has_unit":
			continue
		}
		theirs[tr] = i
	}
	names := d.Names()
	ev := d.Events()
	dimension := 0
	for i := range ev {
		if ev[i].Kind == entity.Open && ev[i].Class.Key == "Dimension" {
			dimension = i
		}
	}
	const span = "/produced_by/timespan/begin_of_the_begin <https://example.org/object/1#produced_by/timespan> <http://www.cidoc-crm.org/cidoc-crm/P82a_begin_of_the_begin> "
	value := "/dimension/0/value <" + names[dimension] + "> <http://www.cidoc-crm.org/cidoc-crm/P90_has_value> "
	want := []string{
		"only in the JSON-LD: " + value + `"8.090000000000001E1"^^integer`,
		"only in the JSON-LD: " + span + `"1852-01-01T00:00:00Z"^^dateTime`,
		"only in the RDF: " + value + `"8.090000000000001E1"^^double`,
		"only in the RDF: /dimension/0/unit <" + names[dimension] + "> <http://www.cidoc-crm.org/cidoc-crm/P91_has_unit> <http://example.org/cm>",
		"only in the RDF: " + span + `"1851-01-01T00:00:00Z"^^dateTime`,
	}
	var got []string
	for _, p := range append(without(theirs, ours, "only in the JSON-LD: ", d), without(ours, theirs, "only in the RDF: ", d)...) {
		form, triple, _ := strings.Cut(p.Message, ": ")
		got = append(got, form+": "+p.Path+" "+triple)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// TestDeepSeesEveryKindOfLie changes the text between writer and reader.
func TestDeepSeesEveryKindOfLie(t *testing.T) {
	x := newDeep(t)
	d := small("https://example.org/object/1")
	text, err := x.jsonld.Append(nil, d)
	if err != nil {
		t.Fatal(err)
	}
	written, err := x.ntriple.Append(nil, d)
	if err != nil {
		t.Fatal(err)
	}
	ours, err := readNTriples(written)
	if err != nil {
		t.Fatal(err)
	}
	nodes, _ := nodesByPath(d)
	for _, lie := range [][2]string{
		{"", ""},
		{`"80.9"`, `"80.9"`}, // not there: the number has no quotes
		{`80.9`, `80.8`},
		{`80.9`, `"80.9"`},
		{`Patent log"}`, `patent log"}`},
		{`"Production"`, `"Destruction"`},
		{`1851-12-31`, `1851-12-30`},
		{`http://example.org/cm`, `http://example.org/mm`},
		{`"unit":{"id":"http://example.org/cm","type":"MeasurementUnit"}`, `"unit":{"type":"MeasurementUnit"}`},
		{`end_of_the_end`, `begin_of_the_end`},
	} {
		changed := strings.Replace(string(text), lie[0], lie[1], 1)
		theirs, err := x.expand([]byte(changed), d, nodes)
		if err != nil {
			t.Errorf("%s: %v", lie, err)
			continue
		}
		ps := append(without(theirs, ours, "", d), without(ours, theirs, "", d)...)
		if differs := changed != string(text); differs != (len(ps) > 0) {
			t.Errorf("%s → %s: %+v", lie[0], lie[1], ps)
		}
	}
}

func TestDeepRefusesWhatCannotBeWritten(t *testing.T) {
	x := newDeep(t)
	if ps := x.Check(small("not an IRI")); len(ps) != 1 || !strings.Contains(ps[0].Message, "not a legal IRI") {
		t.Errorf("%+v", ps)
	}
	for text, want := range map[string]string{
		`{"@context": "https://example.org/"}`:                                     "the context is",
		`{"@context": "` + vocab.ContextURL + `", "type": "Place", "nonsense": 1}`: "invalid property",
		`{`: "EOF",
	} {
		if _, err := x.expand([]byte(text), new(entity.Document), nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
	}
}

func BenchmarkDeep(b *testing.B) {
	x := newDeep(b)
	d := record(1)
	for b.Loop() {
		if ps := x.Check(d); ps != nil {
			b.Fatal(ps)
		}
	}
}
