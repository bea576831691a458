package render_test

import (
	"strconv"
	"testing"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/vocab"
)

// A record of the benchmark and of its floor: an object of some 90 triples, as
// catalogues have them.
type record struct {
	number, title, label, description, credit, maker, place, from, to, inscription string
	height, width, depth                                                           string
}

func benchRecord(i int) record {
	n := strconv.Itoa(1000 + i)
	return record{
		number: "KQ.1911." + n, title: "Marine barometer no. " + n, label: "Marine barometer (KQ.1911." + n + ")",
		description: "Gimballed mercury barometer in a rosewood case with ivory scales, signed on the upper plate and numbered " + n + ".",
		credit:      "Given by the harbour board, 1911", maker: "m" + n, place: "p" + n,
		from: "1850-01-01T00:00:00Z", to: "1859-12-31T23:59:59Z", inscription: "No. " + n,
		height: "940", width: "82", depth: "65.5",
	}
}

const (
	site = "https://museum.example/"
	aat  = "http://vocab.getty.edu/aat/"
)

// buildRecord makes the document of a record, as a compiled mapping would.
func buildRecord(d *entity.Document, r *record) {
	d.Reset()
	iri := func(a, b, c string) string {
		buf := d.Scratch()
		from := len(buf)
		return d.Made(append(append(append(buf, a...), b...), c...), from)
	}
	ref := func(term *vocab.Term, many bool, class *vocab.Class, iri, label string) {
		d.Begin(term, many, class, true, iri, -1)
		if label != "" {
			d.Text(bt.label, false, label, -1)
		}
		d.End()
	}
	d.Begin(nil, false, bt.object, true, iri(site, "object/", r.number), -1)
	d.Text(bt.label, false, r.label, -1)

	d.Begin(bt.identifiedBy, true, bt.name, false, "", -1)
	ref(bt.classifiedAs, true, bt.typ, aat+"300404670", "Primary Name")
	d.Text(bt.content, false, r.title, -1)
	ref(bt.language, true, bt.lang, aat+"300388277", "English")
	d.End()
	d.Begin(bt.identifiedBy, true, bt.identifier, false, "", -1)
	ref(bt.classifiedAs, true, bt.typ, aat+"300312355", "Accession Number")
	d.Text(bt.content, false, r.number, -1)
	d.End()
	ref(bt.classifiedAs, true, bt.typ, aat+"300203953", "barometers")
	ref(bt.classifiedAs, true, bt.typ, aat+"300133025", "Works of Art")
	statement := func(typ, label, content string) {
		d.Begin(bt.referredToBy, true, bt.linguistic, false, "", -1)
		d.Begin(bt.classifiedAs, true, bt.typ, true, typ, -1)
		d.Text(bt.label, false, label, -1)
		d.End()
		d.Text(bt.content, false, content, -1)
		ref(bt.language, true, bt.lang, aat+"300388277", "English")
		d.End()
	}
	statement(aat+"300435416", "Description", r.description)
	statement(aat+"300026687", "Acknowledgements", r.credit)
	statement(aat+"300028702", "Inscription", r.inscription)
	dimension := func(typ, label, value string) {
		d.Begin(bt.dimension, true, bt.dim, false, "", -1)
		ref(bt.classifiedAs, true, bt.typ, typ, label)
		d.Value(entity.Number, bt.value, false, value, -1)
		ref(bt.unit, false, bt.measure, aat+"300379097", "millimeters")
		d.End()
	}
	dimension(aat+"300055644", "height", r.height)
	dimension(aat+"300055647", "width", r.width)
	dimension(aat+"300072633", "depth", r.depth)
	ref(bt.madeOf, true, bt.material, aat+"300012926", "rosewood")
	ref(bt.madeOf, true, bt.material, aat+"300011857", "ivory")
	ref(bt.currentOwner, true, bt.group, site+"group/museum", "Museum of Navigation and Weather")
	ref(bt.memberOf, true, bt.set, site+"set/weather", "Weather instruments")
	d.Begin(bt.producedBy, false, bt.production, false, "", -1)
	ref(bt.tookPlaceAt, true, bt.place, iri(site, "place/", r.place), "")
	d.Begin(bt.timespan, false, bt.span, false, "", -1)
	d.Begin(bt.identifiedBy, true, bt.name, false, "", -1)
	d.Text(bt.content, false, "1850s", -1)
	d.End()
	d.Value(entity.DateTime, bt.begin, false, r.from, -1)
	d.Value(entity.DateTime, bt.end, false, r.to, -1)
	d.End()
	ref(bt.carriedOutBy, true, bt.person, iri(site, "person/", r.maker), "A. Maker")
	ref(bt.technique, true, bt.typ, aat+"300053846", "turning")
	d.End()
	d.Begin(bt.representation, true, bt.visual, false, "", -1)
	d.Begin(bt.shownBy, true, bt.digital, false, "", -1)
	ref(bt.classifiedAs, true, bt.typ, aat+"300215302", "digital images")
	ref(bt.accessPoint, true, bt.digital, iri(site+"image/", r.number, ".jpg"), "")
	d.Text(bt.format, false, "image/jpeg", -1)
	d.End()
	d.End()
	d.End()
}

