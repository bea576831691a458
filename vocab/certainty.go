package vocab

import "strings"

// Certainty is how sure somebody is of a statement that is documented by an
// attribute assignment. The profile publishes no terms for it save "Possibly By",
// of a maker (aat:300404272, in its example object/forum/1.json); so each degree
// is a concept of the site's own, see [Certainty.Path].
type Certainty uint8

// The degrees. A statement is taken as a fact where nothing or Certain is said.
const (
	CertaintyUnsaid  Certainty = iota
	Certain                    // it stands, and what documents it is named
	Probable                   // held likely; it is asserted only on request
	Possible                   // it may be so
	Disputed                   // somebody denies it
	Superseded                 // it was held once and is no longer
	CertaintyUnknown           // said in words that nobody understands
)

var certaintyWords = [...]string{"", "certain", "probable", "possible", "disputed", "superseded", ""}

// Certainties lists the degrees that have a word, the surest first.
func Certainties() []Certainty { return []Certainty{Certain, Probable, Possible, Disputed, Superseded} }

// Word is the degree's English word, or "".
func (c Certainty) Word() string { return certaintyWords[c] }

const certaintyPath = "concept/certainty/"

// Path is the path of the degree's concept below a site's base, such as
// "concept/certainty/disputed"; "" for a degree without a word.
func (c Certainty) Path() string {
	if c.Word() == "" {
		return ""
	}
	return certaintyPath + c.Word()
}

// CertaintyByWord gives the degree with a word, or CertaintyUnknown. Capitals do
// not count.
func CertaintyByWord(word string) Certainty {
	for _, c := range Certainties() {
		if strings.EqualFold(word, c.Word()) {
			return c
		}
	}
	return CertaintyUnknown
}

// CertaintyByIRI gives the degree whose concept an IRI names, of whatever site, or
// CertaintyUnsaid.
func CertaintyByIRI(iri string) Certainty {
	i := strings.LastIndex(iri, "/"+certaintyPath)
	if i < 0 {
		return CertaintyUnsaid
	}
	for _, c := range Certainties() {
		if iri[i+1+len(certaintyPath):] == c.Word() {
			return c
		}
	}
	return CertaintyUnsaid
}

// Compact writes an IRI with a prefix of the profile's context, such as
// "crm:P46_is_composed_of"; it returns "" if none of them begins it.
func Compact(iri string) string {
	best := ""
	for _, p := range genPrefixes {
		if rest, ok := strings.CutPrefix(iri, p[1]); ok && rest != "" && (best == "" || len(p[0])+1+len(rest) < len(best)) {
			best = p[0] + ":" + rest
		}
	}
	return best
}
