package web

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"
)

// pair is both ends of a connection; the first can hold back.
func pair(t *testing.T) (*wire, net.Conn) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	far, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	near, err := wires{l}.Accept()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { near.Close(); far.Close() })
	return near.(*wire), far
}

// TestTogether cuts a response into pieces at every place: nothing leaves before the last
// piece, and then all does.
func TestTogether(t *testing.T) {
	near, far := pair(t)
	ctx := withWire(context.Background(), near)
	header, body := "HTTP/1.1 200 OK\r\nA: b\r\n\r\n", "body\r\n\r\nafter an empty line"
	all := header + body
	got := make([]byte, len(all)+1)
	for one := 1; one < len(all); one++ {
		two := (one + 7) % len(all)
		a, b := min(one, two), max(one, two)
		together(ctx, len(body))
		for _, piece := range []string{all[:a], all[a:b], all[b:]} {
			if n, err := near.Write([]byte(piece)); err != nil || n != len(piece) {
				t.Fatal(n, err)
			}
		}
		n, err := io.ReadAtLeast(far, got, len(all))
		if err != nil || string(got[:n]) != all {
			t.Fatalf("cut at %d and %d: %q %v", a, b, got[:n], err)
		}
		if near.held != nil {
			t.Fatalf("cut at %d and %d: something is still held", a, b)
		}
	}
	together(ctx, len(body))
	if _, err := near.Write([]byte(all[:len(all)-1])); err != nil {
		t.Fatal(err)
	}
	_ = far.SetReadDeadline(time.Now().Add(50 * time.Millisecond))
	if n, err := far.Read(got); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Fatalf("%q left before the last byte was there: %v", got[:n], err)
	}
}

// What is not held goes out as it comes: before anything is held, and of bodies that are
// too long.
func TestNotTogether(t *testing.T) {
	near, far := pair(t)
	ctx := withWire(context.Background(), near)
	got := make([]byte, 10)
	for _, size := range []int{-1, 0, mostHeld + 1} {
		if size >= 0 {
			together(ctx, size)
		}
		if _, err := near.Write([]byte("HTTP")); err != nil {
			t.Fatal(err)
		}
		if n, err := io.ReadAtLeast(far, got, 4); err != nil || string(got[:n]) != "HTTP" {
			t.Fatalf("%d: %q %v", size, got[:n], err)
		}
	}
	together(context.Background(), 5) // no wire at all
}

// TestWireServes asks a server over real connections, several requests on each, in one
// go: bodies below and above what is held, those without a body, HEAD.
func TestWireServes(t *testing.T) {
	store := newStore(t)
	long := live(t, "object/long", strings.Repeat("Long ", mostHeld/5))
	publish(t, store, append(records(t), long)...)
	s := newServer(t, store, io.Discard, Limits{})
	address, stop, done := listen(t, s)
	defer func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	conn, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	type question struct{ method, path string }
	var questions []question
	var text bytes.Buffer
	for range 3 {
		for _, path := range []string{"object/KQ.1911.4", "object/KQ.1911.4.ttl", "object/long", "object/old", "object/lost", "object/never", "", "object/", "healthz"} {
			for _, method := range []string{"GET", "HEAD"} {
				questions = append(questions, question{method, path})
				text.WriteString(method + " /" + path + " HTTP/1.1\r\nHost: x\r\n\r\n")
			}
		}
	}
	go func() { _, _ = conn.Write(text.Bytes()) }()
	_ = conn.SetReadDeadline(time.Now().Add(30 * time.Second))
	in := bufio.NewReader(conn)
	for _, q := range questions {
		r, err := http.NewRequest(q.method, "/"+q.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := http.ReadResponse(in, r)
		if err != nil {
			t.Fatalf("%v: %v", q, err)
		}
		got, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatalf("%v: %v", q, err)
		}
		want := ask(s, q.method, "/"+q.path)
		body, _ := io.ReadAll(want.Body)
		if res.StatusCode != want.StatusCode || !bytes.Equal(got, body) {
			t.Errorf("%v: %d with %d bytes over the wire, %d with %d", q, res.StatusCode, len(got), want.StatusCode, len(body))
		}
	}
}
