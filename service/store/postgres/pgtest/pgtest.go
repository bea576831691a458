//go:build linux

// Package pgtest starts a PostgreSQL of one's own for tests: Debian's binaries, a
// temporary folder, a loopback port. Begin with [Start].
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// ErrMissing says that PostgreSQL is not installed.
var ErrMissing = errors.New("PostgreSQL is not installed: there is no /usr/lib/postgresql/*/bin/initdb (apt-get install postgresql)")

// Cluster is a running server.
type Cluster struct {
	dir     string
	bin     string
	port    int
	options []string
	who     *syscall.Credential // nil: whoever runs the tests
	exited  chan error
	process *os.Process
	schemas atomic.Int64

	own  sync.Mutex
	conn *pgx.Conn // of Exec
}

// Start makes and starts a cluster; options are settings such as "fsync=off". Call
// [Cluster.Remove] when done.
func Start(options ...string) (*Cluster, error) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if len(found) == 0 {
		return nil, ErrMissing
	}
	c := &Cluster{bin: filepath.Dir(found[len(found)-1]), options: options}
	var err error
	if c.dir, err = os.MkdirTemp("", "ropewalk-postgres-"); err != nil {
		return nil, err
	}
	if err := c.make(); err != nil {
		return nil, errors.Join(err, c.Remove())
	}
	return c, nil
}

func (c *Cluster) make() error {
	// The server refuses to run as root.
	if os.Getuid() == 0 {
		var u *user.User
		var err error
		for _, name := range []string{"postgres", "nobody"} {
			if u, err = user.Lookup(name); err == nil {
				break
			}
		}
		if err != nil {
			return err
		}
		uid, uerr := strconv.ParseUint(u.Uid, 10, 32)
		gid, gerr := strconv.ParseUint(u.Gid, 10, 32)
		if err := errors.Join(uerr, gerr); err != nil {
			return err
		}
		c.who = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		if err := os.Chown(c.dir, int(uid), int(gid)); err != nil {
			return err
		}
	}
	cmd := exec.Command(filepath.Join(c.bin, "initdb"), "-D", c.data(), "-U", "ropewalk", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync")
	cmd.Dir, cmd.SysProcAttr = c.dir, c.as()
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	c.port = l.Addr().(*net.TCPAddr).Port
	if err := l.Close(); err != nil {
		return err
	}
	return c.Run()
}

func (c *Cluster) data() string { return filepath.Join(c.dir, "data") }

// Run starts the server after [Cluster.Stop] and waits until it answers.
func (c *Cluster) Run() error {
	args := []string{"-D", c.data(), "-h", "127.0.0.1", "-p", strconv.Itoa(c.port), "-k", c.dir}
	for _, o := range c.options {
		args = append(args, "-c", o)
	}
	log, err := os.OpenFile(filepath.Join(c.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer log.Close()
	cmd := exec.Command(filepath.Join(c.bin, "postgres"), args...)
	cmd.Dir, cmd.SysProcAttr, cmd.Stdout, cmd.Stderr = c.dir, c.as(), log, log
	c.exited = make(chan error, 1)
	started := make(chan error)
	go func() {
		// The server is told when the thread that started it ends.
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			c.exited <- cmd.Wait()
		}
	}()
	if err := <-started; err != nil {
		return err
	}
	c.process = cmd.Process
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, c.URL(""))
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case exit := <-c.exited:
			c.process = nil
			text, _ := os.ReadFile(log.Name())
			return fmt.Errorf("the server ended: %v\n%s", exit, text)
		case <-ctx.Done():
			return errors.Join(err, c.Stop(false))
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// Stop stops the server: at once, as in a crash, or after rolling back what is
// under way.
func (c *Cluster) Stop(crash bool) error {
	if c.process == nil {
		return nil
	}
	sig := syscall.SIGINT
	if crash {
		sig = syscall.SIGQUIT
	}
	err := c.process.Signal(sig)
	<-c.exited
	c.process = nil
	return err
}

// Remove stops the server and deletes its files.
func (c *Cluster) Remove() error { return errors.Join(c.Stop(true), os.RemoveAll(c.dir)) }

// URL is the address of the server's database, and of a schema in it.
func (c *Cluster) URL(schema string) string {
	u := url.URL{Scheme: "postgres", User: url.User("ropewalk"), Host: net.JoinHostPort("127.0.0.1", strconv.Itoa(c.port)), Path: "/postgres"}
	if schema != "" {
		u.RawQuery = url.Values{"search_path": {schema}}.Encode()
	}
	return u.String()
}

// Fresh makes an empty schema and returns its address and what deletes it.
func (c *Cluster) Fresh(ctx context.Context) (address string, drop func(context.Context) error, err error) {
	name := fmt.Sprintf("test_%d", c.schemas.Add(1))
	if err := c.Exec(ctx, "create schema "+name); err != nil {
		return "", nil, err
	}
	return c.URL(name), func(ctx context.Context) error { return c.Exec(ctx, "drop schema "+name+" cascade") }, nil
}

// Exec runs one statement.
// The connection is kept: a server forks for each.
func (c *Cluster) Exec(ctx context.Context, statement string) error {
	c.own.Lock()
	defer c.own.Unlock()
	if c.conn == nil || c.conn.IsClosed() || c.conn.Ping(ctx) != nil {
		conn, err := pgx.Connect(ctx, c.URL(""))
		if err != nil {
			return err
		}
		c.conn = conn
	}
	_, err := c.conn.Exec(ctx, statement)
	return err
}
