package pgtest

import "syscall"

// as is how the server's programs run: under an unprivileged user, and not longer
// than the tests.
func (c *Cluster) as() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: c.who, Pdeathsig: syscall.SIGQUIT, Setpgid: true}
}
