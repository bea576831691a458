// Package web serves a site over HTTP: documents in every format of package
// render and as pages, lists, the home page. Begin with [New]; a [Server] is an
// [http.Handler] and [Server.Serve] runs it with timeouts and a graceful stop.
//
// # Addresses
//
// With the base IRI https://x.example/coll/ the record <https://x.example/coll/object/7>
// is served at /object/7: the site's base is what a proxy in front puts there, or
// 127.0.0.1 for a look at it. All references in responses are relative, but for the
// records' own IRIs.
//
//	/                  the site: HTML, JSON
//	/{endpoint}/       live records of an endpoint of the profile, by address: HTML, JSON
//	/{path}            a record, by content negotiation
//	/{path}{suffix}    a record in one format: .jsonld .json .html .nt .nq .ttl .rdf
//	                   .dc.xml .schemaorg.json, of objects also .lido.xml .edm.xml
//	/timemap/{path}    the versions of a record (RFC 7089): link-format, JSON
//	/memento/{time}/{path}  a record as it was published at a time, YYYYMMDDhhmmss
//	/harvest           OAI-PMH 2.0, if there is a format oai_dc
//	/changes           IIIF Change Discovery 1.0; pages at /changes/1 and so on
//	/downloads/        files of everything: HTML, JSON; the files below it
//	/.well-known/void  description of the dataset: Turtle, JSON-LD, RDF/XML, N-Triples
//	/sitemap.xml       sitemaps, and /robots.txt
//	/healthz           whether the store answers, which publication it holds, and of
//	                   which the downloads here are (0 for none): JSON
//
// A record's address, with a suffix or without, is also the gate to its past: with
// Accept-Datetime it leads to the version of that time (RFC 7089 §4.1.1, pattern
// 1.1: the resource is its own TimeGate, 302, distinct addresses of mementos).
//
// A path that is a record's address is that record even if it ends like a suffix.
//
// # JSON
//
// The home document is
//
//	{"id": base IRI, "type": "Dataset", "title", "publisher", "license", "language",
//	 "publication": {"number", "time"},
//	 "endpoints": [{"name", "records", "href"}], "formats": [{"suffix", "mediaType", "title"}],
//	 "services": [{"name", "title", "href", "mediaType"}]}
//
// also as application/ld+json, with a context in the document. A list is
//
//	{"id": IRI of the list, "endpoint", "total", "items": [{"id", "type", "label", "href"}], "next"}
//
// "next" is missing on the last page. Query: limit (1 to 1000, 100 if not given) and
// after, a token from "next". The downloads are those of [download.Set], without the
// names of folders. Problems are those of RFC 9457; 406 adds "available"
// [{"href", "mediaType"}], 410 adds "was" {"id", "type", "label", "withdrawn", "reason"}.
package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gorilla/mux"

	"ropewalk/mapping/render/view"
	"ropewalk/service"
	"ropewalk/service/changes"
	"ropewalk/service/download"
	"ropewalk/service/harvest"
	"ropewalk/service/page"
	"ropewalk/service/recent"
)

// Limits are what a stranger can make the server do. A field that is 0 has the
// value given here.
type Limits struct {
	HeaderBytes int           // of a request's header, 16 KiB; beyond: 431
	PathBytes   int           // 2,048; beyond: 414
	QueryBytes  int           // 1,024; beyond: 414
	BodyBytes   int           // of a posted question, 8 KiB; beyond: 413
	PageSize    int           // entries of a list's page, 100
	MaxPageSize int           // most that a request can ask for, 1,000
	HeaderTime  time.Duration // to receive a header, 5 s
	WriteTime   time.Duration // to read a request and write its response, 1 min
	IdleTime    time.Duration // between requests on a connection, 2 min
	StopTime    time.Duration // for requests under way when the server stops, 10 s
	SlowWork    int           // on-demand forms of JSON-LD at the same time, 1
	SlowWait    time.Duration // to wait for one's turn at that, 2 s; beyond: 503
	SlowBytes   int           // JSON-LD of a document to which those are offered, 256 KiB
}

func (l Limits) filled() Limits {
	def := func(v *int, d int) {
		if *v == 0 {
			*v = d
		}
	}
	dur := func(v *time.Duration, d time.Duration) {
		if *v == 0 {
			*v = d
		}
	}
	def(&l.HeaderBytes, 16<<10)
	def(&l.PathBytes, 2048)
	def(&l.QueryBytes, 1024)
	def(&l.BodyBytes, 8<<10)
	def(&l.PageSize, 100)
	def(&l.MaxPageSize, 1000)
	dur(&l.HeaderTime, 5*time.Second)
	dur(&l.WriteTime, time.Minute)
	dur(&l.IdleTime, 2*time.Minute)
	dur(&l.StopTime, 10*time.Second)
	def(&l.SlowWork, 1)
	dur(&l.SlowWait, 2*time.Second)
	def(&l.SlowBytes, 256<<10)
	return l
}

// Options are what a server is made from.
type Options struct {
	Site   service.Site
	Store  service.Store
	Log    *slog.Logger // slog.Default() if nil
	Limits Limits

	// Formats are those of harvesting beside "rdf". OAI-PMH demands "oai_dc": without
	// it there is no harvesting.
	Formats []harvest.Format
	Harvest harvest.Limits
	Now     func() time.Time // clock of harvesting; time.Now if nil

	// Views is what the views of records (LIDO, EDM, Dublin Core, schema.org) must know
	// of the site; without it records are not to be had in them.
	Views *view.Context

	Downloads string // folder of the downloads, as [download.Make] makes it; "" if there are none
}

