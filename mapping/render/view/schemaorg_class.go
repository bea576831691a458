package view

import (
	"strconv"
	"strings"
)

// date writes the date of a node's time span, or the interval in which it lies; one with
// an open end is no date.
func (w *writer) date(key string, at int32) {
	if at < 0 {
		return
	}
	from, to, _ := w.moments(at)
	if from == "" || to == "" {
		return
	}
	w.compose()
	w.sayBounds(from, to)
	w.pair(key, w.composed())
}

// schemaWork writes about things and works of all kinds.
func (w *writer) schemaWork() {
	made := w.made()
	w.iris = w.iris[:0]
	a := w.array("creator")
	w.makings(made, func(step int32) {
		for i := w.first(step, kCarriedOutBy); i >= 0; i = w.next(i, kCarriedOutBy) {
			if w.fresh(w.ev[i].Value) {
				w.thing(i)
			}
		}
	})
	w.done(a)
	w.date("dateCreated", made)
	w.list("locationCreated", made, kTookPlaceAt, (*writer).thing)
	for i := w.first(0, kUsedFor); i >= 0; i = w.next(i, kUsedFor) {
		if w.isKind(i, aatPublishing) {
			w.list("publisher", i, kCarriedOutBy, (*writer).thing)
			w.date("datePublished", i)
			break
		}
	}
	w.schemaMatter()
	a = w.array("about")
	for _, k := range [...]key{kAbout, kRepresents, kRepresentsType} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.thing(i)
		}
	}
	w.done(a)
	a = w.array("isPartOf")
	for _, k := range [...]key{kPartOf, kConceptuallyPartOf, kMemberOf} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.thing(i)
		}
	}
	w.done(a)
	a = w.array("exampleOfWork")
	for _, k := range [...]key{kShows, kCarries} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.thing(i)
		}
	}
	w.done(a)
	a = w.array("encodesCreativeWork")
	for _, k := range [...]key{kDigitallyCarries, kDigitallyShows} {
		for i := w.first(0, k); i >= 0; i = w.next(i, k) {
			w.thing(i)
		}
	}
	w.done(a)
	if w.class(0) == cText {
		w.pair("text", w.text(0, kContent))
	}
	a = w.array("inLanguage")
	for i := w.first(0, kLanguage); i >= 0; i = w.next(i, kLanguage) {
		if tag := languageTag(w.ev[i].Value); tag != "" {
			w.item(tag)
		} else {
			w.item(w.called(i))
		}
	}
	w.done(a)
	if w.class(0) == cDigital {
		if i := w.first(0, kAccessPoint); i >= 0 {
			w.pair("contentUrl", w.ev[i].Value)
		}
	}
	w.pair("encodingFormat", w.text(0, kFormat))
	a = w.array("citation")
	for i := w.statements(0, useCitation); i >= 0; i = w.statements(i, useCitation) {
		w.item(w.text(i, kContent))
	}
	w.done(a)
	w.schemaPages()
	w.rightsOf(0)
	if i := w.first(0, kCurrentCustodian); i >= 0 {
		w.list("provider", 0, kCurrentCustodian, (*writer).thing)
	} else {
		w.list("provider", 0, kCurrentOwner, (*writer).thing)
	}
	w.agent("sdPublisher", w.c.Publisher)
	w.address("sdLicense", w.c.Licence)
}

// schemaMatter writes materials, techniques and sizes.
func (w *writer) schemaMatter() {
	a := w.array("material")
	for i := w.first(0, kMadeOf); i >= 0; i = w.next(i, kMadeOf) {
		w.nameString(i)
	}
	for i := w.statements(0, useMaterials); i >= 0; i = w.statements(i, useMaterials) {
		w.item(w.text(i, kContent))
	}
	w.done(a)
	artwork := w.schemaType(0) == "VisualArtwork"
	if artwork {
		a := w.array("artform")
		for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			if w.marksWork(i) {
				w.nameString(i)
			}
		}
		w.done(a)
	}
	measured := artwork || w.class(0) == cDigital
	if measured {
		for _, p := range [...]struct {
			n   int
			key string
		}{{aatHeight, "height"}, {aatWidth, "width"}, {aatDepth, "depth"}} {
			if w.class(0) == cDigital && p.n == aatDepth {
				continue
			}
			a := w.array(p.key)
			for i := w.first(0, kDimension); i >= 0; i = w.next(i, kDimension) {
				if w.isKind(i, p.n) {
					w.quantity(i)
				}
			}
			w.done(a)
		}
	}
	a = w.array("size")
	for i := w.statements(0, useDimensions); i >= 0; i = w.statements(i, useDimensions) {
		w.item(w.text(i, kContent))
	}
	for i := w.first(0, kDimension); i >= 0; i = w.next(i, kDimension) {
		if !measured || !w.isKind(i, aatHeight) && !w.isKind(i, aatWidth) && (!w.isKind(i, aatDepth) || w.class(0) == cDigital) {
			w.quantity(i)
		}
	}
	w.done(a)
}

