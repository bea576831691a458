package demo_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"golang.org/x/text/encoding/charmap"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
	"ropewalk/service/demo"
	"ropewalk/vocab"
)

// made is everything the demo makes: JSON-LD by IRI below the base, and what was
// found wrong on the way.
type made struct {
	docs     map[string][]byte
	classes  map[string]int // by endpoint
	problems []mapping.RecordProblem
	report   *source.Report
}

// checking encodes documents as JSON-LD and tells of everything invalid in them.
type checking struct {
	enc     *render.Encoder
	checker *validate.Checker
}

func (e *checking) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	for _, p := range append(e.checker.CheckAt(d, m.Endpoint), validate.Domain(d)...) {
		tell(mapping.RecordProblem{Rule: mapping.ProblemRule(p.Rule), IRI: strings.Clone(d.IRI()), Message: p.Path + ": " + p.Message})
	}
	out, err := e.enc.Append(dst, d)
	if err != nil {
		tell(mapping.RecordProblem{Rule: "not-written", IRI: strings.Clone(d.IRI()), Message: err.Error()})
	}
	return out
}

func load(t *testing.T, fsys fs.FS) *site.Site {
	t.Helper()
	s, ds := site.Load(fsys)
	for _, d := range ds {
		t.Errorf("%s:%d:%d: %s: %s", d.File, d.Line, d.Col, d.Rule, d.Message)
	}
	if t.Failed() {
		t.FailNow()
	}
	return s
}

