package source

import (
	"bytes"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// jsonReader reads the records of JSON files (RFC 8259): one after another, JSON
// Lines, or below a path.
type jsonReader struct {
	rd    *reading
	dec   *jsontext.Decoder
	lines lineReader
	f     *File
	num   int // records of the file so far
	found bool

	b       []byte // the record being read; known to be well-formed
	i       int
	counted int
	line    int // at counted
	path    []byte
	key     []byte
	text    []byte
}

func (rd *reading) readJSON(f *File, in text) error {
	j := rd.json
	if j == nil {
		j = &jsonReader{rd: rd}
		rd.json = j
	}
	j.f, j.num, j.found = f, 0, false
	j.lines = lineReader{r: in.Reader, breaks: j.lines.breaks[:0], line: 1}
	opts := []jsontext.Options{jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true)}
	if j.dec == nil {
		j.dec = jsontext.NewDecoder(&j.lines, opts...)
	} else {
		j.dec.Reset(&j.lines, opts...)
	}
	var path []string
	if rd.src.Records != "" {
		path = strings.Split(rd.src.Records, ".")
	}
	for j.dec.PeekKind() != 0 {
		if err := j.descend(path); err != nil {
			return j.fault(err)
		}
	}
	if _, err := j.dec.ReadToken(); err != io.EOF {
		return j.fault(err)
	}
	if !j.found {
		if path != nil {
			return &Error{File: f.Name, Path: rd.src.Records, Reason: "there is nothing at this path, where the records should be", none: true}
		}
		return &Error{File: f.Name, Reason: "the file is empty"}
	}
	return nil
}

// fault gives JSON errors their place.
func (j *jsonReader) fault(err error) error {
	var se *jsontext.SyntacticError
	if !errors.As(err, &se) {
		return err
	}
	line, col := j.lines.place(se.ByteOffset)
	e := &Error{File: j.f.Name, Line: line, Col: col, Row: j.num + 1, Reason: "not well-formed JSON: " + se.Err.Error()}
	if errors.Is(se.Err, io.ErrUnexpectedEOF) {
		e.Reason = "the file ends within a value"
	}
	return e
}

// descend reads the value at hand: the records if path is empty, else what lies
// on the path to them.
func (j *jsonReader) descend(path []string) error {
	switch kind := j.dec.PeekKind(); {
	case kind == '[':
		if _, err := j.dec.ReadToken(); err != nil {
			return err
		}
		if len(path) == 0 {
			j.found = true
		}
		for {
			switch j.dec.PeekKind() {
			case ']':
				_, err := j.dec.ReadToken()
				return err
			case 0:
				_, err := j.dec.ReadToken()
				return err
			}
			var err error
			if len(path) == 0 {
				err = j.record()
			} else {
				err = j.descend(path)
			}
			if err != nil {
				return err
			}
		}
	case len(path) == 0:
		return j.record()
	case kind != '{':
		return j.dec.SkipValue()
	}
	if _, err := j.dec.ReadToken(); err != nil {
		return err
	}
	for {
		switch j.dec.PeekKind() {
		case '}', 0:
			_, err := j.dec.ReadToken()
			return err
		}
		name, err := j.dec.ReadToken()
		if err != nil {
			return err
		}
		if name.String() == path[0] {
			err = j.descend(path[1:])
		} else {
			err = j.dec.SkipValue()
		}
		if err != nil {
			return err
		}
	}
}

// record reads one record.
func (j *jsonReader) record() error {
	v, err := j.dec.ReadValue()
	if err != nil {
		return err
	}
	j.found = true
	from := j.dec.InputOffset() - int64(len(v))
	j.line = j.lines.forget(from)
	j.b, j.i, j.counted = v, 0, 0
	j.num++
	if v[0] == 'n' {
		return nil
	}
	rd := j.rd
	if c := rd.collect; c != nil {
		if c.records >= describeMost {
			c.partial = true
			return errLimit
		}
		c.records++
		c.root.nth++
		j.gatherPaths(c, c.root, c.root.nth)
		return nil
	}
	r, err := rd.begin()
	if err != nil {
		return err
	}
	r.Num, r.Line = j.num, j.line
	run := rd.root
	run.fresh()
	j.path = j.path[:0]
	j.value(run.trie, r, true)
	rd.gather(run, r)
	return rd.end(r)
}

// lineHere is the line of the place reached.
func (j *jsonReader) lineHere() int {
	j.line += bytes.Count(j.b[j.counted:j.i], []byte{'\n'})
	j.counted = j.i
	return j.line
}

func (j *jsonReader) space() {
	for blank(j.b[j.i]) {
		j.i++
	}
}

