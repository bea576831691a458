package conformance

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
	"ropewalk/mapping/site"
	"ropewalk/service"
	"ropewalk/service/harvest"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/web"
)

// TestHarvester has an independent harvester (harvester.py) keep copies over HTTP, in
// every format, whole and by set, by seconds and by days, of records and of headers,
// while documents of the demonstration are published, changed, made unfit for LIDO and
// EDM, put into other sets, withdrawn, moved and brought back at random. One harvest
// runs at the same time as each publication; after the next, every copy equals the store.
func TestHarvester(t *testing.T) {
	publications := 3
	if outside.Long() {
		publications = 50
	}
	x := newPublisher(t)
	h := outside.Start(t, "harvester.py", x.address+"harvest")
	type copied struct {
		name, verb, prefix, set string
		day, post               bool
	}
	var copies []copied
	for i, prefix := range []string{"rdf", "oai_dc", "lido", "edm"} {
		copies = append(copies, copied{prefix, "ListRecords", prefix, "", false, i == 0}, copied{prefix + " by set", "ListRecords", prefix, []string{"objects", "names", "objects:sea", "objects"}[i], true, i == 1},
			copied{prefix + " headers", "ListIdentifiers", prefix, "", i%2 == 0, false})
	}
	total, incremental, whole := map[string]int{}, 0, 0
	update := func(c copied, expect map[string]expected) {
		t.Helper()
		q, err := json.Marshal(map[string]any{"copy": c.name, "verb": c.verb, "prefix": c.prefix, "set": c.set, "day": c.day, "post": c.post, "expect": expect})
		if err != nil {
			t.Fatal(err)
		}
		var a struct {
			Requests, Records, Deleted int
			Full                       bool
			Faults                     []string
		}
		if err := json.Unmarshal(h.Line(q), &a); err != nil {
			t.Fatal(err)
		}
		if len(a.Faults) > 0 {
			t.Fatalf("publication %d, %s: %s", x.n, c.name, strings.Join(a.Faults[:min(5, len(a.Faults))], "; "))
		}
		total["requests"] += a.Requests
		total["records"] += a.Records
		total["deleted"] += a.Deleted
		if !a.Full && !c.day && expect != nil {
			incremental += a.Records
			whole += len(expect)
		}
	}
	compared := 0
	for range publications {
		done := make(chan error, 1)
		go func() { done <- x.publish() }()
		update(copies[x.random.IntN(len(copies))], nil)
		if err := <-done; err != nil {
			t.Fatal(err)
		}
		// Who comes within a minute of a publication gets it again next time.
		x.clock.Add(int64(2 * time.Minute))
		state := x.state(t)
		for _, c := range copies {
			want := state[c.prefix]
			if c.set != "" {
				want = maps.Clone(want)
				maps.DeleteFunc(want, func(_ string, e expected) bool {
					return !slices.ContainsFunc(e.sets, func(s string) bool { return s == c.set || strings.HasPrefix(s, c.set+":") })
				})
			}
			update(c, want)
			compared += len(want)
		}
		x.clock.Add(int64(time.Duration(x.random.IntN(30*3600)) * time.Second))
	}
	t.Logf("%d publications, %v, %d incremental for copies of %d, %d records compared", publications, total, incremental, whole, compared)
	outside.AtLeast(t, "records compared", compared, 150*publications)
	outside.AtLeast(t, "deleted", total["deleted"], 10*publications)
	if incremental*3 > whole {
		t.Errorf("%d records came again, of %d", incremental, whole)
	}
}

// expected is what a copy should hold of a record.
type expected struct {
	Datestamp string `json:"datestamp"`
	Metadata  string `json:"metadata"`
	sets      []string
}

// publisher publishes the demonstration's documents at random, and serves them.
type publisher struct {
	store   service.Store
	address string
	clock   atomic.Int64 // nanoseconds
	random  *rand.Rand
	all     []*service.Record
	objects []*service.Record
	live    map[string]*service.Record
	base    string
	context *view.Context
	n       int
}

