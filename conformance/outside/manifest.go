package outside

import (
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// SuiteTest is a test of a W3C suite. Action and Result are files; Result is ""
// for tests that only say whether a text is to be accepted.
type SuiteTest struct {
	Name   string // fragment of the test's IRI
	Kind   string // class of the test without its namespace, such as "TestTurtleEval"
	Base   string // IRI at which the action is thought to stand
	Action string
	Result string
}

// Suite reads the manifest of a W3C suite below the folder of published
// standards, with knakk, which puts base before
// relative references as it is. base is the IRI of the folder at which the suite is
// thought to stand.
func Suite(t testing.TB, base string, dir ...string) []SuiteTest {
	t.Helper()
	folder := Shared(t, dir...)
	text, err := os.ReadFile(filepath.Join(folder, "manifest.ttl"))
	if err != nil {
		t.Fatal(err)
	}
	a := Knakk().Read([]Request{{Syntax: Turtle, Base: base, Text: text}})[0]
	if a.Err != nil {
		t.Fatalf("%s: %v", folder, a.Err)
	}
	const mf = "http://www.w3.org/2001/sw/DataAccess/tests/test-manifest#"
	tests := map[string]*SuiteTest{}
	for _, q := range a.Quads {
		if tests[q.S.Value] == nil {
			tests[q.S.Value] = &SuiteTest{Name: q.S.Value[strings.LastIndexByte(q.S.Value, '#')+1:]}
		}
		s := tests[q.S.Value]
		file := func() string { return filepath.Join(folder, filepath.FromSlash(strings.TrimPrefix(q.O.Value, base))) }
		switch q.P.Value {
		case RDFType:
			s.Kind = q.O.Value[strings.LastIndexAny(q.O.Value, "#/")+1:]
		case mf + "action":
			s.Base, s.Action = q.O.Value, file()
		case mf + "result":
			s.Result = file()
		}
	}
	var list []SuiteTest
	for _, s := range tests {
		if s.Action != "" {
			list = append(list, *s)
		}
	}
	slices.SortFunc(list, func(a, b SuiteTest) int { return strings.Compare(a.Name, b.Name) })
	return list
}

// Text is the content of one of a suite's files.
func Text(t testing.TB, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%s: %v", path.Base(file), err)
	}
	return b
}
