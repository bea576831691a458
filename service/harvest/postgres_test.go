//go:build linux

package harvest

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

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
	cluster, err := pgtest.Start("fsync=off")
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
	Interleave(t, 1000, func(now func() time.Time) (service.Store, func()) {
		address, drop, err := cluster.Fresh(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		s, err := postgres.Open(address, postgres.Clock(now))
		if err != nil {
			t.Fatal(err)
		}
		return s, func() {
			if err := drop(context.Background()); err != nil {
				t.Error(err)
			}
		}
	})
}
