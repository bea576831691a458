package view

import (
	"strings"
	"unsafe"

	"ropewalk/mapping/render"
)

// s appends text as it stands.
func (w *writer) s(text string) { w.b = append(w.b, text...) }

// escaped appends s as XML text.
func (w *writer) escaped(s string) {
	var ok bool
	if w.b, ok = render.AppendXML(w.b, s, false); !ok {
		w.fail(s)
	}
}

func (w *writer) fail(text string) {
	if w.bad == nil {
		err := &render.TextError{Format: w.v.Name, Text: strings.Clone(text)}
		w.bad = &Reason{View: w.v.Name, Document: strings.Clone(w.d.IRI()), Code: NotPrintable, Text: err.Error(), Err: err}
	}
}

// attr appends an attribute, unless it is empty. Name begins with a space.
func (w *writer) attr(name, value string) {
	if value == "" {
		return
	}
	w.s(name)
	w.s(`="`)
	var ok bool
	if w.b, ok = render.AppendXML(w.b, value, true); !ok {
		w.fail(value)
	}
	w.b = append(w.b, '"')
}

// element appends an element with text, if there is any; lang may be empty.
func (w *writer) element(tag, text, lang string) {
	if !said(text) {
		return
	}
	w.b = append(w.b, '<')
	w.s(tag)
	w.attr(` xml:lang`, lang)
	w.b = append(w.b, '>')
	w.escaped(text)
	w.end(tag)
}

func (w *writer) end(tag string) {
	w.s("</")
	w.s(tag)
	w.b = append(w.b, '>')
}

// mark is an element that has been begun.
type mark struct {
	tag       string
	at, after int
}

// begin begins an element without attributes.
func (w *writer) begin(tag string) mark { return w.beginWith(tag, "", "") }

// beginWith begins an element with an attribute, unless that is empty.
func (w *writer) beginWith(tag, name, value string) mark {
	at := len(w.b)
	w.b = append(w.b, '<')
	w.s(tag)
	w.attr(name, value)
	w.b = append(w.b, '>')
	return mark{tag, at, len(w.b)}
}

// close ends an element; one in which nothing stands is taken back, and close
// reports false.
func (w *writer) close(m mark) bool {
	if len(w.b) == m.after {
		w.b = w.b[:m.at]
		return false
	}
	w.end(m.tag)
	return true
}

// A text is put together between compose and composed.

func (w *writer) compose() { w.tmp = w.tmp[:0] }

// say adds to the text.
func (w *writer) say(s string) { w.tmp = append(w.tmp, s...) }

// sep adds s, without its marks if there is nothing before it.
func (w *writer) sep(s string) {
	if len(w.tmp) == 0 {
		s = strings.TrimLeft(s, ",;: ")
	}
	w.say(s)
}

// composed is the text; it is valid until the next compose.
func (w *writer) composed() string {
	if len(w.tmp) == 0 {
		return ""
	}
	return unsafe.String(&w.tmp[0], len(w.tmp))
}

// sayNames adds the names of all nodes under k, with commas between them, after lead.
// It reports whether there was one.
func (w *writer) sayNames(at int32, k key, lead string) bool {
	n := 0
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		if w.called(i) == "" {
			continue
		}
		if n++; n == 1 {
			w.sep(lead)
		} else {
			w.say(", ")
		}
		w.sayCalled(i)
	}
	return n > 0
}

// sayCalled adds the name of a node and, where a note has to stand for links, its IRI.
func (w *writer) sayCalled(at int32) {
	s := w.called(at)
	w.say(s)
	if iri := w.iri(at); w.withIRIs && iri != "" && iri != s {
		w.say(" <")
		w.say(iri)
		w.say(">")
	}
}

// moments are the bounds of the time span of a node, "" for one that is not known,
// and its words.
func (w *writer) moments(at int32) (from, to, words string) {
	i := w.first(at, kTimespan)
	if i < 0 {
		return "", "", ""
	}
	from, to = plainDates(w.text(i, kBeginOfTheBegin), w.text(i, kEndOfTheEnd))
	return from, to, w.spanWords(i)
}

