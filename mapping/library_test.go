package mapping_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"ropewalk/mapping"
	"ropewalk/mapping/source"
	"ropewalk/vocab"
)

// What stands for a hole of the library's patterns in this test, by its name or by
// pattern and name: something of the kind that people would put there.
var holeValues = map[string]string{
	"content": `"{text}"`, "words": `"{text}"`, "heading": `"{text}"`, "source": `"{text}"`, "name": `"{text}"`, "rights": `"{text}"`,
	"family": `"{text}"`, "role_words": `"{text}"`,
	"language": "aat:300388277", "kind": `{ id: "aat:{aat}", type: Type, label: "{text}" }`, "role": "aat:300025164", "technique": "aat:300053866",
	"sureness": "aat:300404270", "unit": "aat:300379098", "licence": `{ id: "https://licence.example/{aat}", type: Type, label: "{text}" }`,
	"measure.kind": "aat:300055644", "statement.kind": "aat:300435416", "caution.kind": "mercury", "record": `"{text}"`, "standard": `{ id: "https://standard.example/x", type: InformationObject, label: x }`,
	"assigner": `{ refer: "group/{ref}", type: Group, label: "{text}" }`, "owner": `{ refer: "group/{ref}", type: Group, label: "{text}" }`,
	"keeper": `{ refer: "group/{ref}", type: Group }`, "holder": `{ refer: "group/{ref}", type: Group }`, "giver": `{ refer: "person/{ref}", type: Person }`,
	"receiver": `{ refer: "group/{ref}", type: Group }`, "attributor": `{ refer: "person/{ref}", type: Person }`,
	"maker": `{ refer: "person/{ref}", type: Person, label: "{text}" }`, "place": `{ refer: "place/{ref}", type: Place, label: "{text}" }`,
	"document": `{ refer: "object/{ref}", type: HumanMadeObject }`, "collection": `{ refer: "set/{ref}", type: Set, label: "{text}" }`,
	"whole": `{ refer: "object/{ref}", type: HumanMadeObject }`, "activity": `{ refer: "provenance/{ref}", type: Activity }`,
	"date": `{ read: date, from: "{year}" }`, "attributed_on": `{ read: date, from: "{year}" }`,
	"value": `"{number}"`, "first_year": `"{year}"`, "last_year": `"{year}"`,
	"address": `"https://b.example/{ref}"`, "format": "image/jpeg",
	"things": `{ refer: "object/{ref}", type: HumanMadeObject }`, "given": `{ refer: "object/{ref}", type: HumanMadeObject }`, "received": `{ refer: "object/{ref}b", type: HumanMadeObject }`,
	"shown": `{ refer: "set/{ref}", type: Set }`, "idea": `{ refer: "concept/{ref}", type: PropositionalObject }`,
	"amount": `"{money}"`, "price": `"{money}"`, "ordered": `"{text}"`, "promised": `"{text}"`, "state": `{ id: "aat:{aat}", type: Type, label: "{text}" }`, "right": "aat:300055598",
	"latitude": `"{latitude}"`, "longitude": `"{longitude}"`, "grid": `"0.1"`, "method": "aat:300053643",
	"origin": `{ refer: "place/{ref}", type: Place }`, "destination": `{ refer: "place/{ref}b", type: Place }`,
	"written": `{ read: date, from: "{year}" }`, "published": `{ read: date, from: "{year}" }`, "name-in-parts.given": `"{text}"`,
}

// People and bodies, and records of other events, by the name of the hole.
var (
	holePeople = []string{"payer", "payee", "agent", "carrier", "promiser", "buyer", "seller", "patron", "testator", "heir", "executor", "partner", "lender", "borrower",
		"depositor", "thief", "claimant", "finder", "collector", "conservator", "assessor", "writer"}
	holeBodies  = []string{"authority", "decided_by", "organiser", "publisher"}
	holeRecords = []string{"loan", "claim", "decision", "last_known", "next_known", "cause", "project", "tour", "exhibition"}
)

