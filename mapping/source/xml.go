package source

import (
	"bytes"
	"errors"
	"io"
	"strings"
)

// xmlReader reads the records of XML files: the root element, or the elements at
// a path.
type xmlReader struct {
	rd    *reading
	x     *xmlScanner
	f     *File
	num   int // records of the file so far
	names xmlNames

	record  []string // names on the path to the records
	matched int      // of them, open now
	implied bool     // the path does not begin with the root element
	skipped int      // open elements nobody asks for
	row     *Row     // the record being read

	frames  []xmlFrame
	cursors []xmlCursor
	path    []byte // from the record, with indexes
	buf     []byte // text being captured
	capture int    // elements whose text is wanted, open now
	value   []byte

	seen []xmlSeen // Describe: open elements
}

// xmlFrame is an open element something is wanted of.
type xmlFrame struct {
	first int // its cursors begin here
	path  int // length of the path without it
}

// xmlCursor is a node of a layout at an open element.
type xmlCursor struct {
	n    *node
	row  *Row
	up   int  // cursor of the parent element; -1: n is the root of row
	from int  // where its text begins in buf; -1: not wanted
	line int  // of the element
	take bool // values are taken, not only counted
	got  bool // a value was taken
}

type xmlSeen struct {
	p    *seenPath
	in   int // instance
	from int // its text begins here in buf
	own  bool
	kids bool
}

func (rd *reading) readXML(f *File, in text) error {
	xr := rd.xml
	if xr == nil {
		xr = &xmlReader{rd: rd, x: newXMLScanner(in.Reader)}
		xr.names.declared = rd.src.Namespaces
		if rd.src.Records != "" {
			xr.record = strings.Split(rd.src.Records, ".")
		}
		rd.xml = xr
	} else {
		xr.x.reset(in.Reader)
	}
	xr.x.private = len(rd.src.Withheld) > 0
	xr.f, xr.num, xr.matched, xr.implied, xr.skipped, xr.row = f, 0, 0, false, 0, nil
	xr.frames, xr.cursors, xr.path, xr.buf, xr.capture = xr.frames[:0], xr.cursors[:0], xr.path[:0], xr.buf[:0], 0
	xr.seen = xr.seen[:0]
	xr.names.reset()
	if err := xr.read(); err != nil {
		var e *Error
		if errors.As(err, &e) && e.File == "" {
			e.File = f.Name
			if xr.row != nil || len(xr.seen) > 0 {
				e.Row = xr.num
			}
		}
		return err
	}
	if xr.num == 0 {
		return &Error{File: f.Name, Path: rd.src.Records, Reason: "there is no element at this path, where the records should be", none: true}
	}
	return nil
}

func (xr *xmlReader) read() error {
	x := xr.x
	for {
		kind, err := x.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		switch kind {
		case xmlStart:
			if xr.names.declared != nil {
				xr.names.open(x.attrs)
			}
			switch {
			case xr.skipped > 0:
				xr.skipped++
			case len(xr.seen) > 0:
				xr.see()
			case xr.row != nil:
				xr.start()
			default:
				err = xr.outside()
			}
		case xmlEnd:
			switch {
			case xr.skipped > 0:
				xr.skipped--
			case len(xr.seen) > 0:
				err = xr.seenEnd()
			case xr.row != nil:
				err = xr.end()
			default:
				xr.matched--
			}
			if xr.names.declared != nil {
				xr.names.close()
			}
		case xmlText:
			switch {
			case len(xr.seen) > 0 && xr.skipped == 0:
				xr.addText()
				s := &xr.seen[len(xr.seen)-1]
				s.own = s.own || len(trim(x.text)) > 0
			case xr.capture > 0:
				xr.addText()
			}
		}
		if err != nil {
			return err
		}
	}
}

// addText appends the text at hand to what is captured.
func (xr *xmlReader) addText() {
	if !xr.x.coded {
		xr.buf = append(xr.buf, xr.x.text...)
		return
	}
	var n int
	if xr.buf, n = decodeXML(xr.buf, xr.x.text, false); n > 0 && xr.row != nil {
		xr.rd.root.note(Entity, xr.row, -1, string(xr.x.text))
	}
}

