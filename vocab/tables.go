package vocab

import "strings"

//go:generate go run ./gen

// The rows of tables_gen.go. IRIs are written there with the prefixes of
// genPrefixes; places of classes, terms and shapes are indexes into their tables.
type (
	genTerm struct {
		key, iri string
		kind     Kind
		set      bool
		scoped   bool
	}
	genClass struct {
		key, iri string
		scope    []uint16
		partOf   string
	}
	genEndpoint struct {
		name, schema string
		shape        uint16
	}
	genShape struct {
		name     string
		classes  []uint16
		id       IDRule
		document bool
		slots    []genSlot
	}
	genSlot struct {
		key      string
		many     bool
		required bool
		kind     Kind
		shapes   []uint16
	}
)

var (
	prefixes     = map[string]string{}
	classList    []*Class
	classes      = map[string]*Class{}
	termList     []*Term
	terms        = map[string]*Term{}
	shapeList    []*Shape
	shapes       = map[string]*Shape{}
	records      = map[*Class][]*Endpoint{}
	endpointList []*Endpoint
	endpoints    = map[string]*Endpoint{}

	assignment *Class // AttributeAssignment
)

func init() {
	for _, p := range genPrefixes {
		prefixes[p[0]] = p[1]
	}
	for i, g := range genTerms {
		t := &Term{Key: g.key, IRI: fullIRI(g.iri), Kind: g.kind, Set: g.set, Index: uint16(i)}
		termList = append(termList, t)
		if !g.scoped {
			terms[t.Key] = t
		}
	}
	for i, g := range genClasses {
		c := &Class{Key: g.key, IRI: fullIRI(g.iri), Index: uint16(i)}
		if len(g.scope) > 0 {
			c.terms = map[string]*Term{}
		}
		for _, t := range g.scope {
			c.terms[termList[t].Key] = termList[t]
		}
		if g.partOf != "" {
			c.partOf = fullIRI(g.partOf)
		}
		classList = append(classList, c)
		classes[c.Key] = c
	}
	assignment = classes["AttributeAssignment"]
	initShapes()
	initOntology()
	initAuthorities()
}

func initShapes() {
	for _, g := range genShapes {
		s := &Shape{Name: g.name, ID: g.id, Document: g.document}
		for _, c := range g.classes {
			s.Classes = append(s.Classes, classList[c])
		}
		shapeList = append(shapeList, s)
		shapes[s.Name] = s
	}
	for i, g := range genShapes {
		for j, gs := range g.slots {
			sl := &Slot{Key: gs.key, Many: gs.many, Required: gs.required, Kind: gs.kind, Index: j}
			for _, s := range gs.shapes {
				sl.Shapes = append(sl.Shapes, shapeList[s])
			}
			shapeList[i].Slots = append(shapeList[i].Slots, sl)
		}
	}
	for _, g := range genEndpoints {
		e := &Endpoint{Name: g.name, Schema: g.schema, Shape: shapeList[g.shape]}
		endpointList = append(endpointList, e)
		endpoints[e.Name] = e
		for _, c := range e.Shape.Classes {
			records[c] = append(records[c], e)
		}
	}
}

// fullIRI puts the namespace in place of a prefix of the context; "" stays "".
func fullIRI(curie string) string {
	if curie == "" {
		return ""
	}
	p, local, _ := strings.Cut(curie, ":")
	ns, ok := prefixes[p]
	if !ok {
		panic("vocab: no prefix " + p)
	}
	return ns + local
}
