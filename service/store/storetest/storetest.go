// Package storetest is the contract of [service.Store] as tests. A store's own test
// calls [Run].
package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ropewalk/service"
)

// Base is the base IRI of the records in the tests.
const Base = "https://museum.example/coll/"

// Opener makes an empty store that takes its time from now. Again opens the same
// data once more, as another process would; the stores are closed by the test.
type Opener func(t *testing.T, now func() time.Time) (s service.Store, again func() service.Store)

// Run runs the tests of the contract: all, or those with certain names.
func Run(t *testing.T, open Opener, only ...string) {
	run := 0
	for _, c := range []struct {
		name string
		test func(*harness)
	}{
		{"empty", testEmpty},
		{"round trip", testRoundTrip},
		{"compare", testCompare},
		{"end and return", testEndAndReturn},
		{"explicit ends", testExplicitEnds},
		{"refusals", testRefusals},
		{"unfit records", testUnfit},
		{"discard", testDiscard},
		{"unchanged writes nothing", testUnchanged},
		{"time", testTime},
		{"lists", testLists},
		{"large", testLarge},
		{"one draft at a time", testOneDraft},
		{"readers see whole publications", testReaders},
		{"ended drafts", testEnded},
		{"cancelled", testCancelled},
		{"digest", testDigest},
		{"labels", testLabels},
		{"changes", testChanges},
		{"sets", testSets},
		{"times", testTimes},
		{"count", testCount},
		{"log", testLog},
		{"walk", testWalk},
		{"versions", testVersions},
		{"publications", testPublications},
		{"marks", testMarks},
		{"withdraw", testWithdraw},
		{"move", testMove},
		{"moved and back", testMovedAndBack},
		{"differences", testDifferences},
		{"empty draft", testEmptyDraft},
		{"publishers", testPublishers},
		{"followers", testFollowers},
	} {
		if len(only) > 0 && !slices.Contains(only, c.name) {
			continue
		}
		run++
		t.Run(c.name, func(t *testing.T) {
			h := &harness{T: t, ctx: context.Background(), clock: time.Date(2031, 5, 6, 7, 8, 9, 999, time.UTC)}
			h.s, h.again = open(t, func() time.Time { return h.clock })
			t.Cleanup(func() {
				if err := h.s.Close(); err != nil {
					t.Error(err)
				}
			})
			c.test(h)
		})
	}
	if run == 0 || len(only) > 0 && run != len(only) {
		t.Errorf("%d tests were run", run)
	}
}

type harness struct {
	*testing.T
	ctx   context.Context
	s     service.Store
	again func() service.Store
	clock time.Time
}

// Rec makes a live record with a path and a text in its body.
func Rec(path, text string) *service.Record {
	endpoint, _, _ := strings.Cut(path, "/")
	return &service.Record{
		IRI: Base + path, Path: path, State: service.Live, Class: "HumanMadeObject", Endpoint: endpoint,
		Label: "Label of " + path, Body: []byte(`{"id":"` + Base + path + `","note":"` + text + `"}`),
	}
}

func (h *harness) begin() service.Draft {
	h.Helper()
	d, err := h.s.Begin(h.ctx)
	if err != nil {
		h.Fatal(err)
	}
	return d
}

func (h *harness) put(d service.Draft, r *service.Record, want service.Change) {
	h.Helper()
	got, err := d.Put(r)
	if err != nil {
		h.Fatalf("Put %s: %v", r.Path, err)
	}
	if got != want {
		h.Fatalf("Put %s: %v, want %v", r.Path, got, want)
	}
}

func (h *harness) commit(d service.Draft, want service.Summary) service.Publication {
	h.Helper()
	if got := d.Review(); got != want {
		h.Fatalf("review %+v, want %+v", got, want)
	}
	p, err := d.Commit(h.ctx)
	if err != nil {
		h.Fatal(err)
	}
	if p.Summary != want {
		h.Fatalf("summary %+v, want %+v", p.Summary, want)
	}
	return p
}

