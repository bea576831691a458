package view

// checkLIDO sees to the mandatory elements of LIDO 1.1: objectWorkType, titleSet and
// recordSource. All others are always there.
func (w *writer) checkLIDO() error {
	if len(w.ev) == 0 || w.class(0) != cObject {
		return w.reason(WrongClass, "LIDO describes objects, and this is none")
	}
	if !w.hasWorkType() {
		return w.reason(NoObjectType, "none of its classifications is marked as type of work (aat:300435443) or of part (aat:300241583), and LIDO demands one")
	}
	if !w.hasName() {
		return w.reason(NoTitle, "it has no name or title, and LIDO demands one")
	}
	if !said(w.c.Publisher.Name) {
		return w.reason(NoPublisher, "the site does not say who publishes its records, and LIDO demands it")
	}
	return nil
}

func (w *writer) hasWorkType() bool {
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if w.marksWork(i) {
			return true
		}
	}
	return false
}

// marksWork reports whether a classification is the kind of thing that the object is.
func (w *writer) marksWork(at int32) bool {
	return w.isKind(at, aatTypeOfWork) || w.isKind(at, aatPartType)
}

func (w *writer) hasName() bool {
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cName && said(w.text(i, kContent)) {
			return true
		}
	}
	return false
}

// lido writes the element lido:lido. The order of elements is that of the schema.
func (w *writer) lido() {
	w.s("<lido:lido" + lidoAttributes + "><lido:lidoRecID")
	w.s(isURI)
	w.attr(" lido:source", w.c.Publisher.Name)
	w.b = append(w.b, '>')
	w.escaped(w.ev[0].Value)
	w.s("</lido:lidoRecID><lido:objectPublishedID lido:pref=\"" + lidoPreferred + `"` + isURI + ">")
	w.escaped(w.ev[0].Value)
	w.s("</lido:objectPublishedID>")
	for i := w.first(0, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
		w.s("<lido:objectPublishedID lido:pref=\"" + lidoAlternative + `"` + isURI + ">")
		w.escaped(w.ev[i].Value)
		w.s("</lido:objectPublishedID>")
	}
	w.ownTerm("lido:category", lidoHumanMade)
	language := w.language()
	d := w.beginWith("lido:descriptiveMetadata", " xml:lang", language)
	w.lidoClassification()
	m := w.begin("lido:objectIdentificationWrap")
	w.lidoTitles()
	w.lidoInscriptions()
	w.lidoRepositories()
	w.lidoDescriptions()
	w.lidoMeasurements()
	w.lidoMaterials()
	w.close(m)
	w.lidoEvents()
	w.lidoRelations()
	w.close(d)
	a := w.beginWith("lido:administrativeMetadata", " xml:lang", language)
	w.lidoRights()
	w.lidoRecord()
	w.lidoResources()
	w.close(a)
	w.s("</lido:lido>")
}

func (w *writer) lidoClassification() {
	w.s("<lido:objectClassificationWrap><lido:objectWorkTypeWrap>")
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if w.marksWork(i) {
			w.concept("lido:objectWorkType", "", i)
		}
	}
	w.s("</lido:objectWorkTypeWrap>")
	m := w.begin("lido:classificationWrap")
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if !w.marksWork(i) {
			typ := ""
			if k := w.first(i, kClassifiedAs); k >= 0 {
				typ = w.ev[k].Value
			}
			w.concept("lido:classification", typ, i)
		}
	}
	w.close(m)
	w.s("</lido:objectClassificationWrap>")
}

func (w *writer) lidoTitles() {
	w.s("<lido:titleWrap>")
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		content := w.text(i, kContent)
		if w.class(i) != cName || !said(content) {
			continue
		}
		m := w.beginWith("lido:titleSet", " lido:type", w.firstIRI(i, kClassifiedAs))
		w.s("<lido:appellationValue")
		w.attr(" lido:pref", w.preference(i))
		w.attr(" xml:lang", w.lang(i))
		if k := w.first(i, kClassifiedAs); k >= 0 {
			w.attr(" lido:label", w.name(k))
		}
		w.b = append(w.b, '>')
		w.escaped(content)
		w.s("</lido:appellationValue>")
		w.sources("lido:sourceAppellation", i)
		w.close(m)
	}
	w.s("</lido:titleWrap>")
}

