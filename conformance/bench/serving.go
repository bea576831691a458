package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"ropewalk/service/store/sqlite"
)

// published publishes the large site with the real program, again without a change,
// and serves it.
func (b *bench) published(t *table, bin, dir string, n int) error {
	first, err := program(bin, nil, "publish", dir)
	if err == nil && first.code != 0 {
		err = fmt.Errorf("ropewalk publish: exit %d: %s", first.code, first.said)
	}
	if err != nil {
		return err
	}
	t.add(row{what: fmt.Sprintf("ropewalk publish, %d records, with downloads", n), records: float64(n) / first.took.Seconds(), peak: first.peak})
	if err := unchanged(t, bin, dir, n); err != nil {
		return err
	}
	s, err := start(bin, "serve", dir, "--listen", "127.0.0.1:0")
	if err != nil {
		return err
	}
	defer s.end()
	if err := b.oneDocument(t, s, synthetic(0)[0]); err != nil {
		return err
	}
	return b.harvests(t, s, n)
}

// unchanged publishes what is published already, beside check: both read, make and
// validate every document. It must write nothing.
func unchanged(t *table, bin, dir string, n int) error {
	before, err := stateOf(dir)
	if err != nil {
		return err
	}
	check := func() (run, error) {
		r, err := program(bin, nil, "check", dir)
		if err == nil && !strings.Contains(strings.ReplaceAll(r.said, ",", ""), fmt.Sprintf(" %d\n", n)) {
			err = fmt.Errorf("ropewalk check does not speak of %d documents: %s", n, r.said)
		}
		return r, err
	}
	var ratios []float64
	var best run
	one, err := check()
	if err != nil {
		return err
	}
	for range 5 {
		again, err := program(bin, nil, "publish", dir)
		if err == nil && (again.code != 0 || !strings.HasPrefix(again.said, "Nothing has changed")) {
			err = fmt.Errorf("publishing again: exit %d: %s", again.code, again.said)
		}
		if err != nil {
			return err
		}
		two, err := check()
		if err != nil {
			return err
		}
		ratios = append(ratios, 2*again.took.Seconds()/(one.took+two.took).Seconds())
		if best.took == 0 || again.took < best.took {
			best.took = again.took
		}
		best.peak = max(best.peak, again.peak)
		one = two
	}
	after, err := stateOf(dir)
	if err != nil {
		return err
	}
	if after != before {
		return fmt.Errorf("publishing what is published already has written something; before\n%s\nafter\n%s", before, after)
	}
	slices.Sort(ratios)
	t.add(row{what: "ropewalk publish, nothing changed and nothing written", records: float64(n) / best.took.Seconds(), peak: best.peak,
		ratio: ratios[len(ratios)/2], of: "check", target: 1.3})
	return nil
}

// stateOf is all that a publication could have changed: the store, byte by byte, with its
// sequence, and the downloads, by name, size and time.
func stateOf(dir string) (string, error) {
	var out strings.Builder
	name := filepath.Join(dir, "store", "ropewalk.db")
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	fmt.Fprintf(&out, "store %x\n", sum.Sum(nil))
	err = filepath.WalkDir(filepath.Dir(name), func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		i, err := e.Info()
		if err == nil && !e.IsDir() {
			fmt.Fprintln(&out, path, i.Size(), i.ModTime())
		}
		return err
	})
	if err != nil {
		return "", err
	}
	store, err := sqlite.Open(name)
	if err != nil {
		return "", err
	}
	defer store.Close()
	p, err := store.Current(context.Background())
	fmt.Fprintf(&out, "publication %d, up to %d\n", p.Number, p.Last)
	return out.String(), err
}

// process is a server of its own.
type process struct {
	cmd     *exec.Cmd
	address string // host and port
	said    bytes.Buffer
}

var listening = regexp.MustCompile(`127\.0\.0\.1:\d+`)

func start(bin string, args ...string) (*process, error) {
	p := &process{cmd: exec.Command(bin, args...)}
	p.cmd.Stderr = &p.said
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	in := bufio.NewReader(out)
	line, err := in.ReadString('\n')
	if p.address = listening.FindString(line); err != nil || p.address == "" {
		p.end()
		return nil, fmt.Errorf("%s does not say where it listens: %q %v %s", args[0], line, err, p.said.String())
	}
	go func() { _, _ = io.Copy(io.Discard, in) }()
	return p, nil
}