// value reads the value at i for n: its slot, and what is wanted below it. It
// reports whether anything was taken. With take false it only counts what would
// have been a further value.
func (j *jsonReader) value(n *node, r *Row, take bool) bool {
	rd, run := j.rd, n.run
	got := false
	switch c := j.b[j.i]; c {
	case '{':
		if n.slot >= 0 && !j.emptyObject() {
			run.note(NotValue, r, n.slot, string(j.b[j.i:min(len(j.b), j.i+100)]))
		}
		if n.leaf() {
			j.skip()
			return false
		}
		for j.i++; ; {
			j.space()
			if j.b[j.i] == '}' {
				j.i++
				return got
			}
			if j.b[j.i] == ',' {
				j.i++
				j.space()
			}
			key := j.name()
			k := n.find(key)
			if k == nil {
				if !rd.src.desc.Complete {
					rd.met(n, key)
				}
				j.skip()
				continue
			}
			mark := len(j.path)
			if mark > 0 {
				j.path = append(j.path, '.')
			}
			j.path = append(j.path, key...)
			if j.member(k, r, take) {
				got = true
			}
			j.path = j.path[:mark]
		}
	case '[':
		mark := len(j.path)
		j.i++
		for at := 0; ; at++ {
			j.space()
			if j.b[j.i] == ']' {
				j.i++
				return got
			}
			if j.b[j.i] == ',' {
				j.i++
				j.space()
			}
			j.path = appendIndex(j.path, at)
			if j.value(n, r, take && !got) {
				got = true
			}
			j.path = j.path[:mark]
		}
	case '"':
		if n.slot < 0 {
			j.skip()
			return false
		}
		line := j.lineHere()
		return rd.put(run, r, n.slot, line, take, j.str())
	default:
		from := j.i
		if n.slot < 0 || c == 'n' {
			j.skip()
			return false
		}
		line := j.lineHere()
		j.skip()
		return rd.put(run, r, n.slot, line, take, j.b[from:j.i])
	}
}

// member reads a member's value as child rows, as a value, or as both.
func (j *jsonReader) member(k *node, r *Row, take bool) bool {
	if k.rows >= 0 {
		from, counted, line := j.i, j.counted, j.line
		j.rows(k.run.kids[k.rows].run, r)
		if k.slot < 0 && k.leaf() {
			return false
		}
		j.i, j.counted, j.line = from, counted, line
	}
	return j.value(k, r, take)
}

// rows reads the value at i as child rows: each item of an array, or the one
// value.
func (j *jsonReader) rows(sub *layoutRun, parent *Row) {
	switch j.b[j.i] {
	case '[':
		mark := len(j.path)
		j.i++
		for at := 0; ; at++ {
			j.space()
			if j.b[j.i] == ']' {
				j.i++
				return
			}
			if j.b[j.i] == ',' {
				j.i++
				j.space()
			}
			j.path = appendIndex(j.path, at)
			j.rows(sub, parent)
			j.path = j.path[:mark]
		}
	case 'n':
		j.skip()
	default:
		rd := j.rd
		r := rd.newRow(sub)
		r.Num, r.Line = parent.Num, j.lineHere()
		r.Path = rd.mem.put(j.path)
		sub.fresh()
		j.value(sub.trie, &r, true)
		rd.gather(sub, &r)
		rd.join(sub, &r)
		sub.rows = append(sub.rows, r)
	}
}

func appendIndex(b []byte, i int) []byte {
	return append(strconv.AppendInt(append(b, '['), int64(i), 10), ']')
}

func (j *jsonReader) emptyObject() bool {
	for k := j.i + 1; ; k++ {
		if !blank(j.b[k]) {
			return j.b[k] == '}'
		}
	}
}

// name reads a member's name and the colon behind it, up to the value.
func (j *jsonReader) name() []byte {
	from := j.i
	j.skipString()
	key := j.b[from+1 : j.i-1]
	if bytes.IndexByte(key, '\\') >= 0 {
		j.key = unescape(j.key[:0], key)
		key = j.key
	}
	j.space()
	j.i++ // the colon
	j.space()
	return key
}

// str reads a string.
func (j *jsonReader) str() []byte {
	from := j.i
	j.skipString()
	s := j.b[from+1 : j.i-1]
	if bytes.IndexByte(s, '\\') >= 0 {
		j.text = unescape(j.text[:0], s)
		return j.text
	}
	return s
}

func (j *jsonReader) skipString() {
	i := j.i + 1
	for {
		i += bytes.IndexByte(j.b[i:], '"')
		k := i
		for j.b[k-1] == '\\' {
			k--
		}
		i++
		if (i-1-k)&1 == 0 {
			j.i = i
			return
		}
	}
}

