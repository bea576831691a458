package conformance

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"golang.org/x/tools/txtar"

	"ropewalk/conformance/outside"
)

// workedCases are the documents of the worked cases (mapping/testdata/worked), by case
// and path, as JSON-LD, and the Turtle of each case. A test of the room mapping holds
// them against what the mappings make.
func workedCases(t *testing.T) (documents map[string]map[string][]byte, turtle map[string][]byte) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(outside.Room(t), "..", "mapping", "testdata", "worked", "*.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	documents, turtle = map[string]map[string][]byte{}, map[string][]byte{}
	for _, f := range files {
		a, err := txtar.ParseFile(f)
		if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimSuffix(filepath.Base(f), ".txtar")
		documents[name] = map[string][]byte{}
		for _, x := range a.Files {
			if path, ok := strings.CutPrefix(x.Name, "want/"); ok {
				documents[name][strings.TrimSuffix(path, ".json")] = x.Data
			}
			if x.Name == "want.ttl" {
				turtle[name] = x.Data
			}
		}
	}
	outside.AtLeast(t, "worked cases", len(documents), 27)
	return documents, turtle
}

// workedSchemas are the published schemas of the documents below a path of the cases.
var workedSchemas = map[string]string{
	"concept": "concept.json", "event": "event.json", "group": "group.json", "object": "object.json", "person": "person.json",
	"place": "place.json", "provenance": "provenance.json", "text": "text.json",
}

// TestWorkedOutside holds the worked cases against the published schemas and
// ontologies, and their Turtle, as other people's readers read it, against what
// json-gold makes of their JSON-LD with the published context.
func TestWorkedOutside(t *testing.T) {
	documents, turtle := workedCases(t)
	schemas := outside.PublishedSchemas(t)
	ontology := outside.PublishedOntology(t, outside.Knakk())
	expand := outside.PublishedContext(t)
	uses := map[outside.Use]int{}
	total := 0
	var reqs []outside.Request
	var graphs [][]outside.Quad
	var iris [][]string
	names := slices.Sorted(maps.Keys(documents))
	for _, name := range names {
		var graph []outside.Quad
		var ids []string
		for _, path := range slices.Sorted(maps.Keys(documents[name])) {
			total++
			text := documents[name][path]
			kind, _, _ := strings.Cut(path, "/")
			if err := schemas.Validate(workedSchemas[kind], text); err != nil {
				t.Errorf("%s: %s: %v", name, path, err)
			}
			quads, err := expand.Quads(text)
			if err != nil {
				t.Errorf("%s: %s: %v", name, path, err)
				continue
			}
			outside.Uses(quads, uses)
			for _, q := range quads { // blank nodes of several documents stay apart
				for _, term := range []*outside.Term{&q.S, &q.O} {
					if term.Kind == outside.Blank {
						term.Value += path
					}
				}
				graph = append(graph, q)
			}
			ids = append(ids, "https://a.example/"+path)
		}
		reqs = append(reqs, outside.Request{Syntax: outside.Turtle, Base: "https://a.example/", Text: turtle[name]})
		graphs, iris = append(graphs, graph), append(iris, ids)
	}
	outside.AtLeast(t, "documents of the worked cases", total, 50)
	checkUses(t, ontology, "ontology-worked", uses, 1500)
	for _, r := range []*outside.Reader{outside.Knakk(), readerNamed(t, "n3")} {
		for i, a := range r.Read(reqs) {
			got := a.Quads
			for _, iri := range iris[i] {
				got = outside.Unskolemise(got, iri)
			}
			if a.Err != nil {
				t.Errorf("%s: Turtle read by %s: %v", names[i], r.Name, a.Err)
			} else if err := sameGraph(outside.NumbersByValue(graphs[i]), outside.NumbersByValue(got)); err != nil {
				t.Errorf("%s: Turtle read by %s: %v", names[i], r.Name, err)
			}
		}
	}
}

// workedPairs is the table conformance/worked.yaml.
type workedPairs struct {
	Everywhere []workedDifference `yaml:"everywhere"`
	Pairs      []struct {
		Case        string             `yaml:"case"`
		Document    string             `yaml:"document"`
		Example     string             `yaml:"example"`
		Differences []workedDifference `yaml:"differences"`
	} `yaml:"pairs"`
}

