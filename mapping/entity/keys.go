package entity

import (
	"errors"
	"strconv"
	"strings"
)

// Keys writes the author's keys of d's embedded nodes in one line: for each, the
// node's place among the embedded nodes in document order, from 0, "=", and the
// key with all but RFC 3986 unreserved characters percent-encoded; ";" between
// them. JSON-LD does not carry the keys: who stores a document's JSON stores this
// line too, and [Parse] gives the nodes the same IRIs again.
func Keys(d *Document) string {
	d.need()
	var b []byte
	n := 0
	for i := 1; i < len(d.ev); i++ {
		e := &d.ev[i]
		if e.Kind != Open || e.Ref {
			continue
		}
		if e.Value != "" {
			if len(b) > 0 {
				b = append(b, ';')
			}
			b = strconv.AppendInt(b, int64(n), 10)
			b = append(b, '=')
			b = appendFragment(b, e.Value)
		}
		n++
	}
	return string(b)
}

// keyReader hands out what Keys wrote.
type keyReader struct {
	rest string
	next int // place of the first key in rest
	node int // place of the next embedded node
}

var errKeys = errors.New("the line of author's keys is damaged")

func newKeyReader(keys string) (keyReader, error) {
	r := keyReader{rest: keys}
	return r, r.advance()
}

// advance reads the place of the first key in rest.
func (r *keyReader) advance() error {
	if r.rest == "" {
		r.next = -1
		return nil
	}
	place, rest, ok := strings.Cut(r.rest, "=")
	n, err := strconv.Atoi(place)
	if !ok || err != nil || n < r.node {
		return errKeys
	}
	r.next, r.rest = n, rest
	return nil
}

// key is the author's key of the next embedded node.
func (r *keyReader) key() (string, error) {
	n := r.node
	r.node++
	if r.next != n {
		return "", nil
	}
	text, rest, _ := strings.Cut(r.rest, ";")
	key, ok := readFragment(text)
	if !ok || key == "" {
		return "", errKeys
	}
	r.rest = rest
	return key, r.advance()
}

// readFragment reads back what appendFragment wrote.
func readFragment(s string) (string, bool) {
	if !strings.Contains(s, "%") {
		return s, true
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '%' {
			b.WriteByte(s[i])
			continue
		}
		if i+2 >= len(s) {
			return "", false
		}
		c, err := strconv.ParseUint(s[i+1:i+3], 16, 8)
		if err != nil {
			return "", false
		}
		b.WriteByte(byte(c))
		i += 2
	}
	return b.String(), true
}
