//go:build linux

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Several servers on one database, each with the site in a folder of its own.
func TestReplicas(t *testing.T) {
	if !long() {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	c := startDatabase(t, "fsync=off")
	const rows = 600
	store := storeEnv + "=" + c.URL("")
	one := newSite(t, t.TempDir(), store)
	one.generation(0, rows)
	one.publish()
	folder := filepath.Join(one.dir, "downloads")
	two := newSite(t, t.TempDir(), store)
	two.generation(0, rows)
	sharing := newSite(t, t.TempDir(), store, downloadsEnv+"="+folder)
	sharing.generation(0, rows)
	a, b, s := one.serve(), two.serve(), sharing.serve()

	t.Run("downloads", func(t *testing.T) {
		for _, r := range []*replica{a, s} {
			if res, body := r.get("/downloads/"); res.StatusCode != 200 || !strings.Contains(body, `"number":1`) {
				t.Errorf("%s %s", res.Status, body)
			}
			if _, body := r.get("/healthz"); !strings.Contains(body, `"publication":1,"downloads":1}`) {
				t.Error(body)
			}
			if said := r.errors(); said != "" {
				t.Error(said)
			}
		}
		if said := b.errors(); !strings.Contains(said, "There are no downloads in "+filepath.Join(two.dir, "downloads")+", though publication 1 is published") || !strings.Contains(said, downloadsEnv) {
			t.Errorf("a server without downloads says %q", said)
		}
		for _, path := range []string{"/downloads/", "/downloads/records.nt.gz", "/downloads/SHA256SUMS", "/sitemap.xml", "/.well-known/void"} {
			if res, body := b.get(path); res.StatusCode != 404 || !strings.Contains(body, "publication 1 are not at this server") {
				t.Errorf("%s: %s %s", path, res.Status, body)
			}
		}
		if _, body := b.get("/healthz"); !strings.Contains(body, `"publication":1,"downloads":0}`) {
			t.Error(body)
		}
		// A copy that was not renewed: what it offers is whole, and says what it is.
		if err := os.CopyFS(filepath.Join(two.dir, "downloads"), os.DirFS(folder)); err != nil {
			t.Fatal(err)
		}
		one.generation(1, rows)
		one.publish()
		if res, body := b.get("/downloads/"); res.StatusCode != 200 || !strings.Contains(body, `"number":1`) {
			t.Errorf("%s %s", res.Status, body)
		}
		if _, body := b.get("/healthz"); !strings.Contains(body, `"publication":2,"downloads":1}`) {
			t.Error(body)
		}
		if _, body := s.get("/healthz"); !strings.Contains(body, `"publication":2,"downloads":2}`) {
			t.Error(body)
		}
		late := two.serve()
		defer late.stop()
		if said := late.errors(); !strings.Contains(said, "are those of publication 1; published is publication 2") {
			t.Errorf("a server with old downloads says %q", said)
		}
	})

	t.Run("tokens", func(t *testing.T) {
		replicas := []*replica{a, b, s}
		var h harvesting
		for h.page(replicas[h.pages%3]) {
			if h.pages == 2 { // of what comes after, all is of a new publication
				one.generation(2, rows)
				one.publish()
			}
			if h.pages == 4 {
				replicas[0].stop()
				a = one.serve()
				replicas[0] = a
			}
		}
		h.complete(t, 2, rows)
		if h.pages < 7 {
			t.Errorf("%d pages", h.pages)
		}
	})

	t.Run("publishers", func(t *testing.T) { publishTogether(t, one, sharing, c.URL(""), folder, 2, rows) })

	t.Run("database gone", func(t *testing.T) {
		paths := []string{"/", "/concept/", "/concept/7", "/concept/7.nt", "/timemap/concept/7", "/healthz", "/changes", "/harvest?verb=Identify", "/harvest?verb=ListRecords&metadataPrefix=rdf"}
		for _, crash := range []bool{false, true} {
			var h harvesting
			h.page(a)
			if err := c.Stop(crash); err != nil {
				t.Fatal(err)
			}
			for _, r := range []*replica{a, b} {
				for _, path := range paths {
					res, body := r.get(path)
					if res.StatusCode != 503 || res.Header.Get("Retry-After") == "" || strings.Contains(body, "127.0.0.1") {
						t.Errorf("crash %v: %s: %s, Retry-After %q, %.300s", crash, path, res.Status, res.Header.Get("Retry-After"), body)
					}
				}
				if res, _ := r.get("/harvest?verb=ListRecords&resumptionToken=" + h.token); res.StatusCode != 503 {
					t.Errorf("a token: %s", res.Status)
				}
			}
			// What needs no database is served on.
			if res, _ := s.get("/downloads/records.nt.gz"); res.StatusCode != 200 {
				t.Errorf("a download: %s", res.Status)
			}
			said, code := one.run("publish", one.dir)
			if code != exitProblems || !strings.Contains(said, "store postgres://127.0.0.1") {
				t.Errorf("publish: exit %d, %s", code, said)
			}
			if err := c.Run(); err != nil {
				t.Fatal(err)
			}
			for _, r := range []*replica{a, b} {
				for _, path := range paths {
					if res, body := r.get(path); res.StatusCode != 200 {
						t.Errorf("crash %v: the database is back, and %s: %s, %.300s", crash, path, res.Status, body)
					}
				}
			}
			for h.page(b) {
			}
			generation, _ := published(t, c.URL(""), rows)
			h.complete(t, generation, rows)
			one.generation(generation+10, rows)
			one.publish()
		}
	})
}

// Two publishers of one SQLite store at once.
func TestPublishTogether(t *testing.T) {
	const rows = 200
	one := newSite(t, t.TempDir())
	one.generation(0, rows)
	one.publish()
	store := filepath.Join(one.dir, "store", "ropewalk.db")
	two := newSite(t, t.TempDir(), storeEnv+"="+store)
	publishTogether(t, one, two, store, filepath.Join(one.dir, "store", "downloads"), 1, rows)
}

// publishTogether lets two publish at the same time: one after the other does, and the
// downloads are those of the last.
func publishTogether(t *testing.T, one, two *siteDir, store, downloads string, rounds, rows int) {
	t.Helper()
	_, number := published(t, store, rows)
	for round := range rounds {
		one.generation(1000+round, rows)
		two.generation(2000+round, rows)
		type outcome struct {
			said string
			code int
		}
		ended := make(chan outcome, 2)
		for _, d := range []*siteDir{one, two} {
			go func() {
				out, err := d.command("publish", d.dir).CombinedOutput()
				code := 0
				if err != nil {
					code = 1
				}
				ended <- outcome{string(out), code}
			}()
		}
		var said []string
		for range 2 {
			o := <-ended
			if o.code != exitClean {
				t.Errorf("exit %d\n%s", o.code, o.said)
			}
			said = append(said, o.said)
		}
		all := strings.Join(said, "")
		for i := range int64(2) {
			number++
			if !strings.Contains(all, fmt.Sprintf("Publication %d of", number)) {
				t.Errorf("%d: nobody made publication %d:\n%s", i, number, all)
			}
		}
		generation, n := published(t, store, rows)
		if n != number || generation != 1000+round && generation != 2000+round {
			t.Errorf("generation %d is published as %d, want publication %d", generation, n, number)
		}
		if made, of := one.shelf(downloads, rows); made != n || of != generation {
			t.Errorf("the downloads are those of publication %d, generation %d; published is %d, %d", made, of, n, generation)
		}
	}
	s, err := openStore(store)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	all, err := s.Publications(context.Background(), 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range all {
		if i > 0 && (p.Number != all[i-1].Number-1 || !p.Time.Before(all[i-1].Time) || p.Last != all[i-1].First-1) {
			t.Errorf("%+v before %+v", p, all[i-1])
		}
	}
}
