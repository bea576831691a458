package outside

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/goccy/go-yaml"
)

// Deviation is one thing known to differ from what a published source says.
type Deviation struct {
	ID     string `yaml:"id"`     // the check that fails, as it is called in [Deviations.Check]
	Where  string `yaml:"where"`  // the file, test or clause that is contradicted
	Fails  string `yaml:"fails"`  // words of the failure that is expected
	Reason string `yaml:"reason"` // why it stays
}

// Deviations are the entries of conformance/deviations.yaml that belong to one
// test. A check that fails without an entry, or passes with one, fails the test.
type Deviations struct {
	t     testing.TB
	group string
	mu    sync.Mutex
	known map[string]Deviation
	seen  map[string]bool

	passed, deviating, failed int
}

// DeviationGroups lists what stands before "/" in the ids of the deviations file.
func DeviationGroups(t testing.TB) []string {
	t.Helper()
	var groups []string
	for _, e := range readDeviations(t) {
		group, _, ok := strings.Cut(e.ID, "/")
		if !ok {
			t.Errorf("deviations.yaml: %q names no group", e.ID)
		}
		if !slices.Contains(groups, group) {
			groups = append(groups, group)
		}
	}
	return groups
}

// LoadDeviations reads the entries whose id begins with group and "/".
func LoadDeviations(t testing.TB, group string) *Deviations {
	t.Helper()
	d := &Deviations{t: t, group: group, known: map[string]Deviation{}, seen: map[string]bool{}}
	for _, e := range readDeviations(t) {
		if id, ok := strings.CutPrefix(e.ID, group+"/"); ok {
			d.known[id] = e
		}
	}
	return d
}

func readDeviations(t testing.TB) []Deviation {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(Room(t), "deviations.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	list, err := parseDeviations(b)
	if err != nil {
		t.Fatalf("deviations.yaml: %v", err)
	}
	return list
}

func parseDeviations(b []byte) ([]Deviation, error) {
	var file struct {
		Deviations []Deviation `yaml:"deviations"`
	}
	if err := yaml.UnmarshalWithOptions(b, &file, yaml.Strict()); err != nil {
		return nil, err
	}
	ids := map[string]bool{}
	for _, e := range file.Deviations {
		if e.ID == "" || e.Where == "" || e.Fails == "" || e.Reason == "" {
			return nil, fmt.Errorf("entry %q needs id, where, fails and reason", e.ID)
		}
		if ids[e.ID] {
			return nil, fmt.Errorf("entry %q stands twice", e.ID)
		}
		ids[e.ID] = true
	}
	return file.Deviations, nil
}

// Check records how one check went; fault is nil if it passed.
func (d *Deviations) Check(id string, fault error) {
	d.t.Helper()
	if problem := d.judge(id, fault); problem != "" {
		d.t.Error(problem)
	}
}

func (d *Deviations) judge(id string, fault error) string {
	d.mu.Lock()
	defer d.mu.Unlock()
	entry, listed := d.known[id]
	d.seen[id] = true
	switch {
	case fault == nil && !listed:
		d.passed++
		return ""
	case fault == nil:
		d.failed++
		return fmt.Sprintf("%s/%s passes now: take it out of deviations.yaml", d.group, id)
	case listed && strings.Contains(fault.Error(), entry.Fails):
		d.deviating++
		return ""
	case listed:
		d.failed++
		return fmt.Sprintf("%s/%s fails otherwise than deviations.yaml says (%q): %v", d.group, id, entry.Fails, fault)
	}
	d.failed++
	return fmt.Sprintf("%s/%s: %v", d.group, id, fault)
}

// Done closes the test: it prints the counts, fails on entries that no check has
// asked for, and fails if fewer than least checks passed. Give all as false for a
// run over a sample, in which entries may stay unused.
func (d *Deviations) Done(all bool, least int) {
	d.t.Helper()
	for _, problem := range d.unused(all) {
		d.t.Error(problem)
	}
	d.t.Logf("%s: %d passed, %d known deviations, %d failed", d.group, d.passed, d.deviating, d.failed)
	AtLeast(d.t, d.group+": checks passed", d.passed, least)
}

func (d *Deviations) unused(all bool) (problems []string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for id := range d.known {
		if all && !d.seen[id] {
			problems = append(problems, fmt.Sprintf("%s/%s in deviations.yaml names no check that ran", d.group, id))
		}
	}
	return problems
}