// publish makes a publication of exactly these records.
func (h *harness) publish(records ...*service.Record) service.Publication {
	h.Helper()
	d := h.begin()
	for _, r := range records {
		if _, err := d.Put(r); err != nil {
			h.Fatal(err)
		}
	}
	p, err := d.Commit(h.ctx)
	if err != nil {
		h.Fatal(err)
	}
	h.clock = h.clock.Add(time.Minute)
	return p
}

func (h *harness) get(path string) *service.Record {
	h.Helper()
	r, err := h.s.Get(h.ctx, path)
	if err != nil {
		h.Fatal(err)
	}
	return r
}

func (h *harness) code(err error, want service.Code) {
	h.Helper()
	if err == nil {
		h.Fatalf("no error, want %s", want)
	}
	if got := service.CodeOf(err); got != want {
		h.Fatalf("code %s, want %s: %v", got, want, err)
	}
	if !errors.As(err, new(*service.Error)) {
		h.Fatalf("%T is not a *service.Error", err)
	}
}

func (h *harness) current() service.Publication {
	h.Helper()
	p, err := h.s.Current(h.ctx)
	if err != nil {
		h.Fatal(err)
	}
	return p
}

func testEmpty(h *harness) {
	if p := h.current(); p != (service.Publication{}) {
		h.Errorf("publication %+v in an empty store", p)
	}
	if l, err := h.s.List(h.ctx, service.Listing{Endpoint: "object", Limit: 10}); err != nil || len(l) != 0 {
		h.Errorf("list %v, %v", l, err)
	}
	if l, err := h.s.Tallies(h.ctx); err != nil || len(l) != 0 {
		h.Errorf("tallies %v, %v", l, err)
	}
	_, err := h.s.Get(h.ctx, "object/1")
	h.code(err, service.NotFound)
	if p := h.commit(h.begin(), service.Summary{}); p.Number != 0 {
		h.Errorf("an empty run made publication %d", p.Number)
	}
}

func testRoundTrip(h *harness) {
	in := &service.Record{
		IRI: Base + "object/Ö 1/a%2Fb", Path: "object/%C3%96%201/a%2Fb", State: service.Live, Class: "HumanMadeObject",
		Endpoint: "object", Label: "Größe \u2603 \U0001F9ED", Body: []byte("{\"x\":\"" + strings.Repeat("längs ", 5000) + "\"}"),
		Keys: "identified_by/0=a\nidentified_by/1=b", Sets: []string{"maps", "maps:charts", "on view"},
	}
	d := h.begin()
	buf := slices.Clone(in.Body)
	c := *in
	c.Body, c.Sets = buf, slices.Clone(in.Sets)
	h.put(d, &c, service.Added)
	clear(buf) // the draft must not keep what it was given
	clear(c.Sets)
	p := h.commit(d, service.Summary{Added: 1})
	if p.Number != 1 || !p.Time.Equal(time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)) || p.Time.Location() != time.UTC {
		h.Errorf("publication %+v", p)
	}
	if got := h.current(); got != p {
		h.Errorf("current %+v, want %+v", got, p)
	}
	other := h.again()
	defer other.Close()
	for _, s := range []service.Store{h.s, other} {
		got, err := s.Get(h.ctx, in.Path)
		if err != nil {
			h.Fatal(err)
		}
		if got.IRI != in.IRI || got.Path != in.Path || got.State != in.State || got.Class != in.Class || got.Endpoint != in.Endpoint ||
			got.Label != in.Label || string(got.Body) != string(in.Body) || got.Keys != in.Keys || !slices.Equal(got.Sets, in.Sets) {
			h.Errorf("got %+v", got)
		}
		if got.Seq != 1 || got.Publication != 1 || !got.Modified.Equal(p.Time) || got.Digest != in.ContentDigest() {
			h.Errorf("seq %d, publication %d, modified %v, digest %x", got.Seq, got.Publication, got.Modified, got.Digest)
		}
	}
}

