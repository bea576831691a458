//go:build linux

package postgres

import (
	"context"
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/postgres/pgtest"
	"ropewalk/service/store/storetest"
)

// cluster is shared by the tests of this package; nil where PostgreSQL is missing.
var cluster *pgtest.Cluster

func TestMain(m *testing.M) {
	storetest.Victim(func(address string) (service.Store, error) { return Open(address) })
	os.Exit(run(m))
}

func run(m *testing.M) int {
	var err error
	cluster, err = pgtest.Start("fsync=off")
	if errors.Is(err, pgtest.ErrMissing) && os.Getenv("CI") != "true" {
		fmt.Println("SKIPPED: no test of the PostgreSQL store was run:", err)
		return m.Run()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	code := m.Run()
	if err := cluster.Remove(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return code
}

// fresh is the address of an empty schema.
func fresh(t testing.TB) string {
	t.Helper()
	if cluster == nil {
		t.Skip("SKIPPED: ", pgtest.ErrMissing)
	}
	address, drop, err := cluster.Fresh(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := drop(context.Background()); err != nil {
			t.Error(err)
		}
	})
	return address
}

func open(t testing.TB, address string, options ...Option) *Store {
	t.Helper()
	s, err := Open(address, options...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestContract runs the whole contract in the long run, else the parts in which a
// database may differ most.
func TestContract(t *testing.T) {
	only := []string{"round trip", "compare", "sets", "times", "walk", "moved and back", "differences", "one draft at a time", "publishers"}
	if storetest.Long() {
		only = nil
	}
	storetest.Run(t, func(t *testing.T, now func() time.Time) (service.Store, func() service.Store) {
		address := fresh(t)
		return open(t, address, Clock(now)), func() service.Store { return open(t, address, Clock(now)) }
	}, only...)
}

func TestRandom(t *testing.T) {
	sequences := 5
	if storetest.Long() {
		sequences = 150
	}
	if cluster == nil {
		t.Skip("SKIPPED: ", pgtest.ErrMissing)
	}
	storetest.Random(t, sequences, func(now func() time.Time) (service.Store, func()) {
		address, drop, err := cluster.Fresh(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return open(t, address, Clock(now)), func() {
			if err := drop(context.Background()); err != nil {
				t.Error(err)
			}
		}
	})
}

func TestKill(t *testing.T) {
	address := fresh(t)
	storetest.Kill(t, address, func() (service.Store, error) { return Open(address) })
}
