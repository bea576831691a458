package changes

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/piprate/json-gold/ld"
	"pgregory.net/rapid"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/store/storetest"
)

const address = storetest.Base + "changes"

type bench struct {
	*testing.T
	store service.Store
	clock time.Time
	s     *Stream
}

func newBench(t *testing.T) *bench {
	b := &bench{T: t, clock: time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)}
	s, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(func() time.Time { return b.clock }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	b.store = s
	b.s = New(s, service.Site{Base: storetest.Base, Licence: "https://creativecommons.org/publicdomain/zero/1.0/"}, address,
		Dataset{ID: storetest.Base + "downloads/dcat.jsonld", Type: "Dataset", Label: map[string][]string{"en": {"DCAT"}}, Format: "application/ld+json", Profile: "http://www.w3.org/ns/dcat#"})
	return b
}

func (b *bench) publish(records ...*service.Record) {
	b.Helper()
	storetest.Publish(b, b.store, records...)
	b.clock = b.clock.Add(time.Minute)
}

func (b *bench) page(n string) (string, page) {
	b.Helper()
	text, _, err := b.s.Page(context.Background(), n)
	if err != nil {
		b.Fatalf("page %s: %v", n, err)
	}
	var p page
	strict(b, text, &p)
	return string(text), p
}

func (b *bench) collection() collection {
	b.Helper()
	text, _, err := b.s.Collection(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	var c collection
	strict(b, text, &c)
	return c
}

func strict(t testing.TB, text []byte, v any) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		t.Fatal(err)
	}
}