func init() {
	for _, h := range holePeople {
		holeValues[h] = `{ refer: "person/` + h + `/{ref}", type: Person, label: "{text}" }`
	}
	for _, h := range holeBodies {
		holeValues[h] = `{ refer: "group/` + h + `/{ref}", type: Group, label: "{text}" }`
	}
	for _, h := range holeRecords {
		holeValues[h] = `{ refer: "event/` + h + `/{ref}", type: Activity }`
	}
}

const libraryRecords = "nr,title,text,aat,ref,year,number,money,latitude,longitude\n1,full,some words,300033618,7,1874,30.5,£20 10s 6d,54.37,-3.141\n2,empty,,,,,,,,\n"

// libraryUse is a place in a document where a pattern can be used.
type libraryUse struct {
	endpoint *vocab.Endpoint
	class    *vocab.Class
	key      string // keys one below the other, joined by slashes; "": the document itself
	beside   string // keys beside "use"
}

func (u *libraryUse) mapping(p *mapping.PatternInfo, holes []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "make: %s\nendpoint: %s\nfrom: things\nid: x/{nr}\nlabel: \"{title}\"\n", u.class.Key, u.endpoint.Name)
	for _, s := range u.endpoint.Shape.Slots {
		if s.Required && s.Key == "classified_as" && u.key != s.Key {
			b.WriteString("classified_as: aat:300055863\n")
		}
	}
	pad := ""
	if u.key != "" {
		for _, k := range strings.Split(u.key, "/") {
			fmt.Fprintf(&b, "%s%s:\n", pad, k)
			pad += "  "
		}
	}
	fmt.Fprintf(&b, "%suse: %s\n", pad, p.Name)
	for _, h := range holes {
		v := holeValues[p.Name+"."+h]
		if v == "" {
			v = holeValues[h]
		}
		fmt.Fprintf(&b, "%s%s: %s\n", pad, h, v)
	}
	if u.beside != "" {
		fmt.Fprintf(&b, "%s%s\n", pad, u.beside)
	}
	return b.String()
}

// compileLibrary compiles a mapping over the records of this test.
func compileLibrary(text string) (*mapping.Program, mapping.Diagnostics) {
	set, err := librarySources()
	if err != nil {
		return nil, mapping.Diagnostics{{Message: err.Error()}}
	}
	f, err := mapping.Parse("m.yaml", []byte(text))
	if err != nil {
		return nil, mapping.Diagnostics{{Message: err.Error()}}
	}
	return mapping.Compile([]*mapping.File{f}, mapping.Env{Base: testBase, Sources: set})
}

// places are all places in documents where a node of a class fits, the likeliest
// first.
func places(class string) []libraryUse {
	var out, below []libraryUse
	for _, e := range vocab.Endpoints() {
		for _, cl := range e.Shape.Classes {
			if class == "" {
				out = append(out, libraryUse{endpoint: e, class: cl})
				continue
			}
			for _, s := range e.Shape.Slots {
				for _, sh := range s.Shapes {
					for _, inner := range sh.Slots {
						if sh.ID == vocab.IDForbidden && slices.ContainsFunc(inner.Shapes, func(x *vocab.Shape) bool { return x.Allows(vocab.ClassByKey(class)) }) {
							below = append(below, libraryUse{endpoint: e, class: cl, key: s.Key + "/" + inner.Key})
						}
					}
					if s.Kind != vocab.KindNode || !sh.Allows(vocab.ClassByKey(class)) {
						continue
					}
					u := libraryUse{endpoint: e, class: cl, key: s.Key}
					if sh.ID == vocab.IDRequired {
						u.beside = `id: "aat:{aat}"`
					}
					out = append(out, u)
				}
			}
		}
	}
	return append(out, below...)
}

