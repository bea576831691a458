//go:build linux

package main

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"ropewalk/service"
	"ropewalk/service/store/postgres/pgtest"
)

// A publication that is killed at any moment leaves the one before whole, or is whole
// itself; a harvest that was begun before goes on from its token and ends with what
// is published; the downloads are those of the one or the other; and the next
// publication goes through.
//
// Half of the kills come at random moments. The others wait for the first trace of
// the transaction in the store and then a moment, so that many land while it writes.
// Where each landed is told by what it left behind, not by the clock.
func TestPublishKilled(t *testing.T) {
	for _, c := range []struct {
		name  string
		quick int // kills without ROPEWALK_LONG
		open  func(t *testing.T, dir string) killable
	}{
		{"sqlite", 1, func(_ *testing.T, dir string) killable {
			return &killedFile{path: filepath.Join(dir, "store", "ropewalk.db")}
		}},
		{"postgres", 0, openKilledDatabase},
	} {
		t.Run(c.name, func(t *testing.T) {
			kills, rows := 100, 6000 // more than one batch of either store
			if !long() {
				if kills, rows = c.quick, 200; kills == 0 {
					t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
				}
			}
			dir := t.TempDir()
			killPublishers(t, dir, c.open(t, dir), kills, rows)
		})
	}
}

// killable is a store whose publishers are killed.
type killable interface {
	address() string
	downloads(dir string) string
	// begin notes how the store is before a publication.
	begin(t testing.TB)
	// written reports whether the store shows traces, since begin, of a transaction
	// that was not committed, or not yet.
	written(t testing.TB) bool
}

// Where a kill landed.
const (
	beforeWriting = "before anything was written"
	whileWriting  = "while the transaction wrote"
	afterCommit   = "after the commit, while the downloads were made"
	tooLate       = "after the end"
)

func killPublishers(t *testing.T, dir string, k killable, kills, rows int) {
	d := newSite(t, dir, storeEnv+"="+k.address())
	publish := func() (wait func(time.Duration) bool) {
		c := d.command("publish", dir, "--workers", "1")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		return func(delay time.Duration) (ended bool) {
			done := make(chan error, 1)
			go func() { done <- c.Wait() }()
			select {
			case err := <-done:
				if err != nil {
					t.Fatalf("a publication that was not killed: %v", err)
				}
				return true
			case <-time.After(delay):
			}
			_ = c.Process.Kill()
			return <-done == nil
		}
	}
	d.generation(0, rows)
	begun := time.Now()
	d.publish()
	whole := time.Since(begun)
	server := d.serve()
	old, number := published(t, k.address(), rows)
	landed := map[string]int{}
	for i := 1; i <= kills; i++ {
		d.generation(i, rows)
		var h harvesting
		if !h.page(server) {
			t.Fatal("the harvest has one page")
		}
		k.begin(t)
		kill := publish()
		var ended bool
		if i%2 == 0 {
			ended = kill(time.Duration(rand.Float64() * 1.1 * float64(whole)))
		} else {
			for until := time.Now().Add(3 * whole); !k.written(t) && time.Now().Before(until); {
				time.Sleep(200 * time.Microsecond)
			}
			ended = kill(time.Duration(rand.Float64() * 0.1 * float64(whole)))
		}
		now, n := published(t, k.address(), rows)
		made, of := d.shelf(k.downloads(dir), rows)
		var where string
		switch {
		case now == old && n == number && !ended:
			if where = beforeWriting; k.written(t) {
				where = whileWriting
			}
		case now == i && n == number+1:
			if where = afterCommit; ended || made == n {
				where = tooLate
			}
		default:
			t.Fatalf("after kill %d (ended %v) generation %d is published as %d; it was %d as %d", i, ended, now, n, old, number)
		}
		landed[where]++
		if made == n && of != now || made != n && (made > n || of > now) {
			t.Fatalf("after kill %d the downloads are of publication %d and generation %d; published is %d, generation %d", i, made, of, n, now)
		}
		for h.page(server) {
		}
		h.complete(t, now, rows)
		old, number = now, n
	}
	d.generation(kills+1, rows)
	d.publish()
	now, n := published(t, k.address(), rows)
	made, of := d.shelf(k.downloads(dir), rows)
	if now != kills+1 || n != number+1 || made != n || of != now {
		t.Errorf("after all that generation %d is published as %d, with downloads of generation %d and publication %d", now, n, of, made)
	}
	var h harvesting
	for h.page(server) {
	}
	h.complete(t, now, rows)
	t.Logf("%d kills: %d %s, %d %s, %d %s, %d %s; a publication takes %v", kills, landed[beforeWriting], beforeWriting,
		landed[whileWriting], whileWriting, landed[afterCommit], afterCommit, landed[tooLate], tooLate, whole.Round(time.Millisecond))
	if long() {
		for _, where := range []string{beforeWriting, whileWriting, afterCommit} {
			if landed[where] == 0 {
				t.Errorf("no kill landed %s: this shows nothing", where)
			}
		}
	}
}

