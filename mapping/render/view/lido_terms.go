package view

const (
	lidoNamespace = "http://www.lido-schema.org"
	lidoSchema    = "http://www.lido-schema.org/schema/v1.1/lido-v1.1.xsd"

	lidoAttributes = ` xmlns:lido="` + lidoNamespace + `" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="` + lidoNamespace + ` ` + lidoSchema + `"`

	lidoTerms = "http://terminology.lido-schema.org/"
)

// Concepts of the LIDO Terminology, as the schema and the published examples of LIDO
// use them. Those that stand in neither are marked.
const (
	isURI   = ` lido:type="` + lidoTerms + `lido00099"` // kind of identifier: URI
	isLocal = ` lido:type="` + lidoTerms + `lido00100"` // kind of identifier: local

	lidoPreferred   = lidoTerms + "lido00169"
	lidoAlternative = lidoTerms + "lido00170"

	lidoPerson = lidoTerms + "lido00163"
	lidoGroup  = lidoTerms + "lido00413"

	lidoInventoryNumber = lidoTerms + "lido00113"
	lidoCurrent         = lidoTerms + "lido00475" // kind of repository
	lidoTechnique       = lidoTerms + "lido00131"
	lidoMaterial        = lidoTerms + "lido00132"
	lidoProvidedImage   = lidoTerms + "lido00464"
	lidoRecordPage      = lidoTerms + "lido00916"
	lidoGeneric         = lidoTerms + "lido00920" // kind of rights: a right as such
	lidoSpecific        = lidoTerms + "lido00921" // kind of rights: a statement or licence
)

// lidoTerm is a concept that is written with its English label.
type lidoTerm struct{ id, label string }

var (
	lidoHumanMade = lidoTerm{lidoTerms + "lido00096", "Human-made object"}
	lidoItem      = lidoTerm{lidoTerms + "lido00141", "Item-level record"}
	lidoComponent = lidoTerm{lidoTerms + "lido00447", "Component-level record"}
	lidoOwnership = lidoTerm{aatBase + "300055603", "ownership"}

	isPartOf       = lidoTerm{lidoTerms + "lido00574", "is part of"}
	isDocumentedIn = lidoTerm{lidoTerms + "lido00617", "is documented in"}
	isShowing      = lidoTerm{"", "shows"}
	isCarrying     = lidoTerm{"", "carries"}
	isHeldBy       = lidoTerm{"", "is held or supported by"}

	// Of events.
	wasPartOf    = lidoTerm{"", "is part of"}
	wasCausedBy  = lidoTerm{"", "caused by"}
	cameAfter    = lidoTerm{"", "after"}
	cameBefore   = lidoTerm{"", "before"}
	wasShapedBy  = lidoTerm{"", "influenced by"}
	ownerBefore  = lidoTerm{"", "previous owner"}
	ownerAfter   = lidoTerm{"", "new owner"}
	noWordsOfIt  = lidoTerm{"", "claimed"}
	ofNoKindSaid = lidoTerm{"", "dimension"}

	lidoProduction   = lidoTerm{lidoTerms + "lido00007", "Production"}
	lidoAcquisition  = lidoTerm{lidoTerms + "lido00001", "Acquisition"}
	lidoFinding      = lidoTerm{lidoTerms + "lido00002", "Finding"}      // from a guide of an aggregator
	lidoModification = lidoTerm{lidoTerms + "lido00006", "Modification"} // from a guide of an aggregator
	lidoUse          = lidoTerm{lidoTerms + "lido00011", "Use"}          // from a guide of an aggregator
	lidoPartRemoval  = lidoTerm{lidoTerms + "lido00021", "Part removal"} // from memory
	lidoDestruction  = lidoTerm{lidoTerms + "lido00026", "Destruction"}  // from memory
	lidoExhibition   = lidoTerm{lidoTerms + "lido00225", "Exhibition"}   // from memory
	lidoEvent        = lidoTerm{lidoTerms + "lido00003", "Event"}        // from memory
)

// ownTerm writes a concept of ours or of the LIDO Terminology.
func (w *writer) ownTerm(tag string, t lidoTerm) {
	w.b = append(w.b, '<')
	w.s(tag)
	w.b = append(w.b, '>')
	w.ownTermParts(t)
	w.end(tag)
}

func (w *writer) ownTermParts(t lidoTerm) {
	if t.id != "" {
		w.s("<lido:conceptID" + isURI + ">")
		w.s(t.id)
		w.s("</lido:conceptID>")
	}
	w.s(`<lido:term xml:lang="en">`)
	w.s(t.label)
	w.s("</lido:term>")
}

