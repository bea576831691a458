package outside

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

// Schemas are the profile's published JSON Schemas, formats asserted.
type Schemas struct {
	compiled map[string]*jsonschema.Schema // by file name
}

// PublishedSchemas compiles the published schemas. References are followed by
// the table of addresses beside them and never over a network.
func PublishedSchemas(t testing.TB) *Schemas {
	t.Helper()
	where := map[string]string{}
	for _, line := range strings.Split(string(ReadShared(t, "standards", "uri-map.tsv")), "\n") {
		if address, file, ok := strings.Cut(line, "\t"); ok {
			where[address] = file
		}
	}
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft2020
	c.AssertFormat = true
	c.LoadURL = func(address string) (io.ReadCloser, error) {
		file, ok := where[address]
		if !ok {
			return nil, fmt.Errorf("the address %s is not among the files given", address)
		}
		return os.Open(Shared(t, "standards", filepath.FromSlash(file)))
	}
	s := &Schemas{compiled: map[string]*jsonschema.Schema{}}
	for address := range where {
		name, ok := strings.CutPrefix(address, "https://linked.art/api/1.0/schema/")
		if !ok {
			continue
		}
		compiled, err := c.Compile(address)
		if err != nil {
			t.Fatal(err)
		}
		s.compiled[name] = compiled
	}
	AtLeast(t, "published schemas", len(s.compiled), 14)
	return s
}

// Validate checks a document against the schema with a file name such as
// "object.json".
func (s *Schemas) Validate(schema string, text []byte) error {
	c, ok := s.compiled[schema]
	if !ok {
		return fmt.Errorf("no published schema %q", schema)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var doc any
	if err := d.Decode(&doc); err != nil {
		return err
	}
	if d.More() {
		return errors.New("text after the document")
	}
	err := c.Validate(doc)
	var v *jsonschema.ValidationError
	if errors.As(err, &v) {
		var b strings.Builder
		for _, e := range v.BasicOutput().Errors {
			if e.Error == "" || strings.HasPrefix(e.Error, "doesn't validate with") {
				continue
			}
			fmt.Fprintf(&b, "%s: %s\n", e.InstanceLocation, e.Error)
		}
		return errors.New(strings.TrimSpace(b.String()))
	}
	return err
}

// Example is one of the profile's published example documents.
type Example struct {
	File   string // below the folder linked-art, with "/"
	Schema string // file name of the published schema of its kind
	Valid  bool   // valid against that schema, by the table that comes with them
	Text   []byte
	ID     string // the document's own IRI
}

// Examples are all the profile's published example documents.
func Examples(t testing.TB) []Example {
	t.Helper()
	var list []Example
	for i, line := range strings.Split(string(ReadShared(t, "standards", "linked-art", "examples-validity.tsv")), "\n") {
		f := strings.Split(line, "\t")
		if i == 0 || len(f) < 5 {
			continue
		}
		e := Example{File: f[0], Schema: f[2], Valid: f[3] == "valid"}
		e.Text = ReadShared(t, "standards", "linked-art", filepath.FromSlash(e.File))
		var doc struct {
			ID string `json:"id"`
		}
		if err := json.Unmarshal(e.Text, &doc); err != nil {
			t.Fatalf("%s: %v", e.File, err)
		}
		e.ID = doc.ID
		list = append(list, e)
	}
	AtLeast(t, "published examples", len(list), 211)
	return list
}
