//go:build unix

package main

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"ropewalk/service/push"
)

// lockPush keeps a second push of this machine to the same target from beginning, and
// lets one that follows an interrupted push know that it is over: the system drops the
// lock of a process that dies, and its claim stands in the file. A machine where this
// file can't be written does without; claims in the target still do their work.
func lockPush(what string, o *push.Options) (unlock func(clean bool), err error) {
	none := func(bool) {}
	sum := sha256.Sum256([]byte(what))
	f, err := os.OpenFile(filepath.Join(os.TempDir(), fmt.Sprintf("ropewalk-push-%d-%x.lock", os.Getuid(), sum[:8])), os.O_CREATE|os.O_RDWR|syscall.O_NOFOLLOW|syscall.O_CLOEXEC, 0o600)
	if err != nil {
		return none, nil
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, errors.New("another push to this address is at work on this machine")
		}
		return none, nil
	}
	text, err := io.ReadAll(io.LimitReader(f, 1<<20))
	if err == nil {
		_, err = fmt.Fprintln(f, o.Claim)
	}
	if err != nil {
		_ = f.Close()
		return none, nil
	}
	dead := strings.Split(string(text), "\n")
	o.Dead = func(claim string) bool { return slices.Contains(dead, claim) }
	return func(clean bool) {
		if clean {
			_ = f.Truncate(0)
		}
		_ = f.Close()
	}, nil
}
