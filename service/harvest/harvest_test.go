package harvest

import (
	"context"
	"encoding/xml"
	"errors"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/service/store/sqlite"
	"ropewalk/service/store/storetest"
)

// response is what a harvester reads.
type response struct {
	XMLName      xml.Name `xml:"http://www.openarchives.org/OAI/2.0/ OAI-PMH"`
	ResponseDate string   `xml:"responseDate"`
	Request      struct {
		Attrs []xml.Attr `xml:",any,attr"`
		Text  string     `xml:",chardata"`
	} `xml:"request"`
	Errors []struct {
		Code string `xml:"code,attr"`
		Text string `xml:",chardata"`
	} `xml:"error"`
	Identify *struct {
		RepositoryName    string   `xml:"repositoryName"`
		BaseURL           string   `xml:"baseURL"`
		ProtocolVersion   string   `xml:"protocolVersion"`
		AdminEmail        []string `xml:"adminEmail"`
		EarliestDatestamp string   `xml:"earliestDatestamp"`
		DeletedRecord     string   `xml:"deletedRecord"`
		Granularity       string   `xml:"granularity"`
		Compression       []string `xml:"compression"`
		Description       []struct {
			XML string `xml:",innerxml"`
		} `xml:"description"`
	} `xml:"Identify"`
	Formats []struct {
		Prefix    string `xml:"metadataPrefix"`
		Schema    string `xml:"schema"`
		Namespace string `xml:"metadataNamespace"`
	} `xml:"ListMetadataFormats>metadataFormat"`
	Sets *struct {
		Sets []struct {
			Spec string `xml:"setSpec"`
			Name string `xml:"setName"`
			XML  string `xml:"setDescription"`
		} `xml:"set"`
	} `xml:"ListSets"`
	GetRecord       *list `xml:"GetRecord"`
	ListRecords     *list `xml:"ListRecords"`
	ListIdentifiers *list `xml:"ListIdentifiers"`
}

type list struct {
	Records []record `xml:"record"`
	Headers []header `xml:"header"`
	Token   *struct {
		Text    string `xml:",chardata"`
		Size    string `xml:"completeListSize,attr"`
		Cursor  string `xml:"cursor,attr"`
		Expires string `xml:"expirationDate,attr"`
	} `xml:"resumptionToken"`
}

type record struct {
	Header   header `xml:"header"`
	Metadata *struct {
		XML string `xml:",innerxml"`
	} `xml:"metadata"`
}

type header struct {
	Status     string   `xml:"status,attr"`
	Identifier string   `xml:"identifier"`
	Datestamp  string   `xml:"datestamp"`
	Sets       []string `xml:"setSpec"`
}

func (r *response) codes() string {
	var out []string
	for _, e := range r.Errors {
		out = append(out, e.Code)
	}
	return strings.Join(out, " ")
}

func (r *response) list() *list {
	if r.ListRecords != nil {
		return r.ListRecords
	}
	return r.ListIdentifiers
}

const day = "2031-05-06"

// site is that of the tests; its base is the one of package storetest.
var site = service.Site{
	Base: storetest.Base, Title: "A museum & its <things>", Publisher: "A museum", Licence: "https://creativecommons.org/publicdomain/zero/1.0/",
	Email: "registrar@museum.example", About: "What is there.",
	Sets: []service.Set{{Spec: "a", Name: "All of it", About: "A & more."}, {Spec: "a:b", Name: "Part of it"}, {Spec: "d:e:f", Name: "Deep down"}, {Spec: "empty", Name: "None"}},
}

var errUnfit = errors.New("it does not fit")

// words is a format of the tests: the record's note, unless it says that the record
// does not fit.
func words(prefix string, endpoints ...string) Format {
	return Format{Prefix: prefix, Schema: "https://museum.example/" + prefix + ".xsd", Namespace: "https://museum.example/" + prefix, Endpoints: endpoints,
		Append: func(dst []byte, r *service.Record, doc *entity.Document) ([]byte, error) {
			if doc.IRI() != r.IRI {
				return dst, errors.New("another document")
			}
			dst = append(dst, `<w xmlns="https://museum.example/`+prefix+`">`...)
			if strings.Contains(r.Label, "unfit") {
				return append(dst, "<half"...), errUnfit
			}
			return append(appendText(dst, r.Label), "</w>\n"...), nil
		}}
}

