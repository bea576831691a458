package source

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/bits"
	"unicode/utf8"
)

// span is a cell within a chunk.
type span struct {
	from, to int32
	how      cellHow
}

type cellHow uint8

const (
	bare    cellHow = iota
	quoted          // stood in quotes, which are not part of the span
	doubled         // stood in quotes and has doubled quotes inside
	stray           // begins with a quote but can't be a quoted cell: kept as it is
)

// csvParser cuts a text into records of cells (RFC 4180, and without quoting).
// Cells are spans of the parser's chunk; nothing is copied but the tail of a
// chunk.
type csvParser struct {
	src     io.Reader
	chunk   *chunk
	pos     int // next record
	end     int // of what was read into the chunk
	eof     bool
	delim   byte
	eol     byte
	quoting bool
	unit    int // size of chunks
	most    int // bytes of a record; beyond it a quote was never closed

	line   int // of the next record
	cells  []span
	start  int  // of the last record
	stop   int  // of the last record, without its line end
	at     int  // line of the last record
	multi  bool // it has several lines
	strays int  // its cells that begin with a stray quote
	inside int  // where an unclosed quote opened
}

// recordMost bounds a record, in bytes, so that a quote that is never closed does
// not fill the memory.
const recordMost = 64 << 20

var errUnclosed = errors.New("unclosed quote")

func newCSVParser(src io.Reader, unit int) *csvParser {
	return &csvParser{src: src, chunk: newChunk(unit), unit: unit, most: recordMost, line: 1, eol: '\n', delim: ',', quoting: true}
}

func (p *csvParser) close() {
	if p.chunk != nil {
		p.chunk.drop()
		p.chunk = nil
	}
}

// fill reads until the chunk is full or the text ends.
func (p *csvParser) fill() error {
	most := p.chunk.size()
	for p.end < most && !p.eof {
		n, err := p.src.Read(p.chunk.buf[p.end:most])
		p.end += n
		if err == io.EOF {
			p.eof = true
		} else if err != nil {
			return err
		}
	}
	p.chunk.buf[p.end] = p.eol // a sentinel: scanning always finds an end
	return nil
}

// more moves the unfinished record to the front of a new chunk and reads on.
func (p *csvParser) more() error {
	tail := p.end - p.pos
	size := p.unit
	if tail > size/2 {
		size = 2 * tail
	}
	next := newChunk(size)
	copy(next.buf, p.chunk.buf[p.pos:p.end])
	p.chunk.drop()
	p.chunk, p.pos, p.end = next, 0, tail
	return p.fill()
}

// next finds the next record, blank lines included. It returns io.EOF at the end
// and errUnclosed for a quote that is never closed.
func (p *csvParser) next() error {
	for {
		if p.pos < p.end {
			if p.scan() {
				return nil
			}
			if p.eof || p.end-p.pos > p.most {
				return errUnclosed
			}
		} else if p.eof {
			return io.EOF
		}
		if err := p.more(); err != nil {
			return err
		}
	}
}

// scan cuts the record at pos. It returns false if the chunk ends within it.
func (p *csvParser) scan() bool {
	buf, end := p.chunk.buf, p.end
	delim8, eol8 := uint64(p.delim)*lo8, uint64(p.eol)*lo8
	cells := p.cells[:0]
	anyQuote := false
	p.inside, p.strays = -1, 0
	from := p.pos
	at := from
	quote := p.quoting && buf[from] == '"'

scanning:
	for {
		if quote {
			quote = false
			anyQuote = true
			stop, how, ok := p.quoted(from)
			if !ok {
				p.cells = cells
				return false
			}
			if how != stray {
				cells = append(cells, span{int32(from + 1), int32(stop - 1), how})
				from = stop
				if from < end && buf[from] == '\r' && p.delim != '\r' && p.eol != '\r' {
					from++
				}
				if from >= end || buf[from] == p.eol {
					at = from
					break scanning
				}
				from++ // the delimiter
				at = from
				if from < end && buf[from] == '"' {
					quote = true
				}
				continue
			}
			cells = append(cells, span{int32(from), -1, stray})
			p.strays++
			at = from + 1
		} else {
			cells = append(cells, span{int32(from), -1, bare})
		}
		// The cell just begun ends at the next delimiter or line end. One word may
		// hold several.
		for {
			w := binary.LittleEndian.Uint64(buf[at:])
			d, e := w^delim8, w^eol8
			const low7 = 0x7f * lo8
			found := ^(((d & low7) + low7) | d) | ^(((e & low7) + low7) | e)
			found &= hi8
			for found != 0 {
				k := at + bits.TrailingZeros64(found)>>3
				found &= found - 1
				if k >= end {
					if !p.eof {
						p.cells = cells
						return false
					}
					k = end
				}
				cells[len(cells)-1].to = int32(k)
				if k == end || buf[k] == p.eol {
					at = k
					if last := &cells[len(cells)-1]; p.eol == '\n' && last.to > last.from && buf[last.to-1] == '\r' {
						last.to--
					}
					break scanning
				}
				from = k + 1
				if p.quoting && buf[from] == '"' && from < end {
					at = from
					quote = true
					continue scanning
				}
				cells = append(cells, span{int32(from), -1, bare})
			}
			at += 8
			if at > end {
				at = end
			}
		}
	}
	if at >= end && !p.eof {
		p.cells = cells
		return false
	}
	p.cells, p.start, p.stop, p.at = cells, p.pos, at, p.line
	p.multi = false
	if anyQuote {
		if n := bytes.Count(buf[p.pos:at], []byte{p.eol}); n > 0 {
			p.line += n
			p.multi = true
		}
	}
	p.line++
	p.pos = at + 1
	if p.pos > end {
		p.pos = end
	}
	return true
}

