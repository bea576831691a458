package download

import (
	"bytes"
	"encoding/json"
	"net/url"
	"sort"
	"strconv"
	"strings"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/service"
)

// Namespaces of the description. SPDX is used as DCAT 3 §6.17 has it.
var namespaces = [...][2]string{
	{"crm", "http://www.cidoc-crm.org/cidoc-crm/"},
	{"dcat", "http://www.w3.org/ns/dcat#"},
	{"dcterms", "http://purl.org/dc/terms/"},
	{"foaf", "http://xmlns.com/foaf/0.1/"},
	{"rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#"},
	{"spdx", "http://spdx.org/rdf/terms#"},
	{"void", "http://rdfs.org/ns/void#"},
	{"xsd", "http://www.w3.org/2001/XMLSchema#"},
}

func full(curie string) string {
	prefix, local, _ := strings.Cut(curie, ":")
	for _, n := range namespaces {
		if n[0] == prefix {
			return n[1] + local
		}
	}
	panic("download: no namespace " + prefix)
}

// Description is the name of the dataset's description, without suffix. There is one
// in Turtle, N-Triples, RDF/XML and JSON-LD.
const Description = "description"

// mediaTypes is where DCAT wants media types to be (§6.8.5: the register of IANA).
const mediaTypes = "https://www.iana.org/assignments/media-types/"

// graph gathers triples.
type graph struct {
	triples []entity.Triple
	lang    string
}

func iri(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} }

func typed(value, datatype string) entity.RDFTerm {
	return entity.RDFTerm{Kind: entity.Literal, Value: value, Datatype: full(datatype)}
}

func number(n int64) entity.RDFTerm { return typed(strconv.FormatInt(n, 10), "xsd:integer") }

func (g *graph) add(s, p string, o entity.RDFTerm) {
	if o.Value != "" {
		g.triples = append(g.triples, entity.Triple{Subject: iri(s), Predicate: iri(full(p)), Object: o})
	}
}

func (g *graph) a(s string, classes ...string) {
	for _, c := range classes {
		g.add(s, "rdf:type", iri(full(c)))
	}
}

func (g *graph) text(s, p, text string) {
	g.add(s, p, entity.RDFTerm{Kind: entity.Literal, Value: text, Lang: g.lang})
}

// describe writes the description of a set as VoID (https://www.w3.org/TR/void/) and
// DCAT 3 (https://www.w3.org/TR/vocab-dcat-3/) have it.
func describe(dir string, site service.Site, set *Set) ([]File, error) {
	g := description(site, set)
	var out []File
	for _, name := range []string{"ttl", "nt", "rdf"} {
		f := render.FormatByName(name)
		var b bytes.Buffer
		w, err := render.NewTripleWriter(&b, f)
		if err != nil {
			return nil, err
		}
		for _, t := range g.triples {
			if err := w.Write(t); err != nil {
				return nil, err
			}
		}
		if err := w.Close(); err != nil {
			return nil, err
		}
		mediaType, _, _ := strings.Cut(f.MediaTypes[0], ";")
		file, err := write(dir, File{Name: Description + f.Suffix, Title: "Description, " + f.Title, MediaType: mediaType}, b.Bytes())
		if err != nil {
			return nil, err
		}
		out = append(out, file)
	}
	file, err := write(dir, File{Name: Description + ".jsonld", Title: "Description, JSON-LD", MediaType: "application/ld+json"}, g.jsonld())
	return append(out, file), err
}

