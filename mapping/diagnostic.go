package mapping

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ropewalk/vocab/near"
)

// Span is a stretch of one line in a file. Lines and columns count from 1;
// columns count characters.
type Span struct {
	File string
	Line int
	Col  int
	Len  int // characters; at least 1 where anything can be underlined
}

// Severity says whether a diagnostic stops the work.
type Severity uint8

// The severities.
const (
	Problem Severity = iota // the mapping can't be used
	Notice                  // worth knowing, stops nothing
)

// Diagnostic is one thing to say about a mapping, a pattern or a site file.
type Diagnostic struct {
	Span
	Rule     string // stable name of the rule, such as "unknown-field"
	Severity Severity
	Message  string
	Hint     string // what to do, or ""
	Also     []Span // other places that matter, such as the pattern's line
}

// Error gives place, rule and message on one line.
func (d *Diagnostic) Error() string {
	s := fmt.Sprintf("%s:%d:%d: %s: %s", d.File, d.Line, d.Col, d.Rule, d.Message)
	if d.Hint != "" {
		s += " (" + d.Hint + ")"
	}
	return s
}

// Diagnostics is a list of diagnostics. It is an error if it holds a Problem.
type Diagnostics []*Diagnostic

// Error gives the diagnostics, one on each line.
func (l Diagnostics) Error() string {
	var b strings.Builder
	for i, d := range l {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(d.Error())
	}
	return b.String()
}

// Unwrap gives the single diagnostics.
func (l Diagnostics) Unwrap() []error {
	out := make([]error, len(l))
	for i, d := range l {
		out[i] = d
	}
	return out
}

// Problems counts the diagnostics that stop the work.
func (l Diagnostics) Problems() int {
	n := 0
	for _, d := range l {
		if d.Severity == Problem {
			n++
		}
	}
	return n
}

// Sort orders the list by file, line, column and rule, and drops repeats.
func (l Diagnostics) Sort() Diagnostics {
	slices.SortStableFunc(l, func(a, b *Diagnostic) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col),
			cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Message, b.Message))
	})
	return slices.CompactFunc(l, func(a, b *Diagnostic) bool {
		return a.Span == b.Span && a.Rule == b.Rule && a.Message == b.Message
	})
}

// nearest gives the candidate closest to word by edit distance, if it is close
// enough to be a slip of the pen, or the only one that begins with it, and ""
// otherwise.
func nearest(word string, candidates []string) string {
	best, bestD := "", 1+len([]rune(word))/3
	for _, c := range candidates {
		if d := near.Between(strings.ToLower(word), strings.ToLower(c), bestD); d < bestD || d == bestD && best != "" && c < best {
			best, bestD = c, d
		}
	}
	if best == "" && len(word) > 2 { // a word cut short
		for _, c := range candidates {
			if strings.HasPrefix(strings.ToLower(c), strings.ToLower(word)) {
				if best != "" {
					return ""
				}
				best = c
			}
		}
	}
	return best
}

func didYouMean(word string, candidates []string) string {
	if n := nearest(word, candidates); n != "" {
		return fmt.Sprintf("did you mean %q?", n)
	}
	return ""
}

// a puts the article in front of the name of a class.
func a(class string) string {
	if strings.ContainsRune("AEIOU", rune(class[0])) {
		return "an " + class
	}
	return "a " + class
}

// orList writes candidates as alternatives: "a, b or c".
func orList(candidates []string) string {
	if n := len(candidates); n > 1 && n <= 12 {
		return strings.Join(candidates[:n-1], ", ") + " or " + candidates[n-1]
	}
	return oneOf(candidates)
}

// oneOf lists candidates in a hint, cut to a readable number.
func oneOf(candidates []string) string {
	const most = 30
	if len(candidates) > most {
		return strings.Join(candidates[:most], ", ") + fmt.Sprintf(" and %d more", len(candidates)-most)
	}
	return strings.Join(candidates, ", ")
}
