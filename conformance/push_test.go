//go:build linux

package conformance

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/service"
	"ropewalk/service/demo"
	"ropewalk/service/store/sqlite"
)

// pushTest is a site that is pushed into a real RDF store.
type pushTest struct {
	*testing.T
	dir     string
	program string
	target  *outside.GraphStore
	reader  *outside.Reader
	graphs  int // compared
	triples int
}

// What push leaves in an RDF store that other people wrote is, graph by graph, what is
// published: after the first push, after changes, withdrawals and moves, after a push
// that was killed and after losses of the target.
func TestPushToStore(t *testing.T) {
	if os.Getenv("ROPEWALK_LONG") == "" {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	p := &pushTest{T: t, dir: filepath.Join(t.TempDir(), "site"), target: outside.StartGraphStore(t), reader: outside.RDFLib(t)}
	p.program = filepath.Join(t.TempDir(), "ropewalk")
	if out, err := exec.Command("go", "build", "-o", p.program, "ropewalk/cmd/ropewalk").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if err := demo.Write(p.dir); err != nil {
		t.Fatal(err)
	}

	added := regexp.MustCompile(`: (\d+) added,`).FindStringSubmatch(p.run(0, "publish"))
	if added == nil {
		t.Fatal("nothing was published")
	}
	all, _ := strconv.Atoi(added[1])
	if all < 300 {
		t.Fatalf("%d documents were published", all)
	}
	p.run(0, "push", "--dry-run")
	if n := p.compare("before"); n != 0 {
		t.Errorf("a dry run has left %d graphs", n)
	}
	out := p.run(0, "push")
	first := p.compare("first")
	if first != all || !strings.HasPrefix(out, fmt.Sprint(all)+" documents sent, 0 graphs deleted.") {
		t.Errorf("%d graphs: %s", first, out)
	}
	if out := p.run(0, "push"); !strings.HasPrefix(out, "Nothing has changed") {
		t.Error(out)
	}

	// A changed, a withdrawn and a moved object.
	p.edit("data/objects.csv", func(s string) string { return strings.Replace(s, "Octant of the brig", "Quadrant of the brig", 1) })
	removed := p.without("data/objects.csv", 2)
	p.write("moved.csv", "from,to\nobject/"+removed[0]+",object/1926.17\n")
	p.write("withdrawn.csv", "identifier,reason,date\nobject/"+removed[1]+",a mistake,2031\n")
	p.run(0, "publish", "--allow-withdrawals", "20")
	changes := p.changed(2)
	out = p.run(0, "push")
	second := p.compare("second")
	if out != fmt.Sprintf("%d documents sent, %d graphs deleted. %s has what is published.\n", changes[service.Live], changes[service.Gone]+changes[service.Moved], p.target.Graphs) ||
		changes[service.Live] == 0 || changes[service.Gone] == 0 || changes[service.Moved] == 0 || second != all-changes[service.Gone]-changes[service.Moved]+changes[0] {
		t.Errorf("%d graphs, changes %v: %s", second, changes, out)
	}

	// Killed on the way, with a publication before the next push; that one need not wait.
	killed := 0
	for round := range 5 {
		c := p.command("push", "--all", "--workers", "2")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		for range 100 {
			if p.claimed() {
				break
			}
		}
		time.Sleep(rand.N(500 * time.Millisecond))
		_ = c.Process.Kill()
		if c.Wait() != nil {
			killed++
		}
		p.edit("data/objects.csv", func(s string) string {
			return strings.Replace(s, "Quadrant", fmt.Sprintf("Quadrant %d", round), 1)
		})
		p.run(0, "publish", "--allow-withdrawals", "20")
		if out := p.run(0, "push"); strings.Contains(out, "Waiting") {
			t.Errorf("it waited: %s", out)
		}
		p.compare(fmt.Sprintf("kill %d", round))
	}

	if killed == 0 {
		t.Error("every push was finished before it was killed")
	}

	// The target loses a document that nobody changes, and then its state.
	lost := demoIRI + "object/1926.17"
	p.forget(lost)
	if out := p.run(0, "push"); !strings.HasPrefix(out, "Nothing has changed") {
		t.Error(out)
	}
	p.run(0, "push", "--all")
	p.compare("all")
	p.forget(demoIRI + "#push")
	if out := p.run(0, "push"); !strings.HasPrefix(out, fmt.Sprint(second)+" documents sent, 0 graphs") {
		t.Errorf("after a loss of the state: %s", out)
	}
	p.compare("after a loss of the state")

	// Wrong credentials say so, and are not repeated.
	p.target.Password = "sesame"
	if out := p.run(1, "push"); !strings.Contains(out, "401") || strings.Contains(out, "sesame") {
		t.Error(out)
	}
	if p.graphs < 2000 || p.triples < 100_000 {
		t.Errorf("only %d graphs with %d triples were compared", p.graphs, p.triples)
	}
	t.Logf("%d graphs with %d triples compared", p.graphs, p.triples)
}

const demoIRI = "https://data.marrowhythe-museum.example/"

func (p *pushTest) command(verb string, args ...string) *exec.Cmd {
	args = append([]string{verb, p.dir}, args...)
	if verb == "push" {
		args = append(args, "--to", p.target.Graphs)
	}
	c := exec.Command(p.program, args...)
	c.Env = append(os.Environ(), "ROPEWALK_PUSH_USER="+p.target.User, "ROPEWALK_PUSH_PASSWORD="+p.target.Password, "TMPDIR="+filepath.Dir(p.dir))
	return c
}

func (p *pushTest) run(want int, verb string, args ...string) string {
	p.Helper()
	c := p.command(verb, args...)
	out, _ := c.CombinedOutput()
	if code := c.ProcessState.ExitCode(); code != want {
		p.Fatalf("%s %q: exit code %d\n%s", verb, args, code, out)
	}
	return string(out)
}

func (p *pushTest) write(name, text string) {
	p.Helper()
	if err := os.WriteFile(filepath.Join(p.dir, name), []byte(text), 0o666); err != nil {
		p.Fatal(err)
	}
}

func (p *pushTest) edit(name string, f func(string) string) {
	p.Helper()
	b, err := os.ReadFile(filepath.Join(p.dir, name))
	if err != nil {
		p.Fatal(err)
	}
	p.write(name, f(string(b)))
}

// without takes the last rows of a CSV file whose objects are published out of it, and
// returns their numbers.
func (p *pushTest) without(name string, n int) (numbers []string) {
	p.Helper()
	store := p.store()
	defer store.Close()
	p.edit(name, func(s string) string {
		rows, err := csv.NewReader(strings.NewReader(s)).ReadAll()
		if err != nil {
			p.Fatal(err)
		}
		for i := len(rows) - 1; i > 1 && len(numbers) < n; i-- {
			if r, err := store.Get(context.Background(), "object/"+rows[i][0]); err == nil && r.State == service.Live {
				numbers = append(numbers, rows[i][0])
				rows = slices.Delete(rows, i, i+1)
			}
		}
		if len(numbers) < n {
			p.Fatalf("only %d objects of %s are published", len(numbers), name)
		}
		var b bytes.Buffer
		if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
			p.Fatal(err)
		}
		return b.String()
	})
	return numbers
}