// description is the graph of the description, subject by subject.
func description(site service.Site, set *Set) *graph {
	g := &graph{lang: site.Language}
	if g.lang == "" {
		g.lang = "en"
	}
	base := site.Base
	at := base
	if u, err := url.Parse(base); err == nil {
		at = u.String()
	}
	modified := typed(set.Time.UTC().Format(time.RFC3339), "xsd:dateTime")
	publisher := base + "#publisher"
	title := site.Title
	if title == "" {
		title = base
	}

	d := base
	g.a(d, "dcat:Dataset", "void:Dataset")
	g.text(d, "dcterms:title", title)
	g.text(d, "dcterms:description", site.About)
	if site.Publisher != "" {
		g.add(d, "dcterms:publisher", iri(publisher))
	}
	g.add(d, "dcterms:license", iri(site.Licence))
	g.add(d, "dcterms:modified", modified)
	g.add(d, "dcat:version", typed(strconv.FormatInt(set.Publication, 10), "xsd:string"))
	g.add(d, "dcat:landingPage", iri(at))
	g.add(d, "foaf:homepage", iri(at))
	g.add(d, "void:uriSpace", typed(base, "xsd:string"))
	g.add(d, "void:entities", number(set.Counts.Documents))
	g.add(d, "void:documents", number(set.Counts.Documents))
	g.add(d, "void:triples", number(set.Counts.Triples))
	g.add(d, "void:distinctSubjects", number(set.Counts.Subjects))
	g.add(d, "void:classes", number(int64(len(set.Counts.Classes))))
	g.add(d, "void:properties", number(int64(len(set.Counts.Properties))))
	for _, v := range vocabularies(set) {
		g.add(d, "void:vocabulary", iri(v))
	}
	var features []string
	for _, f := range set.Files {
		if f.Feature != "" {
			features = append(features, f.Feature)
		}
	}
	features = append(features, formatIRIs+"RDF_XML") // of the records
	for _, f := range unique(features) {
		g.add(d, "void:feature", iri(f))
	}
	for i := range set.Files {
		f := &set.Files[i]
		g.add(d, "dcat:distribution", iri(distribution(base, f)))
	}
	for i := range set.Files {
		if f := &set.Files[i]; f.Feature != "" {
			g.add(d, "void:dataDump", iri(at+"downloads/"+f.Name))
		}
	}
	for i, c := range set.Counts.Properties {
		g.add(d, "void:propertyPartition", iri(partition(base, "property", c.IRI, i)))
	}
	for i, c := range set.Counts.Classes {
		g.add(d, "void:classPartition", iri(partition(base, "class", c.IRI, i)))
	}

	if site.Publisher != "" {
		g.a(publisher, "foaf:Agent")
		g.text(publisher, "foaf:name", site.Publisher)
		g.add(publisher, "foaf:homepage", iri(site.Page))
	}
	for i := range set.Files {
		f := &set.Files[i]
		s := distribution(base, f)
		g.a(s, "dcat:Distribution")
		g.add(s, "dcterms:title", entity.RDFTerm{Kind: entity.Literal, Value: f.Title + ", " + strings.TrimPrefix(f.Packing, "application/"), Lang: "en"})
		g.add(s, "dcat:accessURL", iri(at+"downloads/"))
		g.add(s, "dcat:downloadURL", iri(at+"downloads/"+f.Name))
		g.add(s, "dcat:mediaType", iri(mediaTypes+f.MediaType))
		g.add(s, "dcat:compressFormat", iri(mediaTypes+f.Packing))
		g.add(s, "dcat:byteSize", typed(strconv.FormatInt(f.Bytes, 10), "xsd:nonNegativeInteger"))
		g.add(s, "dcterms:conformsTo", iri(f.Conforms))
		g.add(s, "dcterms:license", iri(site.Licence))
		g.add(s, "dcterms:modified", modified)
		sum := s + "-checksum"
		g.add(s, "spdx:checksum", iri(sum))
		g.a(sum, "spdx:Checksum")
		g.add(sum, "spdx:algorithm", iri(full("spdx:checksumAlgorithm_sha256")))
		g.add(sum, "spdx:checksumValue", typed(f.SHA256, "xsd:hexBinary"))
	}
	for _, s := range []struct{ path, title, standard string }{
		{"harvest", "Harvesting by OAI-PMH 2.0", "http://www.openarchives.org/OAI/openarchivesprotocol.html"},
		{"changes", "Stream of changes", "https://iiif.io/api/discovery/1.0/"},
	} {
		service := base + "#" + s.path
		g.a(service, "dcat:DataService")
		g.add(service, "dcterms:title", entity.RDFTerm{Kind: entity.Literal, Value: s.title, Lang: "en"})
		g.add(service, "dcat:endpointURL", iri(at+s.path))
		g.add(service, "dcterms:conformsTo", iri(s.standard))
		g.add(service, "dcat:servesDataset", iri(d))
	}
	for i, c := range set.Counts.Properties {
		s := partition(base, "property", c.IRI, i)
		g.add(s, "void:property", iri(c.IRI))
		g.add(s, "void:triples", number(c.N))
	}
	for i, c := range set.Counts.Classes {
		s := partition(base, "class", c.IRI, i)
		g.add(s, "void:class", iri(c.IRI))
		g.add(s, "void:entities", number(c.N))
	}
	doc := base + "#" + Description
	g.a(doc, "void:DatasetDescription")
	g.add(doc, "foaf:primaryTopic", iri(d))
	g.add(doc, "dcterms:modified", modified)
	return g
}

