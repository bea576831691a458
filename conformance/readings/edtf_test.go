package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ropewalk/mapping/reading"
)

// long reports whether the long tests run: under CI or when asked for.
func long(t *testing.T) {
	t.Helper()
	if os.Getenv("ROPEWALK_LONG") == "" {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
}

func sharedFile(t *testing.T, path ...string) string {
	t.Helper()
	dir := os.Getenv("ROPEWALK_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	name := filepath.Join(append([]string{dir}, path...)...)
	if _, err := os.Stat(name); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("corpus is missing: %s", name)
		}
		t.Skipf("SKIPPED: corpus is missing: %s", name)
	}
	return name
}

// edtfReading is what a reader makes of a string.
type edtfReading struct {
	ok          bool
	first, last string // days; "" where there is none
}

func (r *edtfReading) UnmarshalJSON(b []byte) error {
	var v [3]any
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	r.ok, _ = v[0].(bool)
	r.first, _ = v[1].(string)
	r.last, _ = v[2].(string)
	return nil
}

func ourEDTF(s string) edtfReading {
	e, err := reading.ParseEDTF(s)
	if err != nil {
		return edtfReading{}
	}
	c := e.Corners(&reading.Conventions{Date: reading.DateConventions{Circa: reading.DateCircaFixed}})
	return edtfReading{true, c.EarliestBegin.String(), c.LatestEnd.String()}
}

// TestEDTFReaders compares ParseEDTF with two independent readers on the examples
// of the specification and on 2,000 strings made at random. Each disagreement must
// be one that edtf_deviations.tsv explains, and each explanation must be needed.
func TestEDTFReaders(t *testing.T) {
	long(t)
	texts := append(exampleStrings(t), "Y61E87", "1985-04-12T24:00:00", "-0000", "Y17E2", "1985-2X", "../..", "[..]", "[1985..1984]", "Y012345", "2004?-06~-11", "~2004?-06")
	random := rand.New(rand.NewPCG(8601, 2))
	g := edtfMaker{random}
	for range 1500 {
		s := g.text()
		if _, err := reading.ParseEDTF(s); err != nil {
			t.Errorf("%s follows the grammar, but: %v", s, err)
		}
		texts = append(texts, s)
	}
	for range 500 {
		texts = append(texts, g.damaged())
	}
	readings := otherReaders(t, texts)
	if len(readings) != len(texts) {
		t.Fatalf("%d readings of %d strings", len(readings), len(texts))
	}
	rules := loadDeviations(t)
	used := map[string]int{}
	agree := map[string]int{}
	for i, s := range texts {
		ours := ourEDTF(s)
		for _, name := range []string{"edtf", "core"} {
			theirs := readings[i][name]
			if ours == theirs {
				agree[name]++
				continue
			}
			rule := deviationOf(name, s, ours, theirs)
			if _, known := rules[name+" "+rule]; !known {
				t.Errorf("%s: %s reads %v, we %v: no rule %q", s, name, theirs, ours, rule)
				continue
			}
			used[name+" "+rule]++
		}
	}
	for name, n := range agree {
		t.Logf("%-4s agrees on %d of %d strings", name, n, len(texts))
	}
	for key := range rules {
		if used[key] == 0 {
			t.Errorf("the deviation %q no longer occurs", key)
		}
		t.Logf("%5d  %s", used[key], key)
	}
}

func exampleStrings(t *testing.T) []string {
	f, err := os.Open(sharedFile(t, "standards", "edtf", "edtf-examples.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var texts []string
	for s, n := bufio.NewScanner(f), 0; s.Scan(); n++ {
		if col := strings.Split(s.Text(), "\t"); n > 0 && len(col) > 2 {
			texts = append(texts, col[0])
		}
	}
	if len(texts) < 112 {
		t.Fatalf("%d examples, want at least 112", len(texts))
	}
	return texts
}

func otherReaders(t *testing.T, texts []string) []map[string]edtfReading {
	if _, err := os.Stat(filepath.Join("..", "node_modules", "edtf")); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("the npm packages are missing: run npm ci in conformance")
		}
		t.Skip("SKIPPED: the npm packages are missing: run npm ci in conformance")
	}
	var in bytes.Buffer
	for _, s := range texts {
		line, _ := json.Marshal(s)
		in.Write(append(line, '\n'))
	}
	cmd := exec.Command("node", "edtf_readers.mjs")
	cmd.Stdin = &in
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var list []map[string]edtfReading
	for line := range bytes.Lines(out) {
		m := map[string]edtfReading{}
		if err := json.Unmarshal(line, &m); err != nil {
			t.Fatal(err)
		}
		list = append(list, m)
	}
	return list
}

