// Command gen writes the JSON Schemas of entity documents from the record shapes
// of package vocab: core.json with a definition for each shape, and a file for
// each endpoint. Run it with "go generate ./schemas".
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"ropewalk/vocab"
)

const (
	dialect = "https://json-schema.org/draft/2020-12/schema"
	base    = "https://ropewalk.invalid/schemas/entity/"

	// An IRI must also be fit for N-Triples (RDF 1.1 N-Triples §7, IRIREF).
	iriPattern = `^[^\x00-\x20<>"{}|\\^\x60]*$`
	// A date and time must also be one of XML Schema 1.1 part 2 §3.3.7, which has
	// no leap seconds, capital T and Z, and time zones up to 14 hours.
	dateTimePattern = "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-5][0-9](\\.[0-9]+)?(Z|[+-](0[0-9]|1[0-3]):[0-5][0-9]|[+-]14:00)$"
)

func main() {
	out := flag.String("out", "entity", "folder to write to")
	flag.Parse()
	for name, doc := range files() {
		data, err := encode(doc)
		if err == nil {
			err = os.WriteFile(filepath.Join(*out, name), data, 0o644)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, "schemas/gen:", err)
			os.Exit(1)
		}
	}
}

// member and object are a JSON object whose keys keep their order.
type (
	member struct {
		key   string
		value any
	}
	object []member
)

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		k, err := marshal(m.key)
		if err != nil {
			return nil, err
		}
		v, err := marshal(m.value)
		if err != nil {
			return nil, err
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// marshal is json.Marshal without the escapes that HTML wants.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimRight(b.Bytes(), "\n"), err
}

func encode(doc object) ([]byte, error) {
	raw, err := marshal(doc)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, raw, "", "  "); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// generator collects the definitions of core.json.
type generator struct {
	choices []member
	seen    map[string]bool
}

// files are the schema files by name.
func files() map[string]object {
	g := &generator{seen: map[string]bool{}}
	out := map[string]object{}
	defs := object{
		{"iri", object{{"title", "an absolute IRI without white space, quotes, braces, angle brackets, | ^ ` or \\"}, {"type", "string"}, {"format", "uri"}, {"pattern", iriPattern}}},
		{"dateTime", object{{"title", "a date and time of XML Schema, such as 1851-05-01T00:00:00Z"}, {"type", "string"}, {"format", "date-time"}, {"pattern", dateTimePattern}}},
		{"context", object{{"anyOf", []any{
			object{{"const", vocab.ContextURL}},
			object{{"type", "array"}, {"items", ref("", "iri")}},
		}}}},
	}
	var embedded []*vocab.Shape
	for _, s := range vocab.Shapes() {
		if !s.Document {
			embedded = append(embedded, s)
		}
	}
	g.choice("anyNode", "A node of any form the profile has below the root of a document.", embedded)
	for _, s := range embedded {
		defs = append(defs, member{s.Name, g.shape("", s)})
	}
	for _, e := range vocab.Endpoints() {
		doc := object{
			{"$schema", dialect},
			{"$id", base + e.Name + ".json"},
			{"title", "Documents at " + e.Name},
			{"description", "A whole document of the endpoint " + e.Name + " of the Linked Art 1.0 profile: " + classNames(e.Shape, " or ") + "."},
		}
		out[e.Name+".json"] = append(doc, g.shape("core.json", e.Shape)...)
	}
	out["core.json"] = object{
		{"$schema", dialect},
		{"$id", base + "core.json"},
		{"title", "Nodes of entity documents"},
		{"description", "The forms that nodes below the root of a document take. Generated from the tables of package vocab; not to be edited."},
		{"$defs", append(defs, g.choices...)},
	}
	return out
}

func ref(file, def string) object {
	return object{{"$ref", file + "#/$defs/" + def}}
}

func classNames(s *vocab.Shape, sep string) string {
	var names []string
	for _, c := range s.Classes {
		names = append(names, c.Key)
	}
	return strings.Join(names, sep)
}

