package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"hash/crc32"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/charmap"

	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/service"
	"ropewalk/service/demo"
	"ropewalk/service/web"
)

// canary begins every token that stands in a withheld cell. Nothing the program
// writes may hold it, in any case: slugs are in lower case.
const canary = "kanarienvogel"

func leaked(b []byte) bool { return bytes.Contains(bytes.ToLower(b), []byte(canary)) }

// canaries writes the demo with a token in every withheld cell of every row, and
// returns how many there are, by column.
func canaries(t *testing.T, dir string) map[string]int {
	t.Helper()
	if err := demo.Write(dir); err != nil {
		t.Fatal(err)
	}
	s, diags := site.Load(os.DirFS(dir))
	if diags.Problems() > 0 {
		t.Fatal(diags)
	}
	planted := map[string]int{}
	for _, name := range s.Sources.Names() {
		src := s.Sources.Source(name)
		if len(src.Withheld) == 0 {
			continue
		}
		for _, f := range src.Files() {
			if f.Format != "csv" {
				t.Fatalf("%s: a withheld column in a file of a format that this test can't write", f.Name)
			}
			path := filepath.Join(dir, filepath.FromSlash(f.Name))
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if src.Encoding == "windows-1252" {
				if data, err = charmap.Windows1252.NewDecoder().Bytes(data); err != nil {
					t.Fatal(err)
				}
			}
			r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
			if src.Delimiter != "" {
				r.Comma = rune(src.Delimiter[0])
			}
			rows, err := r.ReadAll()
			if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
			for _, w := range src.Withheld {
				col := slices.Index(rows[0], w)
				if col < 0 {
					t.Fatalf("%s has no column %q", f.Name, w)
				}
				for i := range rows[1:] {
					planted[name+"."+w]++
					rows[i+1][col] = fmt.Sprintf("Kanarienvogel%dx%d", col, i)
				}
			}
			var out bytes.Buffer
			w := csv.NewWriter(&out)
			w.Comma = r.Comma
			if err := w.WriteAll(rows); err != nil {
				t.Fatal(err)
			}
			text := out.Bytes()
			if src.Encoding == "windows-1252" {
				if text, err = charmap.Windows1252.NewEncoder().Bytes(text); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.WriteFile(path, text, 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	return planted
}

// command runs a command in this process and fails if it says anything private.
func (c *canaryTest) command(args ...string) (code int, out string) {
	c.t.Helper()
	var stdout, stderr bytes.Buffer
	code = run(args, strings.NewReader(""), &stdout, &stderr)
	for name, b := range map[string]*bytes.Buffer{"stdout": &stdout, "stderr": &stderr} {
		if leaked(b.Bytes()) {
			c.t.Errorf("%s of %q holds a withheld cell: %s", name, args, around(b.Bytes()))
		}
	}
	c.commands++
	return code, stdout.String() + stderr.String()
}

func around(b []byte) string {
	i := bytes.Index(bytes.ToLower(b), []byte(canary))
	return string(b[max(0, i-80):min(len(b), i+80)])
}

type canaryTest struct {
	t        *testing.T
	commands int
	server   http.Handler
	base     string
	seen     map[string]bool
	queue    []string
	fetched  int
	kinds    map[string]int // responses by content type
	places   map[string]int // responses by what they are: see placeOf
	few      int            // if not 0, of the forms and versions of records one in so many is fetched
	near     string         // if not "", records are those of this path alone
	leaks    map[string]int // nil: a leak fails the test; otherwise they are counted like places
}

// placeOf is the part of the service that an address belongs to: the verb and format of
// a harvest, the name of a download, the suffix of a record's form.
func placeOf(target string) string {
	u, err := url.Parse(target)
	if err != nil {
		return ""
	}
	q := u.Query()
	switch first, rest, _ := strings.Cut(strings.TrimPrefix(u.Path, "/"), "/"); {
	case first == "harvest":
		return strings.TrimRight("harvest "+q.Get("verb")+" "+q.Get("metadataPrefix"), " ")
	case first == "downloads", first == ".well-known", first == "changes":
		return strings.TrimRight(first+" "+rest, " ")
	case rest == "":
		return first
	}
	for _, suffix := range []string{".lido.xml", ".edm.xml", ".dc.xml", ".schemaorg.json", ".jsonld", ".json", ".html", ".nt", ".nq", ".ttl", ".rdf"} {
		if strings.HasSuffix(u.Path, suffix) {
			return suffix
		}
	}
	return "record"
}

// found notes what holds a withheld cell.
func (c *canaryTest) found(target string, headers []string, text []byte) {
	if c.leaks != nil {
		c.leaks[placeOf(target)]++
		return
	}
	c.t.Errorf("%s %v holds a withheld cell: %s", target, headers, around(text))
}

// unpacked is what a file that is compressed as such, not for its way, holds.
func unpacked(t *testing.T, contentType string, body []byte) []byte {
	var r io.Reader = bytes.NewReader(body)
	var err error
	switch contentType {
	case "application/gzip", "gzip":
		r, err = gzip.NewReader(r)
	case "application/zstd", "zstd":
		r, err = zstd.NewReader(r)
	}
	if err != nil {
		t.Fatal(err)
	}
	if body, err = io.ReadAll(r); err != nil {
		t.Fatal(err)
	}
	return body
}

var (
	hrefs    = regexp.MustCompile(`(?:href|src|action)="([^"]*)"`)
	targets  = regexp.MustCompile(`<([^<>\s"]+)>`)
	jsonURLs = regexp.MustCompile(`"(?:href|next|id|first|last|prev|self|timegate|original|contentUrl|downloadURL|url)":\s*"([^"]+)"`)
	locs     = regexp.MustCompile(`<(?:loc|identifier|link)>([^<]+)</`)

	resumptions = regexp.MustCompile(`<resumptionToken[^>]*>([^<]+)</resumptionToken>`)
)

// fetch asks for one address, looks for tokens in everything that comes back, and
// queues all addresses of the site that are named there.
func (c *canaryTest) fetch(target string, headers ...string) {
	key := target + "\n" + strings.Join(headers, "\n")
	if c.seen[key] {
		return
	}
	c.seen[key] = true
	method := "GET"
	if len(headers) > 0 && !strings.Contains(headers[0], ":") {
		method, headers = headers[0], headers[1:]
	}
	r := httptest.NewRequest(method, "http://h"+target, nil)
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	w := httptest.NewRecorder()
	c.server.ServeHTTP(w, r)
	c.fetched++
	body := unpacked(c.t, w.Header().Get("Content-Encoding"), w.Body.Bytes())
	contentType, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";")
	c.kinds[contentType]++
	if w.Code == http.StatusOK {
		c.places[placeOf(target)]++
	}
	body = unpacked(c.t, contentType, body)
	var head bytes.Buffer
	if err := w.Header().Write(&head); err != nil {
		c.t.Fatal(err)
	}
	if leaked(body) || leaked(head.Bytes()) {
		c.found(target, headers, append(head.Bytes(), body...))
	}
	for _, l := range targets.FindAllStringSubmatch(strings.Join(w.Header()["Link"], ", "), -1) {
		c.follow(target, l[1])
	}
	for _, name := range []string{"Location", "Content-Location"} {
		if v := w.Header().Get(name); v != "" {
			c.follow(target, v)
		}
	}
	for _, m := range resumptions.FindAllSubmatch(body, -1) {
		verb, _, _ := strings.Cut(target[strings.Index(target, "verb=")+len("verb="):], "&")
		c.queue = append(c.queue, "/harvest?verb="+verb+"&resumptionToken="+string(m[1]))
	}
	for _, re := range []*regexp.Regexp{hrefs, jsonURLs, locs, targets} {
		if re == targets && contentType != "application/link-format" {
			continue
		}
		for _, l := range re.FindAllStringSubmatch(string(body), -1) {
			c.follow(target, strings.ReplaceAll(l[1], "&amp;", "&"))
		}
	}
}

// follow queues a reference if it leads to the site.
func (c *canaryTest) follow(from, ref string) {
	ref = strings.Replace(ref, c.base, "http://h/", 1)
	u, err := url.Parse("http://h" + from)
	if err != nil {
		return
	}
	to, err := u.Parse(ref)
	if err != nil || to.Host != "h" {
		return
	}
	to.Fragment = ""
	switch place := placeOf(to.RequestURI()); {
	case c.near != "" && (place == "record" || place[:min(1, len(place))] == ".") && !strings.HasPrefix(to.Path, c.near):
		return
	case c.few > 0 && (place[:min(1, len(place))] == "." || strings.HasPrefix(to.Path, "/memento/") || strings.HasPrefix(to.Path, "/timemap/")) && crc32.ChecksumIEEE([]byte(to.Path))%uint32(c.few) != 0:
		return
	}
	c.queue = append(c.queue, to.RequestURI())
}

func (c *canaryTest) crawl() {
	for len(c.queue) > 0 {
		next := c.queue[0]
		c.queue = c.queue[1:]
		c.fetch(next)
	}
}

// serve makes the server of a site that was published, as ropewalk serve does, whose
// log goes to a writer.
func (c *canaryTest) serve(dir string, log io.Writer) *site.Site {
	c.t.Helper()
	s, diags := site.Load(os.DirFS(dir))
	if diags.Problems() > 0 {
		c.t.Fatal(diags)
	}
	name := storePath(dir, s)
	store, err := openStore(name)
	if err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { _ = store.Close() })
	c.base = s.Base
	look := views(s)
	c.server, err = web.New(web.Options{Store: store, Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Site: serviceSite(s), Views: look, Formats: harvestFormats(look), Downloads: downloadsPath(dir, name)})
	if err != nil {
		c.t.Fatal(err)
	}
	return s
}

// harvested are the formats of harvesting.
var harvested = []string{"rdf", "oai_dc", "lido", "edm"}

// viewSuffixes end the addresses of the views of a record.
var viewSuffixes = []string{".lido.xml", ".edm.xml", ".dc.xml", ".schemaorg.json"}

// wholePlaces are the places (see placeOf) where what a record says stands, beside the
// record's own address.
func wholePlaces() []string {
	out := slices.Clone(viewSuffixes)
	for _, f := range harvested {
		out = append(out, "harvest ListRecords "+f, "harvest GetRecord "+f)
	}
	for _, k := range downloadKinds(nil) {
		out = append(out, "downloads records"+k.Suffix+".gz", "downloads records"+k.Suffix+".zst")
	}
	return out
}

// walkWhole goes to all that is for those who take the whole, and from there to wherever
// it leads.
func (c *canaryTest) walkWhole(ids [][]string, all bool) {
	c.queue = append(c.queue, "/", "/healthz", "/metrics", "/harvest", "/harvest?verb=Identify", "/harvest?verb=ListSets", "/harvest?verb=ListMetadataFormats", "/harvest?verb=Sing", "/harvest?verb=GetRecord",
		"/harvest?verb=ListRecords&resumptionToken=none", "/changes", "/changes/1", "/changes/2", "/downloads", "/downloads/", "/downloads/none", "/downloads/SHA256SUMS", "/.well-known/void", "/sitemap.xml", "/robots.txt",
		"/search?q=kanarienvo")
	for _, f := range harvested {
		for _, verb := range []string{"ListRecords", "ListIdentifiers"} {
			for _, more := range []string{"", "&set=objects", "&set=names", "&from=2020-01-01", "&until=2020-01-01"} {
				c.queue = append(c.queue, "/harvest?verb="+verb+"&metadataPrefix="+f+more)
			}
		}
	}
	host := strings.Trim(strings.TrimPrefix(c.base, "https://"), "/")
	for i, id := range ids {
		path := strings.TrimPrefix(id[1], c.base)
		if i%8 != 0 && !all && path != "object/1926.17" {
			continue
		}
		identifier := url.QueryEscape("oai:" + host + ":" + path)
		c.queue = append(c.queue, "/harvest?verb=ListMetadataFormats&identifier="+identifier)
		for _, f := range harvested {
			c.queue = append(c.queue, "/harvest?verb=GetRecord&metadataPrefix="+f+"&identifier="+identifier)
		}
	}
	c.crawl()
	for _, accept := range []string{"text/turtle", "application/ld+json", "application/rdf+xml", "application/n-triples", "image/png"} {
		c.fetch("/.well-known/void", "Accept: "+accept)
	}
	for _, accept := range []string{"text/html", "application/json", "image/png"} {
		c.fetch("/downloads/", "Accept: "+accept)
	}
	c.crawl()
}

// push pushes to a store that notes what it is sent.
func (c *canaryTest) push(dir string) {
	c.t.Helper()
	var mu sync.Mutex
	graphs, sent := map[string][]byte{}, 0
	target := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		mu.Lock()
		defer mu.Unlock()
		if leaked(body) || leaked([]byte(r.RequestURI)) || leaked([]byte(fmt.Sprint(r.Header))) {
			c.t.Errorf("what is pushed holds a withheld cell: %s %s: %s", r.Method, r.RequestURI, around(body))
		}
		g := r.URL.Query().Get("graph")
		old, known := graphs[g]
		switch {
		case err != nil:
			http.Error(w, err.Error(), http.StatusBadRequest)
		case r.Method == http.MethodPut:
			graphs[g] = body
			sent++
		case r.Method == http.MethodPost:
			graphs[g] = append(slices.Clone(old), body...)
		case !known:
			http.NotFound(w, r)
		case r.Method == http.MethodDelete:
			delete(graphs, g)
		default:
			w.Header().Set("Content-Type", "application/n-triples")
			_, _ = w.Write(old)
		}
	}))
	defer target.Close()
	if code, out := c.command("push", dir, "--to", target.URL); code != exitClean || sent < 300 {
		c.t.Errorf("push: exit code %d, %d graphs: %s", code, sent, out)
	}
}

