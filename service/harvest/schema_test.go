package harvest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/service"
)

// published is the folder of the published schemas.
func published(t testing.TB) string {
	shared := os.Getenv("ROPEWALK_SHARED")
	if shared == "" {
		shared, _ = filepath.Abs("../../../shared")
	}
	dir := filepath.Join(shared, "standards", "oai-pmh")
	_, err := os.Stat(filepath.Join(dir, "OAI-PMH.xsd"))
	_, tool := exec.LookPath("xmllint")
	if err != nil || tool != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the published schemas and xmllint are needed: %v %v", err, tool)
		}
		t.Skip("NOT TESTED: responses against the published schemas, which are not there, or xmllint is not")
	}
	return dir
}

// lax is a schema for whatever element of a namespace: of formats without a published
// XML Schema for all that they can hold.
const lax = `<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="%s">
<xs:element name="%s"><xs:complexType mixed="true"><xs:sequence><xs:any processContents="skip" minOccurs="0" maxOccurs="unbounded"/></xs:sequence><xs:anyAttribute processContents="skip"/></xs:complexType></xs:element>
</xs:schema>`

// validate checks responses by the published schemas, offline, all in one run.
func validate(t testing.TB, responses []string) {
	dir := published(t)
	tmp := t.TempDir()
	driver := `<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema">`
	add := func(namespace, location string) {
		driver += `<xs:import namespace="` + namespace + `" schemaLocation="` + location + `"/>`
	}
	const oai = "http://www.openarchives.org/OAI/2.0/"
	for ns, file := range map[string]string{oai: "OAI-PMH.xsd", oai + "oai-identifier": "oai-identifier.xsd", oai + "rights/": "rightsManifest.xsd", oai + "oai_dc/": "oai_dc.xsd"} {
		add(ns, "file://"+filepath.Join(dir, file))
	}
	for i, e := range [][2]string{{"http://www.w3.org/1999/02/22-rdf-syntax-ns#", "RDF"}, {"https://museum.example/words", "w"}, {"https://museum.example/objects", "w"}} {
		name := filepath.Join(tmp, fmt.Sprintf("lax%d.xsd", i))
		if err := os.WriteFile(name, fmt.Appendf(nil, lax, e[0], e[1]), 0o600); err != nil {
			t.Fatal(err)
		}
		add(e[0], name)
	}
	schema := filepath.Join(tmp, "driver.xsd")
	if err := os.WriteFile(schema, []byte(driver+"</xs:schema>"), 0o600); err != nil {
		t.Fatal(err)
	}
	argv := []string{"--nonet", "--noout", "--schema", schema}
	for i, r := range responses {
		name := filepath.Join(tmp, fmt.Sprintf("%04d.xml", i))
		if err := os.WriteFile(name, []byte(r), 0o600); err != nil {
			t.Fatal(err)
		}
		argv = append(argv, name)
	}
	cmd := exec.Command("xmllint", argv...)
	cmd.Env = append(os.Environ(), "XML_CATALOG_FILES="+filepath.Join(dir, "..", "catalog.xml"))
	out, err := cmd.CombinedOutput()
	if n := bytes.Count(out, []byte(" validates\n")); err != nil || n != len(responses) {
		t.Errorf("%d of %d responses validate: %v\n%s", n, len(responses), err, out)
		for i, r := range responses {
			if bytes.Contains(out, fmt.Appendf(nil, "%04d.xml fails", i)) || bytes.Contains(out, fmt.Appendf(nil, "%04d.xml:", i)) {
				t.Logf("%04d.xml\n%s", i, r)
				break
			}
		}
	}
}

// TestResponsesValidate: every kind of response, and those to whatever a stranger may
// send.
func TestResponsesValidate(t *testing.T) {
	b := newBench(t)
	responses := []string{b.text("verb=Identify"), b.text("verb=ListRecords&metadataPrefix=rdf"), b.text("verb=ListSets")}
	collection(b)
	b.publish(rec("object/%C3%96&a'(1)", `<&>' é`, "a"), rec("object/1", "one", "a:b"))
	b.o.Limits.Records, b.o.Limits.Headers = 2, 2
	for _, with := range []service.Site{site, {Base: "http://127.0.0.1:8080/"}, {Base: "https://x.example/", Sets: site.Sets[:1], Licence: "https://licence.example/?a&b"}} {
		b.o.Site = with
		b.remake()
		for _, q := range []string{
			"verb=Identify", "verb=ListSets", "verb=ListMetadataFormats", "verb=ListMetadataFormats&identifier=" + b.p.stem + "object/1",
			"verb=ListMetadataFormats&identifier=" + b.p.stem + "object/2", "", "verb=%00", "verb=Identify&verb=Identify", "verb=ListRecords&resumptionToken=%00%FF%3C",
			"verb=GetRecord", "verb=GetRecord&metadataPrefix=rdf&identifier=" + b.p.stem + "object/%2525C3%252596%26a%27(1)", "verb=GetRecord&metadataPrefix=%22&identifier=a%20b",
			"verb=ListRecords&metadataPrefix=rdf&set=none", "verb=ListRecords&metadataPrefix=rdf&until=0001-01-01", "verb=ListIdentifiers&metadataPrefix=none",
			"verb=ListRecords&metadataPrefix=rdf&from=" + day + "&until=" + day + "&set=a:b", "verb=%EF%BF%BF%F4%8F%BF%BF%ED%A0%80", "verb=Identify&a=%01",
		} {
			responses = append(responses, b.text(q))
		}
		for _, i := range []string{"oai:a", "urn:x:%25", "x:?#a", "x:/", "x://", "x:%2525", "http://[::1]/", "x:'()*!~", "http://a:99999999/", "http://a:b/", "http://a@b@c/", "x:#", "x:?", "a1+-.:b", "http://%25zz/", "x://:80", "x:a:b", "http:///", "mailto:a@b;c", "http://a:0x1/", "http://:@/", "http://a%25/", "http://%40@a:1", "1:a", ":a", "a:"} {
			responses = append(responses, b.text(args("verb", "GetRecord", "metadataPrefix", "rdf", "identifier", i)))
		}
		for i := 0x20; i < 0x7f; i++ {
			responses = append(responses, b.text(args("verb", "ListMetadataFormats", "identifier", "x:a"+string(rune(i))+"b")))
			responses = append(responses, b.text(args("verb", "ListRecords", "metadataPrefix", string(rune(i)), "set", string(rune(i)))))
		}
		for _, prefix := range []string{"rdf", "oai_dc", "words", "objects"} {
			for _, verb := range tokenVerbs {
				for q := args("verb", verb, "metadataPrefix", prefix); q != ""; {
					text := b.text(q)
					responses = append(responses, text)
					l := parse(t, text).list()
					if q = ""; l != nil && l.Token != nil && l.Token.Text != "" {
						q = args("verb", verb, "resumptionToken", l.Token.Text)
					}
				}
			}
		}
	}
	if len(responses) < 700 || !strings.Contains(strings.Join(responses, ""), `status="deleted"`) {
		t.Fatalf("only %d responses", len(responses))
	}
	validate(t, responses)
	t.Logf("%d responses validate", len(responses))
}
