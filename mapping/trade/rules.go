// Package trade checks documents by rules of the trade: nobody takes part in what
// was over before they were born, nothing is given away before it is made, an object
// has one owner after another and stands at one place at a time.
//
// An [Extractor] takes from each document what the rules need, into a [Batch]. A
// [Ledger] takes the batches in any order, keeps a few numbers for each person, firm,
// object and event, and in the end tells the [Finding] values. Dates are intervals
// with four corners, and a rule that is a problem fires only if the facts contradict
// each other whichever day of the intervals is taken. What is not known stays unknown.
package trade

import (
	"slices"

	"ropewalk/mapping"
)

// RuleID is the index of a rule in [Rules].
type RuleID uint8

// The rules.
const (
	BeforeParticipant RuleID = iota
	AfterParticipant
	PosthumousMaking
	BeforeMaking
	AfterDestruction
	EndBeforeBeginning
	OwnersOverlap
	OwnerGap
	TwoPlaces
	PlaceGap
	PartLarger
	PartMeasureLarger
	AccessionYear
	PossiblyLiving
)

var rules = [...]mapping.Rule{
	BeforeParticipant:  {Name: "before-participant", About: "an event that was over before somebody who took part in it was born or founded"},
	AfterParticipant:   {Name: "after-participant", About: "an event that began after somebody who acted or received in it had died or been dissolved"},
	PosthumousMaking:   {Name: "posthumous-making", Severity: mapping.Notice, About: "a making that began after its maker's death, as of casts and late prints"},
	BeforeMaking:       {Name: "before-making", About: "something that happened to an object before its making began"},
	AfterDestruction:   {Name: "after-destruction", About: "something that happened to an object after it was destroyed"},
	EndBeforeBeginning: {Name: "end-before-beginning", About: "a death before the birth, an end before the founding, a destruction before the making"},
	OwnersOverlap:      {Name: "owners-overlap", About: "an object that has two owners at one time who did not get it together"},
	OwnerGap:           {Name: "owner-gap", Severity: mapping.Notice, About: "an owner who has an object from somebody other than the owner before: there is a gap between them"},
	TwoPlaces:          {Name: "two-places", About: "an object that is in two places at one time that have nothing in common"},
	PlaceGap:           {Name: "place-gap", Severity: mapping.Notice, About: "an object that is moved from, or is now at, a place other than that where the move before had left it: a move is missing"},
	PartLarger:         {Name: "part-larger", About: "a part that is heavier than its whole, or longer than anything that goes into it"},
	PartMeasureLarger:  {Name: "part-measure-larger", Severity: mapping.Notice, About: "a part of which a measure is larger than the same measure of its whole"},
	AccessionYear:      {Name: "accession-year", Severity: mapping.Notice, About: "an acquisition in another year than that of the accession number"},
	PossiblyLiving:     {Name: "possibly-living", Severity: mapping.Notice, About: "a birthday to the day or month of somebody born less than 110 years ago whose death is not recorded"},
}

// Rules lists the rules of the trade. A rule that is a problem fires only on what is
// impossible however the dates are read; one that is a notice, on what is improbable.
func Rules() []*mapping.Rule {
	out := make([]*mapping.Rule, len(rules))
	for i := range rules {
		out[i] = &rules[i]
	}
	return out
}

// Names are the names of the rules.
func Names() []string {
	var out []string
	for i := range rules {
		out = append(out, rules[i].Name)
	}
	return out
}

// Rule describes the rule.
func (r RuleID) Rule() *mapping.Rule { return &rules[r] }

// ByName finds a rule.
func ByName(name string) (RuleID, bool) {
	i := slices.IndexFunc(rules[:], func(r mapping.Rule) bool { return r.Name == name })
	return RuleID(max(i, 0)), i >= 0
}
