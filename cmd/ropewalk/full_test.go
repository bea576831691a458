//go:build linux

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"ropewalk/service/store/postgres"
)

// disk is a small file system in memory that can be filled.
type disk struct {
	testing.TB
	dir string
}

func newDisk(t testing.TB, megabytes int) *disk {
	t.Helper()
	dir, err := os.MkdirTemp("", "ropewalk-disk-") // not t.TempDir: a database must reach it
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.Remove(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	d := &disk{t, dir}
	if err := syscall.Mount("tmpfs", d.dir, "tmpfs", 0, fmt.Sprintf("size=%dm,mode=1777", megabytes)); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("mounting a small file system: %v", err)
		}
		t.Skip("SKIPPED: no small file system can be mounted: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(d.dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return d
}

func (d *disk) filler() string { return filepath.Join(d.dir, "filler") }

// fill leaves so many bytes free.
func (d *disk) fill(leave int64) {
	d.Helper()
	d.empty()
	var s syscall.Statfs_t
	if err := syscall.Statfs(d.dir, &s); err != nil {
		d.Fatal(err)
	}
	f, err := os.Create(d.filler())
	if err != nil {
		d.Fatal(err)
	}
	defer f.Close()
	if n := int64(s.Bavail)*s.Bsize - leave; n > 0 {
		if err := syscall.Fallocate(int(f.Fd()), 0, 0, n); err != nil {
			d.Fatal(err)
		}
	}
}

func (d *disk) empty() {
	d.Helper()
	if err := os.Remove(d.filler()); err != nil && !os.IsNotExist(err) {
		d.Fatal(err)
	}
}

// leftovers are hidden files and unfinished work below a folder.
func leftovers(t testing.TB, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err == nil && path != dir && strings.HasPrefix(e.Name(), ".") {
			out = append(out, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A disk on which the store, or the downloads, or both have no room for a publication:
// it fails with the file and the reason, and what was published before stays, is served
// and harvested. When there is room again the next publication goes through.
func TestPublishDiskFull(t *testing.T) {
	t.Run("sqlite", func(t *testing.T) {
		small := newDisk(t, 32)
		store := filepath.Join(small.dir, "store", "ropewalk.db")
		fillWhilePublishing(t, store, filepath.Join(small.dir, "store", "downloads"), small, map[string]string{
			"store": "store " + store, "downloads": filepath.Join(small.dir, "store", "downloads")})
	})
	if !long() {
		return // PostgreSQL's tries again take seconds
	}
	elsewhere := t.TempDir()
	t.Run("database", func(t *testing.T) {
		small := newDisk(t, 160)
		t.Setenv("TMPDIR", small.dir)
		c := startDatabase(t, "max_wal_size=32MB", "fsync=off")
		t.Setenv("TMPDIR", elsewhere)
		fillWhilePublishing(t, c.URL(""), "", small, map[string]string{"store": "store postgres://127.0.0.1"})
	})
	c := startDatabase(t, "fsync=off")
	schema := func(t *testing.T) string {
		address, _, err := c.Fresh(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return address
	}
	t.Run("draft", func(t *testing.T) {
		small := newDisk(t, 4)
		t.Setenv("TMPDIR", small.dir)
		fillWhilePublishing(t, schema(t), "", small, map[string]string{"store": filepath.Join(small.dir, "ropewalk-draft-")})
	})
	t.Run("downloads", func(t *testing.T) {
		small := newDisk(t, 8)
		fillWhilePublishing(t, schema(t), small.dir, small, map[string]string{"downloads": "/downloads/.making-"})
	})
}

// fillWhilePublishing publishes with ever more room. names is what an error must name,
// by what does not fit; each of these must happen.
func fillWhilePublishing(t *testing.T, store, downloads string, small *disk, names map[string]string) {
	const rows = 1500
	d := newSite(t, t.TempDir(), storeEnv+"="+store)
	if postgres.IsAddress(store) {
		if downloads == "" {
			downloads = filepath.Join(d.dir, "downloads")
		} else if err := os.Symlink(downloads, filepath.Join(d.dir, "downloads")); err != nil {
			t.Fatal(err)
		}
	}
	d.generation(0, rows)
	d.publish()
	server := d.serve()
	held, heldBy := 0, int64(1) // what is published
	made := int64(1)            // the publication of the downloads
	happened := map[string]int{}
	check := func(room int64) {
		t.Helper()
		now, n := published(t, store, rows)
		if now != held || n != heldBy {
			t.Fatalf("with room for %d bytes: generation %d is published as %d, want %d as %d", room, now, n, held, heldBy)
		}
		of, generation := d.shelf(downloads, rows)
		if of != made || of == n && generation != now {
			t.Fatalf("with room for %d bytes: the downloads are of publication %d, want %d", room, of, made)
		}
		if res, body := server.get("/concept/7"); res.StatusCode != 200 || !strings.Contains(body, fmt.Sprintf("thing 7 of %d", held)) {
			t.Fatalf("with room for %d bytes: %s, %.200s", room, res.Status, body)
		}
		var h harvesting
		for h.page(server) {
		}
		h.complete(t, now, rows)
	}
	next := 0
	// try publishes with room for so many bytes and says what did not fit.
	try := func(room int64) string {
		t.Helper()
		small.fill(room)
		next++
		d.generation(next, rows)
		said, code := d.run("publish", d.dir)
		what := "fits"
		switch {
		case strings.Contains(said, "downloads could not be made"):
			what, held, heldBy = "downloads", next, heldBy+1
		case code != exitClean:
			what = "store"
		default:
			held, heldBy, made = next, heldBy+1, heldBy+1
		}
		happened[what]++
		if what != "fits" {
			if name := names[what]; code != exitProblems || name == "" || !strings.Contains(said, name) || !strings.Contains(said, "full") && !strings.Contains(strings.ToLower(said), "no space left on device") {
				t.Errorf("with room for %d bytes: exit %d\n%s", room, code, said)
			}
			if what == "store" && !strings.Contains(said, "Nothing was published") {
				t.Errorf("it does not say what became of what was published: %s", said)
			}
			if found := leftovers(t, downloads); len(found) > 0 {
				t.Errorf("with room for %d bytes it left %v", room, found)
			}
		}
		t.Logf("%d bytes: %s, exit %d: %s", room, what, code, strings.TrimSpace(said))
		check(room)
		return what
	}
	rooms := []int64{0, 32 << 10, 256 << 10, 3 << 20}
	if !long() {
		rooms = []int64{32 << 10}
	}
	for _, room := range rooms {
		try(room)
	}
	// There is room for the store and not for the downloads somewhere between too little and
	// enough; where, is not the same each time, for a store has free pages of its own.
	if _, ok := names["downloads"]; ok {
		for tries, low, high := 0, int64(256<<10), int64(4<<20); happened["downloads"] == 0 && tries < 12; tries++ {
			switch room := (low + high) / 2; try(room) {
			case "store":
				low = room
			case "fits":
				high = room
			}
		}
	}
	for what := range names {
		if happened[what] == 0 {
			t.Errorf("at no time the %s had no room: %v", what, happened)
		}
	}
	small.empty()
	next++
	d.generation(next, rows)
	d.publish()
	held, heldBy, made = next, heldBy+1, heldBy+1
	check(-1)
}

// Export to a full disk: it says which file and why, and the file or folder before
// stays as it was, without half a one beside it.
func TestExportDiskFull(t *testing.T) {
	small := newDisk(t, 8)
	d := newSite(t, t.TempDir())
	outs := []string{"all.nt", "folder/", "all.jsonld.gz", "all.ttl.zst"}
	if !long() {
		outs = outs[:2]
	}
	for _, out := range outs {
		small.empty()
		out = filepath.Join(small.dir, "to", out) + strings.Repeat("/", strings.Count(out, "/"))
		if err := os.RemoveAll(filepath.Dir(filepath.Clean(out))); err != nil {
			t.Fatal(err)
		}
		d.generation(0, 20)
		if said, code := d.run("export", d.dir, "--out", out); code != exitClean {
			t.Fatalf("exit %d\n%s", code, said)
		}
		before := contents(t, small.dir)
		rows := 4000
		if strings.HasSuffix(out, "/") {
			rows = 500 // each takes a block
		}
		d.generation(1, rows)
		rooms := []int64{0, 8 << 10, 20 << 10}
		if !long() {
			rooms = rooms[1:2]
		}
		for _, room := range rooms {
			small.fill(room)
			said, code := d.run("export", d.dir, "--out", out)
			if code != exitProblems || !strings.Contains(said, strings.TrimSuffix(out, "/")) || !strings.Contains(said, "no space left on device") {
				t.Errorf("%s with room for %d bytes: exit %d\n%s", out, room, code, said)
			}
			small.empty()
			if after := contents(t, small.dir); after != before {
				t.Errorf("%s with room for %d bytes: before\n%.300s\nafter\n%.300s", out, room, before, after)
			}
		}
		if said, code := d.run("export", d.dir, "--out", out); code != exitClean {
			t.Errorf("exit %d\n%s", code, said)
		}
		if contents(t, small.dir) == before {
			t.Errorf("%s was not written", out)
		}
	}
}

// contents is all that lies below a folder: names, and what stands in the files.
func contents(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			fmt.Fprintln(&b, path)
			return err
		}
		text, err := os.ReadFile(path)
		fmt.Fprintf(&b, "%s %q\n", path, text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}
