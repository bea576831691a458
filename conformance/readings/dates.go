package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"ropewalk/mapping/reading"
)

// dateRow is a line of dates.tsv or dates_all.tsv. Years are astronomical.
type dateRow struct {
	text, kind, source string
	earliest, latest   int64
	hasFirst, hasLast  bool
}

// dateHabit is the convention set of a source and what agreement allows for.
type dateHabit struct {
	source, kind string
	conventions  reading.DateConventions
	says         string // for the header
	lifespan     bool   // activity is widened to a life: ours must lie within the museum's
	stages       bool   // later stages are counted at times: either reading agrees
	tolerance    int64  // years either end may differ
}

var dateHabits = []dateHabit{
	{source: "tate", kind: "production", stages: true, tolerance: 1,
		conventions: reading.DateConventions{Circa: reading.DateCircaFixed, LaterStages: []string{"printed", "remade", "reworked", "designed"}, EarlyPercent: 50, LatePercent: 50},
		says:        "circa does not widen; early and late are halves; dates of printing, remaking and reworking count, at times others or none; an open end is made up; ±1"},
	{source: "tate", kind: "life", tolerance: 1,
		conventions: reading.DateConventions{Circa: reading.DateCircaFixed},
		says:        "circa does not widen; an end that is not given is made up; ±1"},
	{source: "skokloster", kind: "event", tolerance: 0, says: "days, months and years as written"},
	{source: "skokloster", kind: "life", lifespan: true, tolerance: 1,
		conventions: skoklosterDates,
		says:        "circa reaches ten years, not in ranges; + is a death; början and slut are a quarter, mitt a fifth; an end that is not given is made up, also for the time of activity; numbers below 100 are years; ±1"},
	{source: "nga-constituents", kind: "life", lifespan: true, tolerance: 1,
		conventions: reading.DateConventions{Circa: reading.DateCircaFixed},
		says:        "circa does not widen; a time of activity is given a lifespan; an end that is not given is made up; ±1"},
	{source: "skokloster", kind: "production", conventions: skoklosterDates, says: "no reading by the museum"},
	{source: "ima", kind: "production",
		conventions: reading.DateConventions{Order: reading.DateMonthFirst, Hyphen: reading.DateHyphenRange, TwoDigitYears: 1900},
		says:        "month before day; 1900-10 is a range; two-digit years of days are 19xx; no reading by the museum"},
}

var skoklosterDates = reading.DateConventions{
	Circa: reading.DateCircaFixed, CircaYears: 10, CircaRanges: reading.DateCircaKeepsRanges,
	EarlyPercent: 25, MidPercent: 20, LatePercent: 25,
	MinYear: 1, Plus: reading.DatePlusDied, LeadingDash: reading.DateDashUntil, Order: reading.DateDayFirst,
}

func habitOf(r *dateRow) *dateHabit {
	kind := strings.TrimSuffix(r.kind, "/active")
	for i := range dateHabits {
		if h := &dateHabits[i]; h.source == r.source && h.kind == kind {
			return h
		}
	}
	return nil
}

// dateVerdict is how a reading compares with the museum's.
type dateVerdict uint8

const (
	dateExact        dateVerdict = iota // the same first and last year
	dateWithin                          // the same within the convention
	dateApart                           // touches the museum's interval, but not within the convention
	dateMisread                         // does not touch it
	dateNotRead                         // the words carry the reading, and it was not read
	dateRightly                         // not read, and the words do not carry it
	dateUncompared                      // read; the museum gives no reading
	dateNotReadAlone                    // not read; the museum gives no reading
	dateVerdicts
)

var dateVerdictNames = [...]string{"exact", "within", "apart", "misread", "not read", "rightly", "uncompared", "not read, no reading"}

type dateScore struct {
	habit *dateHabit
	n     [dateVerdicts]int
}

// dateFinding is a row that did not come out alike.
type dateFinding struct {
	row     dateRow
	verdict dateVerdict
	ours    string
	code    string
}

