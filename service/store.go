package service

import (
	"context"
	"time"
)

// Entry is a live record in a list.
type Entry struct {
	IRI, Path, Class, Label string
}

// Listing asks for a part of the live records of an endpoint, in the order of
// their paths (by bytes).
type Listing struct {
	Endpoint string
	After    string // path after which to begin; "" for the first
	Limit    int    // most entries to return; at least 1
}

// Tally is the number of live records of an endpoint.
type Tally struct {
	Endpoint string
	Live     int
}

// Selection asks for records, live, gone and moved, each once and as it is now, in
// the order of Seq. Whoever takes part after part, each time after the last Seq of
// the part before, misses nothing while publications land: a record that changes
// meanwhile moves to the end. Seq and Modified ascend together.
type Selection struct {
	After    int64     // Seq after which to begin; 0 for the first
	Through  int64     // last Seq to return; 0 for no bound
	From     time.Time // earliest Modified, inclusive; zero for no bound
	Until    time.Time // latest Modified, inclusive; zero for no bound
	Set      string    // in this set, or in one below it: "a" takes in "a:b"; "" for all
	Endpoint string    // of this endpoint; "" for all. A selection has a Set or an Endpoint, not both
	Bodies   bool      // whether to return Body and Keys
	Limit    int       // most records to return; at least 1
}

// Store keeps what is published and all that was. All methods may be called from
// several goroutines; several processes may open the same store.
//
// Errors are [*Error] values: [NotFound] and [Invalid] where a method says so,
// [Unavailable] when the store cannot be reached or is busy beyond patience (trying
// again later may help), [Internal] for the rest. If the context ended the work, its
// error is in the chain.
type Store interface {
	// Get returns the record at a path, in whatever state it is. Its code is
	// NotFound if nothing was ever published there.
	Get(ctx context.Context, path string) (*Record, error)

	// Labels returns the labels of the live records among paths, by path. What is
	// not live is left out.
	Labels(ctx context.Context, paths []string) (map[string]string, error)

	// List returns live records. An endpoint without any gives an empty list.
	List(ctx context.Context, l Listing) ([]Entry, error)

	// Tallies returns the endpoints with live records, in order of name.
	Tallies(ctx context.Context) ([]Tally, error)

	// Changes returns the part of a selection after s.After. It costs the same
	// however deep that lies. A selection by both set and endpoint is refused
	// (Invalid).
	Changes(ctx context.Context, s Selection) ([]Record, error)

	// Count is the number of records that a selection takes in altogether, After
	// and Limit left aside. If counting would take long it is an estimate, never
	// too low, and exact is false. It is exact where nothing but a set or endpoint
	// restricts the selection.
	Count(ctx context.Context, s Selection) (n int64, exact bool, err error)

	// Log returns all versions that ever were, without Body and Keys, in the order of
	// Seq, after one. Because Seq has no gaps, the versions from m to n are always
	// the same n-m+1.
	Log(ctx context.Context, after int64, limit int) ([]Record, error)

	// Walk calls f with each live record, in the order of paths (by bytes), all of
	// them of the publication that it returns, however long it takes. The record
	// and what it holds are f's only during the call. An error of f ends the walk
	// and is returned as it is.
	Walk(ctx context.Context, f func(*Record) error) (Publication, error)

	// Versions returns the versions of the record at a path, without Body and Keys,
	// oldest first, after a Seq. Its code is NotFound if nothing was ever published
	// there.
	Versions(ctx context.Context, path string, after int64, limit int) ([]Record, error)

	// Version returns the version with a Seq, with Body and Keys. Its code is NotFound
	// if there is none.
	Version(ctx context.Context, seq int64) (*Record, error)

	// At returns the version of the record at a path that was in force at a time:
	// the last one with Modified not after it, or the first if there is none such
	// (RFC 7089 §4.5.3). Its code is NotFound if nothing was ever published there.
	At(ctx context.Context, path string, t time.Time) (*Record, error)

	// Current returns the last publication, or the zero value before the first. A
	// publication can be seen only a moment after its Time, when it is committed;
	// but no matter how long that takes, all that come after this one have a later
	// Time than it.
	Current(ctx context.Context) (Publication, error)

	// Publications returns publications, newest first, with numbers below before;
	// 0 begins with the last.
	Publications(ctx context.Context, before int64, limit int) ([]Publication, error)

	// Earliest is the time of the first publication: no Modified is, or will be,
	// before it. It is zero before the first publication.
	Earliest(ctx context.Context) (time.Time, error)

	// Mark returns what was last kept under a name with SetMark: how far something
	// outside has followed the changes. It is 0 for a name never used.
	Mark(ctx context.Context, name string) (int64, error)

	// SetMark keeps a Seq under a name, outside of any draft.
	SetMark(ctx context.Context, name string, seq int64) error

	// Begin opens a draft of the next publication. There is one draft at a time,
	// over all processes: Begin waits for the one before to end, until ctx does
	// (code Unavailable).
	Begin(ctx context.Context) (Draft, error)

	Close() error
}

// Difference is a record that a draft would change. Before is nil if its address
// was never used. Of After only what the publisher gives is set, and Change.
type Difference struct {
	Change        Change
	Before, After *Record
}

// Draft is a publication in the making. It belongs to one goroutine. End it with
// Commit or Discard; a draft whose process dies is discarded.
//
// An address has one end in a draft: a second Put, Withdraw or Move of a path is
// refused (code Conflict). So is whatever would give an IRI to another thing than
// the one it was given to: a path that belongs to another IRI; a record at an
// address that was moved, while the record it moved to is live in the same draft.
// The error names both records. A refusal leaves the draft as it was. After any
// other error the draft can only be discarded.
type Draft interface {
	// Put takes one record of the run and says how it compares with what is
	// published. It keeps nothing of r. A record that fails [Record.Check] is
	// refused (code Invalid). A Gone or Moved record without class and label takes
	// class, endpoint, label and sets from the version before it. A record that
	// was gone and is put again continues its history (Returned).
	Put(r *Record) (Change, error)

	// Withdraw makes the record at a path a tombstone, with a reason for the
	// public, which may be empty. It is refused if nothing was ever published
	// there (NotFound).
	Withdraw(path, reason string) (Change, error)

	// Move makes the record at a path redirect to an IRI. It is refused if nothing
	// was ever published there (NotFound), or for the IRI (Invalid).
	Move(path, iri string) (Change, error)

	// Annotate sets the publication's Note and Sources.
	Annotate(note, sources string)

	// Last is the publication with which the draft is compared.
	Last() Publication

	// Live is the number of live records in that publication.
	Live() int

	// Review counts what the draft holds so far, if it were committed now: live
	// records that were not put count as withdrawn.
	Review() Summary

	// Withdrawals lists paths of live records that were not put, at most limit,
	// in the order in which they were published.
	Withdrawals(limit int) []string

	// Differences returns the first records, at most limit, that a commit would
	// change in one way, with what they are now and would be, in the order in which
	// they were put. Withdrawn ends with the live records that were not put.
	Differences(kind Change, limit int) ([]Difference, error)

	// Check reports what would make Commit refuse, if the draft were committed now
	// (code Conflict): a record that this draft moves to an IRI below the same
	// base where there will be no live record, neither there nor where further
	// moves lead.
	Check() error

	// Commit publishes all or nothing. Live records that were not put become
	// tombstones that keep class, endpoint, label and sets. If nothing differs
	// from what is published, nothing is written and the publication returned is
	// the last one, with this draft's Summary.
	Commit(ctx context.Context) (Publication, error)

	// Discard forgets the draft. After Commit it does nothing.
	Discard() error
}
