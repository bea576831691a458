package mapping

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"ropewalk/mapping/source"
)

var ruleUnknownField = &Rule{Name: "unknown-field", About: "a field that the source does not have, or child rows that it does not declare"}

// unknownField reports a path that none of the rows open at a place has.
func (c *compiler) unknownField(path string, sp Span, sc *scope, err error) {
	out := sc
	plain := path
	for strings.HasPrefix(plain, "^.") && out != nil {
		plain, out = plain[2:], out.parent
	}
	if out == nil {
		c.add(ruleUnknownField, sp, fmt.Sprintf("%q leads further out than there are rows", path), "each \"^.\" leads one \"each\" further out")
		return
	}
	var names []string // that could be meant, from the inside out
	var wheres []string
	pieces := false
	for s := out; s != nil; s = s.parent {
		wheres = append(wheres, s.name())
		if s.layout == nil {
			pieces = pieces || slices.Contains(s.fields, ".")
			for _, f := range s.fields {
				if f != "." {
					names = append(names, f)
				}
			}
			continue
		}
		names = append(names, s.columns()...)
	}
	hint, reason := "", ""
	var u *source.UnknownField
	if errors.As(err, &u) {
		reason = u.Reason
		if len(u.Nearest) > 0 {
			near := u.Nearest[0]
			if lead, ok := strings.CutSuffix(plain, u.Path); ok && lead != "" && !strings.HasPrefix(near, lead) {
				near = lead + near
			}
			hint = fmt.Sprintf("did you mean %q?", path[:len(path)-len(plain)]+near)
		} else if s := out.rows(plain); s != "" {
			hint = fmt.Sprintf("write each: %s on the node, and within it the names of their fields", s)
		}
	} else if err != nil {
		reason = err.Error()
	}
	looked := "" // the look-up through which the path goes
	if u != nil && u.Source != "" && u.Reason == "" && out.source != nil {
		if lead, ok := strings.CutSuffix(plain, "."+u.Path); ok {
			looked = lead
		}
	}
	if hint == "" && reason == "" && looked == "" {
		if hint = didYouMean(plain, names); hint == "" && len(names) > 0 {
			hint = "there are " + oneOf(names)
			if pieces {
				hint = "the piece itself is {.}; besides, " + hint
			}
		}
	}
	msg := fmt.Sprintf("%s has no field %q", wheres[0], plain)
	if len(wheres) > 1 {
		msg = fmt.Sprintf("neither %s has a field %q", strings.Join(wheres, " nor "), plain)
	}
	if looked != "" {
		msg = fmt.Sprintf("source %q, looked up as %q, has no field %q", u.Source, looked, u.Path)
		if hint == "" {
			if d, derr := c.Sources.Source(u.Source).Describe(); derr == nil {
				var cols []string
				for _, col := range d.Columns {
					if c.Sources.Source(u.Source).Mentionable(col.Path) {
						cols = append(cols, col.Path)
					}
				}
				hint = "it has " + oneOf(cols)
			}
		}
	}
	if reason != "" {
		msg = fmt.Sprintf("%q can't stand for one value: %s", plain, reason)
	}
	c.add(ruleUnknownField, sp, msg, hint)
}

// unknownRows reports what "each" names and is no rows.
func (c *compiler) unknownRows(s *Scalar, sc *scope, err error) {
	path := strings.TrimLeft(s.Text, "^.")
	reason, hint := "", ""
	var u *source.UnknownField
	switch {
	case errors.As(err, &u):
		reason = u.Reason
		if len(u.Nearest) > 0 {
			hint = fmt.Sprintf("did you mean %q?", u.Nearest[0])
		}
	case err != nil:
		reason = err.Error()
	default:
		reason = "there are no rows around it that have rows of their own"
	}
	var declared []string
	for x := sc; x != nil; x = x.parent {
		if x.source == nil {
			continue
		}
		if d, derr := x.source.Describe(); derr == nil && slices.ContainsFunc(d.Columns, func(col source.Column) bool { return col.Path == path }) && !x.source.Nested() {
			hint = fmt.Sprintf(`write each: { split: "{%s}", at: ";" }`, path)
		}
		for name := range x.source.Rows {
			declared = append(declared, name)
		}
	}
	slices.Sort(declared)
	if hint == "" && len(declared) > 0 {
		hint = "there are " + oneOf(slices.Compact(declared))
	}
	if hint == "" {
		hint = "declare them under \"rows:\" of the source in the site file"
	}
	msg := fmt.Sprintf("%q names no rows", s.Text)
	if reason != "" {
		msg += ": " + reason
	}
	c.add(ruleUnknownField, s.Span, msg, hint)
}

// name says what a row is, for messages.
func (s *scope) name() string {
	switch {
	case s.source == nil && slices.Contains(s.fields, "."):
		return "the piece of text"
	case s.source == nil:
		return "what the reader finds"
	case s.path != "":
		return fmt.Sprintf("the row of %q", s.path)
	}
	return fmt.Sprintf("source %q", s.source.Name)
}

// columns are the paths of the row's fields.
func (s *scope) columns() []string {
	src, prefix := s.layout.Source(), ""
	if s.source == src {
		prefix = s.path
	}
	d, err := src.Describe()
	if err != nil {
		return nil
	}
	var out []string
	for _, col := range d.Columns {
		p := col.Path
		if !src.Mentionable(p) {
			continue
		}
		if prefix != "" {
			var ok bool
			if p, ok = strings.CutPrefix(p, prefix+"."); !ok {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// rows gives the declared child rows that a path begins with, or "".
func (s *scope) rows(path string) string {
	if s.source == nil {
		return ""
	}
	for name := range s.source.Rows {
		if path == name || strings.HasPrefix(path, name+".") {
			return name
		}
	}
	return ""
}
