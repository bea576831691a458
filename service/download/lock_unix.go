//go:build unix

package download

import (
	"os"
	"syscall"
)

// lock waits until no other process has the folder. The lock ends with the process.
func lock(dir string) (unlock func(), err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	for {
		if err = syscall.Flock(int(d.Fd()), syscall.LOCK_EX); err != syscall.EINTR {
			break
		}
	}
	if err != nil {
		_ = d.Close()
		return nil, &os.PathError{Op: "lock", Path: dir, Err: err}
	}
	return func() { _ = d.Close() }, nil
}
