package web

import (
	"encoding/base64"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/gorilla/mux"

	"ropewalk/service"
	"ropewalk/service/page"
	"ropewalk/vocab"
)

// The home document and lists come in these forms.
var collectionOffers = []Offer{{Type: "application/ld+json"}, {Type: "application/json"}, {Type: "text/html"}}

// jsonHome is the home document. Its context makes it a description in the terms
// of DCMI and DCAT 3 for those who read JSON-LD.
type jsonHome struct {
	Context     map[string]any  `json:"@context,omitempty"`
	ID          string          `json:"id"`
	Type        string          `json:"type"`
	Title       string          `json:"title,omitempty"`
	Publisher   string          `json:"publisher,omitempty"`
	License     string          `json:"license,omitempty"`
	Language    string          `json:"language,omitempty"`
	Publication jsonPublication `json:"publication"`
	Endpoints   []jsonEndpoint  `json:"endpoints"`
	Formats     []jsonFormat    `json:"formats"`
	Services    []jsonService   `json:"services"`
}

// jsonService is something beside records and lists.
type jsonService struct {
	Name      string `json:"name"`
	Title     string `json:"title"`
	Href      string `json:"href"`
	MediaType string `json:"mediaType"`
}

// services are for those who take everything.
func (s *Server) services() []jsonService {
	var out []jsonService
	if s.harvest != nil {
		out = append(out, jsonService{"harvest", "Harvesting by OAI-PMH 2.0", "harvest?verb=Identify", "text/xml"})
	}
	out = append(out, jsonService{"changes", "Stream of changes, by IIIF Change Discovery 1.0", "changes", "application/ld+json"})
	if s.shelf != nil {
		out = append(out, jsonService{"downloads", "Files of everything", "downloads/", "text/html"},
			jsonService{"description", "Description of the data in VoID and DCAT", ".well-known/void", "text/turtle"})
	}
	return out
}

type jsonPublication struct {
	Number int64  `json:"number"`
	Time   string `json:"time,omitempty"`
}

type jsonEndpoint struct {
	Name    string `json:"name"`
	Records int    `json:"records"`
	Href    string `json:"href"`
}

type jsonFormat struct {
	Suffix    string `json:"suffix"`
	MediaType string `json:"mediaType"`
	Title     string `json:"title"`
}

// homeContext maps the keys that have a meaning elsewhere; the others are left to
// this service's documentation.
var homeContext = map[string]any{
	"id": "@id", "type": "@type", "Dataset": "http://www.w3.org/ns/dcat#Dataset",
	"title": "http://purl.org/dc/terms/title", "publisher": "http://purl.org/dc/terms/publisher",
	"license":     map[string]any{"@id": "http://purl.org/dc/terms/license", "@type": "@id"},
	"language":    "http://purl.org/dc/terms/language",
	"publication": "@nest", "number": "http://www.w3.org/ns/dcat#version",
	"time": map[string]any{"@id": "http://purl.org/dc/terms/modified", "@type": "http://www.w3.org/2001/XMLSchema#dateTime"},
}

func (s *Server) home(w http.ResponseWriter, r *http.Request) error {
	addVary(w.Header(), "Accept")
	kind := Negotiate(r.Header["Accept"], collectionOffers)
	if kind < 0 {
		return notHere()
	}
	ctx := r.Context()
	last, err := s.store.Current(ctx)
	if err != nil {
		return err
	}
	tallies, err := s.store.Tallies(ctx)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Add("Link", "<"+s.baseURI+`>; rel="canonical"`)
	if s.site.Licence != "" {
		h.Add("Link", "<"+s.site.Licence+`>; rel="license"`)
	}
	if s.shelf != nil {
		h.Add("Link", `<.well-known/void>; rel="describedby"; type="text/turtle"`)
	}
	if kind == 2 {
		view := page.Home{Publication: last, Tallies: tallies}
		for _, v := range s.services() {
			view.Services = append(view.Services, page.Link{Text: v.Title, Href: v.Href, Type: v.MediaType})
		}
		for _, f := range s.forms {
			if f.suffix != "" {
				view.Formats = append(view.Formats, page.Link{Text: f.suffix, Type: f.mediaType(), Note: f.title})
			}
		}
		if len(tallies) > 0 {
			l, err := s.store.List(ctx, service.Listing{Endpoint: exampleEndpoint(tallies), Limit: 10})
			if err != nil {
				return err
			}
			for i := range l {
				if view.Example == nil || view.Example.Label == "" {
					view.Example = &l[i]
				}
			}
		}
		body, err := s.pages.Home(nil, view)
		if err != nil {
			return err
		}
		return s.sendPage(w, r, body, last.Time)
	}
	doc := jsonHome{
		ID: s.site.Base, Type: "Dataset", Title: s.site.Title, Publisher: s.site.Publisher, License: s.site.Licence, Language: s.site.Language,
		Publication: jsonPublication{Number: last.Number}, Endpoints: []jsonEndpoint{}, Formats: []jsonFormat{}, Services: s.services(),
	}
	if last.Number > 0 {
		doc.Publication.Time = last.Time.Format(time.RFC3339)
	}
	for _, t := range tallies {
		doc.Endpoints = append(doc.Endpoints, jsonEndpoint{t.Endpoint, t.Live, t.Endpoint + "/"})
	}
	for _, f := range s.forms {
		if f.suffix != "" {
			doc.Formats = append(doc.Formats, jsonFormat{f.suffix, f.mediaType(), f.title})
		}
	}
	if kind == 0 {
		doc.Context = homeContext
	}
	return s.sendJSON(w, r, collectionOffers[kind].Type, doc, last.Time)
}