func scoreDates(dir string, out io.Writer) error {
	for _, name := range []string{"dates.tsv", "dates_all.tsv"} {
		rows, err := loadDates(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		scores, findings := compareDates(rows)
		printDates(out, name, scores)
		if file := os.Getenv("ROPEWALK_FINDINGS"); file != "" && name == "dates_all.tsv" {
			if err := writeFindings(file, findings); err != nil {
				return err
			}
		}
	}
	return nil
}

// compareDates scores all rows, by source and kind in the order of dateHabits.
func compareDates(rows []dateRow) ([]dateScore, []dateFinding) {
	scores := make([]dateScore, len(dateHabits))
	for i := range dateHabits {
		scores[i].habit = &dateHabits[i]
	}
	var findings []dateFinding
	for _, r := range rows {
		for i := range scores {
			if scores[i].habit == habitOf(&r) {
				v, ours, code := compareDate(&r, scores[i].habit)
				scores[i].n[v]++
				if v >= dateWithin && v != dateRightly && v != dateUncompared {
					findings = append(findings, dateFinding{r, v, ours, code})
				}
			}
		}
	}
	return scores, findings
}

func readRow(r *dateRow, c *reading.DateConventions) (reading.Date, error) {
	return reading.ReadDate(r.text, &reading.Conventions{Date: *c})
}

func compareDate(r *dateRow, h *dateHabit) (v dateVerdict, ours, code string) {
	d, err := readRow(r, &h.conventions)
	given := r.hasFirst || r.hasLast
	if err != nil {
		code = err.(*reading.Unread).Code
		switch {
		case !carries(r.text):
			return dateRightly, "", code
		case !given:
			return dateNotReadAlone, "", code
		}
		return dateNotRead, "", code
	}
	ours = d.EDTF() + " " + d.EarliestBegin.String() + ".." + d.LatestEnd.String()
	if !given {
		return dateUncompared, ours, ""
	}
	v = agreement(r, &d, h)
	if h.stages && v != dateExact {
		for _, stages := range [][]string{{}, reading.DateStageNames()} {
			c := h.conventions
			c.LaterStages = stages
			if d, err := readRow(r, &c); err == nil && agreement(r, &d, h) <= dateWithin {
				v = dateWithin
			}
		}
	}
	return v, ours, ""
}

func agreement(r *dateRow, d *reading.Date, h *dateHabit) dateVerdict {
	first, last := d.EarliestBegin, d.LatestEnd
	sameFirst := first.Known() == r.hasFirst && (!r.hasFirst || first.Year == r.earliest)
	sameLast := last.Known() == r.hasLast && (!r.hasLast || last.Year == r.latest)
	if sameFirst && sameLast {
		return dateExact
	}
	if first.Known() && r.hasLast && first.Year > r.latest || last.Known() && r.hasFirst && last.Year < r.earliest {
		return dateMisread
	}
	near := func(a, b int64) bool { return a-b <= h.tolerance && b-a <= h.tolerance }
	nearFirst := !first.Known() || !r.hasFirst || near(first.Year, r.earliest)
	nearLast := !last.Known() || !r.hasLast || near(last.Year, r.latest)
	if h.lifespan {
		nearFirst = nearFirst || first.Year >= r.earliest && spokenOf(r.text)
		nearLast = nearLast || last.Year <= r.latest && spokenOf(r.text)
	}
	if nearFirst && nearLast {
		return dateWithin
	}
	return dateApart
}

// spokenOf reports whether the words leave the ends of a life open, so that a
// museum that gives a lifespan must have made it up.
func spokenOf(text string) bool {
	for _, w := range []string{"active", "century", "fl.", "mentioned", "alive", "extant", "flourished"} {
		if strings.Contains(strings.ToLower(text), w) {
			return true
		}
	}
	return false
}

// carries reports whether the words carry a date at all.
func carries(text string) bool { return strings.ContainsAny(text, "0123456789") }

func loadDates(name string) ([]dateRow, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var rows []dateRow
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		col := strings.Split(s.Text(), "\t")
		if len(col) < 12 {
			return nil, fmt.Errorf("%s:%d: %d columns, not 12", name, n, len(col))
		}
		if n == 1 {
			continue
		}
		r := dateRow{text: col[0], kind: col[3], source: col[5]}
		r.earliest, r.hasFirst = tableYear(col[1])
		r.latest, r.hasLast = tableYear(col[2])
		rows = append(rows, r)
	}
	return rows, s.Err()
}

// tableYear reads a year of the tables, where 1 BC is -1.
func tableYear(s string) (int64, bool) {
	y, err := strconv.ParseInt(s, 10, 64)
	if y < 0 {
		y++
	}
	return y, err == nil
}

func printDates(out io.Writer, name string, scores []dateScore) {
	fmt.Fprintf(out, "\n%s\n\nConventions:\n", name)
	for i := range scores {
		h := scores[i].habit
		fmt.Fprintf(out, "  %-17s %-11s %s\n", h.source, h.kind, h.says)
	}
	fmt.Fprintf(out, "\n%-17s %-11s %6s %7s %7s %7s %7s %8s %9s | %7s %9s\n", "source", "kind", "carry", "read", "exact", "within", "apart", "misread", "not read", "no read", "read")
	var sum [dateVerdicts]int
	line := func(source, kind string, n *[dateVerdicts]int) {
		read := n[dateExact] + n[dateWithin] + n[dateApart] + n[dateMisread]
		carry := read + n[dateNotRead]
		fmt.Fprintf(out, "%-17s %-11s %6d %7s %7s %7s %7s %8s %9d | %7d %9s\n", source, kind, carry, percent(read, carry), percent(n[dateExact], carry),
			percent(n[dateExact]+n[dateWithin], carry), percent(n[dateApart], carry), percent(n[dateMisread], carry), n[dateNotRead],
			n[dateUncompared]+n[dateNotReadAlone], percent(n[dateUncompared], n[dateUncompared]+n[dateNotReadAlone]))
	}
	for i := range scores {
		line(scores[i].habit.source, scores[i].habit.kind, &scores[i].n)
		for k, n := range scores[i].n {
			sum[k] += n
		}
	}
	line("all", "", &sum)
	fmt.Fprintf(out, "%d rows are rightly not read: their words carry no date.\n", sum[dateRightly])
}

func percent(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.2f%%", 100*float64(n)/float64(of))
}

func writeFindings(name string, findings []dateFinding) error {
	sort.SliceStable(findings, func(i, j int) bool { return findings[i].verdict < findings[j].verdict })
	var b strings.Builder
	for _, f := range findings {
		fmt.Fprintf(&b, "%s\t%s\t%s\t%s\t%d\t%d\t%s\t%s\n", dateVerdictNames[f.verdict], f.row.source, f.row.kind, f.row.text, f.row.earliest, f.row.latest, f.ours, f.code)
	}
	return os.WriteFile(name, []byte(b.String()), 0o666)
}
