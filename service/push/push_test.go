package push

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log"
	"maps"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
)

const base = "https://x.example/"

var ctx = context.Background()

// graphStore is a store of graphs as the protocol wants one (§5), that may misbehave.
type graphStore struct {
	*httptest.Server
	mu     sync.Mutex
	graphs map[string][]string // lines of N-Triples, sorted
	log    []string            // "PUT object/1 201", the state as "#push"
	// before is called with each request before anything is done; a status ends it
	// there. drop cuts the connection, before or after the work is done.
	before func(r request) (status int, header, body string)
	cut    func(r request) (early, late bool)
	delay  func(method, path string) time.Duration // before others are kept waiting
	busy   sync.WaitGroup                          // requests that are being carried out
}

type request struct {
	n      int // from 1
	method string
	path   string // below the base
	bearer string
}

func newGraphStore(t testing.TB) *graphStore {
	g := &graphStore{graphs: map[string][]string{}}
	g.Server = httptest.NewUnstartedServer(g)
	g.Config.ErrorLog = quiet
	g.Start()
	t.Cleanup(g.Close)
	return g
}

// settle waits until everything is done that was begun. A store that carries out a
// request long after its sender has died is the gap that the package speaks of.
func (g *graphStore) settle() {
	g.CloseClientConnections()
	g.busy.Wait()
}

func (g *graphStore) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	g.busy.Add(1)
	defer g.busy.Done()
	body, err := io.ReadAll(r.Body)
	name := r.URL.Query().Get("graph")
	path, ok := strings.CutPrefix(name, base)
	if err != nil || !ok || r.URL.Path != "/data" {
		http.Error(w, "no such graph store", 404)
		return
	}
	if g.delay != nil {
		time.Sleep(g.delay(r.Method, path))
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	bearer, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	req := request{len(g.log) + 1, r.Method, path, bearer}
	g.log = append(g.log, r.Method+" "+path)
	say := func(status int) {
		g.log[req.n-1] += " " + strconv.Itoa(status)
		w.WriteHeader(status)
	}
	var late bool
	if g.cut != nil {
		var early bool
		if early, late = g.cut(req); early {
			panic(http.ErrAbortHandler)
		}
	}
	if g.before != nil {
		if status, header, text := g.before(req); status != 0 {
			if k, v, ok := strings.Cut(header, ": "); ok {
				w.Header().Set(k, v)
			}
			say(status)
			_, _ = io.WriteString(w, text)
			return
		}
	}
	was, there := g.graphs[name]
	status := 200
	switch r.Method {
	case "GET":
		if !there {
			status = 404
			break
		}
		w.Header().Set("Content-Type", "application/n-triples")
		say(200)
		for _, l := range was {
			_, _ = io.WriteString(w, l+"\n")
		}
		return
	case "PUT", "POST":
		if r.Header.Get("Content-Type") != "application/n-triples" {
			say(415)
			return
		}
		now := strings.Split(strings.TrimSuffix(string(body), "\n"), "\n")
		if r.Method == "POST" {
			now = append(now, was...)
		}
		slices.Sort(now)
		g.graphs[name] = slices.Compact(now)
		if status = 204; !there {
			status = 201
		}
	case "DELETE":
		if !there {
			status = 404
		}
		delete(g.graphs, name)
	default:
		status = 405
	}
	if late {
		panic(http.ErrAbortHandler)
	}
	say(status)
}

// sent are the requests about documents since the last call.
func (g *graphStore) sent() []string {
	g.mu.Lock()
	defer g.mu.Unlock()
	var out []string
	for _, l := range g.log {
		if !strings.Contains(l, "#push") {
			out = append(out, l)
		}
	}
	g.log = nil
	slices.Sort(out)
	return out
}

func (g *graphStore) target(t testing.TB) *Target {
	t.Helper()
	x, err := NewTarget(g.URL+"/data", Credentials{})
	if err != nil {
		t.Fatal(err)
	}
	x.step = time.Microsecond
	t.Cleanup(x.Close)
	return x
}

