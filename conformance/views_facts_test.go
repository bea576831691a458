package conformance

import (
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/render/view"
)

// viewPrefixes are those of the expressions below.
var viewPrefixes = [][2]string{
	{"l", "http://www.lido-schema.org"},
	{"edm", "http://www.europeana.eu/schemas/edm/"}, {"ore", "http://www.openarchives.org/ore/terms/"},
	{"rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#"}, {"skos", "http://www.w3.org/2004/02/skos/core#"},
	{"owl", "http://www.w3.org/2002/07/owl#"}, {"dc", "http://purl.org/dc/elements/1.1/"}, {"dct", "http://purl.org/dc/terms/"},
}

// fields are facts of the demonstration's objects, what they are in the document, and
// where an expression of XPath finds them in a view. "~" stands for the site's base.
var fields = []struct {
	object string
	facts  []field
}{
	{"1908.3.1", []field{
		{"kind, marked as type of work", "lido", "//l:objectWorkType/l:term", "barometers"},
		{"any other kind", "lido", "//l:classification/l:conceptID", "http://vocab.getty.edu/aat/300404024"},
		{"primary name in English", "lido", "//l:titleSet/l:appellationValue[@l:pref='http://terminology.lido-schema.org/lido00169'][@xml:lang='en']", "Fisherman's barometer no. 1 of the Storm Signal Society"},
		{"accession number", "lido", "//l:workID[@l:type='http://terminology.lido-schema.org/lido00113']", "1908.3.1"},
		{"number given by somebody else: who", "lido", "//l:repositorySet[l:workID='214']/l:displayRepository", "number given by Venhallow & Daughter <~group/N102>; recorded in Venhallow & Daughter's illustrated catalogue <~object/1931.44>"},
		{"and in which document", "lido", "//l:repositorySet[l:workID='214']/l:sourceRepositorySet", "Catalogue, 1871, no. 214"},
		{"number of the record", "lido", "//l:recordID[2]", "4101"},
		{"inscription in English", "lido", "//l:inscriptionDescription/l:descriptiveNoteValue[@xml:lang='en']", "STORM SIGNAL SOCIETY No. 1"},
		{"keeper", "lido", "//l:repositorySet[1]/l:repositoryName//l:appellationValue", "Museum of Navigation and Weather, Marrowhythe"},
		{"where it is", "lido", "//l:repositoryLocation/l:placeID", "~place/P12"},
		{"hazard, with its heading", "lido", "//l:descriptiveNoteValue[starts-with(@l:label, 'Caution')]/@l:label", "Caution: Note, mercury, mercury"},
		{"caution, in the usual words", "lido", "//l:descriptiveNoteValue[starts-with(@l:label, 'Caution')][contains(., 'Handle it only as trained')]/@l:label", "Caution: Note, mercury, mercury"},
		{"caution", "edm", "count(//dc:description[contains(., 'Caution: ') and contains(., 'Handle it only as trained')])", "1"},
		{"caution", "oai_dc", "count(//dc:description[contains(., 'Caution: ') and contains(., 'Handle it only as trained')])", "1"},
		{"height", "lido", "//l:measurementsSet[l:measurementType/l:term='height']/l:measurementValue", "98.5"},
		{"its unit", "lido", "//l:measurementsSet[l:measurementType/l:term='height']/l:measurementUnit/l:conceptID", "http://vocab.getty.edu/aat/300379098"},
		{"measures in words", "lido", "//l:displayObjectMeasurements", "H 98.5 x W 11 x D 8 cm"},
		{"third material", "lido", "//l:objectMaterialsTechSet//l:termMaterialsTech[3]/l:term", "mercury (metal)"},
		{"when it was made", "lido", "//l:eventSet[1]//l:eventDate/l:date/l:earliestDate", "1874"},
		{"a sure maker and her role", "lido", "//l:actorInRole[l:actor/l:actorID='~group/N102']/l:roleActor/l:term", "made by"},
		{"whose attribution is not qualified", "lido", "count(//l:actorInRole[l:actor/l:actorID='~group/N102']/l:attributionQualifierActor)", "0"},
		{"a technique of a step", "lido", "//l:event[.//l:actorID='~group/N103']//l:termMaterialsTech[@l:type='http://terminology.lido-schema.org/lido00131']/l:term", "glassblowing"},
		{"the place of that step", "lido", "//l:event[.//l:actorID='~group/N103']//l:placeID", "~place/P06"},
		{"a claimed maker, qualified", "lido", "//l:actorInRole[l:actor/l:actorID='~person/N004']/l:attributionQualifierActor[1]/l:term", "probable"},
		{"in an authority's term, too", "lido", "//l:actorInRole[l:actor/l:actorID='~person/N004']/l:attributionQualifierActor[2]/l:term", "attributed to"},
		{"what proves a sure maker", "lido", "//l:objectDescriptionSet[starts-with(l:descriptiveNoteValue, 'documented: produced by: Venhallow')]/l:sourceDescriptiveNote", "from Letter ordering forty barometers <~object/1908.4>"},
		{"never unqualified", "lido", "count(//l:actorInRole[l:actor/l:actorID='~person/N004'][not(l:attributionQualifierActor)])", "0"},
		{"why it was made", "lido", "//l:relatedEventSet[l:relatedEventRelType/l:term='caused by']//l:eventID", "~provenance/1874-1"},
		{"giver", "lido", "//l:event[l:eventType/l:term='Acquisition']//l:actorInRole[l:roleActor/l:term='previous owner']//l:actorID", "~group/N106"},
		{"how it was acquired", "lido", "//l:event[l:eventType/l:term='Acquisition']/l:eventMethod/l:term", "Gift"},
		{"credit line", "lido", "//l:creditLine", "Given by the trustees of the Marrowhythe Storm Signal Society, 1908"},
		{"collection", "lido", "//l:collection//l:objectID", "~set/weather"},
		{"the museum's page", "lido", "//l:recordInfoLink[1]", "https://www.marrowhythe-museum.example/things/1908-3-1"},
		{"licence of the record", "lido", "//l:recordRights//l:conceptID", "https://creativecommons.org/publicdomain/zero/1.0/"},
		{"second picture", "lido", "//l:resourceSet[2]//l:linkResource[@l:formatResource='image/jpeg']", "https://media.marrowhythe-museum.example/images/I002.jpg"},
		{"what it shows", "lido", "//l:resourceSet[2]/l:resourceDescription", "scale, detail"},
		{"its rights", "lido", "//l:resourceSet[2]//l:rightsType/l:conceptID", "http://creativecommons.org/publicdomain/zero/1.0/"},
		{"where it is cited", "lido", "//l:relatedWorkSet[1]/l:displayRelatedWork", "Ferrinby 1962, plate 2, discussed"},
		{"the same elsewhere", "lido", "//l:objectPublishedID[2]", "https://catalogue.coastal-union.example/thing/881"},

		{"sure makers", "edm", "count(//dc:creator)", "2"},
		{"the claimed maker is none", "edm", "count(//dc:creator[@rdf:resource='~person/N004'])", "0"},
		{"but is told with the doubt", "edm", "//dc:description[starts-with(., 'probable, attributed to: Ottilie Pascroft')]", "probable, attributed to: Ottilie Pascroft; engraved by; technique: engraving"},
		{"when it was made", "edm", "//edm:TimeSpan[@rdf:about=//dct:created/@rdf:resource]/edm:begin", "1874"},
		{"rights of what is shown", "edm", "//ore:Aggregation/edm:rights/@rdf:resource", "http://creativecommons.org/publicdomain/zero/1.0/"},
		{"what is shown first", "edm", "//edm:isShownBy/@rdf:resource", "https://media.marrowhythe-museum.example/images/I001.jpg"},
		{"page", "edm", "//edm:isShownAt/@rdf:resource", "https://www.marrowhythe-museum.example/things/1908-3-1"},
		{"where it is", "edm", "//edm:Place[@rdf:about=//edm:currentLocation/@rdf:resource]/skos:prefLabel", "Instrument Gallery"},
		{"material", "edm", "//skos:Concept[@rdf:about=//dct:medium[2]/@rdf:resource]/skos:prefLabel", "oak"},
		{"the same elsewhere", "edm", "//owl:sameAs/@rdf:resource", "https://catalogue.coastal-union.example/thing/881"},
		{"type", "edm", "//edm:type", "IMAGE"},

		{"sure makers alone", "oai_dc", "count(//dc:creator)", "2"},
		{"date", "oai_dc", "//dc:date", "1874"},
	}},
	{"1978.60", []field{
		{"scan in 3D", "lido", "//l:linkResource[@l:formatResource='model/gltf-binary']", "https://media.marrowhythe-museum.example/scans/I007.glb"},
		{"what it conforms to", "lido", "//l:linkResource[@l:formatResource='model/gltf-binary']/@l:codecResource", "glTF 2.0"},
		{"its licence, other than that of the picture", "lido", "//l:resourceSet[.//l:linkResource[@l:formatResource='model/gltf-binary']]//l:rightsType/l:conceptID", "http://creativecommons.org/licenses/by/4.0/"},
		{"repair: who", "lido", "//l:event[l:eventType/l:term='Modification']//l:actorID", "~group/N117"},
		{"repair: from", "lido", "//l:event[l:eventType/l:term='Modification']//l:earliestDate", "1979"},
		{"repair: to", "lido", "//l:event[l:eventType/l:term='Modification']//l:latestDate", "1981"},
		{"repair: what", "lido", "//l:event[l:eventType/l:term='Modification']/l:eventDescriptionSet/l:descriptiveNoteValue", "Fragments of the tube joined with a reversible adhesive; left unfilled."},
		{"a day", "lido", "//l:event[l:eventType/l:term='Acquisition']//l:latestDate", "1978-11-14"},
		{"note of the claim", "lido", "//l:displayActorInRole", "probable, attributed to: Ottilie Pascroft; engraved by; technique: engraving; The figures on the scale are hers by the tail of the 7."},
		{"rights of the scan", "edm", "//edm:WebResource[@rdf:about='https://media.marrowhythe-museum.example/scans/I007.glb']/edm:rights/@rdf:resource", "http://creativecommons.org/licenses/by/4.0/"},
		{"the scan is a further view", "edm", "//edm:hasView/@rdf:resource", "https://media.marrowhythe-museum.example/scans/I007.glb"},
		{"provenance", "edm", "//dct:provenance[starts-with(., 'Changed')]", "Changed owner: purchasing; from Renata Oswin-Hale; to Museum of Navigation and Weather, Marrowhythe; 14 November 1978 (1978-11-14); part of Acquisition A1978-60, by purchase"},
	}},
	{"1951.4", []field{
		{"keeper, who is not the owner", "lido", "//l:repositorySet[1]/l:repositoryName/l:legalBodyID", "~group/N111"},
		{"the keeper has given no number", "lido", "//l:repositorySet[1]/l:displayRepository", "kept by Ternsey Island Heritage Rooms; normally kept by Museum of Navigation and Weather, Marrowhythe; owned by Museum of Navigation and Weather, Marrowhythe"},
		{"owner", "lido", "//l:rightsWorkSet[l:rightsType/l:term='ownership']/l:rightsHolder/l:legalBodyID", "~group/museum"},
		{"keeper", "edm", "count(//edm:hasMet[@rdf:resource='~group/N111'])", "1"},
	}},
	{"X.1907.1", []field{
		{"a number that is no accession number", "lido", "//l:workID[.='X.1907.1']/@l:type", "http://vocab.getty.edu/aat/300404621"},
		{"nobody keeps it now", "lido", "count(//l:repositoryName) + count(//l:repositorySet[@l:type])", "0"},
		{"loss: when", "lido", "//l:event[l:eventType/l:term='Destruction']//l:earliestDate", "1907-02-02"},
		{"loss: in words", "lido", "//l:event[l:eventType/l:term='Destruction']//l:displayDate", "2 February 1907"},
		{"loss: why", "lido", "//l:event[l:eventType/l:term='Destruction']//l:relatedEvent//l:appellationValue", "Candlemas flood"},
		{"lost", "lido", "//l:classification[1]/l:term", "destroyed"},
		{"loss", "edm", "//dc:description[starts-with(., 'Destroyed')]", "Destroyed: 2 February 1907 (1907-02-02); caused by Candlemas flood; Hung in the fish hall; the wall went and the barometer with it."},
		{"without pictures the record's licence holds", "edm", "//ore:Aggregation/edm:rights/@rdf:resource", "http://creativecommons.org/publicdomain/zero/1.0/"},
	}},
	{"X.1890.1", []field{
		{"how many pieces", "lido", "//l:measurementsSet/l:measurementValue", "25"},
		{"of what", "lido", "//l:measurementsSet/l:measurementUnit/l:term", "components"},
		{"how many pieces", "edm", "//dct:extent", "25 pieces"},
	}},
	{"1911.12.2", []field{
		{"a part of a set", "lido", "//l:recordType/l:term", "Component-level record"},
		{"the whole", "lido", "//l:relatedWorkSet[l:relatedWorkRelType/l:conceptID='http://terminology.lido-schema.org/lido00574']//l:objectID", "~object/1911.12"},
		{"about 1865: the words", "lido", "//l:displayDate", "about 1865"},
		{"the whole", "edm", "//dct:isPartOf/@rdf:resource", "~object/1911.12"},
		{"the whole", "oai_dc", "//dc:relation", "~object/1911.12"},
	}},
	{"1926.16", []field{
		{"a disputed maker, qualified", "lido", "//l:actorInRole[l:actor/l:actorID='~person/N001']/l:attributionQualifierActor/l:term", "disputed"},
		{"said by whom, from which book", "lido", "//l:actorInRole[l:actor/l:actorID='~person/N001']/../l:actorInRole/l:sourceActorInRole", "Maud Ferrinby <~person/N013>; from Glass against the Gale <~object/1963.1>"},
		{"one given up is no actor", "lido", "count(//l:event[l:eventType/l:term='Production']//l:actorID[.='~person/N003'])", "0"},
		{"but is told", "lido", "//l:objectDescriptionSet/l:descriptiveNoteValue[starts-with(., 'superseded')]", "superseded <~concept/certainty/superseded>: produced by: Ruben Mundwick <~person/N003>; made by <~concept/roles/made-by>; Given to Ruben Mundwick in the register of 1926."},
		{"nobody surely made it", "lido", "count(//l:event[l:eventType/l:term='Production']//l:actorInRole[not(l:attributionQualifierActor)])", "0"},
		{"no creator", "edm", "count(//dc:creator)", "0"},
		{"nor in Dublin Core", "oai_dc", "count(//dc:creator)", "0"},
		{"but the dispute", "edm", "//dc:description[starts-with(., 'disputed')]", "disputed: Abel Venhallow; made by; Ferrinby 1962; Attributed by Maud Ferrinby on the lettering, 1962, page 118; Renata Oswin-Hale, 2021, page 14, does not find the hand to be his. (said by Maud Ferrinby; from Glass against the Gale)"},
	}},
	{"1926.17", []field{
		{"before 1838: no beginning", "lido", "count(//l:eventSet[1]//l:earliestDate)", "0"},
		{"before 1838: the end, as the document has it", "lido", "//l:eventSet[1]//l:latestDate", "1838"},
		{"no beginning", "edm", "count(//edm:TimeSpan[@rdf:about=//dct:created/@rdf:resource]/edm:begin)", "0"},
		{"date", "oai_dc", "//dc:date[2]", "../1838"},
	}},
	{"1926.18", []field{
		{"inscription in Latin", "lido", "//l:inscriptionDescription/l:descriptiveNoteValue[@xml:lang='la']", "A. Venhallow Marrowhythe fecit"},
		{"what is claimed is no fact", "lido", "count(//l:actorInRole[not(l:attributionQualifierActor)][starts-with(l:actor/l:actorID, '~person/N002')])", "0"},
	}},
	{"1908.9", []field{
		{"a century", "lido", "//l:eventSet[1]//l:latestDate", "1799"},
		{"a maker given in words alone, as a claim", "lido", "//l:objectDescriptionSet[not(@l:type)]/l:descriptiveNoteValue", "claimed: produced by: workshop of Tobias Crakeley; The old register: made by the workshop of Tobias Crakeley"},
		{"and nobody as a maker", "lido", "count(//l:event[l:eventType/l:term='Production']//l:actor)", "0"},
		{"no creator", "edm", "count(//dc:creator)", "0"},
	}},
	{"1908.4", []field{
		{"the text it carries", "lido", "//l:relatedWorkSet[l:relatedWorkRelType/l:term='carries']//l:objectID", "~text/D01"},
		{"a day", "lido", "//l:eventSet[1]//l:earliestDate", "1874-05-04"},
		{"writer: merged into the production", "lido", "//l:eventSet[1]//l:actorInRole[l:roleActor/l:term='written by']//l:appellationValue", "Septimus Holmbrack"},
		{"writer", "edm", "//edm:Agent[@rdf:about=//dc:creator/@rdf:resource]/skos:prefLabel", "Septimus Holmbrack"},
	}},
	{"1908.10", []field{
		{"what it shows", "lido", "//l:displaySubject", "Chart of the Lunnish Coast, 1878"},
		{"the picture as a work", "lido", "//l:relatedWorkSet[l:relatedWorkRelType/l:term='shows']//l:objectID", "~visual/work/chart-of-the-lunnish-coast-1878"},
		{"printer's technique", "lido", "//l:event[.//l:actorID='~group/N105']//l:termMaterialsTech/l:term", "plate printing"},
		{"subject", "oai_dc", "//dc:subject", "Chart of the Lunnish Coast, 1878"},
	}},
	{"L.2021.3", []field{
		{"title in French", "lido", "//l:appellationValue[@xml:lang='fr']", "Annuaire des marées"},
		{"which is not preferred", "lido", "//l:appellationValue[@xml:lang='fr']/@l:pref", "http://terminology.lido-schema.org/lido00170"},
		{"owner, who is not the keeper", "lido", "//l:rightsHolder/l:legalBodyID", "~group/N111"},
		{"title in French", "edm", "//dct:alternative[@xml:lang='fr']", "Annuaire des marées"},
		{"place", "edm", "//edm:Place[@rdf:about=//dct:spatial/@rdf:resource]/skos:prefLabel", "Port-Sévrac"},
	}},
	{"1908.6", []field{
		{"rights said in words that begin with a standard statement", "edm", "//ore:Aggregation/edm:rights/@rdf:resource", "http://rightsstatements.org/vocab/InC/1.0/"},
		{"the words", "edm", "//edm:WebResource/dc:rights", "In copyright; ask the museum"},
	}},
}

