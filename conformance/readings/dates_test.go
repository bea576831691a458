package main

import (
	"bufio"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDateTables holds the measure: of the rows whose words carry the reading, at
// least 97 % are read, 95 % agree exactly or within the convention, and at most
// 0.3 % are misread. Every row that does not agree stands in
// dates_disagreements.tsv with its reason, and no row that does.
func TestDateTables(t *testing.T) {
	for name, least := range map[string]int{"dates.tsv": 495, "dates_all.tsv": 7741} {
		rows, err := loadDates(sharedFile(t, "data", name))
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) < least {
			t.Fatalf("%s has %d rows, want at least %d", name, len(rows), least)
		}
		scores, findings := compareDates(rows)
		var n [dateVerdicts]int
		for i := range scores {
			for k, v := range scores[i].n {
				n[k] += v
			}
		}
		read := n[dateExact] + n[dateWithin] + n[dateApart] + n[dateMisread]
		carry := float64(read + n[dateNotRead])
		if got := float64(read) / carry; got < 0.97 {
			t.Errorf("%s: %.4f read, want at least 0.97", name, got)
		}
		if got := float64(n[dateExact]+n[dateWithin]) / carry; got < 0.95 {
			t.Errorf("%s: %.4f agree, want at least 0.95", name, got)
		}
		if got := float64(n[dateMisread]) / carry; got > 0.003 {
			t.Errorf("%s: %.4f misread, want at most 0.003", name, got)
		}
		if name == "dates_all.tsv" {
			checkDisagreements(t, findings)
		}
	}
}

func checkDisagreements(t *testing.T, findings []dateFinding) {
	f, err := os.Open("dates_disagreements.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	reasons := map[string]string{}
	for s, n := bufio.NewScanner(f), 0; s.Scan(); n++ {
		col := strings.Split(s.Text(), "\t")
		if n == 0 {
			continue
		}
		if len(col) != 5 || col[4] == "" {
			t.Errorf("dates_disagreements.tsv:%d: no reason", n+1)
			continue
		}
		reasons[strings.Join(col[:4], "\t")] = col[4]
	}
	for _, f := range findings {
		if f.verdict == dateWithin {
			continue
		}
		key := strings.Join([]string{dateVerdictNames[f.verdict], f.row.source, f.row.kind, f.row.text}, "\t")
		if reasons[key] == "" {
			t.Errorf("%s (%d to %d; we %s %s): no reason in dates_disagreements.tsv", key, f.row.earliest, f.row.latest, f.ours, f.code)
		}
		delete(reasons, key)
	}
	for key := range reasons {
		t.Errorf("%s: agrees now, or is gone from the table", key)
	}
}

func TestTablesDir(t *testing.T) {
	t.Setenv("ROPEWALK_SHARED", "/x")
	if got := tablesDir("../shared"); got != filepath.Join("/x", "data") {
		t.Error(got)
	}
}
