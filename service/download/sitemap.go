package download

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"ropewalk/service"
)

// Limits of a sitemap (https://www.sitemaps.org/protocol.html): entries, and bytes
// before compression.
const (
	sitemapURLs  = 50_000
	sitemapBytes = 50 << 20
)

// SitemapName is the name of a sitemap's file, by its number from 1; the index of them
// is [SitemapIndex]. A sitemap speaks of what lies in its own folder and below, so they
// are to be served right below the base.
func SitemapName(n int) string { return "sitemap-" + strconv.Itoa(n) + ".xml.gz" }

// SitemapIndex is the name of the index of the sitemaps.
const SitemapIndex = "sitemap.xml"

const sitemapNamespace = `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<%s xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">` + "\n"

// sitemaps writes the addresses of all records.
type sitemaps struct {
	dir, base string
	now       *output
	urls      int
	files     []File
	latest    []time.Time // of the records of each file
	buf       []byte
	most      int // URLs in a file
}

func newSitemaps(dir string, site service.Site) *sitemaps {
	base := site.Base
	if u, err := url.Parse(base); err == nil {
		base = u.String()
	}
	return &sitemaps{dir: dir, base: base, most: sitemapURLs}
}

func (s *sitemaps) add(r *service.Record) error { return s.url(r.Path, r.Modified) }

func (s *sitemaps) url(path string, modified time.Time) error {
	s.buf = appendSitemapEntry(s.buf[:0], "url", s.base+path, modified)
	if s.now != nil && (s.urls >= s.most || s.now.unpacked+int64(len(s.buf))+100 > sitemapBytes) {
		if err := s.end(); err != nil {
			return err
		}
	}
	if s.now == nil {
		var err error
		if s.now, err = create(s.dir, File{Name: SitemapName(len(s.files) + 1), MediaType: "application/xml", Packing: gzipType}); err != nil {
			return err
		}
		s.urls, s.latest = 0, append(s.latest, time.Time{})
		if _, err := s.now.Write([]byte(strings.Replace(sitemapNamespace, "%s", "urlset", 1))); err != nil {
			return err
		}
	}
	s.urls++
	s.now.Records++
	if last := &s.latest[len(s.latest)-1]; modified.After(*last) {
		*last = modified
	}
	_, err := s.now.Write(s.buf)
	return err
}

func appendSitemapEntry(dst []byte, name, loc string, modified time.Time) []byte {
	dst = append(append(append(dst, '<'), name...), "><loc>"...)
	dst = append(dst, xmlEscaper.Replace(loc)...)
	dst = append(dst, "</loc><lastmod>"...)
	dst = modified.UTC().AppendFormat(dst, time.RFC3339)
	dst = append(append(append(dst, "</lastmod></"...), name...), ">\n"...)
	return dst
}

// xmlEscaper writes what the protocol wants escaped ("Entity escaping").
var xmlEscaper = strings.NewReplacer("&", "&amp;", "'", "&apos;", `"`, "&quot;", ">", "&gt;", "<", "&lt;")

func (s *sitemaps) end() error {
	_, err := s.now.Write([]byte("</urlset>\n"))
	if e := s.now.close(); err == nil {
		err = e
	}
	s.files = append(s.files, s.now.File)
	s.now = nil
	return err
}

// close ends the last sitemap and writes the index. The home page is in the last
// sitemap, too: so there is one even if there are no records.
func (s *sitemaps) close(published time.Time) ([]File, error) {
	if err := s.url("", published); err != nil {
		return nil, err
	}
	if err := s.end(); err != nil {
		return nil, err
	}
	b := []byte(strings.Replace(sitemapNamespace, "%s", "sitemapindex", 1))
	for i, f := range s.files {
		b = appendSitemapEntry(b, "sitemap", s.base+f.Name, s.latest[i])
	}
	index, err := write(s.dir, File{Name: SitemapIndex, MediaType: "application/xml"}, append(b, "</sitemapindex>\n"...))
	return append([]File{index}, s.files...), err
}

func (s *sitemaps) discard() {
	if s.now != nil {
		_ = s.now.close()
	}
}

// write makes a file of what is at hand.
func write(dir string, meta File, data []byte) (File, error) {
	o, err := create(dir, meta)
	if err != nil {
		return meta, err
	}
	_, err = o.Write(data)
	if e := o.close(); err == nil {
		err = e
	}
	return o.File, err
}
