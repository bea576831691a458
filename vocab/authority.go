package vocab

import (
	"slices"
	"strings"
)

// Authority is a term of an authority that museum mappings need: a kind of name,
// a unit, a language. Labels are the profile's own wording where it has one, or
// else the authority's English term without its qualifier.
type Authority struct {
	CURIE      string // such as "aat:300404670"
	IRI        string // such as "http://vocab.getty.edu/aat/300404670"
	Label      string // English
	Class      string // key of the class of the profile under which it stands: Type, Material, Language, MeasurementUnit or Currency
	Code       string // language: BCP 47 tag; unit: UCUM code; currency: ISO 4217 code; otherwise ""
	FromMemory bool   // not checked against a published source
}

// namespace is a prefix for compact IRIs.
type namespace struct {
	iri   string
	local func(string) bool // what may follow; nil for any IRI characters
}

// namespaces are the prefixes of authorities; the context's come on top.
var namespaces = map[string]namespace{
	"aat":      {"http://vocab.getty.edu/aat/", digits},
	"ulan":     {"http://vocab.getty.edu/ulan/", digits},
	"tgn":      {"http://vocab.getty.edu/tgn/", digits},
	"wd":       {"http://www.wikidata.org/entity/", wikidataID},
	"viaf":     {"http://viaf.org/viaf/", digits},
	"gn":       {"https://sws.geonames.org/", digits},
	"gnd":      {"https://d-nb.info/gnd/", nil},
	"iso639-1": {"http://id.loc.gov/vocabulary/iso639-1/", nil},
	"owl":      {"http://www.w3.org/2002/07/owl#", nil},
}

// Expand returns the full IRI of a compact one with a prefix of an authority (aat,
// ulan, tgn, wd, viaf, gn, gnd, iso639-1) or of the profile's context (crm, la,
// sci, dig, skos, rdfs, xsd …). It reports false for an unknown prefix and for a
// local part that the authority cannot have, such as letters after "aat:".
func Expand(curie string) (iri string, ok bool) {
	prefix, local, found := strings.Cut(curie, ":")
	if !found || local == "" || strings.HasPrefix(local, "//") || !iriText(local) {
		return "", false
	}
	if ns, ok := namespaces[prefix]; ok {
		if ns.local != nil && !ns.local(local) {
			return "", false
		}
		return ns.iri + local, true
	}
	if ns, ok := prefixes[prefix]; ok {
		return ns + local, true
	}
	return "", false
}

func digits(s string) bool {
	return strings.Trim(s, "0123456789") == ""
}

func wikidataID(s string) bool {
	return len(s) > 1 && strings.ContainsRune("QPL", rune(s[0])) && digits(s[1:])
}

// iriText reports whether s has only characters that RFC 3987 lets stand in an
// IRI as they are.
func iriText(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool {
		return r <= ' ' || r == 0x7f || r == '\ufffd' || strings.ContainsRune("<>\"{}|\\^`", r)
	})
}

var (
	authorityByCURIE = map[string]*Authority{}
	authorityByIRI   = map[string]*Authority{}
	authorityByCode  = map[[2]string]*Authority{} // by class and code
)

func initAuthorities() {
	for i := range authorityTable {
		a := &authorityTable[i]
		iri, ok := Expand(a.CURIE)
		if !ok {
			panic("vocab: " + a.CURIE)
		}
		a.IRI = iri
		authorityByCURIE[a.CURIE] = a
		authorityByIRI[a.IRI] = a
		if a.Code != "" {
			authorityByCode[[2]string{a.Class, a.Code}] = a
		}
	}
}

// AuthorityByCURIE returns the term with a compact IRI such as "aat:300404670".
func AuthorityByCURIE(curie string) (a *Authority, ok bool) {
	a, ok = authorityByCURIE[curie]
	return a, ok
}

// AuthorityByIRI returns the term with a full IRI.
func AuthorityByIRI(iri string) (a *Authority, ok bool) {
	a, ok = authorityByIRI[iri]
	return a, ok
}

// AuthorityByCode returns the term of a class with a code: a Language by its BCP
// 47 tag ("sv"), a MeasurementUnit by its UCUM code ("cm", "[in_i]"), a Currency
// by its ISO 4217 code ("GBP").
func AuthorityByCode(class, code string) (a *Authority, ok bool) {
	a, ok = authorityByCode[[2]string{class, code}]
	return a, ok
}

// Authorities lists the terms in the order of the table: by use, from names and
// identifiers to currencies.
func Authorities() []Authority { return slices.Clone(authorityTable[:]) }