func TestActivities(t *testing.T) {
	b := newBench(t)
	if c := b.collection(); c.Total != 0 || c.First != c.Last || c.First.ID != address+"/1" {
		t.Errorf("%+v", c)
	}
	if _, p := b.page("1"); len(p.Items) != 0 || p.Next != nil || p.Prev != nil {
		t.Errorf("%+v", p)
	}
	rec := storetest.Rec
	gone := func(reason string) *service.Record {
		return &service.Record{IRI: storetest.Base + "object/3", Path: "object/3", State: service.Gone, Reason: reason}
	}
	b.publish(rec("object/1", "a"), rec("object/2", "a"), rec("object/3", "a"))
	b.publish(rec("object/1", "b"), gone(""))
	b.publish(rec("object/1", "b"), rec("object/2", "a"), gone("by mistake"))
	b.publish(rec("object/1", "b"), rec("object/4", "a"), &service.Record{IRI: storetest.Base + "object/2", Path: "object/2", State: service.Moved, MovedTo: storetest.Base + "object/4"})
	_, p := b.page("1")
	var got []string
	for i, a := range p.Items {
		line := strings.TrimPrefix(a.ID, address) + " " + a.Type + " " + strings.TrimPrefix(a.Object.ID, storetest.Base) + " " + a.Object.Type + " " + a.EndTime
		if a.Target != nil {
			line += " to " + strings.TrimPrefix(a.Target.ID, storetest.Base) + " " + a.Target.Type
		}
		got = append(got, strings.TrimSpace(line+" "+a.Summary))
		if i > 0 && a.EndTime < p.Items[i-1].EndTime {
			t.Errorf("%s is out of order", line)
		}
	}
	const x = " HumanMadeObject 2031-05-06T07:"
	want := []string{
		"/1#1 Create object/1" + x + "08:09Z", "/1#2 Create object/2" + x + "08:09Z", "/1#3 Create object/3" + x + "08:09Z",
		"/1#4 Update object/1" + x + "09:09Z", "/1#5 Delete object/3" + x + "09:09Z", "/1#6 Delete object/2" + x + "09:09Z",
		"/1#7 Create object/2" + x + "10:09Z", "/1#8 Delete object/3" + x + "10:09Z by mistake",
		"/1#9 Create object/4" + x + "11:09Z", "/1#10 Move object/2" + x + "11:09Z to object/4 HumanMadeObject",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// TestPages: pages hold all versions once, in order, and a full one stays as it is.
func TestPages(t *testing.T) {
	b := newBench(t)
	full := map[string]string{}
	var total int64
	for round := range 7 {
		var records []*service.Record
		for i := range []int{1, 198, 1, 1, 205, 400, 3}[round] {
			records = append(records, storetest.Rec(fmt.Sprintf("object/%d/%d", round, i), "x"))
		}
		if round > 0 { // those of the round before are withdrawn
			total += int64([]int{1, 198, 1, 1, 205, 400}[round-1])
		}
		total += int64(len(records))
		b.publish(records...)
		c := b.collection()
		if c.Total != total {
			t.Fatalf("%d, want %d", c.Total, total)
		}
		seen, last := int64(0), ""
		for at := c.First.ID; at != ""; {
			n := strings.TrimPrefix(at, address+"/")
			text, p := b.page(n)
			if p.ID != at || p.Start != seen || p.PartOf.ID != c.ID || (p.Prev == nil) != (last == "") || p.Prev != nil && p.Prev.ID != last {
				t.Fatalf("%+v", p)
			}
			for _, a := range p.Items {
				if seen++; !strings.HasSuffix(a.ID, fmt.Sprintf("#%d", seen)) {
					t.Fatalf("%+v is not the %d.", a, seen)
				}
			}
			if last, at = at, ""; p.Next != nil {
				at = p.Next.ID
				if len(p.Items) != PageSize {
					t.Fatalf("%d items", len(p.Items))
				}
				if was, ok := full[n]; ok && was != text {
					t.Fatalf("page %s has changed:\n%s\n%s", n, was, text)
				}
				full[n] = text
			}
		}
		if seen != total || last != c.Last.ID {
			t.Fatalf("%d activities up to %s, want %d", seen, last, total)
		}
	}
	if len(full) < 4 {
		t.Errorf("only %d full pages", len(full))
	}
	for _, n := range []string{"0", "-1", "", "x", "01", "+1", "99", "9223372036854775807", "9223372036854775808", "1.0", "1/"} {
		if _, _, err := b.s.Page(context.Background(), n); service.CodeOf(err) != service.NotFound {
			t.Errorf("%q: %v", n, err)
		}
	}
}

func shared(t testing.TB, parts ...string) []byte {
	dir := os.Getenv("ROPEWALK_SHARED")
	if dir == "" {
		dir, _ = filepath.Abs("../../../shared")
	}
	data, err := os.ReadFile(filepath.Join(append([]string{dir, "standards"}, parts...)...))
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skipf("NOT TESTED: %v", err)
	}
	return data
}

// contexts are those that the stream names, and the one that IIIF's imports: of
// Activity Streams 2.0 the terms that occur here, with their types by its vocabulary.
type contexts map[string]any

func (c contexts) LoadDocument(u string) (*ld.RemoteDocument, error) {
	doc, ok := c[u]
	if !ok {
		return nil, errors.New("not at hand: " + u)
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: doc}, nil
}

const as = "https://www.w3.org/ns/activitystreams#"

func loader(t testing.TB) contexts {
	read := func(data []byte) any {
		v, err := ld.DocumentFromReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	link := func(term string) map[string]any { return map[string]any{"@id": as + term, "@type": "@id"} }
	terms := map[string]any{"id": "@id", "type": "@type", "first": link("first"), "last": link("last"), "next": link("next"), "prev": link("prev"), "partOf": link("partOf"),
		"items": link("items"), "orderedItems": map[string]any{"@id": as + "items", "@type": "@id", "@container": "@list"}, "summary": as + "summary",
		"totalItems": map[string]any{"@id": as + "totalItems", "@type": ld.XSDNS + "nonNegativeInteger"}, "startIndex": map[string]any{"@id": as + "startIndex", "@type": ld.XSDNS + "nonNegativeInteger"},
		"endTime": map[string]any{"@id": as + "endTime", "@type": ld.XSDNS + "dateTime"}, "startTime": map[string]any{"@id": as + "startTime", "@type": ld.XSDNS + "dateTime"},
		"actor": link("actor"), "Person": as + "Person", "OrderedCollectionPage": as + "OrderedCollectionPage"}
	return contexts{
		"http://iiif.io/api/discovery/1/context.json": read(shared(t, "iiif", "discovery-1.0", "context.json")),
		"https://linked.art/ns/v1/record-types.json":  read(shared(t, "linked-art", "context", "record-types.json")),
		"https://www.w3.org/ns/activitystreams":       map[string]any{"@context": terms},
	}
}

// TestExpansion: by the published contexts the documents mean what they should, and
// no key of them is without a meaning.
func TestExpansion(t *testing.T) {
	b := newBench(t)
	b.publish(storetest.Rec("object/1", "a"), storetest.Rec("object/2", "a"))
	b.publish(storetest.Rec("object/1", "b"), &service.Record{IRI: storetest.Base + "object/2", Path: "object/2", State: service.Moved, MovedTo: storetest.Base + "object/1"})
	b.publish()
	l := loader(t)
	expand := func(text []byte) (any, string) {
		var doc any
		if err := json.Unmarshal(text, &doc); err != nil {
			t.Fatal(err)
		}
		o := ld.NewJsonLdOptions("")
		o.DocumentLoader, o.ProcessingMode = l, ld.JsonLd_1_1
		out, err := ld.NewJsonLdProcessor().Expand(doc, o)
		if err != nil {
			t.Fatal(err)
		}
		flat, _ := json.Marshal(out)
		return doc, string(flat)
	}
	text, _, err := b.s.Collection(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	_, got := expand(text)
	for _, want := range []string{
		`"@id":"` + address + `"`, `"@type":["` + as + `OrderedCollection"]`, as + `totalItems":[{"@type":"` + ld.XSDNS + `nonNegativeInteger","@value":5}]`,
		`"http://purl.org/dc/terms/rights":[{"@id":"https://creativecommons.org/publicdomain/zero/1.0/"}]`, `rdf-schema#seeAlso":[{"@id":"` + storetest.Base + `downloads/dcat.jsonld"`,
		`"http://purl.org/dc/terms/conformsTo":[{"@id":"http://www.w3.org/ns/dcat#"}]`, `rdf-schema#label":[{"@language":"en","@value":"DCAT"}]`,
		as + `first":[{"@id":"` + address + `/1","@type":["` + as + `OrderedCollectionPage"]}]`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the collection lacks %s:\n%s", want, got)
		}
	}
	text, _, err = b.s.Page(context.Background(), "1")
	if err != nil {
		t.Fatal(err)
	}
	doc, got := expand(text)
	const e22 = "http://www.cidoc-crm.org/cidoc-crm/E22_Human-Made_Object"
	for _, want := range []string{
		as + `items":[{"@list":[{"@id":"` + address + `/1#1","@type":["` + as + `Create"]`, `"@type":["` + as + `Update"]`, `"@type":["` + as + `Move"]`, `"@type":["` + as + `Delete"]`,
		as + `object":[{"@id":"` + storetest.Base + `object/1","@type":["` + e22 + `"]}]`, as + `target":[{"@id":"` + storetest.Base + `object/1","@type":["` + e22 + `"]}]`,
		as + `endTime":[{"@type":"` + ld.XSDNS + `dateTime","@value":"2031-05-06T07:08:09Z"}]`, as + `startIndex":[{"@type":"` + ld.XSDNS + `nonNegativeInteger","@value":0}]`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the page lacks %s:\n%s", want, got)
		}
	}
	if n, m := values(doc.(map[string]any), "@context"), strings.Count(got, `"@value"`)+strings.Count(got, `"@id"`)+strings.Count(got, `"@type":[`); n != m {
		t.Errorf("%d values in JSON, %d in the graph:\n%s", n, m, got)
	}
}

// values counts the strings and numbers in JSON, those under a key left out.
func values(v any, but string) int {
	n := 0
	switch v := v.(type) {
	case map[string]any:
		for k, w := range v {
			if k != but {
				n += values(w, but)
			}
		}
	case []any:
		for _, w := range v {
			n += values(w, but)
		}
	default:
		return 1
	}
	return n
}

// TestExamples: the specification's complete examples have, where we have a key, the
// same kind of value under it, and we have all that the specification requires.
func TestExamples(t *testing.T) {
	b := newBench(t)
	var records []*service.Record
	for i := range 2*PageSize + 1 {
		records = append(records, storetest.Rec(fmt.Sprintf("object/%d", i), "x"))
	}
	b.publish(records...)
	text, _, err := b.s.Collection(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	second, _ := b.page("2")
	compared := 0
	for _, c := range []struct {
		example, ours string
		without       []string // optional properties that do not apply
	}{
		{"17-doc-complete-ordered-collection-example.json", string(text), []string{"partOf"}},
		{"08-doc-collections-of-pages.json", string(text), nil},
		{"25-doc-complete-ordered-collection-page-example.json", second, nil},
		{"07-doc-pages-of-changes.json", second, nil},
	} {
		var want, got map[string]any
		if err := json.Unmarshal(shared(t, "iiif", "discovery-1.0", "examples", c.example), &want); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(c.ours), &got); err != nil {
			t.Fatal(err)
		}
		for key, w := range want {
			g, ok := got[key]
			switch {
			case slices.Contains(c.without, key) && !ok:
				continue
			case !ok:
				t.Errorf("%s has %s, ours has not", c.example, key)
			case key == "@context":
				if list := g.([]any); list[len(list)-1] != w { // §2.4: its own context is the last
					t.Errorf("%v", g)
				}
			case key == "type" && g != w:
				t.Errorf("%s: type %v, want %v", c.example, g, w)
			default:
				like(t, c.example+" "+key, g, w)
			}
			compared++
		}
	}
	if compared < 25 {
		t.Errorf("only %d properties compared", compared)
	}
}

// like compares kinds of values, and the keys of objects.
func like(t *testing.T, where string, got, want any) {
	t.Helper()
	if reflect.TypeOf(got) != reflect.TypeOf(want) {
		t.Errorf("%s: %T, want %T", where, got, want)
		return
	}
	switch w := want.(type) {
	case []any:
		like(t, where, got.([]any)[0], w[0])
	case map[string]any:
		for key, v := range w {
			g, ok := got.(map[string]any)[key]
			if !ok {
				t.Errorf("%s lacks %s", where, key)
				continue
			}
			like(t, where+" "+key, g, v)
		}
	}
}

// TestConsumer: whoever walks backwards from the last page to what is known, as the
// specification's algorithm for processing changes does, and applies what is new, has
// the store's state after each of many random publications.
func TestConsumer(t *testing.T) {
	sequences, publications, seen := 40, 0, map[string]int{}
	if storetest.Long() {
		sequences = 1500
	}
	was := flag.Lookup("rapid.checks").Value.String()
	_ = flag.Set("rapid.checks", strconv.Itoa(sequences))
	t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
	var paths []string
	for i := range 90 {
		paths = append(paths, fmt.Sprintf("object/%d", i))
	}
	ran := 0
	rapid.Check(t, func(t *rapid.T) {
		ran++
		clock := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
		store := storetest.NewModel(func() time.Time { return clock })
		stream := New(store, service.Site{Base: storetest.Base}, address)
		live := map[string]*service.Record{}
		copied, known := map[string]string{}, "" // endTime by IRI; the last one applied
		for n := range rapid.IntRange(1, 9).Draw(t, "publications") {
			clock = clock.Add(time.Duration(rapid.IntRange(0, 5).Draw(t, "seconds")) * time.Second)
			d, err := store.Begin(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			var moved []string
			from := rapid.IntRange(0, len(paths)-1).Draw(t, "from")
			for _, path := range paths[from:min(len(paths), from+rapid.IntRange(0, 80).Draw(t, "changes"))] {
				switch what := rapid.IntRange(0, 6).Draw(t, "change"); {
				case what == 0:
					delete(live, path)
				case what == 1 && live[path] != nil:
					delete(live, path)
					moved = append(moved, path)
				default:
					live[path] = storetest.Rec(path, fmt.Sprint(n))
				}
			}
			for _, path := range moved {
				if _, err := d.Put(&service.Record{IRI: storetest.Base + path, Path: path, State: service.Moved, MovedTo: "https://elsewhere.example/" + path}); err != nil {
					t.Fatal(err)
				}
			}
			for _, path := range slices.Sorted(maps.Keys(live)) {
				if _, err := d.Put(live[path]); err != nil {
					t.Fatal(err)
				}
			}
			if _, err := d.Commit(context.Background()); err != nil {
				t.Fatal(err)
			}
			publications++
			if rapid.IntRange(0, 2).Draw(t, "later") == 0 {
				continue // the consumer comes another time
			}
			known = consume(t, stream, copied, known, seen)
			compareCopy(t, store, live, copied)
		}
		consume(t, stream, copied, known, seen)
		compareCopy(t, store, live, copied)
	})
	t.Logf("%d sequences, %d publications, %v", ran, publications, seen)
	if !t.Failed() && (ran < sequences || min(seen["Create"], seen["Update"], seen["Delete"], seen["Move"], seen["pages"]/2) < sequences/4) {
		t.Errorf("the sequences are too few or too tame: %d, %v", ran, seen)
	}
}

// consume walks the stream backwards, newest first, and applies the newest activity of
// each record, until it comes to activities that are older than the last one applied
// before. Those of the same moment are applied again.
func consume(t *rapid.T, s *Stream, copied map[string]string, known string, seen map[string]int) string {
	text, _, err := s.Collection(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var c collection
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	done, newest := map[string]bool{}, known
	for at := c.Last.ID; at != ""; {
		seen["pages"]++
		text, _, err := s.Page(context.Background(), strings.TrimPrefix(at, address+"/"))
		if err != nil {
			t.Fatal(err)
		}
		var p page
		if err := json.Unmarshal(text, &p); err != nil {
			t.Fatal(err)
		}
		if at = ""; p.Prev != nil {
			at = p.Prev.ID
		}
		for _, a := range slices.Backward(p.Items) {
			if a.EndTime < known {
				return newest
			}
			newest = max(newest, a.EndTime)
			if done[a.Object.ID] {
				continue
			}
			done[a.Object.ID] = true
			seen[a.Type]++
			switch a.Type {
			case "Create", "Update":
				copied[a.Object.ID] = a.EndTime
			case "Delete", "Move":
				delete(copied, a.Object.ID)
			default:
				t.Fatalf("%+v", a)
			}
		}
	}
	return newest
}

func compareCopy(t *rapid.T, store service.Store, live map[string]*service.Record, copied map[string]string) {
	if len(live) != len(copied) {
		t.Fatalf("%d records, should be %d", len(copied), len(live))
	}
	for path := range live {
		r, err := store.Get(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		if got := copied[r.IRI]; got != r.Modified.Format(time.RFC3339) {
			t.Fatalf("%s: of %q, should be of %v", path, got, r.Modified)
		}
	}
}