// Every withheld cell of the demo holds a token, and nothing that the program can
// produce holds one.
func TestCanary(t *testing.T) {
	long := os.Getenv("ROPEWALK_LONG") != "" // every document in every way, not one in many
	dir := filepath.Join(t.TempDir(), "site")
	planted := canaries(t, dir)
	sum := 0
	for _, n := range planted {
		sum += n
	}
	if len(planted) < 6 || sum < 250 {
		t.Fatalf("too few tokens: %v", planted)
	}
	c := &canaryTest{t: t, seen: map[string]bool{}, kinds: map[string]int{}, places: map[string]int{}}

	if !long {
		c.few = 16
	}

	// The commands.
	for _, args := range [][]string{
		{"check", dir}, {"check", dir, "--all"}, {"check", dir, "--strict"}, {"publish", dir, "--dry-run", "--first", "1000"},
		{"publish", dir}, {"publish", dir}, {"history", dir}, {"history", dir, "--format", "json"},
	} {
		c.command(args...)
	}
	for _, format := range []string{"text", "csv", "json", "html"} {
		if code, out := c.command("concordance", dir, "--why", "--format", format); code != exitClean || !strings.Contains(out, "1872-2") {
			t.Errorf("the concordance as %s: exit code %d", format, code)
		}
	}
	c.push(dir)
	var exported string
	for _, f := range render.Formats() {
		code, out := c.command("export", dir, "--format", f.Name)
		if code != exitClean || len(out) < 10_000 {
			t.Errorf("export of %s: exit code %d, %d bytes", f.Name, code, len(out))
		}
		if f.Name == "jsonld" {
			exported = out
		}
	}
	ids := regexp.MustCompile(`(?m)^\{"@context":"[^"]*","id":"([^"]*)"`).FindAllStringSubmatch(exported, -1)
	if len(ids) < 300 {
		t.Fatalf("%d documents", len(ids))
	}
	for i, id := range ids {
		if i%48 == 0 || long {
			c.command("explain", dir, id[1])
			c.command("history", dir, id[1])
			c.command("history", dir, id[1], "--to", "1", "--format", "json")
		}
	}

	// A second publication with a changed and a withdrawn record, for the history.
	objects := filepath.Join(dir, "data", "objects.csv")
	data, err := os.ReadFile(objects)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(strings.Replace(string(data), "Octant of the brig", "Quadrant of the brig", 1), "\n")
	if err := os.WriteFile(objects, []byte(strings.Join(slices.Delete(lines, 2, 3), "")), 0o666); err != nil {
		t.Fatal(err)
	}
	c.command("publish", dir, "--dry-run", "--first", "1000")
	if code, out := c.command("publish", dir); code != exitClean || !strings.Contains(out, "Publication 2") {
		t.Fatalf("the second publication: %d %s", code, out)
	}
	for _, id := range []string{"object/1926.17", "object/1908.3.2"} {
		c.command("history", dir, id)
		c.command("history", dir, id, "--from", "1")
	}

	// The server: every address that any response names, in every form.
	var log bytes.Buffer
	s := c.serve(dir, &log)
	c.walkWhole(ids, long)
	accepts := []string{"text/html", "application/json", "application/ld+json", "text/turtle", "application/n-triples", "application/rdf+xml", "image/png",
		`application/ld+json;profile="http://www.w3.org/ns/json-ld#expanded"`}
	records := 0
	for _, e := range ids {
		path := "/" + strings.TrimPrefix(e[1], s.Base)
		records++
		if !c.seen[path+"\n"] {
			t.Errorf("the walk did not come to %s", path)
		}
		for _, a := range accepts {
			if !long && records%10 != 0 || strings.Contains(a, "expanded") && records%40 != 0 { // the last is slow
				continue
			}
			c.fetch(path, "Accept: "+a)
		}
		if !long && records%4 != 0 {
			continue
		}
		c.fetch(path, "Accept-Datetime: Thu, 06 May 2021 07:08:10 GMT")
		c.fetch(path, "Accept-Encoding: zstd")
		c.fetch("/timemap"+path, "Accept: application/json")
		if strings.HasPrefix(path, "/object/") && records%8 == 0 { // only pages name them, and not every page is fetched
			for _, v := range viewSuffixes {
				c.fetch(path + v)
			}
		}
	}
	for _, x := range [][]string{{"/", "Accept: application/json"}, {"/", "Accept: text/html"}, {"/object/", "Accept: application/json"}, {"/object/?limit=0"}, {"/object/?after=%21"},
		{"/object/nothing"}, {"/object/1926.17", "DELETE"}, {"/object/1926.17", "OPTIONS"}, {"/object/1926.17", "Accept-Datetime: never"}, {"/%00"}, {"/object/1908.3.2", "Accept: text/html"}} {
		c.fetch(x[0], x[1:]...)
	}
	c.crawl()
	if leaked(log.Bytes()) {
		t.Errorf("the log holds a withheld cell: %s", around(log.Bytes()))
	}
	// No empty pass: the walk has seen it all.
	for _, kind := range []string{"text/html", "application/json", "application/ld+json", "text/turtle", "application/n-triples", "application/n-quads",
		"application/rdf+xml", "application/link-format", "application/problem+json", "text/plain"} {
		if c.kinds[kind] == 0 {
			t.Errorf("no response was %s: %v", kind, c.kinds)
		}
	}
	if leaked([]byte(fmt.Sprint(c.places))) {
		t.Error("an address holds a withheld cell")
	}
	for _, place := range append(wholePlaces(), "changes", "changes 1", "downloads", "downloads SHA256SUMS", ".well-known void", "sitemap.xml", "sitemap-1.xml.gz", "robots.txt", "healthz",
		"harvest Identify", "harvest ListSets", "harvest ListMetadataFormats", "downloads description.ttl", "downloads description.jsonld", "downloads description.rdf", "downloads description.nt",
		".jsonld", ".json", ".html", ".nt", ".nq", ".ttl", ".rdf") {
		if c.places[place] == 0 {
			t.Errorf("the walk did not come to %s: %v", place, c.places)
		}
	}
	if c.fetched < 1000 || long && c.fetched < 10_000 || c.commands < 45 || !strings.Contains(log.String(), "path=/object/1926.17") {
		t.Errorf("only %d responses and %d commands", c.fetched, c.commands)
	}
	t.Logf("%d tokens in %d columns, %d responses, %d commands, %d bytes of log", sum, len(planted), c.fetched, c.commands, log.Len())
}

