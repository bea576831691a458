package mapping

var ruleWaiver = &Rule{Name: "waiver", About: "a waiver without a reason, or of a rule that can't be waived"}