// concept writes a reference to a concept, with the attribute lido:type unless that
// is empty.
func (w *writer) concept(tag, typ string, at int32) {
	m := w.beginWith(tag, " lido:type", typ)
	w.conceptParts(at)
	w.close(m)
}

func (w *writer) conceptParts(at int32) {
	w.identifier("lido:conceptID", w.iri(at))
	for i := w.first(at, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
		w.identifier("lido:conceptID", w.iri(i))
	}
	label := w.text(at, kLabel)
	w.element("lido:term", label, "")
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); s != label && said(s) {
			w.s("<lido:term")
			w.attr(" lido:pref", w.preference(i))
			w.attr(" xml:lang", w.lang(i))
			w.b = append(w.b, '>')
			w.escaped(s)
			w.s("</lido:term>")
		}
	}
}

// identifier writes an identifier that is a URI.
func (w *writer) identifier(tag, iri string) {
	if iri == "" {
		return
	}
	w.b = append(w.b, '<')
	w.s(tag)
	w.s(isURI)
	w.b = append(w.b, '>')
	w.escaped(iri)
	w.end(tag)
}

// localIdentifier writes any other identifier.
func (w *writer) localIdentifier(tag, label, text string) {
	if !said(text) {
		return
	}
	w.b = append(w.b, '<')
	w.s(tag)
	w.s(isLocal)
	w.attr(" lido:label", label)
	w.b = append(w.b, '>')
	w.escaped(text)
	w.end(tag)
}

// preference tells the primary name from others.
func (w *writer) preference(name int32) string {
	if w.isKind(name, aatPrimaryName) {
		return lidoPreferred
	}
	return lidoAlternative
}

// actor writes a reference to a person or group.
func (w *writer) actor(at int32) {
	typ := ""
	switch w.class(at) {
	case cPerson:
		typ = lidoPerson
	case cGroup:
		typ = lidoGroup
	}
	m := w.beginWith("lido:actor", " lido:type", typ)
	w.identifier("lido:actorID", w.iri(at))
	w.s("<lido:nameActorSet><lido:appellationValue>")
	w.escaped(w.called(at))
	w.s("</lido:appellationValue></lido:nameActorSet>")
	w.close(m)
}

// legalBody writes what identifies a body.
func (w *writer) legalBody(at int32) {
	w.identifier("lido:legalBodyID", w.iri(at))
	w.appellation("lido:legalBodyName", w.name(at))
}

func (w *writer) appellation(tag, name string) {
	m := w.begin(tag)
	w.element("lido:appellationValue", name, "")
	w.close(m)
}

func (w *writer) legalAgent(a Agent) {
	w.identifier("lido:legalBodyID", a.IRI)
	w.appellation("lido:legalBodyName", a.Name)
	w.element("lido:legalBodyWeblink", a.Page, "")
}

// placeParts writes what identifies a place.
func (w *writer) placeParts(at int32) {
	w.identifier("lido:placeID", w.iri(at))
	w.appellation("lido:namePlaceSet", w.name(at))
}

// objectParts writes what identifies an object or work.
func (w *writer) objectParts(at int32) {
	w.identifier("lido:objectID", w.iri(at))
	w.appellation("lido:objectName", w.name(at))
}

// note writes a statement's text with its language and, as lido:label, its heading and
// the names of its kinds.
func (w *writer) note(tag string, statement int32) {
	text := w.text(statement, kContent)
	if !said(text) {
		return
	}
	w.b = append(w.b, '<')
	w.s(tag)
	w.attr(" xml:lang", w.lang(statement))
	w.compose()
	w.say(w.heading(statement))
	w.sayNames(statement, kClassifiedAs, ": ")
	w.attr(" lido:label", w.composed())
	w.b = append(w.b, '>')
	w.escaped(text)
	w.end(tag)
}

// sources writes the texts that say where a statement or name was taken from.
func (w *writer) sources(tag string, at int32) {
	for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		w.element(tag, w.text(i, kContent), w.lang(i))
	}
}

// dates writes the words and bounds of a node's time span.
func (w *writer) dates(tag string, at int32) {
	span := w.first(at, kTimespan)
	if span < 0 {
		return
	}
	m := w.begin(tag)
	for i := w.first(span, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		w.element("lido:displayDate", w.text(i, kContent), w.lang(i))
	}
	from, to, _ := w.moments(at)
	d := w.begin("lido:date")
	w.element("lido:earliestDate", from, "")
	w.element("lido:latestDate", to, "")
	w.close(d)
	w.close(m)
}
