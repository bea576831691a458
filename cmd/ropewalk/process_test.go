package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"ropewalk/service/download"
)

// programEnv makes the test binary the program itself, see TestMain.
const programEnv = "ROPEWALK_TEST_PROGRAM"

// long reports whether long tests are wanted, as by .ci/run.
func long() bool { return os.Getenv("ROPEWALK_LONG") != "" }

// siteDir is a folder with a site, on which the program is run as processes of its own.
type siteDir struct {
	testing.TB
	dir string
	env []string // beside that of the tests
}

// A site of generations: each says of every thing that it is of that generation.
const (
	generationsSite    = "title: Things\nbase: https://things.example/\nsources:\n  things: { files: things.csv }\n"
	generationsMapping = "make: Type\nfrom: things\nid: concept/{no}\nlabel: \"{title}\"\n"
)

func newSite(t testing.TB, dir string, env ...string) *siteDir {
	t.Helper()
	d := &siteDir{t, dir, env}
	d.write("ropewalk.yaml", generationsSite)
	d.write("mapping/a.yaml", generationsMapping)
	return d
}

func (d *siteDir) write(name, text string) {
	d.Helper()
	name = filepath.Join(d.dir, name)
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		d.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
		d.Fatal(err)
	}
}

// generation writes the export of a generation.
func (d *siteDir) generation(generation, rows int) {
	d.Helper()
	var b strings.Builder
	b.WriteString("no,title\n")
	for i := range rows {
		// The digest is there because it cannot be compressed.
		fmt.Fprintf(&b, "%d,thing %d of %d %x\n", i, i, generation, sha256.Sum256(fmt.Append(nil, i, generation)))
	}
	d.write("things.csv", b.String())
}

var generationOf = regexp.MustCompile(`thing (\d+) of (\d+)`)

func (d *siteDir) command(args ...string) *exec.Cmd {
	d.Helper()
	exe, err := os.Executable()
	if err != nil {
		d.Fatal(err)
	}
	c := exec.Command(exe, args...)
	c.Env = append(append(os.Environ(), programEnv+"=1", "NO_COLOR=1"), d.env...)
	return c
}

// run runs the program and returns all that it says and its exit code.
func (d *siteDir) run(args ...string) (said string, code int) {
	d.Helper()
	c := d.command(args...)
	out, err := c.CombinedOutput()
	if _, ended := err.(*exec.ExitError); err != nil && !ended {
		d.Fatal(err)
	}
	return string(out), c.ProcessState.ExitCode()
}

// publish must succeed.
func (d *siteDir) publish() string {
	d.Helper()
	said, code := d.run("publish", d.dir)
	if code != exitClean {
		d.Fatalf("publish: exit %d\n%s", code, said)
	}
	return said
}

// replica is a running server.
type replica struct {
	testing.TB
	url  string
	mu   sync.Mutex
	said bytes.Buffer
	stop func()
}

func (r *replica) Write(b []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.Write(b)
}

func (r *replica) errors() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.String()
}

// serve starts a server; it ends with the test.
func (d *siteDir) serve() *replica {
	d.Helper()
	r := &replica{TB: d.TB}
	c := d.command("serve", d.dir, "--listen", "127.0.0.1:0")
	c.Stderr = r
	out, err := c.StdoutPipe()
	if err != nil {
		d.Fatal(err)
	}
	if err := c.Start(); err != nil {
		d.Fatal(err)
	}
	r.stop = sync.OnceFunc(func() {
		_ = c.Process.Signal(syscall.SIGTERM)
		if err := c.Wait(); err != nil {
			d.Errorf("the server ended with %v\n%s", err, r.errors())
		}
	})
	d.Cleanup(r.stop)
	in := bufio.NewReader(out)
	line, err := in.ReadString('\n')
	if r.url = address.FindString(line); err != nil || r.url == "" {
		d.Fatalf("no address: %q, %v\n%s", line, err, r.errors())
	}
	go func() { _, _ = io.Copy(io.Discard, in) }()
	return r
}

var patientClient = http.Client{Timeout: time.Minute}

// get is a response with its body.
func (r *replica) get(path string) (*http.Response, string) {
	r.Helper()
	res, err := patientClient.Get(r.url + path)
	if err != nil {
		r.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		r.Fatal(err)
	}
	return res, string(body)
}