// spanWords is how a time span is written: its name meant for display, or else its
// first.
func (w *writer) spanWords(span int32) string {
	words := ""
	for i := w.first(span, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		s := w.text(i, kContent)
		if w.class(i) != cName || !said(s) {
			continue
		}
		if w.isKind(i, aatDisplayTitle) {
			return s
		}
		if words == "" {
			words = s
		}
	}
	return words
}

const (
	dayBegins = "T00:00:00Z"
	dayEnds   = "T23:59:59Z"
)

// plainDates shortens the bounds of a time span (xsd:dateTime) to ISO 8601 dates as
// long as that says the same: to a year for its first and last second, to a day
// likewise. Whatever else there is stays as it is.
func plainDates(from, to string) (string, string) {
	f, fDay := strings.CutSuffix(from, dayBegins)
	t, tDay := strings.CutSuffix(to, dayEnds)
	fYear := fDay && strings.HasSuffix(f, "-01-01")
	tYear := tDay && strings.HasSuffix(t, "-12-31")
	if (fYear || from == "") && (tYear || to == "") {
		return strings.TrimSuffix(f, "-01-01"), strings.TrimSuffix(t, "-12-31")
	}
	if !fDay {
		f = from
	}
	if !tDay {
		t = to
	}
	return f, t
}

// sayTime adds a node's time: its words, and its bounds where they say more.
func (w *writer) sayTime(at int32, lead string) {
	from, to, words := w.moments(at)
	if words == "" && from == "" && to == "" {
		return
	}
	w.sep(lead)
	w.say(words)
	if from == "" && to == "" || from == to && from == words {
		return
	}
	if words == "" {
		w.sayBounds(from, to)
		return
	}
	w.say(" (")
	w.sayBounds(from, to)
	w.say(")")
}

// sayBounds adds a date or an interval as ISO 8601-2 has it; an open end is "..".
func (w *writer) sayBounds(from, to string) {
	if from == to {
		w.say(from)
		return
	}
	if from == "" {
		from = ".."
	}
	if to == "" {
		to = ".."
	}
	w.say(from)
	w.say("/")
	w.say(to)
}

// told is the text of a statement that stands among others, with its heading or, unless
// it merely describes, the name of its kind before it; and its language, as far as that
// is the language of both.
func (w *writer) told(statement int32) (text, lang string) {
	text, lang = w.text(statement, kContent), w.lang(statement)
	if !said(text) {
		return "", ""
	}
	lead := w.heading(statement)
	if i := w.first(statement, kClassifiedAs); !said(lead) && i >= 0 {
		switch aat(w.ev[i].Value) {
		case aatDescription, aatDescriptions, aatBiography, aatBiographies, aatAbstract, aatNote:
			return text, lang
		}
		lead = w.name(i)
		if lang != w.c.Language {
			lang = ""
		}
	}
	if !said(lead) {
		return text, lang
	}
	w.compose()
	w.say(lead)
	w.say(": ")
	w.say(text)
	return w.composed(), lang
}

// heading is the name of a statement, or "".
func (w *writer) heading(statement int32) string {
	i := w.first(statement, kIdentifiedBy)
	if i < 0 {
		return ""
	}
	return w.text(i, kContent)
}

// language is the language of the records; "und" (undetermined, BCP 47) if the
// context does not give one.
func (w *writer) language() string {
	if languageSubtags(w.c.Language) {
		return w.c.Language
	}
	return "und"
}

// languageSubtags reports whether s has the form of xsd:language: parts of one to
// eight letters, from the second on also digits, with hyphens between them.
func languageSubtags(s string) bool {
	n, first := 0, true
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', !first && '0' <= c && c <= '9':
			n++
		case c == '-' && n > 0:
			n, first = 0, false
			continue
		default:
			return false
		}
		if n > 8 {
			return false
		}
	}
	return n > 0
}