func testCompare(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("object/3", "c"))
	before := h.get("object/1")
	d := h.begin()
	h.put(d, Rec("object/4", "d"), service.Added)
	h.put(d, Rec("object/2", "B"), service.Changed)
	h.put(d, Rec("object/1", "a"), service.Unchanged)
	if w := d.Withdrawals(10); !slices.Equal(w, []string{"object/3"}) {
		h.Errorf("withdrawals %q", w)
	}
	p := h.commit(d, service.Summary{Added: 1, Changed: 1, Unchanged: 1, Withdrawn: 1})
	if p.Number != 2 {
		h.Errorf("number %d", p.Number)
	}
	after := h.get("object/1")
	if after.Seq != before.Seq || !after.Modified.Equal(before.Modified) || after.Publication != 1 {
		h.Errorf("an unchanged record moved from %d %v to %d %v", before.Seq, before.Modified, after.Seq, after.Modified)
	}
	for path, seq := range map[string]int64{"object/4": 4, "object/2": 5, "object/3": 6} {
		if r := h.get(path); r.Seq != seq || !r.Modified.Equal(p.Time) {
			h.Errorf("%s: seq %d at %v, want %d at %v", path, r.Seq, r.Modified, seq, p.Time)
		}
	}
	if r := h.get("object/2"); !strings.Contains(string(r.Body), `"B"`) {
		h.Errorf("body %s", r.Body)
	}

	// Each field that is served or harvested counts as content.
	for _, edit := range []func(*service.Record){
		func(r *service.Record) { r.Label += "!" },
		func(r *service.Record) { r.Keys = "k" },
		func(r *service.Record) { r.Sets = []string{"s"} },
		func(r *service.Record) { r.Class = "DigitalObject" },
		func(r *service.Record) { r.Endpoint = "digital" },
	} {
		d := h.begin()
		r := Rec("object/1", "a")
		edit(r)
		h.put(d, r, service.Changed)
		if err := d.Discard(); err != nil {
			h.Fatal(err)
		}
	}
}

func testEndAndReturn(h *harness) {
	r := Rec("object/1", "a")
	r.Sets = []string{"globes"}
	h.publish(r, Rec("object/2", "b"))
	h.publish(Rec("object/2", "b"))
	gone := h.get("object/1")
	if gone.State != service.Gone || len(gone.Body) != 0 || gone.Label != r.Label || gone.Class != r.Class ||
		gone.Endpoint != r.Endpoint || !slices.Equal(gone.Sets, r.Sets) || gone.IRI != r.IRI {
		h.Fatalf("tombstone %+v", gone)
	}
	// A tombstone stays as it is while the record stays away.
	d := h.begin()
	h.put(d, Rec("object/2", "b2"), service.Changed)
	h.commit(d, service.Summary{Changed: 1})
	if again := h.get("object/1"); again.Seq != gone.Seq || !again.Modified.Equal(gone.Modified) {
		h.Errorf("the tombstone moved")
	}
	h.clock = h.clock.Add(time.Hour)
	d = h.begin()
	h.put(d, Rec("object/2", "b2"), service.Unchanged)
	h.put(d, r, service.Returned)
	p := h.commit(d, service.Summary{Returned: 1, Unchanged: 1})
	if back := h.get("object/1"); back.State != service.Live || !back.Modified.Equal(p.Time) || string(back.Body) != string(r.Body) || back.Seq <= gone.Seq {
		h.Errorf("returned %+v", back)
	}
}

