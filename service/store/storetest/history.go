package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"ropewalk/service"
)

// In gives a record its sets.
func In(r *service.Record, sets ...string) *service.Record {
	r.Sets = sets
	return r
}

// shows is a list of changes in short: seq, path and what is there.
func shows(list []service.Record) string {
	var b strings.Builder
	for _, r := range list {
		fmt.Fprintf(&b, " %d:%s", r.Seq, r.Path)
		switch {
		case r.Left:
			b.WriteString("(left)")
		case r.State != service.Live:
			b.WriteString("(" + r.State.String() + ")")
		}
	}
	return strings.TrimSpace(b.String())
}

func (h *harness) changes(q service.Selection) []service.Record {
	h.Helper()
	if q.Limit == 0 {
		q.Limit = 1000
	}
	l, err := h.s.Changes(h.ctx, q)
	if err != nil {
		h.Fatal(err)
	}
	return l
}

func (h *harness) shows(q service.Selection, want string) {
	h.Helper()
	if got := shows(h.changes(q)); got != want {
		h.Errorf("%+v:\n%s, want\n%s", q, got, want)
	}
}

func testLabels(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("place/1", "c"))
	h.publish(Rec("object/1", "a"), Rec("place/1", "c"))
	got, err := h.s.Labels(h.ctx, []string{"place/1", "object/1", "object/2", "object/none", "object/1"})
	if err != nil || len(got) != 2 || got["object/1"] != "Label of object/1" || got["place/1"] != "Label of place/1" {
		h.Errorf("%v, %v", got, err)
	}
	many := make([]string, 3000)
	for i := range many {
		many[i] = fmt.Sprintf("object/%d", i)
	}
	if got, err := h.s.Labels(h.ctx, many); err != nil || len(got) != 1 {
		h.Errorf("%v, %v", got, err)
	}
	if got, err := h.s.Labels(h.ctx, nil); err != nil || len(got) != 0 {
		h.Errorf("%v, %v", got, err)
	}
}

func testChanges(h *harness) {
	h.shows(service.Selection{}, "")
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("place/1", "c"), Rec("object/3", "d"))
	h.shows(service.Selection{}, "1:object/1 2:object/2 3:place/1 4:object/3")
	h.shows(service.Selection{Limit: 2}, "1:object/1 2:object/2")
	h.shows(service.Selection{After: 2, Limit: 1}, "3:place/1")
	p := h.publish(Rec("object/1", "A"), Rec("place/1", "c"), Rec("object/3", "d"),
		&service.Record{IRI: Base + "object/0", Path: "object/0", State: service.Moved, MovedTo: Base + "object/1"})
	h.shows(service.Selection{}, "3:place/1 4:object/3 5:object/1 6:object/0(moved) 7:object/2(gone)")
	h.shows(service.Selection{Through: 5}, "3:place/1 4:object/3 5:object/1")
	h.shows(service.Selection{Endpoint: "place"}, "3:place/1")
	h.shows(service.Selection{Endpoint: "object"}, "4:object/3 5:object/1 7:object/2(gone)") // a redirection from nowhere is of no endpoint
	_, err := h.s.Changes(h.ctx, service.Selection{Set: "a", Endpoint: "object", Limit: 1})
	h.code(err, service.Invalid)
	for _, bodies := range []bool{false, true} {
		for _, q := range []service.Selection{{After: 4, Bodies: bodies}, {After: 4, Bodies: bodies, Endpoint: "object"}} {
			r := h.changes(q)[0]
			want := h.get("object/1")
			if !bodies {
				want.Body, want.Keys = nil, ""
			}
			if readable(r) != readable(want) || (r.Body == nil) != !bodies || r.Change != service.Changed || r.Prev != 1 || !r.Modified.Equal(p.Time) {
				h.Errorf("%v: %v, want %v", bodies, readable(r), readable(want))
			}
		}
	}
	if r := h.changes(service.Selection{After: 5})[0]; r.MovedTo != Base+"object/1" || r.Change != service.Relocated {
		h.Errorf("%+v", r)
	}
}

