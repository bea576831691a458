package mapping

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// slug makes an identifier from words: letters without their marks in lower case,
// digits, and hyphens for all between. Letters that are not Latin stay as they
// are, so that different words stay different.
func slug(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range norm.NFKD.String(s) {
		if unicode.Is(unicode.Mn, r) {
			continue
		}
		r = unicode.ToLower(r)
		if rep, ok := plainLetters[r]; ok {
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteString(rep)
			continue
		}
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			gap = true
			continue
		}
		if gap && b.Len() > 0 {
			b.WriteByte('-')
		}
		gap = false
		b.WriteRune(r)
	}
	return b.String()
}

// plainLetters are Latin letters that Unicode does not decompose.
var plainLetters = map[rune]string{'ß': "ss", 'æ': "ae", 'ø': "o", 'œ': "oe", 'đ': "d", 'ð': "d", 'þ': "th", 'ł': "l", 'ı': "i"}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return strings.TrimSpace(s)
}

func squash(s string) string { return strings.Join(strings.Fields(s), " ") }

func after(s, mark string) string {
	_, x, ok := strings.Cut(s, mark)
	if !ok {
		return ""
	}
	return strings.TrimSpace(x)
}

func before(s, mark string) string {
	x, _, _ := strings.Cut(s, mark)
	return strings.TrimSpace(x)
}

// patterns caches compiled regular expressions: they come from mappings, so there
// are few.
var patterns sync.Map

func match(s, pattern string) (string, error) {
	var re *regexp.Regexp
	if v, ok := patterns.Load(pattern); ok {
		re = v.(*regexp.Regexp)
	} else {
		var err error
		if re, err = regexp.Compile(pattern); err != nil {
			return "", fmt.Errorf("the regular expression %q can't be used: %w", pattern, err)
		}
		patterns.Store(pattern, re)
	}
	m := re.FindStringSubmatch(s)
	switch {
	case m == nil:
		return "", nil
	case len(m) > 1:
		return m[1], nil
	default:
		return m[0], nil
	}
}
