package validate

import (
	"encoding/json"
	"math/bits"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"

	"ropewalk/mapping/entity"
	"ropewalk/schemas"
	"ropewalk/vocab"
)

// maxShapes bounds the memory for shapes. A full cache starts anew.
const maxShapes = 100_000

// shapeKey is two independent 64-bit hashes of a document's structure. A shape is
// known only if both agree.
type shapeKey struct{ a, b uint64 }

type shapeCache struct {
	seed  shapeKey
	limit int
	mu    *sync.RWMutex
	known *map[shapeKey]*shape
}

func newShapeCache() shapeCache {
	return shapeCache{
		seed:  shapeKey{rand.Uint64(), rand.Uint64()},
		limit: maxShapes,
		mu:    new(sync.RWMutex),
		known: &map[shapeKey]*shape{},
	}
}

// scan hashes the structure of a document (kind, key, class, reference or not,
// list or not, nesting) and checks its values.
func (c *shapeCache) scan(ev []entity.Event) (key shapeKey, good bool) {
	const k1, k2 = 0xa0761d6478bd642f, 0x9e3779b97f4a7c15
	a, b := c.seed.a, c.seed.b
	good = true
	for i := range ev {
		e := &ev[i]
		x := uint64(e.Kind)
		if e.Kind != entity.Close {
			if e.Many {
				x |= 1 << 8
			}
			if e.Ref {
				x |= 1 << 9
			}
			if e.Term != nil {
				x |= (uint64(e.Term.Index) + 1) << 16
			}
			if e.Class != nil {
				x |= (uint64(e.Class.Index) + 1) << 40
			}
			if good && !goodValue(ev, i) {
				good = false
			}
		}
		hi, lo := bits.Mul64(a^x, k1)
		a = hi ^ lo ^ x
		b = bits.RotateLeft64((b+x)*k2, 29)
	}
	return shapeKey{a, b ^ uint64(len(ev))}, good
}

func (c *shapeCache) find(key shapeKey) *shape {
	c.mu.RLock()
	s := (*c.known)[key]
	c.mu.RUnlock()
	return s
}

// learn works out the verdict on a shape from one of its documents.
func (c *shapeCache) learn(key shapeKey, ev []entity.Event) *shape {
	s := newShape(ev)
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(*c.known) >= c.limit {
		clear(*c.known)
	}
	(*c.known)[key] = s
	return s
}

// shape is the verdict on all documents of one structure. Their events have the
// same indexes, so the problems are the same, too.
type shape struct {
	whole   bool // the events form a tree, so that a document can be made of them
	general []Problem
	at      []atEndpoint
	best    int
}

type atEndpoint struct {
	endpoint *vocab.Endpoint
	problems []Problem
}

func (s *shape) verdict(at *vocab.Endpoint) []Problem {
	if s.general != nil {
		return s.general
	}
	if at == nil {
		return s.at[s.best].problems
	}
	for i := range s.at {
		if s.at[i].endpoint == at {
			return s.at[i].problems
		}
	}
	return []Problem{{Rule: RuleEndpoint, Message: "the class is not served at the endpoint " + at.Name}}
}

func newShape(ev []entity.Event) *shape {
	m := modeller{ev: ev, events: map[string]int{}}
	root := m.document()
	s := &shape{whole: root != nil, general: m.problems}
	if s.general != nil {
		return s
	}
	endpoints := vocab.Record(ev[0].Class)
	if len(endpoints) == 0 {
		s.general = []Problem{{Rule: RuleEndpoint, Message: "the profile has no documents of class " + ev[0].Class.Key}}
		return s
	}
	for i, e := range endpoints {
		ps := m.schemaProblems(schemas.Problems(schemas.Entity(e.Name).Validate(root)))
		s.at = append(s.at, atEndpoint{e, ps})
		if len(ps) < len(s.at[s.best].problems) {
			s.best = i
		}
	}
	return s
}

// modeller makes the JSON value of a document, with a good value in place of
// every text, number, date and IRI.
type modeller struct {
	ev       []entity.Event
	problems []Problem
	events   map[string]int // JSON Pointer → event
}

func (m *modeller) add(rule string, i int, message string) {
	m.problems = append(m.problems, Problem{Rule: rule, Path: Path(m.ev, i), Event: i, Message: message})
}