// testSets follows records in and out of sets.
func testSets(h *harness) {
	a := service.Selection{Set: "a"}
	h.publish(In(Rec("object/1", "x"), "a:b", "c"), In(Rec("object/2", "x"), "ab"), In(Rec("object/3", "x"), "a"), In(Rec("object/4", "x"), "a:b:c", "a:b"))
	h.shows(a, "1:object/1 3:object/3 4:object/4")
	h.shows(service.Selection{Set: "a:b"}, "1:object/1 4:object/4")
	h.shows(service.Selection{Set: "a:b:c"}, "4:object/4")
	h.shows(service.Selection{Set: "c"}, "1:object/1")
	h.shows(service.Selection{Set: "ab"}, "2:object/2")
	h.shows(service.Selection{Set: "b"}, "")
	// A tombstone stays in its sets.
	h.publish(In(Rec("object/1", "x"), "c"), In(Rec("object/2", "x"), "ab"), In(Rec("object/4", "x"), "a:b:c", "a:b"))
	h.shows(a, "4:object/4 5:object/1(left) 6:object/3(gone)")
	h.shows(service.Selection{Set: "c"}, "5:object/1")
	// What left stays where it is in the list of its old set while it changes.
	p := h.publish(In(Rec("object/1", "y"), "c"), In(Rec("object/2", "x"), "ab"), In(Rec("object/4", "x"), "d"))
	h.shows(a, "5:object/1(left) 6:object/3(gone) 8:object/4(left)")
	h.shows(service.Selection{Set: "c"}, "7:object/1")
	h.shows(service.Selection{Set: "a", From: p.Time}, "8:object/4(left)")
	// And comes back.
	h.publish(In(Rec("object/1", "y"), "a:b"), In(Rec("object/2", "x"), "ab"), In(Rec("object/4", "x"), "a"))
	h.shows(a, "6:object/3(gone) 9:object/1 10:object/4")
	h.shows(service.Selection{Set: "a:b"}, "8:object/4(left) 9:object/1")
	h.shows(service.Selection{Set: "c"}, "9:object/1(left)")
	other := In(Rec("object/1", "y"), "a:b")
	other.Endpoint = "concept"
	h.publish(other, In(Rec("object/2", "x"), "ab"), In(Rec("object/4", "x"), "a"))
	h.shows(service.Selection{Endpoint: "concept"}, "11:object/1")
	h.shows(service.Selection{Endpoint: "object"}, "2:object/2 6:object/3(gone) 10:object/4 11:object/1(left)")
	if r := h.get("object/1"); r.Left {
		h.Error("Left outside of a selection")
	}
}

func testTimes(h *harness) {
	start := h.clock
	for i := range 3 {
		h.clock = start.Add(time.Duration(i) * time.Hour)
		h.publish(Rec("object/1", "a"), Rec(fmt.Sprintf("place/%d", i), "x"), Rec("person/1", fmt.Sprint(i)))
	}
	at := func(i int) time.Time { return start.Truncate(time.Second).Add(time.Duration(i) * time.Hour) }
	// 1 object/1; 2 place/0, gone at 6; 3 person/1, then 5 and 8; 4 place/1, gone at 9; 7 place/2.
	all := "1:object/1 6:place/0(gone) 7:place/2 8:person/1 9:place/1(gone)"
	for _, c := range []struct {
		from, until time.Time
		want        string
	}{
		{time.Time{}, time.Time{}, all},
		{at(0), at(2), all},
		{at(-1), at(3), all},
		{at(1), time.Time{}, "6:place/0(gone) 7:place/2 8:person/1 9:place/1(gone)"},
		{at(1), at(1), "6:place/0(gone)"},
		{at(1).Add(time.Nanosecond), at(2), "7:place/2 8:person/1 9:place/1(gone)"},
		{time.Time{}, at(1).Add(-time.Nanosecond), "1:object/1"},
		{time.Time{}, at(1).Add(time.Second - 1), "1:object/1 6:place/0(gone)"},
		{at(3), time.Time{}, ""},
		{time.Time{}, at(-1), ""},
		{at(2), at(1), ""},
	} {
		h.shows(service.Selection{From: c.from, Until: c.until}, c.want)
		if r := h.changes(service.Selection{From: c.from, Until: c.until, Endpoint: "object"}); (len(r) == 1) != strings.HasPrefix(c.want, "1:") {
			h.Errorf("%v to %v: %s", c.from, c.until, shows(r))
		}
	}
}

