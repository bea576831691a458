package source

import (
	"context"
	"os"
	"path/filepath"
	"testing"
)

// shared gives the folder of the test data that lies beside the repository.
func shared(t testing.TB, sub string) string {
	t.Helper()
	root := os.Getenv("ROPEWALK_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	dir := filepath.Join(root, sub)
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("test data is missing: %s", dir)
		}
		t.Skipf("NOT TESTED: test data is missing: %s (set ROPEWALK_SHARED)", dir)
	}
	return dir
}

// slots asks for fields and fails the test if there are none of that name.
func slots(t testing.TB, l *Layout, paths ...string) []int {
	t.Helper()
	out := make([]int, len(paths))
	for i, p := range paths {
		slot, err := l.Field(p)
		if err != nil {
			t.Fatalf("Field(%q): %v", p, err)
		}
		out[i] = slot
	}
	return out
}

func kids(t testing.TB, l *Layout, path string) (*Layout, int) {
	t.Helper()
	sub, i, err := l.Rows(path)
	if err != nil {
		t.Fatalf("Rows(%q): %v", path, err)
	}
	return sub, i
}

func atLeast(t *testing.T, what string, got, want int) {
	t.Helper()
	if got < want {
		t.Errorf("%s: %d, want at least %d", what, got, want)
	}
}

