package mapping

import (
	"fmt"
	"testing"
	"testing/fstest"

	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
)

// joinedSources are nested works with makers by number, in JSON and in XML, and
// tables that belong to them.
func joinedSources(t *testing.T) *source.Set {
	t.Helper()
	set, err := source.New(fstest.MapFS{
		"w.json": {Data: []byte(`{"id":"1","who":[{"n":"7"}],"note":{"open":"a","shut":"b"}}`)},
		"w.xml":  {Data: []byte(`<r><o><id>1</id><note kind="k">a <shut>b</shut></note></o></r>`)},
		"p.csv":  {Data: []byte("n,name,secret,place\n7,x,y,z\n")},
		"c.csv":  {Data: []byte("work,n,day,secret\n1,7,-1868,y\n")},
		"q.csv":  {Data: []byte("place,secret\nz,y\n")},
	}, []source.Spec{
		{Name: "works", Files: []string{"w.json"},
			Lookups: map[string]source.Join{"maker": {From: "people", On: [][2]string{{"who.n", "n"}}}},
			Rows:    map[string]source.Join{"cards": {From: "cards", On: [][2]string{{"id", "work"}}}}},
		{Name: "pages", Files: []string{"w.xml"}, Records: "r.o"},
		{Name: "people", Files: []string{"p.csv"}, Lookups: map[string]source.Join{"at": {From: "places", On: [][2]string{{"place", "place"}}}}},
		{Name: "cards", Files: []string{"c.csv"}, Lookups: map[string]source.Join{"by": {From: "people", On: [][2]string{{"n", "n"}}}}},
		{Name: "places", Files: []string{"q.csv"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return set
}

func compileOne(t *testing.T, set *source.Set, columns map[string]ColumnUse, from, node string) (*Program, Diagnostics) {
	t.Helper()
	f, err := Parse("t.yaml", []byte("make: Type\nfrom: "+from+"\nid: concept/{id}\nlabel: x{id}\nidentified_by: { type: Name, "+node+" }\n"))
	if err != nil {
		t.Fatal(err)
	}
	return Compile([]*File{f}, Env{Base: "https://a.example/", Sources: set, Columns: columns})
}

// A withheld column is out of reach by every way that leads to it.
func TestWithheldColumns(t *testing.T) {
	set := joinedSources(t)
	columns := map[string]ColumnUse{
		"works": {Withheld: []string{"note.shut"}}, "pages": {Withheld: []string{"note.shut"}},
		"people": {Withheld: []string{"secret"}}, "cards": {Withheld: []string{"secret"}}, "places": {Withheld: []string{"secret"}},
	}
	for _, tt := range []struct {
		from, node string
		withheld   bool
	}{
		{"works", `content: "{note.shut}"`, true},
		{"works", `content: "{note.open}"`, false},
		{"works", `content: "{upper(note.shut)}"`, true},
		{"works", `content: x, when: note.shut == "b"`, true},
		{"works", `each: note, content: "{shut}"`, true},
		{"works", `each: who, content: "{maker.secret}"`, true},
		{"works", `each: who, content: "{maker.at.secret}"`, true},
		{"works", `each: who, content: "{maker.name}"`, false},
		{"works", `each: cards, content: "{secret}"`, true},
		{"works", `each: cards, content: "{by.secret}"`, true},
		{"works", `each: cards, content: "{by.at.secret}"`, true},
		{"works", `each: cards, content: "{by.name}"`, false},
		{"pages", `content: "{note}"`, true},
		{"pages", `content: "{note.@kind}"`, false},
		{"pages", `content: "{.}"`, true},
		{"pages", `each: note, content: "{.}"`, true},
		{"pages", `each: note, content: "{@kind}"`, false},
	} {
		_, ds := compileOne(t, set, columns, tt.from, tt.node)
		var rules []string
		for _, d := range ds {
			if d.Severity != Notice {
				rules = append(rules, d.Rule)
			}
		}
		want := "[]"
		if tt.withheld {
			want = "[withheld-column]"
		}
		if got := fmt.Sprint(rules); got != want {
			t.Errorf("%s: %s: %s, want %s", tt.from, tt.node, got, want)
		}
	}
}

// Child rows of another source are read by that source's habits, or those around.
func TestConventionsOfRows(t *testing.T) {
	c := &compiler{Env: Env{Conventions: map[string]*reading.Conventions{"": {}, "works": {}, "cards": {}}}}
	set := joinedSources(t)
	works := &scope{source: set.Source("works")}
	for _, tt := range []struct {
		sc   *scope
		want string
	}{
		{works, "works"},
		{&scope{parent: works, source: set.Source("cards")}, "cards"},
		{&scope{parent: works, source: set.Source("people")}, "works"},
		{&scope{source: set.Source("people")}, ""},
	} {
		if c.conventionsOf(tt.sc) != c.Conventions[tt.want] {
			t.Errorf("the habits of %s are not those of %q", tt.sc.source.Name, tt.want)
		}
	}
}
