package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"ropewalk/service"
	"ropewalk/service/page"
)

// statuses are the HTTP statuses of the domain's codes.
var statuses = map[service.Code]int{
	service.Invalid:       http.StatusBadRequest,
	service.NotFound:      http.StatusNotFound,
	service.Withheld:      http.StatusGone,
	service.Conflict:      http.StatusConflict,
	service.NotAcceptable: http.StatusNotAcceptable,
	service.NotAllowed:    http.StatusMethodNotAllowed,
	service.Precondition:  http.StatusPreconditionFailed,
	service.TooLong:       http.StatusRequestURITooLong,
	service.TooLarge:      http.StatusRequestHeaderFieldsTooLarge,
	service.TooMuch:       http.StatusRequestEntityTooLarge,
	service.Unavailable:   http.StatusServiceUnavailable,
	service.Internal:      http.StatusInternalServerError,
}

// failure is an error with more to tell than a message.
type failure struct {
	err       *service.Error
	available []page.Link     // 406
	was       *service.Record // 410
	form      *form           // asked for by suffix
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

// problemBody is a problem details object (RFC 9457 §3). Its type is about:blank:
// the status says all there is to the kind of the problem (§4.2.1).
type problemBody struct {
	Type      string      `json:"type"`
	Title     string      `json:"title"`
	Status    int         `json:"status"`
	Detail    string      `json:"detail,omitempty"`
	Available []jsonLink  `json:"available,omitempty"`
	Was       *jsonRecord `json:"was,omitempty"`
}

type jsonLink struct {
	Href      string `json:"href"`
	MediaType string `json:"mediaType"`
}

type jsonRecord struct {
	ID        string `json:"id"`
	Type      string `json:"type,omitempty"`
	Label     string `json:"label,omitempty"`
	Withdrawn string `json:"withdrawn"`
	Reason    string `json:"reason,omitempty"`
}

// problemOffers are the forms of a problem; a client that takes none of them gets
// the last.
var problemOffers = []Offer{
	{Type: "application/problem+json"}, {Type: "application/json"}, {Type: "application/ld+json"},
	{Type: "text/html"}, {Type: "text/plain"},
}

// retryAfter is in how many seconds to ask again when the store does not answer.
const retryAfter = "5"

// problem answers with an error. What went wrong inside is for the log alone.
func (s *Server) problem(w http.ResponseWriter, r *http.Request, err error) {
	code := service.CodeOf(err)
	status, ok := statuses[code]
	if !ok {
		status = http.StatusInternalServerError
	}
	detail := ""
	if e := (*service.Error)(nil); errors.As(err, &e) {
		detail = e.Message
	}
	h := w.Header()
	switch {
	case status == http.StatusServiceUnavailable:
		detail = "The service cannot answer now. Please try again in a moment."
		h.Set("Retry-After", retryAfter)
		s.log.Warn("unavailable", "error", err, "path", r.URL.Path)
	case status >= 500:
		detail = "The service failed; what happened is in its log."
		s.log.Error("failed", "error", err, "path", r.URL.Path)
	}
	var f *failure
	errors.As(err, &f)
	if f == nil {
		f = new(failure)
	}

	kind := 0
	if f.form != nil {
		kind = Negotiate([]string{f.form.mediaType()}, problemOffers)
	} else {
		addVary(h, "Accept")
		kind = Negotiate(r.Header["Accept"], problemOffers)
	}
	path, _ := requestPath(r)
	title := http.StatusText(status)
	body, contentType := []byte(nil), ""
	switch {
	case kind >= 0 && kind < 3:
		contentType = "application/problem+json"
		p := problemBody{Type: "about:blank", Title: title, Status: status, Detail: detail}
		for _, l := range f.available {
			p.Available = append(p.Available, jsonLink{l.Href, l.Type})
		}
		if f.was != nil {
			p.Was = &jsonRecord{f.was.IRI, f.was.Class, f.was.Label, f.was.Modified.Format(time.RFC3339), f.was.Reason}
		}
		body = appendJSON(nil, p)
	case kind == 3:
		contentType = "text/html; charset=utf-8"
		h.Set("Content-Security-Policy", page.SecurityPolicy)
		var perr error
		body, perr = s.pages.Problem(nil, page.Problem{Path: path, Status: status, Title: title, Detail: detail, Links: f.available})
		if perr != nil {
			s.log.Error("failed", "error", perr, "path", r.URL.Path)
			body = nil
		}
	default:
		contentType = "text/plain; charset=utf-8"
		var b strings.Builder
		b.WriteString(strconv.Itoa(status) + " " + title + "\n")
		if detail != "" {
			b.WriteString(detail + "\n")
		}
		for _, l := range f.available {
			b.WriteString(l.Href + "\t" + l.Type + "\n")
		}
		body = []byte(b.String())
	}
	for _, name := range [...]string{"Etag", "Last-Modified", "Content-Location", "Content-Encoding"} {
		h.Del(name)
	}
	h.Set("Content-Type", contentType)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "no-cache")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body)
	}
}

// appendJSON appends v as JSON with a line feed. The types given here cannot fail.
func appendJSON(dst []byte, v any) []byte {
	b := bytes.NewBuffer(dst)
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// addVary adds a field name to Vary, whatever stands there.
func addVary(h http.Header, name string) {
	all := ""
	for _, v := range h["Vary"] {
		for m := range strings.SplitSeq(v, ",") {
			if m = strings.TrimSpace(m); m == "*" || strings.EqualFold(m, name) {
				return
			}
		}
		all += v + ", "
	}
	h["Vary"] = []string{all + name}
}