// shape is the schema of a node of shape s. Definitions are referred to in file.
func (g *generator) shape(file string, s *vocab.Shape) object {
	required := []string{}
	props := object{}
	if s.Document {
		required = append(required, "@context")
		props = append(props, member{"@context", ref(file, "context")})
	}
	if s.ID == vocab.IDRequired {
		required = append(required, "id")
		props = append(props, member{"id", ref(file, "iri")})
	}
	required = append(required, "type")
	props = append(props, member{"type", oneClass(s.Classes)})
	for _, sl := range s.Slots {
		if sl.Required {
			required = append(required, sl.Key)
		}
		props = append(props, member{sl.Key, g.slot(file, s, sl)})
	}
	o := object{}
	if !s.Document {
		form := "A node without an identifier of its own: "
		if s.ID == vocab.IDRequired {
			form = "A reference to another entity: "
		}
		o = append(o, member{"description", form + classNames(s, " or ") + "."})
	}
	return append(o, object{
		{"type", "object"},
		{"required", required},
		{"properties", props},
		{"additionalProperties", false},
	}...)
}

func oneClass(classes []*vocab.Class) object {
	if len(classes) == 1 {
		return object{{"const", classes[0].Key}}
	}
	var keys []string
	for _, c := range classes {
		keys = append(keys, c.Key)
	}
	return object{{"enum", keys}}
}

// slot is the schema of the value under a key.
func (g *generator) slot(file string, s *vocab.Shape, sl *vocab.Slot) object {
	one := g.value(file, sl)
	o := object{}
	if t := s.Classes[0].Term(sl.Key); t != nil {
		o = append(o, member{"description", "Stands for " + t.IRI + "."})
	}
	if sl.Many {
		return append(o, object{{"type", "array"}, {"items", one}}...)
	}
	return append(o, one...)
}

func (g *generator) value(file string, sl *vocab.Slot) object {
	switch sl.Kind {
	case vocab.KindNumber:
		return object{{"type", "number"}}
	case vocab.KindDateTime:
		return ref(file, "dateTime")
	case vocab.KindNode:
		switch len(sl.Shapes) {
		case 0:
			return ref(file, "anyNode")
		case 1:
			return ref(file, sl.Shapes[0].Name)
		}
		var names []string
		for _, s := range sl.Shapes {
			names = append(names, s.Name)
		}
		name := strings.Join(names, "-or-")
		g.choice(name, "", sl.Shapes)
		return ref(file, name)
	}
	return object{{"type", "string"}}
}

// choice defines a node that may have one of several shapes. Its class, and
// where that is not enough its identifier, decide which one it is held against.
func (g *generator) choice(name, about string, shapes []*vocab.Shape) {
	if g.seen[name] {
		return
	}
	g.seen[name] = true
	var classes []*vocab.Class
	byClass := map[*vocab.Class][]*vocab.Shape{}
	for _, s := range shapes {
		for _, c := range s.Classes {
			if byClass[c] == nil {
				classes = append(classes, c)
			}
			byClass[c] = append(byClass[c], s)
		}
	}
	var cases []any
	for _, c := range classes {
		is := object{{"required", []string{"type"}}, {"properties", object{{"type", object{{"const", c.Key}}}}}}
		cases = append(cases, object{{"if", is}, {"then", forms(byClass[c])}})
	}
	o := object{}
	if about != "" {
		o = append(o, member{"description", about})
	}
	g.choices = append(g.choices, member{name, append(o, object{
		{"type", "object"},
		{"required", []string{"type"}},
		{"properties", object{{"type", oneClass(classes)}}},
		{"allOf", cases},
	}...)})
}

// forms is the schema of a node that must have one of the shapes, all of one class.
func forms(shapes []*vocab.Shape) object {
	var with, without []any
	for _, s := range shapes {
		if s.ID == vocab.IDRequired {
			with = append(with, ref("", s.Name))
		} else {
			without = append(without, ref("", s.Name))
		}
	}
	if with != nil && without != nil {
		return object{
			{"if", object{{"required", []string{"id"}}}},
			{"then", any1(with)},
			{"else", any1(without)},
		}
	}
	return any1(append(with, without...))
}

func any1(refs []any) object {
	if len(refs) == 1 {
		return refs[0].(object)
	}
	return object{{"anyOf", refs}}
}
