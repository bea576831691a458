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
