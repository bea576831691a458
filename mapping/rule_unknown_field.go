package mapping

import (
	"errors"
	"fmt"
	"strings"

	"ropewalk/mapping/source"
)

var ruleUnknownField = &Rule{Name: "unknown-field", About: "a field that the source does not have"}

func (c *compiler) unknownField(path string, sp Span, sc *scope, err error) {
	var names, places []string
	var reason string
	for s := sc; s != nil; s = s.parent {
		if s.layout == nil {
			names = append(names, s.fields...)
			continue
		}
		places = append(places, s.source.Name)
		if d, derr := s.source.Describe(); derr == nil {
			for _, col := range d.Columns {
				p := col.Path
				if s.path != "" {
					var ok bool
					if p, ok = strings.CutPrefix(p, s.path+"."); !ok {
						continue
					}
				}
				names = append(names, p)
			}
		}
	}
	hint := ""
	var u *source.UnknownField
	if errors.As(err, &u) {
		reason = u.Reason
		if len(u.Nearest) > 0 {
			hint = fmt.Sprintf("did you mean %q?", u.Nearest[0])
		}
	} else if err != nil {
		reason = err.Error()
	}
	if hint == "" {
		hint = didYouMean(path, names)
	}
	if hint == "" && len(names) > 0 {
		hint = "it has: " + oneOf(names)
	}
	msg := fmt.Sprintf("there is no field %q here", path)
	if len(places) > 0 {
		msg = fmt.Sprintf("source %q has no field %q", places[0], path)
	}
	if reason != "" {
		msg += ": " + reason
	}
	c.add(ruleUnknownField, sp, msg, hint)
}
