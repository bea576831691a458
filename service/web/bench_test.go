package web

import (
	"bufio"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"testing"
)

// BenchmarkGet fetches one document over a kept connection: from a bare handler
// that writes the same bytes from memory, and from the store.
func BenchmarkGet(b *testing.B) {
	store := newStore(b)
	publish(b, store, records(b)...)
	s, err := New(Options{Site: testSite, Store: store, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		b.Fatal(err)
	}
	rec := live(b, "object/KQ.1911.4", "Barometer")
	bare := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", jsonldType)
		w.Header().Set("Content-Length", strconv.Itoa(len(rec.Body)))
		_, _ = w.Write(rec.Body)
	})
	for _, c := range []struct {
		name    string
		handler http.Handler
		target  string
		headers string
	}{
		{"bare", bare, "/object/KQ.1911.4", ""},
		{"stored", s, "/object/KQ.1911.4", ""},
		{"turtle", s, "/object/KQ.1911.4.ttl", ""},
		{"page", s, "/object/KQ.1911.4.html", ""},
		{"zstd", s, "/object/KQ.1911.4", "Accept-Encoding: gzip, zstd\r\n"},
		{"gzip", s, "/object/KQ.1911.4", "Accept-Encoding: gzip\r\n"},
	} {
		b.Run(c.name, func(b *testing.B) {
			srv := httptest.NewServer(c.handler)
			defer srv.Close()
			request := []byte("GET " + c.target + " HTTP/1.1\r\nHost: x\r\nAccept: application/ld+json, */*;q=0.1\r\n" + c.headers + "\r\n")
			b.RunParallel(func(pb *testing.PB) {
				conn, err := net.Dial("tcp", srv.Listener.Addr().String())
				if err != nil {
					b.Error(err)
					return
				}
				defer conn.Close()
				in := bufio.NewReaderSize(conn, 16<<10)
				for pb.Next() {
					if _, err := conn.Write(request); err != nil {
						b.Error(err)
						return
					}
					if err := skipResponse(in); err != nil {
						b.Error(err)
						return
					}
				}
			})
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "requests/s")
		})
	}
}

// skipResponse reads a response with a Content-Length as cheaply as can be.
func skipResponse(in *bufio.Reader) error {
	length := 0
	for {
		line, err := in.ReadSlice('\n')
		if err != nil {
			return err
		}
		if len(line) <= 2 {
			break
		}
		if len(line) > 18 && string(line[:16]) == "Content-Length: " {
			if length, err = strconv.Atoi(string(line[16 : len(line)-2])); err != nil {
				return err
			}
		}
	}
	n, err := in.Discard(length)
	if n < length && err == nil {
		err = io.ErrUnexpectedEOF
	}
	return err
}

// nowhere is a response writer that keeps nothing.
type nowhere struct{ h http.Header }

func (n nowhere) Header() http.Header         { return n.h }
func (n nowhere) Write(b []byte) (int, error) { return len(b), nil }
func (n nowhere) WriteHeader(int)             {}

// BenchmarkHandler is the work for a request without the network.
func BenchmarkHandler(b *testing.B) {
	store := newStore(b)
	publish(b, store, records(b)...)
	s, err := New(Options{Site: testSite, Store: store, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		b.Fatal(err)
	}
	for _, target := range []string{"/object/KQ.1911.4", "/object/KQ.1911.4.nt", "/object/KQ.1911.4.html"} {
		b.Run(target[len("/object/"):], func(b *testing.B) {
			b.ReportAllocs()
			r := httptest.NewRequest("GET", target, nil)
			r.Header.Set("Accept", "application/ld+json, */*;q=0.1")
			w := nowhere{http.Header{}}
			for b.Loop() {
				clear(w.h)
				s.ServeHTTP(w, r)
			}
		})
	}
}
