package reading

import (
	"bufio"
	"flag"
	"os"
	"strings"
	"testing"
)

var updateDates = flag.Bool("update-dates", false, "rewrite the readings in testdata/dates.tsv")

const dateGoldenFile = "testdata/dates.tsv"

// dateGoldenRow is a line of the golden table: words, and what is read from them
// under the default conventions. Lines beginning with # are headings.
type dateGoldenRow struct{ text, want string }

func dateGolden(t testing.TB) []dateGoldenRow {
	t.Helper()
	f, err := os.Open(dateGoldenFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows []dateGoldenRow
	for s := bufio.NewScanner(f); s.Scan(); {
		text, want, _ := strings.Cut(s.Text(), "\t")
		rows = append(rows, dateGoldenRow{text, want})
	}
	if len(rows) < 500 {
		t.Fatalf("%d rows in %s, want at least 500", len(rows), dateGoldenFile)
	}
	return rows
}

func describeDate(d *Date, err error) string {
	if err != nil {
		return "! " + err.(*Unread).Code
	}
	s := d.EDTF() + "\t" + d.EarliestBegin.String() + " " + d.LatestEnd.String() + "\t" + d.Precision.String()
	if d.Calendar == DateJulian {
		s += " Julian"
	}
	if d.Approximate {
		s += " approximate"
	}
	if d.Uncertain {
		s += " uncertain"
	}
	if !d.EDTFExact() {
		s += " inexact"
	}
	return s
}

func TestReadDateGolden(t *testing.T) {
	var b strings.Builder
	for _, g := range dateGolden(t) {
		got := g.want
		if !strings.HasPrefix(g.text, "#") {
			d, err := ReadDate(g.text, nil)
			got = describeDate(&d, err)
			if err == nil && d.Text != g.text {
				t.Errorf("%s: the words are lost", g.text)
			}
		}
		if got != g.want && !*updateDates {
			t.Errorf("%s\n got %s\nwant %s", g.text, got, g.want)
		}
		b.WriteString(g.text + "\t" + got + "\n")
	}
	if *updateDates {
		if err := os.WriteFile(dateGoldenFile, []byte(b.String()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}
