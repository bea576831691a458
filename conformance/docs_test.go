package conformance

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// The documents whose commands are run. Each has at least so many.
var documents = map[string]int{"../README.md": 8, "../DEVELOPERS.md": 5}

// notRun are commands that a test can't run within itself; .ci/run has them.
var notRun = map[string]bool{"go test ./...": true, "bash .ci/run": true}

// TestDocumentedCommands runs every command of the console blocks of the documents
// and holds what they print against what stands there. "…" on a line of its own
// stands for any lines, within a line for any text.
func TestDocumentedCommands(t *testing.T) {
	root, err := filepath.Abs("..")
	if err != nil {
		t.Fatal(err)
	}
	ci, err := os.ReadFile("../.ci/run")
	if err != nil {
		t.Fatal(err)
	}
	for c := range notRun {
		if c != "bash .ci/run" && !bytes.Contains(ci, []byte("\n"+c+"\n")) {
			t.Errorf(".ci/run does not run %q", c)
		}
	}
	for name, least := range documents {
		t.Run(filepath.Base(name), func(t *testing.T) {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			found := 0
			for _, b := range consoleBlocks(string(data)) {
				found += len(b)
			}
			if found < least {
				t.Errorf("%s: %d commands, expected at least %d", name, found, least)
			}
			if os.Getenv("ROPEWALK_LONG") == "" {
				t.Skip("the commands build and link the program several times: ROPEWALK_LONG=1 runs them, as .ci/run does")
			}
			tmp := t.TempDir()
			ran := 0
			for _, b := range consoleBlocks(string(data)) {
				for _, c := range b {
					if notRun[c.command] {
						continue
					}
					ran++
					runDocumented(t, root, tmp, name, c)
				}
			}
			if ran < least {
				t.Errorf("%s: %d commands, expected at least %d", name, ran, least)
			}
		})
	}
}

type documented struct {
	line    int
	command string
	output  []string
}

// consoleBlocks finds the commands in the blocks marked "console".
func consoleBlocks(text string) [][]documented {
	var out [][]documented
	inside := false
	for i, l := range strings.Split(text, "\n") {
		switch {
		case strings.HasPrefix(l, "```"):
			if inside = l == "```console"; inside {
				out = append(out, nil)
			}
		case inside && strings.HasPrefix(l, "$ "):
			out[len(out)-1] = append(out[len(out)-1], documented{line: i + 1, command: l[2:]})
		case inside:
			b := out[len(out)-1]
			if len(b) > 0 {
				b[len(b)-1].output = append(b[len(b)-1].output, l)
			}
		}
	}
	return out
}

var listens = regexp.MustCompile(`--listen (\S+)`)

// answers waits until somebody listens at an address.
func answers(t *testing.T, address string) {
	t.Helper()
	for range 600 {
		c, err := net.Dial("tcp", address)
		if err == nil {
			_ = c.Close()
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("nobody listens at %s", address)
}

func runDocumented(t *testing.T, root, tmp, name string, c documented) {
	t.Helper()
	place := func(s string) string { return strings.ReplaceAll(s, "/tmp/", tmp+"/") }
	background := strings.HasSuffix(c.command, " &")
	cmd := exec.Command("bash", "-c", place(strings.TrimSuffix(c.command, " &")))
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "NO_COLOR=1")
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if background {
		cmd.Stdout, cmd.Stderr = nil, nil
		if err := cmd.Start(); err != nil {
			t.Fatalf("%s:%d: %s: %v", name, c.line, c.command, err)
		}
		t.Cleanup(func() {
			_ = cmd.Process.Signal(os.Interrupt)
			_ = exec.Command("pkill", "-P", fmt.Sprint(cmd.Process.Pid)).Run()
			_ = cmd.Wait()
		})
		if m := listens.FindStringSubmatch(c.command); m != nil {
			answers(t, m[1])
		} else {
			time.Sleep(time.Second)
		}
		return
	}
	err := cmd.Run()
	if _, exited := err.(*exec.ExitError); err != nil && !exited {
		t.Fatalf("%s:%d: %s: %v", name, c.line, c.command, err)
	}
	if err != nil && len(c.output) == 0 {
		t.Fatalf("%s:%d: %s: %v\n%s", name, c.line, c.command, err, out.String())
	}
	var b strings.Builder
	b.WriteString(`^`)
	for i, l := range c.output {
		if l == "…" {
			b.WriteString(`(?:.*\n)*?`)
			continue
		}
		b.WriteString(strings.ReplaceAll(regexp.QuoteMeta(place(l)), "…", ".*"))
		if i < len(c.output)-1 || l != "" {
			b.WriteString(`\n`)
		}
	}
	b.WriteString(`\s*$`)
	if len(c.output) > 0 && !regexp.MustCompile(b.String()).MatchString(strings.TrimRight(out.String(), "\n")+"\n") {
		t.Errorf("%s:%d: %s\nprints\n%s\nand not\n%s", name, c.line, c.command, out.String(), strings.Join(c.output, "\n"))
	}
}
