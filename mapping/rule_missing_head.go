package mapping

var ruleMissingHead = &Rule{Name: "missing-head", About: "a mapping without make, from or id"}
