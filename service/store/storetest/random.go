package storetest

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"reflect"
	"slices"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/service"
)

// Long reports whether tests that take minutes are asked for (ROPEWALK_LONG=1).
func Long() bool { return os.Getenv("ROPEWALK_LONG") == "1" }

// OnlyLong passes over a test that waits for seconds unless the long run is asked for.
func OnlyLong(t testing.TB) {
	t.Helper()
	if !Long() {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
}

// Fresh makes an empty store for one sequence. Done is called when it is not needed
// any more, after it was closed.
type Fresh func(now func() time.Time) (s service.Store, done func())

// Random compares a store with a [Model] through random sequences of drafts, while a
// harvester follows what changes, page by page. It tries so many sequences.
func Random(t *testing.T, sequences int, fresh Fresh) {
	was := flag.Lookup("rapid.checks").Value.String()
	if err := flag.Set("rapid.checks", strconv.Itoa(sequences)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
	var drafts, committed, pages, refused int
	rapid.Check(t, func(t *rapid.T) {
		clock := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
		now := func() time.Time { return clock }
		s, done := fresh(now)
		defer func() {
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			done()
		}()
		m := NewModel(now)
		x := &walker{T: t, s: s, m: m, ctx: context.Background()}
		for _, sel := range []service.Selection{{}, {Set: "a"}, {Set: "a:b"}, {Endpoint: "object"}} {
			sel.Bodies = true
			x.harvests = append(x.harvests, &harvester{sel: sel, has: map[string]service.Record{}})
		}
		for range rapid.IntRange(1, 8).Draw(t, "drafts") {
			clock = clock.Add(time.Duration(rapid.IntRange(-3600, 7200).Draw(t, "seconds")) * time.Second)
			x.draft()
			x.compare()
			for _, h := range x.harvests {
				for range rapid.IntRange(0, 3).Draw(t, "pages") {
					x.page(h)
				}
			}
		}
		for _, h := range x.harvests {
			for x.page(h) {
			}
			x.complete(h)
		}
		drafts, committed, pages, refused = drafts+x.drafts, committed+x.committed, pages+x.pages, refused+x.refused
	})
	t.Logf("%d sequences: %d drafts, %d publications, %d refusals, %d pages harvested", sequences, drafts, committed, refused, pages)
	if !t.Failed() && (committed < sequences/2 || refused < sequences/10 || pages < sequences) {
		t.Error("the sequences are too tame to show anything")
	}
}

// walker goes through one sequence.
type walker struct {
	*rapid.T
	ctx      context.Context
	s        service.Store
	m        *Model
	harvests []*harvester

	drafts, committed, pages, refused int
}

var paths = []string{"object/1", "object/2", "object/a%2Fb", "object/2/a", "place/1", "place/2", "person/x"}

func (x *walker) record() *service.Record {
	path := rapid.SampledFrom(paths).Draw(x.T, "path")
	r := Rec(path, rapid.SampledFrom([]string{"p", "q"}).Draw(x.T, "text"))
	r.Sets = rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "a:b", "a:b:c", "d", "ab"}), 0, 3, rapid.ID[string]).Draw(x.T, "sets")
	if rapid.IntRange(0, 9).Draw(x.T, "other endpoint") == 0 {
		r.Endpoint = "concept"
	}
	if rapid.IntRange(0, 19).Draw(x.T, "other IRI") == 0 {
		r.IRI = "https://elsewhere.example/" + path
	}
	return r
}

