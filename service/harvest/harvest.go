// Package harvest is a data provider of the Open Archives Initiative Protocol for
// Metadata Harvesting, version 2.0 (http://www.openarchives.org/OAI/openarchivesprotocol.html;
// "§" in this package means a section of it). It knows no HTTP: [Provider.Append]
// takes the arguments of a request as they were sent and makes the response.
//
// # Items and their identifiers
//
// Each record of the site is an item. Its identifier is oai:{host}:{path}, of the host
// of the site's base and the path of the record's URI (the scheme of the OAI identifier
// guidelines), or the URI itself if the base's host is not a domain name or has a port.
//
// # Lists
//
// A list is a selection of the store in the order of changes ([service.Selection]).
// Whoever follows it to its end while publications land has the records as they are
// at the end. Records that were withdrawn or moved stay in it as deleted. So do those
// that a copy may hold although they are not in the list any more: one that left the
// set asked for, or whose new version cannot fill the format. The header of one that
// left a set names the sets that it was in from then on.
//
// # Resumption tokens
//
// A token carries the whole state of its list, signed with a key that is kept in
// the store (see [Prepare]): any replica continues the list of another, before and
// after restarts. Tokens expire; one that was altered, or comes from another store,
// is refused.
package harvest

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
	"ropewalk/service"
)

// Format is a metadata format (§3.4).
type Format struct {
	Prefix    string
	Schema    string // address of its XML Schema
	Namespace string // of its root element
	Always    bool   // every record can fill it

	// Endpoints are those whose records can be had in the format; nil for all.
	Endpoints []string

	// Append appends the record's metadata: one element, which declares the
	// namespaces that it uses. An error means that the record cannot fill the
	// format.
	Append func(dst []byte, rec *service.Record, doc *entity.Document) ([]byte, error)
}

// covers reports whether the format is offered for an endpoint at all.
func (f *Format) covers(endpoint string) bool {
	for _, e := range f.Endpoints {
		if e == endpoint {
			return true
		}
	}
	return len(f.Endpoints) == 0
}

// RDF is the format that says all that the record says: its graph in RDF/XML.
func RDF() Format {
	f := render.FormatByName("rdf")
	pool := sync.Pool{New: func() any { return render.NewEncoder(f, render.Options{}) }}
	open := string(render.NewEncoder(f, render.Options{}).Header(nil))
	open = open[strings.Index(open, "<rdf:RDF"):] // without the XML declaration
	return Format{
		Prefix: "rdf", Schema: "http://www.openarchives.org/OAI/2.0/rdf.xsd", Namespace: "http://www.w3.org/1999/02/22-rdf-syntax-ns#", Always: true,
		Append: func(dst []byte, _ *service.Record, doc *entity.Document) ([]byte, error) {
			e := pool.Get().(*render.Encoder)
			defer pool.Put(e)
			dst, err := e.Append(append(dst, open...), doc)
			return e.Footer(dst), err
		},
	}
}

// View is the format that a view writes.
func View(v *view.View, c *view.Context) Format {
	return Format{Prefix: v.Prefix, Schema: v.Schema, Namespace: v.Namespace, Endpoints: v.Endpoints,
		Append: func(dst []byte, _ *service.Record, doc *entity.Document) ([]byte, error) {
			return v.Append(dst, doc, c)
		}}
}

// Limits are what one request can take. A field that is 0 has the value given here.
type Limits struct {
	Records  int           // in a response of ListRecords, 100
	Headers  int           // in a response of ListIdentifiers, 500
	Bytes    int           // of a response from which no further record is begun, 2 MiB
	Passed   int           // records that cannot fill the format, looked at for one response, 1,000
	TokenAge time.Duration // for which a resumption token is good, 3 days
}

func (l Limits) filled() Limits {
	for _, f := range []struct {
		v *int
		d int
	}{{&l.Records, 100}, {&l.Headers, 500}, {&l.Bytes, 2 << 20}, {&l.Passed, 1000}} {
		if *f.v == 0 {
			*f.v = f.d
		}
	}
	if l.TokenAge == 0 {
		l.TokenAge = 72 * time.Hour
	}
	return l
}

