package sqlite

import (
	"os"
	"sync"
	"time"
)

const (
	// settled is the time for which the write-ahead log must have been as it is before it
	// is trusted: between its last write and the moment when others see the commit lies
	// the flush to the disk.
	settled = 10 * time.Second
	// trusted is the time after which the database is asked again all the same, for a
	// flush that took longer.
	trusted = time.Second
)

// watch tells from the write-ahead log's size and time that nothing was committed since
// the database was last asked: a commit appends to the log or begins it anew, in any
// process (https://www.sqlite.org/wal.html).
type watch struct {
	mu       sync.Mutex
	size     int64
	modified time.Time
	asked    time.Time
	number   int64
}

// lastPublication is the number of the last publication.
func (s *Store) lastPublication() (int64, error) {
	w := &s.watch
	now := time.Now()
	log, err := os.Stat(s.path + "-wal")
	known := err == nil && (log.Size() == 0 || now.Sub(log.ModTime()) > settled) // an empty log has no commit that is being flushed
	if known {
		w.mu.Lock()
		n, age := w.number, now.Sub(w.asked)
		same := w.size == log.Size() && w.modified.Equal(log.ModTime())
		w.mu.Unlock()
		if same && age >= 0 && age < trusted {
			return n, nil
		}
	}
	n, err := s.newest.ask(func() (n int64, err error) {
		err = s.stmts[lastNumber].QueryRow().Scan(&n)
		return n, err
	})
	if known && err == nil {
		w.mu.Lock()
		w.size, w.modified, w.asked, w.number = log.Size(), log.ModTime(), now, n
		w.mu.Unlock()
	}
	return n, err
}
