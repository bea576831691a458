package conformance

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// arrows says which rooms of the program each room may import; see the table of
// rooms in DEVELOPERS.md. Tests may import whatever they like below conformance.
var arrows = map[string][]string{
	"vocab":       {"vocab"},
	"schemas":     {"schemas", "vocab"},
	"mapping":     {"mapping", "schemas", "vocab"},
	"service":     {"service", "mapping", "schemas", "vocab"},
	"cmd":         {"service", "mapping", "schemas", "vocab"},
	"conformance": {"conformance", "cmd", "service", "mapping", "schemas", "vocab"},
}

// apart are packages that may not know each other though they share a room: the
// domain knows no technology, and adapters ignore each other.
var apart = []struct{ from, to, why string }{
	{"ropewalk/mapping/entity", "ropewalk/mapping/source", "the document knows no source formats"},
	{"ropewalk/mapping/source", "ropewalk/mapping/entity", "sources know no documents"},
	{"ropewalk/mapping/source", "ropewalk/mapping", "sources know no mappings"},
	{"ropewalk/mapping/concordance", "ropewalk/mapping/source", "the concordance reads no files"},
	{"ropewalk/mapping/concordance", "ropewalk/mapping", "the concordance knows no mappings"},
	{"ropewalk/mapping/reading", "ropewalk/vocab", "readings know no RDF"},
	{"ropewalk/mapping/reading", "ropewalk/mapping", "readings know no mappings"},
	{"ropewalk/service", "ropewalk/service/web", "the domain knows no HTTP"},
	{"ropewalk/service", "ropewalk/service/store/sqlite", "the domain knows no database"},
	{"ropewalk/service/publish", "ropewalk/service/store/sqlite", "the domain knows no database"},
	{"ropewalk/service/publish", "ropewalk/service/web", "the domain knows no HTTP"},
	{"ropewalk/service/push", "ropewalk/service/store/sqlite", "the domain knows no database"},
	{"ropewalk/service/push", "ropewalk/service/store/postgres", "the domain knows no database"},
	{"ropewalk/service/push", "ropewalk/service/web", "what goes out knows nothing of what comes in"},
	{"ropewalk/service/web", "ropewalk/service/push", "what comes in knows nothing of what goes out"},
	{"ropewalk/service/web", "ropewalk/service/store/sqlite", "handlers know no store but the interface"},
	{"ropewalk/service/store/sqlite", "ropewalk/service/web", "adapters ignore each other"},
}

func TestArrows(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "ropewalk/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(strings.NewReader(string(out)))
	imports := map[string][]string{}
	for dec.More() {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		imports[p.ImportPath] = p.Imports
	}
	if len(imports) < 15 {
		t.Fatalf("only %d packages", len(imports))
	}
	room := func(path string) string {
		rest, ok := strings.CutPrefix(path, "ropewalk/")
		if !ok {
			return ""
		}
		first, _, _ := strings.Cut(rest, "/")
		return first
	}
	for path, list := range imports {
		from := room(path)
		allowed, known := arrows[from]
		if !known {
			t.Errorf("%s is in no room", path)
			continue
		}
		for _, i := range list {
			to := room(i)
			if to != "" && !slices.Contains(allowed, to) {
				t.Errorf("%s imports %s: %s may not use %s", path, i, from, to)
			}
			if i == "C" || i == "unsafe" && from != "mapping" {
				t.Errorf("%s imports %s", path, i)
			}
		}
	}
	for _, a := range apart {
		if _, ok := imports[a.from]; !ok {
			t.Errorf("there is no package %s", a.from)
		}
		if slices.Contains(imports[a.from], a.to) {
			t.Errorf("%s imports %s: %s", a.from, a.to, a.why)
		}
	}
}
