package sqlite

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

func TestMain(m *testing.M) {
	storetest.Victim(func(path string) (service.Store, error) { return Open(path) })
	os.Exit(m.Run())
}

func TestContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T, now func() time.Time) (service.Store, func() service.Store) {
		// A name that a URI would read otherwise.
		path := filepath.Join(t.TempDir(), "a store?%41#1.db")
		open := func() service.Store {
			s, err := Open(path, Clock(now))
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		s := open()
		if _, err := os.Stat(path); err != nil {
			t.Fatal(err)
		}
		return s, open
	})
}

func TestRandom(t *testing.T) {
	sequences := 20
	if storetest.Long() {
		sequences = 1000
	}
	dir := t.TempDir()
	n := 0
	storetest.Random(t, sequences, func(now func() time.Time) (service.Store, func()) {
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.db", n))
		s, err := Open(path, Clock(now))
		if err != nil {
			t.Fatal(err)
		}
		return s, func() { _ = os.Remove(path) }
	})
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	newer := filepath.Join(dir, "newer.db")
	s, err := Open(newer)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("pragma user_version = 99"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	foreign := filepath.Join(dir, "foreign.db")
	db, err := connect(foreign, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("create table t (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for path, want := range map[string]string{
		newer:   "version 99",
		foreign: "another program",
		write("text.db", strings.Repeat("accession_no,title\n", 100)): "not a database",
		filepath.Join(dir, "no", "such", "folder.db"):                 "unable to open",
	} {
		before, _ := os.ReadFile(path)
		_, err := Open(path)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v, want %q", filepath.Base(path), err, want)
		}
		if after, _ := os.ReadFile(path); string(after) != string(before) {
			t.Errorf("%s was altered", filepath.Base(path))
		}
	}
}

func TestPageSize(t *testing.T) {
	s, err := Open(filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for pragma, want := range map[string]string{"page_size": "8192", "journal_mode": "wal", "application_id": "1383034981"} {
		var got string
		if err := s.read.QueryRow("pragma " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %s, %v, want %s", pragma, got, err, want)
		}
	}
	if _, err := s.read.Exec("delete from thing"); err == nil {
		t.Error("a reading connection can write")
	}
}

// A page of a list costs the same however deep it lies: every query goes by an
// index, and none sorts. Only a walk and the lists of what there are few of scan.
func TestQueryPlans(t *testing.T) {
	s, err := Open(filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	publish(t, s, 50, "a")
	scans := []int{walkLive, lastPublication, earliest, bounds}
	for i, query := range queries {
		args := make([]any, strings.Count(query, "?"))
		for k := range args {
			args[k] = 1
		}
		for n := 6; n > 0; n-- {
			if strings.Contains(query, fmt.Sprintf("?%d", n)) {
				args = args[:n]
				break
			}
		}
		rows, err := s.read.Query("explain query plan "+query, args...)
		if err != nil {
			t.Fatal(err, query)
		}
		steps := 0
		for rows.Next() {
			var id, parent, unused int
			var detail string
			if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
				t.Fatal(err)
			}
			steps++
			if strings.Contains(detail, "TEMP B-TREE") || strings.HasPrefix(detail, "SCAN") && !slices.Contains(scans, i) {
				t.Errorf("%s: %s", query, detail)
			}
		}
		if err := rows.Err(); err != nil || steps == 0 {
			t.Errorf("%s: %d steps, %v", query, steps, err)
		}
	}
}

// TestCrashImage copies the files in the middle of a publication, as a power cut
// would leave them, and opens the copy.
func TestCrashImage(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "s.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx := context.Background()
	publish(t, s, 100, "a")
	d, err := s.Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Discard()
	for i := 0; i < batchRows+50; i++ {
		if _, err := d.Put(storetest.Rec(fmt.Sprintf("object/%d", i), strings.Repeat("b", 300))); err != nil {
			t.Fatal(err)
		}
	}
	image := filepath.Join(dir, "image.db")
	for _, suffix := range []string{"", "-wal"} {
		copyFile(t, path+suffix, image+suffix)
	}
	again, err := Open(image)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	whole(t, again, 100)
}

func TestKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.db")
	storetest.Kill(t, path, func() (service.Store, error) {
		s, err := Open(path)
		if err != nil {
			return nil, err
		}
		var check string
		if err := s.read.QueryRow("pragma integrity_check").Scan(&check); err != nil || check != "ok" {
			t.Fatalf("integrity: %s, %v", check, err)
		}
		return s, nil
	})
}

// whole checks that all records are of one publication.
func whole(t *testing.T, s *Store, n int) {
	t.Helper()
	var check string
	if err := s.read.QueryRow("pragma integrity_check").Scan(&check); err != nil || check != "ok" {
		t.Fatalf("integrity: %s, %v", check, err)
	}
	ctx := context.Background()
	p, err := s.Current(ctx)
	if err != nil {
		t.Fatal(err)
	}
	tallies, err := s.Tallies(ctx)
	if err != nil || len(tallies) != 1 || tallies[0].Live != n {
		t.Fatalf("tallies %v, %v, want %d", tallies, err, n)
	}
	for i := 0; i < n; i++ {
		r, err := s.Get(ctx, fmt.Sprintf("object/%d", i))
		if err != nil {
			t.Fatal(err)
		}
		if r.Publication != p.Number || r.Digest != r.ContentDigest() {
			t.Fatalf("%s is of publication %d, not %d", r.Path, r.Publication, p.Number)
		}
	}
}

func publish(t testing.TB, s *Store, n int, text string) {
	t.Helper()
	d, err := s.Begin(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < n; i++ {
		if _, err := d.Put(storetest.Rec(fmt.Sprintf("object/%d", i), text)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.Commit(context.Background()); err != nil {
		t.Fatal(err)
	}
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
}