// edtfMaker makes strings that follow the grammar.
type edtfMaker struct{ *rand.Rand }

func (g edtfMaker) one(list ...string) string { return list[g.IntN(len(list))] }

func (g edtfMaker) text() string {
	switch g.IntN(20) {
	case 0, 1, 2, 10, 11, 12, 13, 14, 15:
		return g.date()
	case 3:
		return g.plain() + g.clock()
	case 4, 5, 16, 17:
		a, b := g.ordered()
		return g.one(a+"/"+b, a+"/"+b, a+"/..", a+"/", "../"+b, "/"+b)
	case 6:
		return g.one("Y", "Y-") + fmt.Sprint(10000+g.IntN(1_000_000_000))
	case 7:
		return g.one(fmt.Sprintf("Y%dE%d", 11+g.IntN(88), 4+g.IntN(4)), fmt.Sprintf("%04dS%d", 1000+g.IntN(9000), 1+g.IntN(4)), fmt.Sprintf("Y%dS%d", 100000+g.IntN(900000), 1+g.IntN(5)))
	case 8:
		a, b := g.ordered()
		return g.one("["+a+".."+b+"]", "[.."+a+"]", "["+a+"..]", "["+a+","+b+"]", "[.."+a+","+b+"]", "["+a+","+b+"..]")
	}
	a, b := g.ordered()
	return g.one("{"+a+".."+b+"}", "{.."+a+"}", "{"+a+"..}", "{"+a+","+b+"}", "{"+a+"}")
}

func (g edtfMaker) ordered() (string, string) {
	y := 1000 + g.IntN(900)
	one := func(y int) string {
		return g.one(fmt.Sprint(y), fmt.Sprintf("%d-%02d", y, 1+g.IntN(12)), fmt.Sprintf("%d-%02d-%02d", y, 1+g.IntN(12), 1+g.IntN(28)), fmt.Sprintf("%dX", y/10), fmt.Sprint(y)+g.one("?", "~", "%"))
	}
	return one(y), one(y + 10 + g.IntN(90))
}

func (g edtfMaker) plain() string {
	return fmt.Sprintf("%04d-%02d-%02d", g.IntN(3000), 1+g.IntN(12), 1+g.IntN(28))
}

func (g edtfMaker) clock() string {
	return fmt.Sprintf("T%02d:%02d:%02d", g.IntN(24), g.IntN(60), g.IntN(60)) + g.one("", "Z", "-04", "+05:30", "+00:00")
}

func (g edtfMaker) date() string {
	y, m, d := 1+g.IntN(2999), 1+g.IntN(12), 1+g.IntN(28)
	mark := func() string { return g.one("", "", "?", "~", "%") }
	switch g.IntN(8) {
	case 0:
		return fmt.Sprintf("%s%04d", g.one("", "-"), y) + mark()
	case 1:
		return fmt.Sprintf("%04d-%02d", y, m) + mark()
	case 2:
		return fmt.Sprintf("%04d-%02d-%02d", y, m, d) + mark()
	case 3:
		return fmt.Sprintf("%04d-%02d", y, 21+g.IntN(21)) + g.one("", "", "", mark())
	case 4:
		return fmt.Sprintf("%s%04d%s-%s%02d%s-%s%02d%s", mark(), y, "", mark(), m, "", mark(), d, "")
	case 5:
		return fmt.Sprintf("%04d%s-%02d-%02d", y, g.one("?", "~", "%"), m, d)
	case 6:
		return fmt.Sprintf("%04d-%02d%s-%02d", y, m, g.one("?", "~", "%"), d)
	}
	return g.unspecified(fmt.Sprintf("%04d", y), m, d)
}

