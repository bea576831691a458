package main

import (
	"bytes"
	"os"
	"testing"
)

// TestCurrent fails when the tables differ from what the published standards
// give today.
func TestCurrent(t *testing.T) {
	dir := standards("../..")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the published standards are not there: %v", err)
		}
		t.Skipf("SKIPPED: the published standards are not there: %v", err)
	}
	want, err := generate(dir)
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("../tables_gen.go")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("vocab/tables_gen.go is stale: run go generate ./vocab")
	}
}
