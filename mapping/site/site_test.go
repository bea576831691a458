package site

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// A join that goes by a column that is not there is reported at its place, not
// where a mapping uses it.
func TestJoinsAreChecked(t *testing.T) {
	const file = `title: T
base: https://a.example/
sources:
  objects:
    files: o.csv
    rows:
      parts: { from: parts, on: { id: objet } }
    lookup:
      maker: { from: parts, on: { makr: object } }
  parts: { files: p.csv }
`
	_, ds := Load(fstest.MapFS{
		FileName:           {Data: []byte(file)},
		"o.csv":            {Data: []byte("id,maker\n1,2\n")},
		"p.csv":            {Data: []byte("object,n\n1,2\n")},
		"mapping/all.yaml": {Data: []byte("make: Type\nfrom: objects\nid: concept/{id}\nlabel: \"{id}\"\n")},
	})
	var got []string
	for _, d := range ds {
		got = append(got, fmt.Sprintf("%d:%d %s %s %s", d.Line, d.Col, d.Rule, d.Message, d.Hint))
	}
	want := []string{
		`7:29 source source "objects": "objet": source parts has no such field did you mean "object"?`,
		`9:29 source source "objects": "makr": source objects has no such field did you mean "maker"?`,
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// Views name the publisher by an IRI, also where the site file gives a path.
func TestPublisherID(t *testing.T) {
	for id, want := range map[string]string{
		"group/museum": "https://a.example/group/museum", "/group/museum": "https://a.example/group/museum",
		"https://b.example/us": "https://b.example/us", "urn:isil:us": "urn:isil:us",
	} {
		s, ds := Load(fstest.MapFS{
			FileName:           {Data: []byte("title: T\nbase: https://a.example/\npublisher: { name: Us, id: \"" + id + "\" }\nsources:\n  objects: { files: o.csv }\n")},
			"o.csv":            {Data: []byte("id\n1\n")},
			"mapping/all.yaml": {Data: []byte("make: Type\nfrom: objects\nid: concept/{id}\nlabel: \"{id}\"\n")},
		})
		if ds.Problems() > 0 || s.Publisher.ID != want {
			t.Errorf("%s: %s, %v", id, s.Publisher.ID, ds)
		}
	}
}