func (g edtfMaker) unspecified(year string, m, d int) string {
	b := []byte(year)
	for i := range b {
		if g.IntN(3) == 0 {
			b[i] = 'X'
		}
	}
	month := g.one(fmt.Sprintf("%02d", m), "XX", "1X", "0X")
	day := g.one(fmt.Sprintf("%02d", d), "XX", "1X", "2X", "X5")
	return g.one(string(b), string(b)+"-"+month, string(b)+"-"+month+"-"+day, year+"-"+month+"-"+day)
}

// damaged is a string with one character changed, added or taken away.
func (g edtfMaker) damaged() string {
	s := []byte(g.text())
	i := g.IntN(len(s))
	c := "0123456789-/.,[]{}?~%XYES T:Z"[g.IntN(29)]
	switch g.IntN(3) {
	case 0:
		s[i] = c
	case 1:
		s = append(s[:i], append([]byte{c}, s[i:]...)...)
	default:
		s = append(s[:i], s[i+1:]...)
	}
	return string(s)
}

// loadDeviations reads the file of known disagreements: reader, rule, what the
// reader does, and the clause that decides.
func loadDeviations(t *testing.T) map[string]string {
	f, err := os.Open("edtf_deviations.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rules := map[string]string{}
	for s, n := bufio.NewScanner(f), 0; s.Scan(); n++ {
		col := strings.Split(s.Text(), "\t")
		if n == 0 {
			continue
		}
		if len(col) != 4 {
			t.Fatalf("edtf_deviations.tsv:%d: %d columns, not 4", n+1, len(col))
		}
		rules[col[0]+" "+col[1]] = col[3]
	}
	return rules
}

// deviationOf names the rule of edtf_deviations.tsv by which a reader differs from
// us, or "".
func deviationOf(reader, s string, ours, theirs edtfReading) string {
	switch {
	case !ours.ok:
		return laxness(reader, s)
	case strings.HasPrefix(s, "Y"):
		return "far-years"
	case significant.MatchString(s):
		return "significant-digits"
	case !theirs.ok:
		return strictness(reader, s)
	case strings.Contains(s, "T") && reader == "edtf":
		return "local-day"
	case season.MatchString(s):
		return "season-days"
	case strings.ContainsAny(s, "[{") && reader == "edtf" && strings.Contains(s, ".."):
		return "end-of-range-in-set"
	case reader == "core" && firstCentury.MatchString(strings.ReplaceAll(s, "X", "0")):
		return "years-below-100"
	case reader == "core" && strings.Contains(s, "X"):
		return "unspecified-digits"
	}
	return ""
}

var (
	significant  = regexp.MustCompile(`^-?\d{4}S\d`)
	season       = regexp.MustCompile(`^[?~%]?-?[\dX]{4}[?~%]?-[?~%]?(2[1-9]|3\d|4[01])`)
	firstCentury = regexp.MustCompile(`(^|[^\d-])-?00\d\d`)
	noSeparators = regexp.MustCompile(`^-?\d{3}[?~%]?$|^\d{5,}$`)
	beyond       = regexp.MustCompile(`^Y-?[1-9]\d*E\d{2,}$`)
)

// laxness names the rule for strings that only the other reader accepts.
func laxness(reader, s string) string {
	switch {
	case strings.Contains(s, "T") && strings.ContainsAny(s, "/[{"):
		return "time-in-interval"
	case strings.Contains(s, "T"):
		return "times"
	case beyond.MatchString(s):
		return "beyond-counting"
	case reader == "edtf" && noSeparators.MatchString(s):
		return "numbers"
	}
	return "lax"
}

// strictness names the rule for strings that only the other reader refuses.
func strictness(reader, s string) string {
	switch {
	case strings.ContainsAny(s, "[{") && strings.ContainsAny(s, "?~%X-."):
		return "members-of-sets"
	case strings.Contains(s, "/"):
		return "ends-of-intervals"
	case season.MatchString(s):
		return "marked-or-hemisphere-season"
	}
	return "strict"
}