func testCount(h *harness) {
	count := func(q service.Selection, want int64) {
		h.Helper()
		n, exact, err := h.s.Count(h.ctx, q)
		if err != nil || n != want || !exact {
			h.Errorf("%+v: %d, %v, %v, want %d", q, n, exact, err, want)
		}
	}
	count(service.Selection{}, 0)
	count(service.Selection{Set: "a"}, 0)
	h.publish(In(Rec("object/1", "x"), "a"), In(Rec("object/2", "x"), "a:b"), Rec("place/1", "x"))
	p := h.publish(In(Rec("object/1", "y"), "a"), Rec("object/2", "x"), Rec("object/3", "x"))
	count(service.Selection{}, 4)
	count(service.Selection{After: 3, Limit: 1}, 4)
	count(service.Selection{Set: "a"}, 2)
	count(service.Selection{Set: "a:b"}, 1)
	count(service.Selection{Set: "none"}, 0)
	count(service.Selection{Endpoint: "place"}, 1)
	count(service.Selection{From: p.Time}, 4)
	count(service.Selection{From: p.Time.Add(time.Second)}, 0)
	count(service.Selection{Until: p.Time.Add(-time.Second)}, 0)
	count(service.Selection{Set: "a", From: p.Time, Through: 4}, 1)
	_, _, err := h.s.Count(h.ctx, service.Selection{Set: "a", Endpoint: "place"})
	h.code(err, service.Invalid)
}

func testLog(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"))
	h.publish(Rec("object/1", "A"))
	p := h.publish(Rec("object/1", "A"), Rec("object/2", "b"))
	l, err := h.s.Log(h.ctx, 0, 100)
	if err != nil {
		h.Fatal(err)
	}
	want := []struct {
		path   string
		change service.Change
		prev   int64
	}{
		{"object/1", service.Added, 0}, {"object/2", service.Added, 0}, {"object/1", service.Changed, 1},
		{"object/2", service.Withdrawn, 2}, {"object/2", service.Returned, 4},
	}
	if len(l) != len(want) || p.Last != int64(len(want)) || p.First != 5 {
		h.Fatalf("%s, publication %+v", shows(l), p)
	}
	for i, w := range want {
		if r := l[i]; r.Seq != int64(i+1) || r.Path != w.path || r.Change != w.change || r.Prev != w.prev || r.Body != nil || r.IRI != Base+w.path {
			h.Errorf("%d: %+v", i, r)
		}
	}
	if l, err = h.s.Log(h.ctx, 2, 2); err != nil || shows(l) != "3:object/1 4:object/2(gone)" {
		h.Errorf("%s, %v", shows(l), err)
	}
}

func testWalk(h *harness) {
	var all []*service.Record
	var want []string
	for i := range 300 {
		path := fmt.Sprintf("object/%d", i)
		all, want = append(all, Rec(path, "first")), append(want, path)
	}
	all, want = append(all, Rec("place/a%2Fb", "first")), append(want, "place/a%2Fb")
	slices.Sort(want)
	h.publish(append(all, Rec("object/gone", "first"))...)
	p := h.publish(all...)
	var got []string
	q, err := h.s.Walk(h.ctx, func(r *service.Record) error {
		if len(got) == 10 {
			// A publication in the middle of the walk is not seen.
			h.publish(Rec("object/1", "second"), Rec("object/new", "second"))
		}
		if !strings.Contains(string(r.Body), `"first"`) || !strings.Contains(string(r.Body), r.IRI) || r.State != service.Live {
			h.Errorf("%s", readable(r))
		}
		got = append(got, r.Path)
		return nil
	})
	if err != nil || q != p || !slices.Equal(got, want) {
		h.Errorf("%+v, %v: %q, want %q", q, err, got, want)
	}
	sign := errors.New("enough")
	n := 0
	if _, err := h.s.Walk(h.ctx, func(*service.Record) error { n++; return sign }); err != sign || n != 1 {
		h.Errorf("%v after %d", err, n)
	}
	ctx, cancel := context.WithCancel(h.ctx)
	_, err = h.s.Walk(ctx, func(*service.Record) error { cancel(); return nil })
	h.code(err, service.Unavailable)
	if !errors.Is(err, context.Canceled) {
		h.Error(err)
	}
	n = 0
	if _, err := h.s.Walk(h.ctx, func(*service.Record) error { n++; return nil }); err != nil || n != 2 {
		h.Errorf("%d, %v", n, err)
	}
}