// draft does the same to both.
func (x *walker) draft() {
	x.drafts++
	ds, err := x.s.Begin(x.ctx)
	if err != nil {
		x.Fatal(err)
	}
	defer ds.Discard()
	dm, _ := x.m.Begin(x.ctx)
	both := func(what string, f func(service.Draft) (service.Change, error)) {
		got, err := f(ds)
		want, werr := f(dm)
		if got != want || service.CodeOf(err) != service.CodeOf(werr) {
			x.Fatalf("%s: %v, %v; the model says %v, %v", what, got, err, want, werr)
		}
		if werr != nil {
			x.refused++
		}
	}
	for range rapid.IntRange(0, 9).Draw(x.T, "operations") {
		switch path := rapid.SampledFrom(paths).Draw(x.T, "at"); rapid.SampledFrom([]string{"put", "put", "put", "again", "again", "withdraw", "move", "end"}).Draw(x.T, "operation") {
		case "put":
			r := x.record()
			both("put "+r.Path, func(d service.Draft) (service.Change, error) { return d.Put(r) })
		case "again":
			r, err := x.m.Get(x.ctx, path)
			if err != nil {
				continue
			}
			both("put again "+path, func(d service.Draft) (service.Change, error) { return d.Put(r) })
		case "withdraw":
			reason := rapid.SampledFrom([]string{"", "twice"}).Draw(x.T, "reason")
			both("withdraw "+path, func(d service.Draft) (service.Change, error) { return d.Withdraw(path, reason) })
		case "move":
			to := Base + rapid.SampledFrom(paths).Draw(x.T, "to")
			both("move "+path+" to "+to, func(d service.Draft) (service.Change, error) { return d.Move(path, to) })
		case "end":
			r := &service.Record{IRI: Base + path, Path: path, State: service.Moved, MovedTo: "https://elsewhere.example/1"}
			both("put moved "+path, func(d service.Draft) (service.Change, error) { return d.Put(r) })
		}
	}
	if rapid.IntRange(0, 2).Draw(x.T, "the rest") > 0 {
		for _, r := range x.m.live() {
			if _, ok := dm.(*modelDraft).put[r.Path]; !ok {
				both("put the rest: "+r.Path, func(d service.Draft) (service.Change, error) { return d.Put(&r) })
			}
		}
	}
	x.same("review", ds.Review(), dm.Review())
	x.same("live", ds.Live(), dm.Live())
	x.same("last", ds.Last(), dm.Last())
	limit := rapid.IntRange(1, 4).Draw(x.T, "limit")
	x.same("withdrawals", ds.Withdrawals(limit), dm.Withdrawals(limit))
	for kind := service.Unchanged; kind <= service.Relocated; kind++ {
		got, err := ds.Differences(kind, limit)
		if err != nil {
			x.Fatal(err)
		}
		want, _ := dm.Differences(kind, limit)
		x.same("differences: "+kind.String(), got, want)
	}
	x.same("check", service.CodeOf(ds.Check()), service.CodeOf(dm.Check()))
	if rapid.IntRange(0, 4).Draw(x.T, "end") == 0 {
		if err := ds.Discard(); err != nil {
			x.Fatal(err)
		}
		return
	}
	note := rapid.SampledFrom([]string{"", "a note"}).Draw(x.T, "note")
	ds.Annotate(note, "sizes")
	dm.Annotate(note, "sizes")
	got, err := ds.Commit(x.ctx)
	want, werr := dm.Commit(x.ctx)
	x.same("commit", service.CodeOf(err), service.CodeOf(werr))
	x.same("publication", got, want)
	if err == nil && got.Summary.Changes() > 0 {
		x.committed++
	}
}

// same compares what both gave, empty and nil being the same.
func (x *walker) same(what string, got, want any) {
	x.Helper()
	if !reflect.DeepEqual(got, want) && fmt.Sprintf("%+v", readable(got)) != fmt.Sprintf("%+v", readable(want)) {
		x.Fatalf("%s:\n%+v\nthe model says\n%+v", what, readable(got), readable(want))
	}
}

func readable(v any) any {
	switch v := v.(type) {
	case service.Record:
		body := v.Body
		v.Body = nil
		return fmt.Sprintf("%+v %s", v, body)
	case *service.Record:
		if v == nil {
			return "none"
		}
		return readable(*v)
	case []service.Record:
		out := ""
		for _, r := range v {
			out += readable(r).(string) + "\n"
		}
		return out
	case []service.Difference:
		out := ""
		for _, d := range v {
			out += fmt.Sprintf("%v: %s -> %s\n", d.Change, readable(d.Before), readable(d.After))
		}
		return out
	}
	return v
}