func testExplicitEnds(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("object/3", "c"))
	gone := &service.Record{IRI: Base + "object/1", Path: "object/1", State: service.Gone, Reason: "entered twice"}
	moved := &service.Record{IRI: Base + "object/2", Path: "object/2", State: service.Moved, MovedTo: Base + "object/3"}
	old := &service.Record{IRI: Base + "object/0", Path: "object/0", State: service.Moved, MovedTo: Base + "object/3"}
	run := func(g, m, o, three service.Change, want service.Summary) {
		h.Helper()
		d := h.begin()
		h.put(d, gone, g)
		h.put(d, moved, m)
		h.put(d, old, o)
		h.put(d, Rec("object/3", "c"), three)
		h.commit(d, want)
	}
	run(service.Withdrawn, service.Relocated, service.Relocated, service.Unchanged, service.Summary{Withdrawn: 1, Moved: 2, Unchanged: 1})
	run(service.Unchanged, service.Unchanged, service.Unchanged, service.Unchanged, service.Summary{Unchanged: 4})
	if r := h.get("object/1"); r.State != service.Gone || r.Reason != gone.Reason || r.Label != "Label of object/1" || r.Class != "HumanMadeObject" {
		h.Errorf("%+v", r)
	}
	if r := h.get("object/2"); r.State != service.Moved || r.MovedTo != moved.MovedTo || r.Endpoint != "object" {
		h.Errorf("%+v", r)
	}
	if r := h.get("object/0"); r.State != service.Moved || r.MovedTo != old.MovedTo {
		h.Errorf("%+v", r)
	}
	d := h.begin()
	h.put(d, Rec("object/3", "c"), service.Unchanged)
	h.commit(d, service.Summary{Unchanged: 1})
	if r := h.get("object/2"); r.State != service.Moved {
		h.Errorf("a redirection ended: %+v", r)
	}
}

func testRefusals(h *harness) {
	h.publish(Rec("object/1", "a"))
	d := h.begin()
	stranger := Rec("object/1", "x")
	stranger.IRI = "https://elsewhere.example/object/1"
	_, err := d.Put(stranger)
	h.code(err, service.Conflict)
	if !strings.Contains(err.Error(), stranger.IRI) || !strings.Contains(err.Error(), Base+"object/1") {
		h.Errorf("the error does not name both records: %v", err)
	}
	h.put(d, Rec("object/1", "a"), service.Unchanged)
	_, err = d.Put(Rec("object/1", "a"))
	h.code(err, service.Conflict)
	h.put(d, Rec("object/2", "b"), service.Added)
	_, err = d.Put(Rec("object/2", "c"))
	h.code(err, service.Conflict)
	slash, other := Rec("object/a%2Fb", "a"), Rec("object/a%2Fb", "b")
	other.IRI = Base + "object/a%2fb" // another IRI, the same address
	h.put(d, slash, service.Added)
	_, err = d.Put(other)
	h.code(err, service.Conflict)
	if !strings.Contains(err.Error(), slash.IRI) || !strings.Contains(err.Error(), other.IRI) {
		h.Errorf("the error does not name both records: %v", err)
	}
	h.commit(d, service.Summary{Added: 2, Unchanged: 1})
	if r := h.get("object/2"); !strings.Contains(string(r.Body), `"b"`) {
		h.Errorf("body %s", r.Body)
	}
}