// The test itself finds what should not be: with a column no longer withheld and
// mapped, it comes out, and the walk sees it in every place where a record speaks.
func TestCanarySings(t *testing.T) {
	if !long() {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	dir := filepath.Join(t.TempDir(), "site")
	canaries(t, dir)
	edit := func(name, old, new string) {
		t.Helper()
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || strings.Count(string(data), old) != 1 {
			t.Fatalf("%s: %v, %q", name, err, old)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(strings.Replace(string(data), old, new, 1)), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	edit("ropewalk.yaml", "withheld: [Valuation, Store location, Staff notes]", "withheld: [Valuation, Store location]")
	edit("mapping/objects.yaml", "\nlabel: \"{Title}\"", "\nlabel: \"{Title} {Staff notes}\"")
	edit("mapping/objects.yaml", "use: primary-name, content: \"{Title}\"", "use: primary-name, content: \"{Title} {Staff notes}\"")
	var out bytes.Buffer
	if code := run([]string{"export", dir, "--format", "nt"}, nil, &out, io.Discard); code != exitClean || !leaked(out.Bytes()) {
		t.Errorf("exit code %d, and no token in %d bytes", code, out.Len())
	}
	if code := run([]string{"publish", dir}, nil, io.Discard, io.Discard); code != exitClean {
		t.Fatalf("exit code %d", code)
	}
	c := &canaryTest{t: t, seen: map[string]bool{}, kinds: map[string]int{}, places: map[string]int{}, leaks: map[string]int{}, near: "/object/1926.17"}
	c.serve(dir, io.Discard)
	c.walkWhole([][]string{{"", c.base + "object/1926.17"}}, true)
	for _, place := range append(wholePlaces(), "record", "object", ".jsonld", ".nt", ".ttl", ".html") {
		if c.leaks[place] == 0 {
			t.Errorf("nothing is found in %s: %v", place, c.leaks)
		}
	}
	for _, place := range []string{"changes 1", "sitemap-1.xml.gz", "harvest ListIdentifiers rdf", ".well-known void"} {
		if c.leaks[place] > 0 {
			t.Errorf("%s says what records say", place)
		}
	}
}

// Whatever is broken about an export, no message quotes a withheld cell of it.
func TestCanaryFaults(t *testing.T) {
	if os.Getenv("ROPEWALK_LONG") == "" {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	breaks := []struct {
		name string
		edit func(text string) string
	}{
		{"a delimiter too many", func(s string) string { return strings.Replace(s, "Octant of the brig", "Octant, of the brig", 1) }},
		{"a delimiter too few", func(s string) string { return strings.Replace(s, ",public,", ";public,", 1) }},
		{"every row longer", func(s string) string { return strings.ReplaceAll(s, ",public,", ",public,,") }},
		{"an unclosed quote", func(s string) string {
			return strings.Replace(s, "Kanarienvogel42x3", "\"Kanarienvogel42x3", 1)
		}},
		{"bytes that are none", func(s string) string { return strings.ReplaceAll(s, "Kanarienvogel", "Kanarienvogel\xff\x81") }},
		{"control characters", func(s string) string { return strings.ReplaceAll(s, "Kanarienvogel", "\x00\x07Kanarienvogel\u200b") }},
		{"markup", func(s string) string { return strings.ReplaceAll(s, "Kanarienvogel", "<b>Kanarienvogel&nbsp;") }},
		{"no header", func(s string) string { _, rest, _ := strings.Cut(s, "\n"); return rest }},
		{"a header cut short", func(s string) string { return strings.Replace(s, ",Valuation,Store location,Staff notes,", ",", 1) }},
		{"a misspelt header", func(s string) string { return strings.Replace(s, "Valuation", "Valuaton", 1) }},
		{"two rows of one number", func(s string) string {
			lines := strings.SplitAfter(s, "\n")
			return s + lines[1] + lines[1]
		}},
		{"a title that is empty", func(s string) string { return strings.Replace(s, "Octant of the brig Patient Margery", "", 1) }},
		{"nothing but the header", func(s string) string { head, _, _ := strings.Cut(s, "\n"); return head + "\n" }},
		{"cut in the middle", func(s string) string { return s[:len(s)/2] }},
	}
	for _, b := range breaks {
		t.Run(b.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "site")
			canaries(t, dir)
			c := &canaryTest{t: t, places: map[string]int{}}
			c.command("publish", dir)
			file := filepath.Join(dir, "data", "objects.csv")
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			broken := b.edit(string(data))
			if broken == string(data) {
				t.Fatal("nothing was broken")
			}
			if err := os.WriteFile(file, []byte(broken), 0o666); err != nil {
				t.Fatal(err)
			}
			c.command("check", dir, "--all")
			c.command("check", dir, "--strict")
			c.command("publish", dir, "--dry-run", "--first", "100")
			c.command("publish", dir)
			c.command("explain", dir, "object/1926.17")
			c.command("export", dir, "--lenient", "--format", "nt")
			c.command("publish", dir, "--allow-withdrawals", "1000")
			c.command("history", dir, "object/1926.17", "--to", "1")
			store, err := openStore(filepath.Join(dir, "store", "ropewalk.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer store.Close()
			n := 0
			if _, err := store.Walk(context.Background(), func(r *service.Record) error {
				n++
				if leaked(r.Body) || leaked([]byte(r.Label)) {
					t.Errorf("<%s> holds a withheld cell: %s", r.IRI, around(r.Body))
				}
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			if n == 0 {
				t.Error("nothing is published")
			}
		})
	}
}
