package source

import (
	"bytes"
	"encoding/csv"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

// parseAll cuts a text into records of cells, blank lines left out.
func parseAll(p *csvParser) ([][]string, error) {
	var out [][]string
	for {
		if err := p.next(); err != nil {
			if err == io.EOF {
				err = nil
			}
			return out, err
		}
		if p.blankLine() {
			continue
		}
		row := make([]string, len(p.cells))
		for i, s := range p.cells {
			row[i] = string(p.bytes(s))
		}
		out = append(out, row)
	}
}

// A table of any strings, written as RFC 4180 says, comes back as it was, whatever
// the size of the pieces; and a table written by another writer too.
func FuzzCSVRoundTrip(f *testing.F) {
	f.Add("a\x00b\x01c\x00\x01\"quoted\"\x00, \r\n;", byte(0), uint16(16), false)
	f.Add("\x00\x01\x00\x01\n\x00\r\x01\"\x00\"\"", byte(1), uint16(20), true)
	f.Add(strings.Repeat("long cell\n", 40)+"\x00x", byte(2), uint16(0), true)
	f.Fuzz(func(t *testing.T, table string, delim byte, unit uint16, crlf bool) {
		d := candidates[int(delim)%len(candidates)]
		var rows [][]string
		for _, r := range strings.Split(table, "\x01") {
			rows = append(rows, strings.Split(r, "\x00"))
		}
		end := "\n"
		if crlf {
			end = "\r\n"
		}
		var text strings.Builder
		for _, r := range rows {
			for i, c := range r {
				if i > 0 {
					text.WriteByte(d)
				}
				text.WriteString(`"` + strings.ReplaceAll(c, `"`, `""`) + `"`)
			}
			text.WriteString(end)
		}
		for _, r := range []io.Reader{strings.NewReader(text.String()), iotest.OneByteReader(strings.NewReader(text.String()))} {
			p := newCSVParser(r, int(unit)+1)
			p.delim = d
			got, err := parseAll(p)
			p.close()
			if err != nil || !slices.EqualFunc(got, rows, slices.Equal) {
				t.Fatalf("%q came back as %q, %v", rows, got, err)
			}
			if lines := strings.Count(text.String(), "\n") + 1; p.line != lines {
				t.Fatalf("%q ends on line %d, want %d", text.String(), p.line, lines)
			}
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = rune(d)
		w.WriteAll(rows)
		// The writer makes a blank line of a row of one empty cell.
		alone := func(r []string) bool { return len(r) == 1 && r[0] == "" }
		want := slices.DeleteFunc(rows, alone)
		p := newCSVParser(&b, int(unit)+1)
		p.delim = d
		got, err := parseAll(p)
		p.close()
		got = slices.DeleteFunc(got, alone)
		if err != nil || !slices.EqualFunc(got, want, slices.Equal) {
			t.Fatalf("%q, written by encoding/csv, came back as %q, %v", want, got, err)
		}
	})
}

// Any bytes at all: no panic, the same records whatever the pieces, and every
// place within the file.
func FuzzTables(f *testing.F) {
	for _, s := range []string{"a,b\n1,2\n", "a;b\r\n\"1\";\"2\"\"\"\r\n", "\"", "\xff\xfea\x00,\x00b\x00\n\x001\x00", "sep=|\na|b\n", "a\tb\n\"x\"y\tz\n", "\ufeffa,a,,\n,,,\n1", "a\rb\r"} {
		f.Add([]byte(s), uint16(3), true)
	}
	f.Fuzz(func(t *testing.T, data []byte, unit uint16, quoting bool) {
		var want [][]string
		var wantErr error
		for i, r := range []io.Reader{bytes.NewReader(data), iotest.HalfReader(bytes.NewReader(data))} {
			size := chunkSize
			if i == 1 {
				size = int(unit) + 1
			}
			p := newCSVParser(r, size)
			p.quoting = quoting
			got, err := parseAll(p)
			p.close()
			if i == 0 {
				want, wantErr = got, err
			} else if err != wantErr || !slices.EqualFunc(got, want, slices.Equal) {
				t.Fatalf("%q in pieces of %d: %q, %v; whole: %q, %v", data, size, got, err, want, wantErr)
			}
		}
		spec := Spec{Name: "t", Files: []string{"t.csv"}}
		if !quoting {
			spec.Quote = "none"
		}
		src := mustNew(t, files("t.csv", string(data)), spec).Source("t")
		text, err := decode(bytes.NewReader(data), "", false, make([]byte, chunkSize))
		if err != nil {
			t.Fatal(err)
		}
		plain, err := io.ReadAll(text)
		if err != nil {
			t.Fatal(err)
		}
		lines := bytes.Count(plain, []byte{'\n'}) + bytes.Count(plain, []byte{'\r'}) + 1
		inside := func(p Place) {
			if p.Line < 0 || p.Line > lines || p.Row < 0 || p.Row > lines {
				t.Fatalf("%q: %+v is outside the file", data, p)
			}
		}
		d, err := src.Describe()
		if err != nil {
			e, ok := err.(*Error)
			if !ok || e.Line > lines || e.Col > len(plain)+1 {
				t.Fatalf("%q: %#v", data, err)
			}
			return
		}
		l := src.Layout()
		for _, c := range d.Columns {
			slots(t, l, c.Path)
		}
		rep := &Report{}
		err = src.Read(t.Context(), l, Options{Report: rep}, func(b *Batch) error {
			for i := range b.Rows {
				for slot := range l.fields {
					inside(l.Where(&b.Rows[i], slot))
				}
			}
			b.Release()
			return nil
		})
		if e, ok := err.(*Error); err != nil && (!ok || e.Line < 1 || e.Line > lines) {
			t.Fatalf("%q: %#v", data, err)
		}
		for _, n := range rep.Notes() {
			for _, p := range n.Places {
				inside(p)
			}
		}
	})
}

func TestRecordsThatNeverEnd(t *testing.T) {
	for text, reason := range map[string]string{
		"a,b\n1,\"" + strings.Repeat("x\n", 3<<20):    "no quotation mark closes it within 1 MiB",
		"a,b\n1," + strings.Repeat("x", 3<<20) + "\n": "this row is longer than 1 MiB",
	} {
		p := newCSVParser(strings.NewReader(text), chunkSize)
		p.most = 1 << 20
		rows, err := parseAll(p)
		if err != errUnclosed || len(rows) != 1 {
			t.Fatalf("%d rows, %v", len(rows), err)
		}
		if e := p.unclosed(&File{Name: "t.csv"}, 2); e.Line != 2 || !strings.Contains(e.Reason, reason) {
			t.Errorf("%v, want %s", e, reason)
		}
		p.close()
	}
}