func dc() Format {
	f := words("oai_dc")
	f.Schema, f.Namespace = "http://www.openarchives.org/OAI/2.0/oai_dc.xsd", "http://www.openarchives.org/OAI/2.0/oai_dc/"
	f.Append = func(dst []byte, r *service.Record, _ *entity.Document) ([]byte, error) {
		dst = append(dst, `<oai_dc:dc xmlns:oai_dc="http://www.openarchives.org/OAI/2.0/oai_dc/" xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>`...)
		return append(appendText(dst, r.Label), "</dc:title></oai_dc:dc>\n"...), nil
	}
	return f
}

// rec is a record that can be read as a document; its label is the text.
func rec(path, text string, sets ...string) *service.Record {
	endpoint, _, _ := strings.Cut(path, "/")
	class := map[string]string{"object": "HumanMadeObject", "place": "Place", "person": "Person"}[endpoint]
	return &service.Record{IRI: storetest.Base + path, Path: path, State: service.Live, Class: class, Endpoint: endpoint, Label: text, Sets: sets,
		Body: []byte(`{"@context":"https://linked.art/ns/v1/linked-art.json","id":"` + storetest.Base + path + `","type":"` + class + `","_label":"` + text + `"}`)}
}

// bench is a store with a provider before it and a clock.
type bench struct {
	testing.TB
	store service.Store
	clock time.Time
	o     Options
	p     *Provider
}

func newBench(t testing.TB) *bench {
	b := &bench{TB: t, clock: time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)}
	s, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(func() time.Time { return b.clock }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	b.store = s
	b.o = Options{Store: s, Site: site, Address: storetest.Base + "harvest", Now: func() time.Time { return b.clock },
		Formats: []Format{RDF(), dc(), words("words"), words("objects", "object")}}
	b.remake()
	return b
}

// remake makes a provider anew from the options, as after a restart.
func (b *bench) remake() {
	b.Helper()
	p, err := New(b.o)
	if err != nil {
		b.Fatal(err)
	}
	b.p = p
}

// publish makes a publication of exactly these records, and a minute pass.
func (b *bench) publish(records ...*service.Record) {
	b.Helper()
	storetest.Publish(b, b.store, records...)
	b.clock = b.clock.Add(time.Minute)
}

// text is the response to arguments as they are sent.
func (b *bench) text(arguments string) string {
	b.Helper()
	out, err := b.p.Append(context.Background(), []byte("before"), arguments)
	if err != nil {
		b.Fatalf("%s: %v", arguments, err)
	}
	text, ok := strings.CutPrefix(string(out), "before")
	if !ok {
		b.Fatal("what was there before is gone")
	}
	return text
}

func (b *bench) ask(arguments string) *response {
	b.Helper()
	return parse(b, b.text(arguments))
}

func parse(t testing.TB, text string) *response {
	t.Helper()
	r := new(response)
	d := xml.NewDecoder(strings.NewReader(text))
	if err := d.Decode(r); err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return r
}

// args writes arguments from names and values.
func args(pairs ...string) string {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v.Encode()
}

// FuzzArguments: whatever is sent, the response is XML that can be read, and it
// either has errors or is what the verb has to say.
func FuzzArguments(f *testing.F) {
	b := newBench(f)
	collection(b)
	b.o.Limits.Records = 1
	b.remake()
	for _, seed := range []string{"verb=Identify", "verb=ListRecords&metadataPrefix=rdf&from=2031-05-06&until=2031-05-06T00:00:00Z&set=a:b", "verb=GetRecord&identifier=oai:museum.example:coll/object/1&metadataPrefix=words",
		"verb=ListRecords&resumptionToken=" + b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token.Text, "verb=ListSets&%zz", "verb=\xff&\x00=<&>"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, arguments string) {
		out, err := b.p.Append(context.Background(), nil, arguments)
		if err != nil {
			t.Fatal(err)
		}
		r := parse(t, string(out))
		said := r.Identify != nil || r.Formats != nil || r.Sets != nil || r.GetRecord != nil || r.list() != nil
		if said == (len(r.Errors) > 0) {
			t.Fatalf("%s", out)
		}
	})
}
