package mapping

var ruleBadText = &Rule{Name: "bad-text", About: "text whose braces don't match, or that wants quotes round its braces"}

// wantsQuotes reports text whose braces YAML took for its own: {title} without
// quotes is a group with the key "title". The caller goes on if it says false.
func (c *compiler) wantsQuotes(m *Map) bool {
	if !m.Flow || len(m.Entries) != 1 {
		return false
	}
	s, ok := m.Entries[0].Value.(*Scalar)
	if !ok || !s.Null || s.written != "" {
		return false
	}
	hole := "{" + m.Entries[0].Key.Text + "}"
	sp := m.Span
	sp.Col, sp.Len = max(1, sp.Col-1), sp.Len+1
	c.add(ruleBadText, sp, "YAML takes unquoted braces for a group of keys, not for a hole", "put the text in quotes: \""+hole+"\"")
	return true
}
