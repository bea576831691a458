package download

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/knakk/rdf"
	"github.com/piprate/json-gold/ld"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/store/storetest"
)

var site = service.Site{Base: storetest.Base, Title: "A museum & its “things”", Publisher: "A museum", Page: "https://www.museum.example/", About: "What is there.",
	Licence: "https://creativecommons.org/publicdomain/zero/1.0/", Language: "en-GB"}

type bench struct {
	testing.TB
	store service.Store
	clock time.Time
	dir   string
	o     Options
}

func newBench(t testing.TB) *bench {
	b := &bench{TB: t, clock: time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC), dir: filepath.Join(t.TempDir(), "files"), o: Options{Site: site, Kinds: append(Kinds(), notes()), Workers: 2}}
	s, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(func() time.Time { return b.clock }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	b.store = s
	return b
}

func (b *bench) publish(records ...*service.Record) {
	b.Helper()
	storetest.Publish(b, b.store, records...)
	b.clock = b.clock.Add(time.Hour)
}

func (b *bench) make() *Set {
	b.Helper()
	s, err := Make(context.Background(), b.store, b.dir, b.o)
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// rec is an object with a type whose label it shares with all others, and a place
// that is a document of its own if there is one.
func rec(i int, label string) *service.Record {
	path := "object/" + strconv.Itoa(i)
	return &service.Record{IRI: storetest.Base + path, Path: path, State: service.Live, Class: "HumanMadeObject", Endpoint: "object", Label: label,
		Body: fmt.Appendf(nil, `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"%s%s","type":"HumanMadeObject","_label":%q,`+
			`"classified_as":[{"id":"http://vocab.getty.edu/aat/300047090","type":"Type","_label":"globes"}],`+
			`"identified_by":[{"type":"Name","content":%q},{"type":"Identifier","content":"KQ.%d"}],`+
			`"current_location":{"id":"%splace/1","type":"Place","_label":"Hall"},"dimension":[{"type":"Dimension","value":%d,"unit":{"id":"http://vocab.getty.edu/aat/300379098","type":"MeasurementUnit","_label":"cm"}}]}`,
			storetest.Base, path, label, label, i, storetest.Base, i)}
}

func place() *service.Record {
	return &service.Record{IRI: storetest.Base + "place/1", Path: "place/1", State: service.Live, Class: "Place", Endpoint: "place", Label: "Hall",
		Body: []byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"` + storetest.Base + `place/1","type":"Place","_label":"Hall"}`)}
}

func some(n int) []*service.Record {
	out := []*service.Record{place()}
	for i := range n {
		out = append(out, rec(i, fmt.Sprintf("No. %d “é” & <b>", i)))
	}
	return out
}

// notes is a kind that loses something, with a frame around it.
func notes() Kind {
	return Kind{Name: "notes", Suffix: ".xml", Title: "Notes", MediaType: "application/xml", Lossy: true, Endpoints: []string{"object"}, New: func() Encoder { return noteEncoder{} }}
}

type noteEncoder struct{}

func (noteEncoder) Header(dst []byte) []byte { return append(dst, "<notes>\n"...) }
func (noteEncoder) Footer(dst []byte) []byte { return append(dst, "</notes>\n"...) }
func (noteEncoder) Append(dst []byte, r *service.Record, d *entity.Document) ([]byte, error) {
	if strings.HasSuffix(r.Path, "7") {
		return dst, errors.New("sevens have no note")
	}
	return append(append(append(dst, "<note>"...), d.IRI()...), "</note>\n"...), nil
}

// unpacked reads a file of a set, checking all that is said of it.
func (b *bench) unpacked(s *Set, name string) []byte {
	b.Helper()
	i := slices.IndexFunc(s.Files, func(f File) bool { return f.Name == name })
	if i < 0 {
		b.Fatalf("there is no %s", name)
	}
	f := s.Files[i]
	data, err := os.ReadFile(filepath.Join(b.dir, s.Folder, name))
	if err != nil {
		b.Fatal(err)
	}
	if int64(len(data)) != f.Bytes || sumOf(data) != f.SHA256 {
		b.Errorf("%s: size or checksum is not what it should be", name)
	}
	var r io.Reader = bytes.NewReader(data)
	switch f.Packing {
	case gzipType:
		r, err = gzip.NewReader(r)
	case zstdType:
		r, err = zstd.NewReader(r)
	}
	if err != nil {
		b.Fatal(err)
	}
	out, err := io.ReadAll(r)
	if err != nil {
		b.Fatal(err)
	}
	if int64(len(out)) != f.Unpacked {
		b.Errorf("%s: %d bytes unpacked, said to be %d", name, len(out), f.Unpacked)
	}
	return out
}

// TestFiles: every file holds all records once, in order of path, the same in both
// compressions, whatever the number of workers.
func TestFiles(t *testing.T) {
	b := newBench(t)
	const n = 300
	b.publish(some(n)...)
	s := b.make()
	if s.Publication != 1 || s.Counts.Documents != n+1 || len(s.Files) != 2*5+4+2 {
		t.Fatalf("%+v", s)
	}
	texts := map[string][]byte{}
	for _, f := range s.Files {
		texts[f.Name] = b.unpacked(s, f.Name)
		if plain := strings.TrimSuffix(f.Name, ".gz"); plain != f.Name && strings.HasPrefix(f.Name, "records") {
			if other := b.unpacked(s, plain+".zst"); !bytes.Equal(texts[f.Name], other) {
				t.Errorf("%s: the compressions differ in content", f.Name)
			}
		}
		switch {
		case f.Kind == "notes" && (f.Records != n-30 || f.Omitted != 30), f.Kind != "" && f.Kind != "notes" && (f.Records != n+1 || f.Omitted != 0):
			t.Errorf("%+v", f)
		}
	}
	lines := strings.Split(strings.TrimSuffix(string(texts["records.jsonl.gz"]), "\n"), "\n")
	paths := []string{}
	for _, l := range lines {
		var doc struct{ ID string }
		if err := json.Unmarshal([]byte(l), &doc); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, strings.TrimPrefix(doc.ID, storetest.Base))
	}
	if len(paths) != n+1 || !slices.IsSorted(paths) {
		t.Errorf("%d documents, sorted: %v", len(paths), slices.IsSorted(paths))
	}
	if x := string(texts["records.xml.gz"]); !strings.HasPrefix(x, "<notes>\n<note>") || !strings.HasSuffix(x, "</note>\n</notes>\n") || strings.Count(x, "<notes>") != 1 {
		t.Errorf("%.200s", x)
	}
	var triples, quads int
	for dec := rdf.NewTripleDecoder(bytes.NewReader(texts["records.ttl.gz"]), rdf.Turtle); ; triples++ {
		if _, err := dec.Decode(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	quads = bytes.Count(texts["records.nq.gz"], []byte("\n"))
	if nt := bytes.Count(texts["records.nt.gz"], []byte("\n")); nt != triples || quads != triples || triples < 10*n {
		t.Errorf("%d in Turtle, %d quads, %d in N-Triples", triples, quads, nt)
	}

	// The same bytes from one worker.
	c := *b
	c.dir, c.o.Workers = filepath.Join(t.TempDir(), "again"), 1
	again := c.make()
	for i, f := range s.Files {
		if f != again.Files[i] {
			t.Errorf("%+v\n%+v", f, again.Files[i])
		}
	}
}

// TestCounts: the statistics, recomputed from the file by counting lines of
// N-Triples, and by an independent reader from what the description says in each of
// its syntaxes.
func TestCounts(t *testing.T) {
	b := newBench(t)
	b.publish(some(200)...)
	s := b.make()
	distinct, subjects, properties, classes := map[string]bool{}, map[string]bool{}, map[string]int64{}, map[string]int64{}
	for line := range strings.Lines(string(b.unpacked(s, "records.nt.gz"))) {
		if distinct[line] {
			continue
		}
		distinct[line] = true
		subject, rest, _ := strings.Cut(line, " ")
		predicate, object, _ := strings.Cut(rest, " ")
		subjects[subject] = true
		properties[strings.Trim(predicate, "<>")]++
		if predicate == "<"+entity.TypeIRI+">" {
			classes[strings.Trim(strings.TrimSuffix(object, " .\n"), "<>")]++
		}
	}
	got := s.Counts
	if got.Triples != int64(len(distinct)) || got.Subjects != int64(len(subjects)) || len(got.Properties) != len(properties) || len(got.Classes) != len(classes) || got.Documents != 201 {
		t.Errorf("%+v; counted %d, %d, %d, %d", got, len(distinct), len(subjects), len(properties), len(classes))
	}
	lines := int64(bytes.Count(b.unpacked(s, "records.nt.gz"), []byte("\n")))
	if got.Triples >= lines {
		t.Errorf("nothing was there twice: %d of %d", got.Triples, lines)
	}
	for _, c := range append(slices.Clone(got.Properties), got.Classes...) {
		if c.N != properties[c.IRI] && c.N != classes[c.IRI] {
			t.Errorf("%+v: counted %d, %d", c, properties[c.IRI], classes[c.IRI])
		}
	}

	// All syntaxes of the description say the same.
	want := graphOf(t, b.unpacked(s, "description.nt"), rdf.NTriples)
	if ttl := graphOf(t, b.unpacked(s, "description.ttl"), rdf.Turtle); !slices.Equal(ttl, want) {
		t.Errorf("Turtle: %s", differ(ttl, want))
	}
	var doc any
	if err := json.Unmarshal(b.unpacked(s, "description.jsonld"), &doc); err != nil {
		t.Fatal(err)
	}
	o := ld.NewJsonLdOptions("")
	o.Format = "application/n-quads"
	nq, err := ld.NewJsonLdProcessor().ToRDF(doc, o)
	if err != nil {
		t.Fatal(err)
	}
	if j := graphOf(t, []byte(nq.(string)), rdf.NTriples); !slices.Equal(j, want) {
		t.Errorf("JSON-LD: %s", differ(j, want))
	}
	text := strings.Join(want, "\n")
	for _, w := range []string{
		"<" + storetest.Base + "> <http://rdfs.org/ns/void#triples> \"" + strconv.FormatInt(got.Triples, 10) + "\"^^<http://www.w3.org/2001/XMLSchema#integer>",
		"<http://www.w3.org/ns/dcat#downloadURL> <" + storetest.Base + "downloads/records.nt.gz>", "<http://rdfs.org/ns/void#dataDump> <" + storetest.Base + "downloads/records.ttl.zst>",
		"<http://www.w3.org/ns/dcat#mediaType> <https://www.iana.org/assignments/media-types/application/n-quads>", "<http://www.w3.org/ns/dcat#compressFormat> <https://www.iana.org/assignments/media-types/application/zstd>",
		"<http://xmlns.com/foaf/0.1/name> \"A museum\"@en-gb", "<http://www.w3.org/ns/dcat#endpointURL> <" + storetest.Base + "harvest>", "<http://spdx.org/rdf/terms#checksumValue>",
	} {
		if !strings.Contains(text, w) {
			t.Errorf("the description lacks %s:\n%s", w, text)
		}
	}
	if _, err := exec.LookPath("rapper"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("NOT TESTED: there is no rapper to read the files independently")
	}
	// Of RDF/XML, knakk/rdf takes a namespace declared on a property for a statement.
	cmd := exec.Command("rapper", "-q", "-i", "rdfxml", "-o", "ntriples", "-", storetest.Base)
	cmd.Stdin = bytes.NewReader(b.unpacked(s, "description.rdf"))
	nt, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if x := graphOf(t, nt, rdf.NTriples); !slices.Equal(x, want) {
		t.Errorf("RDF/XML: %s", differ(x, want))
	}
	count := regexp.MustCompile(`returned (\d+) triples`)
	for name, syntax := range map[string]string{"records.nt.gz": "ntriples", "records.nq.gz": "nquads", "records.ttl.gz": "turtle"} {
		cmd := exec.Command("rapper", "-c", "-i", syntax, "-", storetest.Base)
		cmd.Stdin = bytes.NewReader(b.unpacked(s, name))
		out, err := cmd.CombinedOutput()
		m := count.FindSubmatch(out)
		if err != nil || m == nil || string(m[1]) != strconv.FormatInt(lines, 10) {
			t.Errorf("%s: %v: %s; there are %d statements", name, err, out, lines)
		}
	}
}

// differ lists what is in one and not in the other.
func differ(got, want []string) string {
	var b strings.Builder
	for _, l := range got {
		if !slices.Contains(want, l) {
			b.WriteString("\n+ " + l)
		}
	}
	for _, l := range want {
		if !slices.Contains(got, l) {
			b.WriteString("\n- " + l)
		}
	}
	return b.String()
}

func graphOf(t *testing.T, data []byte, f rdf.Format) []string {
	t.Helper()
	ts, err := rdf.NewTripleDecoder(bytes.NewReader(data), f).DecodeAll()
	if err != nil {
		t.Fatalf("%v in\n%s", err, data)
	}
	var out []string
	for _, tr := range ts {
		// Some readers write language tags in lower case, in which they mean the same.
		out = append(out, strings.ReplaceAll(strings.TrimSpace(tr.Serialize(rdf.NTriples)), "@en-GB", "@en-gb"))
	}
	slices.Sort(out)
	if n := len(out); n < 60 || len(slices.Compact(out)) != n {
		t.Errorf("%d triples, some of them twice?", n)
	}
	return out
}

// TestInForce: what is there stays until the new is complete; nothing is made twice;
// what is old is taken away.
func TestInForce(t *testing.T) {
	b := newBench(t)
	shelf := NewShelf(b.dir)
	if _, err := shelf.Set(); service.CodeOf(err) != service.NotFound {
		t.Error(err)
	}
	if _, err := Make(context.Background(), b.store, b.dir, b.o); service.CodeOf(err) != service.NotFound {
		t.Error(err)
	}
	b.publish(some(3)...)
	one := b.make()
	modified := stat(t, filepath.Join(b.dir, manifest))
	if again := b.make(); again.Folder != one.Folder || stat(t, filepath.Join(b.dir, manifest)) != modified {
		t.Error("made twice")
	}
	f, meta, set, err := shelf.Open("records.nt.gz")
	if err != nil || meta.Name != "records.nt.gz" || set.Publication != 1 {
		t.Fatal(err)
	}
	defer f.Close()

	// A failure half-way.
	b.publish(some(200)...)
	fails := b.o
	fails.Kinds = append(slices.Clone(fails.Kinds), Kind{Name: "bad", Suffix: ".bad", MediaType: "text/plain", New: func() Encoder { return new(failing) }})
	if _, err := Make(context.Background(), b.store, b.dir, fails); err == nil || !strings.Contains(err.Error(), "on purpose") {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Make(ctx, b.store, b.dir, b.o); err == nil {
		t.Fatal("made after the end")
	}
	left := names(t, b.dir)
	if want := []string{manifest, one.Folder, lockFile}; !slices.Equal(left, want) {
		t.Errorf("%v is left of failures, want %v", left, want)
	}
	if s, err := shelf.Set(); err != nil || s.Publication != 1 {
		t.Errorf("%+v %v", s, err)
	}

	two := b.make()
	if s, err := shelf.Set(); err != nil || s.Publication != 2 {
		t.Errorf("%+v %v", s, err)
	}
	if data, err := io.ReadAll(f); err != nil || sumOf(data) != meta.SHA256 {
		t.Error("who reads the file of before loses it")
	}
	b.publish(some(4)...)
	// Of two runs that others left unfinished, one may still be at work.
	for name, age := range map[string]time.Duration{"dead": 2 * stale, "busy": time.Minute} {
		name = filepath.Join(b.dir, scratch+name)
		if err := os.MkdirAll(name, 0o777); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(name, "records.nt.gz")
		if err := os.WriteFile(file, nil, 0o666); err != nil {
			t.Fatal(err)
		}
		for path, age := range map[string]time.Duration{file: age, name: 2 * stale} {
			if err := os.Chtimes(path, time.Time{}, time.Now().Add(-age)); err != nil {
				t.Fatal(err)
			}
		}
	}
	three := b.make()
	if _, err := os.Stat(filepath.Join(b.dir, scratch+"busy")); err != nil {
		t.Errorf("a run at work loses its files: %v", err)
	}
	if err := os.RemoveAll(filepath.Join(b.dir, scratch+"busy")); err != nil {
		t.Fatal(err)
	}
	if got, want := names(t, b.dir), []string{manifest, two.Folder, three.Folder, lockFile}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}

	// What is damaged is made anew; another site's settings are another set.
	if err := os.Remove(filepath.Join(b.dir, three.Folder, "records.nq.zst")); err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := shelf.Open("records.nq.zst"); service.CodeOf(err) != service.NotFound {
		t.Error(err)
	}
	if s := b.make(); s.Folder == three.Folder {
		t.Error("a file is missing")
	}
	if err := os.WriteFile(filepath.Join(b.dir, manifest), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := shelf.Set(); service.CodeOf(err) != service.Internal {
		t.Error(err)
	}
	was := b.make()
	b.o.Site.Title = "Another"
	if s := b.make(); s.Folder == was.Folder {
		t.Error("the title has changed")
	}
	for _, name := range []string{"", "../" + manifest, manifest, "/etc/passwd", "..", ".", "records.nt", "../../x"} {
		if _, _, _, err := shelf.Open(name); service.CodeOf(err) != service.NotFound {
			t.Errorf("%q: %v", name, err)
		}
	}
}

type failing struct{ noteEncoder }

func (f *failing) Append(dst []byte, r *service.Record, d *entity.Document) ([]byte, error) {
	if r.Path > "object/15" {
		return dst, errors.New("on purpose")
	}
	return dst, nil
}

func stat(t *testing.T, name string) time.Time {
	i, err := os.Stat(name)
	if err != nil {
		t.Fatal(err)
	}
	return i.ModTime()
}

func names(t *testing.T, dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// TestTogether: publishers at once leave one whole set, readers always see one.
func TestTogether(t *testing.T) {
	b := newBench(t)
	b.publish(some(50)...)
	b.make()
	b.publish(some(60)...)
	var makers sync.WaitGroup
	stop := make(chan struct{})
	for range 4 {
		makers.Add(1)
		go func() {
			defer makers.Done()
			if _, err := Make(context.Background(), b.store, b.dir, b.o); err != nil {
				t.Error(err)
			}
		}()
	}
	go func() {
		makers.Wait()
		close(stop)
	}()
	shelf := NewShelf(b.dir)
	for running := true; running; {
		select {
		case <-stop:
			running = false
		default:
		}
		f, meta, _, err := shelf.Open("records.nt.gz")
		if err != nil {
			continue // swept between two looks; the next one finds it
		}
		data, err := io.ReadAll(f)
		_ = f.Close()
		if err != nil || sumOf(data) != meta.SHA256 {
			t.Fatalf("%v: a file is not what is said of it", err)
		}
	}
	if s, err := shelf.Set(); err != nil || s.Publication != 2 || !s.complete(b.dir) {
		t.Errorf("%+v %v", s, err)
	}
}

// TestSitemaps: all records and the home page, in files of bounded size, as
// sitemaps.org has it.
func TestSitemaps(t *testing.T) {
	dir := t.TempDir()
	s := newSitemaps(dir, service.Site{Base: "https://x.example/a b/"})
	s.most = 3
	at := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
	paths := []string{"object/1", "object/%C3%96&'", "object/3", "object/4", "place/1", "place/2", "place/3"}
	for i, p := range paths {
		if err := s.add(&service.Record{Path: p, Modified: at.Add(time.Duration(i) * time.Hour)}); err != nil {
			t.Fatal(err)
		}
	}
	files, err := s.close(at)
	if err != nil {
		t.Fatal(err)
	}
	type entry struct {
		Loc     string `xml:"loc"`
		LastMod string `xml:"lastmod"`
	}
	var index struct {
		XMLName xml.Name `xml:"http://www.sitemaps.org/schemas/sitemap/0.9 sitemapindex"`
		Maps    []entry  `xml:"sitemap"`
	}
	data, err := os.ReadFile(filepath.Join(dir, SitemapIndex))
	if err == nil {
		err = xml.Unmarshal(data, &index)
	}
	if err != nil || len(index.Maps) != 3 || len(files) != 4 || files[0].Name != SitemapIndex {
		t.Fatalf("%v %+v %+v", err, index, files)
	}
	var got []string
	for i, m := range index.Maps {
		if m.Loc != "https://x.example/a%20b/"+SitemapName(i+1) || m.LastMod != []string{"2031-05-06T09:08:09Z", "2031-05-06T12:08:09Z", "2031-05-06T13:08:09Z"}[i] {
			t.Errorf("%+v", m)
		}
		f, err := os.Open(filepath.Join(dir, SitemapName(i+1)))
		if err != nil {
			t.Fatal(err)
		}
		z, err := gzip.NewReader(f)
		if err != nil {
			t.Fatal(err)
		}
		var set struct {
			XMLName xml.Name `xml:"http://www.sitemaps.org/schemas/sitemap/0.9 urlset"`
			URLs    []entry  `xml:"url"`
		}
		if err := xml.NewDecoder(z).Decode(&set); err != nil || len(set.URLs) > 3 {
			t.Fatalf("%v %+v", err, set)
		}
		_ = f.Close()
		for _, u := range set.URLs {
			got = append(got, strings.TrimPrefix(u.Loc, "https://x.example/a%20b/"))
		}
	}
	if want := append(paths, ""); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
