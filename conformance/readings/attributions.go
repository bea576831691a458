package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"ropewalk/mapping/reading"
)

// attributionRow is a line of attributions.tsv: one person of a maker line.
type attributionRow struct {
	display, qualifier, role, person, source, record string
	position                                         int
}

// attributionHabit is the convention set of a source.
type attributionHabit struct {
	source      string
	conventions reading.MakerConventions
	says        string
}

var attributionHabits = []attributionHabit{
	{source: "tate", conventions: reading.MakerConventions{Order: reading.NameOrderNatural},
		says: "given names first; a comma parts makers; the role artist is not written; a trade before a name counts as a qualifier"},
	{source: "skokloster", conventions: reading.MakerConventions{Order: reading.NameOrderNatural},
		says: "the role in parentheses after the name, with notes; the certainty stands in a column of its own; dates in a name are part of it"},
}

type attributionVerdict uint8

const (
	attributionRight attributionVerdict = iota // qualifier, role and name
	attributionName                            // qualifier and role; the name is cut otherwise
	attributionWrong                           // read, and the qualifier or the role is another
	attributionNotRead
	attributionVerdicts
)

type attributionScore struct {
	habit     *attributionHabit
	n         [attributionVerdicts]int
	qualifier int // rows whose qualifier is right
	rows      int
}

type attributionFinding struct {
	row          attributionRow
	verdict      attributionVerdict
	ours, reason string
}

func scoreAttributions(dir string, out io.Writer) error {
	rows, err := loadAttributions(filepath.Join(dir, "attributions.tsv"))
	if err != nil {
		return err
	}
	scores, findings := compareAttributions(rows)
	printAttributions(out, scores, findings)
	roles, err := loadTable(filepath.Join(dir, "roles.tsv"), 4)
	if err != nil {
		return err
	}
	printRoles(out, roles)
	return nil
}

func loadAttributions(name string) ([]attributionRow, error) {
	table, err := loadTable(name, 9)
	if err != nil {
		return nil, err
	}
	rows := make([]attributionRow, len(table))
	for i, c := range table {
		rows[i] = attributionRow{display: c[0], qualifier: c[2], role: c[3], person: c[5], source: c[7], record: c[8]}
		if _, err := fmt.Sscan(c[1], &rows[i].position); err != nil {
			return nil, fmt.Errorf("%s:%d: position %q", name, i+2, c[1])
		}
	}
	return rows, nil
}

func compareAttributions(rows []attributionRow) ([]attributionScore, []attributionFinding) {
	scores := make([]attributionScore, len(attributionHabits))
	var findings []attributionFinding
	for i := range attributionHabits {
		h := &attributionHabits[i]
		scores[i].habit = h
		for _, r := range rows {
			if r.source != h.source {
				continue
			}
			v, qualifier, ours := compareAttribution(&r, h)
			scores[i].n[v]++
			scores[i].rows++
			if qualifier {
				scores[i].qualifier++
			}
			if v != attributionRight {
				findings = append(findings, attributionFinding{r, v, ours, attributionReason(&r, v)})
			}
		}
	}
	return scores, findings
}

func compareAttribution(r *attributionRow, h *attributionHabit) (v attributionVerdict, qualifier bool, ours string) {
	makers, err := reading.ReadMakers(r.display, &reading.Conventions{Maker: h.conventions})
	if err != nil {
		return attributionNotRead, false, err.(*reading.Unread).Code
	}
	if r.position > len(makers) {
		return attributionWrong, false, fmt.Sprintf("%d makers", len(makers))
	}
	m := &makers[r.position-1]
	ours = fmt.Sprintf("%q %q %q", m.Name, m.Qualifier, m.Role)
	// The museum's qualifier may be a trade: "stylist".
	qualifier = string(m.Qualifier) == r.qualifier || m.Qualifier == "" && m.Role == r.qualifier
	role := r.role == "" || r.role == "artist" && m.Role == "" || strings.EqualFold(firstPart(m.RoleText), r.role)
	switch {
	case !qualifier || !role:
		v = attributionWrong
	case sameName(m.Name, r.person):
		v = attributionRight
	default:
		v = attributionName
	}
	return v, qualifier, ours
}

