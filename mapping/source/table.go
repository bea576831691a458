package source

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// lookTables reads the headers of all files.
func (s *Source) lookTables(rd *reading) (*Description, error) {
	rd.headers = true
	d := &Description{Complete: true}
	seen := map[string]bool{}
	for i, f := range s.files {
		if err := rd.readFile(f); err != nil {
			return nil, err
		}
		if rep := rd.fileReport(); i == 0 {
			d.Encoding, d.Delimiter = rep.Encoding, rep.Delimiter
		}
		for _, c := range f.columns {
			if !seen[c] {
				seen[c] = true
				d.Columns = append(d.Columns, Column{Path: c, value: true})
			}
		}
	}
	return d, nil
}

// table is a table being read, from whatever format.
type table struct {
	rd    *reading
	f     *File
	names []string
}

// head takes the header's cells: it gives every column a name of its own.
func (t *table) head(cells []string, row, line int) {
	rd := t.rd
	place := func(i int, v string) Place {
		return Place{Source: t.f.Source, File: t.f.Name, Sheet: t.f.Sheet, Row: row, Line: line, Col: i + 1, Column: v, Value: v}
	}
	t.names = make([]string, len(cells))
	used := map[string]bool{}
	for i, c := range cells {
		name := strings.Join(strings.Fields(string(rd.clean.clean([]byte(c)))), " ")
		for k := Kind(1); k < kindCount; k++ {
			if rd.clean.found&(1<<k) != 0 {
				rd.oddity(k, name, place(i, c))
			}
		}
		if name == "" {
			name = fmt.Sprintf("column %d", i+1)
			rd.oddity(EmptyName, name, place(i, name))
		}
		if used[name] {
			rd.oddity(DuplicateName, name, place(i, name))
			for n := 2; ; n++ {
				if next := fmt.Sprintf("%s (%d)", name, n); !used[next] {
					name = next
					break
				}
			}
		}
		used[name] = true
		t.names[i] = name
	}
}

// start is called when the names are known. It reports whether rows are wanted.
func (t *table) start() bool {
	rd := t.rd
	if rd.headers {
		t.f.columns = t.names
		return false
	}
	run := rd.root
	if run.columns == nil {
		run.columns = make([]int32, len(run.l.fields))
	}
	at := make(map[string]int32, len(t.names))
	for i, n := range t.names {
		at[n] = int32(i)
	}
	for slot := range run.l.fields {
		run.columns[slot] = -1
		f := &run.l.fields[slot]
		if f.look >= 0 {
			continue
		}
		if c, ok := at[f.path]; ok {
			run.columns[slot] = c
		} else {
			rd.oddity(MissingColumn, f.path, Place{Source: t.f.Source, File: t.f.Name, Sheet: t.f.Sheet, Column: f.path})
		}
	}
	return true
}

// oddRow counts something about a row that gives no record.
func (t *table) oddRow(k Kind, num, line int) {
	r := Row{File: t.f, Num: num, Line: line}
	t.rd.root.note(k, &r, -1, "")
}

func (rd *reading) readTable(f *File, in text) error {
	p := newCSVParser(in.Reader, chunkSize)
	defer p.close()
	p.quoting = rd.src.Quote != "none"
	var declared byte
	switch {
	case rd.src.Delimiter != "":
		declared = rd.src.Delimiter[0]
	case f.Format == "tsv":
		declared = '\t'
	}
	if err := p.sniff(declared, len(rd.src.Columns)); err != nil {
		return err
	}
	if rep := rd.fileReport(); p.delim != noDelimiter {
		rep.Delimiter = string(rune(p.delim))
	}
	t := &table{rd: rd, f: f}
	row := 0 // a line that names the delimiter is no row: spreadsheets hide it
	if len(rd.src.Columns) > 0 {
		t.head(rd.src.Columns, 0, 0)
	} else {
		for t.names == nil {
			switch err := p.next(); {
			case err == io.EOF:
				return &Error{File: f.Name, Reason: "the file is empty; not even a header was found"}
			case err == errUnclosed:
				return p.unclosed(f, row+1)
			case err != nil:
				return err
			}
			row++
			if p.blankLine() || p.blankRow() {
				continue
			}
			cells := make([]string, len(p.cells))
			for i, s := range p.cells {
				cells[i] = string(p.bytes(s))
			}
			t.head(cells, row, p.at)
		}
	}
	if !t.start() {
		return nil
	}
	run := rd.root
	private := len(rd.src.Withheld) > 0
	for {
		switch err := p.next(); {
		case err == io.EOF:
			return nil
		case err == errUnclosed:
			return p.unclosed(f, row+1)
		case err != nil:
			return err
		}
		row++
		if p.blankLine() {
			continue
		}
		if p.blankRow() {
			t.oddRow(EmptyRow, row, p.at)
			continue
		}
		if private && len(p.cells) != len(t.names) {
			t.oddRow(Unsafe, row, p.at)
			continue
		}
		r, err := rd.begin()
		if err != nil {
			return err
		}
		r.Num, r.Line = row, p.at
		rd.mem.use(p.chunk)
		if p.multi {
			t.lines(p, r)
		}
		have := int32(len(p.cells))
		buf := p.chunk.buf
		for slot, c := range run.columns {
			if c < 0 || c >= have {
				continue
			}
			s := p.cells[c]
			b := buf[s.from:s.to]
			if len(b) == 0 {
				continue
			}
			if s.how == doubled {
				b = p.bytes(s)
			}
			v := rd.clean.clean(b)
			if rd.clean.found == 0 {
				r.Cells[slot] = view(v)
				continue
			}
			r.Cells[slot] = rd.mem.put(v)
			rd.repaired(run, r, slot, b)
		}
		if have != int32(len(t.names)) || p.strays > 0 {
			t.ragged(p, r)
		}
		if err := rd.end(r); err != nil {
			return err
		}
	}
}

// lines notes on which line each cell of a record of several lines begins.
func (t *table) lines(p *csvParser, r *Row) {
	run := t.rd.root
	x := &t.rd.mem.extras.take(1)[0]
	x.lines = t.rd.mem.lines.take(len(run.columns))
	for slot, c := range run.columns {
		if c >= 0 && int(c) < len(p.cells) {
			x.lines[slot] = int32(p.at + bytes.Count(p.chunk.buf[p.start:p.cells[c].from], []byte{p.eol}))
		}
	}
	r.extra = x
}

// ragged notes rows of the wrong length and stray quotes.
func (t *table) ragged(p *csvParser, r *Row) {
	run := t.rd.root
	have, want := len(p.cells), len(t.names)
	if have < want {
		run.note(ShortRow, r, -1, fmt.Sprintf("%d of %d cells", have, want))
	}
	for i := want; i < have; i++ {
		s := p.cells[i]
		if len(trim(p.chunk.buf[s.from:s.to])) > 0 {
			run.note(LongRow, r, -1, string(p.chunk.buf[s.from:p.stop]))
			break
		}
	}
	for i, s := range p.cells {
		if s.how != stray {
			continue
		}
		at := -1
		for slot, c := range run.columns {
			if int(c) == i {
				at = slot
			}
		}
		run.note(StrayQuote, r, at, string(p.chunk.buf[s.from:s.to]))
	}
}
