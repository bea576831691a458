package mapping

import (
	"strconv"
	"strings"
	"time"
)

// jsonNumber gives a number written in decimal as a JSON number in its shortest
// form: "24.50" becomes "24.5". It takes a decimal point only, and an exponent as
// JSON has it (RFC 8259 §6).
func jsonNumber(s string) (string, bool) {
	if shortest(s) {
		return s, true
	}
	s = strings.TrimSpace(s)
	if m, exp, ok := strings.Cut(strings.ToLower(s), "e"); ok {
		exp = strings.TrimPrefix(strings.TrimPrefix(exp, "+"), "-")
		f, err := strconv.ParseFloat(s, 64)
		if _, plain := jsonNumber(m); !plain || !digits(exp) || err != nil {
			return "", false
		}
		return jsonNumber(strconv.FormatFloat(f, 'f', -1, 64))
	}
	t := strings.TrimPrefix(strings.TrimPrefix(s, "+"), "-")
	whole, frac, dot := strings.Cut(t, ".")
	if !digits(whole) || dot && !digits(frac) {
		return "", false
	}
	whole = strings.TrimLeft(whole, "0")
	if whole == "" {
		whole = "0"
	}
	frac = strings.TrimRight(frac, "0")
	if len(whole)+len(frac) > 17 {
		// More digits than a double carries: JSON readers would round it anyway.
		f, err := strconv.ParseFloat(t, 64)
		if err != nil {
			return "", false
		}
		t = strconv.FormatFloat(f, 'f', -1, 64)
	} else if t = whole; frac != "" {
		t += "." + frac
	}
	if strings.HasPrefix(s, "-") && strings.Trim(t, "0.") != "" {
		t = "-" + t
	}
	return t, true
}

func digits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// goodDateTime reports whether s is a date and time with a zone that the
// profile's schemas accept (RFC 3339: years 0000 to 9999).
func goodDateTime(s string) bool {
	_, err := time.Parse(time.RFC3339, s)
	return err == nil
}

// shortest reports whether s is a number in its shortest form already: of at most
// fifteen digits, without a sign.
func shortest(s string) bool {
	if s == "" || len(s) > 16 || s[0] == '0' && len(s) > 1 && s[1] != '.' || s[0] == '.' {
		return false
	}
	dot := false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case '0' <= c && c <= '9':
		case c == '.' && !dot:
			dot = true
		default:
			return false
		}
	}
	return !dot || s[len(s)-1] != '0' && s[len(s)-1] != '.'
}