func newPublisher(t *testing.T) *publisher {
	x := &publisher{random: rand.New(rand.NewPCG(7, 11)), live: map[string]*service.Record{}, context: viewContext(t, "demo")}
	x.clock.Store(time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC).UnixNano())
	now := func() time.Time { return time.Unix(0, x.clock.Load()).UTC() }
	s, _ := site.Load(openSite(t, "demo"))
	x.base = s.Base
	_, err := line.Run(context.Background(), s.Program, line.Options{Workers: 1, Describe: true, NewEncoder: func() line.Encoder {
		return jsonldEncoder{render.NewEncoder(render.FormatByName("jsonld"), render.Options{})}
	}}, func(it *line.Item) error {
		path, ok := service.Path(s.Base, it.IRI)
		if !ok {
			return fmt.Errorf("%s has no path", it.IRI)
		}
		x.all = append(x.all, &service.Record{IRI: strings.Clone(it.IRI), Path: path, State: service.Live, Class: it.Class.Key, Endpoint: it.Endpoint.Name, Label: strings.Clone(it.Label),
			Body: slices.Clone(it.Data), Keys: strings.Clone(it.Keys), Sets: slices.Clone(it.Sets)})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	outside.AtLeast(t, "documents of the demonstration", len(x.all), 300)
	for _, r := range x.all {
		if r.Endpoint == "object" {
			x.objects = append(x.objects, r)
		}
	}
	if x.store, err = sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(now)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = x.store.Close() })
	var formats []harvest.Format
	for _, v := range view.Views() {
		if v.Prefix != "" {
			formats = append(formats, harvest.View(v, x.context))
		}
	}
	srv, err := web.New(web.Options{Store: x.store, Site: service.Site{Base: s.Base, Title: s.Title, Sets: []service.Set{{Spec: "objects"}, {Spec: "objects:sea"}, {Spec: "names"}}},
		Views: x.context, Formats: formats, Harvest: harvest.Limits{Records: 30, Headers: 50, Passed: 60}, Now: now, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(srv)
	t.Cleanup(server.Close)
	x.address = server.URL + "/"
	return x
}

// publish changes some of what is published.
func (x *publisher) publish() error {
	x.n++
	d, err := x.store.Begin(context.Background())
	if err != nil {
		return err
	}
	defer func() { _ = d.Discard() }()
	changes := 25
	if x.n == 1 {
		changes = 200
	}
	var moved []*service.Record
	for range changes {
		r := *x.all[x.random.IntN(len(x.all))]
		if x.random.IntN(3) > 0 { // what all formats are for
			r = *x.objects[x.random.IntN(len(x.objects))]
		}
		was := x.live[r.Path]
		if was != nil {
			switch x.random.IntN(5) {
			case 0:
				delete(x.live, r.Path)
				continue
			case 1:
				delete(x.live, r.Path)
				moved = append(moved, &service.Record{IRI: r.IRI, Path: r.Path, State: service.Moved, MovedTo: "https://elsewhere.example/" + r.Path})
				continue
			}
		}
		r.Label = fmt.Sprintf("%s, as in %d", r.Label, x.n)
		r.Body = bytes.Replace(r.Body, []byte(`"_label":"`), fmt.Appendf(nil, `"_label":"%d: `, x.n), 1)
		switch x.random.IntN(4) {
		case 0: // no kind of work: neither LIDO nor EDM takes it
			r.Body = bytes.ReplaceAll(r.Body, []byte("aat/300435443"), []byte("aat/300435444"))
		case 1:
			r.Sets = append(slices.Clone(r.Sets), "objects:sea")
		case 2:
			r.Sets = nil
		}
		x.live[r.Path] = &r
		moved = slices.DeleteFunc(moved, func(m *service.Record) bool { return m.Path == r.Path })
	}
	for _, path := range slices.Sorted(maps.Keys(x.live)) {
		if _, err := d.Put(x.live[path]); err != nil {
			return err
		}
	}
	for _, r := range moved {
		if _, err := d.Put(r); err != nil {
			return err
		}
	}
	_, err = d.Commit(context.Background())
	return err
}

// state is what is live in the store, in every format that it fits.
func (x *publisher) state(t *testing.T) map[string]map[string]expected {
	t.Helper()
	out := map[string]map[string]expected{"rdf": {}}
	rdf := render.NewEncoder(render.FormatByName("rdf"), render.Options{})
	doc := new(entity.Document)
	n, left := 0, 0
	_, err := x.store.Walk(context.Background(), func(r *service.Record) error {
		if err := doc.Parse(r.Body, r.Keys); err != nil {
			return err
		}
		put := func(prefix string, text []byte) {
			if out[prefix] == nil {
				out[prefix] = map[string]expected{}
			}
			out[prefix]["oai:data.marrowhythe-museum.example:"+r.Path] = expected{r.Modified.Format("2006-01-02T15:04:05Z"), string(text), slices.Clone(r.Sets)}
		}
		text, err := rdf.Append(rdf.Header(nil), doc)
		if err != nil {
			return err
		}
		put("rdf", rdf.Footer(text))
		for _, v := range view.Views() {
			if v.Prefix == "" || !v.Covers(r.Endpoint) {
				continue
			}
			text, err := v.Document(doc, x.context)
			var reason *view.Reason
			if errors.As(err, &reason) {
				left++
				continue
			}
			if err != nil {
				return err
			}
			put(v.Prefix, text)
		}
		n++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n != len(x.live) || left == 0 {
		t.Errorf("%d records are live, should be %d; %d left out", n, len(x.live), left)
	}
	return out
}
