package web

import (
	"strings"
)

// Offer is a representation that can be chosen by media type.
type Offer struct {
	Type    string   // type and subtype in lower case, such as "text/turtle"
	Profile []string // profile URIs that a request may ask for by the profile parameter
}

// Codings in which a response can be sent, the server's favourite first.
var codings = []string{"zstd", "gzip"}

// maxMembers is how many members of a header field are looked at.
const maxMembers = 100

// Negotiate chooses among offers by the Accept header fields of a request
// (RFC 9110 §12.5.1) and returns the index, or -1 if all are unacceptable.
//
//   - No field, or none with a readable member: the first offer.
//   - An offer has the quality of the most specific media range that matches it:
//     type/subtype with parameters, then type/subtype, type/*, */*. Quality 0, or
//     no match, makes it unacceptable.
//   - Among offers of the same quality the one that was named more specifically
//     wins (so "text/turtle, */*" means Turtle), then the earlier.
//   - A profile parameter is a list of URIs (JSON-LD 1.1, appendix C) that the
//     offer must all have. A range whose profiles no offer has matches as if it
//     named none, but less specifically: the parameter is a hint (RFC 6906 §3.1).
//     Such a range with quality 0 excludes nothing.
//   - charset=utf-8 is true of every offer. A range with any other parameter
//     matches none.
//   - Members that are not media ranges are passed over, as are weights that
//     are none (their member has the weight 1).
func Negotiate(accept []string, offers []Offer) int {
	if len(offers) == 0 {
		return -1
	}
	if len(accept) == 1 && accept[0] == "*/*" {
		return 0
	}
	type rank struct{ quality, specificity int }
	var few [24]rank
	ranks := few[:0]
	for range offers {
		ranks = append(ranks, rank{})
	}
	readable := false
	members(accept, func(m string) {
		r, ok := parseRange(m)
		if !ok {
			return
		}
		readable = true
		for i := range offers {
			s := r.match(&offers[i])
			if s > ranks[i].specificity || s > 0 && s == ranks[i].specificity && r.quality > ranks[i].quality {
				ranks[i] = rank{r.quality, s}
			}
		}
	})
	if !readable {
		return 0
	}
	best := -1
	for i, r := range ranks {
		if r.quality == 0 {
			continue
		}
		if best < 0 || r.quality > ranks[best].quality || r.quality == ranks[best].quality && r.specificity > ranks[best].specificity {
			best = i
		}
	}
	return best
}

// Specificity of a match.
const (
	matchAny     = 1 + iota // */*
	matchType               // type/*
	matchHint               // type/subtype, with a profile the offer lacks
	matchSubtype            // type/subtype
	matchProfile            // type/subtype and profile; more for each URI
)

type mediaRange struct {
	typ, sub string
	profile  string
	foreign  bool // has a parameter that is true of no offer
	quality  int  // thousandths
}

func (r *mediaRange) match(o *Offer) int {
	if r.foreign {
		return 0
	}
	if r.typ == "*" {
		return matchAny
	}
	typ, sub, _ := strings.Cut(o.Type, "/")
	if !strings.EqualFold(r.typ, typ) {
		return 0
	}
	if r.sub == "*" {
		return matchType
	}
	if !strings.EqualFold(r.sub, sub) {
		return 0
	}
	if r.profile == "" {
		return matchSubtype
	}
	wanted := 0
	for p := range strings.FieldsSeq(r.profile) {
		wanted++
		if !contains(o.Profile, p) {
			if r.quality == 0 {
				return 0
			}
			return matchHint
		}
	}
	if wanted == 0 {
		return matchSubtype
	}
	return matchProfile + min(wanted, maxMembers)
}

func contains(list []string, s string) bool {
	for _, e := range list {
		if e == s {
			return true
		}
	}
	return false
}

func parseRange(m string) (r mediaRange, ok bool) {
	head, params, _ := strings.Cut(m, ";")
	r.typ, r.sub, ok = strings.Cut(strings.Trim(head, " \t"), "/")
	if !ok || !isToken(r.typ) || !isToken(r.sub) || r.typ == "*" && r.sub != "*" {
		return r, false
	}
	r.quality = 1000
	ok = parameters(params, func(name, value string) {
		switch {
		case strings.EqualFold(name, "q"):
			if q, ok := weight(value); ok {
				r.quality = q
			}
		case strings.EqualFold(name, "profile"):
			r.profile = value
		case strings.EqualFold(name, "charset"):
			r.foreign = r.foreign || !strings.EqualFold(value, "utf-8")
		default:
			r.foreign = true
		}
	})
	return r, ok
}

