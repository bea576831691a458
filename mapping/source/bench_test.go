package source

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"
)

// benchTable is a table like a museum's export: 16 columns, some long, some
// quoted, some empty; with the letters of one language or another.
func benchTable(rows int, title string) []byte {
	var b bytes.Buffer
	b.WriteString("accession_no,title,object_type,maker_id,maker,date_made,place_made,materials,measurements,credit_line,description,location,status,web_status,notes,updated\n")
	for i := range rows {
		fmt.Fprintf(&b, "KQ.%d.%d,%s,sextant,M%04d,\"Hollis, Ann\",about 18%02d,Port Ansel,brass; glass; %d,%d x %d mm,Gift of the harbour office 1911,"+
			"\"Frame of lattice form with the silver scale divided to 10 minutes, vernier with magnifier, and \"\"%s\"\" engraved on the arc\",Store %d,on display,public,,2024-03-%02d\n",
			1900+i%120, i, title, i%3000, i%100, i%7, 100+i%400, 50+i%200, title, i%9, 1+i%28)
	}
	return b.Bytes()
}

func benchRead(b *testing.B, name string, data []byte, spec Spec, paths ...string) {
	spec.Name, spec.Files = "t", []string{name}
	src := mustNew(b, files(name, string(data)), spec).Source("t")
	l := nested(b, src, paths...)
	if len(paths) == 0 {
		l = allColumns(b, src)
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		records := 0
		err := src.Read(b.Context(), l, Options{Report: &Report{}}, func(batch *Batch) error {
			records += len(batch.Rows)
			batch.Release()
			return nil
		})
		if err != nil || records == 0 {
			b.Fatal(records, err)
		}
	}
}

// BenchmarkCSV reads tables; encoding/csv reads the same for comparison, without
// repair, places or joins.
func BenchmarkCSV(b *testing.B) {
	ascii, swedish := benchTable(40_000, "Sextant with lattice frame"), benchTable(40_000, "Sextant med gallerverk från Göteborg")
	b.Run("all-columns", func(b *testing.B) { benchRead(b, "t.csv", ascii, Spec{}) })
	b.Run("all-columns-Swedish", func(b *testing.B) { benchRead(b, "t.csv", swedish, Spec{}) })
	b.Run("five-columns", func(b *testing.B) {
		benchRead(b, "t.csv", ascii, Spec{}, "accession_no", "title", "maker", "date_made", "measurements")
	})
	b.Run("UTF-16", func(b *testing.B) { benchRead(b, "t.csv", []byte(utf16LE(string(swedish), true)), Spec{}) })
	b.Run("windows-1252", func(b *testing.B) {
		benchRead(b, "t.csv", []byte(strings.NewReplacer("å", "\xe5", "ö", "\xf6").Replace(string(swedish))), Spec{})
	})
	b.Run("encoding-csv", func(b *testing.B) {
		b.SetBytes(int64(len(ascii)))
		b.ReportAllocs()
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(ascii))
			r.ReuseRecord = true
			n := 0
			for {
				_, err := r.Read()
				if err == io.EOF {
					break
				}
				if err != nil {
					b.Fatal(err)
				}
				n++
			}
		}
	})
}

// BenchmarkJSON reads nested records in one file; encoding/json decodes them.
func BenchmarkJSON(b *testing.B) {
	var doc bytes.Buffer
	doc.WriteString("[")
	for i := range 20_000 {
		if i > 0 {
			doc.WriteString(",\n")
		}
		fmt.Fprintf(&doc, `{"acno":"N%05d","title":"A view of the bar \u2013 sketch %d","medium":"Graphite on paper","dateRange":{"startYear":%d,"endYear":%d,"text":"c."},`+
			`"contributors":[{"fc":"Ann Hollis","mda":"Hollis, Ann","id":%d,"role":"artist","birthYear":1801}],"subjects":{"children":[{"id":1,"name":"sea","children":[{"id":2,"name":"bar"}]}]},"url":"http://collection.example/works/%d"}`,
			i, i, 1800+i%90, 1801+i%90, i%500, i)
	}
	doc.WriteString("]")
	b.Run("source", func(b *testing.B) {
		benchRead(b, "t.json", doc.Bytes(), Spec{}, "acno", "title", "dateRange.startYear", "contributors[].fc", "contributors[].role")
	})
	b.Run("encoding-json", func(b *testing.B) {
		b.SetBytes(int64(doc.Len()))
		b.ReportAllocs()
		for b.Loop() {
			d := json.NewDecoder(bytes.NewReader(doc.Bytes()))
			d.Token()
			for d.More() {
				var v map[string]any
				if err := d.Decode(&v); err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}

// BenchmarkXML reads records in one file; encoding/xml cuts them into tokens.
func BenchmarkXML(b *testing.B) {
	var doc bytes.Buffer
	doc.WriteString(`<l:lidoWrap xmlns:l="http://www.lido-schema.org">`)
	for i := range 10_000 {
		fmt.Fprintf(&doc, `<l:lido><l:lidoRecID l:type="local">%d</l:lidoRecID><l:descriptiveMetadata xml:lang="sv"><l:titleSet><l:appellationValue xml:lang="sv">Sextant &amp; låda %d</l:appellationValue></l:titleSet>`+
			`<l:eventSet><l:event><l:eventType><l:conceptID l:type="URI">http://terminology.lido-schema.org/lido00007</l:conceptID></l:eventType><l:displayDate xml:lang="sv">1780-1800 cirka</l:displayDate></l:event></l:eventSet>`+
			`<l:eventSet><l:event><l:eventType><l:term l:addedSearchTerm="no">Provenance</l:term></l:eventType></l:event></l:eventSet></l:descriptiveMetadata></l:lido>`+"\n", i, i)
	}
	doc.WriteString("</l:lidoWrap>")
	b.Run("source", func(b *testing.B) {
		benchRead(b, "t.xml", doc.Bytes(), Spec{Records: "l:lidoWrap.l:lido"}, "l:lidoRecID", "l:descriptiveMetadata.l:titleSet.l:appellationValue",
			"l:descriptiveMetadata.l:eventSet.l:event[].l:eventType.l:conceptID", "l:descriptiveMetadata.l:eventSet.l:event[].l:displayDate")
	})
	b.Run("encoding-xml", func(b *testing.B) {
		b.SetBytes(int64(doc.Len()))
		b.ReportAllocs()
		for b.Loop() {
			d := xml.NewDecoder(bytes.NewReader(doc.Bytes()))
			for {
				if _, err := d.RawToken(); err == io.EOF {
					break
				} else if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}
