package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/piprate/json-gold/ld"

	"ropewalk/service"
)

// graph is the canonical N-Quads of a JSON-LD document, read with the profile's
// context and nothing from outside.
func graph(t *testing.T, s *shapes, body []byte) string {
	t.Helper()
	doc, err := ld.DocumentFromReader(bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	o := s.options()
	o.Algorithm = ld.AlgorithmURDNA2015
	o.Format = "application/n-quads"
	out, err := ld.NewJsonLdProcessor().Normalize(doc, o)
	if err != nil {
		t.Fatal(err)
	}
	return out.(string)
}

// The shapes say what the document says, in the same bytes each time.
func TestShapes(t *testing.T) {
	s, err := newShapes()
	if err != nil {
		t.Fatal(err)
	}
	body := doc(base+"object/1", "Barometer & <glass>")
	want := graph(t, s, body)
	if n := strings.Count(want, "\n"); n < 9 {
		t.Fatalf("only %d statements:\n%s", n, want)
	}
	for name, c := range map[string]struct {
		derive func(*shapes, []byte) ([]byte, error)
		times  int
		check  func(any) bool
	}{
		"expanded":  {(*shapes).expanded, 20, func(v any) bool { l, ok := v.([]any); return ok && len(l) == 1 }},
		"flattened": {(*shapes).flattened, 20, func(v any) bool { l, ok := v.([]any); return ok && len(l) > 4 }},
		"framed": {(*shapes).framed, 2, func(v any) bool {
			m, ok := v.(map[string]any)
			return ok && m["id"] == base+"object/1" && m["type"] == "HumanMadeObject" && m["@context"] == "https://linked.art/ns/v1/linked-art.json"
		}},
	} {
		var first []byte
		for range c.times {
			out, err := c.derive(s, body)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if first == nil {
				first = out
				var v any
				if err := json.Unmarshal(out, &v); err != nil || !c.check(v) {
					t.Errorf("%s: %v: %s", name, err, out)
				}
				if got := graph(t, s, out); got != want {
					t.Errorf("%s says\n%s, want\n%s", name, got, want)
				}
			} else if !bytes.Equal(out, first) {
				t.Errorf("%s: %s, and before %s", name, out, first)
			}
		}
	}
	if bytes.Contains(body, []byte("\\u0026")) {
		t.Error("the sample is escaped")
	}
}

func TestShapesStayOffline(t *testing.T) {
	s, err := newShapes()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []string{`{"@context":"https://elsewhere.example/context.json","id":"https://x.example/1"}`, `{"id":"https://x.example/1"}`, `[]`, `{`} {
		if _, err := s.expanded([]byte(c)); err == nil {
			t.Errorf("%s was expanded", c)
		}
	}
	if _, err := (embedded{}).LoadDocument("https://elsewhere.example/"); err == nil {
		t.Error("a foreign context was loaded")
	}
}

// Slow forms wait for their turn, not for ever; others go on meanwhile. A tag
// spares the work.
func TestSlowLimits(t *testing.T) {
	store := newStore(t)
	publish(t, store, records(t)...)
	s := newServer(t, store, io.Discard, Limits{SlowWait: 10 * time.Millisecond})
	accept := `Accept: application/ld+json;profile="` + expandedURI + `"`
	worker := <-s.slow // all workers are busy
	r := ask(s, "GET", "/object/KQ.1911.4", accept)
	if r.StatusCode != 503 || r.Header.Get("Retry-After") == "" || r.Header.Get("Etag") != "" {
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
	if r := ask(s, "GET", "/object/KQ.1911.4.ttl"); r.StatusCode != 200 {
		t.Errorf("another form: %d", r.StatusCode)
	}
	head := ask(s, "HEAD", "/object/KQ.1911.4", accept)
	if head.StatusCode != 200 || head.Header.Get("Etag") == "" {
		t.Errorf("HEAD: %d", head.StatusCode)
	}
	if r := ask(s, "GET", "/object/KQ.1911.4", accept, "If-None-Match: "+head.Header.Get("Etag")); r.StatusCode != 304 {
		t.Errorf("with a tag: %d", r.StatusCode)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.derived(ctx, &service.Record{}, s.forms[0]); service.CodeOf(err) != service.Unavailable {
		t.Errorf("a reader who went away: %v", err)
	}
	s.slow <- worker
	if r := ask(s, "GET", "/object/KQ.1911.4", accept); r.StatusCode != 200 || r.Header.Get("Etag") != head.Header.Get("Etag") {
		t.Errorf("free again: %d", r.StatusCode)
	}
	small := newServer(t, store, io.Discard, Limits{SlowBytes: 100})
	if r := ask(small, "GET", "/object/KQ.1911.4", accept); r.StatusCode != 406 {
		t.Errorf("too large a document: %d", r.StatusCode)
	}
}

// The context of the home document makes sense to a JSON-LD processor.
func TestHomeContext(t *testing.T) {
	s := served(t)
	shapes, err := newShapes()
	if err != nil {
		t.Fatal(err)
	}
	got := graph(t, shapes, []byte(text(t, ask(s, "GET", "/", "Accept: application/ld+json"))))
	for _, want := range []string{
		"<" + base + "> <http://purl.org/dc/terms/license> <" + testSite.Licence + "> .",
		"<" + base + `> <http://purl.org/dc/terms/title> "Museum of Wind" .`,
		"<" + base + `> <http://purl.org/dc/terms/modified> "2021-05-06T07:08:10Z"^^<http://www.w3.org/2001/XMLSchema#dateTime> .`,
		"<" + base + "> <http://www.w3.org/1999/02/22-rdf-syntax-ns#type> <http://www.w3.org/ns/dcat#Dataset> .",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is not in\n%s", want, got)
		}
	}
}

// TestPublishWhileServing reads over HTTP while publications land: every response
// is of one publication, and none of an older one than was seen before.
func TestPublishWhileServing(t *testing.T) {
	store := newStore(t)
	const rounds, things = 12, 30
	run := func(n int) {
		var recs []*service.Record
		for i := range things {
			if i == things-1 && n%2 == 1 {
				continue
			}
			recs = append(recs, live(t, fmt.Sprintf("object/%02d", i), fmt.Sprintf("Round %03d", n)))
		}
		publish(t, store, recs...)
	}
	run(0)
	s := newServer(t, store, io.Discard, Limits{})
	srv := httptest.NewServer(s)
	defer srv.Close()
	var done atomic.Bool
	var answers atomic.Int64
	var wg sync.WaitGroup
	for g := range 3 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			last := -1
			for i := 0; !done.Load() || i < 20; i++ {
				suffix := []string{".jsonld", ".ttl", ".html", ".nt"}[(i+g)%4]
				r, err := srv.Client().Get(fmt.Sprintf("%s/object/%02d%s", srv.URL, i%(things-1), suffix))
				if err != nil {
					t.Error(err)
					return
				}
				b, err := io.ReadAll(r.Body)
				r.Body.Close()
				if err != nil || r.StatusCode != 200 {
					t.Errorf("%d, %v", r.StatusCode, err)
					return
				}
				at := bytes.Index(b, []byte("Round "))
				if at < 0 {
					t.Errorf("no round in %s", b)
					return
				}
				var round int
				if _, err := fmt.Sscanf(string(b[at:at+9]), "Round %d", &round); err != nil {
					t.Error(err)
					return
				}
				if n := bytes.Count(b, []byte("Round ")); n != bytes.Count(b, fmt.Appendf(nil, "Round %03d", round)) || round < last {
					t.Errorf("round %d after %d, mixed: %s", round, last, b)
					return
				}
				last = round
				answers.Add(1)
				if r, err := srv.Client().Get(fmt.Sprintf("%s/object/%02d", srv.URL, things-1)); err != nil || r.StatusCode != 200 && r.StatusCode != 410 {
					t.Errorf("the coming and going record: %v, %v", r, err)
					return
				} else {
					_, _ = io.Copy(io.Discard, r.Body)
					r.Body.Close()
				}
			}
		}()
	}
	for n := 1; n < rounds; n++ {
		run(n)
		runtime.Gosched()
	}
	done.Store(true)
	wg.Wait()
	if answers.Load() < 60 {
		t.Errorf("only %d answers", answers.Load())
	}
}

