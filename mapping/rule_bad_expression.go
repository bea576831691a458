package mapping

var ruleBadExpression = &Rule{Name: "bad-expression", About: "an expression that can't be parsed or mixes up types"}
