package view

import (
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"ropewalk/mapping/entity"
)

// The kinds of event that the worked cases tell, in the words of the views.
func TestWorkedEvents(t *testing.T) {
	for _, c := range []struct{ file, document, view, want string }{
		{"theft", "provenance/S1", "oai_dc", "Theft; keeper changed of Pocket chronometer; from Marrowhythe Observatory; to Abel Orlop"},
		{"loan", "provenance/L1-return", "oai_dc", "return of loan; keeper changed of Ship's barometer; from Ternsey Island Heritage Rooms; to Museum of Navigation and Weather"},
		{"purchase-with-subscribers", "provenance/P7", "oai_dc", "paid £3 12s 6d; paid by Tabitha Ashmole; paid to Jo Pell"},
		{"move", "provenance/M1", "oai_dc", "moved Harbour bell; from Boat Hall; to Tower Room"},
		{"move", "provenance/M1", "schemaorg", "moved Harbour bell; from Boat Hall; to Tower Room"},
		{"find", "provenance/F1", "oai_dc", "Owners of the Margery; in Lunnish Coast; found Astrolabe"},
		{"rights", "provenance/K2", "oai_dc", "right: ownership; 30 per cent of the terrestrial globe; held by Gantry &amp; Sons"},
		{"condition", "object/1911.7", "oai_dc", "claimed, Thorough condition assessment: classified as: Microcracks; Very fine cracks all over the painted dial (said by Museum of Navigation and Weather, "},
		{"condition", "object/1911.7", "oai_dc", ">Condition check on return of loan; No change (said by Ternsey Island Heritage Rooms, "},
		{"flood", "object/1908.12", "oai_dc", "Destroyed: 2 February 1907 (1907-02-02); caused by Flood of Candlemas Day"},
		{"flood", "object/1908.13", "lido", "<lido:term xml:lang=\"en\">Modification</lido:term>"},
		{"flood", "object/1908.13", "lido", "The case came apart, the tube held."},
		{"flood", "object/1908.12", "lido", "<lido:term xml:lang=\"en\">Destruction</lido:term>"},
		{"flood", "object/1908.12", "lido", "<lido:appellationValue>Flood of Candlemas Day</lido:appellationValue>"},
		{"exhibition", "object/1911.7", "lido", "<lido:term xml:lang=\"en\">Exhibition</lido:term>"},
		{"exhibition", "object/1911.7", "lido", "<lido:appellationValue>Glass and Gale (Ternsey)</lido:appellationValue>"},
		{"field-collecting", "object/NH.12", "lido", "<lido:term xml:lang=\"en\">Finding</lido:term>"},
		{"conservation-treatment", "object/1911.7", "lido", "The dial cleaned, the case left as it was."},
		{"acquisition-in-the-object", "object/1911.7", "lido", "<lido:term xml:lang=\"en\">previous owner</lido:term>"},
		{"acquisition-in-the-object", "object/1911.7", "edm", "to Tabitha Ashmole"},
	} {
		a, err := txtar.ParseFile("../../testdata/worked/" + c.file + ".txtar")
		if err != nil {
			t.Fatal(err)
		}
		d := new(entity.Document)
		for _, x := range a.Files {
			if x.Name == "want/"+c.document+".json" {
				if err := d.Parse(x.Data, ""); err != nil {
					t.Fatal(err)
				}
			}
		}
		text, err := ByName(c.view).Append(nil, d, &Context{Base: "https://a.example/", Language: "en", Publisher: Agent{Name: "A museum"},
			Rights: "http://creativecommons.org/publicdomain/zero/1.0/"})
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
		} else if !strings.Contains(string(text), c.want) {
			t.Errorf("%s in %s does not say %q:\n%s", c.document, c.view, c.want, text)
		}
	}
}