// Every pattern of the library compiles with its required holes alone, with all its
// holes, with each optional one added and with each left out; what it makes is
// valid, for a record whose cells are full and for one whose cells are empty.
func TestLibraryPatterns(t *testing.T) {
	patterns := mapping.LibraryPatterns()
	if len(patterns) < 75 {
		t.Errorf("%d patterns, at least 75 expected", len(patterns))
	}
	seen := map[string]bool{}
	for _, p := range patterns {
		if seen[p.Name] {
			t.Errorf("two patterns are called %q", p.Name)
		}
		seen[p.Name] = true
		t.Run(p.Name, func(t *testing.T) {
			t.Parallel()
			if strings.TrimSpace(p.About) == "" {
				t.Error("it does not say what it is for")
			}
			for _, h := range slices.Concat(p.Required, p.Optional) {
				if holeValues[h] == "" && holeValues[p.Name+"."+h] == "" {
					t.Fatalf("this test has nothing to put into the hole %q", h)
				}
			}
			all := slices.Concat(p.Required, p.Optional)
			var use *libraryUse
			var first mapping.Diagnostics
			for _, u := range places(p.Class) {
				if strings.Contains(p.About, "A key for ") && !strings.Contains(p.About, fmt.Sprintf("%q", u.key[strings.LastIndexByte(u.key, '/')+1:])) && p.Class != "" {
					continue
				}
				prog, ds := compileLibrary(u.mapping(&p, all))
				if prog != nil {
					use = &u
					break
				}
				if first == nil {
					first = ds
				}
			}
			if use == nil {
				t.Fatalf("there is no place where it can be used: %v", first)
			}
			combinations := [][]string{p.Required, all}
			for i := range p.Optional {
				combinations = append(combinations, append(slices.Clone(p.Required), p.Optional[i]),
					slices.Concat(p.Required, p.Optional[:i], p.Optional[i+1:]))
			}
			bare := libraryDocuments(t, use.mapping(&p, nil), p.Name)
			for _, holes := range combinations {
				text := use.mapping(&p, holes)
				docs := libraryDocuments(t, text, "")
				if len(docs) != 2 {
					t.Fatalf("%d documents, want 2 of\n%s", len(docs), text)
				}
				if docs[0] == bare[0] && (len(p.Required) > 0 || use.beside != "") {
					t.Errorf("nothing comes of it:\n%s%s", text, docs[0])
				}
				if len(holes) == len(all) { // nothing that was given is lost
					for cell, h := range map[string][]string{"some words": {"{text}"}, "1874": {"{year}"}, "30.5": {"{number}"}, "£20 10s 6d": {"{money}"}, "20.525": {"{money}"}} {
						if strings.Contains(text, h[0]) && !strings.Contains(docs[0], cell) {
							t.Errorf("%q is lost:\n%s%s", cell, text, docs[0])
						}
					}
				}
			}
		})
	}
}

// libraryDocuments gives the two documents of the records. With without, the use
// of that pattern is taken out.
func libraryDocuments(t *testing.T, text, without string) []string {
	t.Helper()
	if without != "" {
		i := strings.Index(text, "use: "+without)
		text = strings.TrimRight(text[:i], " ")
		for lines := strings.Split(strings.TrimRight(text, "\n"), "\n"); strings.HasSuffix(lines[len(lines)-1], ":"); {
			lines = lines[:len(lines)-1]
			text = strings.Join(lines, "\n") + "\n"
		}
	}
	prog, ds := compileLibrary(text)
	if prog == nil {
		t.Fatalf("%v\n%s", ds, text)
	}
	docs, problems, err := makeAll(prog, 1, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		if strings.HasPrefix(string(p.Rule), "INVALID") || p.Rule == "NOT-WRITTEN" {
			t.Errorf("%s: %s\n%s%s", p.Rule, p.Message, text, docs)
		}
	}
	var out []string
	for _, d := range docs {
		text := plain(d.json)
		if _, id, _ := strings.Cut(text, `"id":"`); strings.HasPrefix(id, "concept/"+mapping.CautionList+"/") {
			continue // the concept that comes with a caution
		}
		out = append(out, text)
	}
	return out
}

func librarySources() (*source.Set, error) {
	return source.New(fstest.MapFS{"things.csv": {Data: []byte(libraryRecords)}}, []source.Spec{{Name: "things", Files: []string{"things.csv"}}})
}