func testVersions(h *harness) {
	h.publish(Rec("object/2", "other"))
	start := h.clock
	keys := Rec("object/1", "v0")
	keys.Keys = "a/0=k"
	for i, r := range []*service.Record{keys, Rec("object/1", "v1"), nil, Rec("object/1", "v3")} {
		h.clock = start.Add(time.Duration(i) * time.Hour)
		if r == nil {
			h.publish(Rec("object/2", "other"))
		} else {
			h.publish(Rec("object/2", "other"), r)
		}
	}
	l, err := h.s.Versions(h.ctx, "object/1", 0, 10)
	if err != nil || shows(l) != "2:object/1 3:object/1 4:object/1(gone) 5:object/1" || l[0].Body != nil || l[0].Keys != "" {
		h.Fatalf("%s, %v", shows(l), err)
	}
	if part, err := h.s.Versions(h.ctx, "object/1", 2, 2); err != nil || shows(part) != "3:object/1 4:object/1(gone)" {
		h.Errorf("%s, %v", shows(part), err)
	}
	if none, err := h.s.Versions(h.ctx, "object/1", 5, 2); err != nil || len(none) != 0 {
		h.Errorf("%s, %v", shows(none), err)
	}
	_, err = h.s.Versions(h.ctx, "object/3", 0, 2)
	h.code(err, service.NotFound)

	v, err := h.s.Version(h.ctx, 2)
	if err != nil || string(v.Body) != string(keys.Body) || v.Keys != keys.Keys || v.Digest != keys.ContentDigest() || !v.Modified.Equal(l[0].Modified) {
		h.Errorf("%v, %v", readable(v), err)
	}
	for _, seq := range []int64{0, -1, 6} {
		_, err = h.s.Version(h.ctx, seq)
		h.code(err, service.NotFound)
	}

	at := start.Truncate(time.Second)
	for _, c := range []struct {
		t   time.Time
		seq int64
	}{
		{at.Add(-time.Hour), 2}, {at.Add(-1), 2}, {at, 2}, {at.Add(time.Hour - 1), 2}, {at.Add(time.Hour), 3}, {at.Add(2 * time.Hour), 4},
		{at.Add(3 * time.Hour).In(time.FixedZone("", -3600)), 5}, {at.AddDate(100, 0, 0), 5}, {time.Time{}, 2},
	} {
		if r, err := h.s.At(h.ctx, "object/1", c.t); err != nil || r.Seq != c.seq || (r.State == service.Live) != (len(r.Body) > 0) {
			h.Errorf("%v: %v, %v, want %d", c.t, readable(r), err, c.seq)
		}
	}
	_, err = h.s.At(h.ctx, "object/3", at)
	h.code(err, service.NotFound)
}

func testPublications(h *harness) {
	if t, err := h.s.Earliest(h.ctx); err != nil || !t.IsZero() {
		h.Errorf("%v, %v", t, err)
	}
	if l, err := h.s.Publications(h.ctx, 0, 10); err != nil || len(l) != 0 {
		h.Errorf("%v, %v", l, err)
	}
	var want []service.Publication
	for i := range 5 {
		d := h.begin()
		if _, err := d.Put(Rec("object/1", fmt.Sprint(i))); err != nil {
			h.Fatal(err)
		}
		d.Annotate(fmt.Sprintf("note %d\n“é”", i), `{"objects.csv":12}`)
		p, err := d.Commit(h.ctx)
		if err != nil {
			h.Fatal(err)
		}
		if p.Note == "" || p.Sources == "" || p.First != int64(i+1) || p.Last != p.First {
			h.Errorf("%+v", p)
		}
		if c := h.current(); c != p {
			h.Errorf("current %+v, want %+v", c, p)
		}
		want = append(want, p)
		h.clock = h.clock.Add(-time.Hour)
	}
	slices.Reverse(want)
	for _, c := range []struct {
		before   int64
		limit    int
		from, to int
	}{{0, 10, 0, 5}, {0, 2, 0, 2}, {4, 2, 2, 4}, {1, 2, 5, 5}, {99, 1, 0, 1}} {
		if l, err := h.s.Publications(h.ctx, c.before, c.limit); err != nil || !slices.Equal(l, want[c.from:c.to]) {
			h.Errorf("%+v: %+v, %v", c, l, err)
		}
	}
	if t, err := h.s.Earliest(h.ctx); err != nil || !t.Equal(want[4].Time) || t.Location() != time.UTC {
		h.Errorf("%v, %v", t, err)
	}
}

