// Package validate checks entity documents: against the profile's schemas, value
// by value, against CIDOC CRM, and by expanding them as JSON-LD.
//
// [Checker.Check] is for every document: it holds each structural shape against
// the JSON Schema once and each value against compiled checks, and gives the
// verdict that validating every document with the schema would give. [Allowed]
// and [Domain] check classes against domain and range. [Deep.Check] compares a
// document's JSON-LD, expanded by an independent library, with its triples.
package validate

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// Problem is one thing wrong with a document.
type Problem struct {
	Rule    string // one of [Rules]
	Path    string // JSON Pointer (RFC 6901) to the place in the document's JSON, such as "/produced_by/timespan/begin_of_the_begin"
	Event   int    // index into [entity.Document.Events] of the value, or of the node that lacks something; 0 is the root
	Message string // in plain words, without the path
}

// Rule is a kind of problem.
type Rule struct {
	Name   string
	About  string
	Schema bool // the JSON Schema finds it, too; otherwise only this package does
}

// The rules.
const (
	RuleEvents      = "events"
	RuleEndpoint    = "endpoint"
	RuleRepeatedKey = "repeated-key"
	RuleTerm        = "term"
	RuleKind        = "kind"
	RuleRequired    = "required-key"
	RuleUnknown     = "unknown-key"
	RuleClass       = "class"
	RuleForm        = "form"
	RuleIRI         = "iri"
	RuleIRIWritten  = "iri-characters"
	RuleDateTime    = "date-time"
	RuleNumber      = "number"
	RuleRange       = "number-range"
	RuleCharacters  = "characters"
	RuleEmptyText   = "empty-text"
	RuleMediaType   = "media-type"
	RuleTermName    = "term-name"
	RuleLimits      = "limits"
	RuleTimeOrder   = "time-order"
)

// Rules lists the rules of [Checker.Check].
func Rules() []Rule {
	return []Rule{
		{RuleEvents, "the document is one tree with a class for every node", false},
		{RuleEndpoint, "the profile serves documents of the class", false},
		{RuleRepeatedKey, "a key stands once in a node, and the values of an array stand together", false},
		{RuleTerm, "a key has the meaning the profile's context gives it on the node's class", false},
		{RuleKind, "a value is of the kind the key wants: node, text, number, date, name of a term", false},
		{RuleRequired, "a key the profile requires is there", true},
		{RuleUnknown, "the profile knows the key on such a node", true},
		{RuleClass, "the node's class may stand under the key", true},
		{RuleForm, "one value or a list, a reference or a node of its own, as the profile wants", true},
		{RuleIRI, "an identifier is an absolute IRI (RFC 3986) without characters that N-Triples forbids", true},
		{RuleIRIWritten, "an IRI has the characters that RFC 3987 §2.2 allows", false},
		{RuleDateTime, "a date and time is one of RFC 3339 and of XML Schema", true},
		{RuleNumber, "a number is written as JSON writes it (RFC 8259 §6)", true},
		{RuleRange, "a number is within the range of xsd:double", false},
		{RuleCharacters, "text is valid UTF-8 made of characters that XML 1.0 can carry", false},
		{RuleEmptyText, "text says something", false},
		{RuleMediaType, "a format is a media type (RFC 6838 §4.2)", false},
		{RuleTermName, "an assigned property names a term of the profile's context", false},
		{RuleLimits, "lower limit ≤ value ≤ upper limit", false},
		{RuleTimeOrder, "a time span begins before it ends", false},
	}
}

// Checker checks documents. It may be shared by goroutines, and should be: it
// remembers the shapes it has seen.
type Checker struct {
	shapes shapeCache
}

// NewChecker returns a Checker that knows no shapes yet.
func NewChecker() *Checker { return &Checker{shapes: newShapeCache()} }

// Check returns what is wrong with a document that may be served at any of the
// endpoints of its class, nil if nothing is. A class with two endpoints (Activity)
// is held against the one it fits best; [Checker.CheckAt] takes a given one. For
// a good document whose shape is known Check does not allocate.
func (c *Checker) Check(d *entity.Document) []Problem { return c.check(d, nil) }

// CheckAt is Check for a document at the given endpoint.
func (c *Checker) CheckAt(d *entity.Document, at *vocab.Endpoint) []Problem { return c.check(d, at) }

