package validate

import (
	"bytes"
	"encoding/json"
	"fmt"
	"testing"

	"ropewalk/mapping/entity"
	"ropewalk/schemas"
	"ropewalk/vocab"
)

// writer builds a document from keys, so that a whole record stays readable.
type writer struct {
	d     *entity.Document
	class []string
}

func (w *writer) open(key string, many bool, class, iri string) {
	var t *vocab.Term
	if key != "" {
		t = term(w.class[len(w.class)-1], key)
	}
	w.d.Begin(t, many, vocab.ClassByKey(class), iri != "", iri, -1)
	w.class = append(w.class, class)
}

func (w *writer) end() {
	w.d.End()
	w.class = w.class[:len(w.class)-1]
}

func (w *writer) text(key, value string) {
	w.d.Text(term(w.class[len(w.class)-1], key), false, value, -1)
}

func (w *writer) value(kind entity.Kind, key, value string) {
	w.d.Value(kind, term(w.class[len(w.class)-1], key), false, value, -1)
}

func (w *writer) ref(key string, many bool, class, iri, label string) {
	w.open(key, many, class, iri)
	if label != "" {
		w.text("_label", label)
	}
	w.end()
}

func (w *writer) statement(content, kind string) {
	w.open("referred_to_by", true, "LinguisticObject", "")
	w.ref("classified_as", true, "Type", "http://vocab.getty.edu/aat/"+kind, "Description")
	w.text("content", content)
	w.end()
}

// record is an object's document of about 90 triples; n changes its values only.
func record(n int) *entity.Document {
	const aat = "http://vocab.getty.edu/aat/"
	const base = "https://collection.example.org/"
	w := &writer{d: new(entity.Document)}
	w.open("", false, "HumanMadeObject", fmt.Sprintf("%sobject/KQ.1911.%d", base, n))
	w.text("_label", fmt.Sprintf("Patent log of the second pattern, no. %d", n))
	for _, name := range []string{"Patent log of the second pattern, with dial and rotator", "Patentlogg av andra modellen, med urtavla"} {
		w.open("identified_by", true, "Name", "")
		w.ref("classified_as", true, "Type", aat+"300404670", "Primary name")
		w.text("content", name)
		w.ref("language", true, "Language", aat+"300388277", "English")
		w.end()
	}
	w.open("identified_by", true, "Identifier", "")
	w.ref("classified_as", true, "Type", aat+"300312355", "Accession number")
	w.text("content", fmt.Sprintf("KQ.1911.%d", n))
	w.end()
	w.ref("classified_as", true, "Type", aat+"300133025", "Works of art")
	w.ref("classified_as", true, "Type", aat+"300198977", "Logs")
	w.statement("A brass register of four dials in a glazed case; the rotator is towed astern on a line of plaited hemp, and turns once for every fathom run.", "300435416")
	w.statement("Given by the harbour board in memory of the pilots lost in the great gale.", "300026687")
	w.statement("Engraved on the dial plate: THE PORT OF KARHOLM No 7", "300028702")
	for i, v := range []string{"31.5", "12", "9.25"} {
		w.open("dimension", true, "Dimension", "")
		w.ref("classified_as", true, "Type", aat+fmt.Sprint(300055644+i), "Height")
		w.value(entity.Number, "value", v)
		w.ref("unit", false, "MeasurementUnit", aat+"300379098", "centimetres")
		w.end()
	}
	w.ref("made_of", true, "Material", aat+"300010946", "brass")
	w.ref("made_of", true, "Material", aat+"300010797", "glass")
	w.ref("current_owner", true, "Group", base+"group/museum", "Museum of Navigation and Weather")
	w.open("produced_by", false, "Production", "")
	w.open("timespan", false, "TimeSpan", "")
	w.open("identified_by", true, "Name", "")
	w.text("content", "about 1878")
	w.end()
	w.value(entity.DateTime, "begin_of_the_begin", "1873-01-01T00:00:00Z")
	w.value(entity.DateTime, "end_of_the_end", "1883-12-31T23:59:59Z")
	w.end()
	w.ref("took_place_at", true, "Place", base+"place/karholm", "Karholm")
	w.ref("carried_out_by", true, "Person", fmt.Sprintf("%sperson/%d", base, n%100), "An instrument maker")
	w.ref("technique", true, "Type", aat+"300053789", "engraving")
	w.end()
	w.ref("member_of", true, "Set", base+"set/instruments", "Instruments")
	w.open("representation", true, "VisualItem", "")
	w.open("digitally_shown_by", true, "DigitalObject", "")
	w.text("format", "image/jpeg")
	w.ref("access_point", true, "DigitalObject", fmt.Sprintf("%simage/%d.jpg", base, n), "")
	w.end()
	w.end()
	w.end()
	return w.d
}

func TestBenchmarkRecordIsTypical(t *testing.T) {
	d := record(1)
	n := 0
	for range d.Triples() {
		n++
	}
	if n < 85 || n > 120 {
		t.Errorf("%d triples", n)
	}
	t.Logf("%d triples, %d events", n, d.Len())
	if ps := NewChecker().Check(d); ps != nil {
		t.Errorf("%+v", ps)
	}
}

func BenchmarkCheck(b *testing.B) {
	c := NewChecker()
	docs := make([]*entity.Document, 500)
	for i := range docs {
		docs[i] = record(i)
	}
	if ps := c.Check(docs[0]); ps != nil {
		b.Fatal(ps)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if c.Check(docs[i%len(docs)]) != nil {
			b.Fatal("not good")
		}
		i++
	}
}

// BenchmarkWholeSchema is what Check saves: the schema run for every document,
// from the JSON text and from the decoded value.
func BenchmarkWholeSchema(b *testing.B) {
	v, _ := treeOf(record(1).Events()).json()
	text, err := json.Marshal(v)
	if err != nil {
		b.Fatal(err)
	}
	schema := schemas.Entity("object")
	b.Run("text", func(b *testing.B) {
		for b.Loop() {
			d := json.NewDecoder(bytes.NewReader(text))
			d.UseNumber()
			var v any
			if err := d.Decode(&v); err != nil {
				b.Fatal(err)
			}
			if err := schema.Validate(v); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("value", func(b *testing.B) {
		for b.Loop() {
			if err := schema.Validate(v); err != nil {
				b.Fatal(err)
			}
		}
	})
}
