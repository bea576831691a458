package conformance

import (
	"bufio"
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"ropewalk/conformance/outside"
)

// served is the demonstration, published twice by the real program and served by it.
type served struct {
	t       testing.TB
	program string
	dir     string
	base    string // of IRIs
	address string // of the server, with a slash at its end
}

// serveDemo publishes the demonstration, changes three of its objects (one other title,
// two gone, one of them withdrawn with a reason), publishes again, and serves it.
func serveDemo(t testing.TB) *served {
	t.Helper()
	s := &served{t: t, program: filepath.Join(t.TempDir(), "ropewalk"), dir: filepath.Join(t.TempDir(), "site"), base: "https://data.marrowhythe-museum.example/"}
	build := exec.Command("go", "build", "-o", s.program, "../cmd/ropewalk")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	s.run("init", s.dir)
	s.run("publish", s.dir)
	objects := filepath.Join(s.dir, "data", "objects.csv")
	data, err := os.ReadFile(objects)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(data), "Octant of the brig", "Quadrant of the brig", 1)
	lines := strings.SplitAfter(text, "\n")
	lines = slices.DeleteFunc(lines, func(l string) bool { return strings.HasPrefix(l, "1908.3.2,") || strings.HasPrefix(l, "1908.3.3,") })
	if text == string(data) || len(lines) != strings.Count(text, "\n")+1-2 {
		t.Fatal("the demonstration is not as it was")
	}
	if err := os.WriteFile(objects, []byte(strings.Join(lines, "")), 0o666); err != nil {
		t.Fatal(err)
	}
	s.run("publish", s.dir, "--allow-withdrawals", "10")
	cmd := exec.Command(s.program, "serve", s.dir, "--listen", "127.0.0.1:0")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Signal(syscall.SIGINT)
		if err := cmd.Wait(); err != nil {
			t.Errorf("the server: %v", err)
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	m := regexp.MustCompile(`http://127\.0\.0\.1:\d+/`).FindString(line)
	if err != nil || m == "" {
		t.Fatalf("%v: %q", err, line)
	}
	s.address = m
	return s
}

func (s *served) run(args ...string) {
	s.t.Helper()
	cmd := exec.Command(s.program, args...)
	if out, err := cmd.CombinedOutput(); err != nil {
		s.t.Fatalf("ropewalk %s: %v\n%s", strings.Join(args, " "), err, out)
	}
}

// get fetches an address: below the server's, or below the site's base, which the
// server stands for. Headers are "Name: value".
func (s *served) get(target string, headers ...string) (*http.Response, []byte) {
	s.t.Helper()
	target = s.address + strings.TrimPrefix(strings.TrimPrefix(target, s.base), "/")
	r, err := http.NewRequest("GET", target, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	answer, err := noFollow.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatalf("%s: %v", target, err)
	}
	return answer, body
}

