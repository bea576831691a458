package outside

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// process is a program that answers many requests over its standard input and
// output. A request is a line "SYNTAX BASE LENGTH" and LENGTH bytes; the answer,
// in the order of the requests, a line "ok LENGTH" or "error LENGTH" and the bytes.
type process struct {
	mu     sync.Mutex
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
	stderr *tail
}

// patience is how long one answer may take.
const patience = 2 * time.Minute

// start starts a program. It ends when the tests do, since its input ends then.
func start(t testing.TB, dir string, argv ...string) *process {
	t.Helper()
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Dir = dir
	p := &process{cmd: cmd, stderr: &tail{}}
	cmd.Stderr = p.stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.in, p.out = in, bufio.NewReaderSize(out, 1<<20)
	return p
}

// ask sends requests and returns one answer for each: text, or an error that the
// program reported. If the program dies, the answers that are missing say so.
func (p *process) ask(reqs []Request) []textAnswer {
	p.mu.Lock()
	defer p.mu.Unlock()
	go func() {
		w := bufio.NewWriterSize(p.in, 1<<16)
		for _, r := range reqs {
			base := r.Base
			if base == "" {
				base = "http://base.example/"
			}
			fmt.Fprintf(w, "%s %s %d\n", r.Syntax, base, len(r.Text))
			w.Write(r.Text)
		}
		w.Flush() // a program that died shows in its answers
	}()
	answers := make([]textAnswer, len(reqs))
	for i := range reqs {
		watch := time.AfterFunc(patience, func() { p.cmd.Process.Kill() })
		answers[i] = p.read()
		watch.Stop()
	}
	return answers
}

type textAnswer struct {
	text string
	err  error
}

func (p *process) read() textAnswer {
	head, err := p.out.ReadString('\n')
	if err != nil {
		return textAnswer{err: fmt.Errorf("no answer: %w\n%s", err, p.stderr)}
	}
	status, length, _ := strings.Cut(strings.TrimSuffix(head, "\n"), " ")
	n, err := strconv.Atoi(length)
	if err != nil {
		return textAnswer{err: fmt.Errorf("answer begins with %q", head)}
	}
	body := make([]byte, n)
	if _, err := io.ReadFull(p.out, body); err != nil {
		return textAnswer{err: fmt.Errorf("answer cut off: %w\n%s", err, p.stderr)}
	}
	if status != "ok" {
		return textAnswer{err: fmt.Errorf("%s", body)}
	}
	return textAnswer{text: string(body)}
}

// tail keeps the last few KB of what a program writes.
type tail struct {
	mu  sync.Mutex
	buf []byte
}

func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.buf = append(t.buf, b...)
	if over := len(t.buf) - 4096; over > 0 {
		t.buf = t.buf[over:]
	}
	return len(b), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(bytes.TrimSpace(t.buf))
}
