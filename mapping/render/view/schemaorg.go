package view

import (
	"strings"

	"ropewalk/mapping/render"
)

// schemaOrg writes what search engines read: plain data in the terms of schema.org. In
// its strings the less-than sign is escaped, so that the text can stand in a script
// element of a page.
func (w *writer) schemaOrg() {
	w.s(`{"@context":"https://schema.org"`)
	w.pair("@id", w.ev[0].Value)
	w.pair("@type", w.schemaType(0))
	w.pair("name", w.schemaName())
	w.otherNames()
	w.numbers()
	w.address("url", w.page())
	w.list("sameAs", 0, kEquivalent, (*writer).iriString)
	w.schemaDescription()
	w.schemaImages()
	switch w.class(0) {
	case cPerson:
		w.schemaPerson()
	case cGroup:
		w.schemaGroup()
	case cPlace:
		w.schemaPlace()
	case cType:
	case cActivity, cEvent, cPeriod:
		w.schemaEvent()
	default:
		w.schemaWork()
	}
	w.additionalTypes()
	w.s("}")
}

// schemaType is the type of a node in schema.org.
func (w *writer) schemaType(at int32) string {
	switch w.class(at) {
	case cPerson:
		return "Person"
	case cGroup:
		return "Organization"
	case cPlace:
		return "Place"
	case cType:
		return "DefinedTerm"
	case cSet:
		return "Collection"
	case cActivity, cEvent, cPeriod:
		if w.isKind(at, aatExhibition) || w.isKind(at, aatExhibitions) {
			return "ExhibitionEvent"
		}
		return "Event"
	case cDigital:
		return mediaType(w.text(at, kFormat))
	case cObject:
		for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			switch aat(w.ev[i].Value) {
			case 300133025, 300033618, 300033973, 300041273, 300046300, 300047090:
				return "VisualArtwork"
			}
		}
		return "CreativeWork"
	case cText, cVisual, cAbstract:
		return "CreativeWork"
	}
	return "Thing"
}

func mediaType(format string) string {
	switch top, _, _ := strings.Cut(format, "/"); top {
	case "image":
		return "ImageObject"
	case "model":
		return "3DModel"
	case "audio":
		return "AudioObject"
	case "video":
		return "VideoObject"
	}
	return "MediaObject"
}

// The writing of JSON. A comma is needed unless something has just begun.

func (w *writer) comma() {
	if c := w.b[len(w.b)-1]; c != '{' && c != '[' {
		w.b = append(w.b, ',')
	}
}

func (w *writer) member(key string) {
	w.comma()
	w.b = append(w.b, '"')
	w.s(key)
	w.s(`":`)
}

func (w *writer) quoted(s string) {
	w.b = append(w.b, '"')
	for {
		i := strings.IndexByte(s, '<')
		head := s
		if i >= 0 {
			head = s[:i]
		}
		var ok bool
		if w.b, ok = render.AppendJSON(w.b, head); !ok {
			w.fail(s)
		}
		if i < 0 {
			break
		}
		w.s(`\u003c`)
		s = s[i+1:]
	}
	w.b = append(w.b, '"')
}

// pair writes a member, if there is a value.
func (w *writer) pair(key, value string) {
	if said(value) {
		w.member(key)
		w.quoted(value)
	}
}

// address writes a member that is an address on the web.
func (w *writer) address(key, iri string) {
	if onWeb(iri) {
		w.pair(key, iri)
	}
}

// array is a member with a list that has been begun.
type array struct{ at, after int }

func (w *writer) array(key string) array {
	at := len(w.b)
	w.member(key)
	w.b = append(w.b, '[')
	return array{at, len(w.b)}
}

// done ends a list; an empty one is taken back.
func (w *writer) done(a array) {
	if len(w.b) == a.after {
		w.b = w.b[:a.at]
		return
	}
	w.b = append(w.b, ']')
}

// item writes a string into a list.
func (w *writer) item(s string) {
	if said(s) {
		w.comma()
		w.quoted(s)
	}
}

// list writes a member with an item for every node under k.
func (w *writer) list(key string, at int32, k key, item func(*writer, int32)) {
	if at < 0 {
		return
	}
	a := w.array(key)
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		item(w, i)
	}
	w.done(a)
}

func (w *writer) iriString(at int32) { w.item(w.ev[at].Value) }

func (w *writer) nameString(at int32) { w.item(w.called(at)) }

// thing writes a reference: type, IRI, name.
func (w *writer) thing(at int32) { w.thingOf(at, w.schemaType(at)) }

func (w *writer) thingOf(at int32, typ string) {
	w.comma()
	w.b = append(w.b, '{')
	w.pair("@type", typ)
	w.pair("@id", w.iri(at))
	w.pair("name", w.name(at))
	w.b = append(w.b, '}')
}

// agent writes a body of the context.
func (w *writer) agent(key string, a Agent) {
	if !said(a.Name) {
		return
	}
	w.member(key)
	w.s(`{"@type":"Organization"`)
	w.pair("@id", a.IRI)
	w.pair("name", a.Name)
	w.address("url", a.Page)
	w.s("}")
}

// schemaName is the primary name, or else the first, or else the label.
func (w *writer) schemaName() string {
	if i := w.mainName(); i >= 0 {
		return w.text(i, kContent)
	}
	return w.text(0, kLabel)
}