// FuzzServe throws paths and headers at the server: it answers all, panics at none,
// and what it says is well formed.
func FuzzServe(f *testing.F) {
	s := served(f)
	for _, p := range []string{"/", "/object/KQ.1911.4", "/object/KQ.1911.4.ttl", "/object/%C3%96%201", "/object/?after=b2JqZWN0L2E", "//", "/a/../b", "/object/old.nt", "/%zz"} {
		f.Add(p, "text/html;q=0.5, */*", `"x"`)
	}
	f.Fuzz(func(t *testing.T, target, accept, tag string) {
		if strings.Contains(accept, "json-ld#") {
			t.Skip() // slow by design
		}
		r := httptest.NewRequest("GET", "/", nil)
		if !strings.HasPrefix(target, "/") {
			target = "/" + target
		}
		path, query, _ := strings.Cut(target, "?")
		r.URL.Path, r.URL.RawPath, r.URL.RawQuery = path, path, query
		r.Header.Set("Accept", accept)
		r.Header.Set("If-None-Match", tag)
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		resp := w.Result()
		if resp.StatusCode >= 500 {
			t.Fatalf("%d for %q", resp.StatusCode, target)
		}
		body, _ := io.ReadAll(resp.Body)
		if ct := resp.Header.Get("Content-Type"); strings.Contains(ct, "json") && !json.Valid(body) {
			t.Fatalf("%q gives broken JSON", target)
		}
	})
}
