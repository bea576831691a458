package schemas

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v5"

	"ropewalk/vocab"
)

// profileDir is the folder with the published schemas and examples. Where it is
// missing the test is skipped, and in continuous integration it fails.
func profileDir(t *testing.T) string {
	t.Helper()
	shared := os.Getenv("ROPEWALK_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "shared")
	}
	dir := filepath.Join(shared, "standards", "linked-art")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the published schemas are missing: %v", err)
		}
		t.Skipf("NOT TESTED: the published schemas are not at %s", dir)
	}
	return dir
}

// published compiles the published schema of each endpoint.
func published(t *testing.T, dir string) map[string]*jsonschema.Schema {
	t.Helper()
	const address = "https://linked.art/api/1.0/schema/"
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft2020
	c.AssertFormat = true
	c.LoadURL = func(s string) (io.ReadCloser, error) {
		name, ok := strings.CutPrefix(s, address)
		if !ok {
			return nil, fmt.Errorf("%s is not a published schema", s)
		}
		return os.Open(filepath.Join(dir, "schema", name))
	}
	out := map[string]*jsonschema.Schema{}
	for _, e := range vocab.Endpoints() {
		s, err := c.Compile(e.Schema)
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name] = s
	}
	if len(out) != 12 {
		t.Fatalf("%d endpoints, want 12", len(out))
	}
	return out
}

type example struct {
	file     string
	endpoint string
	valid    bool // against the published schema, as the table says
	text     []byte
}

func (e *example) value(t *testing.T) any {
	d := json.NewDecoder(bytes.NewReader(e.text))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		t.Fatalf("%s: %v", e.file, err)
	}
	return v
}

