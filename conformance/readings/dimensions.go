package main

import (
	"bufio"
	"fmt"
	"io"
	"math/big"
	"os"
	"path/filepath"
	"strings"

	"ropewalk/mapping/reading"
)

// dimensionRow is a line of dimensions.tsv: one number of a text, as the museum keeps it.
type dimensionRow struct {
	text, part, element, value, unit, source, record string
}

// dimensionHabit is the convention set of a source and what agreement allows for.
type dimensionHabit struct {
	source      string
	conventions reading.DimensionConventions
	says        string
}

var dimensionHabits = []dimensionHabit{
	{source: "tate", conventions: reading.DimensionConventions{Unit: "mm"},
		says: "millimetres where no unit is written; the field names width, height, depth stand for the first, second and third number"},
	{source: "skokloster", conventions: reading.DimensionConventions{Decimal: ",", NoThousandsSpace: true},
		says: "decimal comma; thousands are not set apart; the element stands in a column of its own, and so do notes after the measure"},
}

// imaDimensions are the habits of the texts of dimensions_text.tsv.
var imaDimensions = reading.DimensionConventions{Unit: "in", Decimal: "."}

type dimensionVerdict uint8

const (
	dimensionExact    dimensionVerdict = iota // number, unit and part are the museum's
	dimensionWithin                           // number and unit are; the words of the part are cut otherwise
	dimensionMisread                          // read, and the number or the unit is another
	dimensionNotRead                          // the words carry the measure, and it was not read
	dimensionRightly                          // not read, and the words do not carry it
	dimensionUnusable                         // the museum's number is no number
	dimensionVerdicts
)

type dimensionFinding struct {
	row          dimensionRow
	verdict      dimensionVerdict
	ours, reason string
}

type dimensionScore struct {
	habit *dimensionHabit
	n     [dimensionVerdicts]int
}

// dimensionReasons explain the disagreements that stay, by record.
var dimensionReasons = map[string]string{
	"Obm137620": "the words have no unit: the number counts grooves, as another column says",
	"Obm198912": "the words are a format of books, no measure",
	"T13325":    "the museum takes the doubt for a part",
}

func scoreDimensions(dir string, out io.Writer) error {
	rows, err := loadDimensions(filepath.Join(dir, "dimensions.tsv"))
	if err != nil {
		return err
	}
	scores, findings := compareDimensions(rows)
	printDimensions(out, scores, findings)
	texts, err := loadColumn(filepath.Join(dir, "dimensions_text.tsv"), 0)
	if err != nil {
		return err
	}
	printDimensionTexts(out, texts)
	return nil
}

func loadTable(name string, columns int) ([][]string, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var rows [][]string
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		col := strings.Split(s.Text(), "\t")
		if len(col) < columns {
			return nil, fmt.Errorf("%s:%d: %d columns, not %d", name, n, len(col), columns)
		}
		if n > 1 {
			rows = append(rows, col)
		}
	}
	return rows, s.Err()
}

func loadColumn(name string, column int) ([]string, error) {
	rows, err := loadTable(name, column+1)
	if err != nil {
		return nil, err
	}
	out := make([]string, len(rows))
	for i := range rows {
		out[i] = rows[i][column]
	}
	return out, nil
}

func loadDimensions(name string) ([]dimensionRow, error) {
	table, err := loadTable(name, 7)
	if err != nil {
		return nil, err
	}
	rows := make([]dimensionRow, len(table))
	for i, c := range table {
		rows[i] = dimensionRow{text: c[0], part: c[1], element: c[2], value: c[3], unit: c[4], source: c[5], record: c[6]}
	}
	return rows, nil
}

func compareDimensions(rows []dimensionRow) ([]dimensionScore, []dimensionFinding) {
	scores := make([]dimensionScore, len(dimensionHabits))
	var findings []dimensionFinding
	for i := range dimensionHabits {
		h := &dimensionHabits[i]
		scores[i].habit = h
		for _, r := range rows {
			if r.source != h.source {
				continue
			}
			v, ours := compareDimension(&r, h)
			scores[i].n[v]++
			if v != dimensionExact {
				findings = append(findings, dimensionFinding{r, v, ours, dimensionReason(&r, v)})
			}
		}
	}
	return scores, findings
}

