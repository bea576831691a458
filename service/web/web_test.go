package web

import (
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"ropewalk/mapping/render"
	"ropewalk/service"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/store/storetest"
)

const base = "https://museum.example/coll/"

var testSite = service.Site{
	Base: base, Title: "Museum of Wind", Publisher: "The Wind Trust", Licence: "https://creativecommons.org/publicdomain/zero/1.0/", Language: "en",
}

// doc is a valid document of an object.
func doc(iri, label string) []byte {
	return []byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"` + iri + `","type":"HumanMadeObject","_label":"` + label +
		`","identified_by":[{"type":"Name","content":"` + label + `"}],"produced_by":{"type":"Production","carried_out_by":[{"id":"` + base + `person/1","type":"Person","_label":"Ann Ohm"}]}` +
		`,"referred_to_by":[{"type":"LinguisticObject","content":"` + strings.Repeat("A long story of wind. ", 60) + `"}]}` + "\n")
}

func live(t testing.TB, path, label string) *service.Record {
	t.Helper()
	p, ok := service.Path(base, base+path)
	if !ok {
		t.Fatalf("no address for %q", path)
	}
	return &service.Record{IRI: base + path, Path: p, State: service.Live, Class: "HumanMadeObject", Endpoint: "object", Label: label, Body: doc(base+path, label)}
}

// records is what the test server has published: live, withdrawn and moved.
func records(t testing.TB) []*service.Record {
	out := []*service.Record{
		live(t, "object/KQ.1911.4", "Barometer"),
		live(t, "object/KQ.1911.ttl", "Named like a file"),
		live(t, "object/KQ.1911", "Shorter"),
		live(t, "object/a%2Fb", "Slash"),
		live(t, "object/Ö 1", "Umlaut"),
		live(t, "object/deep/er:x", "Deep"),
		{IRI: base + "object/old", Path: "object/old", State: service.Moved, MovedTo: base + "object/KQ.1911.4"},
		{IRI: base + "object/far", Path: "object/far", State: service.Moved, MovedTo: "https://elsewhere.example/9"},
		{IRI: base + "object/lost", Path: "object/lost", State: service.Gone, Reason: "Entered twice"},
	}
	for i := range 12 {
		out = append(out, live(t, fmt.Sprintf("object/z%02d", i), fmt.Sprintf("Vane %d", i)))
	}
	return out
}

func publish(t testing.TB, store service.Store, recs ...*service.Record) {
	t.Helper()
	storetest.Publish(t, store, recs...)
}

var modified = time.Date(2021, 5, 6, 7, 8, 9, 0, time.UTC)

