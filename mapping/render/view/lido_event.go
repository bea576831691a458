package view

// lidoEvents writes what happened to the object.
func (w *writer) lidoEvents() {
	m := w.begin("lido:eventWrap")
	w.lidoMaking()
	for _, e := range [...]struct {
		k key
		t lidoTerm
	}{
		{kEncounteredBy, lidoFinding},
		{kModifiedBy, lidoModification},
		{kChangedOwnership, lidoAcquisition},
		{kUsedFor, lidoUse},
		{kRemovedBy, lidoPartRemoval},
		{kDestroyedBy, lidoDestruction},
	} {
		for i := w.first(0, e.k); i >= 0; i = w.next(i, e.k) {
			t := e.t
			if e.k == kUsedFor && (w.isKind(i, aatExhibition) || w.isKind(i, aatExhibitions)) {
				t = lidoExhibition
			}
			w.lidoEvent(i, t, whole)
			for p := w.first(i, kPart); p >= 0; p = w.next(p, kPart) {
				w.lidoEvent(p, lidoProduction, step)
			}
		}
	}
	w.close(m)
}

// How an event is told.
type told uint8

const (
	whole  told = iota // by itself
	step               // a step of a making, by itself
	making             // with its simple steps and what is claimed of it
)

// lidoMaking writes the production of the object, with the makers of its simple
// steps and those that are claimed, and an event for each step of which there is more
// to say.
func (w *writer) lidoMaking() {
	p := w.first(0, kProducedBy)
	w.lidoEvent(p, lidoProduction, making)
	if p >= 0 {
		w.lidoSteps(p)
	}
}

func (w *writer) lidoSteps(at int32) {
	for i := w.first(at, kPart); i >= 0; i = w.next(i, kPart) {
		if !w.simple(i) && !w.givenUp(i) {
			w.lidoEvent(i, lidoProduction, step)
			w.lidoSteps(i)
		}
	}
}

// lidoEvent writes an event. At is -1 for a making of which there are only claims.
func (w *writer) lidoEvent(at int32, t lidoTerm, how told) {
	at0 := len(w.b)
	w.s("<lido:eventSet><lido:event>")
	if at >= 0 {
		for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
			if w.class(i) == cIdentifier {
				w.localIdentifier("lido:eventID", w.numberLabel(i), w.text(i, kContent))
			}
		}
	}
	w.ownTerm("lido:eventType", t)
	begun := len(w.b)
	if at >= 0 {
		if how != step || !w.hasActor(at) {
			w.eventNames(at)
		}
		w.eventActors(at, how)
	}
	if how == making {
		w.mergedActors(at)
	}
	if at >= 0 {
		w.eventCircumstances(at, t, how)
		w.eventNotes(at, how)
	}
	if len(w.b) == begun && how != whole {
		w.b = w.b[:at0]
		return
	}
	w.s("</lido:event></lido:eventSet>")
}

func (w *writer) eventNames(at int32) {
	n := 0
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); w.class(i) == cName && said(s) {
			w.s("<lido:eventName>")
			w.element("lido:appellationValue", s, w.lang(i))
			w.s("</lido:eventName>")
			n++
		}
	}
	if n == 0 {
		w.appellation("lido:eventName", w.text(at, kLabel))
	}
}

// eventActors writes who took part in an event.
func (w *writer) eventActors(at int32, how told) {
	for i := w.first(at, kCarriedOutBy); i >= 0; i = w.next(i, kCarriedOutBy) {
		w.actorInRole(i, at, how == step, false)
	}
	for i := w.first(at, kTitleFrom); i >= 0; i = w.next(i, kTitleFrom) {
		w.namedRole(i, ownerBefore)
	}
	for i := w.first(at, kTitleTo); i >= 0; i = w.next(i, kTitleTo) {
		w.namedRole(i, ownerAfter)
	}
	for i := w.first(at, kInfluencedBy); i >= 0; i = w.next(i, kInfluencedBy) {
		if c := w.class(i); c == cPerson || c == cGroup {
			w.actorInRole(i, at, how == step, true)
		}
	}
}

