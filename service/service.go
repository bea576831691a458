// Package service is the domain of publication: what is published at which
// address, since when, and what became of what no longer is. It knows neither
// databases nor HTTP.
//
// A [Store] keeps the published records. A run of the mapping becomes a
// publication through a [Draft]: [Store.Begin], one [Draft.Put] for each document,
// [Draft.Commit]. Readers see the publication before until the commit, and all of
// the new one after it.
package service

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// State is what has become of a record.
type State uint8

// The states of a record.
const (
	Live  State = iota + 1 // published
	Gone                   // withdrawn: a tombstone stays at its address
	Moved                  // published under another IRI now
)

// String gives "live", "gone" or "moved".
func (s State) String() string {
	switch s {
	case Live:
		return "live"
	case Gone:
		return "gone"
	case Moved:
		return "moved"
	}
	return fmt.Sprintf("State(%d)", uint8(s))
}

// Record is a published document with what the service must know about it.
type Record struct {
	IRI      string
	Path     string // address below the site's base, as [Path] gives it
	State    State
	Class    string // JSON type of the document, such as "HumanMadeObject"
	Endpoint string // the profile's name for this kind of record, such as "object"
	Label    string
	Body     []byte   // the JSON-LD exactly as it is served; empty unless Live
	Keys     string   // author's keys of the document's nodes, in the form entity.Parse reads
	Sets     []string // names of the sets the record is in, without duplicates
	MovedTo  string   // Moved: the IRI that took the place of this one
	Reason   string   // Gone: why, for the public; may be empty

	// What follows is set by the store; [Draft.Put] ignores it.

	Seq         int64     // place in the order of all changes, from 1 without gaps; a new one with each version
	Prev        int64     // Seq of the version before; 0 for the first
	Publication int64     // number of the publication that made this version
	Modified    time.Time // time of that publication
	Change      Change    // what that publication did to the record
	Digest      Digest    // of the content

	// Left is set in answers to a [Selection] with a Set or Endpoint: the record
	// is no longer in it since this version. To one who keeps a copy of the set it
	// is gone; elsewhere it may well be live.
	Left bool
}

// Digest is a fingerprint of a record's content: the first 16 bytes of a SHA-256.
type Digest [16]byte

// ContentDigest is the fingerprint of all that [Draft.Put] compares. The order
// of Sets does not matter.
func (r *Record) ContentDigest() Digest {
	buf := contents.Get().(*[]byte)
	defer contents.Put(buf)
	b := append(appendField((*buf)[:0], r.IRI), byte(r.State))
	for _, s := range [...]string{r.Class, r.Endpoint, r.Label, r.Keys, r.MovedTo, r.Reason} {
		b = appendField(b, s)
	}
	sets := r.Sets
	if !slices.IsSorted(sets) {
		sets = slices.Clone(sets)
		slices.Sort(sets)
	}
	for _, s := range sets {
		b = appendField(b, s)
	}
	b = append(append(b, 0xff), r.Body...)
	*buf = b
	sum := sha256.Sum256(b)
	return Digest(sum[:16])
}

// contents are buffers for what is digested.
var contents = sync.Pool{New: func() any { return new([]byte) }}

func appendField(b []byte, s string) []byte {
	return append(binary.BigEndian.AppendUint32(b, uint32(len(s))), s...)
}

// Check reports what makes r unfit to be stored, as an [Error] with code
// [Invalid], or nil.
func (r *Record) Check() error {
	bad := func(format string, a ...any) error {
		return Errorf(Invalid, "record <%s>: %s", r.IRI, fmt.Sprintf(format, a...))
	}
	if r.IRI == "" {
		return bad("it has no IRI")
	}
	if n, ok := NormalPath(r.Path); !ok || n != r.Path {
		return bad("%q is not an address in normal form", r.Path)
	}
	if !addressOf(r.IRI, r.Path) {
		return bad("address %q does not belong to it", r.Path)
	}
	for _, t := range [...]string{r.IRI, r.Class, r.Endpoint, r.Label, r.Keys, r.MovedTo, r.Reason} {
		if !fit(t) {
			return bad("%q holds a NUL or bytes that are not UTF-8", t)
		}
	}
	if Reserved(r.Path) {
		return bad("address %q is kept for the service itself", r.Path)
	}
	for _, s := range r.Sets {
		if s == "" || !fit(s) || strings.ContainsAny(s, "\n\t") {
			return bad("%q is not the name of a set", s)
		}
	}
	switch r.State {
	case Live:
		if len(r.Body) == 0 || r.Class == "" || r.Endpoint == "" {
			return bad("a live record needs a class, an endpoint and a body")
		}
		if r.MovedTo != "" || r.Reason != "" {
			return bad("a live record has neither a new IRI nor a reason for its end")
		}
	case Gone:
		if len(r.Body) != 0 || r.MovedTo != "" {
			return bad("a withdrawn record has neither a body nor a new IRI")
		}
	case Moved:
		if r.MovedTo == "" || r.MovedTo == r.IRI {
			return bad("a moved record needs another IRI to have moved to")
		}
		if !absolute(r.MovedTo) {
			return bad("%q, where it has moved to, is not an absolute IRI", r.MovedTo)
		}
		if len(r.Body) != 0 {
			return bad("a moved record has no body")
		}
	default:
		return bad("%v is not a state", r.State)
	}
	return nil
}