func newStore(t testing.TB) service.Store {
	t.Helper()
	store, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(func() time.Time { return modified }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	return store
}

func newServer(t testing.TB, store service.Store, log io.Writer, limits Limits) *Server {
	t.Helper()
	s, err := New(Options{Site: testSite, Store: store, Log: slog.New(slog.NewTextHandler(log, nil)), Limits: limits})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// served is a server with records.
func served(t testing.TB) *Server {
	store := newStore(t)
	tomb := live(t, "object/lost", "Lost vane")
	publish(t, store, tomb)
	publish(t, store, records(t)...)
	return newServer(t, store, io.Discard, Limits{PageSize: 5})
}

// ask makes a request: headers as "Name: value".
func ask(s http.Handler, method, target string, headers ...string) *http.Response {
	r := httptest.NewRequest(method, target, nil)
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Add(name, value)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

func text(t testing.TB, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

const (
	jsonldType = `application/ld+json;profile="https://linked.art/ns/v1/linked-art.json"`
	turtleType = "text/turtle;charset=utf-8"
)

// What comes for which address and which Accept.
func TestForms(t *testing.T) {
	s := served(t)
	for _, c := range []struct {
		target, accept string
		status         int
		contentType    string
		location       string // Content-Location
		contains       string
	}{
		{"/object/KQ.1911.4", "", 200, jsonldType, "KQ.1911.4.jsonld", `"_label":"Barometer"`},
		{"/object/KQ.1911.4", "*/*", 200, jsonldType, "KQ.1911.4.jsonld", `"_label":"Barometer"`},
		{"/object/KQ.1911.4", "application/ld+json", 200, jsonldType, "KQ.1911.4.jsonld", `"@context"`},
		{"/object/KQ.1911.4", "application/json", 200, "application/json", "KQ.1911.4.json", `"@context"`},
		{"/object/KQ.1911.4", "text/html,application/xhtml+xml,*/*;q=0.8", 200, htmlType, "KQ.1911.4.html", "<h1>Barometer</h1>"},
		{"/object/KQ.1911.4", "text/turtle", 200, turtleType, "KQ.1911.4.ttl", "crm:E22_Human-Made_Object"},
		{"/object/KQ.1911.4", "application/n-triples", 200, "application/n-triples", "KQ.1911.4.nt", "<https://museum.example/coll/object/KQ.1911.4> "},
		{"/object/KQ.1911.4", "application/n-quads", 200, "application/n-quads", "KQ.1911.4.nq", "<https://museum.example/coll/object/KQ.1911.4> "},
		{"/object/KQ.1911.4", "application/rdf+xml", 200, "application/rdf+xml", "KQ.1911.4.rdf", "</rdf:RDF>"},
		{"/object/KQ.1911.4", `application/ld+json;profile="` + expandedURI + `"`, 200, `application/ld+json;profile="` + expandedURI + `"`, "", `"@value":"Barometer"`},
		{"/object/KQ.1911.4", `application/ld+json;profile="` + flattenedURI + `"`, 200, `application/ld+json;profile="` + flattenedURI + `"`, "", `"_:b0"`},
		{"/object/KQ.1911.4.jsonld", "text/turtle", 200, jsonldType, "", `"@context"`},
		{"/object/KQ.1911.4.json", "", 200, "application/json", "", `"@context"`},
		{"/object/KQ.1911.4.html", "text/turtle", 200, htmlType, "", "<h1>Barometer</h1>"},
		{"/object/KQ.1911.4.ttl", "", 200, turtleType, "", "crm:"},
		{"/object/KQ.1911.4.nt", "text/html", 200, "application/n-triples", "", "> <"},
		{"/object/KQ.1911.4.nq", "", 200, "application/n-quads", "", "> <"},
		{"/object/KQ.1911.4.rdf", "", 200, "application/rdf+xml", "", "<rdf:RDF"},
		// An address is an address, whatever it ends with.
		{"/object/KQ.1911.ttl", "", 200, jsonldType, "KQ.1911.ttl.jsonld", `"_label":"Named like a file"`},
		{"/object/KQ.1911.ttl.ttl", "", 200, turtleType, "", "Named like a file"},
		{"/object/KQ.1911.nt", "", 200, "application/n-triples", "", "Shorter"},
		{"/object/KQ.1911.5", "", 404, "application/problem+json", "", `"status":404`},
		{"/object/KQ.1911.4.ttlx", "", 404, "application/problem+json", "", `"status":404`},
		// Addresses are compared in normal form.
		{"/object/a%2Fb", "", 200, jsonldType, "a%2Fb.jsonld", "Slash"},
		{"/object/a%2fb", "", 200, jsonldType, "a%2Fb.jsonld", "Slash"},
		{"/object/a%2fb.ttl", "", 200, turtleType, "", "Slash"},
		{"/object/a/b", "", 404, "application/problem+json", "", "no record"},
		{"/object/%c3%96%201", "", 200, jsonldType, "%C3%96%201.jsonld", "Umlaut"},
		{"/o%62ject/KQ.1911.4", "", 200, jsonldType, "KQ.1911.4.jsonld", "Barometer"},
		{"/object/deep/er:x", "", 200, jsonldType, "./er:x.jsonld", "Deep"},
		{"/object/KQ.1911.4?x=1", "", 200, jsonldType, "KQ.1911.4.jsonld", "Barometer"},
		{"//object/KQ.1911.4", "", 404, "application/problem+json", "", ""},
		{"/object/../object/KQ.1911.4", "", 404, "application/problem+json", "", ""},
		{"/object/%00", "", 404, "application/problem+json", "", ""},
		{"/.ttl", "", 404, "application/problem+json", "", ""},
		{"/object/.ttl", "", 404, "application/problem+json", "", ""},
	} {
		var headers []string
		if c.accept != "" {
			headers = []string{"Accept: " + c.accept}
		}
		r := ask(s, "GET", c.target, headers...)
		body := text(t, r)
		name := c.target + " " + c.accept
		if r.StatusCode != c.status || r.Header.Get("Content-Type") != c.contentType {
			t.Errorf("%s: %d %s, want %d %s", name, r.StatusCode, r.Header.Get("Content-Type"), c.status, c.contentType)
		}
		if got := r.Header.Get("Content-Location"); got != c.location {
			t.Errorf("%s: Content-Location %q, want %q", name, got, c.location)
		}
		if !strings.Contains(body, c.contains) {
			t.Errorf("%s: %q is not in the body: %.300s", name, c.contains, body)
		}
		if n := r.Header.Get("Content-Length"); n != fmt.Sprint(len(body)) {
			t.Errorf("%s: Content-Length %s of %d bytes", name, n, len(body))
		}
	}
	// The stored bytes are served as they are.
	if got := text(t, ask(s, "GET", "/object/KQ.1911.4")); got != string(doc(base+"object/KQ.1911.4", "Barometer")) {
		t.Errorf("the document was altered: %s", got)
	}
}

func vary(r *http.Response) string {
	v := strings.Split(strings.Join(r.Header["Vary"], ", "), ", ")
	slices.Sort(v)
	return strings.Join(v, ", ")
}

func TestHeaders(t *testing.T) {
	s := served(t)
	r := ask(s, "GET", "/object/KQ.1911.4", "Origin: https://a.example")
	for name, want := range map[string]string{
		"Access-Control-Allow-Origin":   "*",
		"Access-Control-Expose-Headers": "Accept-Ranges, Content-Location, Content-Range, ETag, Last-Modified, Link, Location, Memento-Datetime, Retry-After, Vary",
		"X-Content-Type-Options":        "nosniff",
		"Cache-Control":                 "public, no-cache",
		"Last-Modified":                 "Thu, 06 May 2021 07:08:10 GMT",
	} {
		if got := r.Header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if got := vary(r); got != "Accept, Accept-Datetime, Accept-Encoding" {
		t.Errorf("Vary: %s", got)
	}
	if got := vary(ask(s, "GET", "/object/KQ.1911.4.ttl")); got != "Accept-Datetime, Accept-Encoding" {
		t.Errorf("Vary of a fixed form: %s", got)
	}
	link := r.Header.Get("Link")
	for _, want := range []string{
		`<https://museum.example/coll/object/KQ.1911.4>; rel="canonical"`,
		`<KQ.1911.4.ttl>; rel="alternate"; type="text/turtle"`,
		`<KQ.1911.4.html>; rel="alternate"; type="text/html"`,
		`<KQ.1911.4.jsonld>; rel="describedby"; type="application/ld+json"; profile="https://linked.art/ns/v1/linked-art.json"`,
		`<http://www.cidoc-crm.org/cidoc-crm/E22_Human-Made_Object>; rel="type"`,
		`<https://creativecommons.org/publicdomain/zero/1.0/>; rel="license"`,
	} {
		if !slices.Contains(strings.Split(link, ", "), want) {
			t.Errorf("Link lacks %s: %s", want, link)
		}
	}
	for _, f := range render.Formats() {
		if !strings.Contains(link, "KQ.1911.4"+f.Suffix+">") {
			t.Errorf("Link lacks %s", f.Suffix)
		}
	}
	if got := ask(s, "GET", "/object/%C3%96%201").Header.Get("Link"); !strings.HasPrefix(got, `<https://museum.example/coll/object/%C3%96%201>; rel="canonical"`) {
		t.Errorf("Link: %s", got)
	}
	page := ask(s, "GET", "/object/KQ.1911.4.html")
	if !strings.Contains(page.Header.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Error("a page without a policy")
	}
}

// Vary is added to, never set over.
func TestVaryAdds(t *testing.T) {
	h := http.Header{"Vary": {"Origin, accept"}}
	for _, n := range []string{"Accept", "Accept-Encoding", "accept-encoding", "Origin"} {
		addVary(h, n)
	}
	if got := h["Vary"]; !slices.Equal(got, []string{"Origin, accept, Accept-Encoding"}) {
		t.Errorf("%q", got)
	}
	h = http.Header{"Vary": {"*"}}
	if addVary(h, "Accept"); len(h["Vary"]) != 1 {
		t.Errorf("%q", h["Vary"])
	}
}

func TestTags(t *testing.T) {
	s := served(t)
	seen := map[string]string{}
	for _, accept := range []string{"application/ld+json", "application/json", "text/html", "text/turtle", "application/n-triples", "application/n-quads",
		"application/rdf+xml", `application/ld+json;profile="` + expandedURI + `"`, `application/ld+json;profile="` + flattenedURI + `"`} {
		for _, coding := range []string{"identity", "gzip", "zstd"} {
			name := accept + " " + coding
			r := ask(s, "GET", "/object/KQ.1911.4", "Accept: "+accept, "Accept-Encoding: "+coding)
			tag := r.Header.Get("Etag")
			if !strings.HasPrefix(tag, `"`) || !strings.HasSuffix(tag, `"`) || len(tag) < 12 {
				t.Errorf("%s: ETag %s", name, tag)
			}
			if other, ok := seen[tag]; ok {
				t.Errorf("%s and %s have the same tag %s", name, other, tag)
			}
			seen[tag] = name
			again := ask(s, "GET", "/object/KQ.1911.4", "Accept: "+accept, "Accept-Encoding: "+coding, "If-None-Match: "+tag)
			if again.StatusCode != 304 || text(t, again) != "" || again.Header.Get("Etag") != tag || again.Header.Get("Content-Type") != "" {
				t.Errorf("%s: %d with its own tag", name, again.StatusCode)
			}
			if vary(again) != "Accept, Accept-Datetime, Accept-Encoding" || again.Header.Get("Cache-Control") == "" || again.Header.Get("Last-Modified") == "" {
				t.Errorf("%s: 304 lacks headers: %v", name, again.Header)
			}
			if fixed := r.Header.Get("Content-Location"); fixed != "" {
				f := ask(s, "GET", "/object/"+fixed, "Accept-Encoding: "+coding)
				if f.Header.Get("Etag") != tag {
					t.Errorf("%s: another tag at its own address", name)
				}
			}
		}
	}
	before := ask(s, "GET", "/object/KQ.1911.4").Header.Get("Etag")
	recs := records(t)
	recs[0] = live(t, "object/KQ.1911.4", "Barograph")
	publish(t, s.store, recs...)
	r := ask(s, "GET", "/object/KQ.1911.4", "If-None-Match: "+before)
	if r.StatusCode != 200 || r.Header.Get("Etag") == before {
		t.Errorf("%d with the tag of the version before", r.StatusCode)
	}
	if r := ask(s, "GET", "/object/a%2Fb", "If-Modified-Since: Thu, 06 May 2021 07:08:10 GMT"); r.StatusCode != 304 {
		t.Errorf("an unchanged record: %d", r.StatusCode)
	}
}

// The conditions of RFC 9110 §13.1, and their order (§13.2.2).
func TestConditions(t *testing.T) {
	s := served(t)
	tag := ask(s, "GET", "/object/KQ.1911.4").Header.Get("Etag")
	const at, earlier, later = "Thu, 06 May 2021 07:08:10 GMT", "Thu, 06 May 2021 07:08:09 GMT", "Thu, 06 May 2021 07:08:11 GMT"
	for _, c := range []struct {
		rule    string
		headers []string
		want    int
	}{
		{"same tag", []string{"If-None-Match: " + tag}, 304},
		{"weak comparison", []string{"If-None-Match: W/" + tag}, 304},
		{"in a list", []string{`If-None-Match: "a,b", ` + tag}, 304},
		{"in a second field", []string{`If-None-Match: "a"`, "If-None-Match: " + tag}, 304},
		{"any", []string{"If-None-Match: *"}, 304},
		{"another tag", []string{`If-None-Match: "a"`}, 200},
		{"tag without quotes", []string{"If-None-Match: " + strings.Trim(tag, `"`)}, 200},
		{"not modified since", []string{"If-Modified-Since: " + at}, 304},
		{"not modified since later", []string{"If-Modified-Since: " + later}, 304},
		{"modified since", []string{"If-Modified-Since: " + earlier}, 200},
		{"old date format", []string{"If-Modified-Since: Thursday, 06-May-21 07:08:10 GMT"}, 304},
		{"no date", []string{"If-Modified-Since: yesterday"}, 200},
		{"a tag goes before a date", []string{`If-None-Match: "a"`, "If-Modified-Since: " + at}, 200},
		{"match", []string{"If-Match: " + tag}, 200},
		{"match any", []string{"If-Match: *"}, 200},
		{"no match", []string{`If-Match: "a"`}, 412},
		{"match is strong", []string{"If-Match: W/" + tag}, 412},
		{"unmodified", []string{"If-Unmodified-Since: " + at}, 200},
		{"modified", []string{"If-Unmodified-Since: " + earlier}, 412},
		{"If-Match goes before If-Unmodified-Since", []string{"If-Match: " + tag, "If-Unmodified-Since: " + earlier}, 200},
		{"both kinds", []string{"If-Match: " + tag, "If-None-Match: " + tag}, 304},
		{"failed match goes first", []string{`If-Match: "a"`, "If-None-Match: " + tag}, 412},
	} {
		for _, method := range []string{"GET", "HEAD"} {
			if r := ask(s, method, "/object/KQ.1911.4", c.headers...); r.StatusCode != c.want {
				t.Errorf("%s: %s gives %d, want %d", c.rule, method, r.StatusCode, c.want)
			}
		}
	}
	if r := ask(s, "GET", "/object/none", "If-None-Match: *"); r.StatusCode != 404 {
		t.Errorf("conditions on nothing: %d", r.StatusCode)
	}
}

func unpack(t testing.TB, r *http.Response) string {
	t.Helper()
	var in io.Reader = r.Body
	var err error
	switch r.Header.Get("Content-Encoding") {
	case "gzip":
		in, err = gzip.NewReader(r.Body)
	case "zstd":
		var z *zstd.Decoder
		if z, err = zstd.NewReader(r.Body); err == nil {
			defer z.Close()
			in = z
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestCodings(t *testing.T) {
	s := served(t)
	for _, target := range []string{"/object/KQ.1911.4.jsonld", "/object/KQ.1911.4.html", "/object/KQ.1911.4.ttl"} {
		plain := text(t, ask(s, "GET", target))
		for accept, want := range map[string]string{"gzip": "gzip", "zstd": "zstd", "gzip, deflate, br, zstd": "zstd", "br": "", "gzip;q=0": ""} {
			for range 2 { // the second time with used memory
				r := ask(s, "GET", target, "Accept-Encoding: "+accept)
				if got := r.Header.Get("Content-Encoding"); got != want {
					t.Errorf("%s, %s: %q, want %q", target, accept, got, want)
				}
				if got := unpack(t, r); got != plain {
					t.Errorf("%s, %s: other content", target, accept)
				}
			}
		}
	}
	if r := ask(s, "GET", "/object/KQ.1911.4", "Accept-Encoding: identity;q=0, br"); r.StatusCode != 406 {
		t.Errorf("no coding left: %d", r.StatusCode)
	}
	if r := ask(s, "GET", "/object/?limit=1", "Accept: application/json", "Accept-Encoding: gzip"); r.Header.Get("Content-Encoding") != "" {
		t.Error("a small body was compressed")
	}
}

func TestMethods(t *testing.T) {
	s := served(t)
	for _, target := range []string{"/", "/healthz", "/object/", "/object/KQ.1911.4", "/object/KQ.1911.4.ttl", "/object/none"} {
		get := ask(s, "GET", target)
		body := text(t, get)
		head := ask(s, "HEAD", target)
		if head.StatusCode != get.StatusCode || text(t, head) != "" {
			t.Errorf("HEAD %s: %d", target, head.StatusCode)
		}
		for name := range get.Header {
			if !slices.Equal(head.Header[name], get.Header[name]) {
				t.Errorf("HEAD %s: %s is %q, GET has %q", target, name, head.Header[name], get.Header[name])
			}
		}
		if get.Header.Get("Content-Length") != fmt.Sprint(len(body)) {
			t.Errorf("%s: Content-Length", target)
		}
		o := ask(s, "OPTIONS", target)
		if o.StatusCode != 204 || o.Header.Get("Allow") != "GET, HEAD, OPTIONS" || o.Header.Get("Access-Control-Allow-Origin") != "*" || o.Header.Get("Access-Control-Allow-Methods") != "" {
			t.Errorf("OPTIONS %s: %d %v", target, o.StatusCode, o.Header)
		}
		o = ask(s, "OPTIONS", target, "Origin: https://a.example", "Access-Control-Request-Method: GET", "Access-Control-Request-Headers: accept, if-none-match")
		if o.Header.Get("Access-Control-Allow-Methods") != "GET, HEAD, OPTIONS" || !strings.Contains(o.Header.Get("Access-Control-Allow-Headers"), "If-None-Match") {
			t.Errorf("preflight %s: %v", target, o.Header)
		}
		for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "TRACE", "PURGE"} {
			r := ask(s, method, target, "Accept: text/plain")
			if r.StatusCode != 405 || r.Header.Get("Allow") != "GET, HEAD, OPTIONS" || !strings.Contains(text(t, r), "can only be read") {
				t.Errorf("%s %s: %d %v", method, target, r.StatusCode, r.Header)
			}
		}
	}
}

func TestMoved(t *testing.T) {
	s := served(t)
	for target, want := range map[string]string{
		"/object/old":     "KQ.1911.4",
		"/object/old.ttl": "KQ.1911.4.ttl",
		"/object/far":     "https://elsewhere.example/9",
		"/object/far.nt":  "https://elsewhere.example/9",
		"/object":         "object/",
	} {
		r := ask(s, "GET", target)
		if r.StatusCode != 301 || r.Header.Get("Location") != want || !strings.Contains(text(t, r), want) {
			t.Errorf("%s: %d %s, want %s", target, r.StatusCode, r.Header.Get("Location"), want)
		}
	}
}

// Problems come in the form that was asked for.
func TestProblems(t *testing.T) {
	s := served(t)
	for _, c := range []struct {
		target, accept string
		status         int
		contentType    string
		contains       []string
	}{
		{"/object/none", "*/*", 404, "application/problem+json", []string{`"title":"Not Found"`, `"status":404`, `"type":"about:blank"`}},
		{"/object/none", "application/ld+json", 404, "application/problem+json", nil},
		{"/object/none", "application/json", 404, "application/problem+json", nil},
		{"/object/none", "text/html", 404, "text/html; charset=utf-8", []string{"404 Not Found", "<h1>There is nothing at this address</h1>", `href="../"`, "Museum of Wind"}},
		{"/object/none", "text/turtle", 404, "text/plain; charset=utf-8", []string{"404 Not Found\n"}},
		{"/object/none.html", "text/turtle", 404, "text/html; charset=utf-8", nil},
		{"/object/none.ttl", "text/html", 404, "text/plain; charset=utf-8", nil},
		{"/object/none.jsonld", "text/html", 404, "application/problem+json", nil},
		{"/nowhere/", "text/html", 404, "text/html; charset=utf-8", nil},
		{"/object/lost", "*/*", 410, "application/problem+json", []string{`"was":{"id":"https://museum.example/coll/object/lost","type":"HumanMadeObject","label":"Lost vane","withdrawn":"2021-05-06T07:08:10Z","reason":"Entered twice"}`}},
		{"/object/lost", "text/html", 410, "text/html; charset=utf-8", []string{"Lost vane", "6 May 2021", "Entered twice"}},
		{"/object/lost.nt", "", 410, "text/plain; charset=utf-8", []string{"Lost vane", "Entered twice"}},
		{"/object/KQ.1911.4", "image/png", 406, "text/plain; charset=utf-8", []string{"KQ.1911.4.ttl\ttext/turtle\n", "KQ.1911.4.html\ttext/html\n"}},
		{"/object/KQ.1911.4", "image/png, application/problem+json", 406, "application/problem+json", []string{`"available":[{"href":"KQ.1911.4.jsonld","mediaType":"application/ld+json"}`}},
		{"/", "image/png", 406, "text/plain; charset=utf-8", []string{"text/html"}},
		{"/object/", "text/turtle", 406, "text/plain; charset=utf-8", []string{"application/json"}},
		{"/object/?limit=0", "", 400, "application/problem+json", []string{"1 to 1000"}},
		{"/object/?limit=x", "", 400, "application/problem+json", nil},
		{"/object/?limit=1001", "", 400, "application/problem+json", nil},
		{"/object/?after=%21", "", 400, "application/problem+json", []string{"token"}},
		{"/object/?after=Li4vYQ", "", 400, "application/problem+json", nil}, // "../a"
		{"/object/?a=%zz", "", 400, "application/problem+json", nil},
		{"/" + strings.Repeat("a", 2050), "", 414, "application/problem+json", []string{"2048"}},
		{"/object/?after=" + strings.Repeat("a", 1100), "", 414, "application/problem+json", []string{"1024"}},
	} {
		var headers []string
		if c.accept != "" {
			headers = []string{"Accept: " + c.accept}
		}
		r := ask(s, "GET", c.target, headers...)
		body := text(t, r)
		name := fmt.Sprintf("%.40s %s", c.target, c.accept)
		if r.StatusCode != c.status || r.Header.Get("Content-Type") != c.contentType {
			t.Errorf("%s: %d %s, want %d %s", name, r.StatusCode, r.Header.Get("Content-Type"), c.status, c.contentType)
		}
		for _, want := range c.contains {
			if !strings.Contains(body, want) {
				t.Errorf("%s: %s is not in %s", name, want, body)
			}
		}
		if r.Header.Get("Etag") != "" || r.Header.Get("Last-Modified") != "" || r.Header.Get("Content-Location") != "" {
			t.Errorf("%s: a problem with validators: %v", name, r.Header)
		}
		if r.Header.Get("Access-Control-Allow-Origin") != "*" {
			t.Errorf("%s: not readable by scripts", name)
		}
		if strings.HasPrefix(c.contentType, "application/") && !json.Valid([]byte(body)) {
			t.Errorf("%s: %s", name, body)
		}
	}
}

// Every code of the domain has a status.
func TestStatuses(t *testing.T) {
	for code, status := range statuses {
		if http.StatusText(status) == "" {
			t.Errorf("%s: %d", code, status)
		}
	}
	for _, c := range service.Codes() {
		if statuses[c] == 0 {
			t.Errorf("%s has no status", c)
		}
	}
}

func TestHome(t *testing.T) {
	s := served(t)
	var home jsonHome
	r := ask(s, "GET", "/", "Accept: application/json")
	if err := json.Unmarshal([]byte(text(t, r)), &home); err != nil {
		t.Fatal(err)
	}
	if home.ID != base || home.Title != testSite.Title || home.License != testSite.Licence || home.Publication.Number != 2 || home.Publication.Time != "2021-05-06T07:08:10Z" ||
		!slices.Equal(home.Endpoints, []jsonEndpoint{{"object", 18, "object/"}}) || len(home.Formats) < 7 || home.Context != nil {
		t.Errorf("%+v", home)
	}
	r = ask(s, "GET", "/", "Accept: application/ld+json")
	if r.Header.Get("Content-Type") != "application/ld+json" || !strings.Contains(text(t, r), `"@context"`) {
		t.Error("no JSON-LD")
	}
	r = ask(s, "GET", "/", "Accept: text/html")
	body := text(t, r)
	for _, want := range []string{"Museum of Wind", "<b>18</b>Objects", `href="object/"`, "The Wind Trust", "CC0 1.0", ".ttl"} {
		if !strings.Contains(body, want) {
			t.Errorf("the home page lacks %q", want)
		}
	}
	if vary(r) != "Accept, Accept-Encoding" || r.Header.Get("Etag") == "" {
		t.Errorf("%v", r.Header)
	}
}

// Following "next" gives every live record once, in JSON and in HTML.
func TestList(t *testing.T) {
	s := served(t)
	var want []string
	for _, r := range records(t) {
		if r.State == service.Live {
			want = append(want, r.IRI)
		}
	}
	var got []string
	pages := 0
	for target := "/object/"; target != ""; pages++ {
		r := ask(s, "GET", target)
		var l jsonList
		if err := json.Unmarshal([]byte(text(t, r)), &l); err != nil {
			t.Fatal(err)
		}
		if l.Total != len(want) || l.Endpoint != "object" || l.ID != base+"object/" || len(l.Items) > 5 {
			t.Fatalf("%+v", l)
		}
		for _, i := range l.Items {
			got = append(got, i.ID)
			if d := ask(s, "GET", "/object/"+i.Href); d.StatusCode != 200 || i.Type != "HumanMadeObject" || i.Label == "" {
				t.Errorf("%+v: %d", i, d.StatusCode)
			}
		}
		target = ""
		if l.Next != "" {
			target = "/object/" + l.Next
			if r.Header.Get("Link") != "<"+l.Next+`>; rel="next"` {
				t.Errorf("Link: %s", r.Header.Get("Link"))
			}
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if pages != 4 || !slices.Equal(got, want) {
		t.Errorf("%d pages with %q, want %q", pages, got, want)
	}
	first := text(t, ask(s, "GET", "/object/?limit=7", "Accept: text/html"))
	if strings.Count(first, "<li>") != 7 || !strings.Contains(first, `rel="next"`) || !strings.Contains(first, "limit=7") || strings.Contains(first, "First page") {
		t.Errorf("first page: %s", first)
	}
	if r := ask(s, "GET", "/person/"); r.StatusCode != 200 || !strings.Contains(text(t, r), `"items":[]`) {
		t.Error("an endpoint without records")
	}
}
