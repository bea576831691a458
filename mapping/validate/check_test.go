package validate

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/vocab"
)

// onlyHere lists the rules that the schemas do not know.
func onlyHere() map[string]bool {
	m := map[string]bool{}
	for _, r := range Rules() {
		m[r.Name] = !r.Schema
	}
	return m
}

// agree compares the verdict of Check with that of the schemas on the whole
// document. Rules that the schemas do not know are left out of it.
func agree(t rapid.TB, c *Checker, root *tree, what string) (valid bool, found []Problem) {
	t.Helper()
	beyond := onlyHere()
	d := root.document()
	root = treeOf(d.Events())
	err := root.bySchema()
	found = c.Check(d)
	bySchema, others := 0, 0
	for _, p := range found {
		known, ok := beyond[p.Rule]
		if !ok {
			t.Fatalf("%s: rule %q is not listed", what, p.Rule)
		}
		if known {
			others++
		} else {
			bySchema++
		}
		if p.Event < 0 || p.Event >= d.Len() || p.Message == "" {
			t.Fatalf("%s: %+v", what, p)
		}
	}
	notJSON := slices.ContainsFunc(found, func(p Problem) bool {
		return p.Rule == RuleRepeatedKey || p.Rule == RuleEndpoint
	})
	if wrong := bySchema > 0 || notJSON; wrong != (err != nil) {
		t.Fatalf("%s: Check gives %+v, the schema %v", what, found, err)
	}
	return len(found) == 0, found
}

func TestSameVerdictAsTheSchemaOnPublishedExamples(t *testing.T) {
	files, docs, refused := published(t)
	c := NewChecker()
	valid := 0
	for _, f := range files {
		if docs[f] == nil {
			continue
		}
		ok, found := agree(t, c, treeOf(docs[f].Events()), f)
		if ok {
			valid++
		} else {
			t.Logf("%s: %+v", f, found)
		}
	}
	t.Logf("%d published examples read, %d of them valid, %d refused by entity.Parse", len(docs), valid, len(refused))
	if len(docs) < 100 || valid < 100 {
		t.Errorf("too few examples")
	}
}

func TestSameVerdictAsTheSchemaOnMutants(t *testing.T) {
	_, docs, _ := published(t)
	var names []string
	for f := range docs {
		names = append(names, f)
	}
	slices.Sort(names)
	var trees []*tree
	for _, f := range names {
		trees = append(trees, treeOf(docs[f].Events()))
	}
	rng := rand.New(rand.NewPCG(7, 11))
	c := NewChecker()
	valid, rules := 0, map[string]int{}
	const runs = 4000
	for i := range runs {
		at := rng.IntN(len(trees))
		root := trees[at].copy()
		var what []string
		for range 1 + rng.IntN(2) {
			what = append(what, mutate(rng, root, trees))
		}
		ok, found := agree(t, c, root, fmt.Sprintf("%d %s: %s", i, names[at], strings.Join(what, ", ")))
		if ok {
			valid++
		}
		for _, p := range found {
			rules[p.Rule]++
		}
	}
	t.Logf("%d mutants, %d valid, rules seen: %v", runs, valid, rules)
	if valid < runs/20 {
		t.Errorf("only %d valid mutants", valid)
	}
	for _, r := range Rules() {
		// The changes keep documents whole and give keys their own meaning and kind.
		whole := r.Name == RuleEvents || r.Name == RuleTerm || r.Name == RuleKind
		if rules[r.Name] == 0 && !whole {
			t.Errorf("rule %s never seen", r.Name)
		}
	}
}