// firstIRI is the IRI of the first reference under k, or "".
func (w *writer) firstIRI(at int32, k key) string {
	if i := w.first(at, k); i >= 0 {
		return w.ev[i].Value
	}
	return ""
}

// use is where LIDO has a place for a statement.
type use uint8

const (
	useNote use = iota
	useInscription
	useTranscription
	useCredit
	useRights
	useDimensions
	useMaterials
	useCitation
)

// use tells what a statement of the object is for, by its kinds.
func (w *writer) use(statement int32) use {
	for i := w.first(statement, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		switch aat(w.ev[i].Value) {
		case aatInscription:
			return useInscription
		case aatInscriptions, aatSignatures, aatMarks:
			return useTranscription
		case aatCredit, aatCreditLine:
			return useCredit
		case aatRights, aatCopyright:
			return useRights
		case aatDimensions:
			return useDimensions
		case aatMaterials:
			return useMaterials
		case aatCitation:
			return useCitation
		}
	}
	return useNote
}

// statements are the object's statements of a use, one after another.
func (w *writer) statements(i int32, u use) int32 {
	if i == 0 {
		i = w.first(0, kReferredToBy)
	} else {
		i = w.next(i, kReferredToBy)
	}
	for i >= 0 && w.use(i) != u {
		i = w.next(i, kReferredToBy)
	}
	return i
}

// lidoInscriptions: a statement about inscriptions describes them; one that is an
// inscription, signature or mark is transcribed.
func (w *writer) lidoInscriptions() {
	m := w.begin("lido:inscriptionsWrap")
	for i := w.first(0, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		u := w.use(i)
		if u != useInscription && u != useTranscription {
			continue
		}
		n := w.beginWith("lido:inscriptions", " lido:type", w.firstIRI(i, kClassifiedAs))
		if u == useTranscription {
			w.note("lido:inscriptionTranscription", i)
			d := w.begin("lido:inscriptionDescription")
			w.sources("lido:sourceDescriptiveNote", i)
			w.close(d)
		} else {
			d := w.begin("lido:inscriptionDescription")
			w.note("lido:descriptiveNoteValue", i)
			w.sources("lido:sourceDescriptiveNote", i)
			w.close(d)
		}
		w.close(n)
	}
	w.close(m)
}

// lidoRepositories writes who has the object, where it is and under which numbers,
// and a set for each number that somebody else gave it.
func (w *writer) lidoRepositories() {
	m := w.begin("lido:repositoryWrap")
	keeper := w.first(0, kCurrentCustodian)
	if keeper < 0 {
		keeper = w.first(0, kCurrentOwner)
	}
	place := w.first(0, kCurrentLocation)
	typ := ""
	if keeper >= 0 || place >= 0 {
		typ = lidoCurrent
	}
	set := w.beginWith("lido:repositorySet", " lido:type", typ)
	w.compose()
	w.sayNames(0, kCurrentCustodian, "kept by ")
	w.sayNames(0, kPermanentCustodian, "; normally kept by ")
	w.sayNames(0, kCurrentOwner, "; owned by ")
	w.sayNames(0, kCurrentLocation, "; at present in ")
	w.sayNames(0, kPermanentLocation, "; normally in ")
	w.element("lido:displayRepository", w.composed(), "en")
	if keeper >= 0 {
		n := w.begin("lido:repositoryName")
		w.legalBody(keeper)
		w.close(n)
	}
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.numberOfKeeper(i) {
			w.workID(i)
		}
	}
	if place >= 0 {
		n := w.begin("lido:repositoryLocation")
		w.placeParts(place)
		w.close(n)
	}
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.numberOfKeeper(i) {
			w.sources("lido:sourceRepositorySet", i)
		}
	}
	w.close(set)
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier && !w.numberOfKeeper(i) && !w.isKind(i, aatSystemNumber) && said(w.text(i, kContent)) {
			set := w.begin("lido:repositorySet")
			w.composeNumber(i)
			w.element("lido:displayRepository", w.composed(), "en")
			w.workID(i)
			w.sources("lido:sourceRepositorySet", i)
			w.close(set)
		}
	}
	w.close(m)
}

