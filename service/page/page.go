// Package page draws the HTML pages of a site: records, lists, the home page and
// errors. Begin with [New].
//
// Pages need no scripts and load nothing but the pictures that a document names.
// All links within the site are relative, so that pages work wherever the site is
// served. A record's page shows everything that is in its document.
package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"ropewalk/mapping/entity"
	"ropewalk/service"
)

//go:embed page.css
var css string

//go:embed page.html
var layout string

// Renderer draws pages. It may be used by several goroutines.
type Renderer struct {
	site service.Site
	set  *template.Template
}

// New makes a renderer for a site.
func New(site service.Site) *Renderer {
	if site.Language == "" {
		site.Language = "en"
	}
	if site.Title == "" {
		site.Title = site.Base
	}
	set := template.Must(template.New("").Funcs(template.FuncMap{
		"css":    func() template.CSS { return template.CSS(css) },
		"count":  count,
		"number": func(n int64) string { return count(int(n)) },
		"size":   size,
		"date":   func(t time.Time) string { return t.UTC().Format("2 January 2006, 15:04 UTC") },
		"iso":    func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
	}).Parse(layout))
	return &Renderer{site: site, set: set}
}

// SecurityPolicy is the Content-Security-Policy that all pages live with: their
// own style sheet and pictures, nothing else.
var SecurityPolicy = func() string {
	sum := sha256.Sum256([]byte(css))
	return "default-src 'none'; img-src http: https: data:; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; base-uri 'none'; form-action 'none'"
}()

// Link is a link in a page.
type Link struct {
	Text string
	Href string // relative to the page
	Type string // media type of what it leads to; may be empty
	Note string
}

// Record is what the page of a record is drawn from.
type Record struct {
	Record   *service.Record
	Document *entity.Document
	Formats  []Link // the record in other formats
	Data     []byte // JSON-LD for search engines; nil if there is none
	Now      string // of an old version: leads to the record as it is now
}

// Home is what the home page is drawn from.
type Home struct {
	Publication service.Publication
	Tallies     []service.Tally
	Formats     []Link // Text is the suffix; Note says what it is
	Services    []Link // for those who take everything
	Example     *service.Entry
}

// List is what a page of a list is drawn from.
type List struct {
	Endpoint string
	Total    int
	Entries  []service.Entry
	Next     string // reference to the next page; "" on the last
	First    bool   // this is the first page
}

// Downloads is what the page of the downloads is drawn from.
type Downloads struct {
	Time             time.Time // of the publication
	Records, Triples int64
	Files            []Download
}

// Download is a file.
type Download struct {
	Link           // Text says what it is
	Name    string // of the file
	Bytes   int64
	Records int64
	Sum     string // SHA-256, in hexadecimal digits
}

// Problem is what an error page is drawn from.
type Problem struct {
	Path   string // of the request, without the leading slash
	Status int
	Title  string
	Detail string
	Links  []Link
}

// frame is what all pages share.
type frame struct {
	Site       service.Site
	Root       string // leads from the page to the home page
	Title      string
	Canonical  string
	Alternates []Link
	Data       template.JS // see Record
	Body       any
}

type recordView struct {
	Kind      string
	Label     string
	Summary   []string
	Images    []image
	Cautions  [][]span // shown before all else
	Blocks    []block
	Formats   []Link
	List      Link
	IRI       string
	Publisher string
	Licence   Link
	Modified  time.Time
	Sets      []string
	Now       string
}

// Record draws the page of a record after dst.
func (p *Renderer) Record(dst []byte, r Record) ([]byte, error) {
	root := tree(r.Document)
	label := r.Record.Label
	if l, ok := root.takeText("_label"); ok {
		label = l.text
	}
	if label == "" {
		label = r.Record.Path
	}
	v := &viewer{site: p.site, path: r.Record.Path}
	view := recordView{
		Kind:      classWord(r.Record.Class),
		Label:     label,
		Summary:   summary(root),
		Images:    images(root, label),
		Formats:   r.Formats,
		List:      Link{Text: endpointWord(r.Record.Endpoint), Href: service.Relative(r.Record.Path, r.Record.Endpoint+"/")},
		IRI:       r.Record.IRI,
		Publisher: p.site.Publisher,
		Licence:   Link{Text: licenceName(p.site.Licence), Href: p.site.Licence},
		Modified:  r.Record.Modified,
		Sets:      r.Record.Sets,
		Now:       r.Now,
	}
	view.Cautions = v.cautions(root)
	view.Blocks = v.blocks(root)
	return p.draw(dst, "record", frame{
		Root: service.Relative(r.Record.Path, ""), Title: label, Canonical: r.Record.IRI, Alternates: r.Formats, Data: dataBlock(r.Data), Body: view,
	})
}