// fit reports whether a store can keep a text as it is.
func fit(text string) bool { return utf8.ValidString(text) && strings.IndexByte(text, 0) < 0 }

// absolute reports whether text has a scheme and none of the characters that no
// IRI can hold (RFC 3987 §2.2).
func absolute(text string) bool {
	colon := strings.IndexByte(text, ':')
	if colon < 1 || colon == len(text)-1 {
		return false
	}
	for i := 0; i < len(text); i++ {
		c := text[i]
		letter := 'a' <= c|0x20 && c|0x20 <= 'z'
		if i < colon && !letter && (i == 0 || !('0' <= c && c <= '9' || c == '+' || c == '-' || c == '.')) {
			return false
		}
		if c <= 0x20 || c == 0x7f || strings.IndexByte("<>\"{}|\\^`", c) >= 0 {
			return false
		}
	}
	return true
}

// addressOf reports whether the last segments of iri, as many as path has, are path.
func addressOf(iri, path string) bool {
	base := BaseOf(iri, path)
	if base == "" {
		return false
	}
	p, ok := NormalPath(iri[len(base):])
	return ok && p == path
}

// Change says what putting a record meant.
type Change uint8

// The kinds of change.
const (
	Unchanged Change = iota
	Added            // the address was never used before
	Changed          // in the same state as before, and the content differs
	Returned         // live again after it was withdrawn or moved
	Withdrawn        // now a tombstone
	Relocated        // now a redirection to another IRI
)

// String gives the kind in lower case.
func (c Change) String() string {
	if int(c) < len(changeNames) {
		return changeNames[c]
	}
	return fmt.Sprintf("Change(%d)", uint8(c))
}

var changeNames = [...]string{"unchanged", "added", "changed", "returned", "withdrawn", "moved"}

// Summary counts the records of a publication by what happened to them.
type Summary struct {
	Added, Changed, Returned, Withdrawn, Moved int
	Unchanged                                  int
}

// Changes is the number of records that are not as they were.
func (s Summary) Changes() int { return s.Added + s.Changed + s.Returned + s.Withdrawn + s.Moved }

// Count adds one record that met with c.
func (s *Summary) Count(c Change) {
	switch c {
	case Unchanged:
		s.Unchanged++
	case Added:
		s.Added++
	case Changed:
		s.Changed++
	case Returned:
		s.Returned++
	case Withdrawn:
		s.Withdrawn++
	case Relocated:
		s.Moved++
	}
}

// Publication is one state of the whole, committed at once.
type Publication struct {
	Number  int64     // from 1; 0 before the first
	Time    time.Time // UTC, whole seconds, later than that of the publication before
	Summary Summary
	First   int64  // Seq of its first change
	Last    int64  // Seq of its last; that of the current publication is the number of all versions
	Note    string // free text; may be empty
	Sources string // what it was made from, in a notation of the publisher's own; may be empty
}

// NextTime is the time of a publication made now after one made at last: whole
// seconds of UTC, and at least a second after last, whatever the clock says. So
// every version of a record has a Last-Modified, a harvesting datestamp and a
// Memento time of its own; all three are counted in seconds (RFC 9110 §5.6.7).
func NextTime(last, now time.Time) time.Time {
	t := now.UTC().Truncate(time.Second)
	if !last.IsZero() && !t.After(last) {
		t = last.UTC().Truncate(time.Second).Add(time.Second)
	}
	return t
}
