package mapping

var ruleBadText = &Rule{Name: "bad-text", About: "text whose braces don't match"}
