package view

import "strings"

// lidoRelations writes what the object shows and which works it has to do with.
func (w *writer) lidoRelations() {
	m := w.begin("lido:objectRelationWrap")
	s := w.begin("lido:subjectWrap")
	for i := w.first(0, kShows); i >= 0; i = w.next(i, kShows) {
		n := w.begin("lido:subjectSet")
		w.element("lido:displaySubject", w.name(i), "")
		w.close(n)
	}
	w.close(s)
	r := w.begin("lido:relatedWorksWrap")
	for _, rel := range [...]struct {
		k key
		t lidoTerm
	}{{kPartOf, isPartOf}, {kHeldOrSupportedBy, isHeldBy}, {kShows, isShowing}, {kCarries, isCarrying}} {
		for i := w.first(0, rel.k); i >= 0; i = w.next(i, rel.k) {
			w.relatedWork(i, rel.t)
		}
	}
	for i := w.first(0, kMemberOf); i >= 0; i = w.next(i, kMemberOf) {
		if w.name(i) == "" { // a collection must have a name
			w.relatedWork(i, isPartOf)
		}
	}
	for i := w.statements(0, useCitation); i >= 0; i = w.statements(i, useCitation) {
		n := w.begin("lido:relatedWorkSet")
		w.note("lido:displayRelatedWork", i)
		if len(w.b) > n.after {
			w.ownTerm("lido:relatedWorkRelType", isDocumentedIn)
		}
		w.sources("lido:sourceRelatedWorkSet", i)
		w.close(n)
	}
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		if !w.isPage(i) {
			w.discussion(i)
		}
	}
	w.close(r)
	w.close(m)
}

func (w *writer) relatedWork(at int32, t lidoTerm) {
	w.s("<lido:relatedWorkSet><lido:relatedWork><lido:object>")
	w.objectParts(at)
	w.s("</lido:object></lido:relatedWork>")
	w.ownTerm("lido:relatedWorkRelType", t)
	w.s("</lido:relatedWorkSet>")
}

// isPage reports whether a text about the object is a page on the web.
func (w *writer) isPage(at int32) bool {
	if w.isKind(at, aatWebPage) {
		return true
	}
	for i := w.first(at, kDigitallyCarriedBy); i >= 0; i = w.next(i, kDigitallyCarriedBy) {
		if w.isKind(i, aatWebPage) {
			return true
		}
	}
	return false
}

// discussion writes a text about the object that is not its page.
func (w *writer) discussion(at int32) {
	w.s("<lido:relatedWorkSet>")
	w.compose()
	w.sayNotes(at)
	w.element("lido:displayRelatedWork", w.composed(), "")
	m := w.begin("lido:relatedWork")
	n := w.begin("lido:object")
	for i := w.first(at, kDigitallyCarriedBy); i >= 0; i = w.next(i, kDigitallyCarriedBy) {
		w.links("lido:objectWebResource", i, "")
	}
	for i := w.first(at, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
		w.identifier("lido:objectID", w.iri(i))
	}
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier {
			w.localIdentifier("lido:objectID", w.numberLabel(i), w.text(i, kContent))
		}
	}
	for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		w.concept("lido:objectType", "", i)
	}
	w.names("lido:objectName", at)
	for i := w.first(at, kDigitallyCarriedBy); i >= 0; i = w.next(i, kDigitallyCarriedBy) {
		w.names("lido:objectName", i)
	}
	w.close(n)
	w.close(m)
	w.ownTerm("lido:relatedWorkRelType", isDocumentedIn)
	w.s("</lido:relatedWorkSet>")
}

// names writes the names of a node, or else its label.
func (w *writer) names(tag string, at int32) {
	n := 0
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); w.class(i) == cName && said(s) {
			m := w.begin(tag)
			w.element("lido:appellationValue", s, w.lang(i))
			w.close(m)
			n++
		}
	}
	if n == 0 {
		w.appellation(tag, w.text(at, kLabel))
	}
}

// links writes the addresses of a digital object, with its format.
func (w *writer) links(tag string, digital int32, lang string) {
	format := w.text(digital, kFormat)
	for i := w.first(digital, kAccessPoint); i >= 0; i = w.next(i, kAccessPoint) {
		w.b = append(w.b, '<')
		w.s(tag)
		w.attr(" lido:formatResource", format)
		w.attr(" xml:lang", lang)
		w.b = append(w.b, '>')
		w.escaped(w.ev[i].Value)
		w.end(tag)
	}
}

// lidoRights writes who owns the object, what is said of rights in it, and credit
// lines.
func (w *writer) lidoRights() {
	m := w.begin("lido:rightsWorkWrap")
	if w.first(0, kCurrentOwner) >= 0 {
		w.s("<lido:rightsWorkSet><lido:rightsType lido:type=\"" + lidoGeneric + "\">")
		w.ownTermParts(lidoOwnership)
		w.s("</lido:rightsType>")
		for i := w.first(0, kCurrentOwner); i >= 0; i = w.next(i, kCurrentOwner) {
			w.s("<lido:rightsHolder>")
			w.legalBody(i)
			w.s("</lido:rightsHolder>")
		}
		w.s("</lido:rightsWorkSet>")
	}
	for i := w.statements(0, useRights); i >= 0; i = w.statements(i, useRights) {
		n := w.begin("lido:rightsWorkSet")
		w.rightsStatement(i)
		w.close(n)
	}
	n := w.begin("lido:rightsWorkSet")
	for i := w.statements(0, useCredit); i >= 0; i = w.statements(i, useCredit) {
		w.note("lido:creditLine", i)
	}
	w.close(n)
	w.close(m)
}

