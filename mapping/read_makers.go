package mapping

import "ropewalk/mapping/reading"

func init() {
	rowReaders["makers"] = &rowReader{name: "makers",
		fields: []string{"name", "inverted", "kind", "qualifier", "certainty", "role", "role_words", "life", "nationality", "note", "words"},
		rows:   makerRows}
}

// makerRows gives a row for every maker of a cell, with the words as written last.
func makerRows(text string, c *reading.Conventions) ([][]string, error) {
	ms, err := reading.ReadMakers(text, c)
	if err != nil {
		return nil, err
	}
	var out [][]string
	for i := range ms {
		m := &ms[i]
		out = append(out, []string{m.Name, m.Inverted, string(m.Kind), string(m.Qualifier), string(m.Certainty), m.Role, m.RoleText,
			m.Life, m.Nationality, m.Note, text[m.Start:m.End]})
	}
	return out, nil
}