// quoted finds the end of the quoted cell whose quote is at from: the place
// behind its closing quote. ok is false if the chunk ends first.
func (p *csvParser) quoted(from int) (stop int, how cellHow, ok bool) {
	buf, end := p.chunk.buf, p.end
	how = quoted
	i := from + 1
	for {
		n := bytes.IndexByte(buf[i:end], '"')
		if n < 0 {
			p.inside = from
			return 0, 0, false
		}
		i += n + 1
		if i == end {
			if p.eof {
				return i, how, true
			}
			p.inside = from
			return 0, 0, false
		}
		switch c := buf[i]; {
		case c == '"':
			how = doubled
			i++
		case c == p.delim || c == p.eol:
			return i, how, true
		case c == '\r' && i+1 == end && !p.eof:
			p.inside = from
			return 0, 0, false
		case c == '\r' && (i+1 == end || buf[i+1] == p.eol):
			return i, how, true
		default:
			return 0, stray, true
		}
	}
}

// bytes are the bytes of a cell, doubled quotes made single. They may be changed
// in place: a record is cut only once.
func (p *csvParser) bytes(s span) []byte {
	b := p.chunk.buf[s.from:s.to]
	if s.how != doubled {
		return b
	}
	w := 0
	for r := 0; ; {
		n := bytes.IndexByte(b[r:], '"')
		if n < 0 {
			return b[:w+copy(b[w:], b[r:])]
		}
		w += copy(b[w:], b[r:r+n+1])
		r += n + 2
	}
}

// blankLine reports whether the last record is an empty line.
func (p *csvParser) blankLine() bool {
	return len(p.cells) == 1 && len(trim(p.chunk.buf[p.start:p.stop])) == 0
}

// blankRow reports whether the last record has cells but nothing in them.
func (p *csvParser) blankRow() bool {
	if p.stop-p.start > 4*len(p.cells) {
		return false
	}
	for _, s := range p.cells {
		if len(trim(p.chunk.buf[s.from:s.to])) > 0 {
			return false
		}
	}
	return true
}

// unclosed describes errUnclosed.
func (p *csvParser) unclosed(f *File, row int) *Error {
	if p.inside < 0 {
		return &Error{File: f.Name, Line: p.line, Row: row,
			Reason: fmt.Sprintf("this row is longer than %d MiB", p.most>>20)}
	}
	line := p.line + bytes.Count(p.chunk.buf[p.pos:p.inside], []byte{p.eol})
	from := p.pos + bytes.LastIndexByte(p.chunk.buf[p.pos:p.inside], p.eol) + 1
	reason := "a cell begins with a quotation mark here, but no quotation mark closes it"
	if !p.eof {
		reason += fmt.Sprintf(" within %d MiB", p.most>>20)
	}
	return &Error{File: f.Name, Line: line, Col: utf8.RuneCount(p.chunk.buf[from:p.inside]) + 1, Row: row,
		Reason: reason + "; close it, or declare that this source has no quoting"}
}

// noDelimiter stands for a table of one column: the unit separator, which no
// export has.
const noDelimiter = 0x1f

// candidates are the delimiters that detection tells apart.
var candidates = []byte{',', ';', '\t', '|'}

// sniff sets line end and delimiter from the first chunk. declared is the
// delimiter or 0; columns the number of declared columns or 0. A first line that
// names the delimiter ("sep=;") is heeded and passed over.
func (p *csvParser) sniff(declared byte, columns int) error {
	if err := p.fill(); err != nil {
		return err
	}
	head := p.chunk.buf[:p.end]
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		p.eol = '\r'
		p.chunk.buf[p.end] = p.eol
	}
	if line, _, ok := bytes.Cut(head, []byte{p.eol}); ok {
		if line = bytes.TrimSuffix(line, []byte{'\r'}); len(line) == 5 && bytes.EqualFold(line[:4], []byte("sep=")) {
			p.pos += bytes.IndexByte(head, p.eol) + 1
			p.line++
			if declared == 0 {
				declared = line[4]
			}
		}
	}
	if declared != 0 {
		p.delim = declared
		return nil
	}
	best, bestShare := -1, 0.0
	pos, line := p.pos, p.line
	choice := byte(noDelimiter)
	for _, d := range candidates {
		p.delim = d
		n, share := p.trial(columns)
		p.pos, p.line = pos, line
		if n >= 2 && (share > bestShare+1e-9 || share > bestShare-1e-9 && n > best) {
			best, bestShare, choice = n, share, d
		}
	}
	p.delim = choice
	return nil
}

// trial cuts the beginning of the text and returns the number of cells of the
// first record and the share of records that agree with it.
func (p *csvParser) trial(columns int) (int, float64) {
	const most = 200
	first, agree, total := 0, 0, 0
	for total < most && p.pos < p.end && p.scan() {
		if p.blankLine() {
			continue
		}
		n := len(p.cells)
		if first == 0 {
			first = n
			if columns > 1 {
				first = columns
			}
		}
		total++
		if n == first {
			agree++
		}
	}
	if total == 0 {
		if p.inside >= 0 {
			return len(p.cells) + 1, 0 // an unclosed quote: reading will say so
		}
		return 0, 0
	}
	return first, float64(agree) / float64(total)
}
