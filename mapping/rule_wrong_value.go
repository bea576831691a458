package mapping

var ruleWrongValue = &Rule{Name: "wrong-value", About: "a value of the wrong kind for its place"}
