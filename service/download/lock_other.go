//go:build !unix

package download

import "sync"

var folders sync.Mutex

// lock keeps others in this process out; where there is no flock, one process at a
// time must publish.
func lock(string) (unlock func(), err error) {
	folders.Lock()
	return folders.Unlock, nil
}