func (p *pushTest) store() service.Store {
	p.Helper()
	s, err := sqlite.Open(filepath.Join(p.dir, "store", "ropewalk.db"))
	if err != nil {
		p.Fatal(err)
	}
	return s
}

// changed counts what a publication changed, by state now; added documents under 0.
func (p *pushTest) changed(publication int64) map[service.State]int {
	p.Helper()
	s := p.store()
	defer s.Close()
	rs, err := s.Changes(context.Background(), service.Selection{Limit: 10_000})
	if err != nil {
		p.Fatal(err)
	}
	n := map[service.State]int{}
	for _, r := range rs {
		if r.Publication == publication {
			n[r.State]++
			if r.Change == service.Added && r.State == service.Live {
				n[0]++
			}
		}
	}
	return n
}

var ourGraph = regexp.MustCompile(`(?m)^"?(` + regexp.QuoteMeta(demoIRI) + `[^"\r\n]*)"?\r?$`)

// list are the graphs of documents in the target. (Asked with DISTINCT this store does
// not answer.)
func (p *pushTest) list() []string {
	p.Helper()
	var out []string
	for _, m := range ourGraph.FindAllStringSubmatch(string(p.target.Ask(p, "SELECT ?g WHERE { GRAPH ?g { ?s ?p ?o } } GROUP BY ?g", "text/csv")), -1) {
		if m[1] != demoIRI+"#push" {
			out = append(out, m[1])
		}
	}
	slices.Sort(out)
	return out
}

