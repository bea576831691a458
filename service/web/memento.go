package web

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"ropewalk/service"
)

// The past of records, after RFC 7089 (Memento). Every version is a memento of its
// own, at an address with the time of the publication that made it. Versions in
// which a record is withdrawn or moved are mementos, too: they answer 410 and 301 as
// the record itself did (§4.5.4, §4.5.5).

const (
	linkFormat  = "application/link-format" // RFC 6690
	mementoTime = "20060102150405"          // in addresses, UTC
)

// mementoPath is the address of a version, in the form that f gives it.
func mementoPath(rec *service.Record, f *form) string {
	p := "memento/" + rec.Modified.UTC().Format(mementoTime) + "/" + rec.Path
	if f != nil {
		p += f.suffix
	}
	return p
}

// gateLinks appends links to the original resource, which is its own TimeGate, and to
// its TimeMap (§2.2). at is the path of the response.
func (s *Server) gateLinks(b []byte, at string, rec *service.Record, f *form) []byte {
	suffix := ""
	if f != nil {
		suffix = f.suffix
	}
	if len(b) > 0 {
		b = append(b, ", "...)
	}
	b = append(append(append(append(b, '<'), s.baseURI...), rec.Path...), suffix...)
	b = append(b, `>; rel="original timegate", <`...)
	b = append(b, service.Relative(at, "timemap/"+rec.Path+suffix)...)
	return append(b, `>; rel="timemap"; type="`+linkFormat+`"`...)
}

// mementoLink appends a link to a version.
func mementoLink(b []byte, at, rel string, rec *service.Record, f *form) []byte {
	b = append(b, `, <`...)
	b = append(b, service.Relative(at, mementoPath(rec, f))...)
	return append(b, `>; rel="`+rel+`"; datetime="`+rec.Modified.UTC().Format(http.TimeFormat)+`"`...)
}

// timeGate leads to the version that was in force at the time that a request
// asks for (§4.1.1): 302.
func (s *Server) timeGate(w http.ResponseWriter, r *http.Request, at string, rec *service.Record, f *form) error {
	h := w.Header()
	addVary(h, "Accept-Datetime")
	links := s.gateLinks(nil, at, rec, f)
	h["Link"] = []string{string(links)}
	t, ok := acceptDatetime(r.Header["Accept-Datetime"])
	if !ok { // §4.5.3
		return &failure{form: f, err: service.Errorf(service.Invalid,
			"Accept-Datetime holds one date in the form of RFC 1123, in GMT, such as Thu, 06 May 2021 07:08:10 GMT.")}
	}
	was, err := s.store.At(r.Context(), rec.Path, t)
	if err != nil {
		return err
	}
	h["Link"] = []string{string(mementoLink(links, at, "memento", was, f))}
	s.send302(w, r, service.Relative(at, mementoPath(was, f)))
	return nil
}

// acceptDatetime reads the preferred datetime (§2.1.1): an rfc1123-date, case and
// day of the week included.
func acceptDatetime(fields []string) (time.Time, bool) {
	if len(fields) != 1 {
		return time.Time{}, false
	}
	v := strings.Trim(fields[0], " \t")
	t, err := time.Parse(http.TimeFormat, v)
	return t, err == nil && t.Format(http.TimeFormat) == v
}