// skip passes over a value.
func (j *jsonReader) skip() {
	depth := 0
	for {
		switch j.b[j.i] {
		case '"':
			j.skipString()
		case '{', '[':
			depth++
			j.i++
		case '}', ']':
			depth--
			j.i++
		case ',', ':', ' ', '\n', '\r', '\t':
			j.i++
			continue
		default:
			for j.i < len(j.b) && !delimits(j.b[j.i]) {
				j.i++
			}
		}
		if depth == 0 {
			return
		}
	}
}

func delimits(c byte) bool { return c == ',' || c == '}' || c == ']' || blank(c) }

// unescape appends a JSON string's text (RFC 8259 §7). Halves of surrogate pairs
// are left for the cleaner.
func unescape(dst, s []byte) []byte {
	for {
		i := bytes.IndexByte(s, '\\')
		if i < 0 {
			return append(dst, s...)
		}
		dst = append(dst, s[:i]...)
		c := s[i+1]
		s = s[i+2:]
		switch c {
		case 'b', 'f', 'n', 'r', 't':
			dst = append(dst, "\b\f\n\r\t"[strings.IndexByte("bfnrt", c)])
		case 'u':
			u := hex4(s)
			s = s[4:]
			if !utf16.IsSurrogate(u) {
				dst = utf8.AppendRune(dst, u)
				continue
			}
			if len(s) >= 6 && s[0] == '\\' && s[1] == 'u' {
				if r := utf16.DecodeRune(u, hex4(s[2:])); r != utf8.RuneError {
					dst = utf8.AppendRune(dst, r)
					s = s[6:]
					continue
				}
			}
			dst = appendSurrogate(dst, u)
		default:
			dst = append(dst, c)
		}
	}
}

func hex4(s []byte) rune {
	var u rune
	for _, c := range s[:4] {
		switch {
		case c-'0' < 10:
			u = u<<4 | rune(c-'0')
		default:
			u = u<<4 | rune(c|0x20-'a'+10)
		}
	}
	return u
}

// gatherPaths notes the paths in the value at i; in is the instance of p.
func (j *jsonReader) gatherPaths(c *collector, p *seenPath, in int) {
	switch j.b[j.i] {
	case '{':
		if p != c.root {
			p.tick(c.records)
		}
		for j.i++; ; {
			j.space()
			if j.b[j.i] == '}' {
				j.i++
				return
			}
			if j.b[j.i] == ',' {
				j.i++
				j.space()
			}
			k := c.child(p, j.name())
			if k == nil {
				j.skip()
				continue
			}
			j.gatherPaths(c, k, in)
		}
	case '[':
		p.column.Rows = true
		for j.i++; ; {
			j.space()
			if j.b[j.i] == ']' {
				j.i++
				return
			}
			if j.b[j.i] == ',' {
				j.i++
				j.space()
			}
			j.gatherPaths(c, p, in)
		}
	case '"':
		p.hasValue(c.records, trim(j.str()))
	case 'n':
		j.skip()
		p.null = true
	default:
		from := j.i
		j.skip()
		p.hasValue(c.records, j.b[from:j.i])
	}
}

// lineReader remembers where the lines of what was read begin, as far as they may
// still be asked for.
type lineReader struct {
	r      io.Reader
	off    int64
	breaks []int64 // offsets of line feeds
	first  int     // of breaks not forgotten
	line   int     // of that one
	start  int64   // of that line
}

func (l *lineReader) Read(b []byte) (int, error) {
	if l.first > len(l.breaks)/2 {
		l.breaks = l.breaks[:copy(l.breaks, l.breaks[l.first:])]
		l.first = 0
	}
	n, err := l.r.Read(b)
	for from := 0; ; {
		i := bytes.IndexByte(b[from:n], '\n')
		if i < 0 {
			break
		}
		l.breaks = append(l.breaks, l.off+int64(from+i))
		from += i + 1
	}
	l.off += int64(n)
	return n, err
}

// place gives line and byte column of an offset that is not forgotten.
func (l *lineReader) place(off int64) (line, col int) {
	line, start := l.line, l.start
	for _, b := range l.breaks[l.first:] {
		if b >= off {
			break
		}
		line++
		start = b + 1
	}
	return line, int(off-start) + 1
}

// forget drops what lies before an offset and returns its line.
func (l *lineReader) forget(off int64) int {
	for l.first < len(l.breaks) && l.breaks[l.first] < off {
		l.start = l.breaks[l.first] + 1
		l.first++
		l.line++
	}
	return l.line
}