// Options are what a provider is made from.
type Options struct {
	Store   service.Store
	Site    service.Site
	Formats []Format // one of them has the prefix "oai_dc" (§3.4)
	Address string   // the provider's own, without arguments (§3.1.1.1)
	Limits  Limits
	Now     func() time.Time // time.Now if nil
}

// Provider answers harvesters. It is safe for concurrent use and keeps nothing
// between requests.
type Provider struct {
	store     service.Store
	site      service.Site
	formats   []Format
	address   string
	limits    Limits
	now       func() time.Time
	sets      []service.Set
	namespace string // of oai: identifiers; "" if URIs are the identifiers
	stem      string // what all identifiers begin with
	email     string
	documents sync.Pool
}

// New makes a provider. The site's base must be an absolute address that ends with
// a slash.
func New(o Options) (*Provider, error) {
	p := &Provider{store: o.Store, site: o.Site, formats: o.Formats, address: o.Address, limits: o.Limits.filled(), now: o.Now, email: o.Site.Email}
	p.documents.New = func() any { return new(entity.Document) }
	if p.now == nil {
		p.now = time.Now
	}
	u, err := url.Parse(o.Site.Base)
	if err != nil || u.Host == "" || !strings.HasSuffix(u.Path, "/") {
		return nil, service.Errorf(service.Invalid, "harvesting: the base %q is not an address that ends with a slash", o.Site.Base)
	}
	seen := map[string]bool{}
	for _, f := range p.formats {
		if !metadataPrefix.MatchString(f.Prefix) || f.Schema == "" || f.Namespace == "" || f.Append == nil || seen[f.Prefix] {
			return nil, service.Errorf(service.Invalid, "harvesting: the format %q is not complete or there twice", f.Prefix)
		}
		seen[f.Prefix] = true
	}
	if len(p.formats) == 0 {
		return nil, service.Errorf(service.Invalid, "harvesting: there is no format")
	}
	if p.sets, err = withParents(o.Site.Sets); err != nil {
		return nil, err
	}
	if domainName.MatchString(u.Host) {
		p.namespace = strings.ToLower(u.Host)
		p.stem = "oai:" + p.namespace + ":" + strings.TrimPrefix(u.EscapedPath(), "/")
	} else {
		p.stem = u.String()
	}
	if !emailAddress.MatchString(p.email) {
		p.email = webmaster(u.Hostname())
	}
	return p, nil
}

// webmaster is the mailbox that RFC 2142 §5 keeps for whoever looks after a host's
// HTTP service. A host that has no mail gets one that can never have any (RFC 6761
// §6.4).
func webmaster(host string) string {
	if !domainName.MatchString(host) {
		host = "unstated.invalid"
	}
	return "webmaster@" + host
}

var (
	// The patterns of the published schemas of responses and of OAI identifiers.
	metadataPrefix = regexp.MustCompile(`^[A-Za-z0-9\-_.!~*'()]+$`)
	setSpec        = regexp.MustCompile(`^[A-Za-z0-9\-_.!~*'()]+(:[A-Za-z0-9\-_.!~*'()]+)*$`)
	emailAddress   = regexp.MustCompile(`^\S+@(\S+\.)+\S+$`)
	domainName     = regexp.MustCompile(`^[a-zA-Z][a-zA-Z0-9\-]*(\.[a-zA-Z][a-zA-Z0-9\-]*)+$`)
)

// withParents adds the sets that others are in but that were not declared, each in
// front of the first set that is in it.
func withParents(sets []service.Set) ([]service.Set, error) {
	declared, out := map[string]bool{}, []service.Set(nil)
	for _, s := range sets {
		if !setSpec.MatchString(s.Spec) {
			return nil, service.Errorf(service.Invalid, "harvesting: %q is not the name of a set", s.Spec)
		}
		if declared[s.Spec] {
			return nil, service.Errorf(service.Invalid, "harvesting: the set %q is there twice", s.Spec)
		}
		declared[s.Spec] = true
	}
	for _, s := range sets {
		for i, c := range s.Spec {
			if parent := s.Spec[:i]; c == ':' && !declared[parent] {
				declared[parent] = true
				out = append(out, service.Set{Spec: parent, Name: parent})
			}
		}
		if s.Name == "" {
			s.Name = s.Spec
		}
		out = append(out, s)
	}
	return out, nil
}

