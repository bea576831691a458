package vocab

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

// sample makes a node of a shape with every key, going down to a given depth;
// below it nodes have only the keys they must have.
func sample(s *Shape, c *Class, depth int) map[string]any {
	n := map[string]any{"type": c.Key}
	if s.ID == IDRequired {
		n["id"] = "https://example.org/" + s.Name
	}
	if s.Document {
		n["@context"] = ContextURL
	}
	for _, sl := range s.Slots {
		if depth > 0 || sl.Required {
			n[sl.Key] = sampleValue(sl, depth)
		}
	}
	return n
}

func sampleValue(sl *Slot, depth int) any {
	var list []any
	switch sl.Kind {
	case KindText:
		list = append(list, "a word")
	case KindTerm:
		list = append(list, "part_of")
	case KindNumber:
		list = append(list, 1.5)
	case KindDateTime:
		list = append(list, "1911-02-03T00:00:00Z")
	case KindNode:
		for _, s := range sl.Shapes {
			for _, c := range s.Classes {
				list = append(list, sample(s, c, depth-1))
			}
		}
		if sl.Shapes == nil {
			list = append(list, map[string]any{"id": "https://example.org/any", "type": "Type"})
		}
	}
	if sl.Many {
		return list
	}
	return list[0]
}

// openShapes are the shapes whose schemas allow any further key.
var openShapes = map[string]bool{
	"Creation": true, "DigitalService": true, "DigitalObjectEmbed": true, "Production": true,
	"Modification": true, "Destruction": true, "PartRemoval": true, "EmbeddedAcquisition": true,
	"object.Encounter": true, "Formation": true, "Dissolution": true, "Birth": true, "Death": true,
}

// TestShapesAgainstSchemas holds every shape against its published schema with a
// validator: a node with every key is valid; the same with one key in the wrong
// number, without a key it must have, or with an unknown key is not.
func TestShapesAgainstSchemas(t *testing.T) {
	dir := published(t, "linked-art", "schema")
	const base = "https://linked.art/api/1.0/schema/"
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft2020
	c.AssertFormat = true
	names, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil || len(names) < 14 {
		t.Fatalf("%d schemas in %s, %v", len(names), dir, err)
	}
	where := map[string]string{} // shape name → address of its schema
	defs := 0
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Base(name)
		if err := c.AddResource(base+file, bytes.NewReader(data)); err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Defs map[string]struct{ Properties map[string]any } `json:"$defs"`
		}
		if err := json.Unmarshal(data, &doc); err != nil {
			t.Fatal(err)
		}
		for def, body := range doc.Defs {
			if body.Properties != nil {
				where[def] = base + file + "#/$defs/" + def
				where[strings.TrimSuffix(file, ".json")+"."+def] = where[def]
				defs++
			}
		}
	}
	for _, e := range Endpoints() {
		where[e.Name] = e.Schema
	}
	if len(Shapes()) != defs+len(Endpoints()) {
		t.Errorf("%d shapes, but the schemas have %d definitions and %d documents", len(Shapes()), defs, len(Endpoints()))
	}
	checked := 0
	for _, s := range Shapes() {
		schema, err := c.Compile(where[s.Name])
		if err != nil {
			t.Fatal(err)
		}
		for _, class := range s.Classes {
			node := sample(s, class, 1)
			if err := schema.Validate(node); err != nil {
				t.Errorf("%s, %s: %#v", s.Name, class.Key, err)
			}
			for _, w := range wrongs(s, node) {
				changed := maps.Clone(node)
				if w.value == nil {
					delete(changed, w.key)
				} else {
					changed[w.key] = w.value
				}
				checked++
				if ok := schema.Validate(changed) == nil; ok != w.valid {
					t.Errorf("%s, %s: valid is %v with %s", s.Name, class.Key, ok, w.what)
				}
			}
		}
	}
	if checked < 900 {
		t.Errorf("only %d wrong nodes were tried", checked)
	}
}

// wrong is a change to a valid node and whether the schema lets it pass.
type wrong struct {
	key   string
	value any // nil takes the key away
	what  string
	valid bool
}

func wrongs(s *Shape, node map[string]any) []wrong {
	list := []wrong{
		{"no_such_key", "x", "an unknown key", openShapes[s.Name]},
		{"type", "CRMEntity", "a class that the shape does not have", false},
	}
	if s.ID == IDRequired {
		list = append(list, wrong{"id", nil, "no id", false})
	} else {
		list = append(list, wrong{"id", "https://example.org/x", "an id", openShapes[s.Name]})
	}
	for _, sl := range s.Slots {
		if many, ok := node[sl.Key].([]any); ok {
			anything := s.Name == "AttributeAssignment" && sl.Key == "assigned"
			list = append(list, wrong{sl.Key, many[0], sl.Key + " outside an array", anything})
		} else {
			list = append(list, wrong{sl.Key, []any{node[sl.Key]}, sl.Key + " in an array", false})
		}
		if sl.Required {
			list = append(list, wrong{sl.Key, nil, "no " + sl.Key, false})
		} else {
			list = append(list, wrong{sl.Key, nil, "no " + sl.Key, true})
		}
	}
	return list
}
