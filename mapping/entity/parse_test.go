package entity_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
)

func jsonOf(t rapid.TB, d *entity.Document, o render.Options) []byte {
	t.Helper()
	b, err := render.NewEncoder(render.FormatByName("jsonld"), o).Append(nil, d)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestParseWritesTheSame: reading a document back and writing it again changes no
// byte, and no IRI of a node, whether the JSON stands in one line or many.
func TestParseWritesTheSame(t *testing.T) {
	again := new(entity.Document)
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		if err := d.Err(); err != nil {
			t.Fatalf("the generator made a document that cannot be written: %v", err)
		}
		body, keys := jsonOf(t, d, render.Options{}), entity.Keys(d)
		for _, text := range [][]byte{bytes.Clone(body), jsonOf(t, d, render.Options{Indent: true})} {
			if !json.Valid(text) {
				t.Fatalf("not JSON: %s", text)
			}
			if err := again.Parse(text, keys); err != nil {
				t.Fatalf("%v\n%s", err, text)
			}
			clear(text) // the document keeps nothing of it
			if got := jsonOf(t, again, render.Options{}); !bytes.Equal(got, body) {
				t.Fatalf("written again:\n%s\nfirst:\n%s", got, body)
			}
			if diff := cmp.Diff(nodeNames(d), nodeNames(again)); diff != "" {
				t.Fatalf("names:\n%s", diff)
			}
		}
	})
}

func nodeNames(d *entity.Document) (names []string) {
	for _, i := range d.Nodes() {
		names = append(names, d.Names()[i])
	}
	return names
}

func TestIndentedIsTheSameJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{}).Draw(t, "document")
		var compact bytes.Buffer
		if err := json.Compact(&compact, jsonOf(t, d, render.Options{Indent: true})); err != nil {
			t.Fatal(err)
		}
		if want := bytes.TrimSpace(jsonOf(t, d, render.Options{})); !bytes.Equal(compact.Bytes(), want) {
			t.Fatalf("got  %s\nwant %s", compact.Bytes(), want)
		}
	})
}

func TestParseErrors(t *testing.T) {
	const head = `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"HumanMadeObject"`
	for _, tt := range []struct{ name, body, path, reason string }{
		{"empty", ``, "$", "the text ends where a node should stand"},
		{"array", `[]`, "$", "a node is wanted"},
		{"no context", `{"id":"https://m.example/1"}`, "$", `the first key must be "@context"`},
		{"other context", `{"@context":"https://other.example/"}`, "$", "the context must be https://linked.art/ns/v1/linked-art.json"},
		{"no id", `{"@context":"https://linked.art/ns/v1/linked-art.json","type":"Place"}`, "$", `"id" must follow "@context"`},
		{"relative id", `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"object/1","type":"Place"}`, "$", "no scheme"},
		{"class", `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"Teapot"}`, "$", `the profile has no class "Teapot"`},
		{"no document", `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"Name"}`, "$", "no document of the profile has the class Name"},
		{"key", head + `,"colour":"red"}`, "$.colour", `HumanMadeObject has no key "colour" here`},
		{"key of another class", head + `,"born":{"type":"Birth"}}`, "$.born", `HumanMadeObject has no key "born" here`},
		{"nested key", head + `,"identified_by":[{"type":"Name","content":"a"},{"type":"Name","value":2}]}`, "$.identified_by[1].value", `Name has no key "value" here`},
		{"nested class", head + `,"identified_by":[{"type":"Production"}]}`, "$.identified_by[0]", "an embedded Production may not stand here"},
		{"embedded with id", head + `,"identified_by":[{"id":"https://m.example/n","type":"Name","content":"x"}]}`, "$.identified_by[0]", "a reference to a Name may not stand here"},
		{"reference without id", head + `,"classified_as":[{"type":"Type"}]}`, "$.classified_as[0]", "an embedded Type may not stand here"},
		{"array wanted", head + `,"classified_as":{"id":"https://m.example/t","type":"Type"}}`, "$.classified_as", "an array is wanted"},
		{"one wanted", head + `,"produced_by":[{"type":"Production"}]}`, "$.produced_by", "one value is wanted, not an array"},
		{"twice", head + `,"_label":"a","_label":"b"}`, "$._label", "the key stands twice in the node"},
		{"empty array", head + `,"classified_as":[]}`, "$.classified_as[0]", "an empty array"},
		{"number as text", head + `,"dimension":[{"type":"Dimension","value":"3"}]}`, "$.dimension[0].value", "a number is wanted"},
		{"long number", head + `,"dimension":[{"type":"Dimension","value":0.12345678901234567890}]}`, "$.dimension[0].value", "beyond what a double holds"},
		{"huge number", head + `,"dimension":[{"type":"Dimension","value":1e999}]}`, "$.dimension[0].value", "beyond what a double holds"},
		{"wrong number", head + `,"dimension":[{"type":"Dimension","value":01}]}`, "$.dimension[0]", `"," or "}" is missing`},
		{"text as number", head + `,"_label":3}`, "$._label", "a string is wanted"},
		{"null", head + `,"_label":null}`, "$._label", "a string is wanted"},
		{"lone surrogate", head + `,"_label":"\ud800"}`, "$._label", "a wrong escape"},
		{"bad escape", head + `,"_label":"\x"}`, "$._label", "a wrong escape"},
		{"control", head + ",\"_label\":\"a\nb\"}", "$._label", "a control character"},
		{"not UTF-8", head + ",\"_label\":\"a\xffb\"}", "$._label", "not UTF-8"},
		{"not UTF-8 after an escape", head + ",\"_label\":\"a\\n\xffb\"}", "$._label", "not UTF-8"},
		{"term", head + `,"attributed_by":[{"type":"AttributeAssignment","assigned_property":"painted"}]}`, "$.attributed_by[0].assigned_property", `"painted" names no term`},
		{"cut", head + `,"_label":"a`, "$._label", "the text ends within a string"},
		{"cut later", head, "$", `"," or "}" is missing`},
		{"more", head + `} {}`, "$", "more text after the document"},
		{"trailing comma", head + `,}`, "$", "a string is wanted"},
		{"deep", head + `,"part":` + strings.Repeat(`[{"type":"HumanMadeObject","part":`, 70), "$.part", `HumanMadeObject has no key "part" here`},
		{"deep names", head + `,"identified_by":[{"type":"Name"` + strings.Repeat(`,"part":[{"type":"Name"`, 70), "$.identified_by[0]" + strings.Repeat(".part[0]", 63), "nested deeper than 64"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := entity.Parse([]byte(tt.body), "")
			var pe *entity.ParseError
			if !errors.As(err, &pe) {
				t.Fatalf("error is %v", err)
			}
			if pe.Path != tt.path || !strings.Contains(pe.Reason, tt.reason) {
				t.Errorf("got %v\nwant %s: %s", err, tt.path, tt.reason)
			}
		})
	}
}

