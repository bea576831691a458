package main

import (
	"encoding/xml"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

const (
	nsRDF  = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	nsRDFS = "http://www.w3.org/2000/01/rdf-schema#"
	nsOWL  = "http://www.w3.org/2002/07/owl#"
	nsXML  = "http://www.w3.org/XML/1998/namespace"
)

// node is a class or property as an ontology declares it, in full IRIs.
type node struct {
	iri      string
	property bool
	domain   string
	rng      string
	inverse  string
	supers   []string
	source   string // name of a constant of the package vocab
}

// ontology is the union of the declarations of several files.
type ontology struct {
	list []*node
	by   map[string]*node
}

// readOntology reads CIDOC CRM and what the profile adds to it. The profile also
// ships a copy of an older CRM; of that only the properties that the context
// uses and CRM no longer has are taken.
func readOntology(dir string, c *context) (*ontology, error) {
	o := &ontology{by: map[string]*node{}}
	la := filepath.Join(dir, "linked-art")
	for _, f := range []struct{ path, source string }{
		{filepath.Join(dir, "crm", "CIDOC_CRM_v7.1.3.rdf"), "FromCRM"},
		{filepath.Join(la, "ns-terms", "index.xml"), "FromProfile"},
		{filepath.Join(la, "ontologies", "linkedart_crm_enhancements.rdf"), "FromProfile"},
	} {
		nodes, err := readNodes(f.path)
		if err != nil {
			return nil, err
		}
		for _, n := range nodes {
			n.source = f.source
			if err := o.add(n); err != nil {
				return nil, fmt.Errorf("%s: %w", f.path, err)
			}
		}
	}
	path := filepath.Join(la, "ontologies", "cidoc.rdf")
	older, err := readNodes(path)
	if err != nil {
		return nil, err
	}
	used := map[string]bool{}
	for _, t := range c.terms {
		used[c.full(t.iri)] = true
	}
	for _, n := range older {
		if n.property && used[n.iri] && o.by[n.iri] == nil {
			n.source = "FromOlderCRM"
			if err := o.add(n); err != nil {
				return nil, fmt.Errorf("%s: %w", path, err)
			}
		}
	}
	o.mendInverses()
	return o, o.covers(c)
}

// add puts a declaration in, or adds its super-classes to an earlier one of the
// same class.
func (o *ontology) add(n *node) error {
	old := o.by[n.iri]
	if old == nil {
		o.list = append(o.list, n)
		o.by[n.iri] = n
		return nil
	}
	if n.property || old.property {
		return fmt.Errorf("%s is declared twice", n.iri)
	}
	for _, s := range n.supers {
		if !slices.Contains(old.supers, s) {
			old.supers = append(old.supers, s)
		}
	}
	return nil
}

// mendInverses drops inverses that no file declares and fills in those that only
// the other side states.
func (o *ontology) mendInverses() {
	for _, n := range o.list {
		if n.inverse != "" && o.by[n.inverse] == nil {
			n.inverse = ""
		}
	}
	for _, n := range o.list {
		if inv := o.by[n.inverse]; inv != nil && inv.inverse == "" {
			inv.inverse = n.iri
		}
	}
}

// covers reports classes and properties of the context without a declaration.
func (o *ontology) covers(c *context) error {
	for _, cl := range c.classes {
		if n := o.by[c.full(cl.iri)]; n == nil || n.property {
			return fmt.Errorf("no ontology declares the class %s", cl.iri)
		}
	}
	for _, t := range c.terms {
		if n := o.by[c.full(t.iri)]; n == nil || !n.property {
			return fmt.Errorf("no ontology declares the property %s", t.iri)
		}
	}
	return nil
}

// full puts the namespace in place of a prefix.
func (c *context) full(curie string) string {
	p, local, _ := strings.Cut(curie, ":")
	for _, x := range c.prefixes {
		if x[0] == p {
			return x[1] + local
		}
	}
	return curie
}

// short is the compact form of an IRI with the longest matching namespace.
func (c *context) short(iri string) (string, error) {
	best := [2]string{}
	for _, x := range c.prefixes {
		if strings.HasPrefix(iri, x[1]) && len(x[1]) > len(best[1]) {
			best = x
		}
	}
	if iri == "" || best[1] == "" {
		if iri == "" {
			return "", nil
		}
		return "", fmt.Errorf("no prefix for %s", iri)
	}
	return best[0] + ":" + iri[len(best[1]):], nil
}

// readNodes reads the striped RDF/XML in which the ontologies are published:
// one element for each class or property, one empty element for each axiom.
func readNodes(path string) ([]*node, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	dec := xml.NewDecoder(f)
	var (
		nodes []*node
		cur   *node
		base  *url.URL
		depth int
	)
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return nodes, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		switch el := tok.(type) {
		case xml.StartElement:
			depth++
			switch depth {
			case 1:
				base, err = url.Parse(attr(el, nsXML, "base"))
			case 2:
				cur, err = newNode(el, base)
				if cur != nil {
					nodes = append(nodes, cur)
				}
			case 3:
				if cur != nil {
					err = cur.axiom(el, base)
				}
			default:
				err = fmt.Errorf("element %s is nested too deep", el.Name.Local)
			}
			if err != nil {
				line, _ := dec.InputPos()
				return nil, fmt.Errorf("%s:%d: %w", path, line, err)
			}
		case xml.EndElement:
			depth--
		}
	}
}

func newNode(el xml.StartElement, base *url.URL) (*node, error) {
	iri, err := resolve(base, attr(el, nsRDF, "about"))
	if err != nil {
		return nil, err
	}
	switch el.Name {
	case xml.Name{Space: nsRDFS, Local: "Class"}:
		return &node{iri: iri}, nil
	case xml.Name{Space: nsRDF, Local: "Property"}:
		return &node{iri: iri, property: true}, nil
	case xml.Name{Space: nsRDF, Local: "Description"}: // the ontology's own header
		return nil, nil
	}
	return nil, fmt.Errorf("unknown element %s", el.Name.Local)
}

func (n *node) axiom(el xml.StartElement, base *url.URL) error {
	name := el.Name.Space + el.Name.Local
	var once *string
	switch name {
	case nsRDFS + "label", nsRDFS + "comment", nsRDFS + "isDefinedBy":
		return nil
	case nsRDFS + "domain":
		once = &n.domain
	case nsRDFS + "range":
		once = &n.rng
	case nsOWL + "inverseOf":
		once = &n.inverse
	case nsRDFS + "subClassOf", nsRDFS + "subPropertyOf":
	default:
		return fmt.Errorf("unknown axiom %s", name)
	}
	iri, err := resolve(base, attr(el, nsRDF, "resource"))
	if err != nil {
		return err
	}
	if once == nil {
		if !slices.Contains(n.supers, iri) {
			n.supers = append(n.supers, iri)
		}
		return nil
	}
	if *once != "" {
		return fmt.Errorf("second %s of %s", el.Name.Local, n.iri)
	}
	*once = iri
	return nil
}

func attr(el xml.StartElement, space, local string) string {
	for _, a := range el.Attr {
		if a.Name.Space == space && a.Name.Local == local {
			return a.Value
		}
	}
	return ""
}

func resolve(base *url.URL, ref string) (string, error) {
	if ref == "" {
		return "", fmt.Errorf("an IRI is missing")
	}
	u, err := base.Parse(ref)
	if err != nil {
		return "", err
	}
	return u.String(), nil
}
