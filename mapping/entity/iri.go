package entity

import (
	"encoding/binary"
	"fmt"
	"unicode/utf8"
	"unsafe"
)

// IRIError says why a string is not an IRI that RDF and the profile can carry.
type IRIError struct {
	IRI    string
	At     int    // byte offset of the fault
	Reason string // such as "a space"
	Breaks bool   // a syntax of RDF cannot carry it at all: characters, UTF-8, no scheme
}

func (e *IRIError) Error() string {
	return fmt.Sprintf("not a legal IRI: %q: %s at byte %d", e.IRI, e.Reason, e.At+1)
}

// TermError says that a value of a key such as assigned_property names no term
// of the profile's context.
type TermError struct {
	Name     string
	Document string // IRI
}

func (e *TermError) Error() string {
	return fmt.Sprintf("%s: %q names no term of the profile's context", e.Document, e.Name)
}

// Classes of bytes in IRIs.
const (
	iriPlain = iota
	iriLook  // may be wrong: percent sign, start of a character beyond ASCII
	iriBad
)

var iriByte = func() (t [256]uint8) {
	for c := range t {
		switch {
		case c <= ' ' || c == 0x7f:
			t[c] = iriBad
		case c >= 0x80 || c == '%':
			t[c] = iriLook
		}
	}
	for _, c := range []byte("<>\"{}|^`\\") {
		t[c] = iriBad
	}
	return t
}()

// CheckIRI returns an [*IRIError] unless s is an absolute IRI: a scheme and ":"
// (RFC 3986 §3.1), then characters that RFC 3987 §2.2 allows in IRIs, with
// percent signs only before two hexadecimal digits. It does not look at the parts
// of the scheme's own syntax. RDF 1.1 Concepts §3.2 asks for absolute IRIs, and
// readers drop statements with others.
func CheckIRI(s string) error {
	i := 0
	if len(s) >= 8 && s[:7] == "http://" {
		i = 7
	} else if len(s) >= 9 && s[:8] == "https://" {
		i = 8
	} else if i = schemeLength(s); i == 0 {
		return badScheme(s)
	}
	if rest := s[i:]; plainIRI(rest) {
		return nil
	}
	return checkIRISlow(s)
}

const ones = 0x0101010101010101

// iriWord flags the bytes of eight that need a closer look, and a few that do not:
// all from "{" on are flagged. A lane's high bit is set where a byte below 0x21 had
// 0x21 taken away, or where one equal to a character had become zero; a borrow
// reaches only lanes above a hit, so that zero means that there is none.
func iriWord(x uint64) uint64 {
	two := x | 2*ones // makes one of < and >, and one of \ and ^
	return ((x - 0x21*ones) | ((x ^ '"'*ones) - ones) | ((x ^ '%'*ones) - ones) | ((x ^ '`'*ones) - ones) |
		((two ^ '>'*ones) - ones) | ((two ^ '^'*ones) - ones) | (x + 5*ones) | x) & (0x80 * ones)
}

func plainIRI(s string) bool {
	if len(s) < 8 {
		for i := 0; i < len(s); i++ {
			if iriByte[s[i]] != iriPlain {
				return false
			}
		}
		return true
	}
	b := unsafe.Slice(unsafe.StringData(s), len(s))
	flags := iriWord(binary.LittleEndian.Uint64(b[len(b)-8:]))
	for ; len(b) >= 8; b = b[8:] {
		flags |= iriWord(binary.LittleEndian.Uint64(b))
	}
	return flags == 0
}

// schemeLength is the length of the scheme with its colon, 0 if there is none.
func schemeLength(s string) int {
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z':
		case i > 0 && ('0' <= c && c <= '9' || c == '+' || c == '-' || c == '.'):
		case i > 0 && c == ':':
			return i + 1
		default:
			return 0
		}
	}
	return 0
}

func badScheme(s string) error {
	if s == "" {
		return &IRIError{s, 0, "nothing", true}
	}
	for i := 0; i < len(s); i++ {
		if iriByte[s[i]] == iriBad {
			return &IRIError{s, i, badIRIByte(s[i]), true}
		}
	}
	return &IRIError{s, 0, "no scheme (such as https:)", true}
}

func badIRIByte(c byte) string {
	switch {
	case c == ' ':
		return "a space"
	case c < ' ' || c == 0x7f:
		return fmt.Sprintf("the control character U+%04X", c)
	}
	return fmt.Sprintf("the character %c", c)
}

// checkIRISlow finds the first fault that breaks a syntax, or else the first.
func checkIRISlow(s string) error {
	var first error
	mild := func(at int, reason string) {
		if first == nil {
			first = &IRIError{s, at, reason, false}
		}
	}
	for i := 0; i < len(s); {
		c := s[i]
		switch {
		case iriByte[c] == iriBad:
			return &IRIError{s, i, badIRIByte(c), true}
		case c == '%':
			if i+2 >= len(s) || !isHex(s[i+1]) || !isHex(s[i+2]) {
				mild(i, "a percent sign without two hexadecimal digits")
				i++
				continue
			}
			i += 3
		case c < utf8.RuneSelf:
			i++
		default:
			r, n := utf8.DecodeRuneInString(s[i:])
			if r == utf8.RuneError && n == 1 {
				return &IRIError{s, i, "a byte that is not UTF-8", true}
			}
			if !iriRune(r) {
				mild(i, fmt.Sprintf("the character U+%04X", r))
			}
			i += n
		}
	}
	return first
}

func isHex(c byte) bool {
	return '0' <= c && c <= '9' || 'a' <= c && c <= 'f' || 'A' <= c && c <= 'F'
}

// iriRune reports whether RFC 3987 §2.2 allows r, beyond ASCII, in an IRI
// (ucschar or iprivate; where in the IRI is not looked at).
func iriRune(r rune) bool {
	switch {
	case r < 0xA0:
		return false
	case r <= 0xFFFF:
		return r <= 0xD7FF || 0xE000 <= r && r <= 0xFDCF || 0xFDF0 <= r && r <= 0xFFEF
	case 0xE0000 <= r && r < 0xE1000:
		return false
	}
	return r&0xFFFF <= 0xFFFD
}