func TestParseNumbers(t *testing.T) {
	const head = `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"HumanMadeObject","dimension":[{"type":"Dimension","value":`
	for text, want := range map[string]string{
		"3": "3", "3.0": "3", "-0": "0", "0.0e5": "0", "1E2": "100", "2.50": "2.5", "1e21": "1e+21", "1e-7": "1e-7", "123456789012345680": "123456789012345680", "-12.75": "-12.75",
	} {
		d, err := entity.Parse([]byte(head+text+"}]}"), "")
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		for _, e := range d.Events() {
			if e.Kind == entity.Number && e.Value != want {
				t.Errorf("%s is read as %s, want %s", text, e.Value, want)
			}
		}
	}
}

func TestKeysDamaged(t *testing.T) {
	const body = `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"Place","identified_by":[{"type":"Name","content":"a"}]}`
	for _, keys := range []string{"x", "=", "0", "0=", "0=%", "0=%4", "0=%zz", "-1=a", "0=a;0=b", "1=a", "0=a;5=b", ";"} {
		if _, err := entity.Parse([]byte(body), keys); err == nil {
			t.Errorf("%q is accepted", keys)
		}
	}
	d, err := entity.Parse([]byte(body), "0=%C3%BC%2E")
	if err != nil {
		t.Fatal(err)
	}
	if got, want := d.Names()[1], "https://m.example/1#identified_by.%C3%BC%2E"; got != want {
		t.Errorf("name is %s, want %s", got, want)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"Place","identified_by":[{"type":"Name","content":"a\u00fc"}]}`), "0=k")
	f.Add([]byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1","type":"HumanMadeObject","dimension":[{"type":"Dimension","value":1.50,"unit":{"id":"http://vocab.getty.edu/aat/300379098","type":"MeasurementUnit","_label":"cm"}}]}`), "")
	f.Fuzz(func(t *testing.T, body []byte, keys string) {
		d, err := entity.Parse(body, keys)
		if err != nil {
			return
		}
		if !json.Valid(body) {
			t.Fatalf("accepted, but not JSON: %q", body)
		}
		first := jsonOf(t, d, render.Options{})
		again, err := entity.Parse(first, entity.Keys(d))
		if err != nil {
			t.Fatalf("%v\n%s", err, first)
		}
		if second := jsonOf(t, again, render.Options{}); !bytes.Equal(first, second) {
			t.Fatalf("%s\n%s", first, second)
		}
	})
}
