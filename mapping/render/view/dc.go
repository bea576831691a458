package view

import "strings"

const (
	dcNamespace = "http://www.openarchives.org/OAI/2.0/oai_dc/"
	dcSchema    = "http://www.openarchives.org/OAI/2.0/oai_dc.xsd"
)

// dc writes simple Dublin Core: one element for each thing the document says that
// one of the fifteen has room for.
func (w *writer) dc() {
	w.s(`<oai_dc:dc xmlns:oai_dc="` + dcNamespace + `" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="` + dcNamespace + ` ` + dcSchema + `">`)
	w.dcTitles()
	w.dcMakers()
	w.dcSubjects()
	w.dcDescriptions()
	if w.class(0) != cText || !w.published() {
		w.element("dc:publisher", w.c.Publisher.Name, "")
	}
	w.dcDates()
	w.dcTypes()
	w.dcFormats()
	w.dcIdentifiers()
	if w.class(0) == cText {
		for i := w.first(0, kLanguage); i >= 0; i = w.next(i, kLanguage) {
			if tag := languageTag(w.ev[i].Value); tag != "" {
				w.element("dc:language", tag, "")
			} else {
				w.element("dc:language", w.called(i), "")
			}
		}
	}
	w.dcRelations()
	w.dcCoverage()
	w.dcRights()
	w.s("</oai_dc:dc>")
}

// dcNames writes the names of all nodes under k.
func (w *writer) dcNames(tag string, at int32, k key) {
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		w.element(tag, w.called(i), "")
	}
}

// dcOnce does so for nodes that have not been named since iris was emptied.
func (w *writer) dcOnce(tag string, at int32, k key) {
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		if w.fresh(w.ev[i].Value) {
			w.element(tag, w.called(i), "")
		}
	}
}

// makings calls f for every step of a making that is told as a fact.
func (w *writer) makings(at int32, f func(step int32)) {
	if at < 0 || !w.surely(at) {
		return
	}
	f(at)
	for i := w.first(at, kPart); i >= 0; i = w.next(i, kPart) {
		w.makings(i, f)
	}
}

func (w *writer) dcTitles() {
	n := 0
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); w.class(i) == cName && said(s) {
			w.element("dc:title", s, w.lang(i))
			n++
		}
	}
	if n == 0 {
		w.element("dc:title", w.text(0, kLabel), "")
	}
}

// made is the node of the making of what the document is about, or -1.
func (w *writer) made() int32 {
	if i := w.first(0, kProducedBy); i >= 0 {
		return i
	}
	return w.first(0, kCreatedBy)
}

// surely reports whether a step of a making is told as a fact: neither given up nor
// with a qualified attribution.
func (w *writer) surely(at int32) bool {
	if w.givenUp(at) {
		return false
	}
	for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if attributionQualifier(aat(w.ev[i].Value)) {
			return false
		}
	}
	return true
}

func (w *writer) dcMakers() {
	w.iris = w.iris[:0]
	w.makings(w.made(), func(step int32) { w.dcOnce("dc:creator", step, kCarriedOutBy) })
	w.dcNames("dc:contributor", 0, kCarriedOutBy)
	w.dcNames("dc:contributor", 0, kParticipant)
	for i := w.first(0, kUsedFor); i >= 0; i = w.next(i, kUsedFor) {
		if w.isKind(i, aatPublishing) {
			w.dcNames("dc:publisher", i, kCarriedOutBy)
		}
	}
}

// published reports whether it is known who published a text.
func (w *writer) published() bool {
	for i := w.first(0, kUsedFor); i >= 0; i = w.next(i, kUsedFor) {
		if w.isKind(i, aatPublishing) && w.first(i, kCarriedOutBy) >= 0 {
			return true
		}
	}
	return false
}

// fresh reports whether an IRI has not been named before, and remembers it.
func (w *writer) fresh(iri string) bool {
	for _, s := range w.iris {
		if s == iri {
			return false
		}
	}
	w.iris = append(w.iris, iri)
	return true
}

func (w *writer) dcSubjects() {
	for _, k := range [...]key{kShows, kAbout, kRepresents, kRepresentsType} {
		w.dcNames("dc:subject", 0, k)
	}
}

// dcEvents are the keys of what happened that no element of its own tells.
var dcEvents = [...]struct {
	k    key
	word string
}{
	{kEncounteredBy, "Found"}, {kModifiedBy, "Altered"}, {kRemovedBy, "Removed from a whole"}, {kDestroyedBy, "Destroyed"},
	{kChangedOwnership, "Changed owner"}, {kUsedFor, "Used"}, {kBorn, "Born"}, {kDied, "Died"}, {kFormedBy, "Founded"},
	{kDissolvedBy, "Ended"}, {kCarriedOut, "Active"}, {kParticipatedIn, "Took part"},
}

