package harvest

import (
	"context"
	"encoding/xml"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/store/storetest"
)

// TestInterleaved: harvesters that follow tokens while publications land, each
// request answered by another replica, end with exactly the store's state.
func TestInterleaved(t *testing.T) {
	for _, c := range []struct {
		name        string
		quick, long int
		fresh       storetest.Fresh
	}{
		{"model", 150, 5000, func(now func() time.Time) (service.Store, func()) { return storetest.NewModel(now), func() {} }},
		{"sqlite", 12, 2000, func(now func() time.Time) (service.Store, func()) {
			dir, err := os.MkdirTemp("", "harvest-")
			if err != nil {
				t.Fatal(err)
			}
			s, err := sqlite.Open(filepath.Join(dir, "s.db"), sqlite.Clock(now))
			if err != nil {
				t.Fatal(err)
			}
			return s, func() { _ = os.RemoveAll(dir) }
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := c.quick
			if storetest.Long() {
				n = c.long
			}
			Interleave(t, n, c.fresh)
		})
	}
}

// Interleave tries n sequences of publications and requests.
func Interleave(t *testing.T, n int, fresh storetest.Fresh) {
	was := flag.Lookup("rapid.checks").Value.String()
	_ = flag.Set("rapid.checks", strconv.Itoa(n))
	t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
	var publications, requests, ends int
	rapid.Check(t, func(t *rapid.T) {
		x := &walk{T: t, clock: begin, latest: begin, live: map[string]*service.Record{}}
		store, done := fresh(func() time.Time { return x.clock })
		x.store = store
		defer func() {
			_ = store.Close()
			done()
		}()
		for _, prefix := range []string{"rdf", "words", "objects", "two"} {
			for _, set := range []string{"", "a", "a:b", "d"} {
				for _, verb := range tokenVerbs {
					x.copies = append(x.copies, &heldCopy{verb: verb, prefix: prefix, set: set, has: map[string]string{}})
				}
			}
		}
		x.copies = rapid.Permutation(x.copies).Draw(t, "harvesters")[:6]
		for range rapid.IntRange(1, 8).Draw(t, "publications") {
			x.publish()
			x.provider()
			for _, c := range x.copies {
				for range rapid.IntRange(0, 3).Draw(t, "requests") {
					x.request(c)
				}
			}
		}
		x.provider()
		for _, c := range x.copies {
			for x.request(c); c.token != ""; {
				x.request(c)
			}
			x.complete(c)
			ends++
		}
		publications, requests = publications+x.publications, requests+x.requests
	})
	t.Logf("%d sequences: %d publications, %d requests, %d harvests compared", n, publications, requests, ends)
	if !t.Failed() && (publications < n || requests < 6*n) {
		t.Error("the sequences are too tame to show anything")
	}
}

var begin = time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)

type walk struct {
	*rapid.T
	store        service.Store
	clock        time.Time
	latest       time.Time // that the clock ever showed
	p            *Provider
	live         map[string]*service.Record
	copies       []*heldCopy
	publications int
	requests     int
}

// heldCopy is what one harvester has: by identifier, the datestamp and, where it
// harvests records, their metadata.
type heldCopy struct {
	verb, prefix, set string
	token             string
	from, next        string
	has               map[string]string
}

// provider is one replica, with limits small enough to meet all of them.
func (x *walk) provider() {
	p, err := New(Options{Store: x.store, Site: site, Address: storetest.Base + "harvest", Now: func() time.Time { return x.clock },
		Formats: []Format{RDF(), words("words"), words("objects", "object"), words("two", "object", "place")},
		Limits:  Limits{Records: rapid.IntRange(1, 4).Draw(x.T, "records"), Headers: rapid.IntRange(1, 4).Draw(x.T, "headers"), Bytes: rapid.SampledFrom([]int{1, 5000}).Draw(x.T, "bytes"), Passed: rapid.IntRange(1, 6).Draw(x.T, "passed")}})
	if err != nil {
		x.Fatal(err)
	}
	x.p = p
}

var walkPaths = []string{"object/1", "object/2", "object/3", "object/%C3%96&a", "place/1", "place/2", "person/1", "person/2"}

