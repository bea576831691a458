// Package view writes documents in forms that lose something: LIDO 1.1, the
// Europeana Data Model, Dublin Core and schema.org.
//
// [Views] is the one table of them, [View.Append] writes a document in one, and
// [View.Check] says beforehand why it can't be. What a view cannot hold is listed,
// key by key and with the reason, in LOSSES.md beside this file; a test compares
// that list with what is lost.
//
// All views keep to these rules. What somebody merely holds possible (attributed_by)
// is never told as a fact: it is told with its own words of doubt, or in a note; what
// has been given up is told in a note only, and so is the evidence of what the document
// itself states. A reference gives its IRI and its label.
// A value that the document does not have is not guessed: a record that cannot fill
// what a schema demands is refused with a [*Reason]. What is written depends on the
// document and the [Context] alone.
package view

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"ropewalk/mapping/entity"
)

// View is a form that loses something.
type View struct {
	Name       string   // short name, such as "lido"
	Title      string   // name for people
	MediaTypes []string // what a client may ask for; the first is what is sent
	Suffix     string   // of file names and addresses, with the point
	Prefix     string   // metadataPrefix of OAI-PMH; "" if the view is not harvested
	Namespace  string   // of the root element; "" if it is not XML
	Schema     string   // address of the XML Schema; "" if it is not XML
	Root       string   // the root element's name, as it is written; "" if it is not XML
	Endpoints  []string // of the profile whose documents it describes; nil for all

	open, close string // of a file of many documents; "" if there is no such thing
	check       func(*writer) error
	write       func(*writer)
}

var views = []*View{
	{
		Name: "oai_dc", Title: "Dublin Core", MediaTypes: []string{"application/xml"}, Suffix: ".dc.xml", Prefix: "oai_dc",
		Namespace: dcNamespace, Schema: dcSchema, Root: "oai_dc:dc",
		check: (*writer).checkAny, write: (*writer).dc,
	},
	{
		Name: "lido", Title: "LIDO 1.1", MediaTypes: []string{"application/xml"}, Suffix: ".lido.xml", Prefix: "lido",
		Namespace: lidoNamespace, Schema: lidoSchema, Root: "lido:lido", Endpoints: []string{"object"},
		open: "<lido:lidoWrap" + lidoAttributes + ">\n", close: "</lido:lidoWrap>\n",
		check: (*writer).checkLIDO, write: (*writer).lido,
	},
	{
		Name: "edm", Title: "Europeana Data Model", MediaTypes: []string{"application/rdf+xml"}, Suffix: ".edm.xml", Prefix: "edm",
		Namespace: rdfNamespace, Schema: edmSchema, Root: "rdf:RDF", Endpoints: []string{"object"},
		check: (*writer).checkEDM, write: (*writer).edm,
	},
	{
		Name: "schemaorg", Title: "schema.org JSON-LD", MediaTypes: []string{"application/ld+json"}, Suffix: ".schemaorg.json",
		check: (*writer).checkAny, write: (*writer).schemaOrg,
	},
}

// Views lists the views.
func Views() []*View { return append([]*View(nil), views...) }

// Covers reports whether the view is for the documents of an endpoint of the profile.
func (v *View) Covers(endpoint string) bool {
	return v.Endpoints == nil || slices.Contains(v.Endpoints, endpoint)
}

// ByName returns the view with a name, or nil.
func ByName(name string) *View {
	for _, v := range views {
		if v.Name == name {
			return v
		}
	}
	return nil
}

// ByPrefix returns the view with a metadataPrefix of OAI-PMH, or nil.
func ByPrefix(prefix string) *View {
	for _, v := range views {
		if v.Prefix != "" && v.Prefix == prefix {
			return v
		}
	}
	return nil
}

// Context is what a view must know besides the document. It is only read.
type Context struct {
	Base      string                  // IRI with which the site's documents begin; "" if not known
	Language  string                  // BCP 47 tag of the records where they do not say otherwise; "" if not known
	Publisher Agent                   // who publishes the record: the museum
	Provider  Agent                   // who hands it on to an aggregator; the publisher if it has no name
	Licence   string                  // IRI of the licence of the record; "" if not said
	Rights    string                  // IRI of what holds for pictures and files of which the document does not say it; "" if not known
	Page      func(iri string) string // address of the page of a document of this site; nil: its IRI
}

// Agent is a body that publishes or hands on.
type Agent struct {
	Name string
	IRI  string // "" if it has none
	Page string // its page on the web; "" if it has none
}

