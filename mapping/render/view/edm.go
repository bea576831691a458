package view

import (
	"net/netip"
	"strconv"
	"strings"
)

const (
	rdfNamespace = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	edmSchema    = "http://www.europeana.eu/schemas/edm/EDM.xsd"

	edmAttributes = ` xmlns:rdf="` + rdfNamespace + `" xmlns:edm="http://www.europeana.eu/schemas/edm/" xmlns:ore="http://www.openarchives.org/ore/terms/"` +
		` xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/" xmlns:skos="http://www.w3.org/2004/02/skos/core#"` +
		` xmlns:owl="http://www.w3.org/2002/07/owl#" xmlns:ebucore="http://www.ebu.ch/metadata/ontologies/ebucore/ebucore#"` +
		` xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="` + rdfNamespace + ` ` + edmSchema + `"`
)

// file is a digital file that shows the object.
type file struct {
	visual, digital, access int32
	rights                  string // IRI
}

// files calls f for every file on the web that shows the object and of which it is
// known what may be done with it, until f returns false. A file without rights of its
// own would fall under those of the others.
func (w *writer) files(f func(file) bool) {
	for v := w.first(0, kRepresentation); v >= 0; v = w.next(v, kRepresentation) {
		for d := w.first(v, kDigitallyShownBy); d >= 0; d = w.next(d, kDigitallyShownBy) {
			rights := w.rightsOfFile(v, d)
			for a := w.first(d, kAccessPoint); a >= 0; a = w.next(a, kAccessPoint) {
				if rights != "" && onWeb(w.ev[a].Value) && !f(file{v, d, a, rights}) {
					return
				}
			}
		}
	}
}

// rightsOfFile is the IRI of what may be done with a file; "" if that is not known. A
// file of which the document says something that is no known licence does not get the
// context's.
func (w *writer) rightsOfFile(visual, digital int32) string {
	words := false
	for _, at := range [...]int32{digital, visual} {
		for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			if w.use(i) != useRights {
				continue
			}
			if iri := w.licenceOf(i); iri != "" {
				return canonicalRights(iri)
			}
			words = words || said(w.text(i, kContent))
		}
	}
	if words {
		return ""
	}
	return canonicalRights(w.c.Rights)
}

// edmRights is what holds for the object's digital form: the rights of the file that is
// shown first or, where there are no files, the licence of the record, which is all
// there is to see.
func (w *writer) edmRights() string {
	rights := ""
	w.files(func(f file) bool { rights = f.rights; return false })
	if rights == "" && w.first(0, kRepresentation) < 0 {
		rights = canonicalRights(w.c.Licence)
		if rights == "" {
			rights = canonicalRights(w.c.Rights)
		}
	}
	return rights
}

// ownPage is the museum's page about the object or, for want of one, the page of the
// record; "" if there is none on the web.
func (w *writer) ownPage() string {
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		if !w.isPage(i) {
			continue
		}
		for k := w.first(i, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
			if a := w.first(k, kAccessPoint); a >= 0 && onWeb(w.ev[a].Value) {
				return w.ev[a].Value
			}
		}
	}
	if page := w.page(); onWeb(page) {
		return page
	}
	return ""
}

// checkEDM sees to what the schema of EDM (external) and its rules demand: a title; a
// type, subject or place; a provider; a page or a file; rights.
func (w *writer) checkEDM() error {
	if w.class(0) != cObject {
		return w.reason(WrongClass, "EDM describes objects here, and this is none")
	}
	if !w.hasName() {
		return w.reason(NoTitle, "it has no name or title, and EDM demands one")
	}
	if w.first(0, kClassifiedAs) < 0 {
		return w.reason(NoObjectType, "it is not classified, and EDM demands to know what it is")
	}
	if !said(w.c.Publisher.Name) {
		return w.reason(NoPublisher, "the site does not say who publishes its records, and EDM demands it")
	}
	if w.ownPage() == "" {
		shown := false
		w.files(func(file) bool { shown = true; return false })
		if !shown {
			return w.reason(NotOnWeb, "neither it nor a file of it has a page on the web, and EDM demands one")
		}
	}
	if w.edmRights() == "" {
		if w.first(0, kRepresentation) >= 0 {
			return w.reason(NoRights, "none of its pictures and files comes with the IRI of a licence or rights statement, and EDM demands one")
		}
		return w.reason(NoRights, "the site does not say under which licence its records are, and EDM demands it")
	}
	return nil
}

// edm writes the element rdf:RDF. Within it the order of the classes is free; that of
// properties is the schema's.
func (w *writer) edm() {
	w.s("<rdf:RDF" + edmAttributes + ">")
	w.edmObject()
	w.edmAggregation()
	w.edmFiles()
	w.edmContext()
	w.s("</rdf:RDF>")
}

// resource writes a property that refers to an IRI.
func (w *writer) resource(tag, iri string) {
	if iri == "" {
		return
	}
	w.b = append(w.b, '<')
	w.s(tag)
	w.uri(" rdf:resource", iri)
	w.s("/>")
}

