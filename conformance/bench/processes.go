package main

import (
	"bufio"
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
	return nil
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
}

func exportProcess(bin, dir string, workers int) (run, error) {
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		return run{}, err
	}
	defer null.Close()
	cmd := exec.Command(bin, "export", dir, "--format", "nt", "--workers", fmt.Sprint(workers), "--lenient")
	cmd.Env = append(os.Environ(), fmt.Sprintf("GOMAXPROCS=%d", workers))
	cmd.Stdout = null
	start := time.Now()
	out, err := cmd.StderrPipe()
	if err != nil {
		return run{}, err
	}
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
			peak = max(peak, highWater(cmd.Process.Pid))
			select {
			case <-stop:
				done <- peak
				return
			case <-time.After(10 * time.Millisecond):
			}
		}
	}()
	said, _ := bufio.NewReader(out).ReadString('\n')
	err = cmd.Wait()
	took := time.Since(start)
	close(stop)
	peak := <-done
	if err != nil {
		return run{}, fmt.Errorf("ropewalk export %s: %w: %s", dir, err, said)
	}
	if peak == 0 {
		return run{}, fmt.Errorf("the memory of a child could not be read from /proc")
	}
	return run{took: took, peak: peak}, nil
}

// highWater is the peak resident size of a process in MiB, 0 if it is gone.
func highWater(pid int) float64 {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(data)) {
		if kb, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			n, _ := strconv.ParseFloat(strings.Fields(kb)[0], 64)
			return n / 1024
		}
	}
	return 0
}