// mergedActors writes the makers of simple steps, and those that are claimed.
func (w *writer) mergedActors(at int32) {
	if at >= 0 {
		for p := w.first(at, kPart); p >= 0; p = w.next(p, kPart) {
			if w.simple(p) && !w.givenUp(p) {
				w.eventActors(p, step)
			}
		}
	}
	for c := w.first(0, kAttributedBy); c >= 0; c = w.next(c, kAttributedBy) {
		if !w.claimsMaking(c) {
			continue
		}
		for p := w.first(c, kAssigned); p >= 0; p = w.next(p, kAssigned) {
			w.claimedMakings(p, func(step int32) {
				for i := w.first(step, kCarriedOutBy); i >= 0; i = w.next(i, kCarriedOutBy) {
					w.claimedActor(i, step, c)
				}
			})
		}
	}
}

// actorInRole writes somebody who took part. Of a step, its kinds and names are roles,
// unless they qualify the attribution; whoever only influenced it always comes with a
// qualification.
func (w *writer) actorInRole(who, event int32, step, influence bool) {
	w.s("<lido:eventActor>")
	if step {
		w.element("lido:displayActorInRole", w.text(event, kLabel), "")
	}
	w.s("<lido:actorInRole>")
	w.actor(who)
	if step {
		for i := w.first(event, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			if !influence && !attributionQualifier(aat(w.ev[i].Value)) {
				w.concept("lido:roleActor", "", i)
			}
		}
		for i := w.first(event, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
			if s := w.text(i, kContent); !influence && said(s) {
				w.s("<lido:roleActor>")
				w.element("lido:term", s, w.lang(i))
				w.s("</lido:roleActor>")
			}
		}
		n := 0
		for i := w.first(event, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			if influence || attributionQualifier(aat(w.ev[i].Value)) {
				w.concept("lido:attributionQualifierActor", "", i)
				n++
			}
		}
		if influence && n == 0 {
			w.qualifyInfluence(who, event)
		}
	} else if influence {
		w.ownTerm("lido:attributionQualifierActor", wasShapedBy)
	}
	w.s("</lido:actorInRole></lido:eventActor>")
}

// qualifyInfluence takes the words of the step ("after Abel Venhallow") for the
// qualification, or else says no more than is known.
func (w *writer) qualifyInfluence(who, event int32) {
	n := 0
	for i := w.first(event, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); said(s) {
			w.s("<lido:attributionQualifierActor>")
			w.element("lido:term", s, w.lang(i))
			w.s("</lido:attributionQualifierActor>")
			n++
		}
	}
	if n == 0 {
		w.ownTerm("lido:attributionQualifierActor", wasShapedBy)
	}
}

// namedRole writes somebody in a role that the profile gives.
func (w *writer) namedRole(who int32, role lidoTerm) {
	w.s("<lido:eventActor><lido:actorInRole>")
	w.actor(who)
	w.ownTerm("lido:roleActor", role)
	w.s("</lido:actorInRole></lido:eventActor>")
}

// claimedActor writes somebody who is held to have made the thing, with the words of
// doubt and with who says so.
func (w *writer) claimedActor(who, production, claim int32) {
	w.s("<lido:eventActor>")
	w.compose()
	w.sayClaim(claim)
	w.element("lido:displayActorInRole", w.composed(), "")
	w.s("<lido:actorInRole>")
	w.actor(who)
	for i := w.first(production, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		w.concept("lido:roleActor", "", i)
	}
	n := 0
	for i := w.first(claim, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		w.concept("lido:attributionQualifierActor", "", i)
		n++
	}
	if n == 0 {
		w.ownTerm("lido:attributionQualifierActor", noWordsOfIt)
	}
	w.withIRIs = true
	w.compose()
	w.sayClaimant(claim)
	w.element("lido:sourceActorInRole", w.composed(), "")
	w.withIRIs = false
	w.s("</lido:actorInRole></lido:eventActor>")
}

