package web

import (
	"bytes"
	"context"
	"net"
	"net/http"
)

// mostHeld is the longest body, in bytes, that leaves together with its header.
const mostHeld = 32 << 10

// wire is a connection that can send a header and its body in one piece. The server of
// net/http writes through a buffer of 4 KiB, so that a document which does not fit beside
// its header leaves in two or three pieces, each a system call here and a packet, or a
// waking up, there.
type wire struct {
	*net.TCPConn
	held *[]byte // from buffers; nil if nothing is held
	left int     // bytes to wait for
	open bool    // the end of the header has not come yet, and left does not count it
}

// together makes what is written next wait until a header and size bytes after it are
// there. The caller must go on to write just that.
func together(ctx context.Context, size int) {
	if c, ok := ctx.Value(wireKey{}).(*wire); ok && c.held == nil && size > 0 && size <= mostHeld {
		c.held, c.left, c.open = buffers.Get().(*[]byte), size, true
		*c.held = (*c.held)[:0]
	}
}

// Write writes b, or holds it until all is there.
func (c *wire) Write(b []byte) (int, error) {
	if c.held == nil {
		return c.TCPConn.Write(b)
	}
	all := append(*c.held, b...)
	*c.held = all
	if c.open {
		end := bytes.Index(all, headerEnd)
		if end < 0 {
			return len(b), nil
		}
		c.open = false
		c.left += end + len(headerEnd)
	}
	if len(all) < c.left {
		return len(b), nil
	}
	_, err := c.TCPConn.Write(all)
	buffers.Put(c.held)
	c.held = nil
	if err != nil {
		return 0, err
	}
	return len(b), nil
}

var headerEnd = []byte("\r\n\r\n")

type wireKey struct{}

// wires listens for connections that can hold back.
type wires struct{ net.Listener }

func (l wires) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if t, ok := c.(*net.TCPConn); ok {
		return &wire{TCPConn: t}, err
	}
	return c, err
}

// withWire lets handlers reach the connection of a request.
func withWire(ctx context.Context, c net.Conn) context.Context {
	if w, ok := c.(*wire); ok {
		return context.WithValue(ctx, wireKey{}, w)
	}
	return ctx
}

// write sends a body whose length the header gives.
func write(w http.ResponseWriter, r *http.Request, body []byte) {
	if r.Method == http.MethodHead {
		w.WriteHeader(http.StatusOK)
		return
	}
	together(r.Context(), len(body))
	w.WriteHeader(http.StatusOK)
	_, _ = w.Write(body) // a reader who went away is no fault of ours
}
