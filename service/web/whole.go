package web

import (
	"context"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gorilla/mux"

	"ropewalk/service"
	"ropewalk/service/changes"
	"ropewalk/service/download"
	"ropewalk/service/page"
)

// What is for those who take the whole: harvesting, changes, downloads, sitemaps.

// harvesting answers OAI-PMH. Its own errors come with status 200 (§3.1.2.2 there).
func (s *Server) harvesting(w http.ResponseWriter, r *http.Request) error {
	arguments := r.URL.RawQuery
	if r.Method == http.MethodPost {
		if t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || t != "application/x-www-form-urlencoded" {
			return service.Errorf(service.Invalid, "Arguments are posted as application/x-www-form-urlencoded.")
		}
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, int64(s.limits.BodyBytes)))
		if tooMuch := (*http.MaxBytesError)(nil); errors.As(err, &tooMuch) {
			return service.Errorf(service.TooMuch, "A request has at most %d bytes here.", s.limits.BodyBytes)
		} else if err != nil {
			return service.Errorf(service.Invalid, "The request could not be read to its end.")
		}
		if arguments != "" && len(body) > 0 {
			arguments += "&"
		}
		arguments += string(body)
	}
	buf := buffers.Get().(*[]byte)
	defer buffers.Put(buf)
	body, err := s.harvest.Append(r.Context(), (*buf)[:0], arguments)
	*buf = body
	if err != nil {
		return err
	}
	h := w.Header()
	addVary(h, "Accept-Encoding")
	coding, ok := NegotiateCoding(r.Header["Accept-Encoding"], len(body) >= worthPacking)
	if !ok {
		return service.Errorf(service.NotAcceptable, "This service sends zstd, gzip or no content coding.")
	}
	h["Content-Type"] = []string{"text/xml; charset=utf-8"}
	h["Cache-Control"] = []string{"no-cache"}
	if coding != "" {
		h["Content-Encoding"] = []string{coding}
		packed := buffers.Get().(*[]byte)
		defer buffers.Put(packed)
		*packed = s.packer.pack((*packed)[:0], body, coding)
		body = *packed
	}
	h["Content-Length"] = []string{strconv.Itoa(len(body))}
	w.WriteHeader(http.StatusOK)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body)
	}
	return nil
}

func (s *Server) changeStream(w http.ResponseWriter, r *http.Request) error {
	body, modified, err := s.changes.Collection(r.Context())
	if err != nil {
		return err
	}
	return s.respond(w, r, answer{contentType: changes.MediaType, tag: bodyTag(body, "changes"), modified: modified, body: body})
}

func (s *Server) changePage(w http.ResponseWriter, r *http.Request) error {
	body, modified, err := s.changes.Page(r.Context(), mux.Vars(r)["page"])
	if err != nil {
		return err
	}
	return s.respond(w, r, answer{contentType: changes.MediaType, tag: bodyTag(body, "changes"), modified: modified, body: body})
}

// without says of a server that has no downloads at all, though there is a publication,
// that others may have them.
func (s *Server) without(ctx context.Context, err error) error {
	if service.CodeOf(err) != service.NotFound {
		return err
	}
	if _, none := s.shelf.Set(); service.CodeOf(none) != service.NotFound {
		return err
	}
	last, serr := s.store.Current(ctx)
	if serr != nil {
		return serr
	}
	if last.Number == 0 {
		return err
	}
	s.log.Warn("no downloads in this server's folder", "publication", last.Number)
	return service.Errorf(service.NotFound, "The downloads of publication %d are not at this server: they are still being made, or they were made elsewhere.", last.Number)
}

func (s *Server) toDownloads(w http.ResponseWriter, r *http.Request) error {
	return s.redirect(w, r, "downloads/")
}

// checksums is the name of the list of checksums, in the form that sha256sum reads.
const checksums = "SHA256SUMS"

// jsonDownloads is the list of downloads.
type jsonDownloads struct {
	ID          string          `json:"id"`
	Publication jsonPublication `json:"publication"`
	Counts      download.Counts `json:"counts"`
	Files       []jsonFile      `json:"files"`
}

type jsonFile struct {
	download.File
	Href string `json:"href"`
}

// offered are the files that are there to be downloaded; sitemaps are elsewhere.
func offered(set *download.Set) []jsonFile {
	var out []jsonFile
	for _, f := range set.Files {
		if !strings.HasPrefix(f.Name, "sitemap") {
			out = append(out, jsonFile{f, f.Name})
		}
	}
	return out
}