// compare asks both everything.
func (x *walker) compare() {
	ask := func(what string, f func(service.Store) (any, error)) {
		got, err := f(x.s)
		want, werr := f(x.m)
		if service.CodeOf(err) != service.CodeOf(werr) {
			x.Fatalf("%s: %v; the model says %v", what, err, werr)
		}
		if werr == nil {
			x.same(what, got, want)
		}
	}
	limit := rapid.IntRange(1, 5).Draw(x.T, "limit")
	after := rapid.Int64Range(0, int64(len(x.m.log))).Draw(x.T, "after")
	moment := func(name string) time.Time {
		if len(x.m.pubs) == 0 || rapid.Bool().Draw(x.T, name) {
			return time.Time{}
		}
		p := rapid.SampledFrom(x.m.pubs).Draw(x.T, name+" publication")
		return p.Time.Add(time.Duration(rapid.IntRange(-3, 3).Draw(x.T, name+" halves")) * time.Second / 2)
	}
	ask("current", func(s service.Store) (any, error) { return s.Current(x.ctx) })
	ask("earliest", func(s service.Store) (any, error) { return s.Earliest(x.ctx) })
	ask("tallies", func(s service.Store) (any, error) { return s.Tallies(x.ctx) })
	ask("publications", func(s service.Store) (any, error) { return s.Publications(x.ctx, after, limit) })
	ask("log", func(s service.Store) (any, error) { return s.Log(x.ctx, after, limit) })
	ask("version", func(s service.Store) (any, error) { return s.Version(x.ctx, after) })
	ask("labels", func(s service.Store) (any, error) { return s.Labels(x.ctx, append(paths, "object/none")) })
	at := moment("at")
	for _, path := range append(paths, "object/none") {
		ask("get "+path, func(s service.Store) (any, error) { return s.Get(x.ctx, path) })
		ask("versions "+path, func(s service.Store) (any, error) { return s.Versions(x.ctx, path, after, limit) })
		ask("at "+path, func(s service.Store) (any, error) { return s.At(x.ctx, path, at) })
	}
	ask("walk", func(s service.Store) (any, error) {
		var all []service.Record
		p, err := s.Walk(x.ctx, func(r *service.Record) error {
			all = append(all, copyOf(*r, true))
			return nil
		})
		return fmt.Sprintf("%+v\n%s", p, readable(all)), err
	})
	for _, endpoint := range []string{"object", "place", "concept", "none"} {
		ask("list "+endpoint, func(s service.Store) (any, error) {
			return s.List(x.ctx, service.Listing{Endpoint: endpoint, After: paths[after%int64(len(paths))], Limit: limit})
		})
	}
	sel := service.Selection{After: after, From: moment("from"), Until: moment("until"), Limit: limit, Bodies: rapid.Bool().Draw(x.T, "bodies")}
	if rapid.Bool().Draw(x.T, "through?") {
		sel.Through = rapid.Int64Range(1, int64(len(x.m.log))+1).Draw(x.T, "through")
	}
	for _, name := range []string{"", "a", "a:b", "a:b:c", "d", "ab", "b", "none", "object", "place", "concept"} {
		q := sel
		if slices.Contains([]string{"object", "place", "concept"}, name) {
			q.Endpoint = name
		} else {
			q.Set = name
		}
		what := fmt.Sprintf("%+v", q)
		ask("changes "+what, func(s service.Store) (any, error) { return s.Changes(x.ctx, q) })
		ask("count "+what, func(s service.Store) (any, error) {
			n, exact, err := s.Count(x.ctx, q)
			return fmt.Sprint(n, exact), err
		})
	}
}

// harvester keeps a copy of a selection. It asks as a harvester does that knows
// nothing but tokens and times: page after page, then again from the time of the
// publication that was current when it began.
type harvester struct {
	sel   service.Selection
	next  time.Time // From of the round after this one
	has   map[string]service.Record
	begun bool
}

// page takes the next page and reports whether there is more to come in this round.
func (x *walker) page(h *harvester) bool {
	x.pages++
	if !h.begun {
		p, err := x.s.Current(x.ctx)
		if err != nil {
			x.Fatal(err)
		}
		h.sel.From, h.sel.After, h.next, h.begun = h.next, 0, p.Time, true
	}
	h.sel.Limit = rapid.IntRange(1, 3).Draw(x.T, "page size")
	got, err := x.s.Changes(x.ctx, h.sel)
	if err != nil {
		x.Fatal(err)
	}
	for _, r := range got {
		if r.Left || r.State != service.Live {
			delete(h.has, r.Path)
		} else {
			h.has[r.Path] = r
		}
		h.sel.After = r.Seq
	}
	h.begun = len(got) == h.sel.Limit
	return h.begun
}

// complete checks the copy after a round that no publication disturbed.
func (x *walker) complete(h *harvester) {
	want := map[string]service.Record{}
	for _, r := range x.m.live() {
		if in(r, h.sel) {
			want[r.Path] = r
		}
	}
	for path, r := range want {
		if c, ok := h.has[path]; !ok || c.Seq != r.Seq || !bytes.Equal(c.Body, r.Body) {
			x.Fatalf("harvest %+v: %s is %s, should be %s", h.sel, path, readable(c), readable(r))
		}
	}
	if len(want) != len(h.has) {
		x.Fatalf("harvest %+v: has %v, should have %v", h.sel, slices.Sorted(maps.Keys(h.has)), slices.Sorted(maps.Keys(want)))
	}
}
