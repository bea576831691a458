package storetest

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ropewalk/service"
)

const (
	victimEnv     = "ROPEWALK_TEST_PUBLISH"
	victimRecords = 400
)

// Victim is what a test binary does first in TestMain: if [Kill] started it, it
// publishes one publication after the other until it is killed.
func Victim(open func(target string) (service.Store, error)) {
	target := os.Getenv(victimEnv)
	if target == "" {
		return
	}
	s, err := open(target)
	for err == nil {
		err = victimPublishes(s)
		fmt.Print(".")
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// victimPublishes changes nearly all records, and ends or returns one in a set.
func victimPublishes(s service.Store) error {
	ctx := context.Background()
	d, err := s.Begin(ctx)
	if err != nil {
		return err
	}
	n := d.Last().Number + 1
	for i := range victimRecords {
		if i == 7 && n%2 == 0 {
			continue
		}
		text := fmt.Sprintf("%d %s", n, strings.Repeat("x", i))
		if i == 0 {
			text = "always the same"
		}
		if _, err := d.Put(In(Rec(fmt.Sprintf("object/%d", i), text), "set")); err != nil {
			return err
		}
	}
	_, err = d.Commit(ctx)
	return err
}

// Kill kills publishing processes at random moments and looks at what they left:
// the old publication or the new one, whole. A harvester goes on over all of it.
func Kill(t *testing.T, target string, open func() (service.Store, error)) {
	rounds := 4
	if Long() {
		rounds = 50
	}
	ctx := context.Background()
	has := map[string]string{}
	var after, last int64
	for round := range rounds {
		cmd := exec.Command(os.Args[0], "-test.run=^$")
		cmd.Env = append(os.Environ(), victimEnv+"="+target)
		cmd.Stderr = os.Stderr
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := out.Read(make([]byte, 1)); err != nil { // it has published once
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rand.IntN(250_000)) * time.Microsecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait()

		s, err := open()
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.Current(ctx)
		if err != nil || p.Number <= last {
			t.Fatalf("round %d: publication %d after %d, %v", round, p.Number, last, err)
		}
		last = p.Number
		for {
			page, err := s.Changes(ctx, service.Selection{After: after, Set: "set", Bodies: true, Limit: 150})
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range page {
				after = r.Seq
				if delete(has, r.Path); r.State == service.Live {
					has[r.Path] = string(r.Body)
				}
			}
			if len(page) < 150 {
				break
			}
		}
		live := 0
		q, err := s.Walk(ctx, func(r *service.Record) error {
			live++
			if has[r.Path] != string(r.Body) || r.Digest != r.ContentDigest() {
				t.Errorf("round %d: the copy of %s has %.90s, the store %.90s", round, r.Path, has[r.Path], r.Body)
			}
			if !strings.Contains(string(r.Body), fmt.Sprintf(`"%d x`, p.Number)) && r.Path != "object/0" && r.Path != "object/1" {
				t.Errorf("round %d: publication %d holds %.120s", round, p.Number, r.Body)
			}
			return nil
		})
		if want := victimRecords - 1 + int(p.Number%2); err != nil || q != p || live != want || len(has) != want {
			t.Errorf("round %d: %d live, %d harvested, want %d; publication %+v, then %+v, %v", round, live, len(has), want, p, q, err)
		}
		if n, exact, err := s.Count(ctx, service.Selection{Set: "set"}); err != nil || !exact || n != victimRecords {
			t.Errorf("round %d: count %d, %v", round, n, err)
		}
		if l, err := s.Log(ctx, p.Last-1, 2); err != nil || len(l) != 1 || l[0].Seq != p.Last {
			t.Errorf("round %d: the log ends with %s, not %d, %v", round, shows(l), p.Last, err)
		}
		// The next draft need not wait for the dead.
		limited, cancel := context.WithTimeout(ctx, 10*time.Second)
		d, err := s.Begin(limited)
		cancel()
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Discard(); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if t.Failed() {
			return
		}
	}
	t.Logf("%d kills, %d publications", rounds, last)
}

// testPublishers lets several processes' stores publish at once: each draft begins
// with what the one before left.
func testPublishers(h *harness) {
	const publishers, each = 4, 8
	var wg sync.WaitGroup
	for i := range publishers {
		s := h.again()
		wg.Add(1)
		go func() {
			defer wg.Done()
			defer s.Close()
			for k := range each {
				if err := addOne(h.ctx, s, i, k); err != nil {
					h.Error(err)
				}
			}
		}()
	}
	wg.Wait()
	p := h.current()
	if p.Number != publishers*each || p.Last != publishers*each {
		h.Errorf("%+v", p)
	}
	l, err := h.s.Log(h.ctx, 0, 1000)
	if err != nil || len(l) != publishers*each {
		h.Fatalf("%s, %v", shows(l), err)
	}
	for i, r := range l {
		if r.Seq != int64(i+1) || r.Publication != r.Seq || r.Change != service.Added || i > 0 && !r.Modified.After(l[i-1].Modified) {
			h.Errorf("%d: %+v", i, r)
		}
	}
}

// addOne publishes what there is and one record more, now and then after a draft
// that comes to nothing.
func addOne(ctx context.Context, s service.Store, publisher, k int) error {
	d, err := s.Begin(ctx)
	if err != nil {
		return err
	}
	defer d.Discard()
	have, err := s.Changes(ctx, service.Selection{Bodies: true, Limit: 1000})
	if err != nil {
		return err
	}
	for i := range have {
		if _, err := d.Put(&have[i]); err != nil {
			return err
		}
	}
	if _, err := d.Put(Rec(fmt.Sprintf("object/%d.%d", publisher, k), "x")); err != nil {
		return err
	}
	if k%3 == 1 {
		if err := d.Discard(); err != nil {
			return err
		}
		return addOne(ctx, s, publisher, k+1000)
	}
	_, err = d.Commit(ctx)
	return err
}

// testFollowers harvests, in small pages and by several harvesters, while others
// publish. Whoever follows the Seqs ends with what the store holds.
func testFollowers(h *harness) {
	var done atomic.Bool
	var wg sync.WaitGroup
	other := h.again()
	defer other.Close()
	for i, sel := range []service.Selection{{Limit: 3}, {Limit: 7, Set: "set"}, {Limit: 5, Endpoint: "object"}} {
		s := []service.Store{h.s, other}[i%2]
		wg.Add(1)
		go func() {
			defer wg.Done()
			sel.Bodies = true
			has := map[string]int64{}
			for last := false; ; {
				page, err := s.Changes(h.ctx, sel)
				if err != nil {
					h.Error(err)
					return
				}
				for _, r := range page {
					if r.Seq <= sel.After {
						h.Errorf("%d after %d", r.Seq, sel.After)
					}
					sel.After = r.Seq
					if delete(has, r.Path); r.State == service.Live && !r.Left {
						has[r.Path] = r.Seq
					}
				}
				if len(page) == sel.Limit {
					continue
				}
				if last {
					break
				}
				last = done.Load() // all that was published is to be seen by now
			}
			live := 0
			if _, err := s.Walk(h.ctx, func(r *service.Record) error {
				if in(*r, sel) {
					live++
					if has[r.Path] != r.Seq {
						h.Errorf("%+v: %s is at %d, in the copy at %d", sel, r.Path, r.Seq, has[r.Path])
					}
				}
				return nil
			}); err != nil || live != len(has) {
				h.Errorf("%+v: %d in the store, %d in the copy, %v", sel, live, len(has), err)
			}
		}()
	}
	random := rand.New(rand.NewPCG(1, 2))
	for round := range 12 {
		d := h.begin()
		for i := range 30 {
			if random.IntN(5) == 0 {
				continue
			}
			r := Rec(fmt.Sprintf("object/%d", i), fmt.Sprint(round*random.IntN(2)))
			if random.IntN(3) == 0 {
				r.Sets = []string{"set:below"}
			}
			if _, err := d.Put(r); err != nil {
				h.Fatal(err)
			}
		}
		if _, err := d.Commit(h.ctx); err != nil {
			h.Fatal(err)
		}
	}
	done.Store(true)
	wg.Wait()
}
