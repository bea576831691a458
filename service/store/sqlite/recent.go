package sqlite

import (
	"runtime"
	"sync"
	"sync/atomic"

	"ropewalk/service"
	"ropewalk/service/recent"
)

const (
	recentBytes = 16 << 20 // about what recent records may take
	missesBytes = 1 << 20  // and paths at which nothing ever was
)

// lately keeps records that were asked for, as they are in one publication. Whoever asks
// has first found out, after being asked, which publication is the last: nothing but a
// publication changes a record, so what is kept is never older than the question.
type lately struct {
	records *recent.Cache[moment, *service.Record]
	misses  *recent.Cache[moment, struct{}] // apart, that guessing addresses does not drive records out
	last    atomic.Int64
}

// moment is a path in a publication.
type moment struct {
	publication int64
	path        string
}

func newLately() lately {
	return lately{records: recent.New[moment, *service.Record](recentBytes), misses: recent.New[moment, struct{}](missesBytes)}
}

// get returns the record that is kept, or nil; never is true if it is known that there is
// none.
func (c *lately) get(at moment) (r *service.Record, never bool) {
	if r, ok := c.records.Get(at); ok {
		return r, false
	}
	_, never = c.misses.Get(at)
	return nil, never
}

// put keeps a record, or nil for none, that was read after the publication was found to
// be the last. If another came before the record was read, nobody gets to see it for long.
func (c *lately) put(at moment, r *service.Record) {
	if last := c.last.Load(); at.publication > last && c.last.CompareAndSwap(last, at.publication) {
		c.records.Clear() // the old ones are only in the way
		c.misses.Clear()
	}
	if r == nil {
		c.misses.Put(at, struct{}{}, 256+len(at.path))
		return
	}
	c.records.Put(at, r, 512+len(r.Body)+len(r.Keys)+len(r.Label)+len(r.IRI)+2*len(r.Path))
}

// inquiry finds something out once for all who ask at about the same time. It begins after
// the last of them came, so that nobody gets an answer from before the question.
type inquiry struct {
	mu   sync.Mutex
	next *answer // that is not yet looked for
}

type answer struct {
	done   chan struct{}
	number int64
	err    error
}

func (q *inquiry) ask(find func() (int64, error)) (int64, error) {
	q.mu.Lock()
	if a := q.next; a != nil {
		q.mu.Unlock()
		<-a.done
		return a.number, a.err
	}
	a := &answer{done: make(chan struct{})}
	q.next = a
	q.mu.Unlock()
	runtime.Gosched() // those who are about to ask may join
	q.mu.Lock()
	q.next = nil
	q.mu.Unlock()
	a.number, a.err = find()
	close(a.done)
	return a.number, a.err
}
