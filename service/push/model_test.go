package push

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
)

// After any interleaving of publications, pushes, pushes that die at any request or find
// a target that fails and refuses, the target's state is honest whenever it is written,
// and a push that ends well leaves the target as the store is.
func TestAnyHistory(t *testing.T) {
	checks(t, 30, 300)
	dir := t.TempDir()
	n := 0
	crashes, refusals, ended := 0, 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		s, err := sqlite.Open(filepath.Join(dir, fmt.Sprint(n)+".db"))
		if err != nil {
			rt.Fatal(err)
		}
		defer s.Close()
		g := newGraphStore(t)
		defer g.Close()
		paths := []string{"c/1", "c/2", "c/3", "c/4", "c/5", "c/6", "c/7", "c/8"}
		// What has moved away does not come back: the store would not have it.
		away := map[string]bool{}
		draw := func() []string {
			lines := []string{"d/1=here"}
			for _, p := range paths {
				kind := rapid.IntRange(0, 5).Draw(rt, "kind")
				if kind == 0 || away[p] {
					continue // withdrawn, or never there
				}
				if _, err := s.Get(ctx, p); err == nil && kind == 1 {
					lines = append(lines, p+">d/1")
					continue
				}
				lines = append(lines, p+"="+rapid.SampledFrom([]string{"a", "b"}).Draw(rt, "label"))
			}
			return lines
		}
		bring := func(lines []string) {
			publish(t, s, lines...)
			for _, l := range lines {
				if from, _, ok := strings.Cut(l, ">"); ok {
					away[from] = true
				}
			}
		}
		dead := map[string]bool{}
		push := func(faults bool) (Report, error) {
			x, err := NewTarget(g.URL+"/data", Credentials{})
			if err != nil {
				rt.Fatal(err)
			}
			defer x.Close()
			x.step, x.patience = time.Microsecond, 0
			o := options()
			o.Workers = rapid.IntRange(1, 3).Draw(rt, "workers")
			o.All = rapid.IntRange(0, 5).Draw(rt, "all") == 0
			o.Lease, o.each = 5*time.Second, rapid.IntRange(1, 3).Draw(rt, "each")
			o.Dead = func(claim string) bool { return dead[claim] }
			end, late, publishAt := 0, false, 0
			var refused, news []string
			if faults {
				news = draw()
				end = rapid.IntRange(0, 20).Draw(rt, "end")
				late = rapid.Bool().Draw(rt, "late")
				publishAt = rapid.IntRange(0, 20).Draw(rt, "publish at")
				refused = rapid.SliceOfN(rapid.SampledFrom(paths), 0, 2).Draw(rt, "refused")
			}
			slow := map[string]bool{}
			if faults {
				for _, p := range rapid.SliceOfN(rapid.SampledFrom(paths), 0, 2).Draw(rt, "slow") {
					slow[p] = true
				}
			}
			var mu sync.Mutex
			g.delay = func(_, path string) time.Duration { // once each
				mu.Lock()
				defer mu.Unlock()
				if slow[path] {
					slow[path] = false
					return 4 * time.Millisecond
				}
				return 0
			}
			count := 0
			g.cut = func(request) (bool, bool) {
				count++
				if publishAt > 0 && count == publishAt {
					bring(news)
				}
				return end > 0 && (count > end || count == end && !late), end > 0 && count == end && late
			}
			g.before = func(r request) (int, string, string) {
				if slices.Contains(refused, r.path) {
					refusals++
					return 400, "", ""
				}
				return 0, "", ""
			}
			r, err := Run(ctx, s, x, o)
			g.settle()
			dead[o.Claim] = true
			if err != nil {
				if service.CodeOf(err) != service.Unavailable || end == 0 {
					rt.Fatal(err)
				}
				crashes++
			}
			g.cut, g.before, g.delay = nil, nil, nil
			return r, err
		}
		for range rapid.IntRange(1, 6).Draw(rt, "steps") {
			switch rapid.IntRange(0, 3).Draw(rt, "step") {
			case 0:
				bring(draw())
			default:
				r, err := push(true)
				honest(rt, s, g)
				// Nothing was published after the last look: what is not refused is there.
				if d := g.differs(s); err == nil && len(r.Refused) == 0 && d != "" && r.Through == last(rt, s) {
					rt.Fatal(d)
				}
			}
		}
		if _, err := push(false); err != nil {
			rt.Fatal(err)
		}
		if d := g.differs(s); d != "" {
			rt.Fatal(d)
		}
		ended++
	})
	t.Logf("%d histories, %d pushes that died, %d refusals", ended, crashes, refusals)
	if crashes == 0 || refusals == 0 {
		t.Error("nothing went wrong in any of them")
	}
}

func last(t *rapid.T, s service.Store) int64 {
	p, err := s.Current(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return p.Last
}

// honest checks what the state says of the target.
func honest(t *rapid.T, s service.Store, g *graphStore) {
	x, err := NewTarget(g.URL+"/data", Credentials{})
	if err != nil {
		t.Fatal(err)
	}
	defer x.Close()
	st, err := x.stateNow()
	if err != nil {
		t.Fatal(err)
	}
	want, err := wanted(s)
	if err != nil {
		t.Fatal(err)
	}
	rs, err := s.Changes(ctx, service.Selection{Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rs {
		if r.Seq <= st.through && !slices.Contains(st.refused, r.Path) && !slices.Equal(g.graphs[r.IRI], want[r.IRI]) {
			t.Fatalf("the state is at %d, but <%s> of %d is %q, not %q", st.through, r.IRI, r.Seq, g.graphs[r.IRI], want[r.IRI])
		}
	}
}

// checks sets how many histories are tried, here and in the long run, unless the command
// line says it.
func checks(t *testing.T, few, many int) {
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if given {
		return
	}
	if os.Getenv("ROPEWALK_LONG") != "" {
		few = many
	}
	was := flag.Lookup("rapid.checks").Value.String()
	if err := flag.Set("rapid.checks", strconv.Itoa(few)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
}
