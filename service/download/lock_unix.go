//go:build unix

package download

import (
	"os"
	"path/filepath"
	"syscall"
)

// lock waits until no other process has the folder. The lock ends with the process. It
// is that of a file, open for writing, because network file systems have no other.
func lock(dir string) (unlock func(), err error) {
	d, err := os.OpenFile(filepath.Join(dir, lockFile), os.O_CREATE|os.O_RDWR, 0o666)
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
