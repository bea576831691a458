package validate

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/mapping/entity"
	"ropewalk/schemas"
	"ropewalk/vocab"
)

// profileDir is the folder with the published examples. Where it is missing the
// test is skipped, and in continuous integration it fails.
func profileDir(t testing.TB) string {
	t.Helper()
	shared := os.Getenv("ROPEWALK_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "..", "shared")
	}
	dir := filepath.Join(shared, "standards", "linked-art")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the published examples are missing: %v", err)
		}
		t.Skipf("NOT TESTED: the published examples are not at %s", dir)
	}
	return dir
}

// published reads the published examples that are documents in the strict sense
// of [entity.Parse], by file.
func published(t testing.TB) (files []string, docs map[string]*entity.Document, refused map[string]error) {
	t.Helper()
	dir := profileDir(t)
	table, err := os.ReadFile(filepath.Join(dir, "examples-validity.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	docs, refused = map[string]*entity.Document{}, map[string]error{}
	for _, line := range strings.Split(strings.TrimSpace(string(table)), "\n")[1:] {
		name := strings.Split(line, "\t")[0]
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, name)
		if d, err := entity.Parse(text, ""); err != nil {
			refused[name] = err
		} else {
			docs[name] = d
		}
	}
	if len(files) != 211 {
		t.Fatalf("%d published examples, want 211", len(files))
	}
	return files, docs, refused
}

// tree is an event and, for a node, what is in it.
type tree struct {
	entity.Event
	below []*tree
}

func treeOf(ev []entity.Event) *tree {
	stack := []*tree{{}}
	for _, e := range ev {
		top := stack[len(stack)-1]
		switch e.Kind {
		case entity.Close:
			stack = stack[:len(stack)-1]
			continue
		case entity.Open:
			n := &tree{Event: e}
			top.below = append(top.below, n)
			stack = append(stack, n)
			continue
		}
		top.below = append(top.below, &tree{Event: e})
	}
	return stack[0].below[0]
}

func (n *tree) copy() *tree {
	c := &tree{Event: n.Event}
	for _, b := range n.below {
		c.below = append(c.below, b.copy())
	}
	return c
}

func (n *tree) build(d *entity.Document) {
	if n.Kind != entity.Open {
		d.Value(n.Kind, n.Term, n.Many, n.Value, n.Origin)
		return
	}
	d.Begin(n.Term, n.Many, n.Class, n.Ref, n.Value, n.Origin)
	for _, b := range n.below {
		b.build(d)
	}
	d.End()
}

func (n *tree) document() *entity.Document {
	d := new(entity.Document)
	n.build(d)
	return d
}

// json is the JSON value of a tree with its own values. It knows nothing of the
// package's modeller. Where a key stands twice it reports false.
func (n *tree) json() (v any, ok bool) {
	switch n.Kind {
	case entity.Number:
		return json.Number(n.Value), json.Valid([]byte(n.Value))
	case entity.Open:
	default:
		return n.Value, true
	}
	o := map[string]any{"type": n.Class.Key}
	if n.Ref {
		o["id"] = n.Value
	}
	if n.Term == nil {
		o["@context"] = entity.Context
	}
	done := map[string]bool{}
	last := ""
	for _, b := range n.below {
		key := b.Term.Key
		v, ok := b.json()
		if !ok || done[key] && (key != last || !b.Many) {
			return nil, false
		}
		if b.Many {
			list, isList := o[key].([]any)
			if done[key] && !isList {
				return nil, false
			}
			v = append(list, v)
		}
		o[key] = v
		done[key] = true
		last = key
	}
	return o, true
}

// bySchema is the verdict of validating the whole document with the schemas.
func (n *tree) bySchema() error {
	v, ok := n.json()
	if !ok {
		return fmt.Errorf("not JSON")
	}
	endpoints := vocab.Record(n.Class)
	if len(endpoints) == 0 {
		return fmt.Errorf("no endpoint")
	}
	var first error
	for _, e := range endpoints {
		err := schemas.Entity(e.Name).Validate(v)
		if err == nil {
			return nil
		}
		if first == nil {
			first = err
		}
	}
	return first
}

// nodes lists a tree's nodes and values.
func (n *tree) all(list []*tree) []*tree {
	list = append(list, n)
	for _, b := range n.below {
		list = b.all(list)
	}
	return list
}

var (
	oddIRIs = []string{
		"", "not an IRI", "/relative", "http://example.org/a b", "http://example.org/a|b", "http://[::1", "http://example.org/%zz",
		"urn:isbn:0451450523", "http://example.org/å", "http:", "http://example.org:port/", "http://example.org:80/", "http://example.org/?%zz", "http://example.org/\u0085", "mailto:a@example.org", "//x",
	}
	oddDates = []string{
		"1851", "1851-02-30T00:00:00Z", "1851-05-01T00:00:00", "1851-05-01T00:00:00+01:00", "1851-05-01T23:59:60Z", "1851-05-01t00:00:00z",
		"1851-05-01T24:00:00Z", "1851-05-01T00:00:00.5Z", "-0550-01-01T00:00:00Z", "1852-02-29T00:00:00Z", "", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z",
	}
	oddNumbers = []string{"0", "-1", "80.9", "1e3", "01", ".5", "five", "", "1e999", "NaN", "1000000"}
	oddTexts   = []string{"", " ", "\x01", "\xff", "text/html", "Ångström \U0001F9ED", "\uFFFE"}
)

// mutate changes a tree in one place and says what it did.
func mutate(rng *rand.Rand, root *tree, donors []*tree) string {
	all := root.all(nil)
	n := all[rng.IntN(len(all))]
	if n.Kind != entity.Open || rng.IntN(2) == 0 {
		if what := oddValue(rng, n); what != "" {
			return what
		}
	}
	for n.Kind != entity.Open {
		n = all[rng.IntN(len(all))]
	}
	classes := vocab.Classes()
	switch rng.IntN(8) {
	case 0:
		if len(n.below) > 0 {
			i := rng.IntN(len(n.below))
			what := n.below[i].Term.Key
			n.below = append(n.below[:i:i], n.below[i+1:]...)
			return "dropped " + what
		}
	case 1:
		if len(n.below) > 0 {
			i := rng.IntN(len(n.below))
			b := n.below[i].copy()
			b.Value += "2"
			n.below = append(n.below[:i+1:i+1], append([]*tree{b}, n.below[i+1:]...)...)
			return "doubled " + b.Term.Key
		}
	case 2:
		donor := donors[rng.IntN(len(donors))]
		list := donor.all(nil)
		b := list[1+rng.IntN(len(list)-1)].copy()
		if t := n.Class.Term(b.Term.Key); t != nil {
			b.Term = t
			n.below = append(n.below, b)
			return "from elsewhere: " + t.Key
		}
	case 3:
		c := classes[rng.IntN(len(classes))]
		for _, b := range n.below {
			if c.Term(b.Term.Key) == nil {
				return "nothing"
			}
		}
		n.Class = c
		for _, b := range n.below {
			b.Term = c.Term(b.Term.Key)
		}
		return "class " + c.Key
	case 4:
		if len(n.below) > 0 {
			b := n.below[rng.IntN(len(n.below))]
			b.Many = !b.Many
			return "list or not: " + b.Term.Key
		}
	case 5:
		if n.Term != nil {
			n.Ref = !n.Ref
			return "reference or not: " + n.Term.Key
		}
	case 6:
		for _, n := range all {
			if n.Class == vocab.ClassByKey("Dimension") && n.Kind == entity.Open {
				key := []string{"lower_value_limit", "upper_value_limit"}[rng.IntN(2)]
				n.below = append(n.below, &tree{Event: entity.Event{Kind: entity.Number, Term: n.Class.Term(key), Value: oddNumbers[rng.IntN(4)]}})
				return "limit"
			}
		}
		rng.Shuffle(len(n.below), func(i, k int) { n.below[i], n.below[k] = n.below[k], n.below[i] })
		return "shuffled"
	case 7:
		shapes := vocab.Shapes()
		s := shapes[rng.IntN(len(shapes))]
		sl := s.Slots[rng.IntN(len(s.Slots))]
		t := n.Class.Term(sl.Key)
		if t == nil || sl.Kind == vocab.KindNode {
			return "nothing"
		}
		b := &tree{Event: entity.Event{Kind: kinds[sl.Kind], Term: t, Many: rng.IntN(4) == 0, Value: "1851-05-01T00:00:00Z"}}
		if sl.Kind == vocab.KindNumber {
			b.Value = "3"
		}
		if sl.Kind == vocab.KindTerm {
			b.Value = "classified_as"
		}
		n.below = append(n.below, b)
		return "added " + sl.Key
	}
	return "nothing"
}

var kinds = map[vocab.Kind]entity.Kind{
	vocab.KindText: entity.Text, vocab.KindNumber: entity.Number, vocab.KindDateTime: entity.DateTime, vocab.KindTerm: entity.TermName,
}

func oddValue(rng *rand.Rand, n *tree) string {
	pick := func(list []string) string { return list[rng.IntN(len(list))] }
	switch {
	case n.Kind == entity.Open && n.Ref:
		n.Value = pick(oddIRIs)
	case n.Kind == entity.DateTime:
		n.Value = pick(oddDates)
	case n.Kind == entity.Number:
		n.Value = pick(oddNumbers)
	case n.Kind == entity.Text:
		n.Value = pick(oddTexts)
	case n.Kind == entity.TermName:
		n.Value = pick([]string{"", "nothing", "part_of", "crm:P2_has_type"})
	default:
		return ""
	}
	return fmt.Sprintf("value %q", n.Value)
}
