package collections

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"ropewalk/conformance/outside"
	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/trade"
	"ropewalk/mapping/validate"
)

var update = flag.Bool("update", false, "write the numbers of README.md")

// least is what a site must give at least.
type least struct {
	records, triples int
	documents        map[string]int
}

var leasts = map[string]least{
	"tate": {records: 4500, triples: 350_000, documents: map[string]int{"DigitalObject": 118, "Group": 40, "HumanMadeObject": 670,
		"Material": 20, "Person": 3400, "Place": 1500, "Set": 80, "Type": 1700, "VisualItem": 600}},
	"skokloster": {records: 3700, triples: 120_000, documents: map[string]int{"Activity": 230, "Event": 20, "Group": 35,
		"HumanMadeObject": 500, "Person": 240, "Place": 200, "Type": 600, "VisualItem": 78}},
}

// checking holds every document against what is published, writes it in every
// format, and gathers what does not hold.
type checking struct {
	schemas *outside.Schemas
	each    int // every so many documents go to the published schemas
	checker *validate.Checker

	formats  []*render.Format
	encoders []*render.Encoder
	buf      []byte
	n        int
	asked    *tally
}

// tally is what the workers have in common; they are one here.
type tally struct {
	schema int // documents held against the published schemas
	faults []string
}

func (c *checking) Encode(dst []byte, d *entity.Document, m mapping.Meta, _ func(mapping.RecordProblem)) []byte {
	fault := func(what string, v any) {
		c.asked.faults = append(c.asked.faults, fmt.Sprintf("%s: %s: %v", d.IRI(), what, v))
	}
	for _, p := range c.checker.CheckAt(d, m.Endpoint) {
		if p.Rule != validate.RuleTimeOrder {
			fault("check "+p.Rule, p.Path+": "+p.Message)
		}
	}
	for _, p := range validate.Domain(d) {
		fault("domain and range", p.Path+": "+p.Message)
	}
	for i, f := range c.formats {
		b, err := c.encoders[i].Append(c.buf[:0], d)
		if c.buf = b; err != nil {
			fault(f.Name, err)
		}
		if f.Name != "jsonld" {
			continue
		}
		if c.n++; c.n%c.each == 0 {
			c.asked.schema++
			if err := c.schemas.Validate(path.Base(m.Endpoint.Schema), b); err != nil {
				fault("published schema", err)
			}
		}
	}
	return dst
}

// Triples counts what the last document says.
func (c *checking) Triples() int { return bytes.Count(c.buf, []byte("\n")) }

// result is a run over a site.
type result struct {
	totals   *line.Totals
	records  map[string]int              // by source
	problems map[mapping.ProblemRule]int // those of records
	trade    map[string]int              // findings of the rules of the trade, all rules
	report   *source.Report
	site     *site.Site
}

// run loads a site, walks all its records and hands the documents to enc.
func run(t *testing.T, name string, enc line.Encoder) *result {
	t.Helper()
	fsys, err := Open(name, outside.Shared(t))
	if err != nil {
		t.Fatal(err)
	}
	s, diags := site.Load(fsys)
	for _, d := range diags { // unused columns count, too
		t.Errorf("%s: %v", name, d)
	}
	if s.Program == nil {
		t.FailNow()
	}
	r := &result{problems: map[mapping.ProblemRule]int{}, trade: map[string]int{}, records: map[string]int{}, report: &source.Report{}, site: s}
	r.totals, err = line.Run(t.Context(), s.Program, line.Options{Workers: 1, Report: r.report, References: true,
		Trade: true, Now: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), // who may be living depends on it
		NewEncoder: func() line.Encoder { return enc },
		Problem: func(p mapping.RecordProblem) {
			if n := string(p.Rule); slices.Contains(trade.Names(), n) {
				r.trade[n]++
				if len(p.Sides) == 0 || p.Sides[0].IRI == "" || len(p.Places) == 0 {
					t.Errorf("%s: %s does not say which cells: %+v", name, n, p)
				}
				return
			}
			r.problems[p.Rule]++
		},
	}, func(*line.Item) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range trade.Names() {
		r.trade[n] += 0
	}
	for _, n := range s.Sources.Names() {
		r.records[n] = max(r.totals.Records[n], r.report.Records(n))
	}
	return r
}