// path is that of the item with an identifier.
func (p *Provider) path(identifier string) (string, bool) {
	rest, ok := strings.CutPrefix(identifier, p.stem)
	if !ok {
		return "", false
	}
	n, ok := service.NormalPath(rest)
	return n, ok && n == rest
}

func (p *Provider) format(prefix string) *Format {
	for i := range p.formats {
		if p.formats[i].Prefix == prefix {
			return &p.formats[i]
		}
	}
	return nil
}

// settling is how far responseDate is set back. A publication takes its time just
// before it is committed and is seen only after, which on a slow disk, or with a
// database that waits for its standby, is a matter of seconds; a harvester that goes
// on from the date of a response (as the implementation guidelines for harvesters want
// it) must not miss one that was between the two. Nor one that follows when a clock was
// put back, or made by a machine whose clock is behind, by no more than that. What was
// published in that time is harvested twice, which harms nobody.
const settling = time.Minute

// Append appends the response to a request whose arguments are given as they were
// sent, in the form application/x-www-form-urlencoded (§3.1.1). What is wrong with
// the request is part of the response; the error is that of a store that fails.
func (p *Provider) Append(ctx context.Context, dst []byte, arguments string) ([]byte, error) {
	from := len(dst)
	q := p.parse(arguments)
	dst = p.open(dst, &q)
	if len(q.faults) == 0 {
		body := len(dst)
		out, err := verbs[q.verb].answer(p, ctx, dst, &q)
		if err != nil {
			return dst[:from], fmt.Errorf("harvesting: %w", err)
		}
		if dst = out; len(q.faults) > 0 {
			dst = dst[:body]
		}
	}
	for _, f := range q.faults {
		dst = append(append(dst, `<error code="`...), f.code...)
		dst = append(appendText(append(dst, `">`...), f.text), "</error>\n"...)
	}
	return append(dst, "</OAI-PMH>\n"...), nil
}

const rootElement = `<?xml version="1.0" encoding="UTF-8"?>
<OAI-PMH xmlns="http://www.openarchives.org/OAI/2.0/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://www.openarchives.org/OAI/2.0/ http://www.openarchives.org/OAI/2.0/OAI-PMH.xsd">
<responseDate>`

// open appends the response up to what the verb has to say (§3.2). The request's
// arguments are repeated unless it was malformed.
func (p *Provider) open(dst []byte, q *request) []byte {
	dst = appendTime(append(dst, rootElement...), p.now().Add(-settling))
	dst = append(dst, "</responseDate>\n<request"...)
	malformed := false
	for _, f := range q.faults {
		malformed = malformed || f.code == badVerb || f.code == badArgument
	}
	if !malformed {
		for _, name := range argumentNames {
			if v, ok := q.args[name]; ok {
				dst = append(append(append(dst, ' '), name...), `="`...)
				dst = append(appendText(dst, v), '"')
			}
		}
	}
	dst = appendText(append(dst, '>'), p.address)
	return append(dst, "</request>\n"...)
}

const second = "2006-01-02T15:04:05Z"

func appendTime(dst []byte, t time.Time) []byte { return t.UTC().AppendFormat(dst, second) }

// appendText appends text as the content of an element or of an attribute in double
// quotes. What XML 1.0 cannot carry (§2.2 there) becomes U+FFFD.
func appendText(dst []byte, text string) []byte {
	for _, r := range text {
		switch {
		case r == '&':
			dst = append(dst, "&amp;"...)
		case r == '<':
			dst = append(dst, "&lt;"...)
		case r == '>':
			dst = append(dst, "&gt;"...)
		case r == '"':
			dst = append(dst, "&quot;"...)
		case r == '\t':
			dst = append(dst, "&#9;"...)
		case r == '\n':
			dst = append(dst, "&#10;"...)
		case r == '\r':
			dst = append(dst, "&#13;"...)
		case r < 0x20 || r == 0xfffe || r == 0xffff:
			dst = append(dst, "\ufffd"...)
		case r < 0x80:
			dst = append(dst, byte(r))
		default:
			dst = append(dst, string(r)...)
		}
	}
	return dst
}
