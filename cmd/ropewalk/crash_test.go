package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
)

// crashEnv makes the test binary the program itself, see TestMain.
const crashEnv = "ROPEWALK_TEST_CRASH"

// A publication that is killed at any moment leaves the one before whole, or is whole
// itself; and the next one goes through.
func TestPublishKilled(t *testing.T) {
	if os.Getenv("ROPEWALK_LONG") == "" {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	const kills = 100
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	const rows = 6000 // more than one batch of the store
	write("ropewalk.yaml", "title: T\nbase: https://t.example/\nsources:\n  things: { files: things.csv }\n")
	write("mapping/a.yaml", "make: Type\nfrom: things\nid: concept/{no}\nlabel: \"{title}\"\n")
	export := func(generation int) {
		text := "no,title\n"
		for i := range rows {
			text += fmt.Sprintf("%d,thing %d of %d\n", i, i, generation)
		}
		write("things.csv", text)
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	publish := func() *exec.Cmd {
		c := exec.Command(exe, "publish", dir, "--workers", "1")
		c.Env = append(os.Environ(), crashEnv+"=1")
		return c
	}
	// state says which generation is published, and that it is nothing else.
	state := func() (generation int, number int64) {
		t.Helper()
		store, err := sqlite.Open(filepath.Join(dir, "store", "ropewalk.db"))
		if err != nil {
			t.Fatalf("the store does not open: %v", err)
		}
		defer store.Close()
		labels := map[int]int{}
		pub, err := store.Walk(context.Background(), func(r *service.Record) error {
			var i, g int
			if _, err := fmt.Sscanf(r.Label, "thing %d of %d", &i, &g); err != nil {
				return err
			}
			labels[g]++
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if len(labels) != 1 {
			t.Fatalf("publication %d is not whole: %v", pub.Number, labels)
		}
		for g, n := range labels {
			if n != rows {
				t.Fatalf("publication %d has %d of %d documents", pub.Number, n, rows)
			}
			generation = g
		}
		if all, err := store.Publications(context.Background(), 0, 1000); err != nil || int64(len(all)) != pub.Number {
			t.Fatalf("%d publications, the last with number %d: %v", len(all), pub.Number, err)
		}
		return generation, pub.Number
	}

	export(0)
	begun := time.Now()
	if out, err := publish().CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	whole := time.Since(begun)
	old, number := state()
	killed, through := 0, 0
	for i := 1; i <= kills; i++ {
		export(i)
		c := publish()
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rand.Float64() * 1.1 * float64(whole)))
		_ = c.Process.Kill()
		if err := c.Wait(); err != nil {
			killed++
		}
		now, n := state()
		switch {
		case now == old && n == number:
		case now == i && n == number+1:
			through++
		default:
			t.Fatalf("after kill %d generation %d is published as %d; it was %d as %d", i, now, n, old, number)
		}
		old, number = now, n
	}
	if killed == 0 {
		t.Error("every publication was finished before it was killed")
	}
	export(kills + 1)
	if out, err := publish().CombinedOutput(); err != nil {
		t.Fatalf("after all that: %v\n%s", err, out)
	}
	if now, n := state(); now != kills+1 || n != number+1 {
		t.Errorf("after all that generation %d is published as %d", now, n)
	}
	t.Logf("%d kills, %d of them in time; %d publications were whole all the same; one takes %v", kills, killed, through, whole.Round(time.Millisecond))
}
