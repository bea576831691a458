package sqlite

import (
	"runtime"
	"sync"

	"ropewalk/service"
)

// recentBytes is about how much memory recent records may take.
const recentBytes = 16 << 20

// recent keeps records that were asked for, as they are in one publication. Whoever asks
// has first found out, after being asked, which publication is the last: nothing but a
// publication changes a record, so what is kept is never older than the question.
type recent struct {
	mu          sync.Mutex
	publication int64
	records     map[string]*service.Record
	bytes       int
}

func (c *recent) get(publication int64, path string) *service.Record {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.publication != publication {
		return nil
	}
	return c.records[path]
}

// put keeps a record that was read after publication was found to be the last. If there
// is another by now the record is not kept; if that came before the record was read,
// nobody gets to see it for long.
func (c *recent) put(publication int64, r *service.Record) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case publication < c.publication:
		return
	case publication > c.publication || c.records == nil:
		c.publication, c.records, c.bytes = publication, map[string]*service.Record{}, 0
	}
	if _, there := c.records[r.Path]; there {
		return
	}
	c.records[r.Path] = r
	c.bytes += weight(r)
	for path, other := range c.records { // in no order
		if c.bytes <= recentBytes {
			break
		}
		c.bytes -= weight(other)
		delete(c.records, path)
	}
}

// weight is about the memory that a record takes.
func weight(r *service.Record) int {
	return 512 + len(r.Body) + len(r.Keys) + len(r.Label) + len(r.IRI) + 2*len(r.Path)
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
