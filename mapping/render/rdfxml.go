package render

import (
	"strings"
	"unicode/utf8"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// Byte forms in RDF/XML, by Index.
var (
	classOpen  []string // "<crm:E22_Human-Made_Object rdf:about=\""
	classClose []string // "</crm:E22_Human-Made_Object>\n"
	termLink   []string // "  <crm:P1_is_identified_by rdf:resource=\""
	termOpen   []string // "  <crm:P190_has_symbolic_content"
	termClose  []string // "</crm:P190_has_symbolic_content>\n"
)

func init() {
	for _, c := range vocab.Classes() {
		open, name := mustXMLName(c.IRI)
		classOpen = append(classOpen, "<"+open+` rdf:about="`)
		classClose = append(classClose, "</"+name+">\n")
	}
	for _, t := range vocab.Terms() {
		open, name := mustXMLName(t.IRI)
		termLink = append(termLink, "  <"+open+` rdf:resource="`)
		termOpen = append(termOpen, "  <"+open)
		termClose = append(termClose, "</"+name+">\n")
	}
}

const (
	descriptionOpen  = `<rdf:Description rdf:about="`
	descriptionClose = "</rdf:Description>\n"
	xmlFooter        = "</rdf:RDF>\n"
)

var (
	integerType  = ` rdf:datatype="` + entity.XSDInteger + `">`
	doubleType   = ` rdf:datatype="` + entity.XSDDouble + `">`
	dateTimeType = ` rdf:datatype="` + entity.XSDDateTime + `">`
)

// xmlHeader opens the root element, with all prefixes.
func xmlHeader(dst []byte) []byte {
	dst = append(dst, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<rdf:RDF"...)
	for _, n := range namespaces {
		dst = append(dst, "\n    xmlns:"...)
		dst = append(dst, n[0]...)
		dst = append(dst, `="`...)
		dst = append(dst, n[1]...)
		dst = append(dst, '"')
	}
	return append(dst, ">\n"...)
}

// appendRDFXML writes a document as one element for each node.
func appendRDFXML(e *Encoder, dst []byte, d *doc) []byte {
	ev, names, said := d.Events(), d.Names(), d.Said()
	for _, i := range d.Nodes() {
		n := &ev[i]
		if said != nil && said[i]&entity.SaidAll != 0 {
			continue
		}
		open, end := descriptionOpen, descriptionClose
		if said == nil || said[i]&entity.SaidClass == 0 {
			open, end = classOpen[n.Class.Index], classClose[n.Class.Index]
		}
		dst = append(dst, open...)
		dst = appendXMLIRI(dst, names[i])
		from := len(dst)
		dst = append(dst, "\">\n"...)
		empty := true
		for k := i + 1; k < n.End; k++ {
			v, at := &ev[k], k
			if v.Kind == entity.Open {
				k = v.End
			}
			if said != nil && said[at]&entity.SaidHere != 0 {
				continue
			}
			empty = false
			switch v.Kind {
			case entity.Open, entity.TermName:
				dst = append(dst, termLink[v.Term.Index]...)
				dst = appendXMLIRI(dst, names[at])
				dst = append(dst, "\"/>\n"...)
				continue
			}
			dst = append(dst, termOpen[v.Term.Index]...)
			switch v.Kind {
			case entity.Text:
				dst = append(dst, '>')
				if plainXML(v.Value) {
					dst = append(dst, v.Value...)
				} else {
					dst = e.xmlText(dst, v.Value)
				}
			case entity.DateTime:
				dst = append(dst, dateTimeType...)
				dst = e.xmlText(dst, v.Value)
			case entity.Number:
				var buf [32]byte
				number, integer := entity.AppendDecimal(buf[:0], v.Value)
				if integer {
					dst = append(dst, integerType...)
				} else {
					dst = append(dst, doubleType...)
				}
				dst = append(dst, number...)
			}
			dst = append(dst, termClose[v.Term.Index]...)
		}
		if empty {
			dst = append(dst[:from], "\"/>\n"...)
		} else {
			dst = append(dst, end...)
		}
	}
	return dst
}

func (e *Encoder) xmlText(dst []byte, s string) []byte {
	dst, ok := appendXML(dst, s, false)
	if !ok {
		e.fail(s)
	}
	return dst
}

// appendXMLIRI writes a legal IRI as an attribute's value: of the characters that
// XML wants escaped, it can only have the ampersand.
func appendXMLIRI(dst []byte, iri string) []byte {
	for {
		i := strings.IndexByte(iri, '&')
		if i < 0 {
			return append(dst, iri...)
		}
		dst = append(dst, iri[:i]...)
		dst = append(dst, "&amp;"...)
		iri = iri[i+1:]
	}
}

// notProperties are the names of the RDF namespace that cannot be written as a
// property element (RDF/XML §2.14 and §7.2.5; rdf:li is read as rdf:_1).
var notProperties = map[string]bool{
	"RDF": true, "ID": true, "about": true, "parseType": true, "resource": true, "nodeID": true,
	"datatype": true, "Description": true, "aboutEach": true, "aboutEachPrefix": true, "bagID": true, "li": true,
}

// splitName divides an IRI into a namespace and the longest local name that XML
// allows (Namespaces in XML 1.0 §3), of letters that XML 1.0 allowed before its
// fifth edition if there is such a name. It reports false if there is none.
func splitName(iri string) (ns, local string, ok bool) {
	if at := splitAt(iri, 0x131); at < len(iri) {
		return iri[:at], iri[at:], true
	}
	at := splitAt(iri, utf8.MaxRune)
	return iri[:at], iri[at:], at < len(iri)
}

// splitAt is where the longest local name with runes up to last begins.
func splitAt(iri string, last rune) int {
	at := len(iri)
	for i := len(iri); i > 0; {
		r, n := utf8.DecodeLastRuneInString(iri[:i])
		if r > last || !nameRune(r) {
			break
		}
		i -= n
		if nameStart(r) && i > 0 && !reservedNamespace(iri[:i]) {
			at = i
		}
	}
	return at
}

// reservedNamespace reports whether XML binds the namespace to a prefix of its own.
func reservedNamespace(ns string) bool {
	return ns == "http://www.w3.org/XML/1998/namespace" || ns == "http://www.w3.org/2000/xmlns/"
}

// xmlName is the name of a property's element: what stands after "<", with a
// declaration where the namespace is not one of the root's, and the bare name.
func xmlName(dst []byte, iri string) (open []byte, name string, ok bool) {
	ns, local, ok := splitName(iri)
	if !ok || strings.HasPrefix(iri, rdfNS) && notProperties[iri[len(rdfNS):]] {
		return dst, "", false
	}
	for _, n := range namespaces {
		if n[1] == ns {
			name = n[0] + ":" + local
			return append(dst, name...), name, true
		}
	}
	name = "ns:" + local
	dst = append(dst, name...)
	dst = append(dst, ` xmlns:ns="`...)
	dst = appendXMLIRI(dst, ns)
	return append(dst, '"'), name, true
}

func mustXMLName(iri string) (open, name string) {
	b, name, ok := xmlName(nil, iri)
	if !ok {
		panic("render: no XML name for " + iri)
	}
	return string(b), name
}

// nameStarts are the ranges of NameStartChar of XML 1.0 §2.3, without the colon.
var nameStarts = [...][2]rune{
	{'A', 'Z'}, {'_', '_'}, {'a', 'z'}, {0xC0, 0xD6}, {0xD8, 0xF6}, {0xF8, 0x2FF}, {0x370, 0x37D}, {0x37F, 0x1FFF},
	{0x200C, 0x200D}, {0x2070, 0x218F}, {0x2C00, 0x2FEF}, {0x3001, 0xD7FF}, {0xF900, 0xFDCF}, {0xFDF0, 0xFFFD}, {0x10000, 0xEFFFF},
}

func nameStart(r rune) bool {
	for _, s := range nameStarts {
		if s[0] <= r && r <= s[1] {
			return true
		}
	}
	return false
}

// nameRune is NameChar of XML 1.0 §2.3 without the colon.
func nameRune(r rune) bool {
	return nameStart(r) || '0' <= r && r <= '9' || r == '-' || r == '.' || r == 0xB7 || 0x300 <= r && r <= 0x36F || r == 0x203F || r == 0x2040
}

// xmlRune is Char of XML 1.0 §2.2.
func xmlRune(r rune) bool {
	return r == '\t' || r == '\n' || r == '\r' || 0x20 <= r && r <= 0xD7FF || 0xE000 <= r && r <= 0xFFFD || r >= 0x10000
}
