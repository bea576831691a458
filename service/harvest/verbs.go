package harvest

import (
	"context"

	"ropewalk/mapping/entity"
	"ropewalk/service"
)

// getRecord answers GetRecord (§4.1).
func (p *Provider) getRecord(ctx context.Context, dst []byte, q *request) ([]byte, error) {
	f := p.format(q.args["metadataPrefix"])
	if f == nil {
		q.fail(cannotDisseminateFormat, "There is no format %s.", shown(q.args["metadataPrefix"]))
	}
	r, err := p.item(ctx, q)
	if err != nil || len(q.faults) > 0 {
		return dst, err
	}
	doc := p.documents.Get().(*entity.Document)
	defer p.documents.Put(doc)
	v, dst, err := p.put(ctx, append(dst, "<GetRecord>\n"...), r, f, doc, false)
	if err == nil && v == absent {
		q.fail(cannotDisseminateFormat, "The item is not available in the format %s.", f.Prefix)
	}
	return append(dst, "</GetRecord>\n"...), err
}

// item looks up the item of a request.
func (p *Provider) item(ctx context.Context, q *request) (*service.Record, error) {
	if path, ok := p.path(q.args["identifier"]); ok {
		r, err := p.store.Get(ctx, path)
		if service.CodeOf(err) != service.NotFound {
			return r, err
		}
	}
	q.fail(idDoesNotExist, "There is no item with this identifier.")
	return nil, nil
}

// identify answers Identify (§4.2).
func (p *Provider) identify(ctx context.Context, dst []byte, _ *request) ([]byte, error) {
	earliest, err := p.store.Earliest(ctx)
	if err != nil {
		return dst, err
	}
	if earliest.IsZero() {
		earliest = p.now().Add(-settling)
	}
	name := p.site.Title
	if name == "" {
		name = p.site.Base
	}
	dst = element(append(dst, "<Identify>\n"...), "repositoryName", name)
	dst = element(dst, "baseURL", p.address)
	dst = element(dst, "protocolVersion", "2.0")
	dst = element(dst, "adminEmail", p.email)
	dst = element(dst, "earliestDatestamp", earliest.UTC().Format(second))
	dst = element(dst, "deletedRecord", "persistent")
	dst = element(dst, "granularity", "YYYY-MM-DDThh:mm:ssZ")
	for _, c := range Compressions {
		dst = element(dst, "compression", c)
	}
	if p.namespace != "" {
		sample := p.stem + "object/1"
		if some, err := p.store.Log(ctx, 0, 1); err != nil {
			return dst, err
		} else if len(some) > 0 {
			sample = p.stem + some[0].Path
		}
		const ns = "http://www.openarchives.org/OAI/2.0/oai-identifier"
		dst = appendOpen(dst, "description", "oai-identifier", ns, ns+".xsd")
		dst = element(dst, "scheme", "oai")
		dst = element(dst, "repositoryIdentifier", p.namespace)
		dst = element(dst, "delimiter", ":")
		dst = element(dst, "sampleIdentifier", sample)
		dst = append(dst, "</oai-identifier>\n</description>\n"...)
	}
	if p.site.Licence != "" {
		// Of the metadata of all records (guidelines on rights, §3).
		const ns = "http://www.openarchives.org/OAI/2.0/rights/"
		dst = append(dst, `<description>
<rightsManifest xmlns="`+ns+`" xsi:schemaLocation="`+ns+" "+`http://www.openarchives.org/OAI/2.0/rightsManifest.xsd" appliesTo="http://www.openarchives.org/OAI/2.0/entity#metadata">
<rights><rightsReference ref="`...)
		dst = appendText(dst, p.site.Licence)
		dst = append(dst, "\"/></rights>\n</rightsManifest>\n</description>\n"...)
	}
	if p.site.About != "" {
		dst = appendAbout(dst, "description", p.site.About)
	}
	return append(dst, "</Identify>\n"...), nil
}

// Compressions are the content codings in which responses can be had (§3.1.3).
var Compressions = []string{"gzip", "zstd"}

// listMetadataFormats answers ListMetadataFormats (§4.4).
func (p *Provider) listMetadataFormats(ctx context.Context, dst []byte, q *request) ([]byte, error) {
	var r *service.Record
	var doc *entity.Document
	if _, ok := q.args["identifier"]; ok {
		var err error
		if r, err = p.item(ctx, q); err != nil || len(q.faults) > 0 {
			return dst, err
		}
		doc = p.documents.Get().(*entity.Document)
		defer p.documents.Put(doc)
	}
	dst = append(dst, "<ListMetadataFormats>\n"...)
	found := false
	for i := range p.formats {
		f := &p.formats[i]
		if r != nil {
			from := len(dst)
			v, out, err := p.put(ctx, dst, r, f, doc, true)
			if err != nil {
				return dst, err
			}
			if dst = out[:from]; v != present {
				continue
			}
		}
		found = true
		dst = element(append(dst, "<metadataFormat>\n"...), "metadataPrefix", f.Prefix)
		dst = element(dst, "schema", f.Schema)
		dst = element(dst, "metadataNamespace", f.Namespace)
		dst = append(dst, "</metadataFormat>\n"...)
	}
	if !found {
		q.fail(noMetadataFormats, "The item was deleted: it is not available in any format.")
	}
	return append(dst, "</ListMetadataFormats>\n"...), nil
}

// listSets answers ListSets (§4.6), always with the whole list.
func (p *Provider) listSets(_ context.Context, dst []byte, q *request) ([]byte, error) {
	if _, ok := q.args["resumptionToken"]; ok {
		q.fail(badResumptionToken, "The list of sets is given in one response; this repository gives out no token for it.")
	}
	if len(p.sets) == 0 {
		q.fail(noSetHierarchy, "The records are not divided into sets.")
	}
	dst = append(dst, "<ListSets>\n"...)
	for _, s := range p.sets {
		dst = element(append(dst, "<set>\n"...), "setSpec", s.Spec)
		dst = element(dst, "setName", s.Name)
		if s.About != "" {
			dst = appendAbout(dst, "setDescription", s.About)
		}
		dst = append(dst, "</set>\n"...)
	}
	return append(dst, "</ListSets>\n"...), nil
}

func element(dst []byte, name, text string) []byte {
	dst = append(append(append(dst, '<'), name...), '>')
	dst = appendText(dst, text)
	return append(append(append(dst, "</"...), name...), ">\n"...)
}

// appendOpen opens a container and in it the root element of a description.
func appendOpen(dst []byte, container, root, namespace, schema string) []byte {
	return append(dst, "<"+container+">\n<"+root+` xmlns="`+namespace+`" xsi:schemaLocation="`+namespace+" "+schema+"\">\n"...)
}

// appendAbout appends a description in simple Dublin Core, as §4.6 does for sets.
func appendAbout(dst []byte, container, text string) []byte {
	const ns = "http://www.openarchives.org/OAI/2.0/oai_dc/"
	dst = append(dst, "<"+container+">\n"+`<oai_dc:dc xmlns:oai_dc="`+ns+`" xmlns:dc="http://purl.org/dc/elements/1.1/" xsi:schemaLocation="`+
		ns+` http://www.openarchives.org/OAI/2.0/oai_dc.xsd"><dc:description>`...)
	dst = appendText(dst, text)
	return append(dst, "</dc:description></oai_dc:dc>\n</"+container+">\n"...)
}