// outside handles an element that lies on no record.
func (xr *xmlReader) outside() error {
	name := xr.names.element(xr.x.name)
	if len(xr.record) > 0 {
		at := xr.matched
		switch {
		case at == 0 && string(name) != xr.record[0]:
			xr.implied, xr.matched = true, 1 // the path leaves out the root element
			return nil
		case xr.implied:
			at--
		}
		if string(name) != xr.record[at] {
			xr.skipped = 1
			return nil
		}
	}
	xr.matched++
	full := max(1, len(xr.record))
	if xr.implied {
		full++
	}
	if xr.matched < full {
		return nil
	}
	xr.num++
	rd := xr.rd
	if c := rd.collect; c != nil {
		if c.records >= describeMost {
			c.partial = true
			return errLimit
		}
		c.records++
		xr.see()
		return nil
	}
	r, err := rd.begin()
	if err != nil {
		return err
	}
	r.Num, r.Line = xr.num, xr.x.lineAt(xr.x.at)
	xr.row = r
	rd.root.fresh()
	xr.frames = append(xr.frames, xmlFrame{})
	xr.enter(rd.root.trie, r, -1, true)
	return nil
}

// enter puts a cursor on a node for the element that begins.
func (xr *xmlReader) enter(n *node, r *Row, up int, take bool) {
	x := xr.x
	c := xmlCursor{n: n, row: r, up: up, from: -1, take: take}
	for _, k := range n.kids {
		k.nth = 0
	}
	if n.slot >= 0 {
		c.from, c.line = len(xr.buf), x.lineAt(x.at)
		xr.capture++
	}
	if len(n.attrs) > 0 {
		for i := range x.attrs {
			name := xr.names.attribute(x.attrs[i].name)
			for _, a := range n.attrs {
				if a.name != string(name) {
					continue
				}
				var entities int
				if xr.value, entities = decodeXML(xr.value[:0], x.attrs[i].value, true); entities > 0 {
					n.run.note(Entity, r, a.slot, string(x.attrs[i].value))
				}
				if xr.rd.put(n.run, r, a.slot, x.lineAt(x.at), take && !a.locked, xr.value) {
					a.locked, c.got = true, true
				}
			}
		}
	}
	xr.cursors = append(xr.cursors, c)
}

// start handles an element within a record.
func (xr *xmlReader) start() {
	x, rd := xr.x, xr.rd
	name := xr.names.element(x.name)
	top := xr.frames[len(xr.frames)-1]
	first, mark := len(xr.cursors), len(xr.path)
	for i := top.first; i < first; i++ {
		c := xr.cursors[i]
		k := c.n.find(name)
		if k == nil {
			if !rd.src.desc.Complete {
				rd.met(c.n, name)
			}
			continue
		}
		k.nth++
		if len(xr.path) == mark {
			if mark > 0 {
				xr.path = append(xr.path, '.')
			}
			xr.path = append(xr.path, name...)
			if k.nth > 1 || k.rows >= 0 {
				xr.path = appendIndex(xr.path, k.nth)
			}
		}
		if k.rows >= 0 {
			sub := k.run.kids[k.rows].run
			r := &rd.mem.rows.raw(1)[0]
			*r = rd.newRow(sub)
			r.Num, r.Line = xr.num, x.lineAt(x.at)
			r.Path = rd.mem.put(xr.path)
			sub.fresh()
			xr.enter(sub.trie, r, -1, true)
		}
		if k.slot >= 0 || !k.leaf() {
			xr.enter(k, c.row, i, c.take && !k.locked)
		}
	}
	if len(xr.cursors) == first {
		xr.path = xr.path[:mark]
		xr.skipped = 1
		return
	}
	xr.frames = append(xr.frames, xmlFrame{first, mark})
}

// end handles the end of an element within a record.
func (xr *xmlReader) end() error {
	rd := xr.rd
	f := xr.frames[len(xr.frames)-1]
	xr.frames = xr.frames[:len(xr.frames)-1]
	for i := f.first; i < len(xr.cursors); i++ {
		c := &xr.cursors[i]
		run := c.n.run
		if c.from >= 0 {
			xr.capture--
			if rd.put(run, c.row, c.n.slot, c.line, c.take, xr.buf[c.from:]) {
				c.got = true
			}
		}
		switch {
		case c.up >= 0:
			if c.got && c.take {
				c.n.locked = true
				xr.cursors[c.up].got = true
			}
		case len(xr.frames) == 0:
			rd.gather(run, c.row)
		default:
			rd.gather(run, c.row)
			rd.join(run, c.row)
			run.rows = append(run.rows, *c.row)
		}
	}
	xr.cursors = xr.cursors[:f.first]
	xr.path = xr.path[:f.path]
	if xr.capture == 0 {
		xr.buf = xr.buf[:0]
	}
	if len(xr.frames) > 0 {
		return nil
	}
	xr.matched--
	r := xr.row
	xr.row = nil
	return rd.end(r)
}