// The codes of [Reason].
const (
	WrongClass    = "class"        // the view is not for documents of this class
	NoObjectType  = "no-type"      // no kind of thing that is marked as type of work or of part
	NoTitle       = "no-title"     // no name or title, where a view demands one
	NoPublisher   = "no-publisher" // the context has no publisher
	NoRights      = "no-rights"    // neither the document nor the context says what may be done with its files
	NotOnWeb      = "not-on-web"   // neither a page nor a file on the web
	NotPrintable  = "characters"   // a text with a character that the view cannot carry
	BadIdentifier = "identifier"   // an IRI that the view's schema does not take for a URI
	Broken        = "broken"       // the document is none of the profile: [entity.Document.Err], or empty
)

// Reason says why a document cannot be written in a view.
type Reason struct {
	View     string // its name
	Document string // IRI
	Code     string // such as [NoTitle]
	Text     string // in words
	Err      error  // what is behind [NotPrintable] and [Broken]; otherwise nil
}

func (e *Reason) Error() string { return fmt.Sprintf("%s: %s: %s", e.Document, e.View, e.Text) }

// Unwrap returns Err.
func (e *Reason) Unwrap() error { return e.Err }

// Check says why d cannot be written, as a [*Reason], or gives nil. Only what lies
// in the characters of a text or IRI ([NotPrintable], [BadIdentifier]) is found by
// [View.Append] alone.
func (v *View) Check(d *entity.Document, c *Context) error {
	w := begin(nil, v, d, c)
	defer w.free()
	return w.checked()
}

// CanLIDO is [View.Check] of LIDO for what it asks of a document alone.
func CanLIDO(d *entity.Document) error {
	return ByName("lido").Check(d, &Context{Publisher: Agent{Name: "the publisher"}})
}

// Append appends the document: for XML its root element with all the namespaces it
// needs and without an XML declaration, ready to stand in an OAI-PMH response; a line
// feed follows. If it cannot be written, Append returns dst as it was and a
// [*Reason]. Goroutines may share views and contexts, not documents.
func (v *View) Append(dst []byte, d *entity.Document, c *Context) ([]byte, error) {
	w := begin(dst, v, d, c)
	defer w.free()
	if err := w.checked(); err != nil {
		return dst, err
	}
	v.write(w)
	if w.bad != nil {
		return dst, w.bad
	}
	return append(w.b, '\n'), nil
}

// Document gives a document as a whole text, for XML with its declaration.
func (v *View) Document(d *entity.Document, c *Context) ([]byte, error) {
	var b []byte
	if v.Root != "" {
		b = append(b, Declaration...)
	}
	b, err := v.Append(b, d, c)
	if err != nil {
		return nil, err
	}
	return b, nil
}

// Declaration is what stands before an XML view's root element in a file.
const Declaration = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"

// Wrap gives what stands before and after the documents in a file of many; ok is
// false if the view has no such file.
func (v *View) Wrap() (before, after string, ok bool) {
	return Declaration + v.open, v.close, v.open != ""
}

// writer writes one document.
type writer struct {
	b            []byte
	v            *View
	d            *entity.Document
	c            *Context
	ev           []entity.Event
	bad          error
	head         [keyCount]int32 // the root's first value or node, by key; -1 for none
	link         []int32         // by event of the root: the next under the same key, -1 for none; 0 for all others
	tmp          []byte          // text being put together
	withIRIs     bool            // names in it are followed by IRIs
	withoutKinds bool            // a node\'s kinds have been said
	inClaim      bool            // a node is told as somebody's claim, with all that it has
	refs         []int32         // EDM: nodes to be described
	iris         []string        // EDM: what has been named
}

var writers = sync.Pool{New: func() any { return new(writer) }}

func begin(dst []byte, v *View, d *entity.Document, c *Context) *writer {
	w := writers.Get().(*writer)
	w.b, w.v, w.d, w.c, w.ev, w.bad = dst, v, d, c, d.Events(), nil
	w.refs, w.iris, w.withIRIs = w.refs[:0], w.iris[:0], false
	w.index()
	return w
}

func (w *writer) free() {
	clear(w.iris)
	w.b, w.d, w.c, w.ev = nil, nil, nil, nil
	writers.Put(w)
}

// checked is what the view demands.
func (w *writer) checked() error {
	if err := w.d.Err(); err != nil {
		return &Reason{View: w.v.Name, Document: strings.Clone(w.d.IRI()), Code: Broken, Text: err.Error(), Err: err}
	}
	if len(w.ev) == 0 {
		return w.reason(Broken, "the document is empty")
	}
	return w.v.check(w)
}

func (w *writer) checkAny() error { return nil }

func (w *writer) reason(code, text string) error {
	return &Reason{View: w.v.Name, Document: strings.Clone(w.d.IRI()), Code: code, Text: text}
}

// page is the address of the page of the document.
func (w *writer) page() string {
	iri := w.ev[0].Value
	if w.c.Page != nil {
		return w.c.Page(iri)
	}
	return iri
}

// onWeb reports whether an IRI is an address on the web.
func onWeb(iri string) bool {
	return strings.HasPrefix(iri, "https://") || strings.HasPrefix(iri, "http://")
}
