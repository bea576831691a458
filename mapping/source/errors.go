package source

import (
	"fmt"
	"strings"
)

// Error is a file that can't be read, and where.
type Error struct {
	File   string
	Line   int    // from 1; 0 if unknown
	Col    int    // character of the line, from 1; 0 if unknown
	Row    int    // row or record; 0 if unknown
	Path   string // path within a nested file, or ""
	Reason string // one sentence
	Err    error  // cause, or nil

	none bool // the file has nothing at the path to the records
}

// Error gives file, place and reason.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
		if e.Col > 0 {
			fmt.Fprintf(&b, ":%d", e.Col)
		}
	}
	if e.Row > 0 {
		fmt.Fprintf(&b, ": row %d", e.Row)
	}
	if e.Path != "" {
		b.WriteString(": " + e.Path)
	}
	b.WriteString(": " + e.Reason)
	if e.Err != nil {
		b.WriteString(": " + e.Err.Error())
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// UnknownField is the error for a path that a source surely doesn't have.
type UnknownField struct {
	Source  string
	Path    string
	Reason  string   // why it can't be used, or ""
	Nearest []string // what may have been meant, best first
}

// Error gives source, path and reason.
func (e *UnknownField) Error() string {
	s := fmt.Sprintf("source %s has no %q", e.Source, e.Path)
	if e.Reason != "" {
		s = fmt.Sprintf("source %s, %q: %s", e.Source, e.Path, e.Reason)
	}
	if len(e.Nearest) > 0 {
		s += " (did you mean " + strings.Join(e.Nearest, ", ") + "?)"
	}
	return s
}