func (s *Server) send302(w http.ResponseWriter, r *http.Request, target string) {
	h := w.Header()
	body := "The version of that time is at " + target + ".\n"
	h.Set("Location", target)
	h.Set("Content-Type", "text/plain; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "public, no-cache")
	w.WriteHeader(http.StatusFound)
	if r.Method != http.MethodHead {
		_, _ = w.Write([]byte(body))
	}
}

// memento sends a version. Its time must be one at which the record was published:
// an address in between would say that the record changed then.
func (s *Server) memento(w http.ResponseWriter, r *http.Request) error {
	at, ok := requestPath(r)
	stamp, path, _ := strings.Cut(strings.TrimPrefix(at, "memento/"), "/")
	t, err := time.Parse(mementoTime, stamp)
	if !ok || err != nil || path == "" || len(stamp) != len(mementoTime) {
		return service.Errorf(service.NotFound, "There is no version at this address: it begins with memento/, a time such as 20210506070810, and the path of a record.")
	}
	now, f, err := s.find(r.Context(), path)
	if err != nil {
		return err
	}
	rec, err := s.store.At(r.Context(), now.Path, t)
	if err != nil {
		return err
	}
	if !rec.Modified.Equal(t) {
		w.Header()["Link"] = []string{string(s.gateLinks(nil, at, now, f))}
		return &failure{form: f, err: service.Errorf(service.NotFound, "The record has no version of exactly this time. Its versions are listed at %s.",
			service.Relative(at, "timemap/"+now.Path))}
	}
	links, err := s.versionLinks(r, at, rec, now, f)
	if err != nil {
		return err
	}
	h := w.Header()
	h["Memento-Datetime"] = []string{rec.Modified.UTC().Format(http.TimeFormat)}
	h["Link"] = []string{links}
	switch rec.State {
	case service.Live:
		own := strings.TrimSuffix(at, path) + now.Path
		return s.live(w, r, rec, f, own, answer{modified: rec.Modified})
	case service.Moved:
		return s.movedThen(w, r, at, rec, f)
	}
	return s.gone(rec, f)
}

// versionLinks leads from a memento to the original and to the versions beside it
// (§2.2.4).
func (s *Server) versionLinks(r *http.Request, at string, rec, now *service.Record, f *form) (string, error) {
	ctx := r.Context()
	b := s.gateLinks(nil, at, rec, f)
	first := rec
	if rec.Prev != 0 {
		list, err := s.store.Versions(ctx, rec.Path, 0, 1)
		if err != nil {
			return "", err
		}
		first = &list[0]
	}
	add := func(v *service.Record, rels ...string) {
		var words []string
		for i, is := range []bool{v.Seq == first.Seq, v.Seq == now.Seq} {
			if is {
				words = append(words, [...]string{"first", "last"}[i])
			}
		}
		b = mementoLink(b, at, strings.Join(append(append(words, rels...), "memento"), " "), v, f)
	}
	add(rec)
	var prev, next *service.Record
	if rec.Prev != 0 {
		var err error
		if prev, err = s.store.Version(ctx, rec.Prev); err != nil {
			return "", err
		}
		add(prev, "prev")
	}
	after, err := s.store.Versions(ctx, rec.Path, rec.Seq, 1)
	if err != nil {
		return "", err
	}
	if len(after) > 0 {
		next = &after[0]
		add(next, "next")
	}
	if first.Seq != rec.Seq && (prev == nil || prev.Seq != first.Seq) {
		add(first)
	}
	if now.Seq != rec.Seq && (next == nil || next.Seq != now.Seq) {
		add(now)
	}
	return string(b), nil
}

// movedThen redirects from a version in which a record had moved: to the version that
// the other record had at the time, if it is of this site.
func (s *Server) movedThen(w http.ResponseWriter, r *http.Request, at string, rec *service.Record, f *form) error {
	target := rec.MovedTo
	if p, ok := service.Path(s.site.Base, target); ok {
		to, err := s.store.At(r.Context(), p, rec.Modified)
		switch {
		case err == nil:
			target = service.Relative(at, mementoPath(to, f))
		case service.CodeOf(err) != service.NotFound:
			return err
		}
	}
	return s.redirect(w, r, target)
}

// timeMapOffers are the forms of a TimeMap.
var timeMapOffers = []Offer{{Type: linkFormat}, {Type: "application/json"}}

// jsonTimeMap is a TimeMap in JSON. All addresses are absolute.
type jsonTimeMap struct {
	ID       string        `json:"id"`
	Original string        `json:"original"`
	TimeGate string        `json:"timegate"`
	Mementos []jsonMemento `json:"mementos"`
}

type jsonMemento struct {
	ID          string `json:"id"`
	Datetime    string `json:"datetime"` // RFC 3339
	Publication int64  `json:"publication"`
	Change      string `json:"change"`
	State       string `json:"state"`
}

// timeMap lists the versions of a record (§5).
func (s *Server) timeMap(w http.ResponseWriter, r *http.Request) error {
	at, ok := requestPath(r)
	path := strings.TrimPrefix(at, "timemap/")
	if !ok || path == "" {
		return service.Errorf(service.NotFound, "There is no record at this address.")
	}
	rec, f, err := s.find(r.Context(), path)
	if err != nil {
		return err
	}
	h := w.Header()
	addVary(h, "Accept")
	kind := Negotiate(r.Header["Accept"], timeMapOffers)
	if kind < 0 {
		return service.Errorf(service.NotAcceptable, "The versions of a record can be had as %s and application/json.", linkFormat)
	}
	const part = 1000
	var all []service.Record
	for after := int64(0); ; after = all[len(all)-1].Seq {
		list, err := s.store.Versions(r.Context(), rec.Path, after, part)
		if err != nil {
			return err
		}
		if all = append(all, list...); len(list) < part {
			break
		}
	}
	h["Link"] = []string{string(s.gateLinks(nil, at, rec, f))}
	original := s.baseURI + strings.TrimPrefix(path, "/")
	self := s.baseURI + at
	var body []byte
	if kind == 1 {
		m := jsonTimeMap{ID: self, Original: original, TimeGate: original}
		for i := range all {
			v := &all[i]
			m.Mementos = append(m.Mementos, jsonMemento{s.baseURI + mementoPath(v, f), v.Modified.UTC().Format(time.RFC3339), v.Publication, v.Change.String(), v.State.String()})
		}
		body = appendJSON(nil, m)
	} else {
		stamp := func(v *service.Record) string { return v.Modified.UTC().Format(http.TimeFormat) }
		var b strings.Builder
		b.WriteString("<" + original + `>; rel="original timegate",` + "\n")
		b.WriteString("<" + self + `>; rel="self"; type="` + linkFormat + `"; from="` + stamp(&all[0]) + `"; until="` + stamp(&all[len(all)-1]) + `"`)
		for i := range all {
			rel := "memento"
			if i == len(all)-1 {
				rel = "last " + rel
			}
			if i == 0 {
				rel = "first " + rel
			}
			b.WriteString(",\n<" + s.baseURI + mementoPath(&all[i], f) + `>; rel="` + rel + `"; datetime="` + stamp(&all[i]) + `"`)
		}
		b.WriteString("\n")
		body = []byte(b.String())
	}
	return s.respond(w, r, answer{contentType: timeMapOffers[kind].Type, tag: bodyTag(body, "timemap"), modified: rec.Modified, body: body})
}
