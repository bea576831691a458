//go:build linux

package postgres

import (
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"ropewalk/service/store/storetest"
)

// ownOnly are words of PostgreSQL's that databases which speak its protocol lack, or have
// in another way: common practice, with no one source.
var ownOnly = regexp.MustCompile(`\b(extension|trigger|function|procedure|language|advisory|pg_\w+|sequence|nextval|(small|big)?serial|identity|generated|` +
	`collate|listen|notify|unlogged|temp|temporary table|lock table|nowait|skip locked|deferrable|exclude|tablesample|ctid|xmin|oid|regclass|` +
	`cursor|tsvector|gin|gist|brin|materialized|vacuum|cluster|inherits|partition|do \$\$)\b|create (unique )?index .* where `)

// TestStatements holds every statement of this package to what databases share, see the
// package comment; and so all that a publication leaves in the database.
func TestStatements(t *testing.T) {
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	begins := regexp.MustCompile(`^\s*(select|insert|update|delete|create|alter|drop|set|with|copy) `)
	statements := 0
	for _, e := range files {
		if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), e.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			l, ok := n.(*ast.BasicLit)
			if !ok || l.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(l.Value)
			if err != nil {
				t.Fatal(err)
			}
			text = strings.ToLower(text)
			if begins.MatchString(text) {
				statements++
			}
			if strings.Contains(text, " ") { // parts of statements, too
				if m := ownOnly.FindString(text); m != "" {
					t.Errorf("%s: %q in %q is PostgreSQL's own", e.Name(), m, text)
				}
			}
			return true
		})
	}
	if statements < 30 {
		t.Errorf("%d statements were found", statements)
	}
	if !ownOnly.MatchString("select pg_advisory_xact_lock(1)") || !ownOnly.MatchString("create index x on y (z) where z > 1") {
		t.Error("this finds nothing")
	}

	address := fresh(t)
	s := open(t, address)
	defer s.Close()
	publish(t, s, storetest.In(storetest.Rec("object/1", "a"), "x"))
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	for what, query := range map[string]string{
		"extensions":                 "select count(*) from pg_extension where extname <> 'plpgsql'",
		"triggers":                   "select count(*) from pg_trigger t join pg_class c on c.oid = t.tgrelid where c.relnamespace = current_schema::regnamespace",
		"functions":                  "select count(*) from pg_proc where pronamespace = current_schema::regnamespace",
		"other than tables, indexes": "select count(*) from pg_class where relnamespace = current_schema::regnamespace and relkind not in ('r', 'i')",
		"partial indexes":            "select count(*) from pg_index i join pg_class c on c.oid = i.indrelid where c.relnamespace = current_schema::regnamespace and i.indpred is not null",
		"advisory locks":             "select count(*) from pg_locks where locktype = 'advisory'",
	} {
		var n int
		if err := conn.QueryRow(ctx, query).Scan(&n); err != nil || n != 0 {
			t.Errorf("%s: %d, %v", what, n, err)
		}
	}
}