// see notes an element for Describe.
func (xr *xmlReader) see() {
	c, x := xr.rd.collect, xr.x
	p, in := c.root, 0
	if n := len(xr.seen); n > 0 {
		up := &xr.seen[n-1]
		up.kids = true
		in = up.in
		p = c.child(up.p, xr.names.element(x.name))
		if p == nil {
			xr.skipped = 1
			return
		}
	}
	p.met(in)
	for i := range x.attrs {
		name := xr.names.attribute(x.attrs[i].name)
		if bytes.HasPrefix(name, []byte("xmlns")) {
			continue
		}
		if a := c.child(p, append([]byte("@"), name...)); a != nil {
			xr.value, _ = decodeXML(xr.value[:0], x.attrs[i].value, true)
			a.hasValue(c.records, trim(xr.value))
		}
	}
	xr.seen = append(xr.seen, xmlSeen{p: p, in: p.nth, from: len(xr.buf)})
}

func (xr *xmlReader) seenEnd() error {
	s := xr.seen[len(xr.seen)-1]
	xr.seen = xr.seen[:len(xr.seen)-1]
	if s.own || !s.kids {
		s.p.hasValue(xr.rd.collect.records, trim(xr.buf[s.from:]))
	} else {
		s.p.tick(xr.rd.collect.records)
	}
	xr.buf = xr.buf[:s.from]
	if len(xr.seen) == 0 {
		xr.matched--
	}
	return nil
}

// xmlNames turns names as written into names with the prefixes a source declares
// (Namespaces in XML 1.0). Without declared prefixes names stay as written.
type xmlNames struct {
	declared map[string]string // prefix to namespace
	bound    []xmlBinding
	depth    int
	made     [2][]byte // the last names made, of an element and of an attribute
}

type xmlBinding struct {
	prefix string
	space  string
	depth  int
}

func (ns *xmlNames) reset() { ns.bound, ns.depth = ns.bound[:0], 0 }

// open takes the declarations of a start tag.
func (ns *xmlNames) open(attrs []xmlAttr) {
	ns.depth++
	for i := range attrs {
		rest, ok := bytes.CutPrefix(attrs[i].name, []byte("xmlns"))
		if !ok || len(rest) > 0 && rest[0] != ':' {
			continue
		}
		space, _ := decodeXML(nil, attrs[i].value, true)
		ns.bound = append(ns.bound, xmlBinding{string(bytes.TrimPrefix(rest, []byte(":"))), string(space), ns.depth})
	}
}

func (ns *xmlNames) close() {
	for n := len(ns.bound); n > 0 && ns.bound[n-1].depth == ns.depth; n-- {
		ns.bound = ns.bound[:n-1]
	}
	ns.depth--
}

// element gives the name of an element; it is valid until the next.
func (ns *xmlNames) element(raw []byte) []byte {
	if ns.declared == nil {
		return raw
	}
	return ns.resolve(raw, 0)
}

// attribute gives the name of an attribute. One without a prefix is in no
// namespace.
func (ns *xmlNames) attribute(raw []byte) []byte {
	if ns.declared == nil || bytes.IndexByte(raw, ':') < 0 {
		return raw
	}
	return ns.resolve(raw, 1)
}

func (ns *xmlNames) resolve(raw []byte, buf int) []byte {
	prefix, local, ok := bytes.Cut(raw, []byte(":"))
	if !ok {
		prefix, local = nil, raw
	}
	space := ""
	for i := len(ns.bound) - 1; i >= 0; i-- {
		if ns.bound[i].prefix == string(prefix) {
			space = ns.bound[i].space
			break
		}
	}
	if space == "" {
		return raw
	}
	best, found := "", false
	for p, s := range ns.declared {
		if s == space && (!found || p < best) {
			best, found = p, true
		}
	}
	switch {
	case found && best == "":
		return local
	case found:
		ns.made[buf] = append(append(append(ns.made[buf][:0], best...), ':'), local...)
		return ns.made[buf]
	}
	if _, taken := ns.declared[string(prefix)]; taken {
		// The file uses a declared prefix for another namespace.
		ns.made[buf] = append(append(append(append(ns.made[buf][:0], '{'), space...), '}'), local...)
		return ns.made[buf]
	}
	return raw
}
