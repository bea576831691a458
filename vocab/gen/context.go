package main

import (
	"fmt"
	"slices"
	"strings"
)

// class is a class of the context.
type class struct {
	key, iri string // iri as the context writes it, with a prefix
	scope    []int  // terms whose meaning the class changes
	partOf   string // what "part_of" names as an assigned property; "" for the usual meaning
}

// term is a key of the context.
type term struct {
	key, iri string
	kind     kind
	set      bool
	scoped   bool // stands only in contexts scoped by class
}

// context is what the tables need of a JSON-LD context.
type context struct {
	prefixes [][2]string
	classes  []class
	terms    []term
	global   map[string]int // key → index of the term outside any scope
}

// readContext reads the profile's JSON-LD 1.1 context. Anything whose meaning it
// does not know is an error, so that a new context cannot lose statements unseen.
func readContext(path string, numbers map[string]bool) (*context, error) {
	root, err := readJSON(path)
	if err != nil {
		return nil, err
	}
	c := &context{global: map[string]int{}}
	body := root.obj("@context")
	if body == nil {
		return nil, fmt.Errorf("%s: no @context", path)
	}
	for _, key := range body.keys {
		if err := c.entry(key, body.get(key), numbers); err != nil {
			return nil, fmt.Errorf("%s: %q: %w", path, key, err)
		}
	}
	// Scoped terms come last, so that a class's scope may name a term that the
	// context defines further down.
	for i := range c.classes {
		cl := &c.classes[i]
		def := body.obj(cl.key)
		scope := def.obj("@context")
		if scope == nil {
			continue
		}
		for _, key := range scope.keys {
			if err := c.scopedTerm(cl, key, scope.obj(key), numbers); err != nil {
				return nil, fmt.Errorf("%s: %q in the context of %q: %w", path, key, cl.key, err)
			}
		}
	}
	return c, nil
}

func (c *context) entry(key string, v any, numbers map[string]bool) error {
	if key == "@version" {
		return nil
	}
	if s, ok := v.(string); ok {
		switch {
		case key == "id" && s == "@id", key == "type" && s == "@type":
			return nil
		case strings.HasSuffix(s, "/"), strings.HasSuffix(s, "#"):
			c.prefixes = append(c.prefixes, [2]string{key, s})
			return nil
		}
		return fmt.Errorf("not a prefix: %q", s)
	}
	def, ok := v.(*object)
	if !ok {
		return fmt.Errorf("not an object")
	}
	if key[0] >= 'A' && key[0] <= 'Z' {
		if err := only(def, "@id", "@context"); err != nil {
			return err
		}
		c.classes = append(c.classes, class{key: key, iri: def.str("@id")})
		return nil
	}
	t, err := newTerm(key, def, numbers)
	if err != nil {
		return err
	}
	c.global[key] = len(c.terms)
	c.terms = append(c.terms, t)
	return only(def, "@id", "@type", "@container")
}

func newTerm(key string, def *object, numbers map[string]bool) (term, error) {
	t := term{key: key, iri: def.str("@id")}
	switch typ := def.get("@type"); {
	case typ == "@id":
		t.kind = kindNode
	case typ == "@vocab":
		t.kind = kindTerm
	case typ == "xsd:dateTime":
		t.kind = kindDateTime
	case typ == nil && numbers[key]:
		t.kind = kindNumber
	case typ == nil:
		t.kind = kindText
	default:
		return t, fmt.Errorf("unknown @type %v", typ)
	}
	switch con := def.get("@container"); con {
	case "@set":
		t.set = true
	case nil:
	default:
		return t, fmt.Errorf("unknown @container %v", con)
	}
	if !strings.Contains(t.iri, ":") {
		return t, fmt.Errorf("@id %q has no prefix", t.iri)
	}
	return t, nil
}

func (c *context) scopedTerm(cl *class, key string, def *object, numbers map[string]bool) error {
	t, err := newTerm(key, def, numbers)
	if err != nil {
		return err
	}
	if inner := def.obj("@context"); inner != nil {
		if cl.partOf, err = assignedPartOf(inner); err != nil {
			return err
		}
	}
	if g, ok := c.global[key]; ok && c.terms[g] == t {
		return nil
	}
	t.scoped = true
	i := slices.Index(c.terms, t)
	if i < 0 {
		i = len(c.terms)
		c.terms = append(c.terms, t)
	}
	cl.scope = append(cl.scope, i)
	return only(def, "@id", "@type", "@container", "@context")
}

// assignedPartOf digs out the one thing that the scoped context of attributed_by
// changes: the property that "part_of" names in assigned_property.
func assignedPartOf(inner *object) (string, error) {
	ap := inner.obj("assigned_property")
	if err := only(inner, "assigned_property"); err != nil {
		return "", err
	}
	if err := only(ap, "@id", "@type", "@context"); err != nil {
		return "", err
	}
	names := ap.obj("@context")
	if err := only(names, "part_of"); err != nil {
		return "", err
	}
	def := names.obj("part_of")
	return def.str("@id"), only(def, "@id")
}

// only reports keys of o that are not expected.
func only(o *object, keys ...string) error {
	if o == nil {
		return fmt.Errorf("an object is missing")
	}
	for _, k := range o.keys {
		if !slices.Contains(keys, k) {
			return fmt.Errorf("unexpected key %q", k)
		}
	}
	return nil
}
