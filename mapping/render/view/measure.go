package view

import (
	"strings"

	"ropewalk/mapping/entity"
)

// measureWords takes apart the label of a measure, which the reader of dimensions
// writes as "height, frame: 44 cm": what it says before the colon of the kind of
// measure that is named first, and of the part measured. Plain is true if the label says
// nothing that the classification does not say.
func (w *writer) measureWords(at int32) (what, part string, plain bool) {
	label := w.text(at, kLabel)
	if label == "" {
		return "", "", true
	}
	head, _, ok := strings.Cut(label, ": ")
	if !ok {
		return "", "", false
	}
	kind := ""
	if i := w.first(at, kClassifiedAs); i >= 0 {
		kind = w.name(i)
	}
	if kind == "" {
		what, part, _ = strings.Cut(head, ", ")
		return what, part, false
	}
	if len(head) < len(kind) || !strings.EqualFold(head[:len(kind)], kind) {
		return "", head, false
	}
	switch rest := head[len(kind):]; {
	case rest == "":
		return "", "", true
	case strings.HasPrefix(rest, ", "):
		return "", rest[2:], false
	}
	return "", head, false
}

// lidoMeasurements writes the measures that need no more words in one set, with the
// statements about the size; then a set for each part that was measured, and one for
// each measure that needs more words.
func (w *writer) lidoMeasurements() {
	m := w.begin("lido:objectMeasurementsWrap")
	set := w.begin("lido:objectMeasurementsSet")
	for i := w.statements(0, useDimensions); i >= 0; i = w.statements(i, useDimensions) {
		w.note("lido:displayObjectMeasurements", i)
	}
	n := w.begin("lido:objectMeasurements")
	for i := w.first(0, kDimension); i >= 0; i = w.next(i, kDimension) {
		if _, _, plain := w.measureWords(i); plain && !w.qualified(i) {
			w.measurement("lido:measurementsSet", i)
		}
	}
	w.close(n)
	w.close(set)
	for i := w.first(0, kDimension); i >= 0; {
		_, part, plain := w.measureWords(i)
		if plain && !w.qualified(i) {
			i = w.next(i, kDimension)
			continue
		}
		i = w.measuredPart(i, part)
	}
	w.close(m)
}

// measuredPart writes a set for a measure and for those after it that are of the same
// part, and gives the measure after them.
func (w *writer) measuredPart(first int32, part string) (next int32) {
	next = w.next(first, kDimension)
	for part != "" && !w.qualified(first) && next >= 0 && !w.qualified(next) {
		if _, p, _ := w.measureWords(next); p != part {
			break
		}
		next = w.next(next, kDimension)
	}
	set := w.begin("lido:objectMeasurementsSet")
	w.compose()
	for i := first; i != next; i = w.next(i, kDimension) {
		if s := w.text(i, kLabel); said(s) {
			w.sep("; ")
			w.say(s)
		}
	}
	w.element("lido:displayObjectMeasurements", w.composed(), "")
	n := w.begin("lido:objectMeasurements")
	for i := first; i != next; i = w.next(i, kDimension) {
		w.measurement("lido:measurementsSet", i)
	}
	w.element("lido:extentMeasurements", part, "")
	w.measureQualities(first)
	w.close(n)
	w.close(set)
	return next
}

// qualified reports whether a measure has names or limits besides its value.
func (w *writer) qualified(at int32) bool {
	return w.first(at, kIdentifiedBy) >= 0 || w.first(at, kLowerLimit) >= 0 || w.first(at, kUpperLimit) >= 0
}

func (w *writer) measureQualities(at int32) {
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		w.element("lido:extentMeasurements", w.text(i, kContent), w.lang(i))
	}
	w.compose()
	w.sayLimits(at)
	w.element("lido:qualifierMeasurements", w.composed(), "en")
}

// sayLimits says between which limits a measure lies.
func (w *writer) sayLimits(at int32) {
	if i := w.first(at, kLowerLimit); i >= 0 {
		w.sep("; ")
		w.say("at least ")
		w.sayNumber(w.ev[i].Value)
	}
	if i := w.first(at, kUpperLimit); i >= 0 {
		w.sep("; ")
		w.say("at most ")
		w.sayNumber(w.ev[i].Value)
	}
}

// measurement writes a measure. Its kind and its unit are mandatory: a measure of no
// kind goes by the words before the colon of its label, or is called a dimension.
func (w *writer) measurement(tag string, at int32) {
	m := w.begin(tag)
	n := 0
	for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		w.concept("lido:measurementType", "", i)
		n++
	}
	if n == 0 {
		if what, _, _ := w.measureWords(at); said(what) {
			w.element("lido:measurementType", what, "")
		} else {
			w.ownTerm("lido:measurementType", ofNoKindSaid)
		}
	}
	if i := w.first(at, kUnit); i >= 0 {
		w.concept("lido:measurementUnit", "", i)
	} else {
		w.s("<lido:measurementUnit/>")
	}
	w.s("<lido:measurementValue>")
	w.compose()
	w.sayNumber(w.text(at, kValue))
	w.s(w.composed())
	w.s("</lido:measurementValue>")
	w.close(m)
}

// sayNumber adds a number of a document: integers in full, others as they are.
func (w *writer) sayNumber(s string) {
	if strings.IndexByte(s, 'e') < 0 {
		w.say(s)
		return
	}
	from := len(w.tmp)
	var integer bool
	if w.tmp, integer = entity.AppendDecimal(w.tmp, s); !integer {
		w.tmp = append(w.tmp[:from], s...)
	}
}

// sayMeasure says a measure in words: its label, or else its kind, amount and unit.
func (w *writer) sayMeasure(at int32) {
	if s := w.text(at, kLabel); said(s) {
		w.say(s)
	} else {
		from := len(w.tmp)
		for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			if len(w.tmp) > from {
				w.say(", ")
			}
			w.say(w.called(i))
		}
		if len(w.tmp) > from {
			w.say(": ")
		}
		w.sayNumber(w.text(at, kValue))
		if i := w.first(at, kUnit); i >= 0 {
			w.say(" ")
			w.say(w.called(i))
		}
	}
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); said(s) {
			w.say("; ")
			w.say(s)
		}
	}
	w.sayLimits(at)
}