func (w *writer) mainName() int32 {
	main := int32(-1)
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cName && said(w.text(i, kContent)) && (main < 0 || w.isKind(i, aatPrimaryName) && !w.isKind(main, aatPrimaryName)) {
			main = i
		}
	}
	return main
}

func (w *writer) otherNames() {
	main := w.mainName()
	a := w.array("alternateName")
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cName && i != main {
			w.item(w.text(i, kContent))
		}
	}
	w.done(a)
}

func (w *writer) numbers() {
	a := w.array("identifier")
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if content := w.text(i, kContent); w.class(i) == cIdentifier && said(content) {
			w.comma()
			w.s(`{"@type":"PropertyValue"`)
			w.pair("name", w.numberLabel(i))
			w.pair("propertyID", w.firstIRI(i, kClassifiedAs))
			w.pair("value", content)
			w.s("}")
		}
	}
	w.done(a)
}

// schemaDescription writes the statements that have no property of their own, and what
// is claimed, as such.
func (w *writer) schemaDescription() {
	a := w.array("description")
	work := w.isWork()
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		switch u := w.use(i); {
		case work && (u == useRights || u == useCredit || u == useCitation || u == useMaterials || u == useDimensions):
		default:
			text, _ := w.told(i)
			w.item(text)
		}
	}
	for i := w.first(0, kAttributedBy); i >= 0; i = w.next(i, kAttributedBy) {
		w.sayClaimInFull(i)
		w.item(w.composed())
	}
	if c := w.class(0); c == cActivity || c == cEvent || c == cPeriod {
		for i := w.first(0, kPart); i >= 0; i = w.next(i, kPart) {
			w.compose()
			w.sayTransfer(i)
			w.item(w.composed())
		}
	}
	w.describeSteps(w.made(), true, func() { w.item(w.composed()) })
	w.done(a)
}

// isWork reports whether the document's type is one of works in schema.org.
func (w *writer) isWork() bool {
	switch w.class(0) {
	case cObject, cText, cVisual, cDigital, cAbstract, cSet:
		return true
	}
	return false
}

// schemaImages writes pictures as image and other files as media of the work.
func (w *writer) schemaImages() {
	a := w.array("image")
	w.media(true)
	w.done(a)
	if w.isWork() {
		a = w.array("associatedMedia")
		w.media(false)
		w.done(a)
	}
}

func (w *writer) media(images bool) {
	for v := w.first(0, kRepresentation); v >= 0; v = w.next(v, kRepresentation) {
		for d := w.first(v, kDigitallyShownBy); d >= 0; d = w.next(d, kDigitallyShownBy) {
			format := w.text(d, kFormat)
			typ := mediaType(format)
			if w.isKind(d, aatDigitalImage) {
				typ = "ImageObject"
			}
			if (typ == "ImageObject") != images {
				continue
			}
			for a := w.first(d, kAccessPoint); a >= 0; a = w.next(a, kAccessPoint) {
				w.comma()
				w.s(`{`)
				w.pair("@type", typ)
				w.pair("contentUrl", w.ev[a].Value)
				w.pair("encodingFormat", format)
				w.pair("name", w.firstName(d, v))
				w.rightsOf(d, v)
				w.s("}")
			}
		}
	}
}

// firstName is the first name of the first node that has one.
func (w *writer) firstName(nodes ...int32) string {
	for _, at := range nodes {
		for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
			if s := w.text(i, kContent); w.class(i) == cName && said(s) {
				return s
			}
		}
	}
	return ""
}

// rightsOf writes the licences of nodes, and what they say of rights and credit in
// words.
func (w *writer) rightsOf(nodes ...int32) {
	licences := w.array("license")
	for _, at := range nodes {
		for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			if w.use(i) == useRights {
				w.item(w.licenceOf(i))
			}
		}
		for i := w.first(at, kSubjectTo); i >= 0; i = w.next(i, kSubjectTo) {
			for k := w.first(i, kClassifiedAs); k >= 0; k = w.next(k, kClassifiedAs) {
				w.item(w.ev[k].Value)
			}
		}
	}
	w.done(licences)
	for _, p := range [...]struct {
		u   use
		key string
	}{{useRights, "copyrightNotice"}, {useCredit, "creditText"}} {
		a := w.array(p.key)
		for _, at := range nodes {
			for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
				if w.use(i) == p.u && !isRights(w.text(i, kContent)) {
					w.item(w.text(i, kContent))
				}
			}
			if p.u == useRights {
				for i := w.first(at, kSubjectTo); i >= 0; i = w.next(i, kSubjectTo) {
					for k := w.first(i, kReferredToBy); k >= 0; k = w.next(k, kReferredToBy) {
						w.item(w.text(k, kContent))
					}
				}
			}
		}
		w.done(a)
	}
}

// additionalTypes writes the IRIs of classifications, save those that say of people what
// they did and were.
func (w *writer) additionalTypes() {
	a := w.array("additionalType")
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if !w.isKind(i, aatOccupation) && !w.isKind(i, aatNationality) && !w.isKind(i, aatGender) {
			w.iriString(i)
		}
	}
	w.done(a)
}