// entity writes a property that refers to a node, which is described further on.
func (w *writer) entity(tag string, at int32) {
	w.resource(tag, w.ev[at].Value)
	if w.name(at) != "" && w.fresh(w.ev[at].Value) {
		w.refs = append(w.refs, at)
	}
}

func (w *writer) entities(tag string, at int32, k key) {
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		if w.ev[i].Ref {
			w.entity(tag, i)
		}
	}
}

// about begins an element for a thing with an IRI.
func (w *writer) about(tag, iri string) {
	w.b = append(w.b, '<')
	w.s(tag)
	w.uri(" rdf:about", iri)
	w.b = append(w.b, '>')
}

// uri writes an attribute that XML Schema holds to be a URI (anyURI).
func (w *writer) uri(attr, iri string) {
	if !anyURI(iri) && w.bad == nil {
		w.bad = w.reason(BadIdentifier, strconv.Quote(iri)+" is no URI by RFC 3986, and EDM demands one")
	}
	w.attr(attr, iri)
}

// anyURI reports whether an IRI, of characters that entity.CheckIRI allows, has the parts
// of RFC 3986 §3: one fragment, brackets in the host alone, a port of digits.
func anyURI(iri string) bool {
	if i := strings.IndexByte(iri, '#'); i >= 0 && strings.IndexByte(iri[i+1:], '#') >= 0 {
		return false
	}
	_, rest, ok := strings.Cut(iri, "://")
	if !ok {
		return !strings.ContainsAny(iri, "[]")
	}
	authority := rest
	if i := strings.IndexAny(rest, "/?#"); i >= 0 {
		authority, rest = rest[:i], rest[i:]
		if strings.ContainsAny(rest, "[]") {
			return false
		}
	}
	host := authority[strings.LastIndexByte(authority, '@')+1:]
	port := ""
	if strings.HasPrefix(host, "[") {
		end := strings.IndexByte(host, ']')
		if end < 0 {
			return false
		}
		if _, err := netip.ParseAddr(host[1:end]); err != nil {
			return false
		}
		host, port = "", host[end+1:]
		if port != "" && port[0] != ':' {
			return false
		}
		port = strings.TrimPrefix(port, ":")
	} else {
		host, port, _ = strings.Cut(host, ":")
	}
	return !strings.ContainsAny(host, "[]") && strings.Trim(port, "0123456789") == ""
}

func (w *writer) edmObject() {
	w.about("edm:ProvidedCHO", w.ev[0].Value)
	w.edmMaking(w.first(0, kProducedBy))
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		tag := "dc:description"
		switch u := w.use(i); {
		case u == useRights:
			tag = "dc:rights"
		case u == useCredit || w.isKind(i, aatProvenanceText):
			tag = "dcterms:provenance"
		case u == useDimensions:
			tag = "dcterms:extent"
		case u == useMaterials:
			tag = "dcterms:medium"
		case u == useCitation:
			tag = "dcterms:isReferencedBy"
		}
		text, lang := w.text(i, kContent), w.lang(i)
		if tag == "dc:description" {
			text, lang = w.told(i)
		}
		w.element(tag, text, lang)
	}
	w.describeDoubts("dc:description")
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier {
			w.element("dc:identifier", w.text(i, kContent), "")
		}
	}
	for _, k := range [...]key{kCarries, kHeldOrSupportedBy} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.resource("dc:relation", w.ev[i].Value)
			w.element("dc:relation", w.name(i), "")
		}
	}
	for i := w.first(0, kShows); i >= 0; i = w.next(i, kShows) {
		w.resource("dc:subject", w.ev[i].Value)
		w.element("dc:subject", w.name(i), "")
	}
	w.edmTitles()
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		w.entity("dc:type", i)
	}
	for i := w.first(0, kDimension); i >= 0; i = w.next(i, kDimension) {
		w.compose()
		w.sayMeasure(i)
		w.element("dcterms:extent", w.composed(), "")
	}
	for _, k := range [...]key{kPartOf, kMemberOf} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.resource("dcterms:isPartOf", w.ev[i].Value)
			w.element("dcterms:isPartOf", w.name(i), "")
		}
	}
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		w.edmDiscussion(i)
	}
	w.entities("dcterms:medium", 0, kMadeOf)
	w.edmHistory()
	if i := w.first(0, kCurrentLocation); i >= 0 {
		w.entity("edm:currentLocation", i)
	}
	w.edmMet()
	w.s("<edm:type>")
	w.s(w.edmType())
	w.s("</edm:type>")
	for i := w.first(0, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
		w.resource("owl:sameAs", w.ev[i].Value)
	}
	w.s("</edm:ProvidedCHO>")
}

