package push

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ropewalk/service"
)

// named is a target that the store can tell from others by its token.
func named(t testing.TB, g *graphStore, name string) *Target {
	t.Helper()
	x, err := NewTarget(g.URL+"/data", Credentials{Token: name})
	if err != nil {
		t.Fatal(err)
	}
	x.step = time.Microsecond
	t.Cleanup(x.Close)
	return x
}

// activeClaims are the claims in the state graph that were not taken back.
func (g *graphStore) activeClaims() (claims []string) {
	all := map[string][]string{}
	for _, l := range g.graphs[StateGraph(base)] {
		if f := strings.SplitN(l, " ", 3); len(f) == 3 {
			all[f[1]] = append(all[f[1]], strings.Trim(strings.TrimSuffix(f[2], " ."), `"`))
		}
	}
	for _, c := range all["<"+termClaim+">"] {
		if !slices.Contains(all["<"+termLeft+">"], c) {
			claims = append(claims, whose(c))
		}
	}
	return claims
}

// Of many pushes that begin at once, one sends at a time, and all end well.
func TestTogether(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	var lines []string
	for i := range 40 {
		lines = append(lines, fmt.Sprintf("c/%d=x", i))
	}
	publish(t, s, lines...)
	g.before = func(r request) (int, string, string) {
		if r.path != "#push" && !slices.Contains(g.activeClaims(), r.bearer) {
			t.Errorf("%s sends %s, and has no claim: %v", r.bearer, r.path, g.activeClaims())
		}
		return 0, "", ""
	}
	g.delay = func(method, path string) time.Duration {
		if path == "#push" {
			return 2*time.Millisecond + jitter(2*time.Millisecond)
		}
		return 0
	}
	senders := map[string]bool{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for i := range 6 {
		x := named(t, g, fmt.Sprintf("pusher%d", i))
		wg.Go(func() {
			o := Options{Base: base, Workers: 2, Claim: fmt.Sprintf("pusher%d", i), Lease: 4 * time.Second}
			r, err := Run(ctx, s, x, o)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Error(err)
			}
			if senders[o.Claim] = r.Put > 0; r.Put > 0 && r.Put != len(lines) {
				t.Errorf("%s sent %d", o.Claim, r.Put)
			}
		})
	}
	wg.Wait()
	n := 0
	for _, s := range senders {
		if s {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d of them sent documents: %v", n, senders)
	}
	g.same(t, s)
}

// deadPush leaves the target as a push that died: with a claim, and without some of
// what it should have.
func deadPush(t testing.TB, s service.Store, g *graphStore, claim string) {
	t.Helper()
	dead := false
	n := 0
	g.cut = func(r request) (bool, bool) {
		if r.path != "#push" {
			n++
		}
		dead = dead || n > 1
		return dead, false
	}
	x := g.target(t)
	x.patience = 0
	o := options()
	o.Claim, o.Workers = claim, 1
	if _, err := Run(ctx, s, x, o); service.CodeOf(err) != service.Unavailable {
		t.Fatal(err)
	}
	g.settle()
	g.cut = nil
	if c := g.activeClaims(); len(c) != 1 || c[0] != claim {
		t.Fatalf("%v", c)
	}
}

// The claim of a push that is known to be dead holds up nobody; one of which nothing is
// known is waited for.
func TestDead(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	publish(t, s, "c/1=one", "c/2=two", "c/3=three")
	deadPush(t, s, g, "the dead")
	o := options()
	o.Dead = func(claim string) bool { return claim == "the dead" }
	o.Waiting = func(string) { t.Error("it waited") }
	if _, err := Run(ctx, s, g.target(t), o); err != nil {
		t.Fatal(err)
	}
	g.same(t, s)

	publish(t, s, "c/1=eins", "c/2=zwei", "c/3=drei")
	deadPush(t, s, g, "the unknown")
	waited := ""
	o = options()
	o.Dead = func(string) bool { return false }
	o.Waiting = func(claim string) { waited = claim }
	o.Lease = 200 * time.Millisecond
	if _, err := Run(ctx, s, g.target(t), o); err != nil {
		t.Fatal(err)
	}
	if waited != "the unknown" {
		t.Errorf("waited for %q", waited)
	}
	g.same(t, s)

	// Whoever waits can be stopped, and leaves nothing behind.
	equal(t, "claims after all", g.activeClaims())
	publish(t, s, "c/1=uno")
	deadPush(t, s, g, "another")
	stop, cancel := context.WithCancel(ctx)
	o = options()
	o.Waiting = func(string) { cancel() }
	if _, err := Run(stop, s, g.target(t), o); err == nil || stop.Err() == nil {
		t.Errorf("%v", err)
	}
	equal(t, "claims", g.activeClaims(), "another")
}

// A push whose target is emptied or taken over while it works stops, and says so.
func TestLost(t *testing.T) {
	for name, state := range map[string][]string{
		"emptied": nil,
		"taken over": {`<` + StateGraph(base) + `> <` + termClaim + `> "somebody else" .`, `<` + StateGraph(base) + `> <` + termThrough + `> "0" .`,
			`<` + StateGraph(base) + `> <` + termRenewals + `> "7" .`},
	} {
		s, g := open(t), newGraphStore(t)
		publish(t, s, "c/1=one", "c/2=two", "c/3=three")
		g.before = func(r request) (int, string, string) {
			if r.path == "c/2" {
				clear(g.graphs)
				if state != nil {
					g.graphs[StateGraph(base)] = state
				}
			}
			return 0, "", ""
		}
		_, err := Run(ctx, s, g.target(t), options())
		if service.CodeOf(err) != service.Conflict || !strings.Contains(err.Error(), strings.Fields(name)[0]) {
			t.Errorf("%s: %v", name, err)
		}
		equal(t, name, g.graphs[StateGraph(base)], state...)
		g.settle()
		g.before = nil
		o := options()
		o.Dead = func(string) bool { return true }
		if _, err := Run(ctx, s, g.target(t), o); err != nil {
			t.Fatal(err)
		}
		g.same(t, s)
	}
}

// A long push renews its claim, and keeps the state behind what is acknowledged.
func TestRenewals(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	var lines []string
	for i := range 30 {
		lines = append(lines, fmt.Sprintf("c/%02d=x", i))
	}
	publish(t, s, lines...)
	puts, last := 0, int64(0)
	g.before = func(r request) (int, string, string) {
		if r.path != "#push" {
			time.Sleep(5 * time.Millisecond) // longer in all than the lease
		}
		return 0, "", ""
	}
	g.cut = func(r request) (bool, bool) {
		if r.method == "PUT" && r.path == "#push" {
			puts++
		}
		return false, false
	}
	o := options()
	o.Lease, o.Workers = 120*time.Millisecond, 1
	o.Progress = func(through, total int64) {
		if through < last || through > total || total != int64(len(lines)) {
			t.Errorf("progress from %d to %d of %d", last, through, total)
		}
		last = through
	}
	if _, err := Run(ctx, s, g.target(t), o); err != nil {
		t.Fatal(err)
	}
	if puts < 3 || last != int64(len(lines)) {
		t.Errorf("%d times, through %d", puts, last)
	}
	g.same(t, s)
}