// exampleEndpoint is "object" if there are any, else the largest.
func exampleEndpoint(tallies []service.Tally) string {
	best := tallies[0]
	for _, t := range tallies {
		if t.Endpoint == "object" {
			return t.Endpoint
		}
		if t.Live > best.Live {
			best = t
		}
	}
	return best.Endpoint
}

func notHere() error {
	return &failure{
		err:       service.Errorf(service.NotAcceptable, "This address answers in HTML and JSON."),
		available: []page.Link{{Text: "HTML", Href: "./", Type: "text/html"}, {Text: "JSON", Href: "./", Type: "application/json"}},
	}
}

type jsonList struct {
	ID       string     `json:"id"`
	Endpoint string     `json:"endpoint"`
	Total    int        `json:"total"`
	Items    []jsonItem `json:"items"`
	Next     string     `json:"next,omitempty"`
}

type jsonItem struct {
	ID    string `json:"id"`
	Type  string `json:"type"`
	Label string `json:"label,omitempty"`
	Href  string `json:"href"`
}

func (s *Server) list(w http.ResponseWriter, r *http.Request) error {
	endpoint := mux.Vars(r)["endpoint"]
	if vocab.EndpointByName(endpoint) == nil {
		return service.Errorf(service.NotFound, "There is no record or list at this address.")
	}
	h := w.Header()
	addVary(h, "Accept")
	kind := Negotiate(r.Header["Accept"], collectionOffers[1:])
	if kind < 0 {
		return notHere()
	}
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return service.Errorf(service.Invalid, "The query cannot be read.")
	}
	limit := s.limits.PageSize
	if v := q.Get("limit"); v != "" {
		if limit, err = strconv.Atoi(v); err != nil || limit < 1 || limit > s.limits.MaxPageSize {
			return service.Errorf(service.Invalid, "limit is a number from 1 to %d.", s.limits.MaxPageSize)
		}
	}
	after := ""
	if v := q.Get("after"); v != "" {
		b, err := base64.RawURLEncoding.DecodeString(v)
		if after = string(b); err != nil || !normal(after) {
			return service.Errorf(service.Invalid, "The token after is none that this list gave out.")
		}
	}
	ctx := r.Context()
	last, err := s.store.Current(ctx)
	if err != nil {
		return err
	}
	entries, err := s.store.List(ctx, service.Listing{Endpoint: endpoint, After: after, Limit: limit + 1})
	if err != nil {
		return err
	}
	tallies, err := s.store.Tallies(ctx)
	if err != nil {
		return err
	}
	total := 0
	for _, t := range tallies {
		if t.Endpoint == endpoint {
			total = t.Live
		}
	}
	next := ""
	if len(entries) > limit {
		entries = entries[:limit]
		next = "?after=" + base64.RawURLEncoding.EncodeToString([]byte(entries[limit-1].Path))
		if limit != s.limits.PageSize {
			next += "&limit=" + strconv.Itoa(limit)
		}
		h.Add("Link", "<"+next+`>; rel="next"`)
	}
	if kind == 1 {
		body, err := s.pages.List(nil, page.List{Endpoint: endpoint, Total: total, Entries: entries, Next: next, First: after == ""})
		if err != nil {
			return err
		}
		return s.sendPage(w, r, body, last.Time)
	}
	at := endpoint + "/"
	doc := jsonList{ID: s.site.Base + at, Endpoint: endpoint, Total: total, Items: make([]jsonItem, len(entries)), Next: next}
	for i, e := range entries {
		doc.Items[i] = jsonItem{e.IRI, e.Class, e.Label, service.Relative(at, e.Path)}
	}
	return s.sendJSON(w, r, "application/json", doc, last.Time)
}

func normal(path string) bool {
	n, ok := service.NormalPath(path)
	return ok && n == path
}

func (s *Server) sendPage(w http.ResponseWriter, r *http.Request, body []byte, modified time.Time) error {
	h := w.Header()
	h.Set("Content-Security-Policy", page.SecurityPolicy)
	h.Set("Referrer-Policy", "no-referrer")
	return s.respond(w, r, answer{contentType: htmlType, tag: bodyTag(body, "html"), modified: modified, body: body})
}

func (s *Server) sendJSON(w http.ResponseWriter, r *http.Request, contentType string, v any, modified time.Time) error {
	body := appendJSON(nil, v)
	return s.respond(w, r, answer{contentType: contentType, tag: bodyTag(body, "json"), modified: modified, body: body})
}

// health says whether the store answers, and of which publication the downloads here
// are: those of a server with a folder of its own can lag behind.
func (s *Server) health(w http.ResponseWriter, r *http.Request) error {
	h := w.Header()
	last, err := s.store.Current(r.Context())
	var downloads *int64
	if s.shelf != nil {
		downloads = new(int64)
		if set, err := s.shelf.Set(); err == nil {
			*downloads = set.Publication
		}
	}
	status, body := http.StatusOK, appendJSON(nil, struct {
		Status      string `json:"status"`
		Publication int64  `json:"publication"`
		Downloads   *int64 `json:"downloads,omitempty"`
	}{"ok", last.Number, downloads})
	if err != nil {
		s.log.Warn("unhealthy", "error", err)
		h.Set("Retry-After", retryAfter)
		status, body = http.StatusServiceUnavailable, []byte(`{"status":"the store does not answer"}`+"\n")
	}
	h.Set("Content-Type", "application/json")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body)
	}
	return nil
}