// TestCollections reads every record of both datasets. Every document keeps to
// domains and ranges and can be written in every format; every tenth of them, or
// all in a long run, are valid against the published schemas.
func TestCollections(t *testing.T) {
	schemas := outside.PublishedSchemas(t)
	each := 10
	if outside.Long() {
		each = 1
	}
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			c := &checking{schemas: schemas, each: each, checker: validate.NewChecker(), asked: &tally{}}
			for _, f := range render.Formats() {
				if f.Name != "nt" {
					c.formats = append(c.formats, f)
				}
			}
			c.formats = append(c.formats, render.FormatByName("nt")) // last: its lines are counted
			for _, f := range c.formats {
				c.encoders = append(c.encoders, render.NewEncoder(f, render.Options{}))
			}
			outside.AtLeast(t, "formats", len(c.formats), 5)
			r := run(t, name, c)

			want, documents := leasts[name], 0
			records := 0
			for _, n := range r.records {
				records += n
			}
			outside.AtLeast(t, "records", records, want.records)
			outside.AtLeast(t, "triples", r.totals.Triples, want.triples)
			for class, n := range want.documents {
				outside.AtLeast(t, class, r.totals.Documents[class], n)
			}
			for class, n := range r.totals.Documents {
				documents += n
				if want.documents[class] == 0 {
					t.Errorf("%d documents of class %s, of which none was expected", n, class)
				}
			}
			outside.AtLeast(t, "documents held against the published schemas", c.asked.schema, documents/each)
			for i, f := range c.asked.faults {
				if i == 10 {
					t.Errorf("and %d more", len(c.asked.faults)-i)
					break
				}
				t.Error(f)
			}
			if n := r.problems["dangling-reference"]; n > 0 {
				t.Errorf("%d references to documents that nothing makes", n)
			}
			t.Logf("%d records, %d documents, %d of them held against the published schemas, %d triples", records, documents, c.asked.schema, r.totals.Triples)
			if outside.Long() || *update {
				numbers(t, name, r)
			}
		})
	}
}