func testMarks(h *harness) {
	other := h.again()
	defer other.Close()
	for _, c := range []struct {
		name string
		seq  int64
	}{{"https://a.example/store", 7}, {"https://a.example/store", 9}, {"b", 1}} {
		if err := h.s.SetMark(h.ctx, c.name, c.seq); err != nil {
			h.Fatal(err)
		}
		if got, err := other.Mark(h.ctx, c.name); err != nil || got != c.seq {
			h.Errorf("%s: %d, %v", c.name, got, err)
		}
	}
	if got, err := h.s.Mark(h.ctx, "none"); err != nil || got != 0 {
		h.Errorf("%d, %v", got, err)
	}
}

func (h *harness) does(want service.Change) func(service.Change, error) {
	return func(got service.Change, err error) {
		h.Helper()
		if err != nil || got != want {
			h.Fatalf("%v, %v, want %v", got, err, want)
		}
	}
}

func (h *harness) refuses(want service.Code, names ...string) func(service.Change, error) {
	return func(_ service.Change, err error) {
		h.Helper()
		h.code(err, want)
		for _, n := range names {
			if !strings.Contains(err.Error(), n) {
				h.Errorf("%v does not name %s", err, n)
			}
		}
	}
}

func testWithdraw(h *harness) {
	h.publish(In(Rec("object/1", "a"), "s"), Rec("object/2", "b"), Rec("object/3", "c"))
	d := h.begin()
	if n := d.Live(); n != 3 || d.Last() != h.current() {
		h.Errorf("%d live, last %+v", n, d.Last())
	}
	h.does(service.Withdrawn)(d.Withdraw("object/1", "entered twice"))
	h.refuses(service.NotFound, "object/9")(d.Withdraw("object/9", ""))
	h.refuses(service.Conflict, "object/1")(d.Withdraw("object/1", ""))
	h.refuses(service.Conflict, "object/1")(d.Put(Rec("object/1", "a")))
	h.refuses(service.Conflict, "object/1")(d.Move("object/1", Base+"object/2"))
	h.put(d, Rec("object/2", "b"), service.Unchanged)
	h.refuses(service.Conflict, "object/2")(d.Withdraw("object/2", ""))
	h.refuses(service.Invalid)(d.Withdraw("object/3", "a\x00"))
	h.put(d, Rec("object/3", "c"), service.Unchanged)
	h.commit(d, service.Summary{Withdrawn: 1, Unchanged: 2})
	if r := h.get("object/1"); r.State != service.Gone || r.Reason != "entered twice" || !slices.Equal(r.Sets, []string{"s"}) || r.Label != "Label of object/1" {
		h.Errorf("%+v", r)
	}
	// A reason can be put right, and the record can come back.
	d = h.begin()
	h.does(service.Changed)(d.Withdraw("object/1", "it was entered twice"))
	h.put(d, Rec("object/2", "b"), service.Unchanged)
	h.put(d, Rec("object/3", "c"), service.Unchanged)
	h.commit(d, service.Summary{Changed: 1, Unchanged: 2})
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("object/3", "c"))
	if r := h.get("object/1"); r.State != service.Live || r.Reason != "" || r.Change != service.Returned {
		h.Errorf("%+v", r)
	}
}