// quantity writes a measure.
func (w *writer) quantity(at int32) {
	w.comma()
	w.s(`{"@type":"QuantitativeValue"`)
	if s := w.text(at, kLabel); said(s) {
		w.pair("name", s)
	} else if i := w.first(at, kClassifiedAs); i >= 0 {
		w.pair("name", w.called(i))
	}
	for _, p := range [...]struct {
		k   key
		key string
	}{{kValue, "value"}, {kLowerLimit, "minValue"}, {kUpperLimit, "maxValue"}} {
		if s := w.text(at, p.k); s != "" {
			w.member(p.key)
			w.s(s)
		}
	}
	if i := w.first(at, kUnit); i >= 0 {
		w.pair("unitText", w.called(i))
	}
	w.s("}")
}

// schemaPages writes texts about the thing.
func (w *writer) schemaPages() {
	a := w.array("subjectOf")
	for i := w.first(0, kSubjectOf); i >= 0; i = w.next(i, kSubjectOf) {
		typ := "CreativeWork"
		if w.isPage(i) {
			typ = "WebPage"
		}
		w.comma()
		w.b = append(w.b, '{')
		w.pair("@type", typ)
		name := w.firstName(i)
		for k := w.first(i, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
			if name == "" {
				name = w.firstName(k)
			}
		}
		w.pair("name", name)
		urls := w.array("url")
		for k := w.first(i, kDigitallyCarriedBy); k >= 0; k = w.next(k, kDigitallyCarriedBy) {
			for p := w.first(k, kAccessPoint); p >= 0; p = w.next(p, kAccessPoint) {
				w.item(w.ev[p].Value)
			}
		}
		w.done(urls)
		w.b = append(w.b, '}')
	}
	w.done(a)
}

func (w *writer) schemaPerson() {
	for i := w.first(0, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if i != w.mainName() {
			continue
		}
		w.namePart("givenName", i, aatGivenName)
		w.namePart("familyName", i, aatFamilyName)
	}
	if i := w.first(0, kBorn); i >= 0 {
		w.date("birthDate", i)
		w.list("birthPlace", i, kTookPlaceAt, (*writer).thing)
	}
	if i := w.first(0, kDied); i >= 0 {
		w.date("deathDate", i)
		w.list("deathPlace", i, kTookPlaceAt, (*writer).thing)
	}
	a := w.array("hasOccupation")
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if w.isKind(i, aatOccupation) {
			w.thingOf(i, "Occupation")
		}
	}
	w.done(a)
	a = w.array("gender")
	for i := w.first(0, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if w.isKind(i, aatGender) {
			w.nameString(i)
		}
	}
	w.done(a)
	w.list("memberOf", 0, kMemberOf, (*writer).thing)
	w.list("homeLocation", 0, kResidence, (*writer).thing)
	w.schemaPages()
}

func (w *writer) namePart(key string, name int32, kind int) {
	a := w.array(key)
	for i := w.first(name, kPart); i >= 0; i = w.next(i, kPart) {
		if w.isKind(i, kind) {
			w.item(w.text(i, kContent))
		}
	}
	w.done(a)
}

func (w *writer) schemaGroup() {
	if i := w.first(0, kFormedBy); i >= 0 {
		w.date("foundingDate", i)
		w.list("foundingLocation", i, kTookPlaceAt, (*writer).thing)
	}
	w.date("dissolutionDate", w.first(0, kDissolvedBy))
	w.list("memberOf", 0, kMemberOf, (*writer).thing)
	w.list("location", 0, kResidence, (*writer).thing)
	w.schemaPages()
}

func (w *writer) schemaPlace() {
	if long, lat, ok := point(w.text(0, kDefinedBy)); ok {
		w.member("geo")
		w.s(`{"@type":"GeoCoordinates","latitude":`)
		w.s(lat)
		w.s(`,"longitude":`)
		w.s(long)
		w.s("}")
	}
	w.list("containedInPlace", 0, kPartOf, (*writer).thing)
	w.schemaPages()
}

// point reads a point of well-known text, longitude first.
func point(wkt string) (long, lat string, ok bool) {
	rest, ok := strings.CutPrefix(wkt, "POINT")
	if !ok {
		return "", "", false
	}
	rest = strings.TrimSpace(rest)
	if !strings.HasPrefix(rest, "(") || !strings.HasSuffix(rest, ")") {
		return "", "", false
	}
	f := strings.Fields(rest[1 : len(rest)-1])
	if len(f) != 2 || !number(f[0]) || !number(f[1]) {
		return "", "", false
	}
	return f[0], f[1], true
}

// number reports whether s is a JSON number without an exponent.
func number(s string) bool {
	if _, err := strconv.ParseFloat(s, 64); err != nil {
		return false
	}
	digits := strings.TrimPrefix(s, "-")
	whole, frac, point := strings.Cut(digits, ".")
	if whole == "" || point && frac == "" || len(whole) > 1 && whole[0] == '0' {
		return false
	}
	return strings.Trim(whole, "0123456789") == "" && strings.Trim(frac, "0123456789") == ""
}

func (w *writer) schemaEvent() {
	from, to, words := w.moments(0)
	w.pair("startDate", from)
	w.pair("endDate", to)
	if from == "" && to == "" {
		w.pair("disambiguatingDescription", words)
	}
	w.list("location", 0, kTookPlaceAt, (*writer).thing)
	w.list("organizer", 0, kCarriedOutBy, (*writer).thing)
	w.list("attendee", 0, kParticipant, (*writer).thing)
	w.list("superEvent", 0, kPartOf, (*writer).thing)
	w.list("workFeatured", 0, kUsedObject, (*writer).thing)
	w.schemaPages()
}
