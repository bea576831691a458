package sqlite

import (
	"context"
	"fmt"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

// TestPacked publishes the same into two stores, and damages before every publication
// what one of them packed of the one before: that must be seen, and be no loss.
func TestPacked(t *testing.T) {
	ctx := context.Background()
	now := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
	clock := Clock(func() time.Time { return now })
	whole, err := Open(filepath.Join(t.TempDir(), "whole.db"), clock)
	if err != nil {
		t.Fatal(err)
	}
	defer whole.Close()
	hurt, err := Open(filepath.Join(t.TempDir(), "hurt.db"), clock)
	if err != nil {
		t.Fatal(err)
	}
	defer hurt.Close()

	// usable reports whether a draft would begin with what is packed.
	usable := func(s *Store) bool {
		d, err := s.Begin(ctx)
		if err != nil {
			t.Fatal(err)
		}
		defer func() {
			if err := d.Discard(); err != nil {
				t.Error(err)
			}
		}()
		conn, err := s.read.Conn(ctx)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		b := &backend{s: s, conn: conn}
		if b.last, err = s.Current(ctx); err != nil {
			t.Fatal(err)
		}
		book, err := b.packed(ctx, len(everything(t, s)[0]))
		if err != nil {
			t.Fatal(err)
		}
		return book != nil
	}

	damages := []string{
		"delete from packing",
		"update packing set publication = publication - 1",
		"delete from packed where part = (select min(part) from packed where length(things) > 0)",
		"update packed set things = substr(things, 2) where length(things) > 0",
		"update packed set things = things || x'00' where part = 7",
		"update packed set things = (select things from packed where length(things) > 0 order by part limit 1) where part = (select max(part) from packed where length(things) > 0)",
		"delete from packed_names where place = (select max(place) from packed_names)",
		"delete from packed_names",
		"update packed_names set names = 'x'",
		"delete from packed",
	}
	for round, damage := range damages {
		var records []*service.Record
		for i := range 60 {
			r := storetest.Rec(fmt.Sprintf("object/%d", i), fmt.Sprint("label ", (i+round)/9))
			switch (i + 3*round) % 10 {
			case 0:
				continue // withdrawn, if it was there
			case 1:
				r = &service.Record{IRI: r.IRI, Path: r.Path, State: service.Moved, MovedTo: "https://elsewhere.example/" + fmt.Sprint(i)}
			case 2, 3:
				r = storetest.In(r, fmt.Sprint("set", (i+round)%4))
			}
			records = append(records, r)
		}
		storetest.Publish(t, whole, records...)
		storetest.Publish(t, hurt, records...)
		if a, b := everything(t, whole), everything(t, hurt); !reflect.DeepEqual(a, b) {
			t.Fatalf("round %d: the stores differ:\n%v\n%v", round, a, b)
		}
		if !usable(whole) || !usable(hurt) {
			t.Fatalf("round %d: what was just published cannot be used", round)
		}
		if _, err := hurt.write.Exec(damage); err != nil {
			t.Fatal(err)
		}
		if usable(hurt) {
			t.Errorf("not seen: %s", damage)
		}
		now = now.Add(time.Hour)
	}
}

// everything is all things as they are now, and where they are listed.
func everything(t *testing.T, s *Store) [][]service.Record {
	t.Helper()
	list, err := s.Changes(context.Background(), service.Selection{Limit: 1000, Bodies: true})
	if err != nil {
		t.Fatal(err)
	}
	lists := [][]service.Record{list}
	for i := range 4 {
		set, err := s.Changes(context.Background(), service.Selection{Limit: 1000, Set: fmt.Sprint("set", i)})
		if err != nil {
			t.Fatal(err)
		}
		lists = append(lists, set)
	}
	return lists
}
