package sqlite

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

// A store whose log has long been still is not asked again for each record, and a
// publication of another process is seen at once all the same.
func TestWatch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	other, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	record := func(label string) *service.Record {
		return &service.Record{IRI: storetest.Base + "object/1", Path: "object/1", State: service.Live, Class: "HumanMadeObject", Endpoint: "object", Label: label, Body: []byte(`{"a":1}`)}
	}
	get := func(want string) {
		t.Helper()
		r, err := s.Get(context.Background(), "object/1")
		if err != nil || r.Label != want {
			t.Fatalf("%+v, %v; want %s", r, err, want)
		}
	}
	age := func() {
		t.Helper()
		old := time.Now().Add(-time.Hour)
		if err := os.Chtimes(path+"-wal", old, old); err != nil {
			t.Fatal(err)
		}
	}
	storetest.Publish(t, other, record("one"))
	get("one")
	if log, err := os.Stat(path + "-wal"); err != nil || log.Size() > 0 && s.watch.number != 0 {
		t.Error("a log that was just written is trusted: ", err)
	}
	for _, label := range []string{"two", "three"} {
		age()
		get(s.labelNow(t))
		asked := s.stmts[lastNumber]
		s.stmts[lastNumber] = nil // who asks now fails
		get(s.labelNow(t))
		s.stmts[lastNumber] = asked
		storetest.Publish(t, other, record(label))
		get(label)
	}
	age()
	get("three")
	s.watch.asked = time.Now().Add(-2 * trusted)
	s.watch.number = 1 // as after a flush that took too long
	get("three")
	if s.watch.number != 3 {
		t.Errorf("after its time the database is not asked again: %d", s.watch.number)
	}
}

// labelNow is the label in the store, asked for without what Get remembers.
func (s *Store) labelNow(t *testing.T) string {
	t.Helper()
	m, err := s.Labels(context.Background(), []string{"object/1"})
	if err != nil {
		t.Fatal(err)
	}
	return m["object/1"]
}
