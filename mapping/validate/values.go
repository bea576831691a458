package validate

import (
	"encoding/binary"
	"math"
	"mime"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
	"unsafe"

	"github.com/santhosh-tekuri/jsonschema/v5"

	"ropewalk/mapping/entity"
)

// Each check of a value has a fast form that knows most good values and never
// allocates; what it does not know goes to the slow form, which decides.

const (
	ones  = 0x0101010101010101
	highs = 0x8080808080808080
)

// cleanText reports whether s is valid UTF-8 made of characters that XML 1.0
// can carry (XML 1.0 §2.2, Char).
func cleanText(s string) bool {
	b := unsafe.Slice(unsafe.StringData(s), len(s))
	i := 0
	for {
		for len(b)-i >= 8 {
			w := binary.LittleEndian.Uint64(b[i:])
			// A byte above 0x7F, or one below 0x20 (it borrows into its high bit).
			if (w|(w-0x20*ones))&highs != 0 {
				break
			}
			i += 8
		}
		if i == len(b) {
			return true
		}
		// One stretch of up to eight bytes with care, then fast again.
		for stop := min(i+8, len(b)); i < stop; {
			c := b[i]
			if c >= 0x20 && c < utf8.RuneSelf || c == '\t' || c == '\n' || c == '\r' {
				i++
				continue
			}
			if c < 0x20 {
				return false
			}
			r, n := utf8.DecodeRune(b[i:])
			if r == utf8.RuneError && n == 1 || r == 0xFFFE || r == 0xFFFF {
				return false
			}
			i += n
		}
	}
}

// blank reports whether s has no character that shows.
func blank(s string) bool {
	if s != "" && s[0] > ' ' && s[0] < utf8.RuneSelf {
		return false
	}
	return strings.TrimSpace(s) == ""
}

// Classes of bytes in an IRI.
const (
	iriPercent = 1 << iota
	iriHigh
	iriOther // left to the slow form
	iriHost  // letters, digits, "." and "-"
)

var iriBytes = func() (t [256]uint8) {
	for c := range t {
		switch {
		case c <= ' ', c == 0x7F, strings.IndexByte("<>\"{}|\\^`[]", byte(c)) >= 0:
			t[c] = iriOther
		case c >= utf8.RuneSelf:
			t[c] = iriHigh
		case c == '%':
			t[c] = iriPercent
		case c == '.', c == '-', '0' <= c && c <= '9', 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z':
			t[c] = iriHost
		}
	}
	return t
}()

// goodIRI reports whether s is an absolute IRI that the schemas accept and the
// RDF writers, too.
func goodIRI(s string) bool { return commonIRI(s) || absoluteIRI(s) && entity.CheckIRI(s) == nil }

// commonIRI knows http and https IRIs with a plain host name.
func commonIRI(s string) bool {
	var at int
	switch {
	case len(s) > 8 && s[:8] == "https://":
		at = 8
	case len(s) > 7 && s[:7] == "http://":
		at = 7
	default:
		return false
	}
	for at < len(s) && iriBytes[s[at]] == iriHost {
		at++
	}
	if at == len(s) {
		return true
	}
	if s[at] != '/' {
		return false
	}
	var seen uint8
	rest := s[at:]
	for len(rest) >= 8 {
		seen |= iriBytes[rest[0]] | iriBytes[rest[1]] | iriBytes[rest[2]] | iriBytes[rest[3]] |
			iriBytes[rest[4]] | iriBytes[rest[5]] | iriBytes[rest[6]] | iriBytes[rest[7]]
		rest = rest[8:]
	}
	for i := range len(rest) {
		seen |= iriBytes[rest[i]]
	}
	switch {
	case seen&iriOther != 0:
		return false
	case seen&iriPercent != 0 && !percentEncoded(s[at:]):
		return false
	}
	return seen&iriHigh == 0 || entity.CheckIRI(s) == nil
}

// percentEncoded reports whether two hexadecimal digits follow every "%".
func percentEncoded(s string) bool {
	for i := strings.IndexByte(s, '%'); i >= 0; {
		if len(s) < i+3 || !hexDigit(s[i+1]) || !hexDigit(s[i+2]) {
			return false
		}
		s = s[i+3:]
		i = strings.IndexByte(s, '%')
	}
	return true
}

func hexDigit(c byte) bool {
	return '0' <= c && c <= '9' || 'a' <= c && c <= 'f' || 'A' <= c && c <= 'F'
}

// absoluteIRI is what the schemas assert: format "uri" as the library reads it,
// and no character that N-Triples forbids in an IRI (RDF 1.1 N-Triples §7, IRIREF).
func absoluteIRI(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return r <= ' ' || strings.ContainsRune("<>\"{}|\\^`", r) }) < 0 &&
		jsonschema.Formats["uri"](s)
}