type workedDifference struct {
	Ours      string `yaml:"ours"`      // what only ours says
	Published string `yaml:"published"` // what only the example says
	Reason    string `yaml:"reason"`

	used bool
}

// matches reports whether an entry is about a pattern: its text with "…" at the
// beginning or the end for anything.
func (d *workedDifference) matches(ours bool, pattern string) bool {
	want := d.Published
	if ours {
		want = d.Ours
	}
	if want == "" {
		return false
	}
	want, before := strings.CutPrefix(want, "…")
	want, after := strings.CutSuffix(want, "…")
	switch {
	case before && after:
		return strings.Contains(pattern, want)
	case before:
		return strings.HasSuffix(pattern, want)
	case after:
		return strings.HasPrefix(pattern, want)
	}
	return pattern == want
}

// TestWorkedAsPublished holds worked cases against the published examples of the same
// situations: the same facts are told by the same classes and properties. From either
// graph comes a set of paths of properties and classes, beginning at the document;
// labels and what literals say are left aside, and a person and a group count alike.
// What differs is in worked.yaml, with reasons; an entry that is no longer needed
// fails.
func TestWorkedAsPublished(t *testing.T) {
	documents, _ := workedCases(t)
	expand := outside.PublishedContext(t)
	examples := map[string]outside.Example{}
	for _, e := range outside.Examples(t) {
		examples[strings.TrimPrefix(e.File, "examples/")] = e
	}
	data, err := os.ReadFile(filepath.Join(outside.Room(t), "worked.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var table workedPairs
	if err := yaml.NewDecoder(bytes.NewReader(data), yaml.Strict()).Decode(&table); err != nil {
		t.Fatalf("worked.yaml: %v", err)
	}
	outside.AtLeast(t, "pairs", len(table.Pairs), 37)
	same, differences := 0, 0
	for i := range table.Pairs {
		p := &table.Pairs[i]
		title := fmt.Sprintf("%s (%s) and %s", p.Case, p.Document, p.Example)
		text, ok := documents[p.Case][p.Document]
		e, found := examples[p.Example]
		if !ok || !found {
			t.Errorf("%s: there are no such documents", title)
			continue
		}
		ours, err := factPatterns(expand, text, "https://a.example/"+p.Document)
		if err != nil {
			t.Errorf("%s: ours: %v", title, err)
			continue
		}
		theirs, err := factPatterns(expand, e.Text, e.ID)
		if err != nil {
			t.Errorf("%s: published: %v", title, err)
			continue
		}
		outside.AtLeast(t, title+": patterns of the example", len(theirs), 2)
		explained := func(mine bool, pattern string) bool {
			found := false
			for j := range p.Differences {
				if p.Differences[j].matches(mine, pattern) {
					p.Differences[j].used, found = true, true
				}
			}
			for j := range table.Everywhere {
				if !found && table.Everywhere[j].matches(mine, pattern) {
					table.Everywhere[j].used, found = true, true
				}
			}
			return found
		}
		for _, pattern := range slices.Sorted(maps.Keys(ours)) {
			switch {
			case theirs[pattern]:
				same++
			case !explained(true, pattern):
				t.Errorf("%s: only ours says: %s", title, pattern)
			default:
				differences++
			}
		}
		for _, pattern := range slices.Sorted(maps.Keys(theirs)) {
			if !ours[pattern] {
				differences++
				if !explained(false, pattern) {
					t.Errorf("%s: only the example says: %s", title, pattern)
				}
			}
		}
		unneeded(t, title, p.Differences)
	}
	unneeded(t, "everywhere", table.Everywhere)
	t.Logf("%d pairs, %d patterns alike, %d explained differences", len(table.Pairs), same, differences)
	outside.AtLeast(t, "patterns alike", same, 250)
}

func unneeded(t *testing.T, title string, list []workedDifference) {
	t.Helper()
	for _, d := range list {
		if (d.Ours == "") == (d.Published == "") || d.Reason == "" {
			t.Errorf("%s: an entry says what is ours or what is published, and a reason: %+v", title, d)
		}
		if !d.used {
			t.Errorf("%s: no longer needed in worked.yaml: %s%s", title, d.Ours, d.Published)
		}
	}
}

// factPatterns are the paths of properties and classes of a document, such as
// "P9_consists_of E10_Transfer_of_Custody P28_custody_surrendered_by E39_Actor". Kinds
// are told by their IRI. A path ends at a literal and at whatever has a record of its
// own, even where an example gives that no IRI.
func factPatterns(expand *outside.Expander, text []byte, root string) (map[string]bool, error) {
	quads, err := expand.Quads(text)
	if err != nil {
		return nil, err
	}
	of := map[outside.Term][]outside.Quad{}
	class := map[outside.Term]string{}
	for _, q := range quads {
		if q.P.Value == outside.RDFType {
			class[q.S] = lastPart(q.O.Value)
			continue
		}
		of[q.S] = append(of[q.S], q)
	}
	out := map[string]bool{}
	var walk func(node outside.Term, path string)
	walk = func(node outside.Term, path string) {
		for _, q := range of[node] {
			if q.P.Value == "http://www.w3.org/2000/01/rdf-schema#label" {
				continue
			}
			at := path + lastPart(q.P.Value) + " "
			switch cl := class[q.O]; {
			case q.O.Kind == outside.Literal:
				out[at+"literal"] = true
			case cl == "E55_Type":
				out[at+kindName(q.O)] = true
			case cl == "":
				out[at+lastPart(q.O.Value)] = true
			case cl == "E21_Person" || cl == "E74_Group":
				out[at+"E39_Actor"] = true
			default:
				out[at+cl] = true
				if q.O.Kind == outside.Blank && !slices.Contains(recordClasses, cl) {
					walk(q.O, at+cl+" ")
				}
			}
		}
	}
	walk(outside.Term{Kind: outside.IRI, Value: root}, "")
	if len(out) == 0 {
		return nil, fmt.Errorf("nothing is said of <%s>", root)
	}
	return out, nil
}

// recordClasses are classes of what has a record of its own, which two examples write
// without an IRI.
var recordClasses = []string{"E22_Human-Made_Object", "E53_Place", "Set", "E5_Event", "E98_Currency", "E58_Measurement_Unit"}

func lastPart(iri string) string { return iri[strings.LastIndexAny(iri, "#/")+1:] }

// kindName names a kind by its authority's IRI; those of a site have no name in common.
func kindName(t outside.Term) string {
	if n, ok := strings.CutPrefix(t.Value, "http://vocab.getty.edu/aat/"); ok {
		return "aat:" + n
	}
	return "a kind without authority"
}

// The comparison sees what must not be told alike: a theft told as a change of owner,
// a loan told without its kind, a cause told as a place in time.
func TestWorkedComparisonSees(t *testing.T) {
	documents, _ := workedCases(t)
	expand := outside.PublishedContext(t)
	for _, c := range []struct {
		name, path string
		change     [2]string
		gone, come string
	}{
		{"theft", "provenance/S1", [2]string{"TransferOfCustody\"", "Acquisition\""}, "P9_consists_of E10_Transfer_of_Custody", "P9_consists_of E8_Acquisition"},
		{"loan", "provenance/L1", [2]string{"aat/300417645", "aat/300417655"}, "P9_consists_of E10_Transfer_of_Custody P2_has_type aat:300417645",
			"P9_consists_of E10_Transfer_of_Custody P2_has_type aat:300417655"},
		{"flood", "object/1908.12", [2]string{"caused_by", "after"}, "P13i_was_destroyed_by E6_Destruction O13i_is_triggered_by E5_Event",
			"P13i_was_destroyed_by E6_Destruction P183i_starts_after_the_end_of E5_Event"},
	} {
		text := documents[c.name][c.path]
		before, err := factPatterns(expand, text, "https://a.example/"+c.path)
		if err != nil {
			t.Fatal(err)
		}
		changed := []byte(strings.ReplaceAll(string(text), c.change[0], c.change[1]))
		if c.name == "theft" {
			changed = []byte(strings.ReplaceAll(string(changed), "transferred_custody", "transferred_title"))
		}
		after, err := factPatterns(expand, changed, "https://a.example/"+c.path)
		if err != nil {
			t.Fatal(err)
		}
		if !before[c.gone] || after[c.gone] || before[c.come] || !after[c.come] {
			t.Errorf("%s: %q should give way to %q: %v, %v", c.name, c.gone, c.come, before, after)
		}
	}
}
