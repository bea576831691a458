package sqlite

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

// TestOldFile opens a file of the first schema. What it held is still there, with
// the history, sets and counts that the first schema did not list.
func TestOldFile(t *testing.T) {
	script, err := os.ReadFile("testdata/version1.sql")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "old.db")
	db, err := connect(path, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(string(script)); err != nil {
		t.Fatal(err)
	}
	db.Close()

	for range 2 { // the second time there is nothing to do
		s, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		ctx := context.Background()
		log, err := s.Log(ctx, 0, 100)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for i, r := range log {
			v, err := s.Version(ctx, r.Seq)
			if err != nil {
				t.Fatal(err)
			}
			if r.Seq != int64(i+1) || v.Digest != v.ContentDigest() {
				t.Errorf("version %d at %d: digest %x", r.Seq, i+1, v.Digest)
			}
			got = append(got, r.Path+" "+r.Change.String())
		}
		want := "object/1 added, object/2 added, object/3 added, place/1 added, object/4 added, object/1 changed, object/4 changed, object/2 withdrawn, " +
			"object/2 returned, object/4 changed, object/3 withdrawn, object/0 moved, place/1 moved"
		if strings.Join(got, ", ") != want {
			t.Errorf("log %s, want %s", strings.Join(got, ", "), want)
		}
		pubs, err := s.Publications(ctx, 0, 10)
		if err != nil || len(pubs) != 4 {
			t.Fatalf("%v, %v", pubs, err)
		}
		for i, p := range pubs {
			if want := [...][2]int64{{13, 13}, {9, 12}, {6, 8}, {1, 5}}[i]; p.First != want[0] || p.Last != want[1] {
				t.Errorf("publication %d from %d to %d, want %v", p.Number, p.First, p.Last, want)
			}
		}
		for q, want := range map[service.Selection]string{
			{Set: "maps"}:        "6:object/1 10:object/4",
			{Set: "maps:charts"}: "6:object/1",
			{Set: "globes"}:      "9:object/2",
			{Endpoint: "place"}:  "13:place/1",
			{}:                   "6:object/1 9:object/2 10:object/4 11:object/3 12:object/0 13:place/1",
		} {
			q.Limit = 100
			l, err := s.Changes(ctx, q)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range l {
				got = append(got, fmt.Sprintf("%d:%s", r.Seq, r.Path))
			}
			if strings.Join(got, " ") != want {
				t.Errorf("%+v: %s, want %s", q, strings.Join(got, " "), want)
			}
			if n, exact, err := s.Count(ctx, service.Selection{Set: q.Set, Endpoint: q.Endpoint}); err != nil || !exact || n != int64(len(l)) {
				t.Errorf("%+v: %d, %v, %v", q, n, exact, err)
			}
		}
		if tallies, err := s.Tallies(ctx); err != nil || len(tallies) != 1 || tallies[0] != (service.Tally{Endpoint: "object", Live: 3}) {
			t.Errorf("%v, %v", tallies, err)
		}
		s.Close()
	}

	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx := context.Background()
	d, err := s.Begin(ctx) // it goes on
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []*service.Record{storetest.In(storetest.Rec("object/1", "B"), "maps"), storetest.Rec("object/3", "c")} {
		if _, err := d.Put(r); err != nil {
			t.Fatal(err)
		}
	}
	p, err := d.Commit(ctx)
	if want := (service.Summary{Changed: 1, Returned: 1, Withdrawn: 2}); err != nil || p.Number != 5 || p.First != 14 || p.Summary != want {
		t.Errorf("%+v, %v", p, err)
	}
	l, err := s.Changes(ctx, service.Selection{Set: "maps:charts", Limit: 5})
	if err != nil || len(l) != 1 || !l[0].Left || l[0].Seq != 14 {
		t.Errorf("%+v, %v", l, err)
	}
}