func TestSameVerdictAsTheSchemaOnRandomDocuments(t *testing.T) {
	setChecks(800) // each costs a schema run or two
	defer setChecks(manyChecks)
	c := NewChecker()
	good, bad := 0, 0
	clean := entitytest.Documents(entitytest.Options{
		Text: rapid.SampledFrom([]string{"Patent log", "Sextant, Öland", "text/plain"}),
		IRI:  rapid.SampledFrom([]string{"https://museum.example/object/1", "https://museum.example/object/%C3%85", "urn:x:1"}),
	})
	any := entitytest.Documents(entitytest.Options{Keys: true})
	_, docs, _ := published(t)
	var donors []*tree
	for _, f := range slices.Sorted(maps.Keys(docs)) {
		donors = append(donors, treeOf(docs[f].Events()))
	}
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.OneOf(clean, any).Draw(t, "document")
		root := treeOf(d.Events())
		var what []string
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range rapid.IntRange(0, 2).Draw(t, "changes") {
			what = append(what, mutate(rng, root, donors))
		}
		if ok, _ := agree(t, c, root, strings.Join(what, ", ")); ok {
			good++
		} else {
			bad++
		}
	})
	t.Logf("%d documents without problems, %d with; %d shapes", good, bad, len(*c.shapes.known))
	if good < (good+bad)/20 || bad < (good+bad)/20 {
		t.Errorf("one-sided: %d good, %d bad", good, bad)
	}
}

func term(class, key string) *vocab.Term { return vocab.ClassByKey(class).Term(key) }

// small is a document with a name, a dimension and a time span.
func small(iri string) *entity.Document {
	d := new(entity.Document)
	d.Begin(nil, false, vocab.ClassByKey("HumanMadeObject"), true, iri, -1)
	d.Text(term("HumanMadeObject", "_label"), false, "Patent log", -1)
	d.Begin(term("HumanMadeObject", "identified_by"), true, vocab.ClassByKey("Name"), false, "", -1)
	d.Text(term("Name", "content"), false, "Patent log", -1)
	d.End()
	d.Begin(term("HumanMadeObject", "dimension"), true, vocab.ClassByKey("Dimension"), false, "", -1)
	d.Value(entity.Number, term("Dimension", "value"), false, "80.9", -1)
	d.Begin(term("Dimension", "unit"), false, vocab.ClassByKey("MeasurementUnit"), true, "http://example.org/cm", -1)
	d.End()
	d.End()
	d.Begin(term("HumanMadeObject", "produced_by"), false, vocab.ClassByKey("Production"), false, "", -1)
	d.Begin(term("Production", "timespan"), false, vocab.ClassByKey("TimeSpan"), false, "", -1)
	d.Value(entity.DateTime, term("TimeSpan", "begin_of_the_begin"), false, "1851-01-01T00:00:00Z", -1)
	d.Value(entity.DateTime, term("TimeSpan", "end_of_the_end"), false, "1851-12-31T23:59:59Z", -1)
	d.End()
	d.End()
	d.End()
	return d
}