func examples(t *testing.T, dir string) []*example {
	t.Helper()
	table, err := os.ReadFile(filepath.Join(dir, "examples-validity.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	byFile := map[string]string{}
	for _, e := range vocab.Endpoints() {
		byFile[filepath.Base(e.Schema)] = e.Name
	}
	var out []*example
	for i, line := range strings.Split(strings.TrimSpace(string(table)), "\n") {
		f := strings.Split(line, "\t")
		if i == 0 {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, f[0]))
		if err != nil {
			t.Fatal(err)
		}
		if byFile[f[2]] == "" {
			t.Fatalf("%s: no endpoint has the schema %s", f[0], f[2])
		}
		out = append(out, &example{file: f[0], endpoint: byFile[f[2]], valid: f[3] == "valid", text: text})
	}
	if len(out) != 211 {
		t.Fatalf("%d published examples, want 211", len(out))
	}
	return out
}

// stricter are the places where our schemas refuse what the published ones let
// through, each with its reason.
var stricter = []struct {
	reason  string
	matches func(Problem) bool
}{
	{
		"the published schemas of these nodes neither forbid unknown keys nor demand a type; what they do not know the profile's context drops, or it becomes a node without a class",
		func(p Problem) bool {
			def := definition(p.Location)
			return slices.Contains(openShapes, def) &&
				(p.Keyword == "additionalProperties" || p.Keyword == "required" && p.Key == "type")
		},
	},
	{
		"the published schemas say nothing about what an attribute assignment assigns; it must be a list of nodes to have a meaning in RDF",
		func(p Problem) bool { return strings.Contains(p.InstancePath, "/assigned") },
	},
	{
		"the published schema of a set does not look into its exemplary members",
		func(p Problem) bool { return strings.HasPrefix(p.InstancePath, "/members_exemplified_by/") },
	},
	{
		"an IRI with white space, quotes, braces or the like cannot be written in N-Triples (RDF 1.1 N-Triples §7)",
		func(p Problem) bool {
			return p.Keyword == "pattern" && (strings.HasSuffix(p.InstancePath, "/id") || strings.HasPrefix(p.InstancePath, "/@context"))
		},
	},
	{
		"a leap second, a small t or z, or a time zone beyond 14 hours is not an xsd:dateTime",
		func(p Problem) bool { return p.Keyword == "pattern" && strings.Contains(p.Location, "$defs/dateTime") },
	},
}

// openShapes are the definitions that the published schemas leave open.
var openShapes = []string{
	"Production", "Modification", "Destruction", "PartRemoval", "EmbeddedAcquisition", "object.Encounter",
	"Birth", "Death", "Formation", "Dissolution", "Creation", "DigitalService", "DigitalObjectEmbed",
}

func definition(location string) string {
	_, pointer, _ := strings.Cut(location, "#/$defs/")
	def, _, _ := strings.Cut(pointer, "/")
	return def
}

// verdicts counts how often each entry of stricter was the reason.
type verdicts struct {
	agreed, valid int
	stricter      []int
}

func (v *verdicts) compare(t *testing.T, name string, published, ours *jsonschema.Schema, doc any) {
	t.Helper()
	errTheirs, errOurs := published.Validate(doc), ours.Validate(doc)
	if (errTheirs == nil) == (errOurs == nil) {
		v.agreed++
		if errOurs == nil {
			v.valid++
		}
		return
	}
	if errOurs == nil {
		t.Errorf("%s: ours is valid, but published: %+v", name, Problems(errTheirs))
		return
	}
	for _, p := range Problems(errOurs) {
		i := slices.IndexFunc(stricter, func(s struct {
			reason  string
			matches func(Problem) bool
		}) bool {
			return s.matches(p)
		})
		if i < 0 {
			t.Errorf("%s: published is valid, but ours: %s %s (%s)", name, p.InstancePath, p.Message, p.Location)
			continue
		}
		v.stricter[i]++
	}
}

func TestSameVerdictOnPublishedExamples(t *testing.T) {
	dir := profileDir(t)
	theirs := published(t, dir)
	v := &verdicts{stricter: make([]int, len(stricter))}
	for _, e := range examples(t, dir) {
		doc := e.value(t)
		if err := theirs[e.endpoint].Validate(doc); (err == nil) != e.valid {
			t.Errorf("%s: the table and the published schema disagree: %v", e.file, err)
		}
		v.compare(t, e.file, theirs[e.endpoint], Entity(e.endpoint), doc)
	}
	t.Logf("same verdict on %d of 211 examples, %d of them valid; stricter: %v", v.agreed, v.valid, v.stricter)
}

func TestSameVerdictOnMutants(t *testing.T) {
	dir := profileDir(t)
	theirs := published(t, dir)
	list := examples(t, dir)
	rng := rand.New(rand.NewPCG(1851, 5))
	m := newMutator(t, rng, list)
	v := &verdicts{stricter: make([]int, len(stricter))}
	const runs = 8000
	tried := 0
	for i := range runs {
		e := list[rng.IntN(len(list))]
		if !e.valid && rng.IntN(4) > 0 {
			continue
		}
		tried++
		doc := e.value(t)
		var what []string
		for range 1 + rng.IntN(2) {
			what = append(what, m.mutate(doc))
		}
		v.compare(t, fmt.Sprintf("%d %s: %s", i, e.file, strings.Join(what, ", ")), theirs[e.endpoint], Entity(e.endpoint), doc)
		if t.Failed() {
			return
		}
	}
	t.Logf("same verdict on %d of %d mutants, %d of them valid; stricter: %v", v.agreed, tried, v.valid, v.stricter)
	if v.agreed < 5000 || v.valid < 300 {
		t.Errorf("too few mutants: %d agreed, %d valid", v.agreed, v.valid)
	}
	for i, n := range v.stricter {
		if n == 0 {
			t.Errorf("never seen, so remove or provoke it: %s", stricter[i].reason)
		}
	}
}

// mutator changes documents at random.
type mutator struct {
	rng   *rand.Rand
	keys  []string // keys seen in the examples
	nodes []any    // nodes seen in the examples
	types []string
}

func newMutator(t *testing.T, rng *rand.Rand, list []*example) *mutator {
	m := &mutator{rng: rng}
	seen := map[string]bool{}
	for _, e := range list {
		walk(e.value(t), func(v any) {
			if o, ok := v.(map[string]any); ok {
				m.nodes = append(m.nodes, o)
				for k := range o {
					seen[k] = true
				}
			}
		})
	}
	for k := range seen {
		m.keys = append(m.keys, k)
	}
	for _, c := range vocab.Classes() {
		m.types = append(m.types, c.Key)
	}
	sort.Strings(m.keys)
	return m
}

// walk calls f for every object and array of v, in a fixed order.
func walk(v any, f func(any)) {
	switch v := v.(type) {
	case map[string]any:
		f(v)
		for _, k := range sortedKeys(v) {
			walk(v[k], f)
		}
	case []any:
		f(v)
		for _, e := range v {
			walk(e, f)
		}
	}
}

// copyOf is a deep copy, so that no node comes to stand below itself.
func copyOf(v any) any {
	switch v := v.(type) {
	case map[string]any:
		o := make(map[string]any, len(v))
		for k, e := range v {
			o[k] = copyOf(e)
		}
		return o
	case []any:
		list := make([]any, len(v))
		for i, e := range v {
			list[i] = copyOf(e)
		}
		return list
	}
	return v
}

func sortedKeys(o map[string]any) []string {
	keys := make([]string, 0, len(o))
	for k := range o {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

var (
	oddIRIs = []string{
		"", "not an IRI", "/relative", "http://example.org/a b", "http://example.org/a|b", "http://[::1", "http://ex ample.org/",
		"http://example.org/%zz", "urn:isbn:0451450523", "http://example.org/å", "http:", "http://example.org:port/",
		"http://example.org/<x>", "mailto:a@example.org", "http://example.org/\x7f", "//example.org/x",
	}
	oddDates = []string{
		"1851", "1851-02-30T00:00:00Z", "1851-05-01T00:00:00", "1851-05-01T00:00:00+01:00", "1851-05-01T23:59:60Z",
		"1851-05-01t00:00:00z", "1851-05-01 00:00:00Z", "1851-05-01T24:00:00Z", "1851-05-01T00:00:00.5Z", "1851-05-01T00:00:00+23:00",
		"-0550-01-01T00:00:00Z", "10000-01-01T00:00:00Z", "1851-05-01T+1:00:00Z", "1852-02-29T00:00:00Z", "", "1851-05-01T00:00:00+14:30",
	}
	oddValues = []any{nil, true, json.Number("3"), "x", []any{}, []any{"x"}, map[string]any{}, map[string]any{"type": "Type"}}
)

// mutate changes doc in one place and says what it did.
func (m *mutator) mutate(doc any) string {
	var objects []map[string]any
	walk(doc, func(v any) {
		if o, ok := v.(map[string]any); ok {
			objects = append(objects, o)
		}
	})
	o := objects[m.rng.IntN(len(objects))]
	keys := sortedKeys(o)
	if len(keys) == 0 {
		o["type"] = "Type"
		return "type put into an empty object"
	}
	key := keys[m.rng.IntN(len(keys))]
	switch m.rng.IntN(10) {
	case 0:
		delete(o, key)
		return "dropped " + key
	case 1:
		o["unheard_of"] = "x"
		return "added unheard_of"
	case 2:
		k := m.keys[m.rng.IntN(len(m.keys))]
		o[k] = copyOf(oddValues[m.rng.IntN(len(oddValues))])
		return "odd value for " + k
	case 3:
		o[key] = copyOf(oddValues[m.rng.IntN(len(oddValues))])
		return "odd value in place of " + key
	case 4:
		o["type"] = m.types[m.rng.IntN(len(m.types))]
		return fmt.Sprintf("type %v", o["type"])
	case 5:
		o["id"] = oddIRIs[m.rng.IntN(len(oddIRIs))]
		return fmt.Sprintf("id %q", o["id"])
	case 6:
		return m.oddDate(objects)
	case 7:
		if list, ok := o[key].([]any); ok && len(list) > 0 {
			o[key] = list[0]
			return key + " out of its array"
		}
		o[key] = []any{o[key]}
		return key + " into an array"
	case 8:
		k := m.keys[m.rng.IntN(len(m.keys))]
		node := copyOf(m.nodes[m.rng.IntN(len(m.nodes))])
		if m.rng.IntN(2) == 0 {
			o[k] = []any{node}
		} else {
			o[k] = node
		}
		return "a node from elsewhere under " + k
	default:
		donor := m.nodes[m.rng.IntN(len(m.nodes))].(map[string]any)
		ks := sortedKeys(donor)
		k := ks[m.rng.IntN(len(ks))]
		o[k] = copyOf(donor[k])
		return "from elsewhere: " + k
	}
}

func (m *mutator) oddDate(objects []map[string]any) string {
	date := oddDates[m.rng.IntN(len(oddDates))]
	for range 40 {
		o := objects[m.rng.IntN(len(objects))]
		if o["type"] == "TimeSpan" {
			o["begin_of_the_begin"] = date
			return "begin " + date
		}
	}
	objects[0]["timespan"] = map[string]any{"type": "TimeSpan", "end_of_the_end": date}
	return "end " + date
}
