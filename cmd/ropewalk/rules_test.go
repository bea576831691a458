package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ropewalk/mapping"
	"ropewalk/mapping/site"
)

var update = flag.Bool("update", false, "write what the tests get where they expect something else")

// check runs "ropewalk check" in this process, in the plain colours of a file.
func check(dir string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = run([]string{"check", "--workers", "1", dir}, strings.NewReader(""), &out, &err)
	return code, out.String(), err.String()
}

// Every rule has a site that breaks it, with the whole text that a person then
// reads, and a site that comes close and is clean.
func TestRules(t *testing.T) {
	const root = "testdata/rules"
	all := append(site.Rules(), mapping.Rules()...)
	names := map[string]bool{}
	for _, r := range all {
		if names[r.Name] {
			t.Errorf("two rules are called %q", r.Name)
		}
		names[r.Name] = true
		t.Run(r.Name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(root, r.Name)
			bad, err := filepath.Glob(filepath.Join(dir, "bad*"))
			if err != nil || len(bad) == 0 {
				t.Fatalf("no site in %s breaks the rule", dir)
			}
			for _, b := range bad {
				code, _, got := check(b)
				if want := map[mapping.Severity]int{mapping.Problem: exitProblems, mapping.Notice: exitClean}[r.Severity]; code != want {
					t.Errorf("%s: exit code %d, want %d", b, code, want)
				}
				if !strings.Contains(got, ": "+r.Name+"\n") && !strings.Contains(got, ": "+r.Name+" (notice)\n") {
					t.Errorf("%s does not break the rule:\n%s", b, got)
				}
				golden(t, filepath.Join(b, "want.txt"), got)
			}
			code, out, got := check(filepath.Join(dir, "good"))
			if code != exitClean || got != "" {
				t.Errorf("the good site is not clean: exit code %d\n%s%s", code, got, out)
			}
		})
	}
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !names[e.Name()] {
			t.Errorf("%s: there is no rule %q", root, e.Name())
		}
	}
	if len(all) < 29 {
		t.Errorf("only %d rules", len(all))
	}
}

// golden compares got with a file, which must exist.
func golden(t *testing.T, file, got string) {
	t.Helper()
	want, err := os.ReadFile(file)
	if *update {
		if !slices.Equal(want, []byte(got)) {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		return
	}
	if err != nil {
		t.Errorf("%v; -update writes it", err)
		return
	}
	if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
		t.Errorf("%s differs from what is printed (-want +got); -update accepts it:\n%s", file, d)
	}
}

// The list of rules names them all.
func TestRulesCommand(t *testing.T) {
	var out bytes.Buffer
	if code := run([]string{"rules"}, nil, &out, &out); code != exitClean {
		t.Fatalf("exit code %d\n%s", code, &out)
	}
	for _, r := range append(site.Rules(), mapping.Rules()...) {
		if !strings.Contains(out.String(), fmt.Sprintf("  %s ", r.Name)) || r.About == "" {
			t.Errorf("%q is not in the list", r.Name)
		}
	}
}
