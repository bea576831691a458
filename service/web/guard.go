package web

import (
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"ropewalk/service"
)

const (
	methods = "GET, HEAD, OPTIONS"
	posting = methods + ", POST"
	exposed = "Accept-Ranges, Content-Location, Content-Range, ETag, Last-Modified, Link, Location, Memento-Datetime, Retry-After, Vary"
	allowed = "Accept, Accept-Datetime, Accept-Encoding, Cache-Control, Content-Type, If-Match, If-Modified-Since, If-None-Match, If-Range, If-Unmodified-Since, Range"
)

// guard is what every request passes: limits, headers that all responses have, a
// line in the log, and a plain answer when a handler panics.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		begun := time.Now()
		rec := &recorder{ResponseWriter: w}
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				s.log.Error("panic", "error", fmt.Sprint(p), "method", r.Method, "path", r.URL.Path, "stack", string(debug.Stack()))
				if rec.status != 0 {
					panic(http.ErrAbortHandler) // the response has begun: cut it off
				}
				clear(rec.Header())
				s.common(rec.Header())
				s.problem(rec, r, service.Errorf(service.Internal, ""))
			}
			if s.log.Enabled(r.Context(), slog.LevelInfo) {
				s.log.LogAttrs(r.Context(), slog.LevelInfo, "request",
					slog.String("method", r.Method), slog.String("path", r.URL.Path), slog.Int("status", rec.status),
					slog.Int64("bytes", rec.bytes), slog.Duration("time", time.Since(begun)))
			}
		}()
		s.common(rec.Header())
		switch {
		case len(r.URL.EscapedPath()) > s.limits.PathBytes:
			s.problem(rec, r, service.Errorf(service.TooLong, "Addresses have at most %d bytes here.", s.limits.PathBytes))
		case len(r.URL.RawQuery) > s.limits.QueryBytes:
			s.problem(rec, r, service.Errorf(service.TooLong, "Queries have at most %d bytes here.", s.limits.QueryBytes))
		default:
			next.ServeHTTP(rec, r)
		}
	})
}

// Values that all responses share; a header that is added to gets a slice of its own.
var (
	anyOrigin = []string{"*"}
	exposing  = []string{exposed}
	noSniff   = []string{"nosniff"}
	caching   = []string{"public, no-cache"}
)

func (s *Server) common(h http.Header) {
	h["Access-Control-Allow-Origin"] = anyOrigin
	h["Access-Control-Expose-Headers"] = exposing
	h["X-Content-Type-Options"] = noSniff
}

// read lets the reading methods through to f and answers the others.
func (s *Server) read(f func(http.ResponseWriter, *http.Request) error) http.Handler {
	return s.only(methods, f)
}

// ask is read where a question can be too long for an address: it may be posted.
func (s *Server) ask(f func(http.ResponseWriter, *http.Request) error) http.Handler {
	return s.only(posting, f)
}

// only lets the methods named through to f, and answers OPTIONS and the others.
func (s *Server) only(methods string, f func(http.ResponseWriter, *http.Request) error) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		method := r.Method
		if method == http.MethodPost && methods == posting {
			method = http.MethodGet
		}
		switch method {
		case http.MethodGet, http.MethodHead:
			if err := f(w, r); err != nil {
				s.problem(w, r, err)
			}
		case http.MethodOptions:
			h := w.Header()
			h.Set("Allow", methods)
			if r.Header.Get("Access-Control-Request-Method") != "" {
				h.Set("Access-Control-Allow-Methods", methods)
				h.Set("Access-Control-Allow-Headers", allowed)
				h.Set("Access-Control-Max-Age", "86400")
			}
			w.WriteHeader(http.StatusNoContent)
		default:
			w.Header().Set("Allow", methods)
			s.problem(w, r, service.Errorf(service.NotAllowed, "This service can only be read: %s.", methods))
		}
	})
}

// recorder notes what was answered.
type recorder struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (r *recorder) WriteHeader(status int) {
	if r.status == 0 && status >= 200 {
		r.status = status
	}
	r.ResponseWriter.WriteHeader(status)
}

func (r *recorder) Write(b []byte) (int, error) {
	if r.status == 0 {
		r.status = http.StatusOK
	}
	n, err := r.ResponseWriter.Write(b)
	r.bytes += int64(n)
	return n, err
}

// Unwrap serves [http.ResponseController].
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }

// requestPath is the path of a request in the normal form of addresses.
func requestPath(r *http.Request) (string, bool) {
	return service.NormalPath(strings.TrimPrefix(r.URL.EscapedPath(), "/"))
}