func compareDimension(r *dimensionRow, h *dimensionHabit) (dimensionVerdict, string) {
	d, err := reading.ReadDimensions(r.text, &reading.Conventions{Dimension: h.conventions})
	want, numeric := new(big.Rat).SetString(r.value)
	switch {
	case err != nil && (r.unit == "" || r.value == ""):
		return dimensionRightly, err.(*reading.Unread).Code
	case !numeric:
		return dimensionUnusable, ""
	case err != nil:
		return dimensionNotRead, err.(*reading.Unread).Code
	}
	best := dimensionMisread
	for i := range d.Measures {
		m := &d.Measures[i]
		if !m.Value.Given() || m.Value.Rat().Cmp(want) != 0 || string(m.Unit) != r.unit {
			continue
		}
		if samePart(m.Part, r.part) {
			return dimensionExact, d.String()
		}
		best = dimensionWithin
	}
	return best, d.String()
}

func samePart(ours, theirs string) bool {
	return strings.EqualFold(ours, strings.TrimRight(theirs, ":"))
}

func dimensionReason(r *dimensionRow, v dimensionVerdict) string {
	if reason := dimensionReasons[r.record]; reason != "" {
		return reason
	}
	switch {
	case v == dimensionUnusable:
		return "the museum's number is a word of the text"
	case v == dimensionWithin && r.part == "ca":
		return "the museum takes the word for about for a part"
	case v == dimensionWithin && r.part == "":
		return "the museum keeps the words after the measure in a column for notes"
	case v == dimensionWithin && strings.Contains(r.part, "(diameter)"):
		return "the museum takes the element for a part"
	}
	return ""
}

func printDimensions(out io.Writer, scores []dimensionScore, findings []dimensionFinding) {
	fmt.Fprintf(out, "\ndimensions.tsv\n\nConventions:\n")
	for i := range scores {
		fmt.Fprintf(out, "  %-12s %s\n", scores[i].habit.source, scores[i].habit.says)
	}
	fmt.Fprintf(out, "\n%-12s %6s %8s %8s %8s %8s %8s | %8s %8s\n", "source", "carry", "read", "exact", "within", "misread", "not read", "rightly", "unusable")
	var sum [dimensionVerdicts]int
	line := func(name string, n *[dimensionVerdicts]int) {
		read := n[dimensionExact] + n[dimensionWithin] + n[dimensionMisread]
		carry := read + n[dimensionNotRead]
		fmt.Fprintf(out, "%-12s %6d %8s %8s %8s %8s %8d | %8d %8d\n", name, carry, percent(read, carry), percent(n[dimensionExact], carry),
			percent(n[dimensionExact]+n[dimensionWithin], carry), percent(n[dimensionMisread], carry), n[dimensionNotRead], n[dimensionRightly], n[dimensionUnusable])
	}
	for i := range scores {
		line(scores[i].habit.source, &scores[i].n)
		for k, n := range scores[i].n {
			sum[k] += n
		}
	}
	line("all", &sum)
	reasons := map[string]int{}
	var order []string
	for _, f := range findings {
		reason := f.reason
		if reason == "" {
			reason = "unexplained: " + f.row.text + " → " + f.ours
		}
		if reasons[reason]++; reasons[reason] == 1 {
			order = append(order, reason)
		}
	}
	for _, reason := range order {
		fmt.Fprintf(out, "%5d  %s\n", reasons[reason], reason)
	}
}

// printDimensionTexts counts what is read of texts without a reading by the museum.
func printDimensionTexts(out io.Writer, texts []string) {
	codes := map[string]int{}
	var order []string
	read, twice, disagree := 0, 0, 0
	for _, text := range texts {
		d, err := reading.ReadDimensions(text, &reading.Conventions{Dimension: imaDimensions})
		if err != nil {
			code := err.(*reading.Unread).Code
			if codes[code]++; codes[code] == 1 {
				order = append(order, code)
			}
			continue
		}
		read++
		for i := range d.Measures {
			twice += len(d.Measures[i].Also)
			if d.Measures[i].Disagrees {
				disagree++
			}
		}
	}
	fmt.Fprintf(out, "\ndimensions_text.tsv\n\nConventions: inches where no unit is written; no reading by the museum\n\n%d texts, read %s", len(texts), percent(read, len(texts)))
	fmt.Fprintf(out, "; %d measures given in inches and centimetres, %d of them apart by more than rounding\nnot read:", twice, disagree)
	for _, code := range order {
		fmt.Fprintf(out, " %s %d", code, codes[code])
	}
	fmt.Fprintln(out)
}