// edmMaking writes who surely made the object, when, where and how.
func (w *writer) edmMaking(at int32) {
	if at < 0 || !w.surely(at) {
		return
	}
	for i := w.first(at, kCarriedOutBy); i >= 0; i = w.next(i, kCarriedOutBy) {
		w.entity("dc:creator", i)
	}
	w.entities("dc:format", at, kTechnique)
	if i := w.first(at, kTimespan); i >= 0 {
		w.edmTime("dcterms:created", i)
	}
	w.entities("dcterms:spatial", at, kTookPlaceAt)
	if at == w.made() || w.first(at, kClassifiedAs) < 0 && w.first(at, kIdentifiedBy) < 0 { // others are described with their notes
		for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			w.element("dc:description", w.text(i, kContent), w.lang(i))
		}
	}
	for i := w.first(at, kPart); i >= 0; i = w.next(i, kPart) {
		w.edmMaking(i)
	}
}

// edmTime refers to a time span by the IRI that it has in RDF, if there is anything to
// say of it.
func (w *writer) edmTime(tag string, span int32) {
	if w.spanWords(span) == "" && w.first(span, kBeginOfTheBegin) < 0 && w.first(span, kEndOfTheEnd) < 0 {
		return
	}
	iri := w.d.Names()[span]
	w.resource(tag, iri)
	if w.fresh(iri) {
		w.refs = append(w.refs, span)
	}
}

func (w *writer) edmTitles() {
	main := int32(-1)
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cName && said(w.text(i, kContent)) && (main < 0 || w.isKind(i, aatPrimaryName) && !w.isKind(main, aatPrimaryName)) {
			main = i
		}
	}
	w.element("dc:title", w.text(main, kContent), w.lang(main))
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cName && i != main {
			w.element("dcterms:alternative", w.text(i, kContent), w.lang(i))
		}
	}
}

// edmDiscussion writes a text about the object: its address, unless that is where the
// object is shown, or else its names and notes.
func (w *writer) edmDiscussion(at int32) {
	n := 0
	for k := w.first(at, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
		for a := w.first(k, kAccessPoint); a >= 0; a = w.next(a, kAccessPoint) {
			if n++; w.ev[a].Value != w.ownPage() {
				w.resource("dcterms:isReferencedBy", w.ev[a].Value)
			}
		}
	}
	if n > 0 {
		return
	}
	w.compose()
	w.sayNode(at)
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier && said(w.text(i, kContent)) {
			w.sep("; ")
			w.say(w.text(i, kContent))
		}
	}
	w.element("dcterms:isReferencedBy", w.composed(), "")
}

// edmHistory tells what else happened to the object, in words.
func (w *writer) edmHistory() {
	for _, e := range [...]struct {
		k         key
		tag, word string
	}{
		{kChangedOwnership, "dcterms:provenance", "Changed owner"}, {kEncounteredBy, "dcterms:provenance", "Found"},
		{kRemovedBy, "dcterms:provenance", "Removed from a whole"}, {kModifiedBy, "dc:description", "Altered"},
		{kUsedFor, "dc:description", "Used"}, {kDestroyedBy, "dc:description", "Destroyed"},
	} {
		for i := w.first(0, e.k); i >= 0; i = w.next(i, e.k) {
			w.compose()
			w.say(e.word)
			from := len(w.tmp)
			w.say(": ")
			n := len(w.tmp)
			w.sayNode(i)
			if len(w.tmp) == n {
				w.tmp = w.tmp[:from]
			}
			w.element(e.tag, w.composed(), "")
		}
	}
}

// edmMet writes the people, groups and places that the object surely met: those who
// owned, kept, found or altered it, and where.
func (w *writer) edmMet() {
	for _, k := range [...]key{kCurrentOwner, kCurrentCustodian, kPermanentCustodian, kPermanentLocation} {
		w.met(0, k)
	}
	for _, e := range [...]key{kChangedOwnership, kEncounteredBy, kRemovedBy, kModifiedBy, kUsedFor, kDestroyedBy} {
		for i := w.first(0, e); i >= 0; i = w.next(i, e) {
			for _, k := range [...]key{kCarriedOutBy, kTitleFrom, kTitleTo, kTookPlaceAt} {
				w.met(i, k)
			}
			if s := w.first(i, kTimespan); s >= 0 {
				w.edmTime("edm:hasMet", s)
			}
		}
	}
}

// met writes nodes that have not been named yet: one meeting is enough.
func (w *writer) met(at int32, k key) {
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		if w.fresh(w.ev[i].Value) {
			w.resource("edm:hasMet", w.ev[i].Value)
			if w.name(i) != "" {
				w.refs = append(w.refs, i)
			}
		}
	}
}

// edmType is the material type of the object: that of the file by which it is shown
// first; a thing that only a page shows is one to be looked at.
func (w *writer) edmType() string {
	t := ""
	w.files(func(f file) bool { t = edmTypeOf(w.text(f.digital, kFormat)); return false })
	if t == "" || t == "TEXT" { // TEXT demands a language of the object
		return "IMAGE"
	}
	return t
}

func edmTypeOf(format string) string {
	switch top, _, _ := strings.Cut(format, "/"); top {
	case "model":
		return "3D"
	case "audio":
		return "SOUND"
	case "video":
		return "VIDEO"
	case "text":
		return "TEXT"
	}
	return "IMAGE"
}
