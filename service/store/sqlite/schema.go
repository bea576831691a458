package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"ropewalk/service/store/draft"
)

// applicationID marks the file as ours (https://www.sqlite.org/fileformat2.html,
// section 1.3.5): "Rope".
const applicationID = 0x526f7065

// migration leads from one version of the schema to the next.
type migration struct {
	text string
	fill func(context.Context, *sql.Conn) error // after text; nil if there is nothing to do
}

// migrations lead from one version of the schema (pragma user_version) to the
// next; the first makes it. Never change one that was released: add another.
//
// thing has a row for every address ever used and says what is there now; version
// keeps all that ever was, chained by prev. Nothing is deleted but entries, which
// say under which names things are listed (see package draft).
var migrations = []migration{{text: `
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
`}, {text: `
alter table publication add column first_seq integer not null default 0;
alter table publication add column last_seq integer not null default 0;
alter table publication add column note text not null default '';
alter table publication add column sources text not null default '';
update publication set
	first_seq = (select min(seq) from version where publication = number),
	last_seq  = (select max(seq) from version where publication = number);
create unique index publication_by_time on publication (time);

alter table version add column change integer not null default 0; -- service.Change
update version set change = case
	when prev = 0 then case state when 1 then 1 when 2 then 4 else 5 end
	when state = (select w.state from version w where w.seq = version.prev) then 2
	else case state when 1 then 3 when 2 then 4 else 5 end
end;
create index version_by_path on version (path, seq);

alter table thing add column names text not null default ''; -- as package draft writes them
create unique index thing_by_seq on thing (seq);
create table entry (
	name     text not null,
	seq      integer not null,
	departed integer not null, -- 1: that version left the set
	primary key (name, seq)
) without rowid;
create table extent (
	name   text primary key,
	listed integer not null,
	live   integer not null
) without rowid;
drop table tally;

create table mark (
	name text primary key,
	seq  integer not null
) without rowid;
`, fill: fillNames}, {text: `
-- What a draft must know of every thing, so that it need not read them all: see package
-- draft. It is true if it is of the last publication; otherwise it is made anew.
create table packing (
	id          integer primary key check (id = 1),
	publication integer not null
);
create table packed (
	part   integer primary key,
	things blob not null
);
create table packed_names (
	place integer primary key, -- from 0
	names text not null
);
create index thing_moved on thing (path) where state = 3;
`}}

// fillNames lists the things of a store that did not do so before.
func fillNames(ctx context.Context, c *sql.Conn) error {
	type thing struct {
		path, names string
		entries     []draft.Entry
	}
	rows, err := c.QueryContext(ctx, "select t.path, t.endpoint, v.sets, t.seq from thing t join version v on v.seq = t.seq")
	if err != nil {
		return err
	}
	defer rows.Close()
	var things []thing
	for rows.Next() {
		var t thing
		var endpoint, sets string
		var seq int64
		if err := rows.Scan(&t.path, &endpoint, &sets, &seq); err != nil {
			return err
		}
		t.names, t.entries = draft.Adopt(endpoint, sets, seq)
		things = append(things, t)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, t := range things {
		if _, err := c.ExecContext(ctx, "update thing set names = ? where path = ?", t.names, t.path); err != nil {
			return err
		}
		for _, e := range t.entries {
			if _, err := c.ExecContext(ctx, "insert into entry (name, seq, departed) values (?, ?, 0)", e.Name, e.Seq); err != nil {
				return err
			}
		}
	}
	_, err = c.ExecContext(ctx, `insert into extent (name, listed, live)
		select e.name, count(*), sum(t.state = 1) from entry e join thing t on t.seq = e.seq group by e.name
		union all select '', count(*), coalesce(sum(state = 1), 0) from thing having count(*) > 0`)
	return err
}

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
		m := migrations[version]
		_, err := c.ExecContext(ctx, m.text)
		if err == nil && m.fill != nil {
			err = m.fill(ctx, c)
		}
		if err != nil {
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
