package page

import (
	"fmt"
	"html"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/vocab"
)

var site = service.Site{
	Base: "https://linked.art/example/", Title: "Museum & Co", Publisher: "The Museum",
	Licence: "https://creativecommons.org/licenses/by/4.0/", Language: "en",
}

// examples are the published documents of the profile that the current schemas
// allow.
func examples(t testing.TB) map[string]*entity.Document {
	t.Helper()
	root := os.Getenv("ROPEWALK_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	dir := filepath.Join(root, "standards", "linked-art", "examples")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("no published examples: %v", err)
		}
		t.Skipf("NOT TESTED: no published examples: %v", err)
	}
	out := map[string]*entity.Document{}
	err := filepath.WalkDir(dir, func(f string, e os.DirEntry, err error) error {
		if err != nil || filepath.Ext(f) != ".json" {
			return err
		}
		body, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		if d, err := entity.Parse(body, ""); err == nil {
			out[f] = d
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 120 {
		t.Fatalf("only %d published examples can be read", len(out))
	}
	return out
}

func draw(t testing.TB, d *entity.Document) string {
	t.Helper()
	p, ok := service.Path(site.Base, d.IRI())
	if !ok {
		t.Fatalf("%s is not below the base", d.IRI())
	}
	out, err := New(site).Record([]byte("before"), Record{
		Record: &service.Record{
			IRI: d.IRI(), Path: p, State: service.Live, Class: d.Class().Key, Endpoint: vocab.Record(d.Class())[0].Name,
			Label: d.Label(), Modified: time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC), Sets: []string{"globes"},
		},
		Document: d,
		Formats:  []Link{{Text: "Turtle", Href: "x.ttl", Type: "text/turtle"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	rest, ok := strings.CutPrefix(string(out), "before")
	if !ok {
		t.Fatal("what stood before was lost")
	}
	return rest
}

// missing lists the values and references of d that are nowhere in a page.
func missing(d *entity.Document, page string) []string {
	var out []string
	text := html.UnescapeString(page)
	lower := strings.ToLower(text)
	unescaped, err := url.PathUnescape(strings.ReplaceAll(text, "%", "%25"))
	if err != nil {
		unescaped = text
	}
	for _, e := range d.Events() {
		if e.Kind == entity.Close || e.Kind == entity.Open && !e.Ref || e.Value == "" {
			continue
		}
		if strings.Contains(text, e.Value) || strings.Contains(unescaped, e.Value) {
			continue
		}
		// A label that repeats what stands beside it may differ in capitals.
		if e.Term.Key != "_label" || !strings.Contains(lower, strings.ToLower(e.Value)) {
			out = append(out, e.Term.Key+" "+e.Value)
		}
	}
	return out
}

func TestNothingHiddenInExamples(t *testing.T) {
	for f, d := range examples(t) {
		if m := missing(d, draw(t, d)); len(m) > 0 {
			t.Errorf("%s: %q", f, m)
		}
	}
}

// maker fills every slot of a shape with values that occur nowhere else.
type maker struct {
	d *entity.Document
	n int
}

func (m *maker) node(term *vocab.Term, many bool, s *vocab.Shape, class *vocab.Class, depth int) {
	m.n++
	ref, iri := s.ID == vocab.IDRequired, ""
	if ref {
		iri = fmt.Sprintf("https://ref.example/%d", m.n)
		if m.n%3 == 0 {
			iri = fmt.Sprintf("%sobject/%d", site.Base, m.n)
		}
		if term == nil {
			iri = site.Base + "object/root"
		}
	}
	m.d.Begin(term, many, class, ref, iri, -1)
	for _, sl := range s.Slots {
		t := class.Term(sl.Key)
		switch {
		case t == nil || sl.Key == "id" || sl.Key == "type":
			continue
		case sl.Kind == vocab.KindNode:
			shapes := sl.Shapes
			if depth == 0 || len(shapes) == 0 {
				continue
			}
			for i, sh := range shapes {
				if i > 0 && !sl.Many {
					break
				}
				m.node(t, sl.Many, sh, sh.Classes[m.n%len(sh.Classes)], depth-1)
			}
		case sl.Kind == vocab.KindNumber:
			m.n++
			m.d.Value(entity.Number, t, sl.Many, fmt.Sprintf("7%06d", m.n), -1)
		case sl.Kind == vocab.KindDateTime:
			m.n++
			m.d.Value(entity.DateTime, t, sl.Many, fmt.Sprintf("%04d-01-01T00:00:00Z", 1000+m.n%8000), -1)
		case sl.Kind == vocab.KindTerm:
			m.d.Value(entity.TermName, t, sl.Many, "produced_by", -1)
		default:
			m.n++
			m.d.Text(t, sl.Many, fmt.Sprintf("text %d <&> \"q\"", m.n), -1)
		}
	}
	m.d.End()
}

// TestNothingHidden makes documents that use every slot of every shape.
func TestNothingHidden(t *testing.T) {
	made := 0
	for _, e := range vocab.Endpoints() {
		for _, c := range e.Shape.Classes {
			m := &maker{d: new(entity.Document)}
			m.node(nil, false, e.Shape, c, 3)
			made++
			page := draw(t, m.d)
			if miss := missing(m.d, page); len(miss) > 0 {
				t.Errorf("%s %s: %d of %d events: %q", e.Name, c.Key, len(miss), m.d.Len(), miss[:min(len(miss), 5)])
			}
			for _, bad := range []string{"ZgotmplZ", "<no value>", "%!"} {
				if strings.Contains(page, bad) {
					t.Errorf("%s %s: the page holds %q", e.Name, c.Key, bad)
				}
			}
		}
	}
	if made < 11 {
		t.Errorf("only %d kinds of document", made)
	}
}

func TestWordsForKeys(t *testing.T) {
	for key := range keyWords {
		found := false
		for _, term := range vocab.Terms() {
			found = found || term.Key == key
		}
		if !found {
			t.Errorf("there is no key %q", key)
		}
	}
	for class := range classWords {
		if vocab.ClassByKey(class) == nil {
			t.Errorf("there is no class %q", class)
		}
	}
	placed := map[string]bool{"_label": true}
	for _, s := range sections {
		for _, k := range s.keys {
			if placed[k] {
				t.Errorf("%q stands in two sections", k)
			}
			placed[k] = true
		}
	}
	// Every key of a document's root has words and a place.
	for _, e := range vocab.Endpoints() {
		if endpointWords[e.Name] == "" {
			t.Errorf("no words for the endpoint %q", e.Name)
		}
		for _, c := range e.Shape.Classes {
			if classWords[c.Key] == "" && len(c.Key) > 12 {
				t.Errorf("no words for %s", c.Key)
			}
		}
		for _, sl := range e.Shape.Slots {
			if sl.Key == "id" || sl.Key == "type" || sl.Key == "@context" {
				continue
			}
			if keyWords[sl.Key] == "" || !placed[sl.Key] {
				t.Errorf("%s: %q has words: %v, a place: %v", e.Name, sl.Key, keyWords[sl.Key] != "", placed[sl.Key])
			}
		}
	}
}

func object(t testing.TB, fields string) *entity.Document {
	t.Helper()
	d, err := entity.Parse([]byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://linked.art/example/object/a/KQ.1911.4","type":"HumanMadeObject"`+fields+`}`), "")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestRecordPage(t *testing.T) {
	page := draw(t, object(t, `,"_label":"Marine <barometer>",
		"classified_as":[{"id":"javascript:alert(1)","type":"Type","_label":"Odd"}],
		"identified_by":[{"type":"Identifier","_label":"Accession Number","classified_as":[{"id":"http://vocab.getty.edu/aat/300312355","type":"Type","_label":"Accession Number"}],"content":"KQ.1911.4"},
			{"type":"Name","content":"Barometer\nmarine","language":[{"id":"http://vocab.getty.edu/aat/300388277","type":"Language","_label":"English"}]}],
		"produced_by":{"type":"Production","carried_out_by":[{"id":"https://linked.art/example/person/7","type":"Person","_label":"Ann Ohm"}],
			"timespan":{"type":"TimeSpan","identified_by":[{"type":"Name","content":"about 1830"}],"begin_of_the_begin":"1825-01-01T00:00:00Z","end_of_the_end":"1835-12-31T23:59:59Z"}},
		"dimension":[{"type":"Dimension","classified_as":[{"id":"http://vocab.getty.edu/aat/300055644","type":"Type","_label":"Height"}],"value":80.9,"unit":{"id":"http://vocab.getty.edu/aat/300379098","type":"MeasurementUnit","_label":"centimetres"}}],
		"representation":[{"type":"VisualItem","digitally_shown_by":[{"type":"DigitalObject","_label":"Front","format":"image/jpeg","access_point":[{"id":"https://img.example/1","type":"DigitalObject"}]},
			{"type":"DigitalObject","format":"image/tiff","access_point":[{"id":"https://img.example/2.jpg","type":"DigitalObject"}]}]}]`))
	for _, want := range []string{
		"<title>Marine &lt;barometer&gt; · Museum &amp; Co</title>",
		`<h1>Marine &lt;barometer&gt;</h1>`,
		`<a href="../../">Museum &amp; Co</a>`,
		`<a href="../../person/7" title="https://linked.art/example/person/7">Ann Ohm</a>`,
		`<a href="http://vocab.getty.edu/aat/300312355" rel="nofollow noopener">Accession Number</a>`,
		`<span title="javascript:alert(1)">Odd</span>`,
		`<span class="t" lang="en">Barometer` + "\nmarine</span>",
		`<time datetime="1825-01-01T00:00:00Z">1825</time>`,
		`<span>Ann Ohm</span> <span>about 1830</span>`,
		`<img src="https://img.example/1" alt="Front" loading="lazy"`,
		`80.9`,
		`<link rel="canonical" href="https://linked.art/example/object/a/KQ.1911.4">`,
		`<link rel="alternate" type="text/turtle" href="x.ttl">`,
		`rel="license">CC BY 4.0</a>`,
		`<li>globes</li>`,
		`<h2 id="making" lang="en">Making</h2>`,
	} {
		if !strings.Contains(strings.ReplaceAll(page, ` lang="en">Museum`, ">Museum"), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if strings.Count(page, "<img") != 1 {
		t.Errorf("%d pictures, want 1", strings.Count(page, "<img"))
	}
	if strings.Contains(page, `href="javascript`) || strings.Contains(page, "<script") {
		t.Error("the page holds a script")
	}
	if n := strings.Count(page, "Accession Number"); n != 1 {
		t.Errorf("a label that repeats its term is shown %d times", n)
	}
	// Nothing is loaded but the picture.
	for _, m := range regexp.MustCompile(`(src|srcset|<link[^>]*stylesheet[^>]*href|@import|url\()[="( ]+([^">)]+)`).FindAllStringSubmatch(page, -1) {
		if m[2] != "https://img.example/1" {
			t.Errorf("the page loads %s", m[2])
		}
	}
	heads := regexp.MustCompile(`<h1`).FindAllString(page, -1)
	if len(heads) != 1 {
		t.Errorf("%d first headings", len(heads))
	}
}

// What proves a fact stands under another heading than what is only claimed, and a claim
// is nowhere told as a fact: not in the line under the title, not as a picture.
func TestEvidenceAndClaims(t *testing.T) {
	claim := func(kind, assigned string) string {
		return `{"type":"AttributeAssignment","classified_as":[{"id":"https://linked.art/example/concept/certainty/` + kind + `","type":"Type","_label":"` + kind + `"}],
			"referred_to_by":[{"type":"LinguisticObject","content":"Letter of ` + kind + `"}],"assigned":[` + assigned + `],"assigned_property":"produced_by"}`
	}
	maker := func(name string) string {
		return `{"type":"Production","carried_out_by":[{"id":"https://linked.art/example/person/` + name + `","type":"Person","_label":"` + name + `"}]}`
	}
	page := draw(t, object(t, `,"_label":"Gauge","produced_by":`+maker("Sure")+`,
		"attributed_by":[`+claim("certain", maker("Sure"))+`,`+claim("disputed", maker("Rival"))+`,`+claim("superseded", maker("Old"))+`,`+claim("probable", maker("Likely"))+`,`+claim("possible", maker("Maybe"))+`,
		{"type":"AttributeAssignment","assigned":[{"type":"VisualItem","digitally_shown_by":[{"type":"DigitalObject","format":"image/jpeg","access_point":[{"id":"https://img.example/no.jpg","type":"DigitalObject"}]}]}],"assigned_property":"representation"}]`))
	_, after, ok := strings.Cut(page, `id="evidence"`)
	evidence, claims, ok2 := strings.Cut(after, `id="claims"`)
	if !ok || !ok2 {
		t.Fatalf("there are not both headings:\n%s", page)
	}
	before, _, _ := strings.Cut(page, `id="evidence"`)
	for _, name := range []string{"Rival", "Old", "Likely", "Maybe"} {
		if strings.Contains(before, name) || strings.Contains(evidence, name) || !strings.Contains(claims, name) {
			t.Errorf("%s is not told as a claim alone", name)
		}
	}
	for _, kind := range []string{"disputed", "superseded", "probable", "possible"} {
		if !strings.Contains(claims, ">"+kind+"<") || !strings.Contains(claims, "Letter of "+kind) {
			t.Errorf("the claim does not say that it is %s", kind)
		}
	}
	if !strings.Contains(evidence, "Letter of certain") || !strings.Contains(evidence, "What it documents") || strings.Contains(evidence, "claimed") {
		t.Errorf("the evidence is not told as such:\n%s", evidence)
	}
	if strings.Contains(page, "<img") {
		t.Error("a claimed picture is shown")
	}
}

// The hash in the policy is that of the style sheet as it stands in the page.
func TestPolicy(t *testing.T) {
	page := draw(t, object(t, ""))
	_, rest, _ := strings.Cut(page, "<style>")
	style, _, ok := strings.Cut(rest, "</style>")
	if !ok || style != css {
		t.Error("the style sheet in the page is not the one in the policy")
	}
	if !strings.Contains(SecurityPolicy, "default-src 'none'") || strings.Contains(SecurityPolicy, "unsafe") {
		t.Error(SecurityPolicy)
	}
}

func TestHomeListProblem(t *testing.T) {
	r := New(site)
	home, err := r.Home(nil, Home{
		Publication: service.Publication{Number: 3, Time: time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)},
		Tallies:     []service.Tally{{Endpoint: "object", Live: 1234567}, {Endpoint: "person", Live: 1}},
		Formats:     []Link{{Text: ".ttl", Type: "text/turtle", Note: "Turtle"}},
		Example:     &service.Entry{IRI: site.Base + "object/1", Path: "object/1", Label: "Globe"},
	})
	if err != nil {
		t.Fatal(err)
	}
	empty, err := r.Home(nil, Home{})
	if err != nil {
		t.Fatal(err)
	}
	list, err := r.List(nil, List{Endpoint: "object", Total: 2, First: true, Next: "?after=abc",
		Entries: []service.Entry{{IRI: site.Base + "object/1", Path: "object/1", Class: "HumanMadeObject", Label: "<Globe>"}, {Path: "elsewhere/%C3%96%202"}}})
	if err != nil {
		t.Fatal(err)
	}
	problem, err := r.Problem(nil, Problem{Path: "a/b/c", Status: 404, Title: "Not here", Detail: "Nothing <at all>", Links: []Link{{Text: "x", Href: "y"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		page []byte
		want []string
	}{
		{home, []string{"1\u202f234\u202f567</b>Objects", `href="object/"`, "6 May 2031, 07:08 UTC", `<a href="object/1.ttl" type="text/turtle">.ttl</a>`, `<a href="object/1">Globe</a>`, "CC BY 4.0", `href="./"`}},
		{empty, []string{"nothing is published yet"}},
		{list, []string{`<a href="1">&lt;Globe&gt;</a>`, `<a href="../elsewhere/%C3%96%202">elsewhere/Ö 2</a>`, `<a href="?after=abc" rel="next">`, "2 records", `href="../"`}},
		{problem, []string{"404 Not here", "<h1>There is nothing at this address</h1>", "Nothing &lt;at all&gt;", `<a href="../../">To the home page</a>`, `<a href="y">x</a>`}},
	} {
		for _, w := range c.want {
			if !strings.Contains(string(c.page), w) {
				t.Errorf("a page lacks %q", w)
			}
		}
	}
}

func TestPeriods(t *testing.T) {
	const begin, end = `"begin_of_the_begin":"1911-01-01T00:00:00Z"`, `"end_of_the_end":"1911-12-31T23:59:59Z"`
	named := func(s string) string { return `"identified_by":[{"type":"Name","content":"` + s + `"}],` }
	for in, want := range map[string]string{
		named("1911") + begin + "," + end:                  `<time datetime="1911-01-01T00:00:00Z" title="1911-01-01T00:00:00Z/1911-12-31T23:59:59Z">1911</time>`,
		named("in 1911") + begin + "," + end:               `<span class="t">in 1911</span> <span class="q"><time datetime="1911-01-01T00:00:00Z" title="1911-01-01T00:00:00Z/1911-12-31T23:59:59Z">1911</time></span>`,
		begin + `,"end_of_the_end":"1913-12-31T23:59:59Z"`: `<time datetime="1911-01-01T00:00:00Z">1911</time> <span class="t">to</span> <time datetime="1913-12-31T23:59:59Z">1913</time>`,
		begin + `,"end_of_the_end":"1911-05-06T12:30:00Z"`: `<time datetime="1911-01-01T00:00:00Z">1 January 1911</time> <span class="t">to</span> <time datetime="1911-05-06T12:30:00Z">6 May 1911, 12:30</time>`,
		begin: `<span class="t">not before</span> <time datetime="1911-01-01T00:00:00Z">1 January 1911</time>`,
		end:   `<span class="t">not after</span> <time datetime="1911-12-31T23:59:59Z">31 December 1911</time>`,
		`"begin_of_the_begin":"-0499-01-01T00:00:00Z"`: `<span class="t">not before</span> <time datetime="-0499-01-01T00:00:00Z">-0499-01-01T00:00:00Z</time>`,
	} {
		page := draw(t, object(t, `,"produced_by":{"type":"Production","timespan":{"type":"TimeSpan",`+in+`}}`))
		if !strings.Contains(page, "<dd>"+want+"</dd>") {
			_, got, _ := strings.Cut(page, ">When</span></dt>")
			t.Errorf("%s: %.300s", in, got)
		}
	}
}

func TestLicenceName(t *testing.T) {
	for iri, want := range map[string]string{
		"https://creativecommons.org/licenses/by-sa/4.0/":      "CC BY-SA 4.0",
		"http://creativecommons.org/publicdomain/zero/1.0/":    "CC0 1.0",
		"https://creativecommons.org/publicdomain/mark/1.0/":   "Public Domain Mark 1.0",
		"https://example.org/licence":                          "https://example.org/licence",
		"https://creativecommons.org/":                         "https://creativecommons.org/",
		"https://creativecommons.org/licenses/by/3.0/deed.en#": "CC BY 3.0",
		"": "",
	} {
		if got := licenceName(iri); got != want {
			t.Errorf("%s: %q, want %q", iri, got, want)
		}
	}
}

func BenchmarkRecord(b *testing.B) {
	var big *entity.Document
	for _, d := range examples(b) {
		if big == nil || d.Len() > big.Len() {
			big = d
		}
	}
	p, _ := service.Path(site.Base, big.IRI())
	r := New(site)
	rec := &service.Record{IRI: big.IRI(), Path: p, Class: big.Class().Key, Endpoint: "object", Label: big.Label()}
	var dst []byte
	var err error
	for b.Loop() {
		if dst, err = r.Record(dst[:0], Record{Record: rec, Document: big}); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(len(dst)))
}
