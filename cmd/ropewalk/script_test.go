package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	if os.Getenv(programEnv) != "" {
		main()
	}
	testscript.Main(m, map[string]func(){"ropewalk": main})
}

// Scripts over the real binary. They have these commands of their own:
//
//	status N command …    runs it and wants exit code N
//	files DIR             prints the files below DIR, sorted, hidden ones too
//	unpack IN OUT         writes what is compressed in IN, by its ending
//	edit FILE OLD NEW     replaces the only OLD in FILE
//	append FILE TEXT      adds TEXT at the end of FILE
//	serve …               starts "ropewalk serve …", waits for its address, sets $URL
//	get PATH [ACCEPT]     fetches it: body to stdout, status and headers to stderr
//	stop                  interrupts the server, which must end cleanly
//
// A line that begins with [long] is for the long run.
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 12 {
		t.Errorf("%d scripts, at least 12 expected", len(files))
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Condition: func(cond string) (bool, error) {
			if cond == "long" {
				return long(), nil
			}
			return false, fmt.Errorf("there is no condition %q", cond)
		},
		Setup: func(env *testscript.Env) error {
			env.Setenv("NO_COLOR", "1")
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": cmdStatus, "files": cmdFiles, "unpack": cmdUnpack, "edit": cmdEdit, "append": cmdAppend,
			"serve": cmdServe, "get": cmdGet, "stop": cmdStop,
		},
	})
}

func want(ts *testscript.TestScript, neg bool, args []string, least int, usage string) {
	if neg || len(args) < least {
		ts.Fatalf("usage: %s", usage)
	}
}

func command(ts *testscript.TestScript, args []string) *exec.Cmd {
	name := args[0]
	for _, dir := range filepath.SplitList(ts.Getenv("PATH")) {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			name = filepath.Join(dir, name)
			break
		}
	}
	c := exec.Command(name, args[1:]...)
	c.Dir = ts.MkAbs(".")
	c.Env = append(os.Environ(), "NO_COLOR=1", "PATH="+ts.Getenv("PATH"), "HOME="+ts.Getenv("WORK"), "TMPDIR="+ts.Getenv("WORK"))
	return c
}

func cmdStatus(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 2, "status N command …")
	code, err := strconv.Atoi(args[0])
	ts.Check(err)
	c := command(ts, args[1:])
	c.Stdout, c.Stderr = ts.Stdout(), ts.Stderr()
	err = c.Run()
	got := 0
	var ee *exec.ExitError
	if errors.As(err, &ee) {
		got = ee.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != code {
		ts.Fatalf("exit code %d, want %d", got, code)
	}
}

func cmdFiles(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 1, "files DIR")
	root := ts.MkAbs(args[0])
	var names []string
	ts.Check(filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(root, p)
			names = append(names, filepath.ToSlash(rel))
		}
		return err
	}))
	slices.Sort(names)
	for _, n := range names {
		fmt.Fprintln(ts.Stdout(), n)
	}
}

func cmdUnpack(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 2, "unpack IN OUT")
	f, err := os.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	var r io.Reader
	switch filepath.Ext(args[0]) {
	case ".gz":
		r, err = gzip.NewReader(f)
	case ".zst":
		r, err = zstd.NewReader(f)
	default:
		ts.Fatalf("%s: not compressed, by its ending", args[0])
	}
	ts.Check(err)
	data, err := io.ReadAll(r)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), data, 0o644))
}

func cmdAppend(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 2, "append FILE TEXT")
	f, err := os.OpenFile(ts.MkAbs(args[0]), os.O_APPEND|os.O_WRONLY, 0)
	ts.Check(err)
	_, err = f.WriteString(strings.ReplaceAll(args[1], `\n`, "\n"))
	ts.Check(errors.Join(err, f.Close()))
}

func cmdEdit(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 3, "edit FILE OLD NEW")
	name := ts.MkAbs(args[0])
	data, err := os.ReadFile(name)
	ts.Check(err)
	before := strings.ReplaceAll(args[1], `\n`, "\n")
	if n := bytes.Count(data, []byte(before)); n != 1 {
		ts.Fatalf("%q stands %d times in %s", before, n, args[0])
	}
	data = bytes.Replace(data, []byte(before), []byte(strings.ReplaceAll(args[2], `\n`, "\n")), 1)
	ts.Check(os.WriteFile(name, data, 0o644))
}

// server is the one that a script has started.
type server struct {
	cmd    *exec.Cmd
	ended  chan error
	stderr bytes.Buffer
}

var servers = map[*testscript.TestScript]*server{}
var serversLock = make(chan struct{}, 1)

func withServers(f func()) {
	serversLock <- struct{}{}
	defer func() { <-serversLock }()
	f()
}

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+`)

func cmdServe(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 1, "serve SITE …")
	s := &server{cmd: command(ts, append([]string{"ropewalk", "serve"}, args...)), ended: make(chan error, 1)}
	out, err := s.cmd.StdoutPipe()
	ts.Check(err)
	s.cmd.Stderr = &s.stderr
	ts.Check(s.cmd.Start())
	ts.Defer(func() { _ = s.cmd.Process.Kill() })
	lines := make(chan string, 64)
	go func() {
		for sc := bufio.NewScanner(out); sc.Scan(); {
			lines <- sc.Text()
		}
		close(lines)
		s.ended <- s.cmd.Wait()
	}()
	deadline := time.After(20 * time.Second)
	var said strings.Builder
	for url := ""; url == "" || !strings.Contains(said.String(), "Ctrl-C"); {
		select {
		case l, ok := <-lines:
			if !ok {
				ts.Fatalf("the server ended: %v\n%s%s", <-s.ended, said.String(), s.stderr.String())
			}
			fmt.Fprintln(&said, l)
			if url == "" {
				url = address.FindString(l)
				ts.Setenv("URL", url)
			}
		case <-deadline:
			ts.Fatalf("no address after 20 seconds\n%s%s", said.String(), s.stderr.String())
		}
	}
	fmt.Fprint(ts.Stdout(), address.ReplaceAllString(said.String(), "http://HOST"))
	withServers(func() { servers[ts] = s })
}

func cmdGet(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 1, "get PATH [ACCEPT]")
	req, err := http.NewRequest("GET", ts.Getenv("URL")+args[0], nil)
	ts.Check(err)
	if len(args) > 1 {
		req.Header.Set("Accept", args[1])
	}
	client := http.Client{Timeout: 10 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	ts.Check(err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	ts.Check(err)
	fmt.Fprintf(ts.Stdout(), "%s", body)
	fmt.Fprintln(ts.Stderr(), res.Status)
	var head []string
	for k, vs := range res.Header {
		for _, v := range vs {
			head = append(head, k+": "+v)
		}
	}
	slices.Sort(head)
	fmt.Fprintln(ts.Stderr(), strings.Join(head, "\n"))
}

func cmdStop(ts *testscript.TestScript, neg bool, args []string) {
	want(ts, neg, args, 0, "stop")
	var s *server
	withServers(func() { s = servers[ts]; delete(servers, ts) })
	if s == nil {
		ts.Fatalf("no server runs")
	}
	ts.Check(s.cmd.Process.Signal(syscall.SIGINT))
	select {
	case err := <-s.ended:
		fmt.Fprint(ts.Stderr(), s.stderr.String())
		if err != nil {
			ts.Fatalf("the server ended with %v\n%s", err, s.stderr.String())
		}
	case <-time.After(10 * time.Second):
		ts.Fatalf("the server does not stop")
	}
}
