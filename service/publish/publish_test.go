package publish_test

import (
	"context"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/service"
	"ropewalk/service/publish"
	"ropewalk/service/store/sqlite"
)

const base = "https://x.example/"

func open(t testing.TB, dir string) service.Store {
	t.Helper()
	s, err := sqlite.Open(filepath.Join(dir, "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// rec is a document with a label as its only content.
func rec(path, label string) *service.Record {
	iri := base + path
	p, _ := service.Path(base, iri)
	return &service.Record{IRI: iri, Path: p, State: service.Live, Class: "Type", Endpoint: "concept", Label: label,
		Body: fmt.Appendf(nil, `{"@context":"https://linked.art/ns/v1/linked-art.json","id":%q,"type":"Type","_label":%q}`, iri, label)}
}

// run is a walk of lines: "path=label" makes a document, "!path" spoils one, "?" is a
// record that does not say which, "~path" has an unreadable date, ">path" is held.
func run(inputs []publish.Input, lines ...string) publish.Walk {
	return func(_ context.Context, s *publish.Sink) ([]publish.Input, error) {
		first := map[string]string{}
		for i, l := range lines {
			where := fmt.Sprintf("f.csv, row %d", i+2)
			switch {
			case l == "?":
				s.Spoilt("", where)
			case l[0] == '!':
				s.Spoilt(base+l[1:], where)
			case l[0] == '~':
				s.Undate(base+l[1:], where)
			case l[0] == '>':
				s.Hold(base+l[1:], time.Date(2031, 5, 1+i, 0, 0, 0, 0, time.UTC))
			default:
				path, label, _ := strings.Cut(l, "=")
				r := rec(path, label)
				if w, ok := first[r.IRI]; ok {
					s.Twice(r.IRI, w, where)
					continue
				}
				first[r.IRI] = where
				if err := s.Put(r, where); err != nil {
					return nil, err
				}
			}
		}
		return inputs, nil
	}
}

func rules() publish.Rules { return publish.Rules{Base: base, Most: 5} }

func prepare(t testing.TB, s service.Store, r publish.Rules, w publish.Walk) *publish.Plan {
	t.Helper()
	p, err := publish.Prepare(context.Background(), s, r, w)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func commit(t testing.TB, p *publish.Plan) service.Publication {
	t.Helper()
	pub, err := p.Commit(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	return pub
}

// state is all that a store has, "path state label>target|reason".
func state(t testing.TB, s service.Store) []string {
	t.Helper()
	list, err := s.Changes(context.Background(), service.Selection{Limit: 10_000})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, r := range list {
		x := fmt.Sprintf("%s %s %s", r.Path, r.State, r.Label)
		if r.MovedTo != "" {
			x += ">" + strings.TrimPrefix(r.MovedTo, base)
		}
		if r.Reason != "" {
			x += "|" + r.Reason
		}
		out = append(out, x)
	}
	slices.Sort(out)
	return out
}

func same[T comparable](t testing.TB, what string, got []T, want ...T) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got %v\nwant %v", what, got, want)
	}
}

func many(n int) []string {
	var out []string
	for i := range n {
		out = append(out, fmt.Sprintf("c/%02d=thing %d", i, i))
	}
	return out
}

func TestShare(t *testing.T) {
	s := open(t, t.TempDir())
	all := many(40)
	commit(t, prepare(t, s, rules(), run(nil, all...)))
	for _, tt := range []struct {
		keep  int
		most  float64
		stops bool
	}{{40, 5, false}, {39, 5, false}, {38, 5, false}, {37, 5, true}, {39, 0, true}, {40, 0, false}, {0, 5, true}, {0, 100, false}, {36, 10, false}, {35, 10, true}} {
		r := rules()
		r.Most = tt.most
		p := prepare(t, s, r, run(nil, all[:tt.keep]...))
		if p.Live != 40 || p.Strays != 40-tt.keep || p.Summary.Withdrawn != p.Strays {
			t.Errorf("%+v: %d of %d", tt, p.Strays, p.Live)
		}
		if (len(p.Stops) > 0) != tt.stops {
			t.Errorf("%+v: %q", tt, p.Stops)
		}
		if p.Allows(-1) == tt.stops || !p.Allows(p.Strays) || tt.stops && p.Strays > 0 && p.Allows(p.Strays-1) {
			t.Errorf("%+v: what is allowed", tt)
		}
		if err := p.Discard(); err != nil {
			t.Fatal(err)
		}
	}
	if pub, _ := s.Current(context.Background()); pub.Number != 1 {
		t.Errorf("looking at plans made publication %d", pub.Number)
	}
}

// Whoever listed a withdrawal has said so already.
func TestListedWithdrawalsAreTold(t *testing.T) {
	s := open(t, t.TempDir())
	commit(t, prepare(t, s, rules(), run(nil, many(10)...)))
	r := rules()
	r.Withdrawn = []publish.Withdrawn{{IRI: base + "c/00", Reason: "Given back", Where: "w.csv, row 2"}, {IRI: base + "c/never", Reason: "Of old", Where: "w.csv, row 3"}}
	r.Moved = []publish.Moved{{From: base + "c/01", To: base + "c/02", Where: "m.csv, row 2"}, {From: base + "old/1", To: "https://else.example/", Where: "m.csv, row 3"}}
	p := prepare(t, s, r, run(nil, many(10)[2:]...))
	same(t, "stops", p.Stops)
	same(t, "never published", p.New, "w.csv, row 3", "m.csv, row 3")
	if p.Strays != 0 || p.Summary != (service.Summary{Withdrawn: 2, Moved: 2, Unchanged: 8}) {
		t.Errorf("%d strays, %+v", p.Strays, p.Summary)
	}
	commit(t, p)
	same(t, "ends", slices.DeleteFunc(state(t, s), func(x string) bool { return strings.Contains(x, " live ") }),
		"c/00 gone thing 0|Given back", "c/01 moved thing 1>c/02", "c/never gone |Of old", "old/1 moved >https://else.example/")

	p = prepare(t, s, r, run(nil, many(10)[2:]...))
	same(t, "never published, again", p.New)
	if p.Summary.Changes() != 0 {
		t.Errorf("again: %+v", p.Summary)
	}
	if pub := commit(t, p); pub.Number != 2 {
		t.Errorf("a run that changes nothing made publication %d", pub.Number)
	}

	// Without its row the tombstone stays; the document comes back if the run makes it.
	p = prepare(t, s, rules(), run(nil, append(many(10)[2:], "c/00=thing 0")...))
	if p.Summary != (service.Summary{Returned: 1, Unchanged: 8}) {
		t.Errorf("returned: %+v", p.Summary)
	}
	commit(t, p)
	v, err := s.Versions(context.Background(), "c/00", 0, 10)
	if err != nil || len(v) != 3 || v[0].Change != service.Added || v[1].Change != service.Withdrawn || v[2].Change != service.Returned {
		t.Errorf("the returned document does not continue its history: %v, %v", v, err)
	}
}

func TestProblems(t *testing.T) {
	s := open(t, t.TempDir())
	commit(t, prepare(t, s, rules(), run(nil, many(4)...)))
	before := state(t, s)
	p := prepare(t, s, rules(), run(nil, "c/00=thing 0", "!c/01", "!c/07", "c/02=thing 2", "!c/01", ">c/08", ">c/09", "c/03=thing 3"))
	if len(p.Kept) != 1 || p.Kept[0] != (publish.Matter{IRI: base + "c/01", Where: "f.csv, row 3", Label: "thing 1"}) {
		t.Errorf("kept: %+v", p.Kept)
	}
	if len(p.LeftOut) != 1 || p.LeftOut[0] != (publish.Matter{IRI: base + "c/07", Where: "f.csv, row 4"}) {
		t.Errorf("left out: %+v", p.LeftOut)
	}
	if p.Held != 2 || !p.Next.Equal(time.Date(2031, 5, 6, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("held: %d, %v", p.Held, p.Next)
	}
	if p.Summary != (service.Summary{Unchanged: 4}) || len(p.Stops) > 0 {
		t.Errorf("%+v %q", p.Summary, p.Stops)
	}
	commit(t, p)
	same(t, "state", state(t, s), before...)

	// What may be private is withdrawn, and that is counted.
	p = prepare(t, s, rules(), run(nil, append(many(4)[:3], "~c/03")...))
	if len(p.Undated) != 1 || p.Strays != 1 || len(p.Stops) != 1 {
		t.Errorf("undated: %+v, %d strays, %q", p.Undated, p.Strays, p.Stops)
	}
	p.Discard()

	// A record without an identifier may be one of those that would be withdrawn.
	r := rules()
	r.Most = 100
	p = prepare(t, s, r, run(nil, append(many(4)[:3], "?")...))
	if len(p.Unknown) != 1 || len(p.Stops) != 1 || !strings.Contains(p.Stops[0], "may be the same") || p.Allows(0) || !p.Allows(1) {
		t.Errorf("unknown: %+v %q", p.Unknown, p.Stops)
	}
	p.Discard()
	p = prepare(t, s, r, run(nil, append(many(4), "?")...))
	same(t, "nothing is withdrawn", p.Stops)
	p.Discard()

	// What is not fit for the store is left out like any other.
	p = prepare(t, s, r, run(nil, append(many(4), "healthz=x")...))
	if len(p.LeftOut) != 1 || !strings.Contains(p.LeftOut[0].Why, "kept for the service") {
		t.Errorf("unfit: %+v", p.LeftOut)
	}
	p.Discard()
}

func TestClashes(t *testing.T) {
	type clash struct {
		iri, where, other, otherWhere string
		kept                          bool
	}
	for _, tt := range []struct {
		name   string
		before []string
		moved  [][2]string // in the past
		rules  publish.Rules
		run    []string
		want   []clash
		state  []string
	}{
		{name: "twice, published", before: []string{"c/1=old"}, run: []string{"c/1=one", "c/2=x", "c/1=two"},
			want:  []clash{{"c/1", "f.csv, row 4", "c/1", "f.csv, row 2", true}},
			state: []string{"c/1 live old", "c/2 live x"}},
		{name: "twice, new", run: []string{"c/1=one", "c/2=x", "c/1=two", "c/1=three"},
			want: []clash{{"c/1", "f.csv, row 4", "c/1", "f.csv, row 2", false}}, state: []string{"c/2 live x"}},
		{name: "one address, two IRIs", run: []string{"c/a%62=one", "c/2=x", "c/ab=two"},
			want: []clash{{"c/ab", "f.csv, row 4", "c/a%62", "f.csv, row 2", false}}, state: []string{"c/2 live x"}},
		{name: "one address, two IRIs, one published", before: []string{"c/ab=old"}, run: []string{"c/ab=new", "c/a%62=one", "c/2=x"},
			want: []clash{{"c/a%62", "f.csv, row 3", "c/ab", "published by publication 1", false}}, state: []string{"c/2 live x", "c/ab live new"}},
		{name: "moved, and made", before: []string{"c/1=one"}, run: []string{"c/1=one", "c/2=one"},
			rules: publish.Rules{Moved: []publish.Moved{{From: base + "c/1", To: base + "c/2", Where: "moved.csv, row 2"}}},
			want:  []clash{{"c/1", "f.csv, row 2", "c/1", "moved.csv, row 2", false}}, state: []string{"c/1 moved one>c/2", "c/2 live one"}},
		{name: "withdrawn, and made", before: []string{"c/1=one"}, run: []string{"c/1=one", "c/2=one"},
			rules: publish.Rules{Withdrawn: []publish.Withdrawn{{IRI: base + "c/1", Reason: "r", Where: "withdrawn.csv, row 2"}}},
			want:  []clash{{"c/1", "f.csv, row 2", "c/1", "withdrawn.csv, row 2", false}}, state: []string{"c/1 gone one|r", "c/2 live one"}},
		{name: "moved before, old one first", before: []string{"c/1=one", "c/2=two"}, moved: [][2]string{{"c/1", "c/2"}}, run: []string{"c/1=another", "c/2=two"},
			want: []clash{{"c/1", "f.csv, row 2", "c/2", "f.csv, row 3", false}}, state: []string{"c/1 moved one>c/2", "c/2 live two"}},
		{name: "moved before, old one last", before: []string{"c/1=one", "c/2=two"}, moved: [][2]string{{"c/1", "c/2"}}, run: []string{"c/2=two", "c/1=another"},
			want: []clash{{"c/1", "f.csv, row 3", "c/2", "f.csv, row 2", false}}, state: []string{"c/1 moved one>c/2", "c/2 live two"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := open(t, t.TempDir())
			if tt.before != nil {
				commit(t, prepare(t, s, rules(), run(nil, tt.before...)))
			}
			if tt.moved != nil {
				r := rules()
				keep := slices.Clone(tt.before)
				for _, m := range tt.moved {
					r.Moved = append(r.Moved, publish.Moved{From: base + m[0], To: base + m[1], Where: "m"})
					keep = slices.DeleteFunc(keep, func(l string) bool { return strings.HasPrefix(l, m[0]+"=") })
				}
				commit(t, prepare(t, s, r, run(nil, keep...)))
			}
			r := tt.rules
			r.Base, r.Most = base, 0
			p := prepare(t, s, r, run(nil, tt.run...))
			var got []clash
			for _, c := range p.Clashes {
				got = append(got, clash{strings.TrimPrefix(c.IRI, base), c.Where, strings.TrimPrefix(c.Other, base), c.OtherWhere, c.Kept})
				if c.Why == "" {
					t.Errorf("%+v has no reason", c)
				}
			}
			same(t, "clashes", got, tt.want...)
			same(t, "stops", p.Stops)
			commit(t, p)
			same(t, "state", state(t, s), tt.state...)
		})
	}
}

// Mistakes in the lists name their row, and nothing is published.
func TestListMistakes(t *testing.T) {
	s := open(t, t.TempDir())
	commit(t, prepare(t, s, rules(), run(nil, "c/1=one", "c/2=two")))
	for name, tt := range map[string]struct {
		rules publish.Rules
		want  string
	}{
		"nowhere":   {publish.Rules{Moved: []publish.Moved{{From: base + "c/1", To: base + "c/9", Where: "moved.csv, row 2"}}}, "moved.csv, row 2: <https://x.example/c/1> cannot move to <https://x.example/c/9>: there is no such record"},
		"withdrawn": {publish.Rules{Moved: []publish.Moved{{From: base + "c/1", To: base + "c/3", Where: "moved.csv, row 2"}}, Withdrawn: []publish.Withdrawn{{IRI: base + "c/3", Where: "w"}}}, "moved.csv, row 2: "},
		"reserved":  {publish.Rules{Withdrawn: []publish.Withdrawn{{IRI: base + "healthz", Where: "withdrawn.csv, row 2"}}}, "withdrawn.csv, row 2: "},
		"dots":      {publish.Rules{Withdrawn: []publish.Withdrawn{{IRI: base + "c/../x", Where: "withdrawn.csv, row 2"}}}, "can't be the address"},
		"same":      {publish.Rules{Withdrawn: []publish.Withdrawn{{IRI: base + "c/ab", Where: "withdrawn.csv, row 2"}, {IRI: base + "c/a%62", Where: "withdrawn.csv, row 3"}}}, "withdrawn.csv, row 3: "},
		"elsewhere": {publish.Rules{Withdrawn: []publish.Withdrawn{{IRI: "https://y.example/c", Where: "withdrawn.csv, row 2"}}}, "withdrawn.csv, row 2: "},
	} {
		r := tt.rules
		r.Base, r.Most = base, 100
		_, err := publish.Prepare(context.Background(), s, r, run(nil, "c/2=two"))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", name, err, tt.want)
		}
	}
	// The store's lock is free again.
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	p, err := publish.Prepare(ctx, s, rules(), run(nil, "c/1=one", "c/2=two"))
	if err != nil || p.Summary != (service.Summary{Unchanged: 2}) {
		t.Fatalf("%+v, %v", p, err)
	}
	p.Discard()
}

// Files that lost half of what they had stop a run even if nothing is withdrawn.
func TestInputs(t *testing.T) {
	in := func(source, file string, bytes int64, records int) publish.Input {
		return publish.Input{Source: source, File: file, Bytes: bytes, Records: records}
	}
	before := []publish.Input{in("things", "a.csv", 1000, 40), in("things", "b.csv", 500, 20), in("makers", "m.csv", 300, 3), in("none", "n.csv", 10, 0)}
	change := func(i int, x publish.Input) []publish.Input {
		out := slices.Clone(before)
		out[i] = x
		return out
	}
	for name, tt := range map[string]struct {
		now  []publish.Input
		want string // "" if it goes through
	}{
		"same":              {before, ""},
		"a little":          {change(0, in("things", "a.csv", 501, 21)), ""},
		"half the bytes":    {change(0, in("things", "a.csv", 500, 40)), "a.csv has 500 bytes"},
		"half the records":  {change(1, in("things", "b.csv", 500, 10)), "b.csv has 500 bytes and 10 records"},
		"few records":       {change(2, in("makers", "m.csv", 290, 1)), ""},
		"empty":             {change(2, in("makers", "m.csv", 290, 0)), `source "makers" is empty`},
		"always empty":      {change(3, in("none", "n.csv", 12, 0)), ""},
		"a file of two":     {slices.Delete(slices.Clone(before), 1, 2), ""},
		"the bigger of two": {slices.Delete(slices.Clone(before), 0, 1), `the files of source "things" together have 500 bytes`},
		"another name":      {change(0, in("things", "a-2.csv", 990, 39)), ""},
		"another, shorter":  {[]publish.Input{in("things", "c.csv", 700, 30), before[2]}, `the files of source "things" together have 700 bytes`},
		"no longer read":    {before[:2], ""},
		"a new source":      {append(slices.Clone(before), in("new", "x.csv", 1, 0)), ""},
	} {
		s := open(t, t.TempDir())
		commit(t, prepare(t, s, rules(), run(before, many(60)...)))
		if pub, _ := s.Current(context.Background()); !slices.Equal(publish.Inputs(pub.Sources), before) {
			t.Fatalf("the sizes were kept as %q", pub.Sources)
		}
		p := prepare(t, s, rules(), run(tt.now, many(60)...))
		if got := strings.Join(p.Stops, "; "); tt.want == "" && got != "" || !strings.Contains(got, tt.want) {
			t.Errorf("%s: %q, want %q", name, got, tt.want)
		}
		if p.Allows(0) != (p.Strays == 0) || p.Allows(-1) != (tt.want == "") {
			t.Errorf("%s: what is allowed", name)
		}
		p.Discard()
	}
	// Where sizes were never kept, an empty source matters if something is withdrawn.
	s := open(t, t.TempDir())
	commit(t, prepare(t, s, rules(), run(nil, many(60)...)))
	p := prepare(t, s, rules(), run([]publish.Input{in("makers", "m.csv", 5, 0)}, many(59)...))
	same(t, "unknown sizes", p.Stops, `source "makers" is empty`)
	p.Discard()
}

func TestStatements(t *testing.T) {
	s := open(t, t.TempDir())
	commit(t, prepare(t, s, rules(), run(nil, "c/1=one", "c/2=two")))
	r := rules()
	r.Most = 100
	p := prepare(t, s, r, run(nil, "c/1=first", "c/3=three"))
	for _, tt := range []struct {
		kind           service.Change
		path           string
		removed, added []string
	}{
		{service.Changed, "c/1", []string{"one"}, []string{"first"}},
		{service.Added, "c/3", nil, []string{"http://www.cidoc-crm.org/cidoc-crm/E55_Type", "three"}},
		{service.Withdrawn, "c/2", []string{"http://www.cidoc-crm.org/cidoc-crm/E55_Type", "two"}, nil},
	} {
		d, err := p.Differences(tt.kind, 10)
		if err != nil || len(d) != 1 || d[0].After.Path != tt.path {
			t.Fatalf("%s: %+v, %v", tt.kind, d, err)
		}
		removed, added, err := publish.Statements(d[0].Before, d[0].After)
		if err != nil {
			t.Fatal(err)
		}
		var gone, new []string
		for _, x := range removed {
			gone = append(gone, x.Object.Value)
		}
		for _, x := range added {
			new = append(new, x.Object.Value)
		}
		same(t, "removed of "+tt.path, gone, tt.removed...)
		same(t, "added to "+tt.path, new, tt.added...)
	}
	p.Discard()
}

// TestAnyRuns: whatever runs and lists come one after another, published is what the
// run made and nobody else claimed, and what was published and could not be made;
// the past is never lost.
func TestAnyRuns(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		store, err := sqlite.Open(filepath.Join(dir, fmt.Sprint(n)+".db"))
		if err != nil {
			rt.Fatal(err)
		}
		defer store.Close()
		paths := []string{"c/1", "c/2", "c/3", "c/4", "c/5", "c/6"}
		live, ended := map[string]string{}, map[string]string{} // by path: label; state
		for range rapid.IntRange(1, 4).Draw(rt, "runs") {
			var lines []string
			made, spoilt, twice := map[string]string{}, map[string]bool{}, map[string]bool{}
			for range rapid.IntRange(0, 8).Draw(rt, "records") {
				path := rapid.SampledFrom(paths).Draw(rt, "path")
				switch rapid.IntRange(0, 5).Draw(rt, "kind") {
				case 0:
					if _, ok := made[path]; !ok { // the line tells of a spoilt one only if nobody made it
						spoilt[path] = true
					}
				default:
					label := rapid.SampledFrom([]string{"a", "b"}).Draw(rt, "label")
					_, again := made[path]
					twice[path] = again || twice[path]
					made[path] = label
					delete(spoilt, path)
					lines = append(lines, path+"="+label)
				}
			}
			for p := range spoilt {
				lines = append(lines, "!"+p)
			}
			r := publish.Rules{Base: base, Most: 0}
			out := map[string]bool{}
			if rapid.Bool().Draw(rt, "withdrawn") {
				p := rapid.SampledFrom(paths).Draw(rt, "which")
				r.Withdrawn, out[p] = []publish.Withdrawn{{IRI: base + p, Where: "w"}}, true
			}
			p, err := publish.Prepare(context.Background(), store, r, run(nil, lines...))
			if err != nil {
				rt.Fatal(err)
			}
			want := map[string]string{}
			for path, label := range made {
				if !twice[path] {
					want[path] = label
				}
			}
			for path, label := range live {
				if spoilt[path] || twice[path] {
					want[path] = label
				}
			}
			strays := 0
			for path := range live {
				if _, stays := want[path]; !stays && !out[path] {
					strays++
				}
			}
			for path := range out {
				delete(want, path)
			}
			if p.Strays != strays || p.Allows(-1) != (strays == 0) {
				rt.Fatalf("%d strays, want %d; stops %q", p.Strays, strays, p.Stops)
			}
			if !p.Allows(-1) && rapid.Bool().Draw(rt, "stop") {
				if err := p.Discard(); err != nil {
					rt.Fatal(err)
				}
				continue
			}
			if _, err := p.Commit(context.Background(), "note"); err != nil {
				rt.Fatal(err)
			}
			for path := range live {
				if _, stays := want[path]; !stays {
					ended[path] = "gone"
				}
			}
			for path := range out {
				ended[path] = "gone"
			}
			for path := range want {
				delete(ended, path)
			}
			live = want
			all := maps.Clone(ended)
			for path, label := range live {
				all[path] = "live " + label
			}
			got := map[string]string{}
			list, err := store.Changes(context.Background(), service.Selection{Limit: 100})
			if err != nil {
				rt.Fatal(err)
			}
			for _, x := range list {
				got[x.Path] = x.State.String()
				if x.State == service.Live {
					got[x.Path] += " " + x.Label
				}
			}
			if !maps.Equal(got, all) {
				rt.Fatalf("got %v\nwant %v", got, all)
			}
		}
	})
}