// makeAll makes every document, once for all tests.
func makeAll(t *testing.T) *made {
	t.Helper()
	m, err := all()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

var all = sync.OnceValues(func() (*made, error) {
	s, ds := site.Load(demo.FS())
	if s.Program == nil {
		return nil, fmt.Errorf("the demo does not compile: %w", ds)
	}
	out := &made{docs: map[string][]byte{}, classes: map[string]int{}, report: &source.Report{}}
	checker := validate.NewChecker()
	_, err := line.Run(context.Background(), s.Program, line.Options{
		Workers: 2, Report: out.report, References: true,
		NewEncoder: func() line.Encoder {
			return &checking{render.NewEncoder(render.FormatByName("jsonld"), render.Options{}), checker}
		},
		Problem: func(p mapping.RecordProblem) { out.problems = append(out.problems, p) },
	}, func(it *line.Item) error {
		out.docs[strings.TrimPrefix(it.IRI, s.Base)] = bytes.Clone(it.Data)
		out.classes[it.Endpoint.Name]++
		return nil
	})
	return out, err
})

// The first thing a newcomer sees is a check with nothing to complain of.
func TestClean(t *testing.T) {
	load(t, demo.FS())
	m := makeAll(t)
	for _, p := range m.problems {
		t.Errorf("%s <%s>: %s %q", p.Rule, p.IRI, p.Message, p.Value)
	}
	least := map[string]int{"object": 60, "person": 18, "group": 18, "place": 12, "concept": 80, "set": 4, "text": 10,
		"visual": 20, "digital": 20, "event": 5, "provenance": 20}
	for _, e := range vocab.Endpoints() {
		if n, ok := least[e.Name]; ok && m.classes[e.Name] < n {
			t.Errorf("%d documents at the endpoint %s, at least %d expected", m.classes[e.Name], e.Name, n)
		}
	}
}

// The exports are as untidy as real ones, and the repairs are counted.
func TestUntidy(t *testing.T) {
	m := makeAll(t)
	for _, k := range []source.Kind{source.Space, source.NotNFC, source.Entity, source.Tag, source.EmptyRow} {
		if m.report.Count(k) == 0 {
			t.Errorf("nothing of the kind %s in the exports", k)
		}
	}
	encodings := map[string]bool{}
	for _, f := range m.report.Files() {
		encodings[f.Encoding] = true
	}
	if !encodings["windows-1252"] || !encodings["utf-8"] {
		t.Errorf("encodings of the exports: %v", slices.Sorted(maps.Keys(encodings)))
	}
}

// Everything a museum needs to say is said somewhere in the demo.
func TestSaysEverything(t *testing.T) {
	m := makeAll(t)
	paths := map[string]bool{}
	for name, data := range m.docs {
		var doc any
		if err := json.Unmarshal(data, &doc); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		kind, _, _ := strings.Cut(name, "/")
		gather(kind, doc, paths)
	}
	for _, want := range []string{
		"object identified_by Name language", "object identified_by Identifier assigned_by AttributeAssignment carried_out_by Group",
		"object identified_by Identifier assigned_by AttributeAssignment used_specific_object HumanMadeObject",
		"object classified_as Type classified_as Type", "object made_of Material", "object dimension Dimension",
		"object produced_by Production timespan TimeSpan", "object produced_by Production took_place_at Place",
		"object produced_by Production caused_by Activity", "object produced_by Production part Production carried_out_by Person",
		"object produced_by Production part Production carried_out_by Group", "object produced_by Production part Production technique Type",
		"object attributed_by AttributeAssignment assigned Production carried_out_by Person",
		"object referred_to_by LinguisticObject language Language", "object current_owner Group", "object current_custodian Group",
		"object current_permanent_custodian Group", "object current_location Place", "object member_of Set", "object part_of HumanMadeObject",
		"object representation VisualItem digitally_shown_by DigitalObject access_point DigitalObject",
		"object subject_of LinguisticObject digitally_carried_by DigitalObject access_point DigitalObject", "object equivalent HumanMadeObject",
		"object changed_ownership_through Acquisition transferred_title_from Person", "object changed_ownership_through Acquisition part_of Activity",
		"object destroyed_by Destruction caused_by Event", "object modified_by Modification classified_as Type", "object used_for Activity part_of Activity", "object carries LinguisticObject", "object shows VisualItem",
		"person born Birth timespan TimeSpan", "person died Death", "group formed_by Formation influenced_by Person",
		"place defined_by", "place part_of Place", "set member_of Set", "text content", "text about HumanMadeObject", "text created_by Creation carried_out_by Person",
		"text used_for Activity carried_out_by Group", "text used_for Activity classified_as Type", "text part_of LinguisticObject", "visual subject_to Right classified_as Type",
		"visual represents HumanMadeObject", "digital conforms_to InformationObject", "digital digitally_available_via DigitalService",
		"provenance part Payment paid_amount MonetaryAmount currency Currency", "provenance part Payment paid_from Person",
		"provenance part Acquisition transferred_title_of HumanMadeObject", "provenance part TransferOfCustody transferred_custody_to Group",
		"provenance part Activity", "provenance caused_by Event", "event took_place_at Place", "event during Period", "event used_specific_object HumanMadeObject",
	} {
		if !paths[want] {
			t.Errorf("nothing in the demo says: %s", want)
		}
	}
	model := m.docs["digital/I007"]
	if !bytes.Contains(model, []byte(`"model/gltf-binary"`)) || !bytes.Contains(m.docs["visual/I007"], []byte("creativecommons.org/licenses/by/4.0/")) {
		t.Error("the scan in three dimensions has lost its format or its licence")
	}
}

// gather notes every chain of keys and classes that begins at the root.
func gather(at string, v any, paths map[string]bool) {
	switch x := v.(type) {
	case map[string]any:
		if c, ok := x["type"].(string); ok && strings.Contains(at, " ") {
			at += " " + c
			paths[at] = true
		}
		for k, y := range x {
			paths[at+" "+k] = true
			gather(at+" "+k, y, paths)
		}
	case []any:
		for _, y := range x {
			gather(at, y, paths)
		}
	}
}

// A hazard is never given without the word of caution.
func TestHazards(t *testing.T) {
	m := makeAll(t)
	n := 0
	for _, row := range table(t, "data/objects.csv", ',') {
		if row["Hazard"] == "" || row["Web status"] != "public" {
			continue
		}
		n++
		doc := string(m.docs["object/"+row["Accession No"]])
		words := []string{row["Hazard"], "codes that apply", "specialist licensed"}
		if strings.HasPrefix(row["Hazard"], "mercury") || row["Hazard"] == "radium" {
			words = append(words, "such material. On record: "+row["Hazard"]+".") // a caution of the library
		}
		for _, word := range words {
			if !strings.Contains(doc, word) {
				t.Errorf("%s: the caution does not say %q", row["Accession No"], word)
			}
		}
	}
	if n < 10 {
		t.Errorf("%d objects with a hazard", n)
	}
}

// withheld are the columns that no document may show, by file.
var withheld = map[string][]string{
	"data/objects.csv":      {"Valuation", "Store location", "Staff notes"},
	"data/makers.csv":       {"Private address", "Staff notes"},
	"data/acquisitions.csv": {"Donor address"},
}

func TestWithheld(t *testing.T) {
	m := makeAll(t)
	everything := bytes.Join(slices.Collect(maps.Values(m.docs)), nil)
	cells := 0
	for file, columns := range withheld {
		delim := ','
		if file == "data/acquisitions.csv" {
			delim = ';'
		}
		for _, row := range table(t, file, delim) {
			for _, c := range columns {
				if v := row[c]; v != "" {
					cells++
					quoted, _ := json.Marshal(v)
					if bytes.Contains(everything, quoted[1:len(quoted)-1]) {
						t.Errorf("%s, column %q: %q is published", file, c, v)
					}
				}
			}
		}
	}
	if cells < 60 {
		t.Errorf("only %d withheld cells were looked for", cells)
	}
	for _, key := range []string{"duplicate record", "1934.99", "1990.5"} {
		if bytes.Contains(everything, []byte(key)) {
			t.Errorf("%q is published", key)
		}
	}
}

// A mapping that reads a withheld column does not compile, not even through a
// look-up.
func TestWithheldIsRefused(t *testing.T) {
	for _, hole := range []string{"{Valuation}", "{acq.Donor address}", "{owner.Private address}", "{slug({Staff notes})}"} {
		m := copyFS(t)
		m["mapping/zz.yaml"] = &fstest.MapFile{Data: []byte("make: HumanMadeObject\nfrom: objects\nid: object/second/{Accession No}\nlabel: \"" + hole + "\"\n")}
		s, ds := site.Load(m)
		found := slices.ContainsFunc(ds, func(d *mapping.Diagnostic) bool {
			return d.Rule == "withheld-column" && d.File == "mapping/zz.yaml"
		})
		if !found || s.Program != nil {
			t.Errorf("%s is not refused: %v", hole, ds)
		}
	}
}

// Of people who are alive there are no dates.
func TestLiving(t *testing.T) {
	m := makeAll(t)
	n := 0
	for _, row := range table(t, "data/makers.csv", ',') {
		if row["Living"] == "yes" {
			n++
			doc := m.docs["person/"+row["ID"]]
			if len(doc) == 0 || bytes.Contains(doc, []byte("timespan")) || bytes.Contains(doc, []byte(row["Born"])) {
				t.Errorf("%s: %s", row["Name"], doc)
			}
		}
	}
	if n == 0 {
		t.Error("nobody in the names file is alive")
	}
}

// An IRI of a term list is either known to be right or marked as from memory.
func TestTermsSaySources(t *testing.T) {
	known := labels(t)
	n := 0
	files, err := fs.Glob(demo.FS(), "terms/*.csv")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d term lists: %v", len(files), err)
	}
	for _, f := range files {
		for _, row := range table(t, f, ',') {
			num, ok := strings.CutPrefix(row["iri"], "http://vocab.getty.edu/aat/")
			if !ok {
				if row["iri"] != "" && f != "terms/licences.csv" {
					t.Errorf("%s: %q has an IRI of an unknown kind", f, row["word"])
				}
				continue
			}
			n++
			a, table := vocab.AuthorityByIRI(row["iri"])
			sure := table && !a.FromMemory || known["aat:"+num]
			if memory := strings.HasPrefix(row["source"], "from memory"); !sure && !memory {
				t.Errorf("%s: %q: nothing proves <%s>, and its source is %q", f, row["word"], row["iri"], row["source"])
			} else if sure && memory {
				t.Errorf("%s: %q: <%s> is known to be right", f, row["word"], row["iri"])
			}
		}
	}
	if n < 60 {
		t.Errorf("%d IRIs of the authority", n)
	}
}