func TestProblemsSayWhere(t *testing.T) {
	set := func(root *tree, key, value string) {
		for _, n := range root.all(nil) {
			if n.Term != nil && n.Term.Key == key {
				n.Value = value
			}
		}
	}
	drop := func(root *tree, key string) {
		for _, n := range root.all(nil) {
			n.below = slices.DeleteFunc(n.below, func(b *tree) bool { return b.Term.Key == key })
		}
	}
	lower := func(root *tree) {
		for _, n := range root.all(nil) {
			if n.Class != nil && n.Class.Key == "Dimension" {
				n.below = append(n.below, &tree{Event: entity.Event{Kind: entity.Number, Term: term("Dimension", "lower_value_limit"), Value: "81"}})
			}
		}
	}
	tests := []struct {
		name   string
		change func(*tree)
		want   string
		value  string // of the event
	}{
		{"good", func(*tree) {}, "", ""},
		{"bad date", func(r *tree) { set(r, "begin_of_the_begin", "1851") },
			`date-time /produced_by/timespan/begin_of_the_begin: "1851" is not a date and time such as 1851-05-01T00:00:00Z`, "1851"},
		{"time order", func(r *tree) { set(r, "begin_of_the_begin", "1852-01-01T00:00:00Z") },
			`time-order /produced_by/timespan/begin_of_the_begin: begin_of_the_begin 1852-01-01T00:00:00Z does not go with end_of_the_end "1851-12-31T23:59:59Z"`, "1852-01-01T00:00:00Z"},
		{"limits", lower, `limits /dimension/0/value: value 80.9 does not go with lower_value_limit "81"`, "80.9"},
		{"reference", func(r *tree) { set(r, "unit", "cm") }, `iri /dimension/0/unit/id: "cm" is not an absolute IRI: no scheme (such as https:) at byte 1`, "cm"},
		{"root", func(r *tree) { r.Value = "http://example.org/a b" }, `iri /id: "http://example.org/a b" is not an absolute IRI: a space at byte 21`, "http://example.org/a b"},
		{"IRI characters", func(r *tree) { set(r, "unit", "http://example.org/?%zz") },
			`iri-characters /dimension/0/unit/id: "http://example.org/?%zz" cannot be written in RDF: a percent sign without two hexadecimal digits at byte 21`, "http://example.org/?%zz"},
		{"characters", func(r *tree) { set(r, "content", "a\x02") }, `characters /identified_by/0/content: the text "a\x02" has the character U+0002 at character 2, which XML cannot carry`, "a\x02"},
		{"empty", func(r *tree) { set(r, "_label", " ") }, "empty-text /_label: the text is empty", " "},
		{"number", func(r *tree) { set(r, "value", "8o") }, `number /dimension/0/value: "8o" is not a number as JSON writes it`, "8o"},
		{"missing key", func(r *tree) { drop(r, "unit") }, `required-key /dimension/0: lacks the key "unit"`, ""},
		{"missing label", func(r *tree) { drop(r, "_label") }, `required-key : lacks the key "_label"`, "https://example.org/object/1"},
		{"unknown key", func(r *tree) {
			r.below = append(r.below, &tree{Event: entity.Event{Kind: entity.Text, Term: term("HumanMadeObject", "content"), Value: "x"}})
		}, `unknown-key /content: the key "content" is not known here`, "x"},
		{"class", func(r *tree) {
			for _, n := range r.all(nil) {
				if n.Class != nil && n.Class.Key == "Name" {
					n.Class = vocab.ClassByKey("Identifier")
				}
				if n.Class != nil && n.Class.Key == "MeasurementUnit" {
					n.Class = vocab.ClassByKey("Material")
				}
			}
		}, `class /dimension/0/unit/type: must be "MeasurementUnit"`, "http://example.org/cm"},
		{"form", func(r *tree) {
			for _, n := range r.all(nil) {
				n.Many = n.Many && n.Term.Key != "dimension"
			}
		}, `form /dimension: must be a list, not a group of keys`, ""},
	}
	c := NewChecker()
	for _, tt := range tests {
		for range 2 { // a shape not known, then known
			root := treeOf(small("https://example.org/object/1").Events())
			tt.change(root)
			d := root.document()
			var got []string
			for _, p := range c.Check(d) {
				got = append(got, fmt.Sprintf("%s %s: %s", p.Rule, p.Path, p.Message))
				if v := d.Events()[p.Event].Value; v != tt.value {
					t.Errorf("%s: the event has the value %q", tt.name, v)
				}
			}
			if s := strings.Join(got, "; "); s != tt.want {
				t.Errorf("%s:\n got %s\nwant %s", tt.name, s, tt.want)
			}
		}
	}
}

func TestBrokenDocumentsAreProblems(t *testing.T) {
	c := NewChecker()
	open := new(entity.Document)
	open.Begin(nil, false, vocab.ClassByKey("Place"), true, "http://example.org/1", -1)
	noClass := new(entity.Document)
	noClass.Begin(nil, false, nil, true, "http://example.org/1", -1)
	noClass.End()
	noKey := new(entity.Document)
	noKey.Begin(nil, false, vocab.ClassByKey("Place"), true, "http://example.org/1", -1)
	noKey.Text(nil, false, "x", -1)
	noKey.End()
	name := new(entity.Document)
	name.Begin(nil, false, vocab.ClassByKey("Name"), true, "http://example.org/1", -1)
	name.End()
	otherTerm := new(entity.Document)
	otherTerm.Begin(nil, false, vocab.ClassByKey("Place"), true, "http://example.org/1", -1)
	otherTerm.Text(term("Place", "_label"), false, "x", -1)
	otherTerm.Begin(term("HumanMadeObject", "part_of"), true, vocab.ClassByKey("Place"), true, "http://example.org/2", -1)
	otherTerm.End()
	otherTerm.End()
	wrongKind := new(entity.Document)
	wrongKind.Begin(nil, false, vocab.ClassByKey("Place"), true, "http://example.org/1", -1)
	wrongKind.Value(entity.DateTime, term("Place", "_label"), false, "1851-05-01T00:00:00Z", -1)
	wrongKind.End()
	for _, tt := range []struct {
		rule string
		d    *entity.Document
	}{{RuleEvents, new(entity.Document)}, {RuleEvents, open}, {RuleEvents, noClass}, {RuleEvents, noKey},
		{RuleEndpoint, name}, {RuleTerm, otherTerm}, {RuleKind, wrongKind}} {
		for range 2 {
			if ps := c.Check(tt.d); len(ps) != 1 || ps[0].Rule != tt.rule {
				t.Errorf("%s: %+v", tt.rule, ps)
			}
		}
	}
}

