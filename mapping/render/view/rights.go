package view

import "strings"

// rightsWords are names with which a statement about rights may begin, and what they
// stand for: the licences and public domain tools of Creative Commons and the
// statements of rightsstatements.org. A licence that comes in several versions is
// known only with its number.
var rightsWords = [...][2]string{
	{"CC0", "http://creativecommons.org/publicdomain/zero/1.0/"},
	{"CC0 1.0", "http://creativecommons.org/publicdomain/zero/1.0/"},
	{"CC BY 4.0", "http://creativecommons.org/licenses/by/4.0/"},
	{"CC BY-SA 4.0", "http://creativecommons.org/licenses/by-sa/4.0/"},
	{"CC BY-ND 4.0", "http://creativecommons.org/licenses/by-nd/4.0/"},
	{"CC BY-NC 4.0", "http://creativecommons.org/licenses/by-nc/4.0/"},
	{"CC BY-NC-SA 4.0", "http://creativecommons.org/licenses/by-nc-sa/4.0/"},
	{"CC BY-NC-ND 4.0", "http://creativecommons.org/licenses/by-nc-nd/4.0/"},
	{"CC BY 3.0", "http://creativecommons.org/licenses/by/3.0/"},
	{"CC BY-SA 3.0", "http://creativecommons.org/licenses/by-sa/3.0/"},
	{"CC BY-ND 3.0", "http://creativecommons.org/licenses/by-nd/3.0/"},
	{"CC BY-NC 3.0", "http://creativecommons.org/licenses/by-nc/3.0/"},
	{"CC BY-NC-SA 3.0", "http://creativecommons.org/licenses/by-nc-sa/3.0/"},
	{"CC BY-NC-ND 3.0", "http://creativecommons.org/licenses/by-nc-nd/3.0/"},
	{"Public Domain Mark 1.0", "http://creativecommons.org/publicdomain/mark/1.0/"},
	{"Public Domain Mark", "http://creativecommons.org/publicdomain/mark/1.0/"},
	{"In Copyright", "http://rightsstatements.org/vocab/InC/1.0/"},
	{"In Copyright - Educational Use Permitted", "http://rightsstatements.org/vocab/InC-EDU/1.0/"},
	{"No Copyright - Non-Commercial Use Only", "http://rightsstatements.org/vocab/NoC-NC/1.0/"},
	{"No Copyright - Other Known Legal Restrictions", "http://rightsstatements.org/vocab/NoC-OKLR/1.0/"},
	{"Copyright Not Evaluated", "http://rightsstatements.org/vocab/CNE/1.0/"},
}

// rightsIRI is what a statement about rights stands for: its own text if that is the
// address of a Creative Commons licence or of a statement of rightsstatements.org, or
// the one whose name it begins with, up to its end or a mark. Otherwise "".
func rightsIRI(text string) string {
	text = strings.TrimSpace(text)
	if isRights(text) && !strings.ContainsAny(text, " \t\n") {
		return text
	}
	for i := range rightsWords {
		name := rightsWords[i][0]
		if len(text) < len(name) || !strings.EqualFold(text[:len(name)], name) {
			continue
		}
		if rest := text[len(name):]; rest == "" || strings.IndexByte(",;:.(", rest[0]) >= 0 || strings.HasPrefix(rest, " (") {
			if rest != "" && rest[0] == '.' && len(rest) > 1 && rest[1] >= '0' && rest[1] <= '9' {
				continue
			}
			return rightsWords[i][1]
		}
	}
	return ""
}

// isRights reports whether an IRI is one of Creative Commons or rightsstatements.org.
func isRights(iri string) bool {
	_, rest, ok := strings.Cut(iri, "://")
	return ok && onWeb(iri) && (strings.HasPrefix(rest, "creativecommons.org/") || strings.HasPrefix(rest, "rightsstatements.org/"))
}

// licenceOf is the IRI for which a statement about rights stands: one of its kinds, or
// what its text says; "" if that is not known.
func (w *writer) licenceOf(statement int32) string {
	for i := w.first(statement, kClassifiedAs); i >= 0; i = w.next(i, kClassifiedAs) {
		if isRights(w.ev[i].Value) {
			return w.ev[i].Value
		}
	}
	return rightsIRI(w.text(statement, kContent))
}

// canonicalRights is the form in which Creative Commons and rightsstatements.org
// identify their licences and statements, which has http (and which aggregators
// compare).
func canonicalRights(iri string) string {
	if rest, ok := strings.CutPrefix(iri, "https://"); ok && isRights(iri) {
		for i := range rightsWords {
			if rightsWords[i][1][len("http://"):] == rest {
				return rightsWords[i][1]
			}
		}
		return "http://" + rest
	}
	return iri
}

// licenceName reads the usual form of the addresses of Creative Commons licences
// (https://creativecommons.org/licenses/by-sa/4.0/); others are their own names.
func licenceName(iri string) string {
	_, rest, _ := strings.Cut(iri, "://creativecommons.org/")
	parts := strings.Split(rest, "/")
	if len(parts) < 3 {
		return iri
	}
	switch {
	case parts[0] == "licenses":
		return "CC " + strings.ToUpper(parts[1]) + " " + parts[2]
	case parts[0] == "publicdomain" && parts[1] == "zero":
		return "CC0 " + parts[2]
	case parts[0] == "publicdomain" && parts[1] == "mark":
		return "Public Domain Mark " + parts[2]
	}
	return iri
}