func open(t testing.TB) service.Store {
	t.Helper()
	s, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// publish makes documents of "path=label", and of "path>other" a redirection; what is
// not named is withdrawn.
func publish(t interface{ Fatal(...any) }, s service.Store, lines ...string) {
	d, err := s.Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		if from, to, ok := strings.Cut(l, ">"); ok {
			if _, err := d.Move(from, base+to); err != nil {
				t.Fatal(err)
			}
			continue
		}
		path, label, _ := strings.Cut(l, "=")
		p, _ := service.Path(base, base+path)
		if _, err := d.Put(&service.Record{IRI: base + path, Path: p, State: service.Live, Class: "Type", Endpoint: "concept", Label: label,
			Body: fmt.Appendf(nil, `{"@context":"https://linked.art/ns/v1/linked-art.json","id":%q,"type":"Type","_label":%q}`, base+path, label)}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.Commit(ctx); err != nil {
		t.Fatal(err)
	}
}

// wanted are the graphs that a target of a store should have. They are written by hand,
// not with the writer that push uses.
func wanted(s service.Store) (map[string][]string, error) {
	out := map[string][]string{}
	_, err := s.Walk(ctx, func(r *service.Record) error {
		out[r.IRI] = []string{
			fmt.Sprintf("<%s> <http://www.w3.org/1999/02/22-rdf-syntax-ns#type> <http://www.cidoc-crm.org/cidoc-crm/E55_Type> .", r.IRI),
			fmt.Sprintf("<%s> <http://www.w3.org/2000/01/rdf-schema#label> %q .", r.IRI, r.Label),
		}
		return nil
	})
	return out, err
}

// differs says where a target is not as a store.
func (g *graphStore) differs(s service.Store) string {
	want, err := wanted(s)
	if err != nil {
		return err.Error()
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	has := maps.Clone(g.graphs)
	delete(has, StateGraph(base))
	for name, lines := range want {
		if !slices.Equal(has[name], lines) {
			return fmt.Sprintf("<%s> is %q, not %q", name, has[name], lines)
		}
		delete(has, name)
	}
	for name := range has {
		return fmt.Sprintf("<%s> is there and should not be", name)
	}
	return ""
}

func (g *graphStore) same(t testing.TB, s service.Store) {
	t.Helper()
	if d := g.differs(s); d != "" {
		t.Error(d)
	}
}

// quiet takes what the server says of connections that are cut on purpose.
var quiet = log.New(io.Discard, "", 0)

var pushes atomic.Int64

func options() Options {
	return Options{Base: base, Workers: 3, Claim: fmt.Sprintf("push %d", pushes.Add(1)), Lease: 30 * time.Second}
}

func push(t testing.TB, s service.Store, g *graphStore) Report {
	t.Helper()
	r, err := Run(ctx, s, g.target(t), options())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func equal(t testing.TB, what string, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got %q\nwant %q", what, got, want)
	}
}

// Only what has changed is sent.
func TestChanges(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	publish(t, s, "c/1=one", "c/2=two", "c/ä+b&c=three \\ \"x\"", "c/4=four")
	r := push(t, s, g)
	g.same(t, s)
	if r.Put != 4 || r.Deleted+r.Absent+len(r.Refused) != 0 || r.Began != 0 || r.Through != 4 {
		t.Errorf("%+v", r)
	}
	equal(t, "first", g.sent(), "PUT c/1 201", "PUT c/2 201", "PUT c/4 201", "PUT c/ä+b&c 201")
	if r = push(t, s, g); r.Put+r.Deleted+r.Absent != 0 || r.Began != 4 || r.Through != 4 {
		t.Errorf("%+v", r)
	}
	equal(t, "nothing", g.sent())

	publish(t, s, "c/1=one", "c/2=zwei", "c/4>c/5", "c/5=five")
	var plan []string
	if err := Plan(ctx, s, g.target(t), options(), func(r *service.Record) error {
		plan = append(plan, r.State.String()+" "+r.IRI)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	slices.Sort(plan)
	equal(t, "plan", plan, "gone "+base+"c/ä+b&c", "live "+base+"c/2", "live "+base+"c/5", "moved "+base+"c/4")
	equal(t, "planning", g.sent())
	if r = push(t, s, g); r.Put != 2 || r.Deleted != 2 || r.Through != 8 {
		t.Errorf("%+v", r)
	}
	g.same(t, s)
	equal(t, "second", g.sent(), "DELETE c/4 200", "DELETE c/ä+b&c 200", "PUT c/2 204", "PUT c/5 201")

	// What came and went between two pushes is not there.
	publish(t, s, "c/1=one", "c/2=zwei", "c/5=five", "c/6=six")
	publish(t, s, "c/1=one", "c/2=zwei", "c/5=five", "c/ä+b&c=back")
	if r = push(t, s, g); r.Put != 1 || r.Absent != 1 {
		t.Errorf("%+v", r)
	}
	g.same(t, s)

	// Everything again; other people's graphs are left alone.
	g.graphs[base+"c/1"] = []string{"spoilt"}
	g.graphs[base+"other"] = []string{"theirs"}
	o := options()
	o.All = true
	if r, err := Run(ctx, s, g.target(t), o); err != nil || r.Put != 4 || r.Absent != 2 {
		t.Errorf("%+v, %v", r, err)
	}
	if _, ok := g.graphs[base+"other"]; !ok {
		t.Error("somebody's graph is gone")
	}
	delete(g.graphs, base+"other")
	g.same(t, s)

	// An emptied target is filled.
	clear(g.graphs)
	if r = push(t, s, g); r.Put != 4 {
		t.Errorf("%+v", r)
	}
	g.same(t, s)
}

// More documents than are read at once.
func TestPages(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	var lines []string
	for i := range 3*page + 1 {
		lines = append(lines, fmt.Sprintf("c/%d=thing %d", i, i))
	}
	publish(t, s, lines...)
	if r := push(t, s, g); r.Put != len(lines) || r.Through != int64(len(lines)) {
		t.Errorf("%+v", r)
	}
	g.same(t, s)
}

// A refused document is named, holds up nothing, and is tried again.
func TestRefused(t *testing.T) {
	for _, tt := range []struct {
		status int
		want   string
	}{
		{400, "refused with status 400: not to our taste"},
		{413, "refused with status 413: not to our taste"},
		{500, "refused with status 500: not to our taste"},
		{202, "refused with status 202: accepted, but not yet stored"},
	} {
		s, g := open(t), newGraphStore(t)
		publish(t, s, "c/1=one", "c/2=two", "c/3=three")
		g.before = func(r request) (int, string, string) {
			if r.path == "c/2" {
				return tt.status, "Content-Type: text/html", "<html><b>not</b> to\x1b our\ntaste</html>"
			}
			return 0, "", ""
		}
		for range 2 {
			r := push(t, s, g)
			if len(r.Refused) != 1 || r.Refused[0].String() != "<"+base+"c/2>: "+tt.want || r.Through != 3 {
				t.Errorf("%d: %+v", tt.status, r)
			}
			if _, ok := g.graphs[base+"c/3"]; !ok {
				t.Errorf("%d: it stopped the rest", tt.status)
			}
		}
		n := 0
		if err := Plan(ctx, s, g.target(t), options(), func(r *service.Record) error {
			if n++; r.IRI != base+"c/2" {
				t.Errorf("plan: %s", r.IRI)
			}
			return nil
		}); err != nil || n != 1 {
			t.Errorf("plan: %d, %v", n, err)
		}
		g.settle()
		g.before = nil
		if r := push(t, s, g); r.Put != 1 || len(r.Refused) != 0 {
			t.Errorf("%d: %+v", tt.status, r)
		}
		g.same(t, s)
		g.sent()
		push(t, s, g)
		equal(t, "after all that", g.sent())
	}
}

// A target that takes nothing is left alone after a while; what it refused is known.
func TestHopeless(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	var lines []string
	for i := range 2 * allRefused {
		lines = append(lines, fmt.Sprintf("c/%d=x", i))
	}
	publish(t, s, lines...)
	g.before = func(r request) (int, string, string) {
		if r.path != "#push" {
			return 422, "", ""
		}
		return 0, "", ""
	}
	r, err := Run(ctx, s, g.target(t), options())
	if service.CodeOf(err) != service.Invalid || len(r.Refused) < allRefused || len(r.Refused) == len(lines) {
		t.Errorf("%v, %d", err, len(r.Refused))
	}
	g.settle()
	g.before = nil
	push(t, s, g)
	g.same(t, s)
}

// What ends a push says why; the next one puts all right.
func TestEnds(t *testing.T) {
	for _, tt := range []struct {
		name         string
		method, path string
		status       int
		header, body string
		code         service.Code
		want         string
	}{
		{"no graph store", "GET", "#push", 405, "", "", service.Invalid, "answers status 405. Is this the endpoint"},
		{"no merging", "POST", "#push", 501, "", "", service.Invalid, "asked to add to <https://x.example/#push> answers status 501"},
		{"not let in", "PUT", "c/2", 403, "", "go away", service.Invalid, "answers status 403: go away. It wants credentials"},
		{"redirected", "PUT", "c/2", 301, "Location: http://127.0.0.1:1/other", "", service.Invalid, "It redirects to http://127.0.0.1:1/other"},
		{"full", "PUT", "c/2", 507, "", "", service.Invalid, "507"},
		{"busy", "PUT", "c/2", 503, "Retry-After: 3600", "", service.Unavailable, "it answers 503 Service Unavailable, and asks to wait 1h0m0s. Tried once"},
		{"too many", "PUT", "c/2", 429, "Retry-After: Fri, 31 Dec 2100 23:59:59 GMT", "", service.Unavailable, "it answers 429 Too Many Requests, and asks to wait"},
		{"state unreadable", "GET", "#push", 200, "Content-Type: application/n-triples", "<https://x.example/#push> <https://ropewalk.invalid/push#through> \"many\" .", service.Invalid, `push#through is "many"`},
		{"state of another kind", "GET", "#push", 200, "Content-Type: application/rdf+xml", "<x/>", service.Invalid, `it is sent as "application/rdf+xml"`},
		{"state broken", "GET", "#push", 200, "Content-Type: text/turtle", "<x", service.Invalid, "can't be read"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, g := open(t), newGraphStore(t)
			publish(t, s, "c/1=one", "c/2=two", "c/3=three")
			g.before = func(r request) (int, string, string) {
				if r.method == tt.method && r.path == tt.path {
					return tt.status, tt.header, tt.body
				}
				return 0, "", ""
			}
			x := g.target(t)
			o := options()
			o.Workers = 1
			r, err := Run(ctx, s, x, o)
			if service.CodeOf(err) != tt.code || !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), x.String()) {
				t.Errorf("%v: %v", service.CodeOf(err), err)
			}
			if tt.path == "c/2" && (r.Through != 1 || r.Put != 1) {
				t.Errorf("%+v", r)
			}
			g.settle()
			g.before = nil
			x.pause = time.Time{}
			push(t, s, g) // does not wait: nobody has left a claim
			g.same(t, s)
		})
	}
}

// A target that is busy or drops connections gets what it should all the same.
func TestAgain(t *testing.T) {
	failed := map[string]bool{} // by path; used by one request at a time
	for _, tt := range []struct {
		name   string
		before func(request) (int, string, string)
		cut    func(request) (bool, bool)
	}{
		{"503", func(r request) (int, string, string) {
			if r.n%3 != 0 {
				return 503, "", ""
			}
			return 0, "", ""
		}, nil},
		{"429, 408, 425 and 502", func(r request) (int, string, string) {
			status := []int{0, 429, 0, 408, 425, 0, 429, 0, 0, 502}[r.n%10]
			if status == 502 { // the third for one document would be a refusal
				if failed[r.path] {
					return 0, "", ""
				}
				failed[r.path] = true
			}
			return status, "Retry-After: 0", ""
		}, nil},
		{"dropped before", nil, func(r request) (bool, bool) { return r.n%3 == 1, false }},
		{"dropped after", nil, func(r request) (bool, bool) { return false, r.n%3 == 1 }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, g := open(t), newGraphStore(t)
			g.before, g.cut = tt.before, tt.cut
			publish(t, s, "c/1=one", "c/2=two", "c/3=three", "c/4=four", "c/5=five")
			push(t, s, g)
			g.same(t, s)
			publish(t, s, "c/1=eins", "c/3=drei", "c/4=vier")
			push(t, s, g)
			g.same(t, s)
		})
	}
}

// A target that asks for a second of rest gets it, from all workers.
func TestRetryAfter(t *testing.T) {
	t.Parallel()
	s, g := open(t), newGraphStore(t)
	publish(t, s, "c/1=one", "c/2=two", "c/3=three", "c/4=four")
	var rest time.Time
	g.before = func(r request) (int, string, string) {
		if strings.HasPrefix(r.path, "c/") {
			if rest.IsZero() {
				rest = time.Now()
				return 503, "Retry-After: 1", ""
			}
			if d := time.Since(rest); d < 900*time.Millisecond && r.n > 12 { // the first ones were under way
				t.Errorf("%s after %v", r.path, d)
			}
		}
		return 0, "", ""
	}
	push(t, s, g)
	g.same(t, s)
	now := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
	for v, want := range map[string]time.Duration{"": 0, "7": 7 * time.Second, "-1": 0, "x": 0, "Tue, 06 May 2031 07:09:09 GMT": time.Minute, "Tue, 06 May 2031 07:00:00 GMT": 0} {
		if got := retryAfter(v, now); got != want {
			t.Errorf("%q: %v, want %v", v, got, want)
		}
	}
}

// A request that is never answered is given up and made again.
func TestSlow(t *testing.T) {
	t.Parallel()
	s, g := open(t), newGraphStore(t)
	publish(t, s, "c/1=one")
	hang := make(chan bool)
	var first atomic.Bool
	first.Store(true)
	slow := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		r.Body = io.NopCloser(bytes.NewReader(body))
		if r.Method == "PUT" && r.URL.Query().Get("graph") == base+"c/1" && first.CompareAndSwap(true, false) {
			<-hang
			return
		}
		g.ServeHTTP(w, r)
	}))
	defer slow.Close()
	defer close(hang)
	x, err := NewTarget(slow.URL+"/data", Credentials{})
	if err != nil {
		t.Fatal(err)
	}
	x.step = time.Microsecond
	o := options()
	o.Lease = 2 * time.Second // a request may take half of it
	if r, err := Run(ctx, s, x, o); err != nil || r.Put != 1 {
		t.Errorf("%+v, %v", r, err)
	}
	g.same(t, s)
}