// document returns nil, and a problem, if the events are not one tree.
func (m *modeller) document() map[string]any {
	if len(m.ev) == 0 {
		m.problems = append(m.problems, Problem{Rule: RuleEvents, Message: "the document is empty"})
		return nil
	}
	depth := 0
	for i := range m.ev {
		switch e := &m.ev[i]; {
		case e.Kind == entity.Open && e.Class == nil:
			m.add(RuleEvents, i, "the node has no class")
			return nil
		case e.Kind == entity.Open:
			depth++
		case e.Kind == entity.Close:
			depth--
		}
		if depth == 0 && i < len(m.ev)-1 || m.ev[i].Term == nil && i > 0 && m.ev[i].Kind != entity.Close {
			m.problems = append(m.problems, Problem{Rule: RuleEvents, Event: i, Message: "the document is not one tree of nodes and keys"})
			return nil
		}
	}
	if depth != 0 {
		m.problems = append(m.problems, Problem{Rule: RuleEvents, Message: "the document has a node that is not closed"})
		return nil
	}
	root, _ := m.node(0, "")
	root["@context"] = entity.Context
	return root
}

var kindOf = map[entity.Kind]vocab.Kind{
	entity.Open:     vocab.KindNode,
	entity.Text:     vocab.KindText,
	entity.Number:   vocab.KindNumber,
	entity.DateTime: vocab.KindDateTime,
	entity.TermName: vocab.KindTerm,
}

// node makes the node at i and returns the index of its Close.
func (m *modeller) node(i int, path string) (map[string]any, int) {
	class := m.ev[i].Class
	o := map[string]any{"type": class.Key}
	m.events[path] = i
	if m.ev[i].Ref {
		o["id"] = "https://example.org/1"
	}
	last := ""
	for i++; m.ev[i].Kind != entity.Close; i++ {
		e := &m.ev[i]
		key := e.Term.Key
		if e.Term != class.Term(key) {
			m.add(RuleTerm, i, key+" does not stand for "+e.Term.IRI+" on "+class.Key)
		} else if kindOf[e.Kind] != e.Term.Kind {
			m.add(RuleKind, i, key+" takes "+kindWords[e.Term.Kind]+", not "+kindWords[kindOf[e.Kind]])
		}
		list, isList := o[key].([]any)
		if o[key] != nil && (!e.Many || !isList || key != last) {
			m.add(RuleRepeatedKey, i, key+" stands here more than once")
		}
		last = key
		at := path + "/" + key
		if e.Many {
			at += "/" + strconv.Itoa(len(list))
		}
		m.events[at] = i
		var v any
		v, i = m.value(i, at)
		if e.Many {
			o[key] = append(list, v)
		} else {
			o[key] = v
		}
	}
	return o, i
}

var kindWords = map[vocab.Kind]string{
	vocab.KindNode:     "a node",
	vocab.KindText:     "text",
	vocab.KindNumber:   "a number",
	vocab.KindDateTime: "a date and time",
	vocab.KindTerm:     "the name of a term",
}

// value makes the value at i and returns the index of its last event.
func (m *modeller) value(i int, path string) (any, int) {
	switch m.ev[i].Kind {
	case entity.Open:
		return m.node(i, path)
	case entity.Number:
		return json.Number("1"), i
	case entity.DateTime:
		return "1851-05-01T00:00:00Z", i
	}
	return "text", i
}

// schemaProblems gives the schema's findings their rule and event.
func (m *modeller) schemaProblems(found []schemas.Problem) []Problem {
	var ps []Problem
	for _, f := range found {
		ps = append(ps, Problem{Rule: ruleOf(&f), Path: f.InstancePath, Event: m.eventAt(f.InstancePath), Message: f.Message})
	}
	return ps
}

func ruleOf(f *schemas.Problem) string {
	switch f.Keyword {
	case "required":
		if f.Key == "id" {
			return RuleForm
		}
		return RuleRequired
	case "additionalProperties":
		if f.Key == "id" {
			return RuleForm
		}
		return RuleUnknown
	case "const", "enum":
		return RuleClass
	}
	return RuleForm
}

// eventAt is the event of the value at path, or of the nearest node above it.
func (m *modeller) eventAt(path string) int {
	for {
		if i, ok := m.events[path]; ok {
			return i
		}
		cut := strings.LastIndexByte(path, '/')
		if cut < 0 {
			return 0
		}
		path = path[:cut]
	}
}
