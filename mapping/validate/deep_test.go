package validate

import (
	"strings"
	"testing"

	"ropewalk/mapping/entity"
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

func TestDeepShowsWhatDiffers(t *testing.T) {
	x := newDeep(t)
	d := small("https://example.org/object/1")
	jsonld := func() graph {
		text, err := x.jsonld.Append(nil, d)
		if err != nil {
			t.Fatal(err)
		}
		g, err := x.expand(text)
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	triples := func() graph {
		text, err := x.ntriple.Append(nil, d)
		if err != nil {
			t.Fatal(err)
		}
		g, err := readNTriples(text, d)
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	find := func(g graph, property string) *statement {
		for _, list := range g {
			for _, st := range list {
				if local(st.p.Value) == property {
					return st
				}
			}
		}
		t.Fatalf("no %s", property)
		return nil
	}
	const way = "<https://example.org/object/1>/P108i_was_produced_by/P4_has_time-span <http://www.cidoc-crm.org/cidoc-crm/P82a_begin_of_the_begin> "
	for _, tt := range []struct {
		name string
		lie  func(theirs, ours graph)
		want []string
	}{
		{"nothing", func(graph, graph) {}, nil},
		{"a value", func(_, ours graph) { find(ours, "P82a_begin_of_the_begin").o.Value = "1852-01-01T00:00:00Z" }, []string{
			"only in the JSON-LD: " + way + `"1851-01-01T00:00:00Z"^^dateTime`,
			"only in the RDF: " + way + `"1852-01-01T00:00:00Z"^^dateTime`,
		}},
		{"a datatype", func(_, ours graph) { find(ours, "P90_has_value").o.Datatype = entity.XSDInteger }, []string{
			`only in the JSON-LD: <https://example.org/object/1>/P43_has_dimension <http://www.cidoc-crm.org/cidoc-crm/P90_has_value> "8.090000000000001E1"^^double`,
			`only in the RDF: <https://example.org/object/1>/P43_has_dimension <http://www.cidoc-crm.org/cidoc-crm/P90_has_value> "8.090000000000001E1"^^integer`,
		}},
		{"a lost node", func(theirs, _ graph) { find(theirs, "P190_has_symbolic_content").p.Value = "http://example.org/other" }, []string{
			`only in the JSON-LD: <https://example.org/object/1>/P1_is_identified_by <http://example.org/other> "Patent log"`,
			`only in the RDF: <https://example.org/object/1>/P1_is_identified_by <http://www.cidoc-crm.org/cidoc-crm/P190_has_symbolic_content> "Patent log"`,
		}},
		{"a shared node", func(_, ours graph) { find(ours, "P108i_was_produced_by").o = find(ours, "P1_is_identified_by").o }, []string{
			"two statements lead to the embedded node https://example.org/object/1#identified_by",
		}},
	} {
		theirs, ours := jsonld(), triples()
		locate(theirs, ours, d)
		tt.lie(theirs, ours)
		var got []string
		for _, p := range compare(theirs, ours) {
			got = append(got, p.Message)
		}
		if len(got) != len(tt.want) {
			t.Errorf("%s: %q", tt.name, got)
			continue
		}
		for i := range got {
			if !strings.HasPrefix(got[i], tt.want[i]) {
				t.Errorf("%s:\n got %s\nwant %s", tt.name, got[i], tt.want[i])
			}
		}
	}
	theirs, ours := jsonld(), triples()
	locate(theirs, ours, d)
	find(ours, "P82a_begin_of_the_begin").o.Value = "x"
	for _, p := range compare(theirs, ours) {
		e := d.Events()[p.Event]
		where := e.Term.Key + " " + p.Path
		if where != "begin_of_the_begin /produced_by/timespan/begin_of_the_begin" && where != "timespan /produced_by/timespan" {
			t.Errorf("%s: event %d %s", p.Message, p.Event, where)
		}
	}
}

func TestDeepTellsNodesApartByWhatIsBelowThem(t *testing.T) {
	st := func(s, p, o string) *statement {
		term := func(v string) entity.RDFTerm {
			if name, ok := strings.CutPrefix(v, "_:"); ok {
				return entity.RDFTerm{Kind: entity.Blank, Value: name}
			}
			return entity.RDFTerm{Kind: entity.IRI, Value: v}
		}
		return &statement{s: term(s), p: term(p), o: term(o)}
	}
	make := func(list ...*statement) graph {
		g := graph{}
		for _, s := range list {
			g.add(s)
		}
		return g
	}
	a := make(st("r", "p", "_:1"), st("r", "p", "_:2"), st("_:1", "q", "x"), st("_:1", "q", "y"), st("_:2", "q", "z"))
	b := make(st("r", "p", "_:2"), st("r", "p", "_:1"), st("_:1", "q", "z"), st("_:2", "q", "y"), st("_:2", "q", "x"))
	c := make(st("r", "p", "_:1"), st("r", "p", "_:2"), st("_:1", "q", "x"), st("_:2", "q", "y"), st("_:2", "q", "z"))
	if ps := compare(a, b); ps != nil {
		t.Errorf("the same graph: %+v", ps)
	}
	if ps := compare(a, c); len(ps) != 1 || !strings.Contains(ps[0].Message, "nodes that are not the same") {
		t.Errorf("joined otherwise: %+v", ps)
	}
	loop := make(st("_:1", "q", "_:2"), st("_:2", "q", "_:1"))
	if ps := compare(loop, loop); len(ps) != 1 {
		t.Errorf("a loop: %+v", ps)
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
		if _, err := x.expand([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
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
