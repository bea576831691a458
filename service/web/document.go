package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/service/page"
	"ropewalk/vocab"
)

// document answers at a record's address, or at that with a suffix.
func (s *Server) document(w http.ResponseWriter, r *http.Request) error {
	path, ok := requestPath(r)
	if !ok {
		return service.Errorf(service.NotFound, "There is no record at this address.")
	}
	rec, f, err := s.find(r.Context(), path)
	if err != nil {
		if service.CodeOf(err) == service.NotFound && vocab.EndpointByName(path) != nil {
			return s.redirect(w, r, service.Relative(path, path+"/"))
		}
		return err
	}
	if len(r.Header["Accept-Datetime"]) > 0 {
		return s.timeGate(w, r, path, rec, f)
	}
	wish, plain := wishOf(r, path)
	if plain && rec.State == service.Live {
		if k, ok := s.ready.Get(wish); ok && k.of == versionOf(rec) {
			return again(w, r, k)
		}
	}
	h := w.Header()
	addVary(h, "Accept-Datetime")
	h["Link"] = []string{string(s.gateLinks(nil, path, rec, f))}
	switch rec.State {
	case service.Live:
		a := answer{modified: rec.Modified}
		if plain {
			a.keep, a.of = &wish, versionOf(rec)
		}
		return s.live(w, r, rec, f, rec.Path, a)
	case service.Moved:
		return s.moved(w, r, path, rec, f)
	}
	return s.gone(rec, f)
}

// gone is the answer of a tombstone.
func (s *Server) gone(rec *service.Record, f *form) error {
	detail := "The record was withdrawn on " + rec.Modified.Format("2 January 2006") + "."
	if rec.Label != "" {
		detail = "The record “" + rec.Label + "” was withdrawn on " + rec.Modified.Format("2 January 2006") + "."
	}
	if rec.Reason != "" {
		detail += " Reason: " + strings.TrimRight(rec.Reason, ".") + "."
	}
	return &failure{err: service.Errorf(service.Withheld, "%s", detail), was: rec, form: f}
}

// find looks up a path; if nothing was ever there and it ends with the suffix of a
// form, the path before the suffix.
func (s *Server) find(ctx context.Context, path string) (*service.Record, *form, error) {
	rec, err := s.store.Get(ctx, path)
	if service.CodeOf(err) != service.NotFound {
		return rec, nil, err
	}
	none := service.Errorf(service.NotFound, "There is no record at this address.")
	forms := s.suffixed(path)
	if len(forms) == 0 {
		return nil, nil, none
	}
	for _, f := range forms {
		rec, err = s.store.Get(ctx, strings.TrimSuffix(path, f.suffix))
		if service.CodeOf(err) == service.NotFound || err == nil && !f.covers(rec.Endpoint) {
			continue
		}
		return rec, f, err
	}
	return nil, nil, &failure{err: none, form: forms[0]}
}

// live sends a record in the form that its address names, else in the one that
// suits the request best. at is the path at which it is read: its own, or that of a
// memento. a is begun.
func (s *Server) live(w http.ResponseWriter, r *http.Request, rec *service.Record, f *form, at string, a answer) error {
	h, asked := w.Header(), f
	if f == nil {
		addVary(h, "Accept")
		i := Negotiate(r.Header["Accept"], s.offers)
		if i < 0 {
			return &failure{
				err:       service.Errorf(service.NotAcceptable, "The record comes in none of the formats that were asked for. It can be had in these:"),
				available: s.links(at, rec, false),
			}
		}
		f = s.offered[i]
		if f.suffix != "" {
			h["Content-Location"] = []string{service.Relative(at, at+f.suffix)}
		}
	}
	a.contentType = f.contentType
	link := func(files []file) {
		if at == rec.Path { // a memento has links of its own
			h["Link"] = []string{string(s.gateLinks(s.recordLinks(rec, f, files), at, rec, asked))}
		}
	}
	switch {
	case f.stored:
		link(nil)
		a.tag, a.body, a.shared = recordTag(rec, f.name), rec.Body, true
	case f.derive != nil:
		if len(rec.Body) > s.limits.SlowBytes {
			return &failure{
				err:       service.Errorf(service.NotAcceptable, "The record is too large for this form of JSON-LD. It can be had in these:"),
				available: s.links(at, rec, false),
			}
		}
		link(nil)
		a.tag = recordTag(rec, f.name)
		a.later = func() ([]byte, error) { return s.derived(r.Context(), rec, f) }
	default:
		buf := buffers.Get().(*[]byte)
		defer buffers.Put(buf)
		body, files, err := s.written((*buf)[:0], rec, f, at)
		*buf = body
		if err != nil {
			return err
		}
		link(files)
		a.tag, a.body = bodyTag(body, f.name), body
	}
	if f.html {
		h["Content-Security-Policy"] = []string{page.SecurityPolicy}
		h["Referrer-Policy"] = []string{"no-referrer"}
	}
	return s.respond(w, r, a)
}

// written renders a record after dst. For a page it finds the files that it shows.
func (s *Server) written(dst []byte, rec *service.Record, f *form, at string) ([]byte, []file, error) {
	doc := documents.Get().(*entity.Document)
	defer documents.Put(doc)
	if err := doc.Parse(rec.Body, rec.Keys); err != nil {
		return dst, nil, &service.Error{Code: service.Internal, Message: "the stored document of " + rec.IRI, Err: err}
	}
	var files []file
	if f.html {
		files = filesOf(doc)
	}
	dst, err := f.write(s, dst, rec, doc, at)
	return dst, files, err
}

// derived makes a slow form when it is its turn.
func (s *Server) derived(ctx context.Context, rec *service.Record, f *form) ([]byte, error) {
	wait := time.NewTimer(s.limits.SlowWait)
	defer wait.Stop()
	select {
	case worker := <-s.slow:
		defer func() { s.slow <- worker }()
		return f.derive(worker, rec.Body)
	case <-ctx.Done():
		return nil, &service.Error{Code: service.Unavailable, Err: ctx.Err()}
	case <-wait.C:
		return nil, service.Errorf(service.Unavailable, "no turn for %s within %v", f.title, s.limits.SlowWait)
	}
}

// moved redirects to where a record is now, in the same form.
func (s *Server) moved(w http.ResponseWriter, r *http.Request, from string, rec *service.Record, f *form) error {
	target := rec.MovedTo
	if p, ok := service.Path(s.site.Base, target); ok {
		if f != nil {
			p += f.suffix
		}
		target = service.Relative(from, p)
	}
	return s.redirect(w, r, target)
}

// redirect answers 301 with a line of text.
func (s *Server) redirect(w http.ResponseWriter, r *http.Request, target string) error {
	h := w.Header()
	body := "It is at " + target + " now.\n"
	h.Set("Location", target)
	h.Set("Content-Type", "text/plain; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "public, no-cache")
	w.WriteHeader(http.StatusMovedPermanently)
	if r.Method != http.MethodHead {
		_, _ = w.Write([]byte(body))
	}
	return nil
}
