package schemas

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ropewalk/vocab"
)

func TestEverySchemaCompiles(t *testing.T) {
	for _, e := range vocab.Endpoints() {
		if Entity(e.Name) == nil {
			t.Errorf("%s: no schema", e.Name)
		}
	}
	for _, name := range []string{"", "core", "nothing", "../schemas", "object.json"} {
		if Entity(name) != nil {
			t.Errorf("%q has a schema", name)
		}
	}
}

func TestEveryFileIsASchemaUnderItsOwnAddress(t *testing.T) {
	n := 0
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		n++
		text, err := File(name)
		if err != nil {
			return err
		}
		var head struct {
			ID      string `json:"$id"`
			Dialect string `json:"$schema"`
		}
		if err := json.Unmarshal(text, &head); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if head.ID != Base+name || head.Dialect != "https://json-schema.org/draft/2020-12/schema" {
			t.Errorf("%s has the address %s and the dialect %s", name, head.ID, head.Dialect)
		}
		if _, err := NewCompiler().Compile(Base + name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 14 {
		t.Errorf("only %d files", n)
	}
}

func TestNothingComesFromTheNetwork(t *testing.T) {
	c := NewCompiler()
	if err := c.AddResource(Base+"test.json", strings.NewReader(`{"$ref": "https://linked.art/api/1.0/schema/core.json"}`)); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Compile(Base + "test.json"); err == nil || !strings.Contains(err.Error(), "is not embedded") {
		t.Errorf("a reference to the network gave %v", err)
	}
}

func TestProblems(t *testing.T) {
	const context = `"@context": "https://linked.art/ns/v1/linked-art.json"`
	tests := []struct {
		name, doc string
		want      []string
	}{
		{"valid", `{` + context + `, "id": "http://example.org/1", "type": "HumanMadeObject", "_label": "Log line"}`, nil},
		{"missing and surplus keys", `{"id": "http://example.org/1", "type": "HumanMadeObject", "colour/size": "red", "_lable": "x"}`, []string{
			` required @context: lacks the key "@context"`,
			` required _label: lacks the key "_label"`,
			`/_lable additionalProperties _lable: the key "_lable" is not known here`,
			`/colour~1size additionalProperties colour/size: the key "colour/size" is not known here`,
		}},
		{"class and kind", `{` + context + `, "id": 3, "type": "Person", "_label": null}`, []string{
			`/_label type : must be text, not empty (null)`,
			`/id type : must be text, not a number`,
			`/type const : must be "HumanMadeObject"`,
		}},
		{"an alternative is chosen by its class", `{` + context + `, "id": "http://example.org/1", "type": "HumanMadeObject", "_label": "x",
			"identified_by": [{"type": "Name", "content": "Log line"}, {"type": "Identifier", "content": 7},
			{"type": "Name"}, {"type": "Title", "content": "x"}, "x"]}`, []string{
			`/identified_by/1/content type : must be text, not a number`,
			`/identified_by/2 required content: lacks the key "content"`,
			`/identified_by/3/type enum : must be one of Identifier, Name`,
			`/identified_by/4 type : must be a group of keys, not text`,
		}},
		{"formats", `{` + context + `, "id": "log line", "type": "HumanMadeObject", "_label": "x",
			"produced_by": {"type": "Production", "timespan": {"type": "TimeSpan", "begin_of_the_begin": "1851's", "end_of_the_end": "1851-05-01t23:59:59z"}}}`, []string{
			`/id format : "log line" is not an absolute IRI`,
			`/produced_by/timespan/begin_of_the_begin format : "1851's" is not a date and time such as 1851-05-01T00:00:00Z`,
			`/produced_by/timespan/end_of_the_end pattern : is not a date and time of XML Schema, such as 1851-05-01T00:00:00Z`,
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var doc any
			if err := json.Unmarshal([]byte(tt.doc), &doc); err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, p := range Problems(Entity("object").Validate(doc)) {
				got = append(got, fmt.Sprintf("%s %s %s: %s", p.InstancePath, p.Keyword, p.Key, p.Message))
			}
			if d := cmp.Diff(tt.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestProblemsNamesWhatIsAllowed(t *testing.T) {
	var doc any
	if err := json.Unmarshal([]byte(`{"@context": [], "id": "http://example.org/1", "type": "Plaice", "_label": "x", "partof": []}`), &doc); err != nil {
		t.Fatal(err)
	}
	ps := Problems(Entity("place").Validate(doc))
	if len(ps) != 2 {
		t.Fatalf("%d problems: %+v", len(ps), ps)
	}
	if got := strings.Join(ps[0].Allowed, " "); !strings.Contains(got, "part_of") || !strings.HasPrefix(got, "@context _label attributed_by") {
		t.Errorf("allowed keys: %s", got)
	}
	if got := strings.Join(ps[1].Allowed, " "); got != "Place" {
		t.Errorf("allowed classes: %s", got)
	}
	if got := Problems(errors.New("no such file")); len(got) != 1 || got[0].Message != "no such file" {
		t.Errorf("another error: %+v", got)
	}
}