// Server serves one site. It is safe for concurrent use.
type Server struct {
	site    service.Site
	store   service.Store
	log     *slog.Logger
	limits  Limits
	pages   *page.Renderer
	forms   []*form
	offers  []Offer
	offered []*form // by index of offers
	packer  packer
	views   *view.Context     // nil if records are not to be had in views
	slow    chan *shapes      // workers for slow forms, each used by one request at a time
	baseURI string            // the base as a URI
	harvest *harvest.Provider // nil if there is none
	changes *changes.Stream
	shelf   *download.Shelf // nil if there are no downloads
	ready   *recent.Cache[wish, *kept]
	handler http.Handler
}

// New makes a server. The base of the site must be an absolute http or https IRI
// that ends with a slash.
func New(o Options) (*Server, error) {
	u, err := url.Parse(o.Site.Base)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || !strings.HasSuffix(u.Path, "/") || u.RawQuery != "" || u.Fragment != "" {
		return nil, service.Errorf(service.Invalid, "the base %q is not an http or https address that ends with a slash", o.Site.Base)
	}
	if o.Store == nil {
		return nil, service.Errorf(service.Invalid, "a server needs a store")
	}
	s := &Server{site: o.Site, store: o.Store, log: o.Log, limits: o.Limits.filled(), views: o.Views, pages: page.New(o.Site), baseURI: u.String()}
	if s.log == nil {
		s.log = slog.Default()
	}
	if s.forms, err = s.makeForms(); err != nil {
		return nil, err
	}
	for _, f := range s.forms {
		for _, offer := range f.offers {
			s.offers, s.offered = append(s.offers, offer), append(s.offered, f)
		}
	}
	for _, f := range o.Formats {
		if f.Prefix == "oai_dc" {
			if s.harvest, err = harvest.New(harvest.Options{Store: o.Store, Site: o.Site, Formats: append([]harvest.Format{harvest.RDF()}, o.Formats...),
				Address: s.baseURI + "harvest", Limits: o.Harvest, Now: o.Now}); err != nil {
				return nil, err
			}
		}
	}
	var described []changes.Dataset
	if o.Downloads != "" {
		s.shelf = download.NewShelf(o.Downloads)
		described = append(described, changes.Dataset{ID: s.baseURI + "downloads/" + download.Description + ".jsonld", Type: "Dataset",
			Label: map[string][]string{"en": {"Description in DCAT and VoID"}}, Format: "application/ld+json", Profile: "http://www.w3.org/ns/dcat#"})
	}
	s.changes = changes.New(o.Store, o.Site, s.baseURI+"changes", described...)
	if err := s.packer.init(); err != nil {
		return nil, err
	}
	s.slow = make(chan *shapes, s.limits.SlowWork)
	for range s.limits.SlowWork {
		worker, err := newShapes()
		if err != nil {
			return nil, err
		}
		s.slow <- worker
	}
	s.ready = recent.New[wish, *kept](readyBytes)
	s.handler = s.guard(s.routes())
	return s, nil
}

// recordPath reports whether a request can be for nothing but a record.
func recordPath(r *http.Request) bool {
	path := strings.TrimPrefix(r.URL.EscapedPath(), "/")
	return path != "" && !service.Reserved(path)
}

// routes is every address there is.
func (s *Server) routes() http.Handler {
	r := mux.NewRouter().UseEncodedPath().SkipClean(true)
	r.Handle("/", s.read(s.home))
	r.Handle("/healthz", s.read(s.health))
	r.Handle("/timemap/{path:.+}", s.read(s.timeMap))
	r.Handle("/memento/{path:.+}", s.read(s.memento))
	if s.harvest != nil {
		r.Handle("/harvest", s.ask(s.harvesting))
	}
	r.Handle("/changes", s.read(s.changeStream))
	r.Handle("/changes/{page}", s.read(s.changePage))
	r.Handle("/robots.txt", s.read(s.robots))
	if s.shelf != nil {
		r.Handle("/downloads", s.read(s.toDownloads))
		r.Handle("/downloads/", s.read(s.downloads))
		r.Handle("/downloads/{file}", s.read(s.download))
		r.Handle("/{file:sitemap(?:-[0-9]+)?\\.xml(?:\\.gz)?}", s.read(s.sitemap))
		r.Handle("/.well-known/void", s.read(s.description))
	}
	r.Handle("/{endpoint}/", s.read(s.list))
	r.Handle("/{path:.+}", s.read(s.document))
	records := s.read(s.document)
	r.NotFoundHandler = records
	// Most requests are for records; they need not be held against every pattern.
	return http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		if recordPath(q) {
			records.ServeHTTP(w, q)
			return
		}
		r.ServeHTTP(w, q)
	})
}

// ServeHTTP answers a request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Serve serves on l until ctx ends, then lets requests under way finish within
// the limit. It closes l and returns nil after a stop that ctx asked for.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{
		Handler:           s,
		ConnContext:       withWire,
		ReadHeaderTimeout: s.limits.HeaderTime,
		ReadTimeout:       s.limits.WriteTime,
		WriteTimeout:      s.limits.WriteTime,
		IdleTimeout:       s.limits.IdleTime,
		MaxHeaderBytes:    s.limits.HeaderBytes,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(wires{l}) }()
	select {
	case err := <-failed:
		return fmt.Errorf("serving: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.Background(), s.limits.StopTime)
	defer cancel()
	err := srv.Shutdown(stop)
	if errors.Is(err, context.DeadlineExceeded) {
		s.log.Warn("requests were cut off at the stop")
		err = srv.Close()
	}
	return err
}
