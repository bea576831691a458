//go:build linux

package outside

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// GraphStore is a running Virtuoso: a general RDF store with SPARQL 1.1 and the Graph
// Store HTTP Protocol, from Debian's package virtuoso-opensource-7-bin.
type GraphStore struct {
	Graphs string // address of its Graph Store HTTP Protocol, which wants Digest authentication
	query  string

	User, Password string
}

// StartGraphStore starts one with a database of its own, which the end of the test ends
// and deletes.
func StartGraphStore(t testing.TB) *GraphStore {
	t.Helper()
	program, err := exec.LookPath("virtuoso-t")
	if err != nil {
		Missing(t, "virtuoso-t (Debian package virtuoso-opensource-7-bin)")
	}
	dir := t.TempDir()
	port := func() string {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer l.Close()
		return l.Addr().String()
	}
	sql, web := port(), port()
	settings := strings.NewReplacer("DIR", dir, "SQL", sql, "WEB", web).Replace(`[Database]
DatabaseFile=DIR/v.db
ErrorLogFile=DIR/v.log
LockFile=DIR/v.lck
TransactionFile=DIR/v.trx
xa_persistent_file=DIR/v.pxa
[TempDatabase]
DatabaseFile=DIR/vt.db
TransactionFile=DIR/vt.trx
[Parameters]
ServerPort=SQL
ServerThreads=20
DirsAllowed=DIR
NumberOfBuffers=10000
MaxDirtyBuffers=6000
CheckpointInterval=0
[HTTPServer]
ServerPort=WEB
ServerRoot=DIR
ServerThreads=10
MaxKeepAlives=10
KeepAliveTimeout=10
[SPARQL]
ResultSetMaxRows=1000000
`)
	file := filepath.Join(dir, "v.ini")
	if err := os.WriteFile(file, []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "+foreground", "+configfile", file)
	cmd.Dir = dir
	out, err := os.Create(filepath.Join(dir, "out"))
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stdout, cmd.Stderr = out, out
	// It ends with the tests, even if they are killed; so the thread that starts it stays.
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	started, ended := make(chan error), make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			ended <- cmd.Wait()
		}
	}()
	if err := <-started; err != nil {
		t.Fatal(err)
	}
	over := false
	t.Cleanup(func() {
		if !over {
			_ = cmd.Process.Kill()
			<-ended
		}
		_ = out.Close()
	})
	// "dba" is the name and password of the administrator of a new database.
	g := &GraphStore{Graphs: "http://" + web + "/sparql-graph-crud-auth", query: "http://" + web + "/sparql", User: "dba", Password: "dba"}
	deadline := time.After(2 * time.Minute)
	for {
		res, err := http.Get(g.query + "?query=" + url.QueryEscape("ASK {}"))
		if err == nil {
			_ = res.Body.Close()
			if res.StatusCode == 200 {
				return g
			}
			err = fmt.Errorf("status %s", res.Status)
		}
		select {
		case exit := <-ended:
			over = true
			log, _ := os.ReadFile(out.Name())
			more, _ := os.ReadFile(filepath.Join(dir, "v.log"))
			t.Fatalf("the RDF store ended: %v\n%s%s", exit, log, more)
		case <-deadline:
			t.Fatalf("the RDF store does not answer: %v", err)
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// Ask puts a SPARQL query and returns the answer in a media type.
func (g *GraphStore) Ask(t testing.TB, query, accept string) []byte {
	t.Helper()
	req, err := http.NewRequest("GET", g.query+"?query="+url.QueryEscape(query), nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Accept", accept)
	res, err := (&http.Client{Timeout: 2 * time.Minute}).Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 {
		t.Fatalf("%s: %s, %v\n%s", query, res.Status, err, body)
	}
	return body
}