func testMove(h *harness) {
	h.publish(In(Rec("object/1", "a"), "s"), Rec("object/2", "b"), Rec("object/3", "c"))
	d := h.begin()
	h.refuses(service.NotFound, "object/9")(d.Move("object/9", Base+"object/2"))
	h.refuses(service.Invalid, "object/1")(d.Move("object/1", Base+"object/1"))
	h.refuses(service.Invalid, "object/1")(d.Move("object/1", "object/2"))
	h.refuses(service.Invalid, "object/1")(d.Move("object/1", "https://x.example/a b"))
	h.does(service.Relocated)(d.Move("object/1", Base+"object/new"))
	err := d.Check()
	h.refuses(service.Conflict, "object/1", "object/new")(0, err)
	h.put(d, Rec("object/new", "a"), service.Added)
	h.put(d, Rec("object/2", "b"), service.Unchanged)
	h.does(service.Relocated)(d.Move("object/3", "https://elsewhere.example/3"))
	if err := d.Check(); err != nil {
		h.Error(err)
	}
	h.commit(d, service.Summary{Added: 1, Moved: 2, Unchanged: 1})
	if r := h.get("object/1"); r.State != service.Moved || r.MovedTo != Base+"object/new" || !slices.Equal(r.Sets, []string{"s"}) || r.Class == "" {
		h.Errorf("%+v", r)
	}
	h.shows(service.Selection{Set: "s"}, "4:object/1(moved)")

	// What is said again in each run stays as it is, even when the target goes.
	d = h.begin()
	h.does(service.Unchanged)(d.Move("object/1", Base+"object/new"))
	h.put(d, Rec("object/2", "b"), service.Unchanged)
	h.commit(d, service.Summary{Unchanged: 2, Withdrawn: 1})

	// Nothing moves to a tombstone, nor in a circle, nor along a chain to either.
	for name, moves := range map[string][]string{
		"tombstone":  {"object/2", "object/new"},
		"chain":      {"object/2", "object/1"},
		"circle":     {"object/2", "object/1", "object/1", "object/2"},
		"not put":    {"object/new", "object/2"},
		"never made": {"object/2", "object/none"},
	} {
		d := h.begin()
		for ; len(moves) > 0; moves = moves[2:] {
			if _, err := d.Move(moves[0], Base+moves[1]); err != nil {
				h.Fatal(name, err)
			}
		}
		h.code(d.Check(), service.Conflict)
		_, err := d.Commit(h.ctx)
		h.code(err, service.Conflict)
	}
	if r := h.get("object/2"); r.State != service.Live {
		h.Errorf("%+v", r)
	}
}

// testMovedAndBack: an address that was moved is not given to another record.
func testMovedAndBack(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/5", "b"))
	move := func(from, to string, rest ...*service.Record) {
		h.Helper()
		d := h.begin()
		for _, r := range rest {
			if _, err := d.Put(r); err != nil {
				h.Fatal(err)
			}
		}
		h.does(service.Relocated)(d.Move(from, Base+to))
		if _, err := d.Commit(h.ctx); err != nil {
			h.Fatal(err)
		}
		h.clock = h.clock.Add(time.Minute)
	}
	move("object/1", "object/2", Rec("object/2", "a"), Rec("object/5", "b"))
	move("object/2", "object/3", Rec("object/3", "a"), Rec("object/5", "b"))
	for _, first := range []string{"object/1", "object/3"} {
		d := h.begin()
		second := map[string]string{"object/1": "object/3", "object/3": "object/1"}[first]
		if _, err := d.Put(Rec(first, "x")); err != nil {
			h.Fatal(err)
		}
		h.refuses(service.Conflict, Base+"object/1", Base+"object/3")(d.Put(Rec(second, "x")))
		// It stayed as it was.
		h.put(d, Rec("object/5", "b"), service.Unchanged)
		if got := d.Review(); got.Unchanged+got.Changed+got.Returned != 2 {
			h.Errorf("%+v", got)
		}
		if err := d.Discard(); err != nil {
			h.Fatal(err)
		}
	}
	// It may come back when what it became is not there.
	d := h.begin()
	h.put(d, Rec("object/1", "again"), service.Returned)
	h.does(service.Relocated)(d.Move("object/3", Base+"object/1"))
	h.put(d, Rec("object/5", "b"), service.Unchanged)
	h.commit(d, service.Summary{Returned: 1, Moved: 1, Unchanged: 1})
	if l, err := h.s.Versions(h.ctx, "object/1", 0, 10); err != nil || len(l) != 3 {
		h.Errorf("%s, %v", shows(l), err)
	}
}