// eventCircumstances writes when, where and how an event happened, and what else was
// part of it.
func (w *writer) eventCircumstances(at int32, t lidoTerm, how told) {
	w.dates("lido:eventDate", at)
	for i := w.first(at, kDuring); i >= 0; i = w.next(i, kDuring) {
		w.concept("lido:periodName", "", i)
	}
	for i := w.first(at, kTookPlaceAt); i >= 0; i = w.next(i, kTookPlaceAt) {
		m := w.begin("lido:eventPlace")
		n := w.begin("lido:place")
		w.placeParts(i)
		w.close(n)
		w.close(m)
	}
	making := t == lidoProduction || t == lidoModification
	if how != step || !w.hasActor(at) { // otherwise they are roles
		for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
			w.concept("lido:eventMethod", "", i)
		}
	}
	if !making {
		for i := w.first(at, kTechnique); i >= 0; i = w.next(i, kTechnique) {
			w.concept("lido:eventMethod", "", i)
		}
	} else {
		m := w.begin("lido:eventMaterialsTech")
		n := w.begin("lido:materialsTech")
		for i := w.first(at, kTechnique); i >= 0; i = w.next(i, kTechnique) {
			w.concept("lido:termMaterialsTech", lidoTechnique, i)
		}
		w.close(n)
		w.close(m)
	}
	for _, k := range [...]key{kUsedObject, kDiminished} {
		for i := w.first(at, k); i >= 0; i = w.next(i, k) {
			m := w.begin("lido:thingPresent")
			n := w.begin("lido:object")
			w.objectParts(i)
			w.close(n)
			w.close(m)
		}
	}
	for _, r := range [...]struct {
		k key
		t lidoTerm
	}{{kPartOf, wasPartOf}, {kCausedBy, wasCausedBy}, {kAfter, cameAfter}, {kBefore, cameBefore}} {
		for i := w.first(at, r.k); i >= 0; i = w.next(i, r.k) {
			w.s("<lido:relatedEventSet><lido:relatedEvent><lido:event>")
			w.identifier("lido:eventID", w.iri(i))
			w.ownTerm("lido:eventType", lidoEvent)
			w.appellation("lido:eventName", w.name(i))
			w.s("</lido:event></lido:relatedEvent>")
			w.ownTerm("lido:relatedEventRelType", r.t)
			w.s("</lido:relatedEventSet>")
		}
	}
}

// eventNotes writes the statements about an event, about the steps that are told with
// it, and what has no place elsewhere.
func (w *writer) eventNotes(at int32, how told) {
	for i := w.first(at, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
		m := w.beginWith("lido:eventDescriptionSet", " lido:type", w.firstIRI(i, kClassifiedAs))
		w.note("lido:descriptiveNoteValue", i)
		w.sources("lido:sourceDescriptiveNote", i)
		w.close(m)
	}
	w.compose()
	n := 0
	for i := w.first(at, kInfluencedBy); i >= 0; i = w.next(i, kInfluencedBy) {
		if c := w.class(i); c != cPerson && c != cGroup {
			if n++; n == 1 {
				w.say(wasShapedBy.label + " ")
			} else {
				w.say(", ")
			}
			w.say(w.called(i))
		}
	}
	w.eventNote("en")
	if how != making {
		return
	}
	for p := w.first(at, kPart); p >= 0; p = w.next(p, kPart) {
		if w.givenUp(p) {
			w.compose()
			w.sayStep(p)
			w.eventNote("")
			continue
		}
		if !w.simple(p) {
			continue
		}
		for i := w.first(p, kReferredToBy); i >= 0; i = w.next(i, kReferredToBy) {
			w.compose()
			w.sayNames(p, kCarriedOutBy, "")
			w.sayNames(p, kInfluencedBy, ", ")
			w.say(": ")
			if s := w.text(i, kContent); said(s) {
				w.say(s)
				m := w.beginWith("lido:eventDescriptionSet", " lido:type", w.firstIRI(i, kClassifiedAs))
				w.element("lido:descriptiveNoteValue", w.composed(), w.lang(i))
				w.sources("lido:sourceDescriptiveNote", i)
				w.close(m)
			}
		}
	}
}

// eventNote writes what has been composed.
func (w *writer) eventNote(lang string) {
	m := w.begin("lido:eventDescriptionSet")
	w.element("lido:descriptiveNoteValue", w.composed(), lang)
	w.close(m)
}

// hasActor reports whether somebody made a step or influenced it.
func (w *writer) hasActor(at int32) bool {
	if w.first(at, kCarriedOutBy) >= 0 {
		return true
	}
	for i := w.first(at, kInfluencedBy); i >= 0; i = w.next(i, kInfluencedBy) {
		if c := w.class(i); c == cPerson || c == cGroup {
			return true
		}
	}
	return false
}