// labels are the terms of the profile's published label table, which lies outside
// the project.
func labels(t *testing.T) map[string]bool {
	t.Helper()
	dir := os.Getenv("ROPEWALK_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	data, err := os.ReadFile(filepath.Join(dir, "standards", "linked-art", "vocab", "aat_labels.json"))
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skipf("SKIPPED: the published label table is not here: %v", err)
	}
	var m map[string]string
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	if len(m) < 1500 {
		t.Fatalf("the label table has only %d terms", len(m))
	}
	out := map[string]bool{}
	for k := range m {
		out[k] = true
	}
	return out
}

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "museum")
	if err := demo.Write(dir); err != nil {
		t.Fatal(err)
	}
	n := 0
	err := fs.WalkDir(demo.FS(), ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		n++
		want, _ := fs.ReadFile(demo.FS(), p)
		got, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(p)))
		if !bytes.Equal(want, got) {
			t.Errorf("%s was not written as it is", p)
		}
		return err
	})
	if err != nil || n < 30 {
		t.Fatalf("%d files: %v", n, err)
	}
	load(t, os.DirFS(dir))
	if err := demo.Write(dir); err == nil {
		t.Error("a folder with files in it was written to")
	}
	if err := demo.Write(filepath.Join(dir, "ropewalk.yaml")); err == nil {
		t.Error("a file was taken for a folder")
	}
}

// table reads one of the demo's tables with nothing but the standard library.
func table(t *testing.T, name string, delim rune) []map[string]string {
	t.Helper()
	data, err := fs.ReadFile(demo.FS(), name)
	if err != nil {
		t.Fatal(err)
	}
	if delim == ';' {
		if data, err = charmap.Windows1252.NewDecoder().Bytes(data); err != nil {
			t.Fatal(err)
		}
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))))
	r.Comma = delim
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows: %v", name, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, c := range row {
			m[rows[0][i]] = strings.TrimSpace(c)
		}
		out = append(out, m)
	}
	return out
}

func copyFS(t *testing.T) fstest.MapFS {
	t.Helper()
	m := fstest.MapFS{}
	err := fs.WalkDir(demo.FS(), ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(demo.FS(), p)
		m[p] = &fstest.MapFile{Data: data}
		return err
	})
	if err != nil {
		t.Fatal(errors.Join(errors.New("copying the demo"), err))
	}
	return m
}
