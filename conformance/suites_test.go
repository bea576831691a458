package conformance

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"ropewalk/conformance/outside"
)

// The addresses at which the suites are thought to stand.
const (
	suitesBase = "https://w3c.github.io/rdf-tests/rdf/rdf11/"
	rdfc10     = "rdfc10"
)

var started struct {
	sync.Mutex
	readers []*outside.Reader
}

// allReaders are the independent readers. Their programs are started once.
func allReaders(t *testing.T) []*outside.Reader {
	t.Helper()
	started.Lock()
	defer started.Unlock()
	if started.readers == nil {
		started.readers = outside.Readers(t)
	}
	return slices.Clone(started.readers)
}

// readerNamed is one of them.
func readerNamed(t *testing.T, name string) *outside.Reader {
	t.Helper()
	for _, r := range allReaders(t) {
		if r.Name == name {
			return r
		}
	}
	t.Fatalf("no reader %s", name)
	return nil
}

// TestNQuadsSuites proves the reader in which all others answer on the W3C suites
// of N-Triples and N-Quads: it takes what they take and refuses what they refuse.
func TestNQuadsSuites(t *testing.T) {
	dev := outside.LoadDeviations(t, "n-quads")
	for _, name := range []string{"rdf-n-triples", "rdf-n-quads"} {
		for _, s := range outside.Suite(t, suitesBase+name+"/", "standards", "w3c-rdf", name) {
			quads, err := outside.ParseNQuads(string(outside.Text(t, s.Action)))
			if strings.Contains(s.Kind, "Negative") {
				if err == nil {
					err = fmt.Errorf("accepted: %v", quads)
				} else {
					err = nil
				}
			} else if err == nil {
				var again []outside.Quad
				if again, err = outside.ParseNQuads(string(outside.NQuads(quads))); err == nil {
					err = sameGraph(quads, again)
				}
			}
			dev.Check(name+"/"+s.Name, err)
		}
	}
	dev.Done(true, 157)
}

// sameGraph is nil if two graphs are isomorphic.
func sameGraph(want, got []outside.Quad) error {
	w, err := outside.Canonical(want)
	if err != nil {
		return fmt.Errorf("graph wanted: %w", err)
	}
	g, err := outside.Canonical(got)
	if err != nil {
		return fmt.Errorf("graph got: %w", err)
	}
	if diff := outside.Difference(w, g); diff != "" {
		return errors.New(diff)
	}
	return nil
}

type canonTest struct {
	ID, Type, Action, Result, HashAlgorithm string
}

func canonTests(t *testing.T) []canonTest {
	var manifest struct{ Entries []canonTest }
	if err := json.Unmarshal(outside.ReadShared(t, "standards", "rdf-canon", "manifest.jsonld"), &manifest); err != nil {
		t.Fatal(err)
	}
	return manifest.Entries
}

// TestCanonicalForm proves the comparison of graphs on the W3C suite of RDFC-1.0.
func TestCanonicalForm(t *testing.T) {
	dev := outside.LoadDeviations(t, rdfc10)
	evals, negatives := 0, 0
	for _, c := range canonTests(t) {
		id := strings.TrimPrefix(c.ID, "#")
		quads, err := outside.ParseNQuads(string(outside.ReadShared(t, "standards", "rdf-canon", filepath.FromSlash(c.Action))))
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		switch c.Type {
		case "rdfc:RDFC10EvalTest":
			evals++
			got, err := outside.Canonical(quads)
			if err == nil {
				if d := outside.Difference(string(outside.ReadShared(t, "standards", "rdf-canon", filepath.FromSlash(c.Result))), got); d != "" {
					err = errors.New(d)
				}
			}
			dev.Check(id, err)
		case "rdfc:RDFC10NegativeEvalTest":
			negatives++
			if _, err = outside.Canonical(quads); err == nil {
				err = errors.New("canonicalised, should have been refused")
			} else {
				err = nil
			}
			dev.Check(id, err)
		}
	}
	outside.AtLeast(t, "RDFC-1.0 evaluation tests", evals, 64)
	outside.AtLeast(t, "RDFC-1.0 negative tests", negatives, 1)
	dev.Done(true, 64)
}

// TestCanonicalFormElsewhere compares our canonical forms with those of a second
// implementation, the npm package rdf-canonize, on the inputs of the suite.
func TestCanonicalFormElsewhere(t *testing.T) {
	other := outside.RDFCanonize(t)
	var ids, reqs, want []string
	for _, c := range canonTests(t) {
		if c.Type != "rdfc:RDFC10EvalTest" || c.HashAlgorithm != "" {
			continue
		}
		text := string(outside.ReadShared(t, "standards", "rdf-canon", filepath.FromSlash(c.Action)))
		quads, err := outside.ParseNQuads(text)
		if err != nil {
			t.Fatal(err)
		}
		canon, err := outside.Canonical(quads)
		if err != nil {
			t.Errorf("%s: %v", c.ID, err)
			continue
		}
		ids, reqs, want = append(ids, c.ID), append(reqs, text), append(want, canon)
	}
	got, errs := other(reqs)
	for i, id := range ids {
		if errs[i] != nil {
			t.Errorf("%s: %v", id, errs[i])
		} else if d := outside.Difference(want[i], got[i]); d != "" {
			t.Errorf("%s: %s", id, d)
		}
	}
	outside.AtLeast(t, "inputs canonicalised twice", len(reqs), 63)
}

// TestDeviationGroups proves that every entry of the deviations file belongs to a
// test that asks for it.
func TestDeviationGroups(t *testing.T) {
	tests := []string{"n-quads", rdfc10, "readers", "verdict", "expansion", "examples", "ontology-examples", "vocabulary", "suites", "terms", "random", "sites", "ontology-sites", "ontology-worked", "validate"}
	for _, group := range outside.DeviationGroups(t) {
		if !slices.Contains(tests, group) {
			t.Errorf("deviations.yaml has entries of %q, which no test asks for", group)
		}
	}
}
