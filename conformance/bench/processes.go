package main

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// processes runs the real program on large exports, for memory and workers.
func (b *bench) processes(t *table, big int) error {
	dir, err := os.MkdirTemp("", "ropewalk-bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	bin := filepath.Join(dir, "ropewalk")
	if out, err := exec.Command("go", "build", "-o", bin, "ropewalk/cmd/ropewalk").CombinedOutput(); err != nil {
		return fmt.Errorf("building the program: %w\n%s", err, out)
	}
	small, large := filepath.Join(dir, "small"), filepath.Join(dir, "large")
	if err := writeSite(small, big/10); err != nil {
		return err
	}
	if err := writeSite(large, big); err != nil {
		return err
	}
	var little []run
	var one, two []run
	for range 3 {
		r0, err := exportProcess(bin, small, 1)
		if err != nil {
			return err
		}
		little = append(little, r0)
		r1, err := exportProcess(bin, large, 1)
		if err != nil {
			return err
		}
		r2, err := exportProcess(bin, large, 2)
		if err != nil {
			return err
		}
		one, two = append(one, r1), append(two, r2)
	}
	best := func(rs []run) run {
		b := rs[0]
		for _, r := range rs[1:] {
			if r.took < b.took {
				b = r
			}
			b.peak = max(b.peak, r.peak)
		}
		return b
	}
	smallRun, o, w := best(little), best(one), best(two)
	n := float64(big)
	size := float64(b.bytes["nt"]) / float64(len(b.floors)) * n / 1e6
	t.add(row{what: fmt.Sprintf("ropewalk export, %d records, 1 worker", big/10), records: n / 10 / smallRun.took.Seconds(), peak: smallRun.peak})
	t.add(row{what: fmt.Sprintf("ropewalk export, %d records, 1 worker", big), records: n / o.took.Seconds(), mb: size / o.took.Seconds(), peak: o.peak})
	t.add(row{what: fmt.Sprintf("ropewalk export, %d records, 2 workers", big), records: n / w.took.Seconds(), mb: size / w.took.Seconds(), peak: w.peak,
		ratio: o.took.Seconds() / w.took.Seconds(), of: "1 worker", target: 1.6, atLeast: true})
	t.add(row{what: "peak memory of the large export", peak: o.peak, ratio: o.peak, of: "MiB", target: 150})
	t.add(row{what: "its growth from the small one", peak: o.peak, ratio: o.peak / smallRun.peak, of: "the small one's", target: 1.1})
	return b.published(t, bin, large, big)
}

// writeSite writes a site with n records.
func writeSite(dir string, n int) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for name, f := range siteFS(0) {
		if name == "objects.csv" {
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, name), f.Data, 0o666); err != nil {
			return err
		}
	}
	f, err := os.Create(filepath.Join(dir, "objects.csv"))
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	const step = 5000
	for from := 0; from < n; from += step {
		data := csvOf(from, min(step, n-from))
		if from > 0 {
			data = data[headerLen:]
		}
		if _, err := w.Write(data); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

var headerLen = len(csvOf(0, 0))

// run is one run of the program.
type run struct {
	took time.Duration
	peak float64 // MiB
	code int     // with which it ended
	said string  // on standard output, unless it is an export, and standard error
}

func exportProcess(bin, dir string, workers int) (run, error) {
	r, err := program(bin, []string{fmt.Sprintf("GOMAXPROCS=%d", workers)}, "export", dir, "--format", "nt", "--workers", fmt.Sprint(workers), "--lenient")
	if err == nil && r.code != 0 {
		err = fmt.Errorf("ropewalk export %s: exit %d: %s", dir, r.code, r.said)
	}
	return r, err
}

// program runs the program. What export writes goes nowhere.
func program(bin string, env []string, args ...string) (run, error) {
	cmd := exec.Command(bin, args...)
	cmd.Env = append(os.Environ(), env...)
	var said bytes.Buffer
	cmd.Stderr = &said
	if args[0] == "export" {
		null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
		if err != nil {
			return run{}, err
		}
		defer null.Close()
		cmd.Stdout = null
	} else {
		cmd.Stdout = &said
	}
	start := time.Now()
	if err := cmd.Start(); err != nil {
		return run{}, err
	}
	// The kernel's ru_maxrss of a child begins at that of the process that forked it,
	// so the high-water mark is read from /proc while the child lives.
	done := make(chan float64)
	stop := make(chan struct{})
	go func() {
		peak := 0.0
		for {
			peak = max(peak, memory(cmd.Process.Pid, "VmHWM:"))
			select {
			case <-stop:
				done <- peak
				return
			case <-time.After(10 * time.Millisecond):
			}
		}
	}()
	err := cmd.Wait()
	took := time.Since(start)
	close(stop)
	peak := <-done
	if _, ended := err.(*exec.ExitError); err != nil && !ended {
		return run{}, err
	}
	if peak == 0 {
		return run{}, fmt.Errorf("the memory of a child could not be read from /proc")
	}
	return run{took: took, peak: peak, code: cmd.ProcessState.ExitCode(), said: said.String()}, nil
}

// memory is a figure of a process's memory in MiB, by its name in /proc/PID/status; 0 if
// the process is gone.
func memory(pid int, name string) float64 {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(data)) {
		if kb, ok := strings.CutPrefix(line, name); ok {
			n, _ := strconv.ParseFloat(strings.Fields(kb)[0], 64)
			return n / 1024
		}
	}
	return 0
}
