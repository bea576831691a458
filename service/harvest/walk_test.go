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
//
// Publications land between requests, between any two questions that a provider asks
// the store for one response, and requests are answered while a publication has taken
// its time but is not yet seen. The clock is put right now and then. Harvesters go on
// from the date of a response by seconds or by days, or take slices with an end; they
// lose tokens and begin again, or send a token twice.
func TestInterleaved(t *testing.T) {
	for _, c := range []struct {
		name        string
		quick, long int
		fresh       storetest.Fresh
	}{
		{"model", 100, 6000, func(now func() time.Time) (service.Store, func()) { return storetest.NewModel(now), func() {} }},
		{"sqlite", 6, 1500, func(now func() time.Time) (service.Store, func()) {
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

// met counts what the sequences met with, so that none is too tame to show anything.
type met struct {
	publications, requests, harvests     int
	within, unseen, back, slices         int // publications in a response; responses before a commit; clocks put back
	lost, twice, ended, present, deleted int
}

// Interleave tries n sequences of publications and requests.
func Interleave(t *testing.T, n int, fresh storetest.Fresh) {
	was := flag.Lookup("rapid.checks").Value.String()
	_ = flag.Set("rapid.checks", strconv.Itoa(n))
	t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
	var m met
	ran := 0
	rapid.Check(t, func(t *rapid.T) {
		ran++
		x := &walk{T: t, met: &m, clock: begin, latest: begin, live: map[string]*service.Record{}}
		store, done := fresh(x.now)
		x.store = store
		defer func() {
			_ = store.Close()
			done()
		}()
		if err := Prepare(context.Background(), store); err != nil {
			t.Fatal(err)
		}
		for _, prefix := range []string{"rdf", "words", "objects", "two"} {
			for _, set := range []string{"", "a", "a:b", "d"} {
				for _, verb := range tokenVerbs {
					x.copies = append(x.copies, &heldCopy{verb: verb, prefix: prefix, set: set, has: map[string]string{}})
				}
			}
		}
		x.copies = rapid.Permutation(x.copies).Draw(t, "harvesters")[:6]
		for _, c := range x.copies {
			c.pace = rapid.SampledFrom([]string{bySecond, bySecond, byDay, bySlice}).Draw(t, "pace")
		}
		x.provider()
		for range rapid.IntRange(1, 8).Draw(t, "publications") {
			x.publish()
			x.provider()
			for _, c := range x.copies {
				for range rapid.IntRange(0, 3).Draw(t, "requests") {
					x.request(c)
				}
			}
		}
		x.still = true
		x.provider()
		for _, c := range x.copies {
			finish := func() {
				for c.token != "" {
					x.request(c)
				}
			}
			finish()
			c.pace = bySecond // what a slice leaves is fetched without an end
			x.request(c)
			finish()
			x.complete(c)
			m.harvests++
		}
	})
	t.Logf("%d sequences: %+v", ran, m)
	if ran < n && !t.Failed() {
		// The library stops by itself when the time of the test is about to run out.
		t.Fatalf("only %d of %d sequences were tried in the time there was: -timeout gives more", ran, n)
	}
	for what, c := range map[string]int{"publications": m.publications / n, "requests": m.requests / (6 * n), "harvests": m.harvests / (6 * n), "within": m.within * 4 / n, "unseen": m.unseen * 4 / n,
		"back": m.back * 12 / n, "slices": m.slices * 4 / n, "lost": m.lost * 4 / n, "twice": m.twice * 4 / n, "ended": m.ended * 60 / n, "present": m.present / n, "deleted": m.deleted / n} {
		if c == 0 && !t.Failed() && n >= 100 {
			t.Errorf("the sequences are too tame to show anything: %s", what)
		}
	}
}

var begin = time.Date(2031, 5, 6, 23, 58, 9, 0, time.UTC)

const (
	bySecond = "second" // from the last response's date on
	byDay    = "day"    // from the day of the last response on
	bySlice  = "slice"  // from the end of the last slice on, up to a moment
)

type walk struct {
	*rapid.T
	*met
	store      service.Store
	clock      time.Time
	latest     time.Time // that the clock ever showed
	p          *Provider
	live       map[string]*service.Record
	copies     []*heldCopy
	committing bool
	publishing bool      // a draft is open: another would wait for it
	answering  *heldCopy // whose request is being answered
	still      bool      // nothing more is published
}

// heldCopy is what one harvester has: by identifier, the datestamp and, where it
// harvests records, their metadata.
type heldCopy struct {
	verb, prefix, set, pace string
	token, before           string // the token to send, and the one sent before it
	from, until             string // of the list under way
	next                    string // from where to go on when it is complete
	cursor                  int
	has                     map[string]string
}

// now is the clock of the store: it is asked for the time of a publication just before
// that is committed.
func (x *walk) now() time.Time {
	at := x.clock
	if x.committing {
		x.committing = false
		for range rapid.IntRange(0, 2).Draw(x.T, "requests while it is committed") {
			x.pass(rapid.IntRange(0, 70).Draw(x.T, "seconds to commit"))
			if x.clock.Sub(at) > settling {
				x.clock = at.Add(settling)
			}
			if c := x.copies[rapid.IntRange(0, len(x.copies)-1).Draw(x.T, "who")]; c != x.answering {
				x.unseen++
				x.request(c)
			}
		}
	}
	return at
}

// pass lets time pass. A clock that is put right may go back, by less than responses
// are set back.
func (x *walk) pass(seconds int) {
	if seconds < 0 {
		x.back++
	}
	x.clock = x.clock.Add(time.Duration(seconds) * time.Second)
	if x.clock.After(x.latest) {
		x.latest = x.clock
	}
	if x.latest.Sub(x.clock) > settling {
		x.clock = x.latest.Add(-settling)
	}
}

// rarely is true once in n times. Ranges of numbers are not drawn evenly.
func (x *walk) rarely(n int, label string) bool {
	return rapid.SampledFrom(faces[:n]).Draw(x.T, label) == n-1
}

var faces = [...]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15}

// changing is a store in which publications land between its answers.
type changing struct {
	service.Store
	x *walk
}

func (s changing) meanwhile() {
	if x := s.x; x.answering != nil && !x.publishing && !x.still && x.rarely(16, "meanwhile") {
		x.publish()
		x.within++
	}
}

func (s changing) Changes(ctx context.Context, q service.Selection) ([]service.Record, error) {
	s.meanwhile()
	return s.Store.Changes(ctx, q)
}

func (s changing) Count(ctx context.Context, q service.Selection) (int64, bool, error) {
	s.meanwhile()
	return s.Store.Count(ctx, q)
}

func (s changing) Current(ctx context.Context) (service.Publication, error) {
	s.meanwhile()
	return s.Store.Current(ctx)
}

func (s changing) Earliest(ctx context.Context) (time.Time, error) {
	s.meanwhile()
	return s.Store.Earliest(ctx)
}

func (s changing) Versions(ctx context.Context, path string, after int64, limit int) ([]service.Record, error) {
	s.meanwhile()
	return s.Store.Versions(ctx, path, after, limit)
}

// provider is one replica, with limits small enough to meet all of them.
func (x *walk) provider() {
	p, err := New(Options{Store: changing{x.store, x}, Site: site, Address: storetest.Base + "harvest", Now: func() time.Time { return x.clock },
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
	x.pass(rapid.IntRange(-70, 120).Draw(x.T, "seconds"))
	d, err := x.store.Begin(context.Background())
	if err != nil {
		x.Fatal(err)
	}
	defer func() { _ = d.Discard() }()
	x.publishing = true
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
	for _, path := range walkPaths {
		if moved[path] {
			if _, err := d.Put(&service.Record{IRI: storetest.Base + path, Path: path, State: service.Moved, MovedTo: "https://elsewhere.example/" + path}); err != nil {
				x.Fatal(err)
			}
		}
		if now[path] != nil {
			if _, err := d.Put(now[path]); err != nil {
				x.Fatal(err)
			}
		}
	}
	x.committing = true
	if _, err := d.Commit(context.Background()); err != nil {
		x.Fatal(err)
	}
	x.committing, x.publishing = false, false
	x.live = now
	x.publications++
}

// request does the next request of a harvest, or begins one.
func (x *walk) request(c *heldCopy) {
	if c.token != "" && !x.still && x.rarely(12, "token lost") {
		c.token = ""
		x.lost++
	}
	first := c.token == ""
	if !first && c.before != "" && !x.still && x.rarely(8, "sent twice") {
		// The answer to the last request was lost (§3.5.1).
		c.token, c.cursor = c.before, -1
		x.twice++
	}
	q := []string{"verb", c.verb, "resumptionToken", c.token}
	if first {
		q = []string{"verb", c.verb, "metadataPrefix", c.prefix}
		if c.set != "" {
			q = append(q, "set", c.set)
		}
		if c.from != "" {
			q = append(q, "from", c.from)
		}
		if c.until = ""; c.pace == bySlice {
			at := x.clock.Add(time.Duration(rapid.IntRange(-60, 60).Draw(x.T, "until")) * time.Second)
			if from, _, ok := datestamp(c.from); ok && at.Before(from) {
				at = from
			}
			c.until = at.Format(second)
			q = append(q, "until", c.until)
			x.slices++
		}
		c.cursor = 0
	}
	within := x.answering
	x.answering = c
	out, err := x.p.Append(context.Background(), nil, args(q...))
	x.answering = within
	if err != nil {
		x.Fatal(err)
	}
	x.requests++
	r := new(response)
	if err := xml.Unmarshal(out, r); err != nil {
		x.Fatalf("%v in\n%s", err, out)
	}
	if first {
		switch c.next = r.ResponseDate; {
		case c.until != "" && c.until < c.next:
			c.next = c.until
		case c.pace == byDay:
			c.next = c.next[:len(day)]
		}
	}
	c.before, c.token = c.token, ""
	if codes := r.codes(); codes != "" {
		// What a token stood for can be gone only if all of it changed after the end
		// of a slice.
		if codes != noRecordsMatch || !first && c.until == "" {
			x.Fatalf("%v: %s", q, out)
		}
		if !first {
			x.ended++
		}
		c.from = c.next
		return
	}
	l := r.list()
	if l.Token != nil {
		c.token = l.Token.Text
		cursor, _ := strconv.Atoi(l.Token.Cursor)
		size, _ := strconv.Atoi(l.Token.Size)
		n := len(l.Headers) + len(l.Records)
		if c.cursor >= 0 && cursor != c.cursor || size < cursor+n || c.token != "" && size == cursor+n {
			x.Fatalf("%v: cursor %d, size %d; %d records, %d before:\n%s", q, cursor, size, n, c.cursor, out)
		}
		c.cursor = cursor + n
	}
	if c.token == "" {
		c.from = c.next
	}
	take := func(h header, metadata string) {
		if first && h.Datestamp < args0(q, "from") || c.until != "" && h.Datestamp > c.until {
			x.Fatalf("%v: %+v is not of that time", q, h)
		}
		if delete(c.has, h.Identifier); h.Status == "" {
			c.has[h.Identifier] = h.Datestamp + " " + metadata
			x.present++
		} else {
			x.deleted++
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

// args0 is the value of an argument, or "".
func args0(pairs []string, name string) string {
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i] == name {
			return pairs[i+1]
		}
	}
	return ""
}

// complete compares a copy with the store, and with what GetRecord says of each item.
func (x *walk) complete(c *heldCopy) {
	want := map[string]string{}
	f := x.p.format(c.prefix)
	for path, r := range x.live {
		if !f.covers(r.Endpoint) || !f.Always && strings.Contains(r.Label, "unfit") {
			continue
		}
		if c.set == "" || slices.ContainsFunc(r.Sets, func(s string) bool { return s == c.set || strings.HasPrefix(s, c.set+":") }) {
			want[id(path)] = r.Label
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
	if c.set != "" {
		return
	}
	for _, path := range walkPaths {
		out, err := x.p.Append(context.Background(), nil, args("verb", "GetRecord", "metadataPrefix", c.prefix, "identifier", id(path)))
		r := new(response)
		if err == nil {
			err = xml.Unmarshal(out, r)
		}
		if err != nil {
			x.Fatal(err)
		}
		_, wanted := want[id(path)]
		live := r.GetRecord != nil && r.GetRecord.Records[0].Header.Status == ""
		if wanted != live || live && c.verb == "ListRecords" && c.has[id(path)] != r.GetRecord.Records[0].Header.Datestamp+" "+r.GetRecord.Records[0].Metadata.XML {
			x.Fatalf("%s %s: the list has %q, GetRecord says\n%s", c.prefix, path, c.has[id(path)], out)
		}
	}
}
