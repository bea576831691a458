//go:build linux

package main

import (
	"errors"
	"os"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"ropewalk/service/store/postgres/pgtest"
)

// TestPostgres runs scripts beside a PostgreSQL of their own. They have the commands
// of [TestScripts], $DATABASE and
//
//	database stop|run     stops the server, or starts it again
func TestPostgres(t *testing.T) {
	c, err := pgtest.Start("fsync=off")
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
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/postgres",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("NO_COLOR", "1")
			env.Setenv("DATABASE", strings.Replace(c.URL(""), "ropewalk@", "ropewalk:hush@", 1))
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": cmdStatus, "edit": cmdEdit, "serve": cmdServe, "get": cmdGet, "stop": cmdStop,
			"database": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 1, "database stop|run")
				switch args[0] {
				case "stop":
					ts.Check(c.Stop(false))
				case "run":
					ts.Check(c.Run())
				default:
					ts.Fatalf("database %s", args[0])
				}
			},
		},
	})
}