func distribution(base string, f *File) string {
	return base + "#" + strings.ReplaceAll(f.Name, ".", "-")
}

// partition names a part of the dataset by the last part of an IRI, which is told from
// others by its number.
func partition(base, kind, of string, i int) string {
	local := of[strings.LastIndexAny(of, "#/")+1:]
	return base + "#" + kind + "-" + strconv.Itoa(i+1) + "-" + local
}

// vocabularies are the namespaces of the classes and properties in use.
func vocabularies(set *Set) []string {
	var all []string
	for _, list := range [][]Count{set.Counts.Properties, set.Counts.Classes} {
		for _, c := range list {
			all = append(all, c.IRI[:strings.LastIndexAny(c.IRI, "#/")+1])
		}
	}
	return unique(all)
}

func unique(list []string) []string {
	sort.Strings(list)
	out := list[:0]
	for i, s := range list {
		if i == 0 || s != list[i-1] {
			out = append(out, s)
		}
	}
	return out
}

// jsonld writes the graph as JSON-LD with prefixes, a node for each subject in the
// order in which they come.
func (g *graph) jsonld() []byte {
	var b bytes.Buffer
	text := func(s string) {
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		_ = e.Encode(s) // a string cannot fail
		b.Truncate(b.Len() - 1)
	}
	short := func(s string) string {
		for _, n := range namespaces {
			if rest, ok := strings.CutPrefix(s, n[1]); ok && rest != "" {
				return n[0] + ":" + rest
			}
		}
		return s
	}
	value := func(t *entity.Triple) {
		switch o := &t.Object; {
		case o.Kind == entity.IRI && t.Predicate.Value == entity.TypeIRI:
			text(short(o.Value))
		case o.Kind == entity.IRI:
			b.WriteString(`{"@id":`)
			text(o.Value)
			b.WriteByte('}')
		case o.Lang != "":
			b.WriteString(`{"@language":`)
			text(o.Lang)
			b.WriteString(`,"@value":`)
			text(o.Value)
			b.WriteByte('}')
		case o.Datatype == entity.XSDString:
			text(o.Value)
		default:
			b.WriteString(`{"@type":`)
			text(short(o.Datatype))
			b.WriteString(`,"@value":`)
			text(o.Value)
			b.WriteByte('}')
		}
	}
	b.WriteString(`{"@context":{`)
	for i, n := range namespaces {
		if i > 0 {
			b.WriteByte(',')
		}
		text(n[0])
		b.WriteByte(':')
		text(n[1])
	}
	b.WriteString(`},"@graph":[`)
	for i := 0; i < len(g.triples); {
		if i > 0 {
			b.WriteByte(',')
		}
		subject := g.triples[i].Subject.Value
		b.WriteString("\n{\"@id\":")
		text(subject)
		for i < len(g.triples) && g.triples[i].Subject.Value == subject {
			predicate := g.triples[i].Predicate.Value
			key := short(predicate)
			if predicate == entity.TypeIRI {
				key = "@type"
			}
			b.WriteByte(',')
			text(key)
			b.WriteString(":[")
			for first := true; i < len(g.triples) && g.triples[i].Subject.Value == subject && g.triples[i].Predicate.Value == predicate; i++ {
				if !first {
					b.WriteByte(',')
				}
				first = false
				value(&g.triples[i])
			}
			b.WriteByte(']')
		}
		b.WriteByte('}')
	}
	b.WriteString("\n]}\n")
	return b.Bytes()
}