func (c *Checker) check(d *entity.Document, at *vocab.Endpoint) []Problem {
	ev := d.Events()
	key, good := c.shapes.scan(ev)
	sh := c.shapes.find(key)
	if sh == nil {
		sh = c.shapes.learn(key, ev)
	}
	structure := sh.verdict(at)
	if good && len(structure) == 0 {
		return nil
	}
	ps := slices.Clone(structure)
	if !good && sh.whole {
		ps = append(ps, valueProblems(ev)...)
		slices.SortStableFunc(ps, func(a, b Problem) int { return a.Event - b.Event })
	}
	return ps
}

// Roles of terms whose values are checked together or in a way of their own.
const (
	roleNone = iota
	roleBeginBegin
	roleEndBegin
	roleBeginEnd
	roleEndEnd
	roleValue
	roleLower
	roleUpper
	roleMediaType
)

var roleKeys = map[string]uint8{
	"begin_of_the_begin": roleBeginBegin,
	"end_of_the_begin":   roleEndBegin,
	"begin_of_the_end":   roleBeginEnd,
	"end_of_the_end":     roleEndEnd,
	"value":              roleValue,
	"lower_value_limit":  roleLower,
	"upper_value_limit":  roleUpper,
	"format":             roleMediaType,
}

// roles has the role of each term by its index.
var roles = func() []uint8 {
	terms := vocab.Terms()
	r := make([]uint8, len(terms))
	for _, t := range terms {
		r[t.Index] = roleKeys[t.Key]
	}
	return r
}()

// ordered lists the pairs of roles of one node whose values must be in order.
// The end of the begin may come after the begin of the end: the two bound a
// period that was surely covered, which may be empty (CIDOC CRM 7.1.3, P81).
var ordered = func() (t [roleMediaType + 1][roleMediaType + 1]bool) {
	for _, p := range [...][2]int{
		{roleBeginBegin, roleEndBegin}, {roleBeginBegin, roleBeginEnd}, {roleBeginBegin, roleEndEnd},
		{roleEndBegin, roleEndEnd}, {roleBeginEnd, roleEndEnd},
		{roleLower, roleValue}, {roleValue, roleUpper}, {roleLower, roleUpper},
	} {
		t[p[0]][p[1]] = true
	}
	return t
}()

// outOfOrder returns the index of a later value of the same node that is out of
// order with the one at i, or -1.
func outOfOrder(ev []entity.Event, i int) int {
	role := roles[ev[i].Term.Index]
	for k := i + 1; k < len(ev) && ev[k].Kind != entity.Close; k++ {
		e := &ev[k]
		if e.Kind == entity.Open {
			if int(e.End) <= k {
				return -1
			}
			k = int(e.End)
			continue
		}
		if e.Term == nil {
			continue
		}
		other := roles[e.Term.Index]
		first, second := ev[i].Value, e.Value
		switch {
		case ordered[role][other]:
		case ordered[other][role]:
			first, second = second, first
		default:
			continue
		}
		if role <= roleEndEnd && !notAfter(first, second) || role > roleEndEnd && !notAbove(first, second) {
			return k
		}
	}
	return -1
}

// goodValue is the check of one event's value.
func goodValue(ev []entity.Event, i int) bool {
	e := &ev[i]
	switch e.Kind {
	case entity.Open:
		return !e.Ref || goodIRI(e.Value)
	case entity.Text:
		if blank(e.Value) || !cleanText(e.Value) {
			return false
		}
		return e.Term == nil || roles[e.Term.Index] != roleMediaType || goodMediaType(e.Value)
	case entity.DateTime:
		return goodDateTime(e.Value) && (e.Term == nil || roles[e.Term.Index] == roleNone || outOfOrder(ev, i) < 0)
	case entity.Number:
		return goodNumber(e.Value) && finite(e.Value) &&
			(e.Term == nil || roles[e.Term.Index] == roleNone || outOfOrder(ev, i) < 0)
	case entity.TermName:
		return (*vocab.Class)(nil).Resolve(e.Value) != ""
	}
	return true
}