// dataBlock is JSON that may stand in an HTML script element: nothing in it can end the
// element or begin a comment (HTML §4.12.1.3).
func dataBlock(data []byte) template.JS {
	return template.JS(bytes.ReplaceAll(bytes.TrimSpace(data), []byte("<"), []byte(`\u003c`)))
}

// Home draws the home page after dst.
func (p *Renderer) Home(dst []byte, h Home) ([]byte, error) {
	type part struct {
		Link
		Live int
	}
	view := struct {
		Home
		Parts        []part
		Licence      Link
		Live         int
		ExampleForms []Link
	}{Home: h, Licence: Link{Text: licenceName(p.site.Licence), Href: p.site.Licence}}
	tallies := slices.Clone(h.Tallies)
	slices.SortStableFunc(tallies, func(a, b service.Tally) int { return cmp.Compare(rank(a.Endpoint), rank(b.Endpoint)) })
	for _, t := range tallies {
		view.Parts = append(view.Parts, part{Link{Text: endpointWord(t.Endpoint), Href: t.Endpoint + "/"}, t.Live})
		view.Live += t.Live
	}
	if h.Example != nil {
		for _, f := range h.Formats {
			view.ExampleForms = append(view.ExampleForms, Link{Text: f.Text, Href: h.Example.Path + f.Text, Type: f.Type})
		}
	}
	return p.draw(dst, "home", frame{Root: "./", Canonical: p.site.Base, Body: view})
}

// rank is the place of an endpoint on the home page.
func rank(endpoint string) int {
	if i := slices.Index(endpointOrder, endpoint); i >= 0 {
		return i
	}
	return len(endpointOrder)
}

// List draws a page of a list after dst.
func (p *Renderer) List(dst []byte, l List) ([]byte, error) {
	type line struct{ Label, Href, Path string }
	view := struct {
		List
		Heading string
		Lines   []line
	}{List: l, Heading: endpointWord(l.Endpoint)}
	at := l.Endpoint + "/"
	for _, e := range l.Entries {
		n := line{Label: e.Label, Href: service.Relative(at, e.Path), Path: readable(e.Path)}
		if n.Label == "" {
			n.Label = n.Path
		}
		view.Lines = append(view.Lines, n)
	}
	return p.draw(dst, "list", frame{Root: "../", Title: view.Heading, Canonical: p.site.Base + at, Body: view})
}

// Downloads draws the page of the downloads after dst.
func (p *Renderer) Downloads(dst []byte, d Downloads) ([]byte, error) {
	return p.draw(dst, "downloads", frame{Root: "../", Title: "Downloads", Canonical: p.site.Base + "downloads/", Body: d})
}

// size says a number of bytes for people.
func size(n int64) string {
	const units = " kMGT"
	v, i := float64(n), 0
	for ; v >= 999.5 && i < len(units)-1; i++ {
		v /= 1000
	}
	if i == 0 {
		return strconv.FormatInt(n, 10) + " bytes"
	}
	return strconv.FormatFloat(v, 'f', map[bool]int{true: 1}[v < 9.95], 64) + " " + units[i:i+1] + "B"
}

// Problem draws an error page after dst.
func (p *Renderer) Problem(dst []byte, pr Problem) ([]byte, error) {
	title := problemWords[pr.Status]
	if title == "" {
		title = pr.Title
	}
	return p.draw(dst, "problem", frame{Root: service.Relative(pr.Path, ""), Title: title, Body: pr})
}

func (p *Renderer) draw(dst []byte, name string, f frame) ([]byte, error) {
	f.Site = p.site
	if f.Root == "" {
		f.Root = "./"
	}
	b := bytes.NewBuffer(dst)
	if err := p.set.ExecuteTemplate(b, name, f); err != nil {
		return dst, fmt.Errorf("page %s: %w", name, err)
	}
	return b.Bytes(), nil
}

// readable is an address as people write it.
func readable(path string) string {
	if p, err := url.PathUnescape(path); err == nil && utf8.ValidString(p) {
		return p
	}
	return path
}

// count writes a number with thin spaces between thousands.
func count(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

// licenceName reads the usual form of the addresses of Creative Commons licences
// (https://creativecommons.org/licenses/by-sa/4.0/); others are their own names.
func licenceName(iri string) string {
	rest, ok := strings.CutPrefix(strings.TrimPrefix(iri, "https:"), "//creativecommons.org/")
	if !ok {
		rest, ok = strings.CutPrefix(iri, "http://creativecommons.org/")
	}
	parts := strings.Split(rest, "/")
	if !ok || len(parts) < 3 {
		return iri
	}
	switch {
	case parts[0] == "licenses":
		return "CC " + strings.ToUpper(parts[1]) + " " + parts[2]
	case parts[0] == "publicdomain" && parts[1] == "zero":
		return "CC0 " + parts[2]
	case parts[0] == "publicdomain" && parts[1] == "mark":
		return "Public Domain Mark " + parts[2]
	}
	return iri
}