func testUnfit(h *harness) {
	d := h.begin()
	for name, edit := range map[string]func(*service.Record){
		"no IRI":           func(r *service.Record) { r.IRI = "" },
		"no path":          func(r *service.Record) { r.Path = "" },
		"path not normal":  func(r *service.Record) { r.Path = "object/%c3%96" },
		"another's path":   func(r *service.Record) { r.Path = "object/2" },
		"dot segments":     func(r *service.Record) { r.Path = "../object/1" },
		"reserved":         func(r *service.Record) { r.IRI, r.Path = Base+"healthz", "healthz" },
		"address of list":  func(r *service.Record) { r.IRI, r.Path = Base+"object/", "object/" },
		"no class":         func(r *service.Record) { r.Class = "" },
		"no endpoint":      func(r *service.Record) { r.Endpoint = "" },
		"no body":          func(r *service.Record) { r.Body = nil },
		"no state":         func(r *service.Record) { r.State = 0 },
		"unknown state":    func(r *service.Record) { r.State = 9 },
		"live with target": func(r *service.Record) { r.MovedTo = "x" },
		"live with reason": func(r *service.Record) { r.Reason = "x" },
		"gone with body":   func(r *service.Record) { r.State = service.Gone },
		"moved with body":  func(r *service.Record) { r.State, r.MovedTo = service.Moved, "x" },
		"moved nowhere":    func(r *service.Record) { r.State, r.Body = service.Moved, nil },
		"moved to itself":  func(r *service.Record) { r.State, r.Body, r.MovedTo = service.Moved, nil, r.IRI },
		"set without name": func(r *service.Record) { r.Sets = []string{""} },
		"set of two lines": func(r *service.Record) { r.Sets = []string{"a\nb"} },
		"NUL in label":     func(r *service.Record) { r.Label = "a\x00b" },
	} {
		r := Rec("object/1", "a")
		edit(r)
		if _, err := d.Put(r); service.CodeOf(err) != service.Invalid {
			h.Errorf("%s: %v", name, err)
		}
	}
	h.commit(d, service.Summary{})
}

func testDiscard(h *harness) {
	h.publish(Rec("object/1", "a"))
	d := h.begin()
	h.put(d, Rec("object/2", "b"), service.Added)
	for i := 0; i < 2; i++ {
		if err := d.Discard(); err != nil {
			h.Fatal(err)
		}
	}
	if _, err := d.Put(Rec("object/3", "c")); err == nil {
		h.Error("put into a discarded draft")
	}
	_, err := h.s.Get(h.ctx, "object/2")
	h.code(err, service.NotFound)
	if r := h.get("object/1"); r.State != service.Live {
		h.Error("a discarded draft withdrew a record")
	}
	if p := h.publish(Rec("object/1", "a"), Rec("object/2", "b")); p.Number != 2 {
		h.Errorf("number %d", p.Number)
	}
}

func testUnchanged(h *harness) {
	first := h.publish(Rec("object/1", "a"), Rec("object/2", "b"))
	d := h.begin()
	h.put(d, Rec("object/2", "b"), service.Unchanged)
	h.put(d, Rec("object/1", "a"), service.Unchanged)
	p := h.commit(d, service.Summary{Unchanged: 2})
	if p.Number != 1 || !p.Time.Equal(first.Time) {
		h.Errorf("publication %+v", p)
	}
	if c := h.current(); c != first {
		h.Errorf("current %+v, want %+v", c, first)
	}
}

func testTime(h *harness) {
	var last time.Time
	for i, step := range []time.Duration{0, 300 * time.Millisecond, -time.Hour, 24 * time.Hour, -24 * time.Hour} {
		h.clock = h.clock.Add(step)
		p := h.publish(Rec("object/1", fmt.Sprint(i)))
		if !p.Time.After(last) || p.Time.Nanosecond() != 0 || p.Number != int64(i+1) {
			h.Errorf("publication %d at %v after %v", p.Number, p.Time, last)
		}
		last = p.Time
		h.clock = h.clock.Add(-time.Minute) // undo publish's step
	}
}