var bt = func() (t struct {
	object, name, identifier, typ, lang, linguistic, dim, measure, material, group, set, production, place, span, person, visual, digital *vocab.Class

	label, identifiedBy, classifiedAs, content, language, referredToBy, dimension, value, unit, madeOf, currentOwner, memberOf, producedBy,
	tookPlaceAt, timespan, begin, end, carriedOutBy, technique, representation, shownBy, accessPoint, format *vocab.Term
}) {
	c := vocab.ClassByKey
	t.object, t.name, t.identifier, t.typ, t.lang = c("HumanMadeObject"), c("Name"), c("Identifier"), c("Type"), c("Language")
	t.linguistic, t.dim, t.measure, t.material, t.group = c("LinguisticObject"), c("Dimension"), c("MeasurementUnit"), c("Material"), c("Group")
	t.set, t.production, t.place, t.span, t.person = c("Set"), c("Production"), c("Place"), c("TimeSpan"), c("Person")
	t.visual, t.digital = c("VisualItem"), c("DigitalObject")
	k := t.object.Term
	t.label, t.identifiedBy, t.classifiedAs, t.content, t.language = k("_label"), k("identified_by"), k("classified_as"), k("content"), k("language")
	t.referredToBy, t.dimension, t.value, t.unit, t.madeOf = k("referred_to_by"), k("dimension"), k("value"), k("unit"), k("made_of")
	t.currentOwner, t.memberOf, t.producedBy, t.tookPlaceAt = k("current_owner"), k("member_of"), k("produced_by"), k("took_place_at")
	t.timespan, t.begin, t.end, t.carriedOutBy = k("timespan"), k("begin_of_the_begin"), k("end_of_the_end"), k("carried_out_by")
	t.technique, t.representation, t.shownBy, t.accessPoint, t.format = k("technique"), k("representation"), k("digitally_shown_by"), k("access_point"), k("format")
	return t
}()

func docOf(i int) *entity.Document {
	d, r := new(entity.Document), benchRecord(i)
	buildRecord(d, &r)
	return d
}

// BenchmarkEncode renders a finished document; xfloor is the time in multiples of
// that of the floor, measured just before.
func BenchmarkEncode(b *testing.B) {
	d := docOf(0)
	d.Names()
	for _, f := range render.Formats() {
		b.Run(f.Name, func(b *testing.B) {
			e := render.NewEncoder(f, render.Options{})
			buf, err := e.Append(nil, d)
			if err != nil {
				b.Fatal(err)
			}
			floor := floorTime()
			b.SetBytes(int64(len(buf)))
			b.ReportAllocs()
			for b.Loop() {
				buf, _ = e.Append(buf[:0], d)
			}
			report(b, d, floor)
		})
	}
}

// BenchmarkLine is all that is done for a record: its tree, its names, its text.
// The records differ, as those of an export do.
func BenchmarkLine(b *testing.B) {
	var d entity.Document
	n := 0
	run := func(name string, f func()) {
		b.Run(name, func(b *testing.B) {
			floor := floorTime()
			b.ReportAllocs()
			for b.Loop() {
				buildRecord(&d, &benchRecords[n%len(benchRecords)])
				n++
				f()
			}
			report(b, &d, floor)
		})
	}
	run("tree", func() {})
	run("names", func() { d.Names() })
	for _, f := range render.Formats() {
		e := render.NewEncoder(f, render.Options{})
		var buf []byte
		run(f.Name, func() { buf, _ = e.Append(buf[:0], &d) })
	}
}

func BenchmarkParse(b *testing.B) {
	d := docOf(0)
	body, err := render.NewEncoder(render.FormatByName("jsonld"), render.Options{}).Append(nil, d)
	if err != nil {
		b.Fatal(err)
	}
	floor := floorTime()
	b.SetBytes(int64(len(body)))
	b.ReportAllocs()
	for b.Loop() {
		if err := d.Parse(body, ""); err != nil {
			b.Fatal(err)
		}
	}
	report(b, d, floor)
}

func BenchmarkFloor(b *testing.B) {
	d := docOf(0)
	b.SetBytes(int64(len(floor(nil, new(record), embeddedNames(d)))))
	floor := floorTime()
	for b.Loop() {
		floorOnce()
	}
	report(b, d, floor)
}

var benchRecords = func() (all [500]record) {
	for i := range all {
		all[i] = benchRecord(i)
	}
	return all
}()

var floorOnce = func() func() {
	var names [len(benchRecords)][]string
	for i := range names {
		names[i] = embeddedNames(docOf(i))
	}
	var buf []byte
	n := 0
	return func() {
		buf = floor(buf[:0], &benchRecords[n%len(names)], names[n%len(names)])
		n++
	}
}()

// floorTime is the floor's time for the record in nanoseconds.
func floorTime() float64 {
	const n = 5000
	floorOnce()
	from := time.Now()
	for range n {
		floorOnce()
	}
	return float64(time.Since(from).Nanoseconds()) / n
}

func report(b *testing.B, d *entity.Document, floor float64) {
	ns := float64(b.Elapsed().Nanoseconds()) / float64(b.N)
	triples := 0.0
	for range d.Triples() {
		triples++
	}
	b.ReportMetric(ns/triples, "ns/triple")
	b.ReportMetric(ns/floor, "xfloor")
}

func TestFloor(t *testing.T) {
	d, r := docOf(7), benchRecord(7)
	want, err := render.NewEncoder(render.FormatByName("nt"), render.Options{}).Append(nil, d)
	if err != nil {
		t.Fatal(err)
	}
	if got := floor(nil, &r, embeddedNames(d)); string(got) != string(want) {
		t.Errorf("the floor writes\n%s\nwant\n%s", got, want)
	}
}

func embeddedNames(d *entity.Document) (all []string) {
	for _, i := range d.Nodes() {
		if !d.Events()[i].Ref {
			all = append(all, d.Names()[i])
		}
	}
	return all
}
