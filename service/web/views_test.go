package web

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"log/slog"
	"strings"
	"testing"

	"ropewalk/mapping/render/view"
)

// viewed is a server whose records can be had in views: an object that can fill LIDO and
// EDM, one that cannot, and a person.
func viewed(t testing.TB) *Server {
	t.Helper()
	kind := `"classified_as":[{"id":"http://vocab.getty.edu/aat/300206119","type":"Type","_label":"vane","classified_as":[{"id":"http://vocab.getty.edu/aat/300435443","type":"Type","_label":"Type of Work"}]}],`
	full := live(t, "object/vane", "Vane </script><b>")
	full.Body = []byte(strings.Replace(string(full.Body), `"identified_by"`, kind+`"identified_by"`, 1))
	person := live(t, "person/1", "Ann Ohm")
	person.Class, person.Endpoint = "Person", "person"
	person.Body = []byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"` + base + `person/1","type":"Person","_label":"Ann Ohm","identified_by":[{"type":"Name","content":"Ann Ohm"}]}` + "\n")
	store := newStore(t)
	publish(t, store, full, live(t, "object/bare", "Bare"), person, live(t, "object/x.schemaorg", "Named like a view"))
	s, err := New(Options{Site: testSite, Store: store, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Views: &view.Context{Base: base, Language: "en", Licence: testSite.Licence, Publisher: view.Agent{Name: "The Wind Trust"}}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestViews(t *testing.T) {
	s := viewed(t)
	for _, tt := range []struct {
		path, accept string
		status       int
		contentType  string
		says         string
	}{
		{"/object/vane.lido.xml", "", 200, "application/xml", "<lido:lidoRecID"},
		{"/object/vane.edm.xml", "", 200, "application/rdf+xml", "edm:ProvidedCHO"},
		{"/object/vane.dc.xml", "", 200, "application/xml", "<dc:title>"},
		{"/object/vane.schemaorg.json", "", 200, "application/ld+json", `"https://schema.org"`},
		{"/person/1.dc.xml", "", 200, "application/xml", "Ann Ohm"},
		{"/person/1.lido.xml", "", 404, "text/plain; charset=utf-8", "no record"},                                      // not for people
		{"/object/bare.lido.xml", "application/json", 406, "text/plain; charset=utf-8", "none of its classifications"}, // the schema demands one
		{"/object/bare.edm.xml", "", 406, "text/plain; charset=utf-8", "bare.dc.xml"},                                  // what there is
		{"/object/none.dc.xml", "", 404, "text/plain; charset=utf-8", "no record"},
		{"/object/x.schemaorg.json", "", 200, "application/json", `"Named like a view"`}, // the longest suffix is another record's
		{"/object/x.schemaorg.schemaorg.json", "", 200, "application/ld+json", "schema.org"},
		{"/object/vane", "application/rdf+xml", 200, "application/rdf+xml", "E22_"}, // negotiated: the one that loses nothing
	} {
		r := ask(s, "GET", tt.path, "Accept: "+tt.accept)
		body := text(t, r)
		if r.StatusCode != tt.status || tt.status == 200 && r.Header.Get("Content-Type") != tt.contentType || !strings.Contains(body, tt.says) {
			t.Errorf("%s: %d %s\n%s", tt.path, r.StatusCode, r.Header.Get("Content-Type"), body)
		}
		if strings.HasSuffix(tt.path, ".xml") && tt.status == 200 {
			if !strings.HasPrefix(body, "<?xml") || xml.Unmarshal([]byte(body), new(struct{})) != nil {
				t.Errorf("%s: not XML:\n%s", tt.path, body)
			}
		}
	}
	link := ask(s, "GET", "/person/1.html").Header.Get("Link")
	if !strings.Contains(link, "<1.dc.xml>") || strings.Contains(link, "lido") {
		t.Error("a person's links: ", link)
	}
}

// The page has the record in the words of schema.org, in an element that nothing in the
// record can end.
func TestPageHasSchemaOrg(t *testing.T) {
	body := text(t, ask(viewed(t), "GET", "/object/vane.html"))
	_, rest, _ := strings.Cut(body, `<script type="application/ld+json">`)
	data, _, ok := strings.Cut(rest, "</script>")
	var m map[string]any
	if err := json.Unmarshal([]byte(data), &m); !ok || err != nil {
		t.Fatal(err, data)
	}
	if m["@id"] != base+"object/vane" || m["name"] != "Vane </script><b>" {
		t.Error(m["@id"], m["name"])
	}
	if strings.Contains(text(t, ask(served(t), "GET", "/object/KQ.1911.4.html")), "ld+json\">{") {
		t.Error("a server without views has the element")
	}
}
