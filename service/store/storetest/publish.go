package storetest

import (
	"context"
	"testing"

	"ropewalk/service"
)

// Publish makes a publication of exactly these records.
func Publish(t testing.TB, store service.Store, records ...*service.Record) {
	t.Helper()
	d, err := store.Begin(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = d.Discard() }()
	for _, r := range records {
		if _, err := d.Put(r); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.Commit(context.Background()); err != nil {
		t.Fatal(err)
	}
}