func (p *pushTest) claimed() bool {
	b := p.target.Ask(p, "SELECT ?c WHERE { GRAPH <"+demoIRI+"#push> { ?s <https://ropewalk.invalid/push#claim> ?c } }", "text/csv")
	return bytes.Contains(b, []byte(" on "))
}

// forget makes the target lose a graph.
func (p *pushTest) forget(graph string) {
	p.Helper()
	out, err := exec.Command("curl", "-sS", "--fail", "--digest", "-u", p.target.User+":"+p.target.Password, "-X", "DELETE", "-G", p.target.Graphs, "--data-urlencode", "graph="+graph).CombinedOutput()
	if err != nil {
		p.Fatalf("%v: %s", err, out)
	}
}

// compare reads every graph back with SPARQL and compares it with the store's
// N-Triples, both through an independent reader. It returns how many there are.
func (p *pushTest) compare(when string) int {
	p.Helper()
	s := p.store()
	defer s.Close()
	has := p.list()
	nt := render.FormatByName("nt")
	var names []string
	var reqs []outside.Request
	if _, err := s.Walk(context.Background(), func(r *service.Record) error {
		d := new(entity.Document)
		if err := d.Parse(r.Body, r.Keys); err != nil {
			return err
		}
		text, err := render.Document(nt, render.Options{}, d)
		names = append(names, r.IRI)
		reqs = append(reqs, outside.Request{Syntax: outside.NTriples, Text: text})
		return err
	}); err != nil {
		p.Fatal(err)
	}
	if when == "before" {
		return len(has)
	}
	for i, name := range names {
		if at, ok := slices.BinarySearch(has, name); ok {
			has = slices.Delete(has, at, at+1)
		} else {
			p.Errorf("%s: <%s> is not in the target", when, name)
		}
		reqs = append(reqs, outside.Request{Syntax: outside.NTriples, Text: p.target.Ask(p, "CONSTRUCT { ?s ?p ?o } WHERE { GRAPH <"+names[i]+"> { ?s ?p ?o } }", "application/n-triples")})
	}
	for _, name := range has {
		p.Errorf("%s: <%s> is in the target, and not published", when, name)
	}
	answers := p.reader.Read(reqs)
	for i, name := range names {
		want, got := answers[i], answers[len(names)+i]
		if want.Err != nil || got.Err != nil {
			p.Errorf("%s: <%s>: %v, %v", when, name, want.Err, got.Err)
			continue
		}
		a, b := lines(want.Quads), lines(got.Quads)
		p.graphs++
		p.triples += len(a)
		if len(a) == 0 || !slices.Equal(a, b) {
			p.Errorf("%s: <%s>:\n%s", when, name, outside.Difference(strings.Join(a, "\n"), strings.Join(b, "\n")))
		}
		if p.Failed() && i > 20 {
			p.FailNow()
		}
	}
	return len(names)
}

// lines are statements in order. This store keeps numbers by value and language tags in
// lower case, as RDF 1.1 Concepts §3.3 and §5.4 let it.
func lines(quads []outside.Quad) []string {
	var out []string
	for _, q := range outside.NumbersByValue(quads) {
		q.O.Language = strings.ToLower(q.O.Language)
		out = append(out, q.String())
	}
	slices.Sort(out)
	return slices.Compact(out)
}