func testLists(h *harness) {
	var all []*service.Record
	var want []string
	for i := 0; i < 57; i++ {
		all = append(all, Rec(fmt.Sprintf("object/%d", i*7%57), "x"), Rec(fmt.Sprintf("place/%d", i), "x"))
		want = append(want, fmt.Sprintf("object/%d", i))
	}
	extra := Rec("object/Z%C3%A9", "x")
	h.publish(append(all, extra)...)
	all = append(all[:0:0], all...)
	h.publish(all...) // object/Zé becomes a tombstone and leaves the list
	slices.Sort(want)
	var got []string
	for after := ""; ; {
		l, err := h.s.List(h.ctx, service.Listing{Endpoint: "object", After: after, Limit: 10})
		if err != nil {
			h.Fatal(err)
		}
		for _, e := range l {
			if e.IRI != Base+e.Path || e.Class != "HumanMadeObject" || e.Label != "Label of "+e.Path {
				h.Errorf("entry %+v", e)
			}
			got = append(got, e.Path)
			after = e.Path
		}
		if len(l) < 10 {
			break
		}
	}
	if !slices.Equal(got, want) {
		h.Errorf("list %q, want %q", got, want)
	}
	tallies, err := h.s.Tallies(h.ctx)
	if err != nil || !slices.Equal(tallies, []service.Tally{{Endpoint: "object", Live: 57}, {Endpoint: "place", Live: 57}}) {
		h.Errorf("tallies %v, %v", tallies, err)
	}
}

// testLarge goes beyond any batch a store may gather.
func testLarge(h *harness) {
	const n = 6000
	run := func(text string, from int) *service.Summary {
		d := h.begin()
		for i := from; i < n; i++ {
			if _, err := d.Put(Rec(fmt.Sprintf("object/%d", i*7919%n), text)); err != nil {
				h.Fatal(err)
			}
		}
		p, err := d.Commit(h.ctx)
		if err != nil {
			h.Fatal(err)
		}
		return &p.Summary
	}
	if s := run("a", 0); *s != (service.Summary{Added: n}) {
		h.Errorf("%+v", s)
	}
	if s := run("a", 0); *s != (service.Summary{Unchanged: n}) {
		h.Errorf("%+v", s)
	}
	if s := run("b", 500); *s != (service.Summary{Changed: n - 500, Withdrawn: 500}) {
		h.Errorf("%+v", s)
	}
	seen := make([]bool, 2*n+1)
	for i := 0; i < n; i += 97 {
		r := h.get(fmt.Sprintf("object/%d", i))
		if r.Seq <= n || r.Seq > 2*n || seen[r.Seq] || r.Publication != 2 {
			h.Errorf("%s: seq %d, publication %d", r.Path, r.Seq, r.Publication)
			continue
		}
		seen[r.Seq] = true
	}
}

func testOneDraft(h *harness) {
	other := h.again()
	defer other.Close()
	for i, s := range []service.Store{h.s, other} {
		one, two := Rec(fmt.Sprintf("object/%d.1", i), "a"), Rec(fmt.Sprintf("object/%d.2", i), "a")
		d := h.begin()
		h.put(d, one, service.Added)
		ctx, cancel := context.WithTimeout(h.ctx, 20*time.Millisecond)
		_, err := s.Begin(ctx)
		cancel()
		h.code(err, service.Unavailable)

		begun := make(chan service.Draft)
		go func() {
			d, err := s.Begin(h.ctx)
			if err != nil {
				h.Error(err)
			}
			begun <- d
		}()
		p, err := d.Commit(h.ctx)
		if err != nil {
			h.Fatal(err)
		}
		second := <-begun
		if second == nil {
			h.FailNow()
		}
		// The second draft knows what the first published.
		h.put(second, one, service.Unchanged)
		h.put(second, two, service.Added)
		p2, err := second.Commit(h.ctx)
		if err != nil {
			h.Fatal(err)
		}
		if p2.Number != p.Number+1 || !p2.Time.After(p.Time) {
			h.Errorf("publication %+v after %+v", p2, p)
		}
	}
}

