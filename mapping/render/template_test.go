package render

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
)

// replay builds the events of src again in d, with values from change, telling the
// document which are fixed.
func replay(d *entity.Document, src []entity.Event, fixed []bool, change func(i int, e *entity.Event) string) {
	for i := range src {
		e := &src[i]
		if e.Kind == entity.Close {
			d.End()
			continue
		}
		v := e.Value
		if !fixed[i] {
			v = change(i, e)
		}
		if e.Kind == entity.Open {
			d.Begin(e.Term, e.Many, e.Class, e.Ref, v, int32(i))
		} else {
			d.Value(e.Kind, e.Term, e.Many, v, int32(i))
		}
		if fixed[i] {
			d.Fix()
		}
	}
}

// TestTemplates: whatever values the documents of a shape have, a template writes
// what the walk over the events writes, for lean documents too.
func TestTemplates(t *testing.T) {
	documents := entitytest.Documents(entitytest.Options{})
	hits := 0
	rapid.Check(t, func(t *rapid.T) {
		src := documents.Draw(t, "document").Events()
		fixed := make([]bool, len(src))
		for i := 1; i < len(src); i++ {
			fixed[i] = src[i].Kind == entity.TermName || rapid.Bool().Draw(t, "fixed")
		}
		for _, name := range []string{"jsonld", "nt", "nq"} {
			f := FormatByName(name)
			enc := NewEncoder(f, Options{})
			for round := range 5 {
				change := func(i int, e *entity.Event) string {
					switch {
					case round < 2:
						return e.Value
					case e.Kind == entity.Open && (e.Ref || i == 0):
						// Few different ones, so that references become equal that were not.
						return fmt.Sprintf("https://x.example/%d", rapid.IntRange(0, 6).Draw(t, "iri"))
					case e.Kind == entity.Open:
						return rapid.SampledFrom([]string{"", "a", "b c"}).Draw(t, "key")
					case e.Kind == entity.Number:
						return rapid.SampledFrom([]string{"1", "2.5", "-30"}).Draw(t, "number")
					case e.Kind == entity.DateTime:
						return e.Value
					default:
						return rapid.SampledFrom([]string{"", "x", "\"quoted\"\n", "é\u2028", "a\\b"}).Draw(t, "text")
					}
				}
				values := map[int]string{}
				once := func(i int, e *entity.Event) string {
					v, ok := values[i]
					if !ok {
						v = change(i, e)
						values[i] = v
					}
					return v
				}
				plain := new(entity.Document)
				replay(plain, src, fixed, once)
				want, wantErr := NewEncoder(f, Options{}).Append(nil, plain)

				shaped, lean := new(entity.Document), new(entity.Document)
				shaped.Shaped(7)
				replay(shaped, src, fixed, once)
				lean.Lean(7, func() {
					lean.Shaped(7)
					replay(lean, src, fixed, once)
				})
				replay(lean, src, fixed, once)
				for _, d := range []*entity.Document{shaped, lean} {
					if id, ok := d.Shape(); ok && enc.templates[id] != nil {
						hits++
					}
					got, err := enc.Append(nil, d)
					if (err == nil) != (wantErr == nil) {
						t.Fatalf("%s, round %d: %v, without templates %v", name, round, err, wantErr)
					}
					if string(got) != string(want) {
						t.Fatalf("%s, round %d:\n%s\nwithout templates:\n%s", name, round, got, want)
					}
				}
			}
		}
	})
	if hits < 100 {
		t.Errorf("templates were used %d times", hits)
	}
}
