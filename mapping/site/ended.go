package site

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"ropewalk/mapping"
	"ropewalk/mapping/source"
)

// The lists of identifiers that are withdrawn or moved, if the site has them and does
// not name others.
const (
	withdrawnName = "withdrawn.csv"
	movedName     = "moved.csv"
)

// ended reads both lists.
func (l *loader) ended() {
	p := &l.site.Publish
	at := map[string]source.Place{} // what has an end
	l.endedList("withdrawn", withdrawnName, []string{"identifier"}, []string{"reason", "date"}, func(cells []string, where func(int) source.Place) {
		iri, ok := l.below(cells[0], where(0))
		if !ok || !l.firstEnd(at, iri, where(0)) {
			return
		}
		if d := cells[2]; d != "" && !isDate(d) {
			l.addEnded(where(2), fmt.Sprintf("%q is not a date", d), "write 2024-03-01, 2024-03 or 2024; text with a comma stands in quotes")
			return
		}
		p.Withdrawn = append(p.Withdrawn, Withdrawn{IRI: iri, Reason: cells[1], Date: cells[2], Place: where(0)})
	})
	l.endedList("moved", movedName, []string{"from", "to"}, nil, func(cells []string, where func(int) source.Place) {
		from, ok := l.below(cells[0], where(0))
		if !ok || !l.firstEnd(at, from, where(0)) {
			return
		}
		to := cells[1]
		switch {
		case to == "":
			l.addEnded(where(1), "where did it move to? The cell is empty", "what is gone for good stands in "+withdrawnName)
			return
		case !hasScheme(to):
			if to, ok = l.below(to, where(1)); !ok {
				return
			}
		case !absolute(to):
			l.addEnded(where(1), fmt.Sprintf("%q is no IRI", to), "")
			return
		}
		if to == from {
			l.addEnded(where(1), "it can't move to where it is", "")
			return
		}
		p.Moved = append(p.Moved, Moved{From: from, To: to, Place: where(0)})
	})
	l.circles()
}

func (l *loader) addEnded(p source.Place, msg, hint string) { l.addCell(ruleEnded, p, msg, hint) }

// addCell reports something about a cell of a list.
func (l *loader) addCell(rule *mapping.Rule, p source.Place, msg, hint string) {
	if p.Column != "" {
		msg = fmt.Sprintf("row %d, column %q: %s", p.Row, p.Column, msg)
	} else if p.Row > 0 {
		msg = fmt.Sprintf("row %d: %s", p.Row, msg)
	}
	l.add(l.cell(p), rule, msg, hint)
}

// cell is the place of a cell in the text of its file.
func (l *loader) cell(p source.Place) mapping.Span {
	sp := mapping.Span{File: p.File, Line: max(p.Line, 1), Col: 1, Len: 1}
	lines := bytes.Split(bytes.TrimPrefix(l.site.files[p.File], []byte("\ufeff")), []byte("\n"))
	if p.Value == "" || p.Line < 1 || p.Line > len(lines) {
		return sp
	}
	line := lines[p.Line-1]
	from := cellStart(line, p.Col)
	i := bytes.Index(line[from:], []byte(p.Value))
	if i < 0 {
		from, i = 0, bytes.Index(line, []byte(p.Value))
	}
	if i >= 0 {
		sp.Col, sp.Len = utf8.RuneCount(line[:from+i])+1, utf8.RuneCountInString(p.Value)
	}
	return sp
}

// cellStart is where a column of a comma-separated line begins; 0 if it can't be told.
func cellStart(line []byte, col int) int {
	quoted := false
	for i, c := range line {
		if col <= 1 {
			return i
		}
		switch {
		case c == '"':
			quoted = !quoted
		case c == ',' && !quoted:
			col--
		}
	}
	return 0
}

// endedList reads one list and calls row with the cells of each row, those that
// must be there and then those that may.
func (l *loader) endedList(key, usual string, must, may []string, row func(cells []string, where func(int) source.Place)) {
	l.list("/publish/"+key, key, usual, ruleEnded, must, may, row)
}

// below makes the IRI of an identifier that must lie below the base.
func (l *loader) below(id string, p source.Place) (string, bool) {
	base := l.site.Base
	iri := id
	if !strings.Contains(id, "://") {
		iri = base + strings.TrimPrefix(id, "/")
	}
	switch rest, ok := strings.CutPrefix(iri, base); {
	case id == "":
		l.addEnded(p, "the cell is empty", "an identifier is an IRI or its path below the base, such as object/12")
	case !ok:
		l.addEnded(p, fmt.Sprintf("%q does not lie below the base %s", id, base), "")
	case rest == "" || strings.ContainsAny(rest, "?#"):
		l.addEnded(p, fmt.Sprintf("%q is not the identifier of a document", id), "an identifier is an IRI or its path below the base, such as object/12")
	default:
		return iri, true
	}
	return "", false
}

// firstEnd reports two rows about one identifier.
func (l *loader) firstEnd(at map[string]source.Place, iri string, p source.Place) bool {
	first, twice := at[iri]
	if twice {
		l.addEnded(p, fmt.Sprintf("%s, row %d speaks of <%s> already", first.File, first.Row, iri), "it is either withdrawn or moved, and to one place")
		return false
	}
	at[iri] = p
	return true
}

// circles reports moves that lead back to where they begin.
func (l *loader) circles() {
	to := map[string]int{}
	for i, m := range l.site.Publish.Moved {
		to[m.From] = i
	}
	done := map[string]bool{}
	for _, m := range l.site.Publish.Moved {
		way := map[string]bool{}
		for at := m.From; !done[at]; {
			if way[at] {
				p := m.Place
				p.Column, p.Value = "to", m.To
				l.addEnded(p, fmt.Sprintf("<%s> moves in a circle", at), "one of the moves must lead to a document that is there")
				break
			}
			way[at] = true
			i, more := to[at]
			if !more {
				break
			}
			at = l.site.Publish.Moved[i].To
		}
		for at := range way {
			done[at] = true
		}
	}
}

func isDate(s string) bool {
	for _, layout := range [...]string{time.DateOnly, "2006-01", "2006"} {
		if _, err := time.Parse(layout, s); err == nil {
			return true
		}
	}
	return false
}

func hasScheme(s string) bool {
	scheme, rest, ok := strings.Cut(s, ":")
	return ok && scheme != "" && rest != "" && strings.Trim(strings.ToLower(scheme), "abcdefghijklmnopqrstuvwxyz0123456789+-.") == ""
}

// absolute reports whether s has a scheme and no character that no IRI can hold (RFC
// 3987 §2.2).
func absolute(s string) bool {
	return hasScheme(s) && !strings.ContainsFunc(s, func(r rune) bool { return r <= 0x20 || r == 0x7f || strings.ContainsRune("<>\"{}|\\^`", r) })
}
