package vocab

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"
	"sync"
)

// ContextURL is the address of the profile's published JSON-LD context, which
// stands as "@context" in documents.
const ContextURL = "https://linked.art/ns/v1/linked-art.json"

// ContextJSON returns a JSON-LD 1.1 context document that is made from the
// tables and expands every document of the profile as the published one does.
// Hand it to a JSON-LD processor in place of [ContextURL], so that nothing is
// fetched. The caller must not change the bytes.
func ContextJSON() []byte { return contextJSON() }

var contextJSON = sync.OnceValue(func() []byte {
	var w contextWriter
	w.b.WriteString(`{"@context":{"@version":1.1,"id":"@id","type":"@type"`)
	for _, p := range genPrefixes {
		w.key(p[0])
		w.str(p[1])
	}
	for _, c := range classList {
		w.key(c.Key)
		w.class(c)
	}
	for i, t := range termList {
		if !genTerms[i].scoped {
			w.key(t.Key)
			w.term(t, "")
		}
	}
	w.b.WriteString("}}\n")
	return w.b.Bytes()
})

type contextWriter struct{ b bytes.Buffer }

func (w *contextWriter) str(s string) {
	q, err := json.Marshal(s)
	if err != nil {
		panic(err) // a Go string always has a JSON form
	}
	w.b.Write(q)
}

func (w *contextWriter) key(k string) {
	w.b.WriteByte(',')
	w.str(k)
	w.b.WriteByte(':')
}

func (w *contextWriter) class(c *Class) {
	w.b.WriteString(`{"@id":`)
	w.str(c.IRI)
	scoped := make([]*Term, 0, len(c.terms))
	for _, t := range c.terms {
		scoped = append(scoped, t)
	}
	if c.partOf != "" {
		scoped = append(scoped, terms["attributed_by"])
	}
	if len(scoped) > 0 {
		slices.SortFunc(scoped, func(a, b *Term) int { return cmp.Compare(a.Index, b.Index) })
		w.b.WriteString(`,"@context":{`)
		for i, t := range scoped {
			if i > 0 {
				w.b.WriteByte(',')
			}
			w.str(t.Key)
			w.b.WriteByte(':')
			if t.Key == "attributed_by" {
				w.term(t, c.partOf)
			} else {
				w.term(t, "")
			}
		}
		w.b.WriteByte('}')
	}
	w.b.WriteByte('}')
}

// term writes a term's definition. For attributed_by, partOf is the property
// that "part_of" names below it in assigned_property, or "".
func (w *contextWriter) term(t *Term, partOf string) {
	w.b.WriteString(`{"@id":`)
	w.str(t.IRI)
	switch t.Kind {
	case KindNode:
		w.b.WriteString(`,"@type":"@id"`)
	case KindTerm:
		w.b.WriteString(`,"@type":"@vocab"`)
	case KindDateTime:
		w.b.WriteString(`,"@type":`)
		w.str(nsXSD + "dateTime")
	}
	if t.Set {
		w.b.WriteString(`,"@container":"@set"`)
	}
	if partOf != "" {
		ap := terms["assigned_property"]
		w.b.WriteString(`,"@context":{"assigned_property":{"@id":`)
		w.str(ap.IRI)
		w.b.WriteString(`,"@type":"@vocab","@context":{"part_of":{"@id":`)
		w.str(partOf)
		w.b.WriteString(`}}}}`)
	}
	w.b.WriteByte('}')
}