// field is a fact and where it is found in a view.
type field struct{ fact, view, xpath, value string }

// TestViewsFacts compares what the views say of a dozen objects with what the documents
// say. The expressions are evaluated by xmllint.
func TestViewsFacts(t *testing.T) {
	c := viewContext(t, "demo")
	texts := map[string][]byte{} // by view and object
	err := siteDocuments(openSite(t, "demo"), func(d siteDocument) error {
		path := strings.TrimPrefix(d.doc.IRI(), c.Base+"object/")
		for _, o := range fields {
			if o.object != path {
				continue
			}
			for name := range viewSchemas {
				text, err := view.ByName(name).Document(d.doc, c)
				if err != nil {
					return err
				}
				texts[name+" "+path] = text
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, o := range fields {
		for name := range viewSchemas {
			var exprs []string
			var facts []field
			for _, f := range o.facts {
				if f.view == name {
					exprs = append(exprs, strings.ReplaceAll(f.xpath, "~", c.Base))
					facts = append(facts, f)
				}
			}
			if len(exprs) == 0 {
				continue
			}
			text := texts[name+" "+o.object]
			if text == nil {
				t.Errorf("the demonstration has no object %s", o.object)
				continue
			}
			for i, got := range outside.XPath(t, text, viewPrefixes, exprs) {
				n++
				if want := strings.ReplaceAll(facts[i].value, "~", c.Base); got != want {
					t.Errorf("%s: %s: %s: %s\n got %q\nwant %q", o.object, name, facts[i].fact, facts[i].xpath, got, want)
				}
			}
		}
	}
	t.Logf("%d facts of %d objects", n, len(fields))
	outside.AtLeast(t, "objects", len(fields), 12)
}
