package vocab

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// exampleLabels collects the labels that the published examples give to AAT terms,
// and the classes under which these stand.
func exampleLabels(t *testing.T) map[string]map[string]bool {
	t.Helper()
	labels := map[string]map[string]bool{}
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			id, _ := v["id"].(string)
			if n, ok := strings.CutPrefix(id, "http://vocab.getty.edu/aat/"); ok {
				label, _ := v["_label"].(string)
				class, _ := v["type"].(string)
				if labels["aat:"+n] == nil {
					labels["aat:"+n] = map[string]bool{}
				}
				labels["aat:"+n][label+"\t"+class] = true
			}
			for _, x := range v {
				walk(x)
			}
		}
	}
	err := filepath.WalkDir(published(t, "linked-art", "examples"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".json" {
			return err
		}
		data, err := os.ReadFile(path)
		if err == nil {
			walk(decodeJSON(t, data))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(labels) < 130 {
		t.Fatalf("only %d AAT terms in the examples", len(labels))
	}
	return labels
}

// TestAuthorityLabels checks each term against the profile's table of AAT labels
// and its examples; what neither has must be marked as from memory.
func TestAuthorityLabels(t *testing.T) {
	data, err := os.ReadFile(published(t, "linked-art", "vocab", "aat_labels.json"))
	if err != nil {
		t.Fatal(err)
	}
	table := map[string]string{}
	if err := json.Unmarshal(data, &table); err != nil {
		t.Fatal(err)
	}
	if len(table) < 1500 {
		t.Fatalf("only %d AAT labels", len(table))
	}
	examples := exampleLabels(t)
	verified, memory := 0, 0
	for _, a := range Authorities() {
		term, inTable := table[a.CURIE]
		seen, inExamples := examples[a.CURIE]
		if a.FromMemory {
			memory++
			if inTable || inExamples {
				t.Errorf("%s %q is marked as from memory, but published: %q %v", a.CURIE, a.Label, term, seen)
			}
			continue
		}
		verified++
		bare := term // without its last qualifier: "glass (material)"
		if i := strings.LastIndex(term, " ("); i >= 0 {
			bare = term[:i]
		}
		if a.Label == term || a.Label == bare || seen[a.Label+"\t"+a.Class] {
			continue
		}
		t.Errorf("%s %q: the table has %q, the examples %v", a.CURIE, a.Label, term, seen)
	}
	if verified < 200 || memory > verified/4 {
		t.Errorf("%d terms verified, %d from memory", verified, memory)
	}
}

func TestAuthorities(t *testing.T) {
	seen := map[string]bool{}
	for _, a := range Authorities() {
		if seen[a.CURIE] {
			t.Errorf("%s stands twice", a.CURIE)
		}
		seen[a.CURIE] = true
		switch c := ClassByKey(a.Class); {
		case c == nil:
			t.Errorf("%s: no class %q", a.CURIE, a.Class)
		case !IsA(c.IRI, crmNS+"E55_Type"):
			t.Errorf("%s: %s is not a type", a.CURIE, a.Class)
		}
		if got, ok := AuthorityByIRI(a.IRI); !ok || got.CURIE != a.CURIE {
			t.Errorf("%s is not found by %s", a.CURIE, a.IRI)
		}
		if a.Code != "" {
			if got, ok := AuthorityByCode(a.Class, a.Code); !ok || got.CURIE != a.CURIE {
				t.Errorf("%s: its code %s is another's, too", a.CURIE, a.Code)
			}
		}
		if (a.Class == "Language" || a.Class == "Currency") && a.Code == "" {
			t.Errorf("%s has no code", a.CURIE)
		}
	}
	a, ok := AuthorityByCURIE("aat:300404670")
	if !ok || a.IRI != "http://vocab.getty.edu/aat/300404670" || a.Label != "Primary Name" {
		t.Errorf("aat:300404670 is %+v", a)
	}
	if _, ok := AuthorityByCode("Language", "xx"); ok {
		t.Error("an unknown language was found")
	}
}

func TestExpand(t *testing.T) {
	for _, tt := range []struct{ curie, want string }{
		{"aat:300404670", "http://vocab.getty.edu/aat/300404670"},
		{"ulan:500000000", "http://vocab.getty.edu/ulan/500000000"},
		{"tgn:7000000", "http://vocab.getty.edu/tgn/7000000"},
		{"wd:Q4916", "http://www.wikidata.org/entity/Q4916"},
		{"gnd:4069615-7", "https://d-nb.info/gnd/4069615-7"},
		{"crm:E55_Type", crmNS + "E55_Type"},
		{"la:Set", laNS + "Set"},
		{"aat:", ""},
		{"aat:30040x", ""},
		{"aat:300 404", ""},
		{"wd:4916", ""},
		{"wd:Q", ""},
		{"http://example.org/x", ""},
		{"crm://x", ""},
		{"nonsense:1", ""},
		{"aat", ""},
		{"gnd:a<b", ""},
		{"", ""},
	} {
		got, ok := Expand(tt.curie)
		if got != tt.want || ok != (tt.want != "") {
			t.Errorf("Expand(%q) = %q, %v", tt.curie, got, ok)
		}
	}
}
