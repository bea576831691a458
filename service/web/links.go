package web

import (
	"net/url"
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/service"
	"ropewalk/vocab"
)

// recordLinks tells machines what there is about a record (RFC 8288): canonical (RFC
// 6596), license (RFC 4946), type (RFC 6903), collection and item (RFC 6573),
// describes (RFC 6892), cite-as (RFC 8574), describedby and alternate as IANA registers
// them. The page has what the FAIR Signposting Profile, level 1, wants of a landing
// page; the other forms, what it wants of a metadata resource.
func (s *Server) recordLinks(rec *service.Record, f *form, files []file) []byte {
	b := make([]byte, 0, 1536)
	add := func(target, rel string) {
		if len(b) > 0 {
			b = append(b, ", "...)
		}
		b = append(b, '<')
		b = append(b, target...)
		b = append(b, `>; rel="`...)
		b = append(b, rel...)
		b = append(b, '"')
	}
	attribute := func(name, value string) {
		b = append(append(append(append(b, "; "...), name...), `="`...), value...)
		b = append(b, '"')
	}
	record := s.baseURI + rec.Path
	add(record, "canonical")
	add(record, "cite-as")
	if !f.html {
		add(record, "describes")
		attribute("type", "text/html")
	}
	for _, o := range s.forms {
		if o.suffix == "" || !o.covers(rec.Endpoint) || o.view != nil && !f.html { // the page names the views
			continue
		}
		target := service.Relative(rec.Path, rec.Path+o.suffix)
		add(target, "alternate")
		attribute("type", o.mediaType())
		if o.view != nil && o.view.Namespace != "" {
			attribute("profile", o.view.Namespace)
		}
		if o.stored && o.name == "jsonld" {
			add(target, "describedby")
			attribute("type", "application/ld+json")
			attribute("profile", render.Profile)
		} else if f.html && !o.html && !o.stored {
			add(target, "describedby")
			attribute("type", o.mediaType())
		}
	}
	if f.html {
		add("https://schema.org/AboutPage", "type")
	}
	if c := vocab.ClassByKey(rec.Class); c != nil {
		add(c.IRI, "type")
	}
	if s.site.Licence != "" {
		add(s.site.Licence, "license")
	}
	add(s.baseURI, "collection")
	for _, i := range files {
		add(i.address, "item")
		if i.mediaType != "" {
			attribute("type", i.mediaType)
		}
	}
	return b
}

// file is one that a record is about or shown by.
type file struct{ address, mediaType string }

// maxFiles is how many files the header names at most: it has a length that clients
// and proxies can take.
const maxFiles = 20

// filesOf finds the files of a document: what gives access to the images that show its
// entity, to the texts that it carries, to itself.
func filesOf(d *entity.Document) []file {
	var out []file
	ev := d.Events()
	var walk func(open int32, shown bool)
	walk = func(open int32, shown bool) {
		format := ""
		for k := open + 1; k < ev[open].End; k++ {
			switch e := &ev[k]; {
			case e.Kind == entity.Open:
				k = e.End
			case e.Term != nil && e.Term.Key == "format":
				format = e.Value
			}
		}
		for k := open + 1; k < ev[open].End; k++ {
			e := &ev[k]
			if e.Kind != entity.Open {
				continue
			}
			switch e.Term.Key {
			case "access_point":
				if address, ok := headerURI(e.Value); shown && e.Ref && ok && len(out) < maxFiles {
					out = append(out, file{address, mediaType(format)})
				}
			case "digitally_shown_by", "digitally_carried_by":
				walk(k, true)
			case "representation", "shows", "carries":
				walk(k, shown)
			}
			k = e.End
		}
	}
	if len(ev) > 0 {
		walk(0, ev[0].Class.Key == "DigitalObject")
	}
	return out
}

// headerURI is an IRI as the target of a link in a header; nothing that would end it
// gets through.
func headerURI(iri string) (string, bool) {
	u, err := url.Parse(iri)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" {
		return "", false
	}
	u.RawQuery = escapeQuery(u.RawQuery)
	text := u.String()
	for i := 0; i < len(text); i++ {
		if c := text[i]; c <= ' ' || c >= 0x7f || strings.IndexByte(`<>"\^`+"`{|}", c) >= 0 {
			return "", false
		}
	}
	return text, true
}

// escapeQuery encodes what is not ASCII (RFC 3987 §3.1).
func escapeQuery(q string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := 0; i < len(q); i++ {
		if c := q[i]; c < 0x80 {
			b.WriteByte(c)
		} else {
			b.WriteByte('%')
			b.WriteByte(hex[c>>4])
			b.WriteByte(hex[c&15])
		}
	}
	return b.String()
}

// mediaType is a media type without parameters, or "" if the text is none.
func mediaType(text string) string {
	r, ok := parseRange(text)
	if !ok || r.typ == "*" || r.sub == "*" {
		return ""
	}
	return r.typ + "/" + r.sub
}