func (w *writer) dcDescriptions() {
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		switch w.use(i) {
		case useRights, useDimensions, useMaterials, useCitation:
		default:
			text, lang := w.told(i)
			w.element("dc:description", text, lang)
		}
	}
	w.element("dc:description", w.text(0, kContent), w.lang(0))
	w.describeDoubts("dc:description")
	for _, e := range dcEvents {
		for i := w.first(0, e.k); i >= 0; i = w.next(i, e.k) {
			if e.k == kUsedFor && w.isKind(i, aatPublishing) {
				continue
			}
			w.compose()
			w.say(e.word)
			from := len(w.tmp)
			w.say(": ")
			n := len(w.tmp)
			w.sayNode(i)
			if len(w.tmp) == n {
				w.tmp = w.tmp[:from]
			}
			w.element("dc:description", w.composed(), "")
		}
	}
	w.makings(w.made(), func(step int32) {
		if step != w.made() && (w.first(step, kClassifiedAs) >= 0 || w.first(step, kIdentifiedBy) >= 0) {
			return // described with its notes
		}
		for k := w.first(step, kReferredToBy); k >= 0; k = w.next(k, kReferredToBy) {
			w.element("dc:description", w.text(k, kContent), w.lang(k))
		}
	})
	for i := w.first(0, kPart); i >= 0; i = w.next(i, kPart) {
		w.compose()
		w.sayTransfer(i)
		w.element("dc:description", w.composed(), "")
	}
}

// describeDoubts writes what is claimed of the thing, and the steps of its making that
// need words.
func (w *writer) describeDoubts(tag string) {
	for i := w.first(0, kAttributedBy); i >= 0; i = w.next(i, kAttributedBy) {
		w.sayClaimInFull(i)
		w.element(tag, w.composed(), "")
	}
	w.describeSteps(w.made(), true, func() { w.element(tag, w.composed(), "") })
}

// sayClaimInFull composes a claim with who made it.
func (w *writer) sayClaimInFull(at int32) {
	w.compose()
	w.sayClaim(at)
	from := len(w.tmp)
	w.say(" (")
	n := len(w.tmp)
	w.sayNames(at, kCarriedOutBy, "said by ")
	w.sayTime(at, ", ")
	w.sayNames(at, kUsedObject, "; from ")
	w.sayNames(at, kInfluencedBy, "; from ")
	if len(w.tmp) == n {
		w.tmp = w.tmp[:from]
	} else {
		w.say(")")
	}
}

// describeSteps composes, one after another, the steps of a making that no element of
// their own tells: those that are qualified, given up or mere influence, and the roles of
// makers; of the whole its cause.
func (w *writer) describeSteps(at int32, whole bool, f func()) {
	if at < 0 {
		return
	}
	if whole {
		w.compose()
		w.sayNames(at, kCausedBy, "Made: caused by ")
		w.sayNames(at, kInfluencedBy, "; influenced by ")
		f()
	}
	for i := w.first(at, kPart); i >= 0; i = w.next(i, kPart) {
		if !w.surely(i) || w.first(i, kInfluencedBy) >= 0 || w.first(i, kClassifiedAs) >= 0 || w.first(i, kIdentifiedBy) >= 0 {
			w.compose()
			w.sayStep(i)
			f()
		}
		w.describeSteps(i, false, f)
	}
}

// sayTransfer says a part of a provenance record in words: what changed hands between
// whom, what was paid, found or carried where, or which right somebody came to hold.
func (w *writer) sayTransfer(at int32) {
	w.sayNode(at)
	w.sayNames(at, kTitleOf, "; owner changed of ")
	w.sayNames(at, kCustodyOf, "; keeper changed of ")
	w.sayNames(at, kCustodyFrom, "; from ")
	w.sayNames(at, kCustodyTo, "; to ")
	for i := w.first(at, kPaidAmount); i >= 0; i = w.next(i, kPaidAmount) {
		w.sep("; ")
		w.say("paid ")
		if s := w.name(i); s != "" {
			w.say(s)
		} else {
			w.sayNumber(w.text(i, kValue))
			w.sayNames(i, kCurrency, " ")
		}
	}
	w.sayNames(at, kPaidFrom, "; paid by ")
	w.sayNames(at, kPaidTo, "; paid to ")
	w.sayNames(at, kEncountered, "; found ")
	w.sayNames(at, kMoved, "; moved ")
	w.sayNames(at, kMovedFrom, "; from ")
	w.sayNames(at, kMovedTo, "; to ")
	for i := w.first(at, kEstablishes); i >= 0; i = w.next(i, kEstablishes) {
		w.sep("; ")
		w.say("right: ")
		w.sayNode(i)
		w.sayNames(i, kPossessedBy, "; held by ")
	}
}

// dcDates writes the time of the making, or of the event itself: its words, and its
// bounds where they say more.
func (w *writer) dcDates() {
	for _, at := range [...]int32{w.made(), 0} {
		if at < 0 {
			continue
		}
		from, to, words := w.moments(at)
		w.element("dc:date", words, "")
		if from != "" || to != "" {
			w.compose()
			w.sayBounds(from, to)
			if s := w.composed(); s != words {
				w.element("dc:date", s, "")
			}
		}
	}
}