func firstPart(s string) string {
	head, _, _ := strings.Cut(s, ",")
	return head
}

// sameName compares names without regard to commas and case.
func sameName(a, b string) bool {
	clean := strings.NewReplacer(",", "", ";", "", "  ", " ")
	return strings.EqualFold(clean.Replace(a), clean.Replace(b))
}

func attributionReason(r *attributionRow, v attributionVerdict) string {
	if v == attributionName && strings.ContainsAny(r.person, "0123456789") {
		return "the museum keeps life dates as part of the name"
	}
	return ""
}

func printAttributions(out io.Writer, scores []attributionScore, findings []attributionFinding) {
	fmt.Fprintf(out, "\nattributions.tsv\n\nConventions:\n")
	for i := range scores {
		fmt.Fprintf(out, "  %-12s %s\n", scores[i].habit.source, scores[i].habit.says)
	}
	fmt.Fprintf(out, "\n%-12s %6s %8s %10s %8s %8s %8s %8s\n", "source", "rows", "read", "qualifier", "all", "name", "wrong", "not read")
	var sum attributionScore
	line := func(name string, s *attributionScore) {
		fmt.Fprintf(out, "%-12s %6d %8s %10s %8s %8s %8s %8d\n", name, s.rows, percent(s.rows-s.n[attributionNotRead], s.rows), percent(s.qualifier, s.rows),
			percent(s.n[attributionRight], s.rows), percent(s.n[attributionName], s.rows), percent(s.n[attributionWrong], s.rows), s.n[attributionNotRead])
	}
	for i := range scores {
		line(scores[i].habit.source, &scores[i])
		sum.rows += scores[i].rows
		sum.qualifier += scores[i].qualifier
		for k, n := range scores[i].n {
			sum.n[k] += n
		}
	}
	line("all", &sum)
	reasons := map[string]int{}
	var order []string
	for _, f := range findings {
		reason := f.reason
		if reason == "" {
			reason = fmt.Sprintf("unexplained: %s, %d → %s", f.row.display, f.row.position, f.ours)
		}
		if reasons[reason]++; reasons[reason] == 1 {
			order = append(order, reason)
		}
	}
	for _, reason := range order {
		fmt.Fprintf(out, "%5d  %s\n", reasons[reason], reason)
	}
}

// printRoles counts the role vocabulary that the reader knows: each role, and each
// certainty, read beside an invented name.
func printRoles(out io.Writer, rows [][]string) {
	known, all, cells, knownCells := 0, 0, 0, 0
	var missing []string
	for _, r := range rows {
		role, qualifier := r[1], r[2]
		if role == "" && qualifier == "" || role == "artist" {
			continue
		}
		var n int
		fmt.Sscan(r[3], &n)
		all++
		cells += n
		if knowsRole(r[0], role, qualifier) {
			known++
			knownCells += n
			continue
		}
		missing = append(missing, strings.TrimSpace(r[0]+" "+role+" "+qualifier))
	}
	fmt.Fprintf(out, "\nroles.tsv\n\n%d words for roles, %d understood (%s); in %d of %d uses (%s)\n", all, known, percent(known, all), knownCells, cells, percent(knownCells, cells))
	for _, m := range missing {
		fmt.Fprintf(out, "       %s\n", m)
	}
}

func knowsRole(source, role, certainty string) bool {
	text := "Anna Berg (" + role + ", " + certainty + ")"
	if source == "tate" {
		text = role + " Anna Berg"
		if strings.HasPrefix(role, "and ") {
			text = "Anna Berg " + role
		}
	} else if role == "" {
		text = "Anna Berg (" + certainty + ")"
	}
	makers, err := reading.ReadMakers(text, &reading.Conventions{Maker: reading.MakerConventions{Order: reading.NameOrderNatural}})
	if err != nil || len(makers) != 1 || makers[0].Name != "Anna Berg" {
		return false
	}
	m := &makers[0]
	if source == "tate" {
		return string(m.Qualifier) == role || m.Role == role
	}
	return (role == "" || m.Role != "") && (certainty == "" || m.Certainty != "")
}
