package web

import (
	"encoding/base64"
	"errors"
	"slices"
	"strings"
	"sync"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
	"ropewalk/service"
	"ropewalk/service/page"
)

// form is a way in which a record is sent.
type form struct {
	name        string // in entity tags
	title       string // for people
	suffix      string // of addresses; "" if it can only be negotiated
	contentType string
	offers      []Offer
	html        bool
	view        *view.View // what writes it, if it loses something
	stored      bool       // the bytes of the store
	// write makes the body; nil if stored.
	write func(s *Server, dst []byte, rec *service.Record, doc *entity.Document, at string) ([]byte, error)
	// derive makes the body of a slow form from the stored one.
	derive func(worker *shapes, body []byte) ([]byte, error)
}

// mediaType is the content type without parameters.
func (f *form) mediaType() string {
	t, _, _ := strings.Cut(f.contentType, ";")
	return t
}

const htmlType = "text/html; charset=utf-8"

// makeForms is the list of forms in order of preference: JSON-LD as it is stored,
// the page, the other syntaxes of package render, JSON-LD in other shapes.
func (s *Server) makeForms() ([]*form, error) {
	var out []*form
	for _, f := range render.Formats() {
		n := &form{name: f.Name, title: f.Title, suffix: f.Suffix, contentType: f.MediaTypes[0], stored: f.Name == "jsonld"}
		if !n.stored {
			n.write = encodeWith(f)
		}
		var plain []string
		for _, t := range f.MediaTypes {
			o, ok := offerOf(t)
			switch {
			case !ok:
				return nil, service.Errorf(service.Internal, "format %s: %q is not a media type", f.Name, t)
			case n.stored && o.Type == "application/json":
				plain = append(plain, t)
			case n.stored && len(o.Profile) > 0:
				o.Profile = append(o.Profile, compactedURI)
				fallthrough
			default:
				n.offers = append(n.offers, o)
			}
		}
		out = append(out, n)
		if n.stored {
			// The same bytes under a type of their own are another representation.
			for _, t := range plain {
				out = append(out, &form{name: "json", title: "JSON", suffix: ".json", contentType: t, offers: []Offer{{Type: t}}, stored: true})
			}
			out = append(out, &form{name: "html", title: "Web page", suffix: ".html", contentType: htmlType, offers: []Offer{{Type: "text/html"}}, html: true, write: (*Server).writePage})
		}
	}
	for _, d := range []struct {
		name, title, profile string
		derive               func(*shapes, []byte) ([]byte, error)
	}{
		{"expanded", "JSON-LD, expanded", expandedURI, (*shapes).expanded},
		{"flattened", "JSON-LD, flattened", flattenedURI, (*shapes).flattened},
		{"framed", "JSON-LD, framed", framedURI, (*shapes).framed},
	} {
		out = append(out, &form{
			name: d.name, title: d.title, contentType: `application/ld+json;profile="` + d.profile + `"`,
			offers: []Offer{{Type: "application/ld+json", Profile: []string{d.profile, render.Profile}}}, derive: d.derive,
		})
	}
	// Views are had by their addresses alone: their media types say too little.
	for _, v := range view.Views() {
		if s.views != nil {
			out = append(out, &form{name: v.Name, title: v.Title, suffix: v.Suffix, contentType: v.MediaTypes[0], view: v, write: writeView(v)})
		}
	}
	return out, nil
}

// covers reports whether a record of an endpoint can come in the form at all.
func (f *form) covers(endpoint string) bool { return f.view == nil || f.view.Covers(endpoint) }

// offerOf is a media type with its profiles as an offer.
func offerOf(mediaType string) (Offer, bool) {
	r, ok := parseRange(mediaType)
	return Offer{Type: strings.ToLower(r.typ + "/" + r.sub), Profile: strings.Fields(r.profile)}, ok && !r.foreign && r.typ != "*"
}

// encodeWith writes with an encoder of package render.
func encodeWith(f *render.Format) func(*Server, []byte, *service.Record, *entity.Document, string) ([]byte, error) {
	pool := sync.Pool{New: func() any { return render.NewEncoder(f, render.Options{}) }}
	return func(_ *Server, dst []byte, _ *service.Record, doc *entity.Document, _ string) ([]byte, error) {
		e := pool.Get().(*render.Encoder)
		defer pool.Put(e)
		dst, err := e.Append(e.Header(dst), doc)
		return e.Footer(dst), err
	}
}

// writeView writes a view. A record that it cannot hold is not to be had in it.
func writeView(v *view.View) func(*Server, []byte, *service.Record, *entity.Document, string) ([]byte, error) {
	before := ""
	if v.Root != "" {
		before = view.Declaration
	}
	return func(s *Server, dst []byte, rec *service.Record, doc *entity.Document, at string) ([]byte, error) {
		out, err := v.Append(append(dst, before...), doc, s.views)
		if reason := (*view.Reason)(nil); errors.As(err, &reason) {
			return dst, &failure{
				err:       service.Errorf(service.NotAcceptable, "The record cannot be had as %s: %s. It can be had in these:", v.Title, reason.Text),
				available: s.links(at, rec, false),
			}
		}
		return out, err
	}
}

func (s *Server) writePage(dst []byte, rec *service.Record, doc *entity.Document, at string) ([]byte, error) {
	p := page.Record{Record: rec, Document: doc, Formats: s.links(at, rec, true)}
	if at != rec.Path {
		old := *rec
		old.Path = at // where its links begin
		p.Record, p.Now = &old, service.Relative(at, rec.Path)
	}
	if s.views != nil {
		if data, err := schemaOrg.Append(nil, doc, s.views); err == nil {
			p.Data = data
		}
	}
	return s.pages.Record(dst, p)
}

// schemaOrg is what search engines read in a page.
var schemaOrg = view.ByName("schemaorg")

// links leads from a record's page to its forms; others leaves the page itself
// out.
func (s *Server) links(path string, rec *service.Record, others bool) []page.Link {
	var out []page.Link
	for _, f := range s.forms {
		if f.suffix != "" && f.covers(rec.Endpoint) && !(others && f.html) {
			out = append(out, page.Link{Text: f.title, Href: service.Relative(path, path+f.suffix), Type: f.mediaType()})
		}
	}
	return out
}

// suffixed finds the forms whose suffixes end a path, the longest suffix first.
func (s *Server) suffixed(path string) []*form {
	var out []*form
	for _, f := range s.forms {
		if before, ok := strings.CutSuffix(path, f.suffix); ok && f.suffix != "" && before != "" && !strings.HasSuffix(before, "/") {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b *form) int { return len(b.suffix) - len(a.suffix) })
	return out
}

// recordTag is the tag of a form that depends on nothing but the stored record.
func recordTag(rec *service.Record, form string) string {
	return base64.RawURLEncoding.EncodeToString(rec.Digest[:]) + "-" + form
}

// documents are read into memory that is used again.
var documents = sync.Pool{New: func() any { return new(entity.Document) }}