// NegotiateCoding chooses a content coding by the Accept-Encoding header fields of
// a request (RFC 9110 §12.5.3): "" for none (identity), "zstd" or "gzip". It
// reports false if neither a coding offered nor identity is acceptable. Identity is
// acceptable unless it, or *, has the weight 0. Without a field, and among equal
// weights, there is a reason to save bytes only if compress is set.
func NegotiateCoding(accept []string, compress bool) (string, bool) {
	if len(accept) == 0 {
		return "", true
	}
	// Weights of the codings in order, then of identity; -1 where not named.
	weights := [3]int{-1, -1, -1}
	star := -1
	members(accept, func(m string) {
		name, params, _ := strings.Cut(m, ";")
		name = strings.Trim(name, " \t")
		q := 1000
		if !isToken(name) || !parameters(params, func(n, v string) {
			if w, ok := weight(v); ok && strings.EqualFold(n, "q") {
				q = w
			}
		}) {
			return
		}
		switch {
		case strings.EqualFold(name, "zstd"):
			weights[0] = max(weights[0], q)
		case strings.EqualFold(name, "gzip"), strings.EqualFold(name, "x-gzip"):
			weights[1] = max(weights[1], q)
		case strings.EqualFold(name, "identity"):
			weights[2] = max(weights[2], q)
		case name == "*":
			star = max(star, q)
		}
	})
	for i := range weights {
		if weights[i] < 0 {
			weights[i] = star
		}
	}
	identity := weights[2]
	best := 0
	if weights[1] > weights[0] {
		best = 1
	}
	switch coded := weights[best]; {
	case coded <= 0:
		return "", identity != 0
	case identity == 0:
		return codings[best], true
	case !compress, identity > coded:
		return "", true
	}
	return codings[best], true
}

// members calls f for each member of a comma-separated list that may span several
// fields (RFC 9110 §5.6.1). Commas in quoted strings do not count.
func members(fields []string, f func(string)) {
	n := 0
	for _, s := range fields {
		for s != "" && n < maxMembers {
			end := cutQuoted(s, ',')
			if m := strings.Trim(s[:end], " \t"); m != "" {
				f(m)
				n++
			}
			if end == len(s) {
				break
			}
			s = s[end+1:]
		}
	}
}

// parameters calls f for each name and value (RFC 9110 §5.6.6) and reports
// whether all were well formed. Names come as they are written.
func parameters(s string, f func(name, value string)) bool {
	for s != "" {
		end := cutQuoted(s, ';')
		p := strings.Trim(s[:end], " \t")
		if end < len(s) {
			end++
		}
		s = s[end:]
		if p == "" {
			continue // empty parameters are allowed
		}
		name, value, ok := strings.Cut(p, "=")
		if !ok || !isToken(name) {
			return false
		}
		if strings.HasPrefix(value, `"`) {
			if value, ok = unquote(value); !ok {
				return false
			}
		} else if !isToken(value) {
			return false
		}
		f(name, value)
	}
	return true
}

// cutQuoted is the index of the first sep outside quoted strings, or len(s).
func cutQuoted(s string, sep byte) int {
	quoted := false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '"':
			quoted = !quoted
		case c == '\\' && quoted:
			i++
		case c == sep && !quoted:
			return i
		}
	}
	return len(s)
}

// unquote reads a quoted-string (RFC 9110 §5.6.4).
func unquote(s string) (string, bool) {
	if len(s) < 2 || s[len(s)-1] != '"' {
		return "", false
	}
	s = s[1 : len(s)-1]
	if strings.IndexByte(s, '\\') < 0 {
		return s, strings.IndexByte(s, '"') < 0
	}
	b := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '"':
			return "", false
		case '\\':
			if i++; i == len(s) {
				return "", false
			}
		}
		b = append(b, s[i])
	}
	return string(b), true
}

// weight reads a qvalue (RFC 9110 §12.4.2) in thousandths.
func weight(s string) (int, bool) {
	whole, frac, point := strings.Cut(s, ".")
	if whole != "0" && whole != "1" || len(frac) > 3 || !point && frac != "" {
		return 0, false
	}
	q := 0
	for i := 0; i < 3; i++ {
		q *= 10
		if i < len(frac) {
			if frac[i] < '0' || frac[i] > '9' {
				return 0, false
			}
			q += int(frac[i] - '0')
		}
	}
	if whole == "1" {
		return 1000, q == 0
	}
	return q, true
}

// isToken reports whether s is a token (RFC 9110 §5.6.2).
func isToken(s string) bool {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' {
			continue
		}
		if c >= 0x80 || strings.IndexByte("!#$%&'*+-.^_`|~", c) < 0 {
			return false
		}
	}
	return s != ""
}