// publish changes some records: adds, changes, withdraws, moves, brings back.
func (x *walk) publish() {
	// A clock that is put right may go back, by less than responses are set back.
	x.clock = x.clock.Add(time.Duration(rapid.IntRange(-2, 90).Draw(x.T, "seconds")) * time.Second)
	if x.latest = later(x.latest, x.clock); x.latest.Sub(x.clock) > settling {
		x.clock = x.latest.Add(-settling)
	}
	d, err := x.store.Begin(context.Background())
	if err != nil {
		x.Fatal(err)
	}
	defer func() { _ = d.Discard() }()
	now := maps.Clone(x.live)
	moved := map[string]bool{}
	for range rapid.IntRange(0, 6).Draw(x.T, "changes") {
		path := rapid.SampledFrom(walkPaths).Draw(x.T, "path")
		switch rapid.IntRange(0, 9).Draw(x.T, "change") {
		case 0, 1:
			delete(now, path)
		case 2:
			if now[path] != nil {
				delete(now, path)
				moved[path] = true
			}
		default:
			r := rec(path, rapid.SampledFrom([]string{"one", "two", "unfit"}).Draw(x.T, "text"),
				rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "a:b", "d"}), 0, 2, rapid.ID[string]).Draw(x.T, "sets")...)
			if rapid.IntRange(0, 5).Draw(x.T, "endpoint") == 0 {
				r.Endpoint = rapid.SampledFrom([]string{"object", "place", "person"}).Draw(x.T, "other endpoint")
			}
			now[path] = r
			delete(moved, path)
		}
	}
	for path := range moved {
		if _, err := d.Put(&service.Record{IRI: storetest.Base + path, Path: path, State: service.Moved, MovedTo: "https://elsewhere.example/" + path}); err != nil {
			x.Fatal(err)
		}
	}
	for _, path := range walkPaths {
		if now[path] != nil {
			if _, err := d.Put(now[path]); err != nil {
				x.Fatal(err)
			}
		}
	}
	if _, err := d.Commit(context.Background()); err != nil {
		x.Fatal(err)
	}
	x.live = now
	x.publications++
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// request does the next request of a harvest, or begins one.
func (x *walk) request(c *heldCopy) {
	q := []string{"verb", c.verb, "resumptionToken", c.token}
	if c.token == "" {
		q = []string{"verb", c.verb, "metadataPrefix", c.prefix}
		if c.set != "" {
			q = append(q, "set", c.set)
		}
		if c.from = c.next; c.from != "" {
			q = append(q, "from", c.from)
		}
	}
	out, err := x.p.Append(context.Background(), nil, args(q...))
	if err != nil {
		x.Fatal(err)
	}
	x.requests++
	r := new(response)
	if err := xml.Unmarshal(out, r); err != nil {
		x.Fatalf("%v in\n%s", err, out)
	}
	first := c.token == ""
	if first {
		c.next = r.ResponseDate
	}
	if codes := r.codes(); codes != "" {
		if codes != "noRecordsMatch" || !first {
			x.Fatalf("%v: %s", q, out)
		}
		return
	}
	c.token = ""
	l := r.list()
	if l.Token != nil {
		c.token = l.Token.Text
	}
	take := func(h header, metadata string) {
		if h.Datestamp < c.from {
			x.Fatalf("%v: %+v is from before", q, h)
		}
		if delete(c.has, h.Identifier); h.Status == "" {
			c.has[h.Identifier] = h.Datestamp + " " + metadata
		}
	}
	for _, h := range l.Headers {
		take(h, "")
	}
	for _, r := range l.Records {
		text := ""
		if (r.Metadata != nil) != (r.Header.Status == "") {
			x.Fatalf("%v: a record has metadata if it is not deleted:\n%s", q, out)
		}
		if r.Metadata != nil {
			text = r.Metadata.XML
		}
		take(r.Header, text)
	}
	if len(l.Headers)+len(l.Records) == 0 {
		x.Fatalf("%v: an empty list:\n%s", q, out)
	}
}

// complete compares a copy with the store.
func (x *walk) complete(c *heldCopy) {
	want := map[string]string{}
	f := x.p.format(c.prefix)
	for path, r := range x.live {
		in := c.set == "" || slices.ContainsFunc(r.Sets, func(s string) bool { return s == c.set || strings.HasPrefix(s, c.set+":") })
		if in && f.covers(r.Endpoint) && (f.Always || !strings.Contains(r.Label, "unfit")) {
			want["oai:museum.example:coll/"+path] = r.Label
		}
	}
	for id, label := range want {
		got, ok := c.has[id]
		at, err := x.store.Get(context.Background(), strings.TrimPrefix(id, "oai:museum.example:coll/"))
		if err != nil {
			x.Fatal(err)
		}
		if !ok || !strings.HasPrefix(got, at.Modified.Format(second)) || c.verb == "ListRecords" && !strings.Contains(got, label) {
			x.Fatalf("%s %s %s: of %s it has %q, should have %q of %v", c.verb, c.prefix, c.set, id, got, label, at.Modified)
		}
	}
	if len(want) != len(c.has) {
		x.Fatalf("%s %s %s: has %v, should have %v", c.verb, c.prefix, c.set, slices.Sorted(maps.Keys(c.has)), slices.Sorted(maps.Keys(want)))
	}
}
