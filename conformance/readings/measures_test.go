package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// measureTable finds a table, or skips with a printed line; under CI its absence fails.
func measureTable(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(tablesDir("../../../shared"), name)
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the table %s is missing: %v", name, err)
		}
		t.Skipf("SKIPPED, NOT PASSED: the table %s is missing: %v", name, err)
	}
	return path
}

func TestDimensionsTable(t *testing.T) {
	rows, err := loadDimensions(measureTable(t, "dimensions.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 682 {
		t.Fatalf("%d rows; there should be 682", len(rows))
	}
	scores, findings := compareDimensions(rows)
	var n [dimensionVerdicts]int
	for _, s := range scores {
		for k := range s.n {
			n[k] += s.n[k]
		}
	}
	read := n[dimensionExact] + n[dimensionWithin] + n[dimensionMisread]
	carry := read + n[dimensionNotRead]
	if carry < 660 || 100*read < 97*carry || 1000*n[dimensionMisread] > 2*carry {
		t.Errorf("of %d rows %d are read and %d misread; 97%% and 0.2%% are wanted", carry, read, n[dimensionMisread])
	}
	used := map[string]bool{}
	for _, f := range findings {
		if f.reason == "" {
			t.Errorf("%s (%s): %s, and no reason is known", f.row.text, f.row.record, f.ours)
		}
		used[f.row.record] = true
	}
	for record := range dimensionReasons {
		if !used[record] {
			t.Errorf("record %s agrees now: take its reason out", record)
		}
	}
}

func TestDimensionTexts(t *testing.T) {
	texts, err := loadColumn(measureTable(t, "dimensions_text.tsv"), 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(texts) < 300 {
		t.Fatalf("%d texts; there should be 300", len(texts))
	}
	var out strings.Builder
	printDimensionTexts(&out, texts)
	if !strings.Contains(out.String(), "read 9") {
		t.Errorf("fewer than nine in ten are read:\n%s", out.String())
	}
}

func TestAttributionsTable(t *testing.T) {
	rows, err := loadAttributions(measureTable(t, "attributions.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 497 {
		t.Fatalf("%d rows; there should be 497", len(rows))
	}
	scores, findings := compareAttributions(rows)
	right, all := 0, 0
	for _, s := range scores {
		right += s.qualifier
		all += s.rows
	}
	if 100*right < 97*all {
		t.Errorf("of %d rows %d have the right qualifier; 97%% are wanted", all, right)
	}
	for _, f := range findings {
		if f.reason == "" {
			t.Errorf("%s (%s): %s, and no reason is known", f.row.display, f.row.record, f.ours)
		}
	}
}

func TestRolesTable(t *testing.T) {
	rows, err := loadTable(measureTable(t, "roles.tsv"), 4)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 104 {
		t.Fatalf("%d rows; there should be 104", len(rows))
	}
	var out strings.Builder
	printRoles(&out, rows)
	if !strings.Contains(out.String(), "(100.00%)") {
		t.Error(out.String())
	}
}
