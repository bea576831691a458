package mapping

var ruleBadIRI = &Rule{Name: "bad-iri", About: "an identifier that is no IRI"}