// A push that is stopped gives the target back.
func TestStopped(t *testing.T) {
	s, g := open(t), newGraphStore(t)
	publish(t, s, "c/1=one", "c/2=two", "c/3=three")
	stop, cancel := context.WithCancel(ctx)
	g.before = func(r request) (int, string, string) {
		if r.path == "c/2" {
			cancel()
		}
		return 0, "", ""
	}
	o := options()
	o.Workers = 1
	if _, err := Run(stop, s, g.target(t), o); err == nil {
		t.Error("no error")
	}
	g.settle()
	g.before = nil
	st, err := g.target(t).stateNow()
	if err != nil || len(st.claims) != 0 || st.through < 1 || st.through > 2 {
		t.Errorf("%+v, %v", st, err)
	}
	push(t, s, g)
	g.same(t, s)
}

// stateNow is the state of a target that has not been used before.
func (t *Target) stateNow() (state, error) {
	t.timeout = time.Second
	return t.state(ctx, StateGraph(base))
}

// Another store, or the same one brought back from yesterday, is not mixed in.
func TestOtherHistory(t *testing.T) {
	s, other, g := open(t), open(t), newGraphStore(t)
	publish(t, s, "c/1=one", "c/2=two")
	push(t, s, g)
	for _, lines := range [][]string{{"c/1=one"}, {"c/1=one", "c/2=two"}, {"c/1=one", "c/2=two", "c/3=three"}} {
		publish(t, other, lines...)
		before := maps.Clone(g.graphs)
		_, err := Run(ctx, other, g.target(t), options())
		if service.CodeOf(err) != service.Conflict || !strings.Contains(err.Error(), "another store") {
			t.Errorf("%v", err)
		}
		delete(before, StateGraph(base))
		g.mu.Lock()
		for name, lines := range before {
			if !slices.Equal(g.graphs[name], lines) {
				t.Errorf("<%s> was touched", name)
			}
		}
		g.mu.Unlock()
		if err := Plan(ctx, other, g.target(t), options(), func(*service.Record) error { return nil }); service.CodeOf(err) != service.Conflict {
			t.Errorf("plan: %v", err)
		}
	}
	push(t, s, g) // its own still can
	o := options()
	o.All = true
	if _, err := Run(ctx, other, g.target(t), o); err != nil {
		t.Fatal(err)
	}
	g.same(t, other)
	if _, err := Run(ctx, s, g.target(t), options()); service.CodeOf(err) != service.Conflict {
		t.Errorf("%v", err)
	}
}
