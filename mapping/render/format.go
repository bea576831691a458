// Package render writes documents in the syntaxes that lose nothing: JSON-LD,
// N-Triples, N-Quads, Turtle and RDF/XML.
//
// [Formats] is the one table of them. An [Encoder] appends one document after
// another to a byte slice, without allocating; a [Writer] streams documents to an
// io.Writer; a [TripleWriter] does so for arbitrary RDF triples. All output is
// UTF-8 and depends on the document alone.
package render

import "strings"

// Format is a syntax in which documents are written.
type Format struct {
	Name       string   // short name, such as "ttl"
	Title      string   // name for people, such as "Turtle"
	MediaTypes []string // what a client may ask for; the first, with its parameters, is what is sent
	Suffix     string   // of file names and addresses, with the point
	Lossless   bool     // says all that the document says
	Concat     bool     // texts of several documents may be joined: there is no header or footer

	append  func(*Encoder, []byte, *doc) []byte
	fill    func(*Encoder, []byte, *doc, *template) (out []byte, done bool, err error) // nil: no templates
	lines   bool                                                                       // a statement on each line
	quads   bool                                                                       // with the graph's name
	tree    bool                                                                       // written from the document's events alone, without its names
	header  func([]byte) []byte
	footer  string
	triples func(*TripleWriter) tripleSyntax // nil if it cannot carry arbitrary triples
}

// Profile is the value of the profile parameter of a Linked Art document's media
// type (RFC 6906).
const Profile = "https://linked.art/ns/v1/linked-art.json"

var formats = []*Format{
	{
		Name: "jsonld", Title: "JSON-LD", Suffix: ".jsonld", Lossless: true, Concat: true,
		MediaTypes: []string{`application/ld+json;profile="` + Profile + `"`, "application/ld+json", "application/json"},
		append:     appendJSONLD, fill: fillJSONLD, tree: true,
	},
	{
		Name: "nt", Title: "N-Triples", Suffix: ".nt", Lossless: true, Concat: true,
		MediaTypes: []string{"application/n-triples"},
		append:     appendNTriples, fill: fillStatements, lines: true, triples: newLineSyntax,
	},
	{
		Name: "nq", Title: "N-Quads", Suffix: ".nq", Lossless: true, Concat: true,
		MediaTypes: []string{"application/n-quads"},
		append:     appendNQuads, fill: fillStatements, lines: true, quads: true, triples: newLineSyntax,
	},
	{
		Name: "ttl", Title: "Turtle", Suffix: ".ttl", Lossless: true,
		MediaTypes: []string{"text/turtle;charset=utf-8", "text/turtle"},
		append:     appendTurtle, header: turtleHeader, triples: newTurtleSyntax,
	},
	{
		Name: "rdf", Title: "RDF/XML", Suffix: ".rdf", Lossless: true,
		MediaTypes: []string{"application/rdf+xml"},
		append:     appendRDFXML, header: xmlHeader, footer: xmlFooter, triples: newXMLSyntax,
	},
}

// Formats lists the formats in order of preference.
func Formats() []*Format { return append([]*Format(nil), formats...) }

// FormatByName returns the format with a name, or nil.
func FormatByName(name string) *Format {
	for _, f := range formats {
		if f.Name == name {
			return f
		}
	}
	return nil
}

// FormatBySuffix returns the format whose suffix ends a file name, or nil.
func FormatBySuffix(file string) *Format {
	for _, f := range formats {
		if strings.HasSuffix(file, f.Suffix) {
			return f
		}
	}
	return nil
}

// namespaces are the prefixes of Turtle and RDF/XML, sorted by name.
var namespaces = [...][2]string{
	{"aat", "http://vocab.getty.edu/aat/"},
	{"crm", "http://www.cidoc-crm.org/cidoc-crm/"},
	{"dc", "http://purl.org/dc/elements/1.1/"},
	{"dcterms", "http://purl.org/dc/terms/"},
	{"dig", "http://www.ics.forth.gr/isl/CRMdig/"},
	{"la", "https://linked.art/ns/terms/"},
	{"rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#"},
	{"rdfs", "http://www.w3.org/2000/01/rdf-schema#"},
	{"sci", "http://www.ics.forth.gr/isl/CRMsci/"},
	{"skos", "http://www.w3.org/2004/02/skos/core#"},
	{"tgn", "http://vocab.getty.edu/tgn/"},
	{"ulan", "http://vocab.getty.edu/ulan/"},
	{"xsd", "http://www.w3.org/2001/XMLSchema#"},
}

// byEighth lists the namespaces by the eighth byte, which tells most apart.
var byEighth = func() (t [256][]int) {
	for i, n := range namespaces {
		t[n[1][7]] = append(t[n[1][7]], i)
	}
	return t
}()

// shorten splits an IRI into a prefix of namespaces, with its colon, and a local
// name that needs no escaping in Turtle (PN_LOCAL, the ASCII part without points)
// and is an XML name if it begins with a letter.
func shorten(iri string) (prefix, local string, ok bool) {
	if len(iri) < 8 {
		return "", "", false
	}
	for _, i := range byEighth[iri[7]] {
		ns := namespaces[i][1]
		if len(iri) > len(ns) && iri[:len(ns)] == ns {
			local = iri[len(ns):]
			if local[0] == '-' {
				return "", "", false
			}
			for k := 0; k < len(local); k++ {
				if !nameByte[local[k]] {
					return "", "", false
				}
			}
			return prefixNames[i], local, true
		}
	}
	return "", "", false
}

var prefixNames = func() (t [len(namespaces)]string) {
	for i, n := range namespaces {
		t[i] = n[0] + ":"
	}
	return t
}()

// nameByte tells the bytes of local names that are written short.
var nameByte = func() (t [256]bool) {
	for c := range t {
		t[c] = 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '_' || c == '-'
	}
	return t
}()