func (s *Server) downloads(w http.ResponseWriter, r *http.Request) error {
	addVary(w.Header(), "Accept")
	kind := Negotiate(r.Header["Accept"], collectionOffers[1:])
	if kind < 0 {
		return notHere()
	}
	set, err := s.shelf.Set()
	if err != nil {
		return s.without(r.Context(), err)
	}
	files := offered(set)
	if kind == 1 {
		view := page.Downloads{Time: set.Time, Records: set.Counts.Documents, Triples: set.Counts.Triples}
		for _, f := range files {
			view.Files = append(view.Files, page.Download{Link: page.Link{Text: f.Title, Href: f.Href, Type: f.Type()}, Name: f.Name, Bytes: f.Bytes, Records: f.Records, Sum: f.SHA256})
		}
		body, err := s.pages.Downloads(nil, view)
		if err != nil {
			return err
		}
		return s.sendPage(w, r, body, set.Time)
	}
	return s.sendJSON(w, r, "application/json", jsonDownloads{s.site.Base + "downloads/", jsonPublication{set.Publication, set.Time.Format(time.RFC3339)}, set.Counts, files}, set.Time)
}

func (s *Server) download(w http.ResponseWriter, r *http.Request) error {
	name := mux.Vars(r)["file"]
	if strings.HasPrefix(name, "sitemap") {
		return service.Errorf(service.NotFound, "There is no download of this name.")
	}
	if name == checksums {
		set, err := s.shelf.Set()
		if err != nil {
			return s.without(r.Context(), err)
		}
		var b []byte
		for _, f := range offered(set) {
			b = append(b, f.SHA256+"  "+f.Name+"\n"...)
		}
		return s.respond(w, r, answer{contentType: "text/plain; charset=utf-8", tag: bodyTag(b, "sums"), modified: set.Time, body: b})
	}
	return s.sendFile(w, r, name)
}

// sitemap sends the index of the sitemaps, or one of them.
func (s *Server) sitemap(w http.ResponseWriter, r *http.Request) error {
	return s.sendFile(w, r, mux.Vars(r)["file"])
}

func (s *Server) robots(w http.ResponseWriter, r *http.Request) error {
	b := []byte("User-agent: *\nDisallow: " + s.path("harvest") + "\nDisallow: " + s.path("changes") + "\n")
	if s.shelf != nil {
		b = append(b, "\nSitemap: "+s.baseURI+download.SitemapIndex+"\n"...)
	}
	return s.respond(w, r, answer{contentType: "text/plain; charset=utf-8", tag: bodyTag(b, "robots"), body: b})
}

// path is the path of an address on the base's host.
func (s *Server) path(address string) string {
	_, rest, _ := strings.Cut(s.baseURI, "://")
	return rest[strings.IndexByte(rest, '/'):] + address
}

// description sends the description of the dataset.
func (s *Server) description(w http.ResponseWriter, r *http.Request) error {
	h := w.Header()
	addVary(h, "Accept")
	offers, suffixes := []Offer{{Type: "text/turtle"}, {Type: "application/ld+json"}, {Type: "application/rdf+xml"}, {Type: "application/n-triples"}}, []string{".ttl", ".jsonld", ".rdf", ".nt"}
	kind := Negotiate(r.Header["Accept"], offers)
	if kind < 0 {
		f := &failure{err: service.Errorf(service.NotAcceptable, "The description comes in none of the formats that were asked for. It can be had in these:")}
		for i, o := range offers {
			f.available = append(f.available, page.Link{Text: o.Type, Href: "../downloads/" + download.Description + suffixes[i], Type: o.Type})
		}
		return f
	}
	name := download.Description + suffixes[kind]
	h["Content-Location"] = []string{"../downloads/" + name}
	return s.sendFile(w, r, name)
}

// sendFile sends a file of the downloads, or ranges of it (RFC 9110 §14).
func (s *Server) sendFile(w http.ResponseWriter, r *http.Request, name string) error {
	f, meta, set, err := s.shelf.Open(name)
	if err != nil {
		return s.without(r.Context(), err)
	}
	defer f.Close()
	h := w.Header()
	h["Etag"] = []string{`"` + meta.SHA256[:32] + `"`}
	h["Cache-Control"] = caching
	contentType := meta.Type()
	if strings.HasPrefix(contentType, "text/") {
		contentType += "; charset=utf-8"
	}
	h["Content-Type"] = []string{contentType}
	http.ServeContent(&patient{ResponseWriter: w, c: http.NewResponseController(w), time: s.limits.WriteTime}, r, "", set.Time, f)
	return nil
}

// patient lets a response take as long as it needs, so long as the client takes some
// of it in each span of time.
type patient struct {
	http.ResponseWriter
	c    *http.ResponseController
	time time.Duration
}

func (p *patient) Write(b []byte) (int, error) {
	_ = p.c.SetWriteDeadline(time.Now().Add(p.time)) // a writer without deadlines needs none
	return p.ResponseWriter.Write(b)
}