func (p *process) end() {
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	_ = p.cmd.Wait()
}

// serveBare serves a file from memory with nothing but net/http.
func serveBare(name string) error {
	body, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Println(l.Addr())
	return http.Serve(l, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/ld+json")
		w.Header().Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body)
	}))
}

// clients is how many fetch and harvest at once.
const clients = 8

// oneDocument fetches a document over kept connections, from the server and from a bare
// handler turn about.
func (b *bench) oneDocument(t *table, s *process, id string) error {
	request := []byte("GET /object/" + id + " HTTP/1.1\r\nHost: x\r\nAccept: application/ld+json\r\n\r\n")
	body, err := fetch(s.address, request)
	if err != nil {
		return err
	}
	if !bytes.HasPrefix(body, []byte(`{"@context":`)) {
		return fmt.Errorf("not the document: %.200s", body)
	}
	file, err := os.CreateTemp("", "ropewalk-bench-document")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name())
	if _, err := file.Write(body); err != nil {
		return err
	}
	if err := file.Close(); err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	bare, err := start(self, "-bare", file.Name())
	if err != nil {
		return err
	}
	defer bare.end()
	if same, err := fetch(bare.address, request); err != nil || !bytes.Equal(same, body) {
		return fmt.Errorf("the bare handler writes other bytes: %w", err)
	}
	var failed error
	rate := func(address string) float64 {
		n, err := load(address, request, len(body), 400*time.Millisecond)
		failed = errors.Join(failed, err)
		return n
	}
	rate(s.address)
	before := rate(bare.address)
	var ratios []float64
	best, bestBare := 0.0, before
	for range 2 * b.rounds {
		ours := rate(s.address)
		after := rate(bare.address)
		ratios = append(ratios, 2*ours/(before+after))
		best, bestBare, before = max(best, ours), max(bestBare, after), after
	}
	if failed != nil {
		return failed
	}
	slices.Sort(ratios)
	mb := float64(len(body)) / 1e6
	t.add(row{what: "floor: a bare handler, one document from memory", records: bestBare, mb: bestBare * mb})
	t.add(row{what: "ropewalk serve, the same document", records: best, mb: best * mb, ratio: ratios[len(ratios)/2], of: "bare handler", target: 0.6, atLeast: true})
	return nil
}

// fetch is the body of one response.
func fetch(address string, request []byte) ([]byte, error) {
	conn, err := net.Dial("tcp", address)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	if _, err := conn.Write(request); err != nil {
		return nil, err
	}
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusOK {
		return nil, errors.New(res.Status)
	}
	return io.ReadAll(res.Body)
}

// load is how many requests a second are answered to clients that do nothing else. Each
// response must be whole.
func load(address string, request []byte, size int, span time.Duration) (float64, error) {
	var done atomic.Int64
	failed := make([]error, clients)
	var all sync.WaitGroup
	begun := time.Now()
	for i := range clients {
		all.Go(func() {
			failed[i] = func() error {
				conn, err := net.Dial("tcp", address)
				if err != nil {
					return err
				}
				defer conn.Close()
				in := bufio.NewReaderSize(conn, 64<<10)
				n := int64(0)
				defer func() { done.Add(n) }()
				for ; time.Since(begun) < span; n++ {
					if _, err := conn.Write(request); err != nil {
						return err
					}
					if err := skip(in, size); err != nil {
						return err
					}
				}
				return nil
			}()
		})
	}
	all.Wait()
	return float64(done.Load()) / time.Since(begun).Seconds(), errors.Join(failed...)
}

// skip reads a response as cheaply as can be.
func skip(in *bufio.Reader, size int) error {
	first := true
	for {
		line, err := in.ReadSlice('\n')
		if err != nil {
			return err
		}
		if first && !bytes.HasPrefix(line, []byte("HTTP/1.1 200 ")) {
			return fmt.Errorf("answered %q", line)
		}
		if first = false; len(line) <= 2 {
			break
		}
	}
	n, err := in.Discard(size)
	if n < size && err == nil {
		err = io.ErrUnexpectedEOF
	}
	return err
}

