package sqlite

import (
	"context"
	"database/sql"
	"fmt"
)

// applicationID marks the file as ours (https://www.sqlite.org/fileformat2.html,
// section 1.3.5): "Rope".
const applicationID = 0x526f7065

// migrations lead from one version of the schema (pragma user_version) to the
// next; the first makes it. Never change one that was released: add another.
//
// thing has a row for every address ever used and says what is there now; version
// keeps all that ever was, chained by prev. Nothing is deleted.
var migrations = []string{`
create table publication (
	number    integer primary key,
	time      integer not null, -- Unix seconds
	added     integer not null,
	changed   integer not null,
	returned  integer not null,
	withdrawn integer not null,
	moved     integer not null,
	unchanged integer not null
);
create table thing (
	path     text primary key,
	iri      text not null,
	seq      integer not null,
	state    integer not null, -- service.State
	class    text not null,
	endpoint text not null,
	label    text not null,
	digest   blob not null
) without rowid;
create index thing_by_endpoint on thing (endpoint, path) where state = 1;
create table version (
	seq         integer primary key,
	prev        integer not null, -- seq of the version before; 0 for the first
	path        text not null,
	publication integer not null,
	state       integer not null,
	class       text not null,
	endpoint    text not null,
	label       text not null,
	digest      blob not null,
	keys        text not null,
	sets        text not null, -- one a line
	moved_to    text not null,
	reason      text not null,
	body        blob not null  -- zstd
);
create table tally (
	endpoint text primary key,
	live     integer not null
) without rowid;
`}

// migrate brings the file to the newest version of the schema.
func migrate(db *sql.DB) error {
	ctx := context.Background()
	c, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer c.Close()

	var app, version, objects int
	for _, q := range []struct {
		text string
		to   *int
	}{{"pragma application_id", &app}, {"pragma user_version", &version}, {"select count(*) from sqlite_schema", &objects}} {
		if err := c.QueryRowContext(ctx, q.text).Scan(q.to); err != nil {
			return err
		}
	}
	switch {
	case app != applicationID && objects > 0:
		return fmt.Errorf("it is an SQLite file of another program")
	case version > len(migrations):
		return fmt.Errorf("its schema has version %d; this program knows versions up to %d", version, len(migrations))
	case version == len(migrations):
		return nil
	}

	// The size of pages can only be set in an empty file that is not yet in WAL mode.
	if objects == 0 {
		if _, err := c.ExecContext(ctx, fmt.Sprintf("pragma page_size = %d", pageSize)); err != nil {
			return err
		}
	}
	if _, err := c.ExecContext(ctx, "pragma journal_mode = wal"); err != nil {
		return err
	}
	if _, err := c.ExecContext(ctx, "begin immediate"); err != nil {
		return err
	}
	// Another process may have done it meanwhile.
	if err := c.QueryRowContext(ctx, "pragma user_version").Scan(&version); err != nil {
		return rollback(ctx, c, err)
	}
	for ; version < len(migrations); version++ {
		if _, err := c.ExecContext(ctx, migrations[version]); err != nil {
			return rollback(ctx, c, fmt.Errorf("schema version %d: %w", version+1, err))
		}
	}
	for _, p := range []string{fmt.Sprintf("pragma application_id = %d", applicationID), fmt.Sprintf("pragma user_version = %d", version)} {
		if _, err := c.ExecContext(ctx, p); err != nil {
			return rollback(ctx, c, err)
		}
	}
	_, err = c.ExecContext(ctx, "commit")
	return err
}

func rollback(ctx context.Context, c *sql.Conn, err error) error {
	if _, e := c.ExecContext(ctx, "rollback"); e != nil {
		return fmt.Errorf("%w (and then: %w)", err, e)
	}
	return err
}
