package source

import (
	"errors"
	"strings"
	"testing"
)

func TestFiles(t *testing.T) {
	fsys := files("a.csv", "x", "b.CSV", "x", "in/c.csv", "x", "in/deep/d.csv", "x", "in/deep/e.tsv", "x", "in/.hidden.csv", "x", "in/~$d.xlsx", "x",
		"in/.git/f.csv", "x", "in/read.me", "x", "with space/LSH - x.csv", "x", "[odd].csv", "x", "z.json", "{}", "gz/g.csv.gz", "x", "in/z.json", "{}")
	tests := []struct {
		files, format string
		want          string // names joined by spaces, or "! " and the error
	}{
		{"a.csv", "", "a.csv"},
		{"./a.csv", "", "a.csv"},
		{"a.csv b.CSV a.csv", "", "a.csv b.CSV"},
		{"b.CSV a.csv", "", "a.csv b.CSV"},
		{"*.csv", "", "[odd].csv a.csv"},
		{"[odd].csv", "", "[odd].csv"},
		{"in", "csv", "in/c.csv in/deep/d.csv in/deep/e.tsv"},
		{"in/**/*.csv", "", "in/c.csv in/deep/d.csv"},
		{"**/d.*", "", "in/deep/d.csv"},
		{"in/*/d.csv", "", "in/deep/d.csv"},
		{"gz", "", "gz/g.csv.gz"},
		{"in/read.me", "csv", "in/read.me"},
		{"with?space/LSH*.csv", "", "with space/LSH - x.csv"},
		{"nothing.csv", "", `! files "nothing.csv": there is no such file or folder`},
		{"nothing/*.csv", "", `! files "nothing/*.csv": there is no such folder`},
		{"*.xml", "", `! files "*.xml": no file matches`},
		{"in/deep", "xml", `! files "in/deep": the folder holds no file of a format that is read here`},
		{"a.csv z.json", "", `! files "z.json": json files and csv files (a.csv) can't be one source`},
		{"in", "", `! files "in/z.json": json files and csv files (in/c.csv) can't be one source`},
		{"in/read.me", "", `! files "in/read.me": the format can't be told from the file's name; declare it`},
		{"a[.csv", "", `! files "a[.csv": the pattern's part "a[.csv" is not well formed`},
		{"", "", `! files: a source needs files`},
	}
	for _, tt := range tests {
		t.Run(tt.files, func(t *testing.T) {
			list := strings.Fields(tt.files)
			set, err := New(fsys, []Spec{{Name: "t", Files: list, Format: tt.format}})
			var got []string
			if err != nil {
				for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
					got = append(got, "! "+strings.TrimPrefix(e.Error(), "source t, "))
				}
			} else {
				for _, f := range set.Source("t").Files() {
					got = append(got, f.Name)
				}
			}
			if s := strings.Join(got, " "); s != tt.want {
				t.Errorf("got %s, want %s", s, tt.want)
			}
		})
	}
}

func TestMistakesInSpecs(t *testing.T) {
	fsys := files("a.csv", "id,b\n1,2\n", "b.csv", "id,c\n1,2\n")
	on := [][2]string{{"id", "id"}}
	tests := []struct {
		name  string
		specs []Spec
		field string
		want  string
	}{
		{"format", []Spec{{Name: "a", Files: []string{"a.csv"}, Format: "cvs"}}, "format", "must be one of csv, tsv, xlsx, json, jsonl, xml (did you mean csv"},
		{"quote", []Spec{{Name: "a", Files: []string{"a.csv"}, Quote: "no"}}, "quote", "must be one of none"},
		{"html", []Spec{{Name: "a", Files: []string{"a.csv"}, HTML: "drop"}}, "html", "strip, keep"},
		{"encoding", []Spec{{Name: "a", Files: []string{"a.csv"}, Encoding: "utf-9"}}, "encoding", "did you mean utf-8"},
		{"delimiter", []Spec{{Name: "a", Files: []string{"a.csv"}, Delimiter: "||"}}, "delimiter", "one ASCII character"},
		{"delimiter is a quote", []Spec{{Name: "a", Files: []string{"a.csv"}, Delimiter: `"`}}, "delimiter", "one ASCII character"},
		{"name twice", []Spec{{Name: "a", Files: []string{"a.csv"}}, {Name: "a", Files: []string{"b.csv"}}}, "", "two sources have this name"},
		{"no name", []Spec{{Files: []string{"a.csv"}}}, "name", "needs a name"},
		{"unknown source", []Spec{{Name: "a", Files: []string{"a.csv"}, Rows: map[string]Join{"x": {From: "bees", On: on}}}, {Name: "bee", Files: []string{"b.csv"}}},
			"rows.x.from", "no source has this name (did you mean bee"},
		{"no fields", []Spec{{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{"x": {From: "a"}}}}, "lookups.x.on", "must be equal"},
		{"empty field", []Spec{{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{"x": {From: "a", On: [][2]string{{"id", ""}}}}}}, "lookups.x.on", "each pair needs"},
		{"one name for two joins", []Spec{{Name: "a", Files: []string{"a.csv"}, Rows: map[string]Join{"x": {From: "a", On: on}}, Lookups: map[string]Join{"x": {From: "a", On: on}}}},
			"lookups.x", "child rows have this name too"},
		{"look-ups in a ring", []Spec{{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{
			"x": {From: "a", On: [][2]string{{"y.id", "id"}}}, "y": {From: "a", On: [][2]string{{"x.id", "id"}}}}}}, "lookups.x.on", "x → y → x"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := New(fsys, tt.specs)
			var e *SpecError
			if !errors.As(err, &e) || e.Field != tt.field || !strings.Contains(e.Error(), tt.want) {
				t.Errorf("%v (field %q), want %q: %s", err, e.Field, tt.field, tt.want)
			}
		})
	}
}

