package line_test

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"
	"time"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/site"
	"ropewalk/mapping/validate"
)

const tradeSite = `title: T
base: https://a.example/
sources:
  things: { files: things.csv }
  makers: { files: makers.csv }
`

const tradeMappings = `make: HumanMadeObject
from: things
id: object/{nr}
label: "{title}"
identified_by:
  - { use: primary-name, content: "{title}" }
  - { use: accession-number, content: "{nr}" }
referred_to_by: { use: description, content: "{about}" }
produced_by:
  timespan: { read: date, from: "{made}" }
  carried_out_by: { refer: "person/{maker}", label: "{maker}" }
dimension: { read: dimensions, from: "{size}" }
current_owner: { refer: "group/museum", type: Group, label: The museum }
changed_ownership_through:
  use: acquisition
  date: { read: date, from: "{bought}" }
  giver: { refer: "person/{giver}", label: "{giver}" }
  receiver: { refer: "group/museum", type: Group, label: The museum }
---
make: Person
from: makers
id: person/{name}
label: "{name}"
identified_by: { use: primary-name, content: "{name}" }
born: { timespan: { read: date, from: "{born}" } }
died: { timespan: { read: date, from: "{died}" } }
`

// collection is a museum with n objects, a maker or giver for every ten, and one
// contradiction in a thousand.
func collection(n int) fstest.MapFS {
	var things, makers strings.Builder
	things.WriteString("nr,title,about,made,maker,size,bought,giver\n")
	for i := range n {
		made := 1830 + i%50
		if i%1000 == 999 {
			made = 1700
		}
		fmt.Fprintf(&things, "%d.%d,Octant no. %d,Ebony frame with an ivory scale and an index arm of brass.,%d,m%d,H %d.5 x W 30 cm,%d,m%d\n",
			1900+i%90, i, i, made, i/10, 20+i%30, 1900+i%90, (i+5)/10)
	}
	makers.WriteString("name,born,died\n")
	for i := range n/10 + 1 {
		fmt.Fprintf(&makers, "m%d,%d,%d\n", i, 1790+i%30, 1880+i%20)
	}
	return fstest.MapFS{site.FileName: {Data: []byte(tradeSite)}, "mapping/all.yaml": {Data: []byte(tradeMappings)},
		"things.csv": {Data: []byte(things.String())}, "makers.csv": {Data: []byte(makers.String())}}
}

const placesSite = `  moves: { files: moves.csv }
  shows: { files: shows.csv, rows: { shown: { from: shown, on: show } } }
  shown: { files: shown.csv }
`

const placesMappings = `---
make: Activity
endpoint: provenance
from: moves
id: provenance/{nr}
label: "Move {nr}"
timespan: { read: date, from: "{date}" }
use: move
things: { refer: "object/{object}", type: HumanMadeObject, label: "{object}" }
origin: { refer: "place/{from}", label: "{from}" }
destination: { refer: "place/{to}", label: "{to}" }
---
make: Activity
endpoint: event
from: shows
id: event/{show}
label: "Show {show}"
timespan: { read: date, from: "{date}" }
took_place_at: { refer: "place/{at}", label: "{at}" }
use: exhibition
shown: { each: shown, refer: "object/{object}", type: HumanMadeObject, label: "{object}" }
`

// travelled is a collection of n objects of which each says where it was made and is now, every second
// was moved twice and every fifth was shown twice. Moves and shows follow one another
// but for one in a thousand.
func travelled(n int) fstest.MapFS {
	fs := collection(n)
	edit := func(name, old, new string) {
		if !strings.Contains(string(fs[name].Data), old) {
			panic(name + " lacks " + old)
		}
		fs[name].Data = []byte(strings.Replace(string(fs[name].Data), old, new, 1))
	}
	edit(site.FileName, "sources:\n", "sources:\n"+placesSite)
	edit("mapping/all.yaml", "produced_by:\n", "current_location: { refer: \"place/{now}\", label: \"{now}\" }\nproduced_by:\n  took_place_at: { refer: \"place/{maker}\", label: \"{maker}\" }\n")
	fs["mapping/all.yaml"].Data = append(fs["mapping/all.yaml"].Data, placesMappings...)
	lines := strings.SplitAfter(string(fs["things.csv"].Data), "\n")
	for i := range lines[:n+1] {
		at := "now"
		if i > 0 {
			at = fmt.Sprintf("hall %d", (i-1)%50)
		}
		lines[i] = strings.TrimSuffix(lines[i], "\n") + "," + at + "\n"
	}
	fs["things.csv"].Data = []byte(strings.Join(lines, ""))
	var moves, shows, shown strings.Builder
	moves.WriteString("nr,object,date,from,to\n")
	shows.WriteString("show,date,at\n")
	shown.WriteString("show,object\n")
	for i := range n {
		nr := fmt.Sprintf("%d.%d", 1900+i%90, i)
		if i%2 == 0 {
			fmt.Fprintf(&moves, "%d-1,%s,%d May 1995,hall %d,hall %d\n%d-2,%s,1996,hall %d,hall %d\n", i, nr, 1+i%30, i%50, i%49, i, nr, i%49, i%50)
		}
		if i%50 == 0 {
			fmt.Fprintf(&shows, "%d,1 May %d to 30 September %d,town %d\n", i/50, 1950+i/50%40, 1950+i/50%40, i%30)
		}
		if i%5 == 0 {
			fmt.Fprintf(&shown, "%d,%s\n%d,%s\n", i/50, nr, i/1000, nr)
		}
	}
	fs["moves.csv"], fs["shows.csv"], fs["shown.csv"] = &fstest.MapFile{Data: []byte(moves.String())}, &fstest.MapFile{Data: []byte(shows.String())}, &fstest.MapFile{Data: []byte(shown.String())}
	return fs
}

