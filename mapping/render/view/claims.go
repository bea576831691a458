package view

import (
	"strings"

	"ropewalk/mapping/entity"
)

// A claim is an AttributeAssignment under attributed_by: what somebody says of the
// thing, with its kinds (attributed to, possibly, by tradition) as the words of doubt.

// attributionQualifier reports whether an AAT concept qualifies an attribution
// (attributed to … manner of).
func attributionQualifier(n int) bool { return n >= 300404269 && n <= 300404288 || n == 300435722 }

// givenUp reports whether a claim or a step of the making is one that is no longer
// held.
func (w *writer) givenUp(at int32) bool {
	for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if aat(w.ev[i].Value) == aatFormerAttributed {
			return true
		}
		label := w.text(i, kLabel)
		for _, word := range [...]string{"formerly", "superseded", "rejected", "withdrawn", "no longer"} {
			if len(label) >= len(word) && strings.EqualFold(label[:len(word)], word) {
				return true
			}
		}
	}
	return false
}

// claimsMaking reports whether a claim that is still held names somebody who made
// the thing.
func (w *writer) claimsMaking(at int32) bool {
	if w.text(at, kAssignedProperty) != "produced_by" || w.givenUp(at) {
		return false
	}
	found := false
	for i := w.first(at, kAssigned); i >= 0; i = w.next(i, kAssigned) {
		if w.class(i) != cProduction || w.ev[i].Ref {
			return false
		}
		found = found || w.first(i, kCarriedOutBy) >= 0
	}
	return found
}

// sayClaim puts a claim or an assessment into words: its kinds and names, which relation
// it is about, what is claimed, and its notes.
func (w *writer) sayClaim(at int32) {
	assigned := w.first(at, kAssigned) >= 0
	kinds := w.sayNames(at, kClassifiedAs, "; ")
	if !kinds && assigned { // a name alone must not tell it as a fact
		w.sep("; ")
		w.say(noWordsOfIt.label)
		kinds = true
	}
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); w.class(i) == cName && said(s) {
			if kinds {
				w.say(", ")
			} else {
				w.sep("; ")
			}
			w.say(s)
			kinds = true
		}
	}
	if !kinds {
		w.sep("; ")
		w.say(noWordsOfIt.label)
	}
	if assigned {
		w.say(": ")
		if p := w.text(at, kAssignedProperty); p != "" && !w.claimsMaking(at) {
			w.sayPlain(p)
			w.say(": ")
		}
	}
	n := 0
	for i := w.first(at, kAssigned); i >= 0; i = w.next(i, kAssigned) {
		if n++; n > 1 {
			w.say("; ")
		}
		w.sayNode(i)
	}
	w.sayNotes(at)
}

// sayPlain adds a key of the profile as words.
func (w *writer) sayPlain(key string) {
	for i := 0; i < len(key); i++ {
		if key[i] == '_' {
			w.tmp = append(w.tmp, ' ')
		} else {
			w.tmp = append(w.tmp, key[i])
		}
	}
}

// sayStep adds what a step of a making says in one line. Where it is not told as a fact,
// the words of doubt come first.
func (w *writer) sayStep(at int32) {
	if w.surely(at) {
		w.sayNode(at)
		return
	}
	w.sayNames(at, kClassifiedAs, "")
	w.say(": ")
	w.withoutKinds = true
	w.sayNode(at)
	w.withoutKinds = false
}

// sayNode adds what a node says in one line: who, what kind, how, where, when.
func (w *writer) sayNode(at int32) {
	if w.ev[at].Ref {
		w.sayCalled(at)
		return
	}
	from := len(w.tmp)
	part := func(lead string) {
		if len(w.tmp) > from {
			w.say("; ")
		}
		w.say(lead)
	}
	list := func(k key, lead string) {
		n := 0
		for i := w.first(at, k); i >= 0; i = w.next(i, k) {
			if w.called(i) == "" {
				continue
			}
			if n++; n == 1 {
				part(lead)
			} else {
				w.say(", ")
			}
			w.sayCalled(i)
		}
	}
	list(kCarriedOutBy, "")
	if s := w.name(at); s != "" {
		part("")
		w.say(s)
	}
	if !w.withoutKinds {
		list(kClassifiedAs, "")
	}
	if s := w.text(at, kContent); said(s) {
		part("")
		w.say(s)
	}
	if i := w.first(at, kValue); i >= 0 {
		part("")
		w.say(w.ev[i].Value)
		if u := w.first(at, kUnit); u >= 0 {
			w.say(" ")
			w.say(w.called(u))
		}
	}
	list(kInfluencedBy, "influenced by ")
	list(kTitleFrom, "from ")
	list(kTitleTo, "to ")
	list(kTechnique, "technique: ")
	list(kTookPlaceAt, "in ")
	if from, to, words := w.moments(at); words != "" || from != "" || to != "" {
		part("")
		w.sayTime(at, "")
	}
	list(kCausedBy, "caused by ")
	list(kPartOf, "part of ")
	w.sayNotes(at)
}

// sayNotes adds the statements of a node.
func (w *writer) sayNotes(at int32) {
	for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		if s := w.text(i, kContent); said(s) {
			w.sep("; ")
			w.say(s)
		}
	}
}

// sayClaimant says who made a claim, when, and on which evidence.
func (w *writer) sayClaimant(at int32) {
	w.sayNames(at, kCarriedOutBy, "")
	w.sayTime(at, ", ")
	w.sayNames(at, kUsedObject, "; from ")
}

// simple reports whether a step of a making says no more than who took part, as what,
// and in which words, so that it can be told together with the whole.
func (w *writer) simple(part int32) bool {
	who := false
	for i := part + 1; ; i++ {
		e := &w.ev[i]
		if e.Kind == entity.Close {
			return who
		}
		switch keyOf[e.Term.Index] {
		case kCarriedOutBy:
			who = true
		case kInfluencedBy:
			c := w.class(i)
			who = who || c == cPerson || c == cGroup
		case kLabel, kClassifiedAs, kIdentifiedBy, kReferredToBy:
		default:
			return false
		}
		if e.Kind == entity.Open {
			i = e.End
		}
	}
}