// valueProblems names what goodValue found, in the order of the document.
func valueProblems(ev []entity.Event) []Problem {
	var ps []Problem
	for i := range ev {
		if goodValue(ev, i) {
			continue
		}
		add := func(rule, format string, args ...any) {
			ps = append(ps, Problem{Rule: rule, Path: valuePath(ev, i), Event: i, Message: fmt.Sprintf(format, args...)})
		}
		v := ev[i].Value
		switch ev[i].Kind {
		case entity.Open:
			var legal *entity.IRIError
			errors.As(entity.CheckIRI(v), &legal)
			switch {
			case legal == nil:
				add(RuleIRI, "%s is not an absolute IRI as RFC 3986 has it", preview(v))
			case absoluteIRI(v):
				add(RuleIRIWritten, "%s cannot be written in RDF: %s at byte %d", preview(v), legal.Reason, legal.At+1)
			default:
				add(RuleIRI, "%s is not an absolute IRI: %s at byte %d", preview(v), legal.Reason, legal.At+1)
			}
		case entity.Text:
			switch {
			case blank(v):
				add(RuleEmptyText, "the text is empty")
			case !cleanText(v):
				add(RuleCharacters, "the text %s %s", preview(v), firstBad(v))
			default:
				add(RuleMediaType, "%s is not a media type such as image/jpeg", preview(v))
			}
		case entity.DateTime:
			if !goodDateTime(v) {
				add(RuleDateTime, "%s is not a date and time such as 1851-05-01T00:00:00Z", preview(v))
			} else {
				k := outOfOrder(ev, i)
				add(RuleTimeOrder, "%s %s does not go with %s %s", ev[i].Term.Key, v, ev[k].Term.Key, preview(ev[k].Value))
			}
		case entity.Number:
			switch {
			case !goodNumber(v):
				add(RuleNumber, "%s is not a number as JSON writes it", preview(v))
			case !finite(v):
				add(RuleRange, "%s is beyond the range of numbers", preview(v))
			default:
				k := outOfOrder(ev, i)
				add(RuleLimits, "%s %s does not go with %s %s", ev[i].Term.Key, v, ev[k].Term.Key, preview(ev[k].Value))
			}
		case entity.TermName:
			add(RuleTermName, "%s names no term of the profile's context", preview(v))
		}
	}
	return ps
}

// firstBad says which character of s cannot be written, and where.
func firstBad(s string) string {
	n := 1
	for i, r := range s {
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD"):
			return fmt.Sprintf("has a byte 0x%02X at character %d that is not UTF-8", s[i], n)
		case r < 0x20 && r != '\t' && r != '\n' && r != '\r', r == 0xFFFE, r == 0xFFFF:
			return fmt.Sprintf("has the character U+%04X at character %d, which XML cannot carry", r, n)
		}
		n++
	}
	return ""
}

// preview is a value for a message: quoted, and cut where it is long.
func preview(s string) string {
	const most = 60
	q := strconv.Quote(s)
	if utf8.RuneCountInString(q) <= most {
		return q
	}
	cut := 0
	for i := range q {
		if cut == most-2 {
			return q[:i] + "…\""
		}
		cut++
	}
	return q
}

// valuePath is the JSON Pointer of the value at i; for a reference that of its id.
func valuePath(ev []entity.Event, i int) string {
	p := Path(ev, i)
	if ev[i].Kind == entity.Open {
		p += "/id"
	}
	return p
}

// Path is the JSON Pointer (RFC 6901) of the value or node at index i of a
// document's events; "" for the root.
func Path(ev []entity.Event, i int) string {
	if i <= 0 || i >= len(ev) {
		return ""
	}
	if ev[i].Kind == entity.Close {
		i = int(ev[i].End)
	}
	parent, place := i-1, 0
	for depth := 0; parent > 0; parent-- {
		e := &ev[parent]
		if e.Kind == entity.Close {
			depth++
		} else if e.Kind == entity.Open {
			if depth == 0 {
				break
			}
			depth--
		}
		if depth == 0 && e.Kind != entity.Close && e.Term == ev[i].Term {
			place++
		}
	}
	p := Path(ev, parent)
	if t := ev[i].Term; t != nil {
		p += "/" + t.Key
	}
	if ev[i].Many {
		p += "/" + strconv.Itoa(place)
	}
	return p
}
