package mapping

import "slices"

// Rule is a compile-time rule of the mapping language.
type Rule struct {
	Name     string
	Severity Severity
	About    string // what it finds, for the list of rules
}

// rules are all the rules, in the order in which their checks run.
var rules = []*Rule{
	ruleYAML, ruleMissingHead, ruleWrongValue, ruleBadText, ruleBadExpression, ruleBadIRI, ruleGivenTwice,
	ruleUnknownClass, ruleUnknownKey, ruleUnknownField, ruleUnknownSource, ruleUnknownTerms, ruleUnknownPattern,
	ruleUnknownHole, ruleHoleNotGiven, ruleUnknownReader, ruleUnknownSet,
	ruleOutsideRange, ruleIdentifier, ruleSingleValued, ruleRequiredKey, ruleOutsideCRM, ruleMappingSchema,
	ruleEvidencePlace, ruleEvidenceCertainty,
	ruleUnreachable, ruleWithheldColumn, ruleSensitiveColumn, ruleDisclosure, ruleWaiver,
	ruleLooksPersonal, ruleLooksLikeFindSpot, ruleUnusedColumn,
}

// Rules lists the rules of the language.
func Rules() []*Rule { return slices.Clone(rules) }

// checks are the rules that look at what has been compiled; the others speak while
// names are resolved.
var checks = []func(*compiler, *document){checkSingleValued, checkRequiredKey, checkOutsideCRM, checkUnreachable, checkWithheldColumn, checkSensitiveColumn}