var monthDays = [13]int{0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// goodDateTime reports whether s is a date and time that the schemas accept.
func goodDateTime(s string) bool { return commonDateTime(s) || schemaDateTime(s) }

// commonDateTime knows whole seconds in UTC.
func commonDateTime(s string) bool {
	if len(s) != 20 || s[4] != '-' || s[7] != '-' || s[10] != 'T' || s[13] != ':' || s[16] != ':' || s[19] != 'Z' {
		return false
	}
	century, year := two(s[0], s[1]), two(s[2], s[3])
	month, day := two(s[5], s[6]), two(s[8], s[9])
	hour, minute, second := two(s[11], s[12]), two(s[14], s[15]), two(s[17], s[18])
	if century > 99 || year > 99 || month == 0 || month > 12 || day == 0 || hour > 23 || minute > 59 || second > 59 {
		return false
	}
	days := monthDays[month]
	if month == 2 && leap(int(century*100+year)) {
		days = 29
	}
	return int(day) <= days
}

// two is the number written by two digits, and more than 99 if they are none.
func two(a, b byte) uint {
	x, y := uint(a)-'0', uint(b)-'0'
	if x > 9 || y > 9 {
		return 100
	}
	return x*10 + y
}

func leap(year int) bool { return year%4 == 0 && (year%100 != 0 || year%400 == 0) }

// schemaDateTime is what the schemas assert: format "date-time" as the library
// reads it (RFC 3339 §5.6), and an xsd:dateTime (XML Schema 1.1 part 2 §3.3.7).
func schemaDateTime(s string) bool {
	if len(s) < 20 || s[10] != 'T' || !jsonschema.Formats["date-time"](s) {
		return false
	}
	for _, i := range [...]int{11, 12, 14, 15, 17, 18} {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	if s[17] == '6' {
		return false
	}
	switch zone := s[len(s)-1]; zone {
	case 'Z':
		return true
	case 'z':
		return false
	}
	zone := s[len(s)-5:]
	return zone <= "14:00" && zone[0] >= '0' && zone[1] >= '0' && zone[3] >= '0' && zone[4] >= '0'
}

// goodNumber reports whether s is a number as JSON writes it (RFC 8259 §6).
func goodNumber(s string) bool {
	i := 0
	if i < len(s) && s[i] == '-' {
		i++
	}
	whole := i
	for i < len(s) && s[i]-'0' <= 9 {
		i++
	}
	if i == whole || s[whole] == '0' && i > whole+1 {
		return false
	}
	if i < len(s) && s[i] == '.' {
		i++
		from := i
		for i < len(s) && s[i]-'0' <= 9 {
			i++
		}
		if i == from {
			return false
		}
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		i++
		if i < len(s) && (s[i] == '+' || s[i] == '-') {
			i++
		}
		from := i
		for i < len(s) && s[i]-'0' <= 9 {
			i++
		}
		if i == from {
			return false
		}
	}
	return i == len(s)
}

// finite reports whether the JSON number s is within the range of xsd:double.
func finite(s string) bool {
	if len(s) < 300 && strings.IndexByte(s, 'e') < 0 && strings.IndexByte(s, 'E') < 0 {
		return true
	}
	f, err := strconv.ParseFloat(s, 64)
	return err == nil && !math.IsInf(f, 0)
}

// goodMediaType reports whether s is a media type, with parameters or without
// (RFC 6838 §4.2, RFC 9110 §8.3.1).
func goodMediaType(s string) bool {
	slash := strings.IndexByte(s, '/')
	if slash > 0 && restrictedName(s[:slash]) && restrictedName(s[slash+1:]) {
		return true
	}
	if !strings.Contains(s, ";") {
		return false
	}
	t, _, err := mime.ParseMediaType(s)
	if err != nil {
		return false
	}
	typ, sub, ok := strings.Cut(t, "/")
	return ok && restrictedName(typ) && restrictedName(sub)
}

func restrictedName(s string) bool {
	if s == "" || len(s) > 127 {
		return false
	}
	for i := range len(s) {
		c := s[i]
		alnum := '0' <= c && c <= '9' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z'
		if !alnum && (i == 0 || strings.IndexByte("!#$&-^_.+", c) < 0) {
			return false
		}
	}
	return true
}

// notAfter reports whether the date and time a is not after b; where one of them
// cannot be read, there is nothing to say and it is true.
func notAfter(a, b string) bool {
	if len(a) == 20 && len(b) == 20 && a[19] == 'Z' && b[19] == 'Z' {
		return a <= b
	}
	x, errA := time.Parse(time.RFC3339, a)
	y, errB := time.Parse(time.RFC3339, b)
	return errA != nil || errB != nil || !x.After(y)
}

// notAbove reports whether the number a is not above b; where one of them cannot
// be read, it is true.
func notAbove(a, b string) bool {
	x, errA := strconv.ParseFloat(a, 64)
	y, errB := strconv.ParseFloat(b, 64)
	return errA != nil || errB != nil || x <= y
}
