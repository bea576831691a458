package web

// Profiles of JSON-LD that a request may ask for.
const (
	profileURI   = "https://linked.art/ns/v1/linked-art.json" // Linked Art 1.0: the documents as they are stored
	compactedURI = "http://www.w3.org/ns/json-ld#compacted"   // JSON-LD 1.1, appendix C, as are those below
	expandedURI  = "http://www.w3.org/ns/json-ld#expanded"
	flattenedURI = "http://www.w3.org/ns/json-ld#flattened"
	framedURI    = "http://www.w3.org/ns/json-ld#framed"
)