func (w *writer) dcTypes() {
	w.dcNames("dc:type", 0, kClassifiedAs)
	w.element("dc:type", w.dcmiType(), "")
}

// dcmiType is the term of the DCMI Type Vocabulary; "" where none fits.
func (w *writer) dcmiType() string {
	switch w.class(0) {
	case cObject:
		return "PhysicalObject"
	case cSet:
		return "Collection"
	case cActivity, cEvent, cPeriod:
		return "Event"
	case cText:
		return "Text"
	case cVisual:
		return "Image"
	case cDigital:
		switch top, _, _ := strings.Cut(w.text(0, kFormat), "/"); top {
		case "image":
			return "StillImage"
		case "audio":
			return "Sound"
		case "video":
			return "MovingImage"
		case "text":
			return "Text"
		}
	}
	return ""
}

func (w *writer) dcFormats() {
	w.element("dc:format", w.text(0, kFormat), "")
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		if u := w.use(i); u == useDimensions || u == useMaterials {
			w.element("dc:format", w.text(i, kContent), w.lang(i))
		}
	}
	w.iris = w.iris[:0]
	w.dcOnce("dc:format", 0, kMadeOf)
	w.makings(w.made(), func(step int32) { w.dcOnce("dc:format", step, kTechnique) })
	w.dcOnce("dc:format", 0, kTechnique)
	for i := w.first(0, kDimension); i >= 0; i = w.next(i, kDimension) {
		w.compose()
		w.sayMeasure(i)
		w.element("dc:format", w.composed(), "")
	}
}

func (w *writer) dcIdentifiers() {
	w.element("dc:identifier", w.ev[0].Value, "")
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier {
			w.element("dc:identifier", w.text(i, kContent), "")
		}
	}
	for i := w.first(0, kAccessPoint); i >= 0; i = w.next(i, kAccessPoint) {
		w.element("dc:identifier", w.ev[i].Value, "")
	}
	if page := w.page(); page != w.ev[0].Value && onWeb(page) {
		w.element("dc:identifier", page, "")
	}
}

// dcRelations writes the identifiers of what the thing has to do with, and citations.
func (w *writer) dcRelations() {
	for _, k := range [...]key{kPartOf, kConceptuallyPartOf, kMemberOf, kMembersContainedBy, kHeldOrSupportedBy, kCarries, kShows,
		kDigitallyCarries, kDigitallyShows, kBroader, kEquivalent, kConformsTo, kCausedBy, kUsedObject} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.element("dc:relation", w.ev[i].Value, "")
		}
	}
	for i := w.statements(0, useCitation); i >= 0; i = w.statements(i, useCitation) {
		w.element("dc:relation", w.text(i, kContent), w.lang(i))
	}
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		for k := w.first(i, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
			for a := w.first(k, kAccessPoint); a >= 0; a = w.next(a, kAccessPoint) {
				w.element("dc:relation", w.ev[a].Value, "")
			}
		}
	}
	for v := w.first(0, kRepresentation); v >= 0; v = w.next(v, kRepresentation) {
		for i := w.first(v, kDigitallyShownBy); i >= 0; i = w.next(i, kDigitallyShownBy) {
			for a := w.first(i, kAccessPoint); a >= 0; a = w.next(a, kAccessPoint) {
				w.element("dc:relation", w.ev[a].Value, "")
			}
		}
	}
}

// dcCoverage writes places, and the coordinates of one.
func (w *writer) dcCoverage() {
	w.iris = w.iris[:0]
	w.dcOnce("dc:coverage", 0, kTookPlaceAt)
	w.element("dc:coverage", w.text(0, kDefinedBy), "")
	w.makings(w.made(), func(step int32) { w.dcOnce("dc:coverage", step, kTookPlaceAt) })
	w.dcOnce("dc:coverage", 0, kResidence)
	w.dcOnce("dc:coverage", 0, kDuring)
}

func (w *writer) dcRights() {
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		if w.use(i) == useRights {
			w.element("dc:rights", w.text(i, kContent), w.lang(i))
		}
	}
	for i := w.first(0, kSubjectTo); i >= 0; i = w.next(i, kSubjectTo) {
		for k := w.first(i, kClassifiedAs); k >= 0; k = w.next(k, kClassifiedAs) {
			w.element("dc:rights", w.ev[k].Value, "")
		}
		for k := w.first(i, kIdentifiedBy); k >= 0; k = w.next(k, kIdentifiedBy) {
			w.element("dc:rights", w.text(k, kContent), w.lang(k))
		}
		for k := w.first(i, kReferredToBy); k >= 0; k = w.next(k, kReferredToBy) {
			w.element("dc:rights", w.text(k, kContent), w.lang(k))
		}
		w.compose()
		if w.sayNames(i, kPossessedBy, "") {
			w.element("dc:rights", w.composed(), "")
		}
	}
}