func testDifferences(h *harness) {
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("object/3", "c"), Rec("object/4", "d"), Rec("object/5", "e"))
	h.publish(Rec("object/1", "a"), Rec("object/2", "b"), Rec("object/3", "c"), Rec("object/4", "d"))
	before := h.get("object/2")
	d := h.begin()
	defer d.Discard()
	h.put(d, Rec("object/1", "a"), service.Unchanged)
	h.put(d, Rec("object/2", "B"), service.Changed)
	h.put(d, Rec("object/7", "g"), service.Added)
	h.put(d, Rec("object/6", "f"), service.Added)
	h.put(d, Rec("object/5", "e"), service.Returned)
	h.does(service.Relocated)(d.Move("object/3", Base+"object/7"))
	get := func(kind service.Change, limit int) []service.Difference {
		h.Helper()
		l, err := d.Differences(kind, limit)
		if err != nil {
			h.Fatal(err)
		}
		return l
	}
	l := get(service.Changed, 10)
	if len(l) != 1 || readable(l[0].Before) != readable(before) || l[0].After.Path != "object/2" || !strings.Contains(string(l[0].After.Body), `"B"`) ||
		l[0].After.Change != service.Changed {
		h.Errorf("changed: %s", readable(l))
	}
	if l := get(service.Added, 10); len(l) != 2 || l[0].Before != nil || l[0].After.Path != "object/7" || l[1].After.Path != "object/6" {
		h.Errorf("added: %s", readable(l))
	}
	if l := get(service.Added, 1); len(l) != 1 || l[0].After.Path != "object/7" {
		h.Errorf("added: %s", readable(l))
	}
	if l := get(service.Withdrawn, 10); len(l) != 1 || l[0].Before.Path != "object/4" || len(l[0].Before.Body) == 0 || l[0].After.State != service.Gone {
		h.Errorf("withdrawn: %s", readable(l))
	}
	if l := get(service.Returned, 10); len(l) != 1 || l[0].Before.State != service.Gone || l[0].After.State != service.Live {
		h.Errorf("returned: %s", readable(l))
	}
	if l := get(service.Relocated, 10); len(l) != 1 || l[0].After.MovedTo != Base+"object/7" {
		h.Errorf("moved: %s", readable(l))
	}
	if l := get(service.Unchanged, 10); len(l) != 0 {
		h.Errorf("unchanged: %s", readable(l))
	}
	// To look is not to touch.
	h.put(d, Rec("object/4", "D"), service.Changed)
	if l := get(service.Withdrawn, 10); len(l) != 0 {
		h.Errorf("withdrawn: %s", readable(l))
	}
	if l := get(service.Changed, 10); len(l) != 2 {
		h.Errorf("changed: %s", readable(l))
	}
	h.commit(d, service.Summary{Unchanged: 1, Changed: 2, Added: 2, Returned: 1, Moved: 1})
}

// testEmptyDraft: all that a draft can be asked, of a store with nothing in it.
func testEmptyDraft(h *harness) {
	d := h.begin()
	if d.Live() != 0 || d.Last() != (service.Publication{}) || len(d.Withdrawals(5)) != 0 || d.Check() != nil {
		h.Errorf("%d, %+v", d.Live(), d.Last())
	}
	if l, err := d.Differences(service.Added, 5); err != nil || len(l) != 0 {
		h.Errorf("%v, %v", l, err)
	}
	if err := d.Discard(); err != nil {
		h.Fatal(err)
	}
	if _, err := d.Differences(service.Added, 5); err == nil {
		h.Error("a draft that has ended shows differences")
	}
	if d.Check() == nil || d.Withdrawals(5) != nil {
		h.Error("a draft that has ended answers")
	}
	if _, err := d.Withdraw("object/1", ""); err == nil {
		h.Error("a draft that has ended withdraws")
	}
}
