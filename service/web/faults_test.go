package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"

	"ropewalk/service"
)

// failing is a store that does not answer, or panics.
type failing struct {
	service.Store
	err   error
	panic bool
}

func (f *failing) Get(context.Context, string) (*service.Record, error) {
	if f.panic {
		panic("secret of the house")
	}
	return nil, f.err
}
func (f *failing) Current(context.Context) (service.Publication, error) {
	return service.Publication{}, f.err
}

// Strangers learn nothing of what went wrong inside; the log does.
func TestFaults(t *testing.T) {
	secret := errors.New("secret of the house")
	for _, c := range []struct {
		name   string
		store  *failing
		status int
		level  string
	}{
		{"unavailable", &failing{err: &service.Error{Code: service.Unavailable, Message: "secret of the house", Err: secret}}, 503, "WARN"},
		{"internal", &failing{err: &service.Error{Code: service.Internal, Message: "secret of the house", Err: secret}}, 500, "ERROR"},
		{"without code", &failing{err: secret}, 500, "ERROR"},
		{"panic", &failing{panic: true}, 500, "ERROR"},
	} {
		for _, accept := range []string{"application/json", "text/html", "text/turtle"} {
			var log bytes.Buffer
			s := newServer(t, c.store, &log, Limits{})
			r := ask(s, "GET", "/object/1", "Accept: "+accept)
			body := text(t, r)
			if r.StatusCode != c.status || strings.Contains(body, "secret") || strings.Contains(body, "goroutine") || body == "" {
				t.Errorf("%s: %d %s", c.name, r.StatusCode, body)
			}
			if !strings.Contains(log.String(), "secret of the house") || !strings.Contains(log.String(), "level="+c.level) {
				t.Errorf("%s: log %s", c.name, log.String())
			}
			if r.Header.Get("Access-Control-Allow-Origin") != "*" || (c.status == 503) != (r.Header.Get("Retry-After") != "") {
				t.Errorf("%s: %v", c.name, r.Header)
			}
		}
	}
	s := newServer(t, &failing{err: secret}, io.Discard, Limits{})
	if r := ask(s, "GET", "/healthz"); r.StatusCode != 503 || strings.Contains(text(t, r), "secret") {
		t.Errorf("health: %d", r.StatusCode)
	}
	if r := ask(served(t), "GET", "/healthz"); r.StatusCode != 200 || text(t, r) != `{"status":"ok","publication":2}`+"\n" {
		t.Errorf("health: %d", r.StatusCode)
	}
	// A stored document that cannot be read fails in the forms made from it only.
	store := newStore(t)
	broken := live(t, "object/broken", "Broken")
	broken.Body = []byte(`{"@context":"x"}`)
	publish(t, store, broken)
	s = newServer(t, store, io.Discard, Limits{})
	if r := ask(s, "GET", "/object/broken.ttl"); r.StatusCode != 500 || strings.Contains(text(t, r), "context") {
		t.Errorf("%d", r.StatusCode)
	}
	if r := ask(s, "GET", "/object/broken"); r.StatusCode != 200 {
		t.Errorf("%d", r.StatusCode)
	}
}

func TestNewRefuses(t *testing.T) {
	for _, b := range []string{"", "museum", "https://museum.example", "https://museum.example/coll", "ftp://museum.example/", "https://museum.example/?q/", "https:///x/"} {
		site := testSite
		site.Base = b
		if _, err := New(Options{Site: site, Store: &failing{}}); service.CodeOf(err) != service.Invalid {
			t.Errorf("base %q: %v", b, err)
		}
	}
	if _, err := New(Options{Site: testSite}); service.CodeOf(err) != service.Invalid {
		t.Error("no store")
	}
}

// listen lets a server serve on loopback until stop is called; what came of it is in done.
func listen(t *testing.T, s *Server) (address string, stop context.CancelFunc, done chan error) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done = make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	return l.Addr().String(), stop, done
}

// TestServe runs a real server: limits of net/http, the log, the graceful stop.
func TestServe(t *testing.T) {
	var log lockedBuffer
	store := newStore(t)
	publish(t, store, records(t)...)
	s := newServer(t, store, &log, Limits{HeaderBytes: 4 << 10})
	address, stop, done := listen(t, s)
	url := "http://" + address
	get := func(path string, headers ...string) *http.Response {
		req, err := http.NewRequest("GET", url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range headers {
			n, v, _ := strings.Cut(h, ": ")
			req.Header.Set(n, v)
		}
		r, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		r.Body = io.NopCloser(bytes.NewReader(b))
		return r
	}
	if r := get("/object/KQ.1911.4", "Accept: text/turtle"); r.StatusCode != 200 || r.Header.Get("Content-Type") != turtleType {
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
	if r := get("/object/a%2Fb"); r.StatusCode != 200 {
		t.Errorf("an encoded slash: %d", r.StatusCode)
	}
	if r := get("/object/old"); r.StatusCode != 200 || r.Request.URL.Path != "/object/KQ.1911.4" {
		t.Errorf("a redirection led to %s", r.Request.URL)
	}
	if r := get("/", "X-Long: "+strings.Repeat("x", 20<<10)); r.StatusCode != 431 {
		t.Errorf("a long header: %d", r.StatusCode)
	}
	if r := get("/" + strings.Repeat("a/", 1200)); r.StatusCode != 414 {
		t.Errorf("a long path: %d", r.StatusCode)
	}
	http.DefaultClient.CloseIdleConnections()
	stop()
	if err := <-done; err != nil {
		t.Errorf("stop: %v", err)
	}
	if _, err := net.Dial("tcp", address); err == nil {
		t.Error("it still listens")
	}
	for _, want := range []string{"msg=request", "method=GET", "path=/object/KQ.1911.4", "status=200", "status=414"} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log lacks %s", want)
		}
	}
	closed, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	closed.Close()
	if err := s.Serve(context.Background(), closed); err == nil {
		t.Error("served on a closed listener")
	}
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
