package mapping_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
)

const evidenceMapping = `make: HumanMadeObject
from: things
id: object/{nr}
label: "{title}"
identified_by:
  - { use: primary-name, content: "{title}", evidence: { certainty: "{sure}" } }
  - { use: other-name, content: Gauge, evidence: { citations: { text: "{book}", page: "{page}" }, certainty: "{also}" } }
classified_as: { id: aat:300010358, evidence: { citations: [List, "{book}"], certainty: "{sure}" } }
current_owner: { refer: "group/{owner}", type: Group, label: Owner, evidence: [{ certainty: "{also}" }, { citations: "{book}", certainty: "{sure}", assert: true }] }
produced_by:
  timespan: { read: date, from: "{made}", evidence: { on: "{page}", certainty: "{also}" } }
  part:
    each: { split: "{makers}", at: ";" }
    type: Production
    carried_out_by: { refer: "person/{.}", type: Person, evidence: { documents: { id: "object/{book}", type: HumanMadeObject }, certainty: "{sure}", key: "{.}" } }
    evidence: { grounds: "{book}", certainty: "{also}" }
`

// Documents with evidence are built lean and written from templates as they are built in
// full and written event by event, in every lossless format; and nothing that is in
// doubt is asserted, while all that is recorded is claimed.
func TestEvidenceTemplates(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("nr,title,owner,made,makers,book,page,sure,also\n")
	n := 0
	for _, sure := range []string{"", "certain", "probable", "possible", "disputed", "superseded", "??"} {
		for _, also := range []string{"", "certain", "disputed", "probable"} {
			for _, filled := range []string{"T,o,1874,a;b,B,12", "U,p,1880,c,,", "V,,,a;a,B,", ",q,x,,C,7", "T,o,1874,a;b,B,12"} {
				n++
				fmt.Fprintf(&rows, "%d,%s,%s,%s\n", n, filled, sure, also)
			}
		}
	}
	p := programOf(fstest.MapFS{
		site.FileName:    {Data: []byte("title: T\nbase: " + testBase + "\nsources:\n  things: { files: things.csv }\n")},
		"mapping/m.yaml": {Data: []byte(evidenceMapping)}, "things.csv": {Data: []byte(rows.String())},
	})
	if p == nil {
		t.Fatal("the mapping does not compile")
	}
	formats := []string{"jsonld", "nt", "nq", "ttl"}
	write := func(full bool) (out []string) {
		encoders := map[string]*render.Encoder{}
		run := p.NewRun()
		run.Full = full
		sp := p.Sources[0]
		err := sp.Source.Read(context.Background(), sp.Layout, source.Options{}, func(b *source.Batch) error {
			defer b.Release()
			for i := range b.Rows {
				err := run.Record(sp, &b.Rows[i], func(d *entity.Document, m mapping.Meta) error {
					for _, f := range formats {
						if encoders[f] == nil || full {
							encoders[f] = render.NewEncoder(render.FormatByName(f), render.Options{})
						}
						text, err := encoders[f].Append(nil, d)
						if err != nil {
							return err
						}
						out = append(out, string(text))
					}
					if full && !m.Made {
						checkAsserted(t, d)
					}
					return nil
				})
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	full, lean := write(true), write(false)
	if len(full) < n*len(formats) || len(full) != len(lean) {
		t.Fatalf("%d texts in full, %d lean, of %d records", len(full), len(lean), n)
	}
	for i := range full {
		if full[i] != lean[i] {
			t.Fatalf("%s\nin full\n%s\nlean\n%s", formats[i%len(formats)], full[i], lean[i])
		}
	}
}

// checkAsserted looks whether an owner is asserted whom one of the claims doubts.
func checkAsserted(t *testing.T, d *entity.Document) {
	t.Helper()
	events := d.Events()
	// What each assignment of the document's own properties claims, and with which words.
	for i := range events {
		e := &events[i]
		if e.Kind != entity.Open || e.Term == nil || e.Term.Key != "attributed_by" {
			continue
		}
		var words, owners []string
		property := ""
		for k := i + 1; k < int(e.End); k++ {
			switch x := &events[k]; {
			case x.Term.Key == "assigned_property" && x.Kind != entity.Open:
				property = x.Value
			case x.Kind == entity.Open && x.Term.Key == "classified_as" && strings.Contains(x.Value, "/concept/certainty/"):
				words = append(words, x.Value[strings.LastIndexByte(x.Value, '/')+1:])
			case x.Kind == entity.Open && x.Class.Key == "Group":
				owners = append(owners, x.Value)
			}
		}
		if property != "current_owner" || len(owners) == 0 {
			continue
		}
		asserted := false
		for k := 1; k < len(events)-1; k++ {
			if x := &events[k]; x.Kind == entity.Open {
				asserted = asserted || x.Term.Key == "current_owner" && slices.Contains(owners, x.Value)
				k = int(x.End)
			}
		}
		for _, w := range []string{"possible", "disputed", "superseded"} {
			if slices.Contains(words, w) && asserted {
				t.Errorf("%s asserts an owner who is %s", d.IRI(), w)
			}
		}
	}
}