// numberOfKeeper reports whether node at is a number that the object's owner or
// keeper gave it, or one of which nobody says who did. Numbers of the record itself
// stand elsewhere.
func (w *writer) numberOfKeeper(at int32) bool {
	if w.class(at) != cIdentifier || w.isKind(at, aatSystemNumber) {
		return false
	}
	for i := w.first(at, kAssignedBy); i >= 0; i = w.next(i, kAssignedBy) {
		for k := w.first(i, kCarriedOutBy); k >= 0; k = w.next(k, kCarriedOutBy) {
			if !w.keeps(w.ev[k].Value) {
				return false
			}
		}
		if w.first(i, kUsedObject) >= 0 || w.first(i, kTimespan) >= 0 {
			return false // there is more to say
		}
	}
	return true
}

func (w *writer) keeps(iri string) bool {
	for _, k := range [...]key{kCurrentOwner, kCurrentCustodian, kPermanentCustodian} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			if w.ev[i].Value == iri {
				return true
			}
		}
	}
	return iri == w.c.Publisher.IRI
}

// composeNumber says who gave a number, when, and in which document it stands.
func (w *writer) composeNumber(at int32) {
	w.withIRIs = true
	w.compose()
	for i := w.first(at, kAssignedBy); i >= 0; i = w.next(i, kAssignedBy) {
		w.sayNames(i, kCarriedOutBy, "; number given by ")
		w.sayTime(i, ", ")
		w.sayNames(i, kUsedObject, "; recorded in ")
	}
	w.withIRIs = false
}

func (w *writer) workID(at int32) {
	content := w.text(at, kContent)
	if !said(content) {
		return
	}
	w.s("<lido:workID")
	if w.isKind(at, aatAccession) {
		w.attr(" lido:type", lidoInventoryNumber)
	} else {
		w.attr(" lido:type", w.firstIRI(at, kClassifiedAs))
	}
	w.attr(" lido:label", w.numberLabel(at))
	w.b = append(w.b, '>')
	w.escaped(content)
	w.s("</lido:workID>")
}

// numberLabel says which number it is: its label, the name of its kind, or its own
// name.
func (w *writer) numberLabel(at int32) string {
	if s := w.text(at, kLabel); s != "" {
		return s
	}
	if i := w.first(at, kClassifiedAs); i >= 0 {
		if s := w.name(i); s != "" {
			return s
		}
	}
	return w.name(at)
}

// lidoDescriptions writes the statements that have no place of their own, and what is
// claimed of the object.
func (w *writer) lidoDescriptions() {
	m := w.begin("lido:objectDescriptionWrap")
	for i := w.statements(0, useNote); i >= 0; i = w.statements(i, useNote) {
		set := w.beginWith("lido:objectDescriptionSet", " lido:type", w.firstIRI(i, kClassifiedAs))
		w.note("lido:descriptiveNoteValue", i)
		w.sources("lido:sourceDescriptiveNote", i)
		w.close(set)
	}
	for i := w.first(0, kAttributedBy); i >= 0; i = w.next(i, kAttributedBy) {
		if !w.claimsMaking(i) {
			set := w.beginWith("lido:objectDescriptionSet", " lido:type", w.firstIRI(i, kClassifiedAs))
			w.claimNote(i)
			w.close(set)
		}
	}
	w.close(m)
}

// claimNote writes a claim in words, with who made it as its source.
func (w *writer) claimNote(at int32) {
	w.withIRIs = true
	w.compose()
	w.sayClaim(at)
	w.element("lido:descriptiveNoteValue", w.composed(), "")
	w.compose()
	w.sayClaimant(at)
	w.element("lido:sourceDescriptiveNote", w.composed(), "")
	w.withIRIs = false
}

func (w *writer) lidoMaterials() {
	m := w.begin("lido:objectMaterialsTechWrap")
	set := w.begin("lido:objectMaterialsTechSet")
	for i := w.statements(0, useMaterials); i >= 0; i = w.statements(i, useMaterials) {
		w.note("lido:displayMaterialsTech", i)
	}
	n := w.begin("lido:materialsTech")
	for i := w.first(0, kMadeOf); i >= 0; i = w.next(i, kMadeOf) {
		w.concept("lido:termMaterialsTech", lidoMaterial, i)
	}
	w.close(n)
	w.close(set)
	w.close(m)
}
