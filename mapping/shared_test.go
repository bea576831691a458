package mapping_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"golang.org/x/tools/txtar"

	"ropewalk/mapping"
	"ropewalk/mapping/site"
)

// Goroutines share a Program: run by many at once, with any number of workers, it
// makes what it makes alone. Under -race this also proves that nobody writes to it.
func TestProgramIsShared(t *testing.T) {
	files, err := filepath.Glob("testdata/runs/*.txtar")
	if err != nil || len(files) < 40 {
		t.Fatal("too few programs to share: ", len(files), err)
	}
	shared := 0
	for _, f := range files {
		a, err := txtar.ParseFile(f)
		if err != nil {
			t.Fatal(err)
		}
		fsys := fstest.MapFS{}
		for _, x := range a.Files {
			fsys[x.Name] = &fstest.MapFile{Data: x.Data}
		}
		p := programOf(fsys)
		if p == nil {
			continue
		}
		shared++
		want := everything(p, 1)
		var wg sync.WaitGroup
		got := make([]string, 6)
		for i := range got {
			wg.Go(func() { got[i] = everything(p, 1+i%3) })
		}
		wg.Wait()
		for i := range got {
			if got[i] != want {
				t.Errorf("%s: run %d of several at once\n%s\nalone\n%s", f, i, got[i], want)
			}
		}
	}
	if shared < 35 {
		t.Errorf("only %d programs were run", shared)
	}
}

// programOf compiles a small site, completed as in [runSite]; nil if it has
// problems.
func programOf(fsys fstest.MapFS) *mapping.Program {
	complete(fsys)
	s, _ := site.Load(fsys)
	return s.Program
}

// everything is all that a program makes and says, as text.
func everything(p *mapping.Program, workers int) string {
	docs, problems, err := makeAll(p, workers, 1)
	var b strings.Builder
	for _, d := range docs {
		fmt.Fprintf(&b, "%s%q %q\n", d.json, d.keys, d.sets)
	}
	for _, x := range problems {
		b.WriteString(problemLine(x) + "\n")
	}
	fmt.Fprintln(&b, err)
	return b.String()
}