func TestTate(t *testing.T) {
	set, err := New(os.DirFS(shared(t, "data/tate")), []Spec{
		{Name: "artworks", Files: []string{"artworks/**/*.json"}, Key: "acno",
			Lookups: map[string]Join{"artist": {From: "artists", On: [][2]string{{"contributors.id", "id"}}}},
			Rows:    map[string]Join{"files": {From: "artist-files", On: [][2]string{{"contributors.id", "id"}}}}},
		{Name: "artists", Files: []string{"artist_data.csv"}, Key: "id"},
		{Name: "artist-files", Files: []string{"artists"}, Key: "id"},
	})
	if err != nil {
		t.Fatal(err)
	}
	src := set.Source("artworks")
	l := src.Layout()
	f := slots(t, l, "acno", "title", "dateRange.startYear", "contributors.fc", "subjects.children.name")
	con, conAt := kids(t, l, "contributors")
	c := slots(t, con, "fc", "role", "id", "artist.name", "artist.yearOfBirth")
	files, filesAt := kids(t, con, "files")
	place := slots(t, files, "birth.place.placeName")
	deep, deepAt := kids(t, l, "subjects.children.children.children")
	name := slots(t, deep, "name")
	rep := &Report{}
	var records, contributors, named, subjects, withFile, births, years int
	err = src.Read(context.Background(), l, Options{Report: rep}, func(b *Batch) error {
		for i := range b.Rows {
			r := &b.Rows[i]
			records++
			if r.Cells[f[0]] == "" {
				t.Errorf("%s: no accession number", r.File.Name)
			}
			if r.Cells[f[2]] != "" {
				years++
			}
			for k := range r.Kids[conAt] {
				contributors++
				kid := &r.Kids[conAt][k]
				if kid.Cells[c[3]] != "" {
					named++
				}
				if kid.Cells[c[2]] == "" {
					t.Errorf("%s: contributor %q", r.File.Name, kid.Cells)
				}
				for n := range kid.Kids[filesAt] {
					withFile++
					if kid.Kids[filesAt][n].Cells[place[0]] != "" {
						births++
					}
				}
			}
			for k := range r.Kids[deepAt] {
				if r.Kids[deepAt][k].Cells[name[0]] != "" {
					subjects++
				}
			}
		}
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if records != 600 {
		t.Errorf("%d artworks, want 600", records)
	}
	atLeast(t, "contributors", contributors, 643)
	atLeast(t, "contributors with a name in the table", named, contributors-5)
	atLeast(t, "contributors with a file", withFile, contributors-5)
	atLeast(t, "places of birth", births, 550)
	atLeast(t, "subjects", subjects, 1000)
	atLeast(t, "start years", years, 450)
	if n := rep.Count(Unmatched); n != 1 {
		t.Errorf("%d look-ups found nothing, want 1: contributor 12951 has no artist", n)
	}
	d, err := src.Describe()
	if err != nil || !d.Complete || d.Records != 600 {
		t.Fatalf("Describe: %+v, %v", d, err)
	}
	unused := map[string]bool{}
	for _, c := range src.Unused(l) {
		unused[c.Path] = true
	}
	if unused["title"] || unused["contributors.id"] || !unused["medium"] || !unused["subjects.id"] {
		t.Errorf("Unused: %v", unused)
	}
}

func TestSkokloster(t *testing.T) {
	table := func(name, file string) Spec {
		return Spec{Name: name, Files: []string{"LSH Github - " + file + ".csv"}, Quote: "none"}
	}
	lsh := table("object-persons", "Obj_Kuenstler")
	lsh.Lookups = map[string]Join{"person": {From: "persons", On: [][2]string{{"OkuKueId", "KueId"}}}}
	persons := table("persons", "Kuenstler")
	persons.Rows = map[string]Join{"dates": {From: "dates", On: [][2]string{{"KueId", "KudKueId"}}}}
	events := table("object-events", "Ereignis_Obj")
	events.Lookups = map[string]Join{"event": {From: "events", On: [][2]string{{"EroErgId", "ErgId"}}}}
	const id = "lido:administrativeMetadata.lido:recordWrap.lido:recordID"
	set, err := New(os.DirFS(shared(t, "data/skokloster")), []Spec{
		{Name: "objects", Files: []string{"Skokloster_*/*.xml"}, Records: "lido:lidoWrap.lido:lido", Key: id,
			Rows: map[string]Join{
				"measures": {From: "measures", On: [][2]string{{id, "ObmObjId"}}},
				"persons":  {From: "object-persons", On: [][2]string{{id, "OkuObjId"}}},
				"events":   {From: "object-events", On: [][2]string{{id, "EroObjId"}}},
			}},
		table("measures", "ObjMass"), lsh, persons, table("dates", "KuenstlerDatierung"), events, table("events", "Ereignis"),
		table("event-persons", "Ereignis_Kuenstler"),
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range set.Names() {
		for _, err := range set.Source(name).Check() {
			t.Error(err)
		}
	}
	src := set.Source("objects")
	l := src.Layout()
	f := slots(t, l, id, id+".@lido:type", "lido:descriptiveMetadata.lido:objectIdentificationWrap.lido:repositoryWrap.lido:repositorySet.lido:workID")
	measures, measuresAt := kids(t, l, "measures")
	m := slots(t, measures, "ObmMasseHF", "ObmTypMasseS")
	people, peopleAt := kids(t, l, "persons")
	p := slots(t, people, "person.KueNameS", "OkuArtS")
	dates, datesAt := kids(t, people, "person.dates")
	slots(t, dates, "KudDatierungS")
	happened, happenedAt := kids(t, l, "events")
	e := slots(t, happened, "event.ErgKurztitelS")
	sets, setsAt := kids(t, l, "lido:descriptiveMetadata.lido:eventWrap.lido:eventSet.lido:event")
	kind := slots(t, sets, "lido:eventType.lido:conceptID", "lido:eventDate.lido:displayDate")
	pics, picsAt := kids(t, l, "lido:administrativeMetadata.lido:resourceWrap.lido:resourceSet.lido:resourceRepresentation")
	pic := slots(t, pics, "lido:linkResource", ".@lido:type")

	n := map[string]int{}
	rep := &Report{}
	err = src.Read(context.Background(), l, Options{Report: rep}, func(b *Batch) error {
		for i := range b.Rows {
			r := &b.Rows[i]
			n["objects"]++
			if r.Cells[f[0]] == "" || r.Cells[f[1]] != "local" || r.Cells[f[2]] == "" {
				t.Errorf("%s: %q", r.File.Name, r.Cells)
			}
			for k := range r.Kids[measuresAt] {
				if kid := &r.Kids[measuresAt][k]; kid.Cells[m[0]] != "" && kid.Cells[m[1]] != "" {
					n["measures"]++
				}
			}
			for k := range r.Kids[peopleAt] {
				kid := &r.Kids[peopleAt][k]
				n["persons"]++
				n["dates"] += len(kid.Kids[datesAt])
				if kid.Cells[p[0]] != "" {
					n["named"]++
					if at := people.Where(kid, p[0]); at.File != "LSH Github - Kuenstler.csv" || at.Column != "KueNameS" || at.Col != 4 || at.Row < 2 {
						t.Errorf("the name's place: %+v", at)
					}
				}
			}
			for k := range r.Kids[happenedAt] {
				if r.Kids[happenedAt][k].Cells[e[0]] != "" {
					n["events"]++
				}
			}
			for k := range r.Kids[setsAt] {
				kid := &r.Kids[setsAt][k]
				if kid.Cells[kind[0]] != "" {
					n["lido events"]++
				}
				if kid.Cells[kind[1]] != "" {
					n["lido dates"]++
				}
			}
			for k := range r.Kids[picsAt] {
				if kid := &r.Kids[picsAt][k]; kid.Cells[pic[0]] != "" && kid.Cells[pic[1]] != "" {
					n["pictures"]++
				}
			}
		}
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n["objects"] != 500 || n["persons"] != 1176 || n["events"] != 31 {
		t.Errorf("objects, persons, events: %v; want 500, 1176, 31", n)
	}
	atLeast(t, "measures with number and type", n["measures"], 1151)
	atLeast(t, "persons with a name", n["named"], 987)
	atLeast(t, "dates of persons", n["dates"], 3600)
	atLeast(t, "events in LIDO", n["lido events"], 1000)
	atLeast(t, "dates in LIDO", n["lido dates"], 440)
	atLeast(t, "pictures", n["pictures"], 2000)
	if files := len(rep.Files()); files != 506 {
		t.Errorf("%d files in the report, want 506", files)
	}
}
