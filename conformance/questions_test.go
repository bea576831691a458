package conformance

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/render"
	"ropewalk/service/demo"
)

const (
	questionsBegin = "<!-- answers -->\n"
	questionsEnd   = "<!-- end of answers -->\n"
)

// TestVisitorsQuestions asks the demo's exported triples what a visitor asks, through an
// independent SPARQL engine (Oxigraph), and holds its answers against those in the
// README. The questions and their queries are in questions/.
func TestVisitorsQuestions(t *testing.T) {
	node := outside.Node(t)
	file := filepath.Join(t.TempDir(), "demo.nt")
	e := render.NewEncoder(render.FormatByName("nt"), render.Options{})
	text := e.Header(nil)
	err := siteDocuments(demo.FS(), func(d siteDocument) error {
		var err error
		text, err = e.Append(text, d.doc)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, e.Footer(text), 0o666); err != nil {
		t.Fatal(err)
	}
	queries, err := filepath.Glob("questions/*.rq")
	if err != nil || len(queries) < 8 {
		t.Fatal(queries, err)
	}
	cmd := exec.Command(node, append([]string{"questions/ask.mjs", file}, queries...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	answers := json.NewDecoder(strings.NewReader(string(out)))
	var b strings.Builder
	for _, name := range queries {
		query, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		question, _, _ := strings.Cut(strings.TrimPrefix(string(query), "# "), "\n")
		var a struct {
			Vars []string
			Rows [][]string
		}
		if err := answers.Decode(&a); err != nil {
			t.Fatal(err)
		}
		if len(a.Rows) == 0 {
			t.Errorf("%s: no answer", name)
		}
		fmt.Fprintf(&b, "**%s** ([query](conformance/%s))\n\n", question, filepath.ToSlash(name))
		row := func(cells []string) { b.WriteString("| " + strings.Join(cells, " | ") + " |\n") }
		for i, v := range a.Vars {
			a.Vars[i] = strings.ReplaceAll(v, "_", " ")
		}
		row(a.Vars)
		b.WriteString(strings.Repeat("| --- ", len(a.Vars)) + "|\n")
		for _, r := range a.Rows {
			row(r)
		}
		b.WriteString("\n")
	}
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(readme), questionsBegin)
	got, _, end := strings.Cut(rest, questionsEnd)
	if !ok || !end {
		t.Fatal("README.md has no place for the answers")
	}
	if strings.TrimSpace(got) != strings.TrimSpace(b.String()) {
		t.Errorf("README.md does not have the answers that the data give:\n%s", b.String())
	}
}
