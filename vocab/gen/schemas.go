package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// endpoint is a kind of record: the profile's name and its schema's file.
type endpoint struct{ name, file, id string }

// endpointFiles are the profile's endpoints in the order of its documentation.
var endpointFiles = []endpoint{
	{name: "object", file: "object.json"},
	{name: "person", file: "person.json"},
	{name: "group", file: "group.json"},
	{name: "place", file: "place.json"},
	{name: "concept", file: "concept.json"},
	{name: "event", file: "event.json"},
	{name: "provenance", file: "provenance.json"},
	{name: "set", file: "set.json"},
	{name: "text", file: "text.json"},
	{name: "visual", file: "image.json"},
	{name: "digital", file: "digital.json"},
	{name: "abstract", file: "abstract.json"},
}

// shape is an object schema: a document's or one under $defs.
type shape struct {
	file, def string // def is "" for a document
	name      string
	classes   []string
	id        bool
	document  bool
	slots     []slot
	body      *object
}

type slot struct {
	key      string
	many     bool
	required bool
	val      values
}

// values is what a schema allows as the value of a key.
type values struct {
	kind   kind // "" if the schema does not say
	many   bool
	shapes []*shape // for nodes; nil for any
}

// schemas are the published JSON Schemas.
type schemas struct {
	files     map[string]*object
	endpoints []endpoint
	shapes    []*shape
	byRef     map[string]*shape // file#def
}

// readSchemas reads the schemas of all endpoints and the core definitions.
func readSchemas(dir string) (*schemas, error) {
	s := &schemas{files: map[string]*object{}, byRef: map[string]*shape{}}
	files := []string{}
	for _, e := range endpointFiles {
		o, err := readJSON(filepath.Join(dir, e.file))
		if err != nil {
			return nil, err
		}
		e.id = o.str("$id")
		s.files[e.file] = o
		s.endpoints = append(s.endpoints, e)
		s.add(&shape{file: e.file, name: e.name, document: true, body: o})
		files = append(files, e.file)
	}
	core, err := readJSON(filepath.Join(dir, "core.json"))
	if err != nil {
		return nil, err
	}
	s.files["core.json"] = core
	for _, file := range append([]string{"core.json"}, files...) {
		defs := s.files[file].obj("$defs")
		if defs == nil {
			continue
		}
		for _, name := range defs.keys {
			if body := defs.obj(name); body.obj("properties") != nil {
				s.add(&shape{file: file, def: name, name: name, body: body})
			}
		}
	}
	s.tellApart()
	for _, sh := range s.shapes {
		if err := s.fill(sh); err != nil {
			return nil, fmt.Errorf("%s: %s: %w", sh.file, sh.name, err)
		}
	}
	return s, s.narrowAll()
}

func (s *schemas) add(sh *shape) {
	s.shapes = append(s.shapes, sh)
	s.byRef[sh.file+"#"+sh.def] = sh
}

// tellApart puts the endpoint before names that two schemas define.
func (s *schemas) tellApart() {
	count := map[string]int{}
	for _, sh := range s.shapes {
		count[sh.name]++
	}
	for _, sh := range s.shapes {
		if count[sh.name] > 1 {
			sh.name = strings.TrimSuffix(sh.file, ".json") + "." + sh.name
		}
	}
}

// fill reads classes and slots of a shape.
func (s *schemas) fill(sh *shape) error {
	props := sh.body.obj("properties")
	required, _ := sh.body.get("required").([]any)
	sh.id = slices.Contains(required, any("id"))
	if (props.get("id") != nil) != sh.id {
		return fmt.Errorf("an id that is allowed but not required")
	}
	keys := slices.Clone(props.keys)
	if i := slices.Index(keys, "_label"); i >= 0 {
		keys = slices.Insert(slices.Delete(keys, i, i+1), 0, "_label")
	}
	for _, key := range keys {
		switch key {
		case "@context", "id":
			continue
		case "type":
			sh.classes = classNames(props.get(key))
			if len(sh.classes) == 0 {
				return fmt.Errorf("type has neither const nor enum")
			}
			continue
		}
		v, err := s.values(props.get(key), sh.file)
		if err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
		sh.slots = append(sh.slots, slot{key: key, many: v.many, required: slices.Contains(required, any(key)), val: v})
	}
	if sh.classes == nil {
		return fmt.Errorf("no type")
	}
	return nil
}