func TestEndpoints(t *testing.T) {
	act := func(key string) *entity.Document {
		d := new(entity.Document)
		d.Begin(nil, false, vocab.ClassByKey("Activity"), true, "http://example.org/1", -1)
		d.Text(term("Activity", "_label"), false, "A voyage", -1)
		if key != "" {
			class := map[string]string{"participant": "Person", "classified_as": "Type"}[key]
			d.Begin(term("Activity", key), true, vocab.ClassByKey(class), true, "http://example.org/2", -1)
			d.End()
		}
		d.End()
		return d
	}
	event, provenance, place := vocab.EndpointByName("event"), vocab.EndpointByName("provenance"), vocab.EndpointByName("place")
	c := NewChecker()
	for _, tt := range []struct {
		key  string
		at   *vocab.Endpoint
		want string
	}{
		{"", nil, ""}, {"", event, ""}, {"", provenance, RuleRequired},
		{"participant", nil, ""}, {"participant", event, ""}, {"participant", provenance, RuleRequired + " " + RuleUnknown},
		{"classified_as", nil, ""}, {"classified_as", provenance, ""}, {"", place, RuleEndpoint},
	} {
		var got []string
		for _, p := range c.CheckAt(act(tt.key), tt.at) {
			got = append(got, p.Rule)
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("%q at %v: %s, want %s", tt.key, tt.at, s, tt.want)
		}
	}
}

func TestKnownShapesCostNoMemory(t *testing.T) {
	c := NewChecker()
	d := small("https://example.org/object/1")
	if n := testing.AllocsPerRun(100, func() {
		if c.Check(d) != nil {
			t.Error("not good")
		}
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
	if len(*c.shapes.known) != 1 {
		t.Errorf("%d shapes", len(*c.shapes.known))
	}
}

func TestShapesAreBounded(t *testing.T) {
	c := NewChecker()
	c.shapes.limit = 3
	for n := range 10 {
		d := new(entity.Document)
		d.Begin(nil, false, vocab.ClassByKey("Place"), true, "http://example.org/1", -1)
		d.Text(term("Place", "_label"), false, "x", -1)
		for k := range n {
			d.Begin(term("Place", "classified_as"), true, vocab.ClassByKey("Type"), true, fmt.Sprintf("http://example.org/%d", k), -1)
			d.End()
		}
		d.End()
		if ps := c.Check(d); ps != nil {
			t.Errorf("%+v", ps)
		}
		if len(*c.shapes.known) > 3 {
			t.Fatalf("%d shapes", len(*c.shapes.known))
		}
	}
}

func TestManyWorkersShareOneChecker(t *testing.T) {
	c := NewChecker()
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			for k := range 200 {
				iri := "https://example.org/object/1"
				if k%2 == 1 {
					iri = "bad"
				}
				d := small(iri)
				if k%3 == w%3 {
					root := treeOf(d.Events())
					root.below = root.below[:1+k%4]
					d = root.document()
				}
				if got := len(c.Check(d)); got != k%2 {
					t.Errorf("%d problems, want %d", got, k%2)
				}
			}
		})
	}
	wg.Wait()
}
