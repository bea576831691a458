//go:build linux

package harvest

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"ropewalk/service"
	"ropewalk/service/store/postgres"
	"ropewalk/service/store/postgres/pgtest"
	"ropewalk/service/store/storetest"
)

// TestInterleavedPostgres is [TestInterleaved] on PostgreSQL, in the long run.
func TestInterleavedPostgres(t *testing.T) {
	if !storetest.Long() {
		t.Skip("NOT TESTED: harvesters on PostgreSQL; ROPEWALK_LONG=1 does so")
	}
	cluster, err := pgtest.Start("fsync=off", "synchronous_commit=off")
	if errors.Is(err, pgtest.ErrMissing) && os.Getenv("CI") != "true" {
		t.Skip("NOT TESTED: harvesters on PostgreSQL: ", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := cluster.Remove(); err != nil {
			t.Error(err)
		}
	}()
	// Making tables takes longer than a sequence: so one store is emptied again and
	// again.
	ctx := context.Background()
	address, drop, err := cluster.Fresh(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := drop(ctx); err != nil {
			t.Error(err)
		}
	}()
	var now func() time.Time
	s, err := postgres.Open(address, postgres.Clock(func() time.Time { return now() }))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	Interleave(t, 300, func(clock func() time.Time) (service.Store, func()) {
		now = clock
		_, err := conn.Exec(ctx, `delete from publication; delete from thing; delete from version; delete from entry; delete from extent; delete from mark;
			update ropewalk set publication = 0`)
		if err != nil {
			t.Fatal(err)
		}
		return kept{s}, func() {}
	})
}

// kept is a store that stays open.
type kept struct{ service.Store }

func (kept) Close() error { return nil }