// rightsStatement writes a statement about rights as a kind of rights.
func (w *writer) rightsStatement(at int32) {
	text := w.text(at, kContent)
	if !said(text) {
		return
	}
	w.s("<lido:rightsType lido:type=\"" + lidoSpecific + "\">")
	iri := w.licenceOf(at)
	w.identifier("lido:conceptID", iri)
	if text == iri {
		text = licenceName(iri)
	}
	w.element("lido:term", text, w.lang(at))
	w.s("</lido:rightsType>")
}

// lidoRecord writes about the record.
func (w *writer) lidoRecord() {
	iri := w.ev[0].Value
	w.s("<lido:recordWrap>")
	if path, ok := strings.CutPrefix(iri, w.c.Base); ok && w.c.Base != "" && path != "" {
		w.localIdentifier("lido:recordID", "", path)
	} else {
		w.identifier("lido:recordID", iri)
	}
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if w.class(i) == cIdentifier && w.isKind(i, aatSystemNumber) {
			w.localIdentifier("lido:recordID", w.numberLabel(i), w.text(i, kContent))
		}
	}
	t := lidoItem
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if w.isKind(i, aatPartType) {
			t = lidoComponent
		}
	}
	w.ownTerm("lido:recordType", t)
	w.s("<lido:recordSource>")
	w.legalAgent(w.c.Publisher)
	w.s("</lido:recordSource>")
	if w.c.Licence != "" {
		w.s("<lido:recordRights><lido:rightsType lido:type=\"" + lidoSpecific + "\">")
		w.identifier("lido:conceptID", w.c.Licence)
		w.element("lido:term", licenceName(w.c.Licence), "")
		w.s("</lido:rightsType></lido:recordRights>")
	}
	m := w.beginWith("lido:recordInfoSet", " lido:type", lidoRecordPage)
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		if w.isPage(i) {
			for k := w.first(i, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
				w.links("lido:recordInfoLink", k, w.lang(i))
			}
		}
	}
	if page := w.page(); onWeb(page) {
		w.s(`<lido:recordInfoLink lido:formatResource="text/html">`)
		w.escaped(page)
		w.s("</lido:recordInfoLink>")
	}
	w.close(m)
	for i := w.first(0, kMemberOf); i >= 0; i = w.next(i, kMemberOf) {
		if w.name(i) != "" {
			w.s("<lido:collection><lido:object>")
			w.objectParts(i)
			w.s("</lido:object></lido:collection>")
		}
	}
	w.s("</lido:recordWrap>")
}

// lidoResources writes the pictures and scans.
func (w *writer) lidoResources() {
	m := w.begin("lido:resourceWrap")
	for v := w.first(0, kRepresentation); v >= 0; v = w.next(v, kRepresentation) {
		n := 0
		for i := w.first(v, kDigitallyShownBy); i >= 0; i = w.next(i, kDigitallyShownBy) {
			w.picture(v, i)
			n++
		}
		if n == 0 {
			w.picture(v, -1)
		}
	}
	w.close(m)
}

// picture writes a digital object that shows a picture of the object; digital is -1
// if the picture is only described.
func (w *writer) picture(visual, digital int32) {
	m := w.begin("lido:resourceSet")
	nodes := [2]int32{digital, visual}
	of := nodes[:]
	if digital < 0 {
		of = nodes[1:]
	}
	for _, at := range of {
		for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
			if w.class(i) == cIdentifier {
				w.localIdentifier("lido:resourceID", w.numberLabel(i), w.text(i, kContent))
			}
		}
	}
	if digital >= 0 {
		typ := ""
		if w.isKind(digital, aatDigitalImage) || strings.HasPrefix(w.text(digital, kFormat), "image/") {
			typ = lidoProvidedImage
		}
		for i := w.first(digital, kAccessPoint); i >= 0; i = w.next(i, kAccessPoint) {
			n := w.beginWith("lido:resourceRepresentation", " lido:type", typ)
			w.s("<lido:linkResource")
			w.attr(" lido:formatResource", w.text(digital, kFormat))
			if k := w.first(digital, kConformsTo); k >= 0 {
				w.attr(" lido:codecResource", w.called(k))
			}
			w.b = append(w.b, '>')
			w.escaped(w.ev[i].Value)
			w.s("</lido:linkResource>")
			w.close(n)
		}
	}
	n := 0
	for _, at := range of {
		for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			if n++; n == 1 {
				w.concept("lido:resourceType", "", i)
			}
		}
	}
	for _, at := range of {
		for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
			if w.class(i) == cName {
				w.element("lido:resourceDescription", w.text(i, kContent), w.lang(i))
			}
		}
		for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			if w.use(i) != useRights && w.use(i) != useCredit {
				w.note("lido:resourceDescription", i)
			}
		}
	}
	for _, at := range of {
		for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			r := w.begin("lido:rightsResource")
			switch w.use(i) {
			case useRights:
				w.rightsStatement(i)
			case useCredit:
				w.note("lido:creditLine", i)
			}
			w.close(r)
		}
	}
	w.close(m)
}
