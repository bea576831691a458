package conformance

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// longRun is a command of .ci/run with ROPEWALK_LONG=1.
type longRun struct {
	packages []string // as they are written there
	tests    *regexp.Regexp
}

func (r longRun) covers(dir, test string) bool {
	in := slices.ContainsFunc(r.packages, func(p string) bool {
		p = strings.TrimPrefix(p, "./")
		if below, all := strings.CutSuffix(p, "/..."); all {
			return dir == below || strings.HasPrefix(dir, below+"/")
		}
		return dir == p
	})
	return in && (r.tests == nil || r.tests.MatchString(test))
}

func longRuns(t *testing.T) []longRun {
	t.Helper()
	ci, err := os.ReadFile("../.ci/run")
	if err != nil {
		t.Fatal(err)
	}
	var out []longRun
	for _, l := range regexp.MustCompile(`(?m)^ROPEWALK_LONG=1 go test ((?:'[^']*'|[^'|\n])*)`).FindAllStringSubmatch(string(ci), -1) {
		r := longRun{packages: regexp.MustCompile(`\./\S+`).FindAllString(l[1], -1)}
		if m := regexp.MustCompile(`-run '([^']*)'`).FindStringSubmatch(l[1]); m != nil {
			// What stands behind a slash is about subtests.
			r.tests = regexp.MustCompile(regexp.MustCompile(`/[^|]*`).ReplaceAllString(m[1], ""))
		}
		out = append(out, r)
	}
	if len(out) < 6 {
		t.Fatalf("only %d long runs in .ci/run", len(out))
	}
	return out
}

// TestLongRuns follows the names of functions from ROPEWALK_LONG to the tests that do
// more, or anything at all, only if it is set: each must be run by a long section of
// .ci/run.
func TestLongRuns(t *testing.T) {
	type function struct{ dir, name string }
	calls := map[function][]function{}
	long := map[function]bool{}
	tests := map[function]bool{}
	err := filepath.WalkDir("..", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata" || d.Name() == ".git") {
			if err == nil {
				err = fs.SkipDir
			}
			return err
		}
		if !strings.HasSuffix(file, ".go") {
			return nil
		}
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		dir, _ := filepath.Rel("..", filepath.Dir(file))
		dir = filepath.ToSlash(dir)
		imports := map[string]string{}
		for _, i := range tree.Imports {
			p, _ := strconv.Unquote(i.Path.Value)
			below, ours := strings.CutPrefix(p, "ropewalk/")
			if !ours {
				continue
			}
			name := path.Base(p)
			if i.Name != nil {
				name = i.Name.Name
			}
			imports[name] = below
		}
		for _, decl := range tree.Decls {
			f, ok := decl.(*ast.FuncDecl)
			if !ok {
				continue
			}
			me := function{dir, f.Name.Name}
			if strings.HasSuffix(file, "_test.go") && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Test") && f.Name.Name != "TestMain" {
				tests[me] = true
			}
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.BasicLit:
					if n.Value == `"ROPEWALK_LONG"` && f.Name.Name != "TestLongRuns" {
						long[me] = true
					}
				case *ast.SelectorExpr:
					if x, ok := n.X.(*ast.Ident); ok && imports[x.Name] != "" {
						calls[me] = append(calls[me], function{imports[x.Name], n.Sel.Name})
					}
				case *ast.CallExpr:
					if x, ok := n.Fun.(*ast.Ident); ok {
						calls[me] = append(calls[me], function{dir, x.Name})
					}
				}
				return true
			})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for more := true; more; {
		more = false
		for f, to := range calls {
			if !long[f] && slices.ContainsFunc(to, func(g function) bool { return long[g] }) {
				long[f], more = true, true
			}
		}
	}
	runs := longRuns(t)
	n, packages := 0, map[string]bool{}
	for f := range tests {
		if !long[f] {
			continue
		}
		n++
		packages[f.dir] = true
		if !slices.ContainsFunc(runs, func(r longRun) bool { return r.covers(f.dir, f.name) }) {
			t.Errorf("%s in %s does more with ROPEWALK_LONG=1, and no section of .ci/run runs it so", f.name, f.dir)
		}
	}
	t.Logf("%d tests in %d packages", n, len(packages))
	if n < 30 || len(packages) < 8 {
		t.Errorf("only %d tests in %d packages are found to be long", n, len(packages))
	}
}