var noFollow = &http.Client{Timeout: time.Minute, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

// TestServed holds what the real server gives to those who take the whole against the
// published standards.
func TestServed(t *testing.T) {
	if !outside.Long() {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	s := serveDemo(t)
	t.Run("harvest", func(t *testing.T) { servedHarvest(t, s) })
	t.Run("dataset", func(t *testing.T) { servedDataset(t, s) })
	t.Run("links", func(t *testing.T) { servedLinks(t, s) })
}

// oaiResponse is as much of a response as the walk needs.
type oaiResponse struct {
	Errors []struct {
		Code string `xml:"code,attr"`
	} `xml:"error"`
	Formats []string `xml:"ListMetadataFormats>metadataFormat>metadataPrefix"`
	Sets    []string `xml:"ListSets>set>setSpec"`
	Records []struct {
		Header   oaiHeader `xml:"header"`
		Metadata *struct {
			XML []byte `xml:",innerxml"`
		} `xml:"metadata"`
	} `xml:"ListRecords>record"`
	Headers []oaiHeader `xml:"ListIdentifiers>header"`
	Tokens  []string    `xml:"ListRecords>resumptionToken"`
	Tokens2 []string    `xml:"ListIdentifiers>resumptionToken"`
}

type oaiHeader struct {
	Status     string `xml:"status,attr"`
	Identifier string `xml:"identifier"`
	Datestamp  string `xml:"datestamp"`
}

// servedHarvest validates every response of a full and an incremental harvest in all
// formats and sets, of all verbs, and of all errors; and holds the graphs of what is
// harvested as RDF against those of the records' own addresses.
func servedHarvest(t *testing.T, s *served) {
	responses := map[string][][]byte{} // by the format that they may hold
	var asked []string
	ask := func(format, query string) *oaiResponse {
		t.Helper()
		answer, body := s.get("harvest?" + query)
		if answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/xml; charset=utf-8" {
			t.Fatalf("%s: %s %v", query, answer.Status, answer.Header)
		}
		responses[format] = append(responses[format], body)
		asked = append(asked, query)
		r := new(oaiResponse)
		if err := xml.Unmarshal(body, r); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
		return r
	}
	const plain = "oai_dc" // what holds no metadata, or descriptions in Dublin Core
	formats, sets := ask(plain, "verb=ListMetadataFormats").Formats, ask(plain, "verb=ListSets").Sets
	if !slices.Equal(slices.Sorted(slices.Values(formats)), []string{"edm", "lido", "oai_dc", "rdf"}) || len(sets) < 4 {
		t.Fatalf("%v %v", formats, sets)
	}
	ask(plain, "verb=Identify")

	var latest string // datestamp of the second publication
	var identifiers []string
	texts := map[string]map[string][]byte{}
	harvest := func(verb, format, more string) (records, deleted int) {
		for query := "verb=" + verb + "&metadataPrefix=" + format + more; query != ""; {
			r := ask(format, query)
			query = ""
			for _, token := range append(r.Tokens, r.Tokens2...) {
				if token != "" {
					query = "verb=" + verb + "&resumptionToken=" + url.QueryEscape(token)
				}
			}
			headers := r.Headers
			for _, rec := range r.Records {
				headers = append(headers, rec.Header)
				if rec.Metadata != nil && more == "" {
					texts[format][rec.Header.Identifier] = bytes.TrimSpace(rec.Metadata.XML)
				}
			}
			for _, h := range headers {
				latest = max(latest, h.Datestamp)
				if records++; h.Status != "" {
					deleted++
				}
				if format == "rdf" && verb == "ListIdentifiers" && more == "" {
					identifiers = append(identifiers, h.Identifier)
				}
			}
			for _, e := range r.Errors {
				if e.Code != "noRecordsMatch" {
					t.Errorf("%s: %s", query, e.Code)
				}
			}
		}
		return records, deleted
	}
	least := map[string]int{"rdf": 300, "oai_dc": 300, "lido": 65, "edm": 60}
	for _, format := range formats {
		texts[format] = map[string][]byte{}
		for _, verb := range []string{"ListRecords", "ListIdentifiers"} {
			n, gone := harvest(verb, format, "")
			outside.AtLeast(t, verb+" in "+format, n, least[format])
			outside.AtLeast(t, verb+" in "+format+", deleted", gone, 2)
			for _, set := range sets {
				harvest(verb, format, "&set="+set)
			}
			n, gone = harvest(verb, format, "&from="+latest)
			outside.AtLeast(t, verb+" in "+format+", changed since", n-gone, 1)
			outside.AtLeast(t, verb+" in "+format+", deleted since", gone, 2)
			if n > 100 {
				t.Errorf("%s in %s: %d records since the second publication", verb, format, n)
			}
			for _, more := range []string{"&from=" + latest[:10], "&until=" + latest, "&from=" + latest[:10] + "&until=" + latest[:10] + "&set=objects", "&from=2999-01-01", "&until=1999-01-01"} {
				harvest(verb, format, more)
			}
		}
	}
	outside.AtLeast(t, "identifiers", len(identifiers), 300)
	for i, id := range identifiers {
		if i%16 == 0 || outside.Long() || strings.HasSuffix(id, "/1908.3.2") {
			ask(plain, "verb=ListMetadataFormats&identifier="+url.QueryEscape(id))
			for _, format := range formats {
				ask(format, "verb=GetRecord&metadataPrefix="+format+"&identifier="+url.QueryEscape(id))
			}
		}
	}
	codes := map[string]bool{}
	for _, query := range []string{
		"", "verb=", "verb=Sing", "verb=Identify&verb=Identify", "verb=Identify&x=%3C%26%22", "verb=GetRecord", "verb=GetRecord&metadataPrefix=rdf&identifier=a%20b",
		"verb=GetRecord&metadataPrefix=none&identifier=oai:data.marrowhythe-museum.example:object/none", "verb=GetRecord&metadataPrefix=edm&identifier=oai:data.marrowhythe-museum.example:group/museum",
		"verb=ListRecords", "verb=ListRecords&metadataPrefix=none", "verb=ListRecords&metadataPrefix=rdf&from=yesterday", "verb=ListRecords&metadataPrefix=rdf&from=2031-01-02&until=2031-01-01",
		"verb=ListIdentifiers&metadataPrefix=rdf&from=2031-01-01&until=2031-01-01T00:00:00Z", "verb=ListRecords&resumptionToken=none", "verb=ListRecords&resumptionToken=none&metadataPrefix=rdf",
		"verb=ListSets&resumptionToken=none", "verb=ListRecords&metadataPrefix=rdf&set=none", "verb=ListRecords&metadataPrefix=rdf&set=%3A", "verb=ListMetadataFormats&identifier=oai:none:1",
		"verb=ListMetadataFormats&identifier=oai:data.marrowhythe-museum.example:object/1908.3.2", "%zz", "verb=%00%FF", "verb=ListRecords&metadataPrefix=%22%3E&until=%EF%BF%BF",
	} {
		for _, e := range ask(plain, query).Errors {
			codes[e.Code] = true
		}
	}
	for _, code := range []string{"badArgument", "badResumptionToken", "badVerb", "cannotDisseminateFormat", "idDoesNotExist", "noRecordsMatch", "noMetadataFormats"} {
		if !codes[code] { // noSetHierarchy is what sites without sets say
			t.Errorf("no response has the error %s", code)
		}
	}
	total := 0
	for format, list := range responses {
		var faults map[int]string
		switch format {
		case "edm":
			faults = outside.XMLSchema(t, "oai-pmh/driver-edm.xsd", list)
		case "rdf":
			// There is no XML Schema of RDF/XML: the graphs are read below.
			faults = outside.XMLSchemaText(t, `<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"><xs:import namespace="http://www.openarchives.org/OAI/2.0/" schemaLocation="file://`+
				outside.Shared(t, "standards", "oai-pmh", "OAI-PMH.xsd")+`"/><xs:import namespace="`+rdfNS+`" schemaLocation="rdf.xsd"/></xs:schema>`,
				map[string]string{"rdf.xsd": `<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="` + rdfNS + `"><xs:element name="RDF"><xs:complexType><xs:sequence>` +
					`<xs:any processContents="skip" minOccurs="0" maxOccurs="unbounded"/></xs:sequence></xs:complexType></xs:element></xs:schema>`}, list)
		default:
			faults = outside.XMLSchema(t, "oai-pmh/driver-oai_dc-lido.xsd", list)
		}
		for i, f := range faults {
			t.Errorf("%s: %s\n%.1500s", format, f, list[i])
		}
		total += len(list)
	}
	outside.AtLeast(t, "responses", total, 200)
	t.Logf("%d responses to %d requests validate", total, len(asked))
	servedGraphs(t, s, texts)
}

// servedGraphs has RDF that was harvested read by readers of other people, and compares
// with the graph at the record's own address.
func servedGraphs(t *testing.T, s *served, texts map[string]map[string][]byte) {
	readers := []*outside.Reader{outside.RDFLib(t), outside.Rapper(t)}
	compared := 0
	for format, suffix := range map[string]string{"rdf": ".nt", "edm": ".edm.xml"} {
		var reqs, own []outside.Request
		for i, id := range slices.Sorted(mapsKeys(texts[format])) {
			if i%8 != 0 && !outside.Long() {
				continue
			}
			path := strings.TrimPrefix(id, "oai:data.marrowhythe-museum.example:")
			answer, body := s.get(path + suffix)
			if answer.StatusCode != 200 {
				t.Errorf("%s%s: %s", path, suffix, answer.Status)
				continue
			}
			reqs = append(reqs, outside.Request{Syntax: outside.RDFXML, Base: s.base + path, Text: texts[format][id]})
			syntax := outside.NTriples
			if suffix != ".nt" {
				syntax = outside.RDFXML
			}
			own = append(own, outside.Request{Syntax: syntax, Base: s.base + path, Text: body})
		}
		for _, r := range readers {
			harvested, direct := r.Read(reqs), r.Read(own)
			for i := range reqs {
				if harvested[i].Err != nil || direct[i].Err != nil {
					t.Errorf("%s: %s: %v, %v", r.Name, reqs[i].Base, harvested[i].Err, direct[i].Err)
					continue
				}
				a, err := outside.Canonical(harvested[i].Quads)
				if err != nil {
					t.Fatal(err)
				}
				b, err := outside.Canonical(direct[i].Quads)
				if err != nil {
					t.Fatal(err)
				}
				if a != b || len(harvested[i].Quads) < 4 {
					t.Errorf("%s: %s in %s: %s", r.Name, reqs[i].Base, format, outside.Difference(b, a))
				}
				compared++
			}
		}
	}
	outside.AtLeast(t, "graphs compared", compared, 80)
}

func mapsKeys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// servedDataset has dataset.py read the description of the whole and recompute it from
// the files.
func servedDataset(t *testing.T, s *served) {
	outside.RDFLib(t) // that it is there
	cmd := exec.Command("/usr/bin/python3", "dataset.py", s.address, s.base)
	out, err := cmd.Output()
	if err != nil {
		var stderr []byte
		if exit, ok := err.(*exec.ExitError); ok {
			stderr = exit.Stderr
		}
		t.Fatalf("%v\n%s%s", err, out, stderr)
	}
	var r struct {
		Faults []string
		Counts map[string]int
	}
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, f := range r.Faults {
		t.Error(f)
	}
	t.Logf("%v", r.Counts)
	for what, least := range map[string]int{"files": 10, "triples": 12000, "documents": 300, "partitions": 60, "ranges": 10, "urls": 300, "descriptions": 4, "jsonld": 300, "lido": 60} {
		outside.AtLeast(t, what, r.Counts[what], least)
	}
}

// servedLinks: FAIR Signposting, level 1 (https://signposting.org/FAIR/): a landing page
// has cite-as, describedby, type of AboutPage and of the thing, license; what describes it
// leads back with describes; and the targets are there. And the page's schema.org is JSON-LD
// that names the record.
func servedLinks(t *testing.T, s *served) {
	link := regexp.MustCompile(`<([^>]*)>; rel="([a-z-]+)"((?:; [a-z]+="[^"]*")*)`)
	script := regexp.MustCompile(`(?s)<script type="application/ld\+json">(.*?)</script>`)
	checked := 0
	for _, path := range []string{"object/1926.17", "object/1908.3.1", "group/museum", "person/1"} {
		answer, page := s.get(path, "Accept: text/html")
		if answer.StatusCode == 404 {
			continue
		}
		rels := map[string][]string{}
		for _, m := range link.FindAllStringSubmatch(strings.Join(answer.Header["Link"], ", "), -1) {
			rels[m[2]] = append(rels[m[2]], m[1])
			if m[2] != "describedby" {
				continue
			}
			checked++
			u, err := url.Parse(s.base + path)
			if err != nil {
				t.Fatal(err)
			}
			if u, err = u.Parse(m[1]); err != nil {
				t.Fatal(err)
			}
			other, body := s.get(u.String())
			want := regexp.MustCompile(`type="([^"]*)"`).FindStringSubmatch(m[3])
			if got, _, _ := strings.Cut(other.Header.Get("Content-Type"), ";"); other.StatusCode != 200 || want == nil || got != want[1] || len(body) == 0 {
				t.Errorf("%s: %s leads to %s of type %q", path, m[0], other.Status, got)
			}
			if !strings.Contains(strings.Join(other.Header["Link"], ", "), `<`+s.base+path+`>; rel="describes"`) {
				t.Errorf("%s does not lead back to the landing page", m[1])
			}
		}
		if !slices.Equal(rels["cite-as"], []string{s.base + path}) || len(rels["describedby"]) < 3 || len(rels["license"]) != 1 ||
			!slices.Contains(rels["type"], "https://schema.org/AboutPage") || len(rels["type"]) < 2 || len(rels["collection"]) != 1 {
			t.Errorf("%s: %v", path, rels)
		}
		found := false
		for _, m := range script.FindAllSubmatch(page, -1) {
			var node map[string]any
			if err := json.Unmarshal(m[1], &node); err != nil {
				t.Errorf("%s: schema.org: %v\n%s", path, err, m[1])
				continue
			}
			found = found || node["@context"] == "https://schema.org" && node["@id"] == s.base+path
			if again, served := s.get(path + ".schemaorg.json"); again.StatusCode != 200 || !bytes.Equal(bytes.TrimSpace(served), bytes.TrimSpace(m[1])) {
				var other map[string]any
				if err := json.Unmarshal(served, &other); err != nil || fmt.Sprint(other) != fmt.Sprint(node) {
					t.Errorf("%s: the page's schema.org is not that of %s.schemaorg.json", path, path)
				}
			}
		}
		if !found {
			t.Errorf("%s: the page has no schema.org of it", path)
		}
	}
	outside.AtLeast(t, "descriptions", checked, 8)
}
