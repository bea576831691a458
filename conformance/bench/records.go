package main

import (
	"bytes"
	"fmt"
	"testing/fstest"

	"ropewalk/mapping/site"
)

// columns of the synthetic export. Every record fills all of them, and no value
// needs escaping in one syntax but not in another.
var columns = []string{"accession_no", "title", "object_type", "date_made", "maker_id", "maker", "place_id", "place",
	"technique", "height", "width", "material", "description", "credit", "department", "image"}

// record is one synthetic record as the floors want it.
type record struct {
	id, title, date, makerID, maker, placeID, place, height, width, description, credit, department, image string

	typeIRI, typeLabel, materialIRI, materialLabel, techniqueIRI, techniqueLabel string
	heightE, widthE                                                              string   // as xsd:double in canonical form
	marks                                                                        []string // content marks of the skolem IRIs
}

// synthetic makes the cells of the i-th record.
func synthetic(i int) []string {
	adj := []string{"Brass", "Large", "Portable", "Folding", "Ship's", "Marine", "Pocket", "Silvered"}
	noun := []string{"sextant", "barometer", "tide gauge", "chronometer", "compass", "rain gauge", "anemometer", "telescope"}
	a, n := adj[i%len(adj)], noun[(i/7)%len(noun)]
	id := fmt.Sprintf("KQ.%d.%d", 1850+i%150, i)
	return []string{
		id,
		fmt.Sprintf("%s %s no. %d", a, n, i),
		noun[(i/7)%len(noun)],
		fmt.Sprint(1780 + i%140),
		fmt.Sprintf("m%d", i%997),
		fmt.Sprintf("Fenwick and Orlop, shop %d", i%997),
		fmt.Sprintf("p%d", i%211),
		fmt.Sprintf("Port Sallow, ward %d", i%211),
		[]string{"casting", "engraving", "turning"}[i%3],
		fmt.Sprintf("%d.%d", 5+i%90, 1+i%9),
		fmt.Sprintf("%d.%d", 3+i%70, 1+i%9),
		[]string{"brass", "mahogany", "glass"}[i%3],
		fmt.Sprintf("%s %s in a fitted case with two keys; the scale is divided to %d parts and reads by a vernier.", a, n, 10+i%50),
		fmt.Sprintf("Given by the subscribers of the year %d", 1850+i%150),
		fmt.Sprintf("d%d", i%7),
		fmt.Sprintf("https://images.stormglass.example/%s/full.jpg", id),
	}
}

// csvOf writes records as a CSV file.
func csvOf(from, n int) []byte {
	var b bytes.Buffer
	for i, c := range columns {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(c)
	}
	b.WriteByte('\n')
	for i := range n {
		for k, c := range synthetic(from + i) {
			if k > 0 {
				b.WriteByte(',')
			}
			if bytes.ContainsAny([]byte(c), ",\"\n") {
				b.WriteByte('"')
				b.Write(bytes.ReplaceAll([]byte(c), []byte(`"`), []byte(`""`)))
				b.WriteByte('"')
			} else {
				b.WriteString(c)
			}
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

const siteFile = `title: Synthetic records
base: https://data.stormglass.example/
licence: https://creativecommons.org/publicdomain/zero/1.0/
language: en
sources:
  objects: { files: objects.csv, key: accession_no }
terms:
  object-types: types.csv
  materials: materials.csv
  techniques: techniques.csv
mappings: objects.yaml
`

const mappingFile = `make: HumanMadeObject
from: objects
id: object/{accession_no}
label: "{title}"
classified_as:
  - { term: object-types, from: "{object_type}", classified_as: aat:300435443 }
identified_by:
  - { use: primary-name, content: "{title}", language: aat:300388277 }
  - { use: accession-number, content: "{accession_no}", assigner: { id: group/museum, type: Group, label: Stormglass Museum } }
referred_to_by:
  - { use: description, content: "{description}" }
  - { use: credit-line, content: "{credit}" }
produced_by:
  timespan: { read: date, from: "{date_made}" }
  carried_out_by: { refer: "person/{maker_id}", type: Person, label: "{maker}" }
  took_place_at: { refer: "place/{place_id}", type: Place, label: "{place}" }
  technique: { term: techniques, from: "{technique}" }
made_of: { term: materials, from: "{material}" }
dimension:
  - { use: height-in-cm, value: "{height}" }
  - { use: width-in-cm, value: "{width}" }
current_owner: { id: group/museum, type: Group, label: Stormglass Museum }
member_of: { refer: "set/{department}", type: Set }
representation: { use: digital-image, address: "{image}", format: image/jpeg }
`

const typesFile = `word,id,label
sextant,https://data.stormglass.example/concept/sextant,sextants
barometer,https://data.stormglass.example/concept/barometer,barometers
tide gauge,https://data.stormglass.example/concept/tide-gauge,tide gauges
chronometer,https://data.stormglass.example/concept/chronometer,chronometers
compass,https://data.stormglass.example/concept/compass,compasses
rain gauge,https://data.stormglass.example/concept/rain-gauge,rain gauges
anemometer,https://data.stormglass.example/concept/anemometer,anemometers
telescope,https://data.stormglass.example/concept/telescope,telescopes
`

const materialsFile = `word,id,label
brass,https://data.stormglass.example/concept/brass,brass
mahogany,https://data.stormglass.example/concept/mahogany,mahogany
glass,https://data.stormglass.example/concept/glass,glass
`

const techniquesFile = `word,id,label
casting,https://data.stormglass.example/concept/casting,casting
engraving,https://data.stormglass.example/concept/engraving,engraving
turning,https://data.stormglass.example/concept/turning,turning
`

// siteFS is the synthetic site with n records.
func siteFS(n int) fstest.MapFS {
	file := func(s string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(s)} }
	return fstest.MapFS{
		site.FileName: file(siteFile), "objects.yaml": file(mappingFile), "types.csv": file(typesFile),
		"materials.csv": file(materialsFile), "techniques.csv": file(techniquesFile),
		"objects.csv": {Data: csvOf(0, n)},
	}
}