func classNames(v any) []string {
	o, _ := v.(*object)
	if o == nil {
		return nil
	}
	if c := o.str("const"); c != "" {
		return []string{c}
	}
	if list, ok := o.get("enum").([]any); ok {
		var names []string
		for _, n := range list {
			names = append(names, n.(string))
		}
		return names
	}
	if list, ok := o.get("allOf").([]any); ok {
		for _, part := range list {
			if names := classNames(part); names != nil {
				return names
			}
		}
	}
	return nil
}

// values works out what a property's schema allows.
func (s *schemas) values(v any, file string) (values, error) {
	o, ok := v.(*object)
	if !ok {
		return values{}, fmt.Errorf("not an object schema")
	}
	if ref := o.str("$ref"); ref != "" {
		return s.refValues(ref, file)
	}
	if list, ok := o.get("allOf").([]any); ok {
		return s.allOf(list, file)
	}
	if list, ok := o.get("anyOf").([]any); ok {
		var all values
		for _, part := range list {
			p, err := s.values(part, file)
			if err != nil {
				return all, err
			}
			if p.kind != kindNode || p.many || p.shapes == nil {
				return all, fmt.Errorf("anyOf over something other than nodes")
			}
			all.kind = p.kind
			all.shapes = append(all.shapes, p.shapes...)
		}
		return all, nil
	}
	switch typ := o.str("type"); typ {
	case "array":
		p, err := s.values(o.get("items"), file)
		p.many = true
		return p, err
	case "string":
		if o.str("format") == "date-time" {
			return values{kind: kindDateTime}, nil
		}
		return values{kind: kindText}, nil
	case "number":
		return values{kind: kindNumber}, nil
	case "object":
		return values{kind: kindNode}, nil
	case "":
		return values{}, nil
	default:
		return values{}, fmt.Errorf("unknown type %q", typ)
	}
}

func (s *schemas) refValues(ref, file string) (values, error) {
	name, def, ok := strings.Cut(ref, "#/$defs/")
	if !ok {
		return values{}, fmt.Errorf("unknown form of $ref %q", ref)
	}
	if name == "" {
		name = file
	}
	if sh := s.byRef[name+"#"+def]; sh != nil {
		return values{kind: kindNode, shapes: []*shape{sh}}, nil
	}
	target := s.files[name].obj("$defs").obj(def)
	if target == nil {
		return values{}, fmt.Errorf("$ref %q leads nowhere", ref)
	}
	return s.values(target, name)
}

// allOf keeps the last schema that says something; narrowAll checks that the
// earlier ones allow all that it allows.
func (s *schemas) allOf(list []any, file string) (values, error) {
	var last values
	for _, part := range list {
		p, err := s.values(part, file)
		if err != nil {
			return last, err
		}
		if last.kind != "" && (p.kind != last.kind || p.many != last.many) {
			return last, fmt.Errorf("allOf joins schemas of different kinds")
		}
		last = p
	}
	return last, nil
}

// narrowAll checks every allOf of two node schemas: each shape of the narrower
// one has its classes and keys in a shape of the wider one.
func (s *schemas) narrowAll() error {
	for _, sh := range s.shapes {
		props := sh.body.obj("properties")
		for _, sl := range sh.slots {
			list, _ := props.obj(sl.key).get("allOf").([]any)
			for _, part := range list {
				wide, err := s.values(part, sh.file)
				if err != nil {
					return err
				}
				for _, n := range sl.val.shapes {
					if !within(n, wide.shapes) {
						return fmt.Errorf("%s: %s: %s: %s is not within the general schema", sh.file, sh.name, sl.key, n.name)
					}
				}
			}
		}
	}
	return nil
}

func within(n *shape, wide []*shape) bool {
	for _, w := range wide {
		ok := true
		for _, c := range n.classes {
			ok = ok && slices.Contains(w.classes, c)
		}
		for _, sl := range n.slots {
			ok = ok && slices.ContainsFunc(w.slots, func(x slot) bool { return x.key == sl.key })
		}
		if ok {
			return true
		}
	}
	return false
}

// numbers are the keys whose values some schema wants as JSON numbers.
func (s *schemas) numbers() map[string]bool {
	n := map[string]bool{}
	for _, sh := range s.shapes {
		for _, sl := range sh.slots {
			if sl.val.kind == kindNumber {
				n[sl.key] = true
			}
		}
	}
	return n
}
