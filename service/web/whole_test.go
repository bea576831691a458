package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/service/download"
	"ropewalk/service/harvest"
)

// titles is an oai_dc of titles alone.
func titles() harvest.Format {
	return harvest.Format{Prefix: "oai_dc", Schema: "http://www.openarchives.org/OAI/2.0/oai_dc.xsd", Namespace: "http://www.openarchives.org/OAI/2.0/oai_dc/", Always: true,
		Append: func(dst []byte, r *service.Record, _ *entity.Document) ([]byte, error) {
			dst = append(dst, `<oai_dc:dc xmlns:oai_dc="http://www.openarchives.org/OAI/2.0/oai_dc/" xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>`...)
			return append(append(dst, r.Label...), "</dc:title></oai_dc:dc>\n"...), nil
		}}
}

// whole is a server with everything for those who take everything.
func whole(t testing.TB) *Server {
	t.Helper()
	store := newStore(t)
	publish(t, store, live(t, "object/lost", "Lost vane"))
	publish(t, store, readable(t)...)
	dir := t.TempDir()
	if _, err := download.Make(context.Background(), store, dir, download.Options{Site: testSite, Kinds: download.Kinds()}); err != nil {
		t.Fatal(err)
	}
	site := testSite
	site.Sets = []service.Set{{Spec: "a", Name: "A"}}
	s, err := New(Options{Site: site, Store: store, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Formats: []harvest.Format{titles()},
		Harvest: harvest.Limits{Records: 5}, Downloads: dir, Limits: Limits{BodyBytes: 600}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// readable are the records without one whose IRI no document can have.
func readable(t testing.TB) []*service.Record {
	return slices.DeleteFunc(records(t), func(r *service.Record) bool { return strings.Contains(r.IRI, " ") })
}

func post(s *Server, target, contentType, body string, headers ...string) *http.Response {
	r := httptest.NewRequest("POST", target, strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

const form1 = "application/x-www-form-urlencoded"

// TestHarvesting is what §3.1 of OAI-PMH says of HTTP.
func TestHarvesting(t *testing.T) {
	s := whole(t)
	body := func(r *http.Response) string {
		t.Helper()
		if r.StatusCode != 200 || r.Header.Get("Content-Type") != "text/xml; charset=utf-8" {
			t.Fatalf("%d %s", r.StatusCode, r.Header.Get("Content-Type"))
		}
		text := unpack(t, r)
		// The date of the response may differ.
		from, to := strings.Index(text, "<responseDate>"), strings.Index(text, "</responseDate>")
		return text[:from] + text[to+len("</responseDate>"):]
	}
	const list = "verb=ListRecords&metadataPrefix=rdf"
	want := body(ask(s, "GET", "/harvest?"+list))
	if strings.Count(want, "<record>") != 5 || !strings.Contains(want, "<rdf:RDF") || !strings.Contains(want, `<request verb="ListRecords" metadataPrefix="rdf">`+base+"harvest</request>") {
		t.Fatalf("%s", want)
	}
	// Tokens in both carry the time, so compare what stands before.
	cut := func(text string) string { before, _, _ := strings.Cut(text, "<resumptionToken"); return before }
	for _, r := range []*http.Response{
		post(s, "/harvest", form1, list), post(s, "/harvest", form1+"; charset=UTF-8", list), post(s, "/harvest?verb=ListRecords", form1, "metadataPrefix=rdf"), post(s, "/harvest?"+list, form1, ""),
		ask(s, "GET", "/harvest?"+list, "Accept-Encoding: gzip"), ask(s, "GET", "/harvest?"+list, "Accept-Encoding: zstd"), ask(s, "GET", "/harvest?"+list, "Accept: application/json"),
	} {
		if got := body(r); cut(got) != cut(want) {
			t.Errorf("%s\n%s", got, want)
		}
	}
	if r := ask(s, "GET", "/harvest?"+list, "Accept-Encoding: gzip"); r.Header.Get("Content-Encoding") != "gzip" || !strings.Contains(vary(r), "Accept-Encoding") {
		t.Errorf("%v", r.Header)
	}
	for target, code := range map[string]string{"/harvest": "badVerb", "/harvest?verb=Identify&verb=Identify": "badVerb", "/harvest?verb=Identify;a": "badVerb", "/harvest?verb=GetRecord": "badArgument"} {
		if got := body(ask(s, "GET", target)); !strings.Contains(got, `<error code="`+code+`">`) {
			t.Errorf("%s: %s", target, got)
		}
	}
	for _, c := range []struct {
		r    *http.Response
		want int
	}{
		{post(s, "/harvest", "application/json", "{}"), 400}, {post(s, "/harvest", "", list), 400}, {post(s, "/harvest", form1, list+strings.Repeat("&a=b", 300)), 413},
		{ask(s, "PUT", "/harvest"), 405}, {ask(s, "HEAD", "/harvest?"+list), 200}, {ask(s, "OPTIONS", "/harvest"), 204}, {post(s, "/object/KQ.1911.4", form1, ""), 405},
		{ask(s, "GET", "/harvest?a="+strings.Repeat("x", 2000)), 414}, {ask(s, "GET", "/harvest?"+list, "Accept-Encoding: identity;q=0, br"), 406}, {ask(s, "GET", "/harvest/"), 404}, {ask(served(t), "GET", "/harvest?"+list), 404},
	} {
		if c.r.StatusCode != c.want {
			t.Errorf("%d, want %d", c.r.StatusCode, c.want)
		}
	}
	if got := ask(s, "OPTIONS", "/harvest").Header.Get("Allow"); got != "GET, HEAD, OPTIONS, POST" {
		t.Errorf("Allow: %s", got)
	}
	if got := ask(s, "PUT", "/harvest").Header.Get("Allow"); got != "GET, HEAD, OPTIONS, POST" {
		t.Errorf("Allow: %s", got)
	}

	// To the end of the list, by tokens that fit into an address.
	n := strings.Count(want, "<record>")
	for text, rounds := want, 0; ; rounds++ {
		var r struct {
			Token string `xml:"ListRecords>resumptionToken"`
		}
		if err := xml.Unmarshal([]byte(text), &r); err != nil || rounds > 20 {
			t.Fatal(err, rounds)
		}
		if r.Token == "" {
			break
		}
		text = body(ask(s, "GET", "/harvest?verb=ListRecords&resumptionToken="+r.Token))
		n += strings.Count(text, "<record>")
	}
	if n != len(readable(t)) {
		t.Errorf("%d records", n)
	}
}

func TestHarvestUnavailable(t *testing.T) {
	s, err := New(Options{Site: testSite, Store: down{newStore(t)}, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Formats: []harvest.Format{titles()}})
	if err != nil {
		t.Fatal(err)
	}
	r := ask(s, "GET", "/harvest?verb=ListRecords&metadataPrefix=rdf")
	if r.StatusCode != 503 || r.Header.Get("Retry-After") == "" { // §3.1.2.2
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
}

type down struct{ service.Store }

func (down) Earliest(context.Context) (time.Time, error) {
	return time.Time{}, service.Errorf(service.Unavailable, "the database is away")
}

func TestChangeStream(t *testing.T) {
	s := whole(t)
	r := ask(s, "GET", "/changes")
	var c struct {
		Total   int64 `json:"totalItems"`
		Last    struct{ ID string }
		SeeAlso []struct{ ID string }
	}
	if err := json.NewDecoder(r.Body).Decode(&c); err != nil || c.Total < int64(len(readable(t))) || c.Last.ID != base+"changes/1" || c.SeeAlso[0].ID != base+"downloads/description.jsonld" {
		t.Errorf("%v %+v", err, c)
	}
	if got := r.Header.Get("Content-Type"); got != `application/ld+json;profile="http://iiif.io/api/discovery/1/context.json"` {
		t.Errorf("%s", got)
	}
	r = ask(s, "GET", "/changes/1")
	var p struct {
		Items []struct{ Type string } `json:"orderedItems"`
	}
	if err := json.NewDecoder(r.Body).Decode(&p); err != nil || int64(len(p.Items)) != c.Total {
		t.Errorf("%v %d", err, len(p.Items))
	}
	if again := ask(s, "GET", "/changes/1", "If-None-Match: "+r.Header.Get("ETag")); again.StatusCode != 304 {
		t.Errorf("%d", again.StatusCode)
	}
	for _, target := range []string{"/changes/", "/changes/0", "/changes/2", "/changes/x", "/changes/1/1"} {
		if r := ask(s, "GET", target); r.StatusCode != 404 {
			t.Errorf("%s: %d", target, r.StatusCode)
		}
	}
	if r := ask(s, "POST", "/changes"); r.StatusCode != 405 {
		t.Errorf("%d", r.StatusCode)
	}
}

func TestDownloads(t *testing.T) {
	s := whole(t)
	r := ask(s, "GET", "/downloads/", "Accept: application/json")
	var list struct {
		Counts download.Counts
		Files  []struct {
			Name, Href, SHA256 string
			Bytes              int64
		}
	}
	if err := json.NewDecoder(r.Body).Decode(&list); err != nil || len(list.Files) != 12 || list.Counts.Documents != 17 {
		t.Fatalf("%v %+v", err, list)
	}
	sums := unpack(t, ask(s, "GET", "/downloads/SHA256SUMS"))
	for _, f := range list.Files {
		r := ask(s, "GET", "/downloads/"+f.Href)
		data, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		if r.StatusCode != 200 || int64(len(data)) != f.Bytes || hex.EncodeToString(sum[:]) != f.SHA256 || !strings.Contains(sums, f.SHA256+"  "+f.Name+"\n") || r.Header.Get("Accept-Ranges") != "bytes" {
			t.Errorf("%s: %d, %d bytes, %v", f.Name, r.StatusCode, len(data), r.Header)
		}
		if r.Header.Get("Content-Encoding") != "" {
			t.Errorf("%s is packed twice", f.Name)
		}
		tag := r.Header.Get("ETag")
		part := ask(s, "GET", "/downloads/"+f.Href, "Range: bytes=10-19", "If-Range: "+tag)
		if got, _ := io.ReadAll(part.Body); part.StatusCode != 206 || string(got) != string(data[10:20]) || part.Header.Get("Content-Range") != fmt.Sprintf("bytes 10-19/%d", len(data)) {
			t.Errorf("%s: %d %v", f.Name, part.StatusCode, part.Header)
		}
		for _, c := range []struct {
			header string
			want   int
		}{{"Range: bytes=999999999-", 416}, {"If-None-Match: " + tag, 304}, {`If-Match: "x"`, 412}, {"Range: bytes=5-", 206}, {"Range: lines=1-2", 416}} {
			if r := ask(s, "GET", "/downloads/"+f.Href, c.header); r.StatusCode != c.want {
				t.Errorf("%s, %s: %d, want %d", f.Name, c.header, r.StatusCode, c.want)
			}
		}
		if r := ask(s, "GET", "/downloads/"+f.Href, "Range: bytes=10-19", `If-Range: "other"`); r.StatusCode != 200 {
			t.Errorf("%s: a part of another file", f.Name)
		}
		if r := ask(s, "HEAD", "/downloads/"+f.Href); r.StatusCode != 200 || r.ContentLength != f.Bytes {
			t.Errorf("%s: %d, %d", f.Name, r.StatusCode, r.ContentLength)
		}
	}
	html := unpack(t, ask(s, "GET", "/downloads/", "Accept: text/html"))
	for _, want := range []string{`<a href="records.nt.gz" type="application/gzip">records.nt.gz</a>`, "17 records", "SHA256SUMS"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %s:\n%s", want, html)
		}
	}
	if r := ask(s, "GET", "/downloads"); r.StatusCode != 301 || r.Header.Get("Location") != "downloads/" {
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
	for _, target := range []string{"/downloads/none", "/downloads/current.json", "/downloads/..%2Fcurrent.json", "/downloads/%2e%2e/current.json", "/downloads/sitemap.xml", "/downloads/a/b", "/sitemap-2.xml.gz", "/sitemap-0.xml.gz", "/sitemap-.xml.gz"} {
		if r := ask(s, "GET", target); r.StatusCode != 404 {
			t.Errorf("%s: %d", target, r.StatusCode)
		}
	}
	if r := ask(served(t), "GET", "/downloads/"); r.StatusCode != 404 {
		t.Errorf("%d", r.StatusCode)
	}
}

func TestDescriptionAndSitemaps(t *testing.T) {
	s := whole(t)
	for accept, want := range map[string]string{"": "text/turtle; charset=utf-8", "*/*": "text/turtle; charset=utf-8", "application/ld+json": "application/ld+json", "application/rdf+xml": "application/rdf+xml", "application/n-triples": "application/n-triples"} {
		r := ask(s, "GET", "/.well-known/void", "Accept: "+accept)
		text := unpack(t, r)
		if r.StatusCode != 200 || r.Header.Get("Content-Type") != want || !strings.HasPrefix(r.Header.Get("Content-Location"), "../downloads/description.") || vary(r) != "Accept" || !strings.Contains(text, "triples") {
			t.Errorf("%s: %d %v", accept, r.StatusCode, r.Header)
		}
	}
	if r := ask(s, "GET", "/.well-known/void", "Accept: image/png"); r.StatusCode != 406 {
		t.Errorf("%d", r.StatusCode)
	}
	if got := unpack(t, ask(s, "GET", "/robots.txt")); !strings.Contains(got, "\nSitemap: "+base+"sitemap.xml\n") || !strings.Contains(got, "Disallow: /coll/harvest\n") {
		t.Errorf("%s", got)
	}
	r := ask(s, "GET", "/sitemap.xml")
	if got := unpack(t, r); !strings.Contains(got, "<loc>"+base+"sitemap-1.xml.gz</loc>") || r.Header.Get("Content-Type") != "application/xml" {
		t.Errorf("%s", got)
	}
	if r := ask(s, "GET", "/sitemap-1.xml.gz"); r.StatusCode != 200 || r.Header.Get("Content-Type") != "application/gzip" || r.Header.Get("Content-Encoding") != "" {
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
	if !service.Reserved("sitemap-1.xml.gz") || service.Reserved("sitemap-1.xml") || service.Reserved("object/sitemap-1.xml.gz") {
		t.Error("sitemaps need their addresses")
	}
	var home struct {
		Services []struct{ Name, Href string }
	}
	if err := json.NewDecoder(ask(s, "GET", "/", "Accept: application/json").Body).Decode(&home); err != nil || len(home.Services) != 4 {
		t.Errorf("%v %+v", err, home)
	}
	for _, v := range home.Services {
		if r := ask(s, "GET", "/"+v.Href); r.StatusCode != 200 {
			t.Errorf("%s: %d", v.Href, r.StatusCode)
		}
	}
	html := unpack(t, ask(s, "GET", "/", "Accept: text/html"))
	if !strings.Contains(html, `href="changes"`) || !strings.Contains(html, `href="downloads/"`) {
		t.Errorf("%s", html)
	}
	if got := ask(s, "GET", "/").Header["Link"]; !slices.Contains(got, `<.well-known/void>; rel="describedby"; type="text/turtle"`) {
		t.Errorf("%v", got)
	}
}

// TestSignposting: the links of a landing page and of a metadata resource (FAIR
// Signposting Profile, level 1).
func TestSignposting(t *testing.T) {
	store := newStore(t)
	r := live(t, "object/1", "Globe")
	image := func(format, iri string) string {
		return `{"type":"VisualItem","digitally_shown_by":[{"type":"DigitalObject","format":"` + format + `","access_point":[{"id":"` + iri + `","type":"DigitalObject"}]}]}`
	}
	r.Body = []byte(strings.Replace(string(r.Body), `"_label"`, `"representation":[`+image("image/jpeg", "https://img.example/1.jpg?a=1&b=é")+","+image("no type", "https://img.example/2")+","+image("image/png; q=1", `https://img.example/a,b;c>`)+","+image("image/png", "ftp://img.example/4")+
		`],"subject_of":[{"type":"LinguisticObject","digitally_carried_by":[{"type":"DigitalObject","format":"text/html","access_point":[{"id":"https://page.example/","type":"DigitalObject"}]}]}],"_label"`, 1))
	r.Body = []byte(strings.ReplaceAll(string(r.Body), "a,b;c>", "a,b;c"))
	publish(t, store, r)
	s := newServer(t, store, io.Discard, Limits{})
	links := func(accept string) []string {
		return strings.Split(ask(s, "GET", "/object/1", "Accept: "+accept).Header.Get("Link"), ", ")
	}
	landing, meta := links("text/html"), links("text/turtle")
	for _, want := range []string{
		`<` + base + `object/1>; rel="cite-as"`, `<1.jsonld>; rel="describedby"; type="application/ld+json"; profile="https://linked.art/ns/v1/linked-art.json"`, `<1.ttl>; rel="describedby"; type="text/turtle"`,
		`<https://schema.org/AboutPage>; rel="type"`, `<http://www.cidoc-crm.org/cidoc-crm/E22_Human-Made_Object>; rel="type"`, `<https://creativecommons.org/publicdomain/zero/1.0/>; rel="license"`, `<` + base + `>; rel="collection"`,
		`<https://img.example/1.jpg?a=1&b=%C3%A9>; rel="item"; type="image/jpeg"`, `<https://img.example/2>; rel="item"`, `<https://img.example/a,b;c>; rel="item"; type="image/png"`,
	} {
		if !slices.Contains(landing, want) {
			t.Errorf("the landing page lacks %s:\n%s", want, strings.Join(landing, "\n"))
		}
	}
	for _, not := range []string{"ftp:", "page.example", `rel="describes"`} {
		if strings.Contains(strings.Join(landing, "\n"), not) {
			t.Errorf("the landing page has %s", not)
		}
	}
	if !slices.Contains(meta, `<`+base+`object/1>; rel="describes"; type="text/html"`) || strings.Contains(strings.Join(meta, "\n"), "AboutPage") {
		t.Errorf("%s", strings.Join(meta, "\n"))
	}
}

func TestHeaderURI(t *testing.T) {
	for in, want := range map[string]string{
		"https://a.example/b c": "https://a.example/b%20c", "https://a.example/é?é#x": "https://a.example/%C3%A9?%C3%A9#x", "https://a.example/?a=\">": "", "https://a.example/\">": "https://a.example/%22%3E",
		"javascript:alert(1)": "", "https://a.example/\n": "", "//a.example": "", "https://a.example/?\xc3\x28": "https://a.example/?%C3(", "https://a.example/?a b": "",
	} {
		if got, ok := headerURI(in); got != want || ok != (want != "") {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