// numbers compares the table of a site in README.md with a run, or writes it.
func numbers(t *testing.T, name string, r *result) {
	t.Helper()
	var b strings.Builder
	rows := func(head string, m map[string]int) {
		fmt.Fprintf(&b, "| %s | |\n| --- | ---: |\n", head)
		for _, k := range slices.Sorted(maps.Keys(m)) {
			fmt.Fprintf(&b, "| %s | %s |\n", k, thousands(m[k]))
		}
		b.WriteString("\n")
	}
	records := map[string]int{}
	for _, n := range r.site.Sources.Names() {
		if files := r.site.Sources.Source(n).Files(); strings.HasPrefix(files[0].Name, "data/") {
			records[n] = r.records[n]
		}
	}
	problems := map[string]int{}
	for k, n := range r.problems {
		problems[string(k)] = n
	}
	rows("records read", records)
	rows("documents made", r.totals.Documents)
	rows("problems of records", problems)
	rows("findings of the rules of the trade", r.trade)
	fmt.Fprintf(&b, "%s triples. Documents made again, equal to the first: %s.\n", thousands(r.totals.Triples), thousands(r.totals.Merged))

	file := filepath.Join(folder(), "README.md")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	begin, end := "<!-- "+name+": numbers -->\n", "<!-- "+name+": end -->"
	before, rest, ok1 := strings.Cut(string(text), begin)
	was, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		t.Fatalf("README.md has no place for the numbers of %s", name)
	}
	switch {
	case was == b.String():
	case *update:
		if err := os.WriteFile(file, []byte(before+begin+b.String()+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		t.Errorf("the numbers in README.md are not those of this run; write them with\n  go test ./conformance/collections -update\nwas\n%sis\n%s", was, b.String())
	}
}

func thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// TestCommand runs the commands that README.md shows, the data linked into a copy
// of each site.
func TestCommand(t *testing.T) {
	if !outside.Long() {
		t.Skip("a long run checks the commands")
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "ropewalk")
	build := exec.Command("go", "build", "-o", program, "ropewalk/cmd/ropewalk")
	build.Dir = folder()
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, name := range Names() {
		copied := filepath.Join(dir, name)
		if err := os.CopyFS(copied, os.DirFS(filepath.Join(folder(), name))); err != nil {
			t.Fatal(err)
		}
		os.Remove(filepath.Join(copied, "data")) // a developer's own link
		if err := os.Symlink(outside.Shared(t, "data", name), filepath.Join(copied, "data")); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		check := exec.Command(program, "check", copied)
		check.Stdout, check.Stderr = &out, &out
		err := check.Run()
		if code := check.ProcessState.ExitCode(); code != 1 || !strings.Contains(out.String(), "Documents made") {
			t.Errorf("%s: exit %d, %v\n%s", name, code, err, out.String())
		}
		for _, f := range render.Formats() {
			file := filepath.Join(dir, name+"."+f.Name+".gz")
			export := exec.Command(program, "export", copied, "--format", f.Name, "--out", file)
			out, _ := export.CombinedOutput()
			if code := export.ProcessState.ExitCode(); code != 1 { // written, and the records have problems
				t.Errorf("%s as %s: exit %d\n%s", name, f.Name, code, out)
			} else if info, err := os.Stat(file); err != nil || info.Size() < 100_000 {
				t.Errorf("%s as %s: %v, %v", name, f.Name, info, err)
			}
		}
	}
}

func TestOverlay(t *testing.T) {
	o := &overlay{
		base:    fstest.MapFS{"a.txt": {Data: []byte("a")}, "m/b.txt": {Data: []byte("b")}, "data/hidden": {Data: []byte("h")}, "z.txt": {Data: []byte("z")}},
		at:      "data",
		mounted: fstest.MapFS{"x y.csv": {Data: []byte("x")}, "deep/er/f.json": {Data: []byte("{}")}},
	}
	if err := fstest.TestFS(o, "a.txt", "m/b.txt", "z.txt", "data/x y.csv", "data/deep/er/f.json"); err != nil {
		t.Error(err)
	}
	if _, err := o.Open("data/hidden"); err == nil || !strings.Contains(err.Error(), "data/hidden") {
		t.Errorf("a file below the mounted folder: %v", err)
	}
	for _, g := range []struct{ pattern, want string }{
		{"data/*.csv", "data/x y.csv"}, {"*.txt", "a.txt z.txt"}, {"*/*.txt", "m/b.txt"}, {"data/deep/*/*.json", "data/deep/er/f.json"}, {"d*", "data"},
	} {
		got, err := fs.Glob(o, g.pattern)
		if err != nil || strings.Join(got, " ") != g.want {
			t.Errorf("%s: %v, %v", g.pattern, got, err)
		}
	}
}

func TestOpen(t *testing.T) {
	if _, err := Open("nowhere", "."); err == nil || !strings.Contains(err.Error(), "skokloster and tate") {
		t.Error(err)
	}
	if _, err := Open("tate", t.TempDir()); err == nil {
		t.Error("a site without its data was opened")
	}
	for _, name := range Names() {
		fsys, err := Open(name, outside.Shared(t))
		if err != nil {
			t.Fatal(err)
		}
		list, err := fs.ReadDir(fsys, ".")
		if err != nil || !slices.ContainsFunc(list, func(e fs.DirEntry) bool { return e.Name() == "data" && e.IsDir() }) {
			t.Errorf("%s: %v, %v", name, list, err)
		}
	}
}
