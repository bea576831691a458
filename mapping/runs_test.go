package mapping_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
)

var update = flag.Bool("update", false, "write what the tests get where they expect something else")

const testBase = "https://a.example/"

// What a mapping makes of records, case by case: each file of testdata/runs holds a
// small site, and in want.txt the documents and problems that come of it. Every
// document is valid.
func TestRuns(t *testing.T) {
	eachCase(t, "testdata/runs", 40, func(t *testing.T, f string, a *txtar.Archive) {
		fsys := fstest.MapFS{}
		at := -1
		for i, x := range a.Files {
			if x.Name == "want.txt" {
				at = i
				continue
			}
			fsys[x.Name] = &fstest.MapFile{Data: x.Data}
		}
		got := runSite(t, fsys)
		if at < 0 && !*update {
			t.Fatal("it has no want.txt; -update writes it")
		}
		if at >= 0 && string(a.Files[at].Data) == got {
			return
		}
		if !*update {
			t.Errorf("-want +got (-update accepts it):\n%s", cmp.Diff(strings.Split(string(a.Files[at].Data), "\n"), strings.Split(got, "\n")))
			return
		}
		if at < 0 {
			at = len(a.Files)
			a.Files = append(a.Files, txtar.File{Name: "want.txt"})
		}
		a.Files[at].Data = []byte(got)
		if err := os.WriteFile(f, txtar.Format(a), 0o644); err != nil {
			t.Fatal(err)
		}
	})
}

// eachCase runs a test for each file of a folder, which holds so many at least, each
// with a word on what it is for.
func eachCase(t *testing.T, folder string, least int, test func(t *testing.T, file string, a *txtar.Archive)) {
	t.Helper()
	files, err := filepath.Glob(folder + "/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < least {
		t.Errorf("%s: %d cases, at least %d expected", folder, len(files), least)
	}
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".txtar"), func(t *testing.T) {
			t.Parallel()
			a, err := txtar.ParseFile(f)
			if err != nil {
				t.Fatal(err)
			}
			if len(bytes.TrimSpace(a.Comment)) == 0 {
				t.Error("the case does not say what it is for")
			}
			test(t, f, a)
		})
	}
}

// runSite gives all documents of a site without their context and the base in
// front of IRIs, and below them all problems.
func runSite(t testing.TB, fsys fstest.MapFS) string {
	t.Helper()
	complete(fsys)
	var b strings.Builder
	s, ds := site.Load(fsys)
	for _, d := range ds {
		if d.Rule != "unused-column" {
			fmt.Fprintf(&b, "! %s:%d:%d %s: %s\n", d.File, d.Line, d.Col, d.Rule, d.Message)
		}
	}
	if s.Program == nil {
		return b.String()
	}
	docs, problems, err := makeAll(s.Program, 2, 0)
	for _, d := range docs {
		b.WriteString(plain(d.json))
		if d.keys != "" {
			fmt.Fprintf(&b, "  keys: %q\n", d.keys)
		}
		if len(d.sets) > 0 {
			fmt.Fprintf(&b, "  sets: %s\n", strings.Join(d.sets, " "))
		}
	}
	for _, p := range problems {
		b.WriteString("! " + problemLine(p) + "\n")
	}
	if err != nil {
		fmt.Fprintf(&b, "! %v\n", err)
	}
	return b.String()
}

// complete puts in what a case leaves out: a site file with the one source "things"
// of things.csv.
func complete(fsys fstest.MapFS) {
	if fsys[site.FileName] == nil {
		fsys[site.FileName] = &fstest.MapFile{Data: []byte("title: T\nbase: " + testBase + "\nsources:\n  things: { files: things.csv }\n")}
	}
	if m := fsys["mapping.yaml"]; m != nil {
		fsys["mapping/mapping.yaml"] = m
		delete(fsys, "mapping.yaml")
	}
}

// plain is a document without what all documents have.
func plain(d string) string {
	d = strings.Replace(d, `"@context":"https://linked.art/ns/v1/linked-art.json",`, "", 1)
	return strings.ReplaceAll(d, `"`+testBase, `"`)
}

func problemLine(p mapping.RecordProblem) string {
	var b strings.Builder
	b.WriteString(string(p.Rule))
	for i, pl := range p.Places {
		if i > 0 {
			b.WriteString(" and")
		}
		fmt.Fprintf(&b, " %s:%d", pl.File, pl.Row)
		if pl.Column != "" {
			fmt.Fprintf(&b, " %s", pl.Column)
		}
	}
	if p.Value != "" {
		fmt.Fprintf(&b, " = %q", strings.TrimPrefix(p.Value, testBase))
	}
	fmt.Fprintf(&b, ": %s", p.Message)
	if len(p.Nearest) > 0 {
		fmt.Fprintf(&b, " (near: %s)", strings.Join(p.Nearest, ", "))
	}
	if p.Span.Line > 0 {
		fmt.Fprintf(&b, " [line %d]", p.Span.Line)
	}
	return b.String()
}

// checking writes documents as JSON-LD and tells of everything invalid in them.
type checking struct {
	enc     *render.Encoder
	checker *validate.Checker
}

func (e *checking) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	for _, p := range append(e.checker.CheckAt(d, m.Endpoint), validate.Domain(d)...) {
		tell(mapping.RecordProblem{Rule: mapping.ProblemRule("INVALID-" + p.Rule), IRI: strings.Clone(d.IRI()), Message: p.Path + ": " + p.Message})
	}
	out, err := e.enc.Append(dst, d)
	if err != nil {
		tell(mapping.RecordProblem{Rule: "NOT-WRITTEN", IRI: strings.Clone(d.IRI()), Message: err.Error()})
	}
	return out
}

type made struct {
	json string
	keys string
	sets []string
}

// makeAll makes every document of a program, as JSON-LD.
func makeAll(p *mapping.Program, workers, rows int) (docs []made, problems []mapping.RecordProblem, err error) {
	checker := validate.NewChecker()
	_, err = line.Run(context.Background(), p, line.Options{Workers: workers, Rows: rows, Report: &source.Report{}, References: true, Describe: true,
		NewEncoder: func() line.Encoder {
			return &checking{render.NewEncoder(render.FormatByName("jsonld"), render.Options{}), checker}
		},
		Problem: func(r mapping.RecordProblem) { problems = append(problems, r) },
	}, func(it *line.Item) error {
		docs = append(docs, made{string(it.Data), it.Keys, slices.Clone(it.Sets)})
		return nil
	})
	return docs, problems, err
}
