package web

import (
	"fmt"
	"io"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// TestReady asks every question three times: of a server that keeps nothing, and twice of
// one that has heard all the others. Whatever is kept must not show.
func TestReady(t *testing.T) {
	paths := []string{"KQ.1911.4", "KQ.1911.4.jsonld", "KQ.1911.4.json", "KQ.1911.4.html", "KQ.1911.4.nt", "KQ.1911.4.rdf", "KQ.1911.ttl", "KQ.1911", "KQ.1911.4.none", "old", "lost.ttl", "z00"}
	accepts := []string{"", "Accept: */*", "Accept: text/turtle", "Accept: text/html,*/*;q=0.5", "Accept: application/ld+json", "Accept: image/png", "Accept: -",
		`Accept: application/ld+json;profile="` + flattenedURI + `"`}
	codings := []string{"", "Accept-Encoding: ", "Accept-Encoding: gzip", "Accept-Encoding: zstd, gzip", "Accept-Encoding: identity;q=0", "Accept-Encoding: -"}
	store := newStore(t)
	publish(t, store, live(t, "object/lost", "Lost vane"))
	publish(t, store, records(t)...)
	used, forgetful := newServer(t, store, io.Discard, Limits{}), newServer(t, store, io.Discard, Limits{})
	type seen struct {
		status int
		header http.Header
		body   string
	}
	get := func(s *Server, method, path string, headers ...string) seen {
		forgetful.ready.Clear()
		r := ask(s, method, "/object/"+path, slices.DeleteFunc(slices.Clone(headers), func(h string) bool { return h == "" })...)
		return seen{r.StatusCode, r.Header, text(t, r)}
	}
	same := func(what string, a, b seen) {
		t.Helper()
		if a.status != b.status || a.body != b.body || !maps.EqualFunc(a.header, b.header, slices.Equal) {
			t.Errorf("%s:\n%d %v\nwithout anything kept\n%d %v", what, b.status, b.header, a.status, a.header)
		}
	}
	asked := 0
	for _, path := range paths {
		for _, accept := range accepts {
			for _, coding := range codings {
				what := fmt.Sprintf("%s %s %s", path, accept, coding)
				fresh := get(forgetful, "GET", path, accept, coding)
				same(what, fresh, get(used, "GET", path, accept, coding))
				same(what+" again", fresh, get(used, "GET", path, accept, coding))
				if fresh.status != 200 {
					continue
				}
				asked++
				for _, condition := range []string{"If-None-Match: " + fresh.header.Get("Etag"), `If-Match: "other"`, "If-Modified-Since: " + fresh.header.Get("Last-Modified"), "If-None-Match: *"} {
					same(what+" "+condition, get(forgetful, "GET", path, accept, coding, condition), get(used, "GET", path, accept, coding, condition))
				}
				if head := get(used, "HEAD", path, accept, coding); head.body != "" || head.status != 200 {
					t.Errorf("HEAD %s: %d, %d bytes", what, head.status, len(head.body))
				}
			}
		}
	}
	if asked < 200 {
		t.Errorf("only %d of the questions have an answer", asked)
	}
}

// TestReadyChanges publishes between questions: what is kept of a record must not outlive
// its version, nor hide a record that takes an address over.
func TestReadyChanges(t *testing.T) {
	store := newStore(t)
	s := newServer(t, store, io.Discard, Limits{})
	want := func(path string, status int, label string) {
		t.Helper()
		for range 2 {
			for _, accept := range []string{"application/ld+json", "text/turtle", "text/html"} {
				r := ask(s, "GET", "/object/"+path, "Accept: "+accept)
				if body := text(t, r); r.StatusCode != status || !strings.Contains(body, label) {
					t.Errorf("%s as %s: %d, without %q", path, accept, r.StatusCode, label)
				}
			}
		}
	}
	want("a", 404, "")
	want("a.ttl", 404, "")
	publish(t, store, live(t, "object/a", "First"))
	want("a", 200, "First")
	want("a.ttl", 200, "First")
	publish(t, store, live(t, "object/a", "Second"))
	want("a", 200, "Second")
	want("a.ttl", 200, "Second")
	publish(t, store, live(t, "object/a", "Second"), live(t, "object/a.ttl", "Called so"))
	want("a", 200, "Second")
	want("a.ttl", 200, "Called so")
	publish(t, store, live(t, "object/a.ttl", "Called so"))
	want("a", 410, "")
	want("a.ttl", 200, "Called so")
}