// harvests lets clients harvest everything at once, in every format, and compares the
// first page with the last.
func (b *bench) harvests(t *table, s *process, n int) error {
	formats := []string{"rdf", "oai_dc", "lido"} // no record here can fill edm
	pid := s.cmd.Process.Pid
	var records atomic.Int64
	stop, sampled := make(chan struct{}), make(chan struct{})
	early, late := 0.0, 0.0 // peaks from a tenth to three, and of the last three tenths
	go func() {
		defer close(sampled)
		for {
			switch share := float64(records.Load()) / float64(n*clients); {
			case share > 0.1 && share < 0.4:
				early = max(early, memory(pid, "VmRSS:"))
			case share > 0.7:
				late = max(late, memory(pid, "VmRSS:"))
			}
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	failed, lasts := make([]error, clients), make([]string, clients)
	var size atomic.Int64
	var all sync.WaitGroup
	begun := time.Now()
	for i := range clients {
		all.Go(func() {
			h := &harvester{address: s.address, client: &http.Client{Transport: &http.Transport{DisableCompression: true}}}
			defer h.client.CloseIdleConnections()
			query, got := "metadataPrefix="+formats[i%len(formats)], 0
			for query != "" {
				lasts[i] = query
				k, next, err := h.page(query)
				if err != nil {
					failed[i] = err
					return
				}
				got += k
				records.Add(int64(k))
				size.Add(int64(len(h.buf.Bytes())))
				query = next
			}
			if got != n {
				failed[i] = fmt.Errorf("a harvest of %s has %d records of %d", formats[i%len(formats)], got, n)
			}
		})
	}
	all.Wait()
	took := time.Since(begun)
	close(stop)
	<-sampled
	if err := errors.Join(failed...); err != nil {
		return err
	}
	peak := memory(pid, "VmHWM:")
	if early == 0 || late == 0 || peak == 0 {
		return fmt.Errorf("the memory of the server could not be read from /proc")
	}
	t.add(row{what: fmt.Sprintf("ropewalk serve, %d harvests of all at once, in %d formats", clients, len(formats)), records: float64(n*clients) / took.Seconds(),
		mb: float64(size.Load()) / 1e6 / took.Seconds(), peak: peak})
	t.add(row{what: "its memory near the end of them", peak: late, ratio: late / early, of: "near the beginning", target: 1.2})

	h := &harvester{address: s.address, client: &http.Client{Transport: &http.Transport{DisableCompression: true}}}
	defer h.client.CloseIdleConnections()
	const pages = 40
	var firstSize, lastSize int
	ask := func(query string, got *int) func() {
		return func() {
			for range pages {
				k, _, err := h.page(query)
				if err != nil {
					failed[0] = err
				}
				*got = k
			}
		}
	}
	ratio, last, first := contest(b.rounds, ask(lasts[0], &lastSize), ask("metadataPrefix="+formats[0], &firstSize))
	if failed[0] != nil {
		return failed[0]
	}
	if firstSize == 0 || lastSize == 0 {
		return fmt.Errorf("an empty page")
	}
	// A last page can be shorter.
	ratio *= float64(firstSize) / float64(lastSize)
	t.add(row{what: "first page of a harvest", records: pages * float64(firstSize) / first.Seconds()})
	t.add(row{what: "last page of a harvest, for each record", records: pages * float64(lastSize) / last.Seconds(), ratio: ratio, of: "first page", target: 1.5})
	return nil
}

// harvester follows resumption tokens.
type harvester struct {
	address string
	client  *http.Client
	buf     bytes.Buffer
}

// page asks for a part of ListRecords. It returns how many records came and the
// arguments of the next request, "" at the end.
func (h *harvester) page(query string) (records int, next string, err error) {
	res, err := h.client.Get("http://" + h.address + "/harvest?verb=ListRecords&" + query)
	if err != nil {
		return 0, "", err
	}
	defer res.Body.Close()
	h.buf.Reset()
	if _, err := h.buf.ReadFrom(res.Body); err != nil {
		return 0, "", err
	}
	text := h.buf.Bytes()
	records = bytes.Count(text, []byte("<record>"))
	if res.StatusCode != http.StatusOK || records == 0 {
		return 0, "", fmt.Errorf("harvesting %s: %s\n%.300s", query, res.Status, text)
	}
	if i := bytes.LastIndex(text, []byte("<resumptionToken")); i >= 0 {
		_, rest, _ := bytes.Cut(text[i:], []byte(">"))
		token, _, _ := bytes.Cut(rest, []byte("<"))
		if len(token) > 0 && !bytes.ContainsAny(token, "\n") {
			next = "resumptionToken=" + string(token)
		}
	}
	return records, next, nil
}
