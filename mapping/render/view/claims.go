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

// claimsMaking reports whether a claim that is still held, and no more than that, names
// somebody who made the thing.
func (w *writer) claimsMaking(at int32) bool {
	if w.text(at, kAssignedProperty) != "produced_by" || w.givenUp(at) || w.stated(at) {
		return false
	}
	found := false
	for i := w.first(at, kAssigned); i >= 0; i = w.next(i, kAssigned) {
		if w.class(i) != cProduction || w.ev[i].Ref {
			return false
		}
		w.claimedMakings(i, func(int32) { found = true })
	}
	return found
}

// claimedMakings calls f for every step of a making that names somebody.
func (w *writer) claimedMakings(at int32, f func(step int32)) {
	if w.first(at, kCarriedOutBy) >= 0 {
		f(at)
	}
	for i := w.first(at, kPart); i >= 0; i = w.next(i, kPart) {
		w.claimedMakings(i, f)
	}
}

// stated reports whether the document itself says all that is claimed: then the claim
// is the evidence of a fact.
func (w *writer) stated(at int32) bool {
	property := w.ev[0].Class.Resolve(w.text(at, kAssignedProperty))
	found := false
	for i := w.first(at, kAssigned); i >= 0; i = w.next(i, kAssigned) {
		if property == "" || !w.saidBy(0, property, i) {
			return false
		}
		found = true
	}
	return found
}

// saidBy reports whether what node at has under a property says all that the claimed
// node says.
func (w *writer) saidBy(at int32, property string, claimed int32) bool {
	for i := at + 1; w.ev[i].Kind != entity.Close; i++ {
		e := &w.ev[i]
		if e.Kind != entity.Open {
			continue
		}
		if e.Term.IRI == property && w.covers(i, claimed) {
			return true
		}
		i = e.End
	}
	return false
}

func (w *writer) covers(at, claimed int32) bool {
	a, b := &w.ev[at], &w.ev[claimed]
	if a.Class != b.Class || a.Ref != b.Ref || a.Ref && a.Value != b.Value {
		return false
	}
	for i := claimed + 1; w.ev[i].Kind != entity.Close; i++ {
		e := &w.ev[i]
		if e.Kind == entity.Open {
			if !w.saidBy(at, e.Term.IRI, i) {
				return false
			}
			i = e.End
		} else if !w.hasValue(at, e) {
			return false
		}
	}
	return true
}

func (w *writer) hasValue(at int32, v *entity.Event) bool {
	for i := at + 1; w.ev[i].Kind != entity.Close; i++ {
		e := &w.ev[i]
		if e.Kind == v.Kind && e.Term == v.Term && e.Value == v.Value {
			return true
		}
		if e.Kind == entity.Open {
			i = e.End
		}
	}
	return false
}

// sayClaim puts a claim or an assessment into words: its kinds and names, which relation
// it is about, what is claimed, and its notes.
func (w *writer) sayClaim(at int32) {
	assigned := w.first(at, kAssigned) >= 0
	kinds := w.sayNames(at, kClassifiedAs, "; ")
	if !kinds && assigned { // a name alone must not tell it as a fact
		w.sep("; ")
		if w.stated(at) {
			w.say("documented")
		} else {
			w.say(noWordsOfIt.label)
		}
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
		w.inClaim = true
		w.sayNode(i)
		w.inClaim = false
	}
	w.sayNotes(at)
}

// sayPlain adds a key of the profile, or a property with its prefix and number, as
// words.
func (w *writer) sayPlain(key string) {
	if _, local, ok := strings.Cut(key, ":"); ok {
		if _, words, ok := strings.Cut(local, "_"); ok {
			local = words
		}
		key = local
	}
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
	if w.inClaim && w.text(at, kBeginOfTheBegin)+w.text(at, kEndOfTheEnd) != "" { // a time span by itself
		w.saySpan(at)
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
	if w.inClaim {
		w.sayOthers(at, func() { part("") })
	}
	w.sayNotes(at)
}

// saidInNode are the keys of a node that sayNode tells in words of their own.
var saidInNode = func() (t [keyCount]bool) {
	for _, k := range [...]key{kLabel, kCarriedOutBy, kIdentifiedBy, kClassifiedAs, kContent, kValue, kUnit, kInfluencedBy, kTitleFrom, kTitleTo,
		kTechnique, kTookPlaceAt, kTimespan, kCausedBy, kPartOf, kReferredToBy} {
		t[k] = true
	}
	return t
}()

// sayOthers adds what a claimed node has under other keys: a claim may be of anything,
// and is told in words only.
func (w *writer) sayOthers(at int32, part func()) {
	for i := at + 1; w.ev[i].Kind != entity.Close; i++ {
		e := &w.ev[i]
		if !saidInNode[keyOf[e.Term.Index]] {
			part()
			if keyOf[e.Term.Index] != kPart {
				w.sayPlain(e.Term.Key)
				w.say(": ")
			}
			if e.Kind == entity.Open {
				w.sayNode(i)
			} else {
				w.say(e.Value)
			}
		}
		if e.Kind == entity.Open {
			i = e.End
		}
	}
}

// saySpan adds a time span: its words and bounds.
func (w *writer) saySpan(at int32) {
	words := w.spanWords(at)
	w.say(words)
	from, to := plainDates(w.text(at, kBeginOfTheBegin), w.text(at, kEndOfTheEnd))
	if from == to && from == words || from == "" && to == "" {
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
	w.sayNames(at, kInfluencedBy, "; from ")
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