// testReaders publishes while others read: each reader sees, at any moment, one
// publication whole, and never an older one than before.
func testReaders(h *harness) {
	const things, rounds = 20, 15
	publish := func(round int) {
		d, err := h.s.Begin(h.ctx)
		if err != nil {
			h.Error(err)
			return
		}
		for i := 0; i < things; i++ {
			if round%2 == 1 && i == things-1 {
				continue // withdrawn in odd rounds
			}
			if _, err := d.Put(Rec(fmt.Sprintf("object/%02d", i), fmt.Sprint(round))); err != nil {
				h.Error(err)
			}
		}
		if _, err := d.Commit(h.ctx); err != nil {
			h.Error(err)
		}
	}
	publish(0)
	other := h.again()
	defer other.Close()
	var done atomic.Bool
	var wg sync.WaitGroup
	for _, s := range []service.Store{h.s, h.s, other} {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var last int64
			for !done.Load() {
				a, err := s.Current(h.ctx)
				if err != nil {
					h.Error(err)
					return
				}
				tallies, err := s.Tallies(h.ctx)
				if err != nil || len(tallies) != 1 {
					h.Errorf("%v, %v", tallies, err)
					return
				}
				r, err := s.Get(h.ctx, "object/07")
				if err != nil {
					h.Error(err)
					return
				}
				list, err := s.List(h.ctx, service.Listing{Endpoint: "object", Limit: things + 1})
				if err != nil {
					h.Error(err)
					return
				}
				b, err := s.Current(h.ctx)
				if err != nil {
					h.Error(err)
					return
				}
				if a.Number < last || b.Number < a.Number {
					h.Errorf("publication %d, then %d after %d", a.Number, b.Number, last)
				}
				last = b.Number
				if r.Publication < a.Number || r.Publication > b.Number || !strings.Contains(string(r.Body), fmt.Sprintf(`"%d"`, r.Publication-1)) {
					h.Errorf("record of publication %d between %d and %d: %s", r.Publication, a.Number, b.Number, r.Body)
				}
				if a.Number == b.Number {
					want := things - int(1-a.Number%2)
					if tallies[0].Live != want || len(list) != want {
						h.Errorf("publication %d: tally %d, list %d, want %d", a.Number, tallies[0].Live, len(list), want)
					}
				}
			}
		}()
	}
	for round := 1; round < rounds; round++ {
		publish(round)
	}
	done.Store(true)
	wg.Wait()
	if p := h.current(); p.Number != rounds {
		h.Errorf("publication %d", p.Number)
	}
}

func testEnded(h *harness) {
	d := h.begin()
	h.put(d, Rec("object/1", "a"), service.Added)
	h.commit(d, service.Summary{Added: 1})
	if err := d.Discard(); err != nil {
		h.Errorf("discard after commit: %v", err)
	}
	if _, err := d.Put(Rec("object/2", "b")); err == nil {
		h.Error("put into a committed draft")
	}
	if _, err := d.Commit(h.ctx); err == nil {
		h.Error("committed twice")
	}
	if r := h.get("object/1"); r.State != service.Live {
		h.Error("the publication did not last")
	}
}

func testCancelled(h *harness) {
	h.publish(Rec("object/1", "a"))
	ctx, cancel := context.WithCancel(h.ctx)
	d, err := h.s.Begin(ctx)
	if err != nil {
		h.Fatal(err)
	}
	h.put(d, Rec("object/2", "b"), service.Added)
	cancel()
	_, err = d.Commit(ctx)
	h.code(err, service.Unavailable)
	if !errors.Is(err, context.Canceled) {
		h.Errorf("%v does not say that it was cancelled", err)
	}
	_, err = h.s.Get(h.ctx, "object/2")
	h.code(err, service.NotFound)
	if _, err := h.s.Get(ctx, "object/1"); err == nil {
		h.Error("read with a cancelled context")
	}
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"))
}

func testDigest(h *harness) {
	a, b := Rec("object/1", "a"), Rec("object/1", "a")
	a.Sets, b.Sets = []string{"x", "y"}, []string{"y", "x"}
	h.publish(a)
	d := h.begin()
	h.put(d, b, service.Unchanged)
	if err := d.Discard(); err != nil {
		h.Fatal(err)
	}
}