// harvesting is a harvest of all records on its way.
type harvesting struct {
	token string
	has   map[string]string // label by number of the thing
	pages int
}

var (
	oaiRecord = regexp.MustCompile(`(?s)<record>.*?</record>`)
	oaiToken  = regexp.MustCompile(`<resumptionToken[^>]*>([^<]+)</resumptionToken>`)
	oaiLabel  = regexp.MustCompile(`<rdfs:label[^>]*>thing (\d+) of (\d+) `)
)

// page does the next request, or begins. It reports whether there is more.
func (h *harvesting) page(r *replica) bool {
	r.Helper()
	q := "/harvest?verb=ListRecords&metadataPrefix=rdf"
	if h.token != "" {
		q = "/harvest?verb=ListRecords&resumptionToken=" + h.token
	}
	res, body := r.get(q)
	if res.StatusCode != 200 || strings.Contains(body, "<error") {
		r.Fatalf("%s: %s\n%.600s\n%s", q, res.Status, body, r.errors())
	}
	if h.has == nil {
		h.has = map[string]string{}
	}
	records := oaiRecord.FindAllString(body, -1)
	if len(records) == 0 {
		r.Fatalf("%s: no records\n%.600s", q, body)
	}
	for _, text := range records {
		m := oaiLabel.FindStringSubmatch(text)
		if m == nil {
			r.Fatalf("%s: a record without label\n%s", q, text)
		}
		h.has[m[1]] = m[2]
	}
	h.pages++
	h.token = ""
	if m := oaiToken.FindStringSubmatch(body); m != nil {
		h.token = m[1]
	}
	return h.token != ""
}

// complete makes sure that a harvest that came to its end has a generation, whole.
func (h *harvesting) complete(t testing.TB, generation, rows int) {
	t.Helper()
	if len(h.has) != rows {
		t.Fatalf("%d of %d records were harvested, in %d pages", len(h.has), rows, h.pages)
	}
	for no, g := range h.has {
		if g != fmt.Sprint(generation) {
			t.Fatalf("thing %s was harvested as of generation %s; %d is published", no, g, generation)
		}
	}
}

// shelf reads the downloads in a folder: they must be whole, each file with the size
// and checksum that it is said to have, and all of one generation.
func (d *siteDir) shelf(folder string, rows int) (publication int64, generation int) {
	d.Helper()
	set, err := download.NewShelf(folder).Set()
	if err != nil {
		d.Fatalf("the downloads: %v", err)
	}
	if len(set.Files) < 10 || set.Counts.Documents != int64(rows) {
		d.Fatalf("the downloads of publication %d have %d files and %d documents", set.Publication, len(set.Files), set.Counts.Documents)
	}
	generation = -1
	for _, f := range set.Files {
		data, err := os.ReadFile(filepath.Join(folder, set.Folder, f.Name))
		if err != nil {
			d.Fatal(err)
		}
		if sum := sha256.Sum256(data); int64(len(data)) != f.Bytes || hex.EncodeToString(sum[:]) != f.SHA256 {
			d.Fatalf("%s of publication %d is not what the list of downloads says", f.Name, set.Publication)
		}
		if f.Kind == "" || f.Records == 0 || !strings.HasSuffix(f.Name, ".gz") {
			continue
		}
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			d.Fatal(err)
		}
		text, err := io.ReadAll(z)
		if err != nil {
			d.Fatalf("%s: %v", f.Name, err)
		}
		things := map[string]bool{}
		for _, m := range generationOf.FindAllSubmatch(text, -1) {
			things[string(m[1])] = true
			var g int
			if _, err := fmt.Sscan(string(m[2]), &g); err != nil {
				d.Fatal(err)
			}
			if generation >= 0 && g != generation {
				d.Fatalf("%s is of generation %d, others are of %d", f.Name, g, generation)
			}
			generation = g
		}
		if len(things) != rows {
			d.Fatalf("%s has %d of %d things", f.Name, len(things), rows)
		}
	}
	if generation < 0 {
		d.Fatal("no download says of which generation it is")
	}
	return set.Publication, generation
}