// published opens a store and says which generation is published, and that it is
// nothing else. It waits until the server has noticed that a publisher is dead.
func published(t testing.TB, address string, rows int) (generation int, number int64) {
	t.Helper()
	store, err := openStore(address)
	if err != nil {
		t.Fatalf("the store does not open: %v", err)
	}
	defer store.Close()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	d, err := store.Begin(ctx)
	if err != nil {
		t.Fatalf("the next publisher has to wait for a dead one: %v", err)
	}
	if err := d.Discard(); err != nil {
		t.Fatal(err)
	}
	labels := map[int]int{}
	pub, err := store.Walk(ctx, func(r *service.Record) error {
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
	if all, err := store.Publications(ctx, 0, 1000); err != nil || int64(len(all)) != pub.Number {
		t.Fatalf("%d publications, the last with number %d: %v", len(all), pub.Number, err)
	}
	// Versions count on without gaps, whatever was undone.
	if log, err := store.Log(ctx, pub.Last-1, 2); err != nil || len(log) != 1 || pub.Last != int64(rows)*pub.Number {
		t.Fatalf("publication %d ends with version %d, the log with %v: %v", pub.Number, pub.Last, log, err)
	}
	return generation, pub.Number
}

// killedFile is an SQLite store. What a transaction writes goes to the write-ahead
// log (the format: https://www.sqlite.org/fileformat2.html#walformat).
type killedFile struct {
	path   string
	before walState
}

// walState is what a write-ahead log holds.
type walState struct {
	salt    uint64
	frames  int // since the last checkpoint
	commits int // of these, that end a transaction
}

func (k *killedFile) address() string             { return k.path }
func (k *killedFile) downloads(dir string) string { return filepath.Join(dir, "store", "downloads") }
func (k *killedFile) begin(t testing.TB)          { k.before = k.wal(t) }

func (k *killedFile) written(t testing.TB) bool {
	now := k.wal(t)
	if now.salt != k.before.salt { // begun anew by a writer
		return now.frames > 0 && now.commits == 0
	}
	return now.frames > k.before.frames && now.commits == k.before.commits
}

func (k *killedFile) wal(t testing.TB) (s walState) {
	f, err := os.Open(k.path + "-wal")
	if errors.Is(err, os.ErrNotExist) {
		return s
	} else if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var head [32]byte
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return s // empty
	}
	size := int64(binary.BigEndian.Uint32(head[8:]))
	s.salt = binary.BigEndian.Uint64(head[16:])
	for at := int64(len(head)); ; at += 24 + size {
		var frame [24]byte
		if _, err := f.ReadAt(frame[:], at); err != nil || binary.BigEndian.Uint64(frame[8:]) != s.salt {
			return s
		}
		s.frames++
		if binary.BigEndian.Uint32(frame[4:]) != 0 {
			s.commits++
		}
	}
}

// killedDatabase is a PostgreSQL store. A table grows by what a transaction writes,
// and keeps its size when that is undone.
type killedDatabase struct {
	url    string
	conn   *pgx.Conn
	before int64
}

func openKilledDatabase(t *testing.T, _ string) killable {
	c := startDatabase(t, "autovacuum=off")
	k := &killedDatabase{url: c.URL("")}
	var err error
	if k.conn, err = pgx.Connect(context.Background(), k.url); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = k.conn.Close(context.Background()) })
	return k
}

// startDatabase starts a PostgreSQL that ends with the test.
func startDatabase(t *testing.T, options ...string) *pgtest.Cluster {
	t.Helper()
	c, err := pgtest.Start(options...)
	if errors.Is(err, pgtest.ErrMissing) && os.Getenv("CI") != "true" {
		t.Skip("SKIPPED: ", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := c.Remove(); err != nil {
			t.Error(err)
		}
	})
	return c
}

func (k *killedDatabase) address() string             { return k.url }
func (k *killedDatabase) downloads(dir string) string { return filepath.Join(dir, "downloads") }
func (k *killedDatabase) begin(t testing.TB)          { k.before = k.size(t) }
func (k *killedDatabase) written(t testing.TB) bool   { return k.size(t) > k.before }

func (k *killedDatabase) size(t testing.TB) (n int64) {
	if err := k.conn.QueryRow(context.Background(), "select pg_relation_size('version') + pg_relation_size('thing')").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}
