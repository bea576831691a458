package outside

import (
	"os/exec"
	"testing"
)

// Dialogue is a program that answers each line with a line.
type Dialogue struct {
	t testing.TB
	p *process
}

// Start starts a script in Python of the conformance tests' folder, which needs no
// packages.
func Start(t testing.TB, script string, args ...string) *Dialogue {
	t.Helper()
	python, err := exec.LookPath("python3")
	if err != nil {
		Missing(t, "python3")
	}
	return &Dialogue{t, start(t, Room(t), append([]string{python, script}, args...)...)}
}

// Line sends a line and returns the answer.
func (d *Dialogue) Line(line []byte) []byte {
	d.t.Helper()
	if _, err := d.p.in.Write(append(line, '\n')); err != nil {
		d.t.Fatalf("%v: %s", err, d.p.stderr)
	}
	answer, err := d.p.out.ReadBytes('\n')
	if err != nil {
		d.t.Fatalf("%v: %s", err, d.p.stderr)
	}
	return answer
}
