package view

import "strings"

// edmAggregation writes who provides what of the object, and under which rights.
func (w *writer) edmAggregation() {
	iri := w.ev[0].Value
	w.compose()
	w.say(iri)
	if strings.IndexByte(iri, '#') < 0 {
		w.say("#aggregation")
	} else {
		w.say("/aggregation") // as skolem IRIs have it
	}
	w.about("ore:Aggregation", w.composed())
	w.resource("edm:aggregatedCHO", iri)
	w.element("edm:dataProvider", w.c.Publisher.Name, "")
	shownBy, object := "", ""
	n := 0
	w.files(func(f file) bool {
		a := w.ev[f.access].Value
		if n++; n == 1 {
			shownBy = a
		} else if a != shownBy {
			w.resource("edm:hasView", a)
		}
		if object == "" && (w.isKind(f.digital, aatDigitalImage) || strings.HasPrefix(w.text(f.digital, kFormat), "image/")) {
			object = a
		}
		return true
	})
	w.resource("edm:isShownAt", w.ownPage())
	w.resource("edm:isShownBy", shownBy)
	w.resource("edm:object", object)
	if said(w.c.Provider.Name) {
		w.element("edm:provider", w.c.Provider.Name, "")
	} else {
		w.element("edm:provider", w.c.Publisher.Name, "")
	}
	w.resource("edm:rights", w.edmRights())
	w.s("</ore:Aggregation>")
}

// edmFiles describes the files and the page.
func (w *writer) edmFiles() {
	w.files(func(f file) bool {
		a := w.ev[f.access].Value
		if !w.fresh(a) {
			return true
		}
		w.about("edm:WebResource", a)
		for _, at := range [...]int32{f.digital, f.visual} {
			for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
				if w.class(i) == cName {
					w.element("dc:description", w.text(i, kContent), w.lang(i))
				}
			}
			for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
				if u := w.use(i); u != useRights && u != useCredit {
					w.element("dc:description", w.text(i, kContent), w.lang(i))
				}
			}
		}
		format := w.text(f.digital, kFormat)
		w.element("dc:format", format, "")
		for _, at := range [...]int32{f.digital, f.visual} {
			for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
				if u := w.use(i); u == useRights || u == useCredit {
					w.element("dc:rights", w.text(i, kContent), w.lang(i))
				}
			}
		}
		for _, at := range [...]int32{f.digital, f.visual} {
			w.entities("dc:type", at, kClassifiedAs)
		}
		for i := w.first(f.digital, kConformsTo); i >= 0; i = w.next(i, kConformsTo) {
			w.resource("dcterms:conformsTo", w.ev[i].Value)
		}
		w.resource("edm:rights", f.rights)
		for i := w.first(f.digital, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
			w.resource("owl:sameAs", w.ev[i].Value)
		}
		if strings.Contains(format, "/") {
			w.element("ebucore:hasMimeType", format, "")
		}
		w.s("</edm:WebResource>")
		return true
	})
	if page := w.ownPage(); page != "" && page != w.ev[0].Value && w.fresh(page) {
		w.about("edm:WebResource", page)
		w.s("<dc:format>text/html</dc:format></edm:WebResource>")
	}
}

// edmContext describes the people, places, times and concepts that have been named.
func (w *writer) edmContext() {
	for _, at := range w.refs {
		iri := w.ev[at].Value
		tag := ""
		switch w.class(at) {
		case cPerson, cGroup:
			tag = "edm:Agent"
		case cPlace:
			tag = "edm:Place"
		case cType:
			tag = "skos:Concept"
		default:
			if w.ev[at].Ref {
				continue
			}
			tag, iri = "edm:TimeSpan", w.d.Names()[at]
		}
		w.about(tag, iri)
		if tag == "edm:TimeSpan" {
			w.element("skos:prefLabel", w.spanWords(at), "")
			from, to := plainDates(w.text(at, kBeginOfTheBegin), w.text(at, kEndOfTheEnd))
			w.element("edm:begin", from, "")
			w.element("edm:end", to, "")
		} else {
			name := w.name(at)
			w.element("skos:prefLabel", name, "")
			for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
				if s := w.text(i, kContent); w.class(i) == cName && s != name {
					w.element("skos:altLabel", s, w.lang(i))
				}
			}
			if tag == "skos:Concept" {
				for i := w.first(at, kEquivalent); i >= 0; i = w.next(i, kEquivalent) {
					w.resource("skos:exactMatch", w.ev[i].Value)
				}
			}
		}
		w.end(tag)
	}
}
