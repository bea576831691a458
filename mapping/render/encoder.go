package render

import (
	"fmt"
	"io"
	"unicode/utf8"

	"ropewalk/mapping/entity"
)

// Options change how a format is written.
type Options struct {
	Indent bool // JSON-LD in several lines, for people; else a line per document
}

// Encoder writes documents in one format. It is not safe for concurrent use: each
// worker has its own.
type Encoder struct {
	f      *Format
	indent bool
	bad    string // the literal that the format cannot carry
	failed bool
	graph  endings // N-Quads
	tail   []byte  // memory of graph

	templates map[uint64]*template // by shape; nil for one met once
	lastShape uint64
	last      *template // of lastShape
	making    *template // being made by the walk
}

// NewEncoder makes an encoder for f.
func NewEncoder(f *Format, o Options) *Encoder { return &Encoder{f: f, indent: o.Indent} }

// Format is the encoder's format.
func (e *Encoder) Format() *Format { return e.f }

// Document gives one document as a whole text, with header and footer.
func Document(f *Format, o Options, d *entity.Document) ([]byte, error) {
	e := NewEncoder(f, o)
	b, err := e.Append(e.Header(nil), d)
	if err != nil {
		return nil, err
	}
	return e.Footer(b), nil
}

// Header appends what stands before the first document.
func (e *Encoder) Header(dst []byte) []byte {
	if e.f.header == nil {
		return dst
	}
	return e.f.header(dst)
}

// Footer appends what stands after the last document.
func (e *Encoder) Footer(dst []byte) []byte { return append(dst, e.f.footer...) }

// Append appends d, with a line feed at its end. If d cannot be written it returns
// dst as it was and the reason: that of [entity.Document.Err], or a [*TextError].
func (e *Encoder) Append(dst []byte, d *entity.Document) ([]byte, error) {
	if !e.f.tree {
		d.Names() // finds out what Err tells, too
	}
	from := len(dst)
	e.failed = false
	var id uint64
	var met bool
	if e.f.fill != nil && !e.indent {
		var t *template
		if t, id, met = e.known(d); t != nil {
			out, ok, err := e.f.fill(e, dst, d, t)
			if err != nil {
				return dst, fmt.Errorf("%s: %w", d.IRI(), err)
			}
			if ok {
				return e.checked(out, from, d)
			}
			id = 0
		}
	}
	if err := d.Err(); err != nil {
		return dst, fmt.Errorf("%s: %w", d.IRI(), err)
	}
	out, err := e.checked(e.f.append(e, dst, d), from, d)
	if err == nil && id != 0 {
		e.learn(id, met, d)
	}
	return out, err
}

// checked takes back what has been written if a text could not be.
func (e *Encoder) checked(dst []byte, from int, d *doc) ([]byte, error) {
	if e.failed {
		return dst[:from], &TextError{Document: d.IRI(), Format: e.f.Name, Text: e.bad}
	}
	return dst, nil
}

// fail keeps the text that cannot be written.
func (e *Encoder) fail(s string) {
	if !e.failed {
		e.failed, e.bad = true, s
	}
}

type doc = entity.Document

// TextError says that a format cannot carry a literal.
type TextError struct {
	Document string // IRI
	Format   string // name of the format
	Text     string // the literal
}

func (e *TextError) Error() string {
	reason := "is not UTF-8"
	if utf8.ValidString(e.Text) {
		reason = "has a character that the format cannot carry"
		for _, r := range e.Text {
			if !xmlRune(r) {
				reason = fmt.Sprintf("has the character U+%04X, which the format cannot carry", r)
				break
			}
		}
	}
	where := ""
	if e.Document != "" {
		where = e.Document + ": "
	}
	text := []rune(e.Text)
	if len(text) > 60 {
		text = append(text[:60], '…')
	}
	return fmt.Sprintf("%s%s: the text %q %s", where, e.Format, string(text), reason)
}

// Writer streams documents in one format to an io.Writer.
type Writer struct {
	w     io.Writer
	e     *Encoder
	buf   []byte
	count int
	err   error
}

const writeSize = 64 << 10

// NewWriter makes a writer in format f.
func NewWriter(w io.Writer, f *Format, o Options) *Writer {
	return &Writer{w: w, e: NewEncoder(f, o)}
}

// Write writes one document. A document that cannot be written is left out whole,
// and the writer goes on; an error of the underlying writer is returned from then
// on.
func (w *Writer) Write(d *entity.Document) error {
	if w.err != nil {
		return w.err
	}
	if w.count == 0 {
		w.buf = w.e.Header(w.buf)
	}
	w.count++
	b, err := w.e.Append(w.buf, d)
	w.buf = b
	if err != nil {
		return err
	}
	if len(w.buf) >= writeSize {
		w.flush()
	}
	return w.err
}

// Close writes the footer and what is buffered. It does not close the underlying
// writer.
func (w *Writer) Close() error {
	if w.err == nil {
		if w.count == 0 {
			w.buf = w.e.Header(w.buf)
		}
		w.buf = w.e.Footer(w.buf)
		w.flush()
	}
	return w.err
}

func (w *Writer) flush() {
	_, w.err = w.w.Write(w.buf)
	w.buf = w.buf[:0]
}