// validating does what "ropewalk check" does with a document.
type validating struct{ checker *validate.Checker }

func (v validating) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	for range d.Triples() {
	}
	for _, p := range append(v.checker.CheckAt(d, m.Endpoint), validate.Domain(d)...) {
		tell(mapping.RecordProblem{Rule: mapping.ProblemRule(p.Rule), Message: p.Message})
	}
	return dst
}

func runTrade(tb testing.TB, p *mapping.Program, on bool, sink func(*line.Item) error) map[mapping.ProblemRule]int {
	found := map[mapping.ProblemRule]int{}
	checker := validate.NewChecker()
	_, err := line.Run(context.Background(), p, line.Options{Workers: 1, Trade: on, Now: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC),
		NewEncoder: func() line.Encoder { return validating{checker} },
		Problem:    func(r mapping.RecordProblem) { found[r.Rule]++ }}, sink)
	if err != nil {
		tb.Fatal(err)
	}
	return found
}

// BenchmarkTrade tells what the rules of the trade cost beside all that a check does:
// compare "with" and "without".
func BenchmarkTrade(b *testing.B) {
	for _, of := range []struct {
		name string
		fs   fstest.MapFS
	}{{"lives", collection(20_000)}, {"places", travelled(20_000)}} {
		s, ds := site.Load(of.fs)
		if s.Program == nil {
			b.Fatal(ds)
		}
		for _, on := range []bool{false, true} {
			b.Run(of.name+"/"+map[bool]string{false: "without", true: "with"}[on], func(b *testing.B) {
				docs, from := 0, cpu(b)
				for range b.N {
					runTrade(b, s.Program, on, func(*line.Item) error { docs++; return nil })
				}
				b.ReportMetric((cpu(b)-from)/float64(docs), "cpu-ns/doc") // of a machine that others use, too
			})
		}
	}
}

// cpu is the processor time that the process has used, in nanoseconds.
func cpu(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkTradeMemory tells how many bytes of memory the rules keep for an object.
func BenchmarkTradeMemory(b *testing.B) {
	const n = 100_000
	for _, of := range []struct {
		name string
		fs   fstest.MapFS
		docs int
	}{{"lives", collection(n), n + n/10 + 1}, {"places", travelled(n), n + n/10 + 1 + n + n/50}} {
		s, ds := site.Load(of.fs)
		if s.Program == nil {
			b.Fatal(ds)
		}
		held := func(on bool) float64 {
			var m runtime.MemStats
			docs := 0
			runTrade(b, s.Program, on, func(*line.Item) error {
				if docs++; docs == of.docs {
					runtime.GC()
					runtime.ReadMemStats(&m)
				}
				return nil
			})
			if docs != of.docs {
				b.Fatalf("%d documents", docs)
			}
			return float64(m.HeapAlloc)
		}
		b.Run(of.name, func(b *testing.B) {
			for range b.N {
				b.ReportMetric((held(true)-held(false))/n, "bytes/object")
			}
		})
	}
}

// The benchmark's collection has the contradictions that were put in, and no others.
func TestTradeFindsThem(t *testing.T) {
	s, ds := site.Load(collection(3000))
	if s.Program == nil {
		t.Fatal(ds)
	}
	found := runTrade(t, s.Program, true, func(*line.Item) error { return nil })
	if found["before-participant"] != 3 || len(found) != 1 {
		t.Errorf("%v", found)
	}
}