func TestCheckJoins(t *testing.T) {
	set := mustNew(t, files("a.csv", "id,maker\n1,2\n", "b.csv", "id,c\n1,2\n", "bad.csv", "\""),
		Spec{Name: "a", Files: []string{"a.csv"}, Rows: map[string]Join{"x": {From: "b", On: [][2]string{{"id", "idd"}}}},
			Lookups: map[string]Join{"y": {From: "b", On: [][2]string{{"make", "c"}}}, "ok": {From: "b", On: [][2]string{{"maker", "id"}}}}},
		Spec{Name: "b", Files: []string{"b.csv"}}, Spec{Name: "bad", Files: []string{"bad.csv"}})
	var got []string
	for _, err := range set.Source("a").Check() {
		got = append(got, err.Error())
	}
	same(t, "mistakes", got, []string{
		`source a, rows.x.on "idd": source b has no such field (did you mean id?)`,
		`source a, lookups.y.on "make": source a has no such field (did you mean maker?)`,
	})
	if errs := set.Source("bad").Check(); len(errs) != 1 || !strings.Contains(errs[0].Error(), "bad.csv:1:1") {
		t.Errorf("%v", errs)
	}
}

func TestUnknownFields(t *testing.T) {
	set := mustNew(t, files("a.csv", "id,Date made,maker\n1,2,3\n", "b.csv", "id,name\n1,2\n", "o.json", `{"id":1,"dateRange":{"startYear":1},"by":[{"name":"x"}]}`),
		Spec{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{"who": {From: "b", On: [][2]string{{"maker", "id"}}}}, Rows: map[string]Join{"parts": {From: "b", On: [][2]string{{"id", "id"}}}}},
		Spec{Name: "b", Files: []string{"b.csv"}},
		Spec{Name: "o", Files: []string{"o.json"}, Fields: []string{"rare.field"}})
	tests := []struct {
		source, path string
		rows         bool
		want         string
	}{
		{"a", "Date  made", false, `source a has no "Date  made" (did you mean Date made?)`},
		{"a", "idd", false, `source a has no "idd" (did you mean id?)`},
		{"a", "quite other", false, `source a has no "quite other"`},
		{"a", "who", false, `source a, "who": this is a look-up; name one of its fields (did you mean who.id, who.name?)`},
		{"a", "who.nam", false, `source b has no "nam" (did you mean name?)`},
		{"a", "name", false, `source a has no "name" (did you mean who.name?)`},
		{"a", "parts.name", false, `source a, "parts.name": parts are child rows; a field of theirs has a value for each of them`},
		{"a", "part", true, `source a, "part": no child rows of that name are declared (did you mean parts?)`},
		{"a", "id", true, `source a, "id": a column has one value in each row; split it, or declare child rows`},
		{"o", "startYear", false, `source o has no "startYear" (did you mean dateRange.startYear?)`},
		{"o", "dateRange", false, `source o, "dateRange": this holds other fields, not a value (did you mean dateRange.startYear?)`},
		{"o", "bye", true, `source o has no "bye" (did you mean by?)`},
		{"o", "rare.field", false, ""},
		{"o", "rare", true, ""},
		{"o", "by", true, ""},
	}
	for _, tt := range tests {
		l := set.Source(tt.source).Layout()
		var err error
		if tt.rows {
			_, _, err = l.Rows(tt.path)
		} else {
			_, err = l.Field(tt.path)
		}
		got := ""
		if err != nil {
			got = err.Error()
			var u *UnknownField
			if !errors.As(err, &u) {
				t.Errorf("%s %s: %T", tt.source, tt.path, err)
			}
		}
		if got != tt.want {
			t.Errorf("%s %s:\n got  %s\n want %s", tt.source, tt.path, got, tt.want)
		}
	}
}

func TestUnusedColumns(t *testing.T) {
	set := mustNew(t, joinFiles, joinSpecs()...)
	src := set.Source("objects")
	l := src.Layout()
	slots(t, l, "id", "who.name")
	names := func(s *Source, l ...*Layout) string {
		var out []string
		for _, c := range s.Unused(l...) {
			out = append(out, c.Path)
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct{ source, want string }{{"objects", "place"}, {"makers", "town"}, {"places", "code name"}} {
		if got := names(set.Source(tt.source), l); got != tt.want {
			t.Errorf("unused of %s: %s, want %s", tt.source, got, tt.want)
		}
	}
	if got := names(src); got != "id maker place" {
		t.Errorf("unused without layouts: %s", got)
	}
}

func TestKindsHaveNames(t *testing.T) {
	seen := map[string]bool{}
	for k := Kind(1); k < kindCount; k++ {
		if k.String() == "" || seen[k.String()] {
			t.Errorf("kind %d is called %q", k, k)
		}
		seen[k.String()] = true
	}
	if len(kindNames) != int(kindCount) {
		t.Errorf("%d names for %d kinds", len(kindNames), kindCount)
	}
}
