package view

import (
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// key is a JSON key of the profile that a view asks for; the same for all the terms
// that have it.
type key uint8

const (
	kOther key = iota
	kAbout
	kAccessPoint
	kAfter
	kAssigned
	kAssignedBy
	kAssignedProperty
	kAttributedBy
	kBefore
	kBeginOfTheBegin
	kBorn
	kBroader
	kCarriedOut
	kCarriedOutBy
	kCarries
	kCausedBy
	kChangedOwnership
	kClassifiedAs
	kConceptuallyPartOf
	kConformsTo
	kContent
	kCreatedBy
	kCurrency
	kCurrentCustodian
	kCurrentLocation
	kCurrentOwner
	kPermanentCustodian
	kPermanentLocation
	kDefinedBy
	kDestroyedBy
	kDied
	kDigitallyCarriedBy
	kDigitallyCarries
	kDigitallyShownBy
	kDigitallyShows
	kDimension
	kDiminished
	kDissolvedBy
	kDuring
	kEncountered
	kEncounteredBy
	kEndOfTheEnd
	kEquivalent
	kEstablishes
	kFormat
	kFormedBy
	kHeldOrSupportedBy
	kIdentifiedBy
	kInfluencedBy
	kLabel
	kLanguage
	kLowerLimit
	kMadeOf
	kMemberOf
	kMembersContainedBy
	kModifiedBy
	kMoved
	kMovedFrom
	kMovedTo
	kPaidAmount
	kPaidFrom
	kPaidTo
	kPart
	kParticipant
	kParticipatedIn
	kPartOf
	kPossessedBy
	kProducedBy
	kReferredToBy
	kRemovedBy
	kRepresentation
	kRepresents
	kRepresentsType
	kResidence
	kShows
	kSubjectOf
	kSubjectTo
	kTechnique
	kTimespan
	kTookPlaceAt
	kTitleFrom
	kTitleOf
	kTitleTo
	kCustodyFrom
	kCustodyOf
	kCustodyTo
	kUnit
	kUpperLimit
	kUsedFor
	kUsedObject
	kValue
	keyCount
)

var keyNames = map[string]key{
	"about": kAbout, "access_point": kAccessPoint, "after": kAfter, "assigned": kAssigned, "assigned_by": kAssignedBy,
	"assigned_property": kAssignedProperty, "attributed_by": kAttributedBy, "before": kBefore, "begin_of_the_begin": kBeginOfTheBegin,
	"born": kBorn, "broader": kBroader, "carried_out": kCarriedOut, "carried_out_by": kCarriedOutBy, "carries": kCarries,
	"caused_by": kCausedBy, "changed_ownership_through": kChangedOwnership, "classified_as": kClassifiedAs,
	"conceptually_part_of": kConceptuallyPartOf, "conforms_to": kConformsTo, "content": kContent,
	"created_by": kCreatedBy, "currency": kCurrency, "current_custodian": kCurrentCustodian, "current_location": kCurrentLocation,
	"current_owner": kCurrentOwner, "current_permanent_custodian": kPermanentCustodian, "current_permanent_location": kPermanentLocation,
	"defined_by": kDefinedBy, "destroyed_by": kDestroyedBy, "died": kDied, "digitally_carried_by": kDigitallyCarriedBy,
	"digitally_carries": kDigitallyCarries, "digitally_shown_by": kDigitallyShownBy, "digitally_shows": kDigitallyShows,
	"dimension": kDimension, "diminished": kDiminished, "dissolved_by": kDissolvedBy, "during": kDuring,
	"encountered": kEncountered, "encountered_by": kEncounteredBy, "end_of_the_end": kEndOfTheEnd, "equivalent": kEquivalent, "establishes": kEstablishes, "format": kFormat,
	"formed_by": kFormedBy, "held_or_supported_by": kHeldOrSupportedBy, "identified_by": kIdentifiedBy, "influenced_by": kInfluencedBy,
	"_label": kLabel, "language": kLanguage, "lower_value_limit": kLowerLimit, "made_of": kMadeOf, "member_of": kMemberOf,
	"members_contained_by": kMembersContainedBy, "modified_by": kModifiedBy, "moved": kMoved, "moved_from": kMovedFrom, "moved_to": kMovedTo, "paid_amount": kPaidAmount, "paid_from": kPaidFrom,
	"paid_to": kPaidTo, "part": kPart, "participant": kParticipant, "participated_in": kParticipatedIn, "part_of": kPartOf,
	"possessed_by": kPossessedBy, "produced_by": kProducedBy, "referred_to_by": kReferredToBy, "removed_by": kRemovedBy,
	"representation": kRepresentation, "represents": kRepresents, "represents_instance_of_type": kRepresentsType, "residence": kResidence,
	"shows": kShows, "subject_of": kSubjectOf, "subject_to": kSubjectTo, "technique": kTechnique, "timespan": kTimespan,
	"took_place_at": kTookPlaceAt, "transferred_title_from": kTitleFrom, "transferred_title_of": kTitleOf,
	"transferred_title_to": kTitleTo, "transferred_custody_from": kCustodyFrom, "transferred_custody_of": kCustodyOf,
	"transferred_custody_to": kCustodyTo, "unit": kUnit, "upper_value_limit": kUpperLimit, "used_for": kUsedFor,
	"used_specific_object": kUsedObject, "value": kValue,
}

// keyOf gives the key of a term, by the term's index.
var keyOf = func() []key {
	terms := vocab.Terms()
	t := make([]key, len(terms))
	for _, term := range terms {
		t[term.Index] = keyNames[term.Key]
	}
	return t
}()

// class is a class of the profile that a view asks for.
type class uint8

const (
	cOther class = iota
	cName
	cIdentifier
	cPerson
	cGroup
	cActivity
	cEvent
	cPeriod
	cPlace
	cType
	cSet
	cText
	cVisual
	cDigital
	cAbstract
	cObject
	cProduction
)

var classNames = map[string]class{
	"Name": cName, "Identifier": cIdentifier, "Person": cPerson, "Group": cGroup, "Activity": cActivity, "Event": cEvent,
	"Period": cPeriod, "Place": cPlace, "Type": cType, "Material": cType, "Language": cType, "MeasurementUnit": cType,
	"Currency": cType, "Set": cSet, "LinguisticObject": cText, "VisualItem": cVisual, "DigitalObject": cDigital,
	"PropositionalObject": cAbstract, "HumanMadeObject": cObject, "Production": cProduction,
}

var classOf = func() []class {
	list := vocab.Classes()
	t := make([]class, len(list))
	for _, c := range list {
		t[c.Index] = classNames[c.Key]
	}
	return t
}()

// Nodes are named by the indexes of their Open events; -1 is no node.

// from gives the first value or node under k among the siblings that begin at
// event i.
func (w *writer) from(i int32, k key) int32 {
	for {
		e := &w.ev[i]
		if e.Kind == entity.Close {
			return -1
		}
		if keyOf[e.Term.Index] == k {
			return i
		}
		if e.Kind == entity.Open {
			i = e.End
		}
		i++
	}
}

// first is the first value or node that node at has under k.
func (w *writer) first(at int32, k key) int32 {
	if at == 0 {
		return w.head[k]
	}
	return w.from(at+1, k)
}

// next is the one after i under the same key.
func (w *writer) next(i int32, k key) int32 {
	if n := w.link[i]; n != 0 {
		return n
	}
	if w.ev[i].Kind == entity.Open {
		i = w.ev[i].End
	}
	return w.from(i+1, k)
}

// index links the values and nodes of the root that stand under the same key, since
// those are asked for again and again.
func (w *writer) index() {
	if cap(w.link) < len(w.ev) {
		w.link = make([]int32, len(w.ev)+64)
	}
	w.link = w.link[:len(w.ev)]
	clear(w.link)
	var last [keyCount]int32
	for k := range w.head {
		w.head[k] = -1
	}
	for i := int32(1); i < int32(len(w.ev)-1); i++ {
		e := &w.ev[i]
		k := keyOf[e.Term.Index]
		if w.head[k] < 0 {
			w.head[k] = i
		} else {
			w.link[last[k]] = i
		}
		last[k], w.link[i] = i, -1
		if e.Kind == entity.Open {
			i = e.End
		}
	}
}

// text is the first literal of a node under k, or "".
func (w *writer) text(at int32, k key) string {
	for i := w.first(at, k); i >= 0; i = w.next(i, k) {
		if w.ev[i].Kind != entity.Open {
			return w.ev[i].Value
		}
	}
	return ""
}

// class is the class of a node.
func (w *writer) class(at int32) class { return classOf[w.ev[at].Class.Index] }

// iri is the IRI of a reference; "" for an embedded node.
func (w *writer) iri(at int32) string {
	if e := &w.ev[at]; e.Ref {
		return e.Value
	}
	return ""
}

// name is the label of a node or, for want of one, the content of its first name;
// "" if it has neither.
func (w *writer) name(at int32) string {
	if s := w.text(at, kLabel); said(s) {
		return s
	}
	for i := w.first(at, kIdentifiedBy); i >= 0; i = w.next(i, kIdentifiedBy) {
		if s := w.text(i, kContent); w.class(i) == cName && said(s) {
			return s
		}
	}
	return ""
}

// called is the name of a node or, for want of one, its IRI.
func (w *writer) called(at int32) string {
	if s := w.name(at); s != "" {
		return s
	}
	return w.iri(at)
}

// said reports whether s has anything to read.
func said(s string) bool {
	return s != "" && (s[0] > ' ' && s[0] < 0x80 || strings.TrimSpace(s) != "")
}

const aatBase = "http://vocab.getty.edu/aat/"

// aat is the number of an AAT concept; 0 for any other IRI.
func aat(iri string) int {
	if len(iri) != len(aatBase)+9 || iri[:len(aatBase)] != aatBase {
		return 0
	}
	n := 0
	for i := len(aatBase); i < len(iri); i++ {
		c := iri[i] - '0'
		if c > 9 {
			return 0
		}
		n = n*10 + int(c)
	}
	return n
}

// Concepts of the AAT by which the profile says what a node is for.
const (
	aatTypeOfWork       = 300435443
	aatPartType         = 300241583
	aatNationality      = 300379842
	aatOccupation       = 300263369
	aatGender           = 300055147
	aatPrimaryName      = 300404670
	aatDisplayTitle     = 300404669
	aatGivenName        = 300404651
	aatFamilyName       = 300404652
	aatAccession        = 300312355
	aatSystemNumber     = 300435704
	aatDescription      = 300435416
	aatDescriptions     = 300411780
	aatBiography        = 300435422
	aatBiographies      = 300080102
	aatAbstract         = 300026032
	aatNote             = 300027200
	aatCredit           = 300026687
	aatCreditLine       = 300435418
	aatProvenanceText   = 300435438
	aatInscription      = 300435414
	aatInscriptions     = 300028702
	aatSignatures       = 300028705
	aatMarks            = 300028744
	aatMaterials        = 300435429
	aatDimensions       = 300435430
	aatRights           = 300435434
	aatCopyright        = 300055598
	aatCitation         = 300311705
	aatWebPage          = 300264578
	aatDigitalImage     = 300215302
	aatExhibition       = 300417531
	aatExhibitions      = 300054766
	aatFormerAttributed = 300404270
	aatHeight           = 300055644
	aatWidth            = 300055647
	aatDepth            = 300072633
	aatPublishing       = 300054686
)

// isKind reports whether node at is classified as AAT concept n.
func (w *writer) isKind(at int32, n int) bool {
	for i := w.first(at, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if aat(w.ev[i].Value) == n {
			return true
		}
	}
	return false
}

// lang is the BCP 47 tag of a name's or statement's language, if it has one
// language and that is known by a tag; otherwise "".
func (w *writer) lang(at int32) string {
	i := w.first(at, kLanguage)
	if i < 0 || w.next(i, kLanguage) >= 0 {
		return ""
	}
	return languageTag(w.ev[i].Value)
}

func languageTag(iri string) string {
	a, ok := vocab.AuthorityByIRI(iri)
	if !ok || a.Class != "Language" {
		return ""
	}
	return a.Code
}
