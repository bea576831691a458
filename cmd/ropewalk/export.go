package main

import (
	"bufio"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/klauspost/compress/zstd"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/source"
)

type exportCmd struct {
	Site    string `arg:"" help:"The site's folder."`
	Format  string `help:"jsonld, nt, nq, ttl or rdf. Without it the ending of --out tells, or jsonld."`
	Out     string `help:"File, a folder (ends in / or exists: a file for each document), or - for standard output. Endings .gz and .zst compress." default:"-"`
	Workers int    `help:"How many processors to use." default:"${workers}"`
	Indent  bool   `help:"JSON-LD in several lines for people, instead of a line for each document."`
	Lenient bool   `help:"Export although records have problems. What could not be made is left out, as always; the problems are counted."`
}

func (c *exportCmd) Run(a *app) error {
	f, err := c.format()
	if err != nil {
		return err
	}
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	folder := strings.HasSuffix(c.Out, "/") || isDir(c.Out)
	var out sink
	switch {
	case c.Out == "-":
		out, err = newStream(a.stdout, f, "")
	case folder:
		out, err = newFolder(c.Out, f, s.Base, c.Indent)
	default:
		out, err = newFile(c.Out, f)
	}
	if err != nil {
		return err
	}
	found := 0
	opt := line.Options{Workers: c.Workers, Report: &source.Report{}, Now: a.time(),
		NewEncoder: func() line.Encoder {
			return &formatEncoder{enc: render.NewEncoder(f, render.Options{Indent: c.Indent || folder})}
		},
		Problem: func(r mapping.RecordProblem) {
			if r.Severity == mapping.Problem {
				found++
			}
		}}
	bar := a.progress("exporting", s)
	opt.Progress = bar.set
	totals, err := line.Run(a.ctx, s.Program, opt, out.put)
	bar.done()
	if err == nil {
		err = out.keep()
	} else {
		out.drop()
	}
	if err != nil {
		return out.failed(err)
	}
	docs := 0
	for _, n := range totals.Documents {
		docs += n
	}
	fmt.Fprintf(a.stderr, "%s, %s of %s\n", count(docs, "document"), size(totals.Bytes), f.Title)
	if found > 0 {
		fmt.Fprintf(a.stderr, "The records have %s; ropewalk check shows %s.\n", count(found, "problem"), them(found))
		if !c.Lenient {
			return problems()
		}
	}
	return nil
}

// format finds the format from the flags.
func (c *exportCmd) format() (*render.Format, error) {
	name := strings.TrimSuffix(strings.TrimSuffix(c.Out, ".gz"), ".zst")
	if c.Format == "" {
		if f := render.FormatBySuffix(name); f != nil {
			return f, nil
		}
		return render.FormatByName("jsonld"), nil
	}
	if f := render.FormatByName(c.Format); f != nil {
		return f, nil
	}
	var names, titles []string
	for _, f := range render.Formats() {
		names, titles = append(names, f.Name), append(titles, strings.ToLower(f.Title))
	}
	hint := mapping.DidYouMean(c.Format, names)
	for _, f := range render.Formats() {
		if mapping.DidYouMean(c.Format, titles) == fmt.Sprintf("did you mean %q?", strings.ToLower(f.Title)) {
			hint = fmt.Sprintf("%s is called %q here", f.Title, f.Name)
		}
	}
	if hint == "" {
		hint = "there are " + strings.Join(names, ", ")
	}
	return nil, &failure{exitUsage, fmt.Sprintf("there is no format %q; %s", c.Format, hint)}
}

// formatEncoder writes documents in a format.
type formatEncoder struct{ enc *render.Encoder }

// Lean reports that JSON-LD is written from a document's values.
func (e *formatEncoder) Lean() bool { return e.enc.Format().Name == "jsonld" }

func (e *formatEncoder) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	out, err := e.enc.Append(dst, d)
	if err != nil {
		tell(mapping.RecordProblem{Rule: "cannot-write", IRI: strings.Clone(d.IRI()), Message: err.Error()})
	}
	return out
}

// sink takes what is exported. Nothing is in place until keep; if that fails, nothing
// is left.
type sink interface {
	put(*line.Item) error
	keep() error
	drop()
	failed(error) error // what is said of an error: which file, and what became of it
}

// unwritten says that nothing was written, and names what was to be, not the temporary
// file in its place.
func unwritten(err error, tmp, name string) error {
	if e, ok := err.(*os.PathError); ok && strings.HasPrefix(e.Path, tmp) {
		err = &os.PathError{Op: e.Op, Path: name + e.Path[len(tmp):], Err: e.Err}
	}
	return fmt.Errorf("%w\nNothing was written", err)
}

// stream is a sink of one text.
type stream struct {
	w      *bufio.Writer
	enc    *render.Encoder
	closer io.Closer // compressor
	begun  bool
}

func newStream(w io.Writer, f *render.Format, name string) (*stream, error) {
	s := &stream{enc: render.NewEncoder(f, render.Options{})}
	switch {
	case strings.HasSuffix(name, ".gz"):
		z := gzip.NewWriter(w)
		s.w, s.closer = bufio.NewWriterSize(z, 1<<16), z
	case strings.HasSuffix(name, ".zst"):
		z, err := zstd.NewWriter(w, zstd.WithEncoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		s.w, s.closer = bufio.NewWriterSize(z, 1<<16), z
	default:
		s.w = bufio.NewWriterSize(w, 1<<18)
	}
	return s, nil
}

func (s *stream) begin() error {
	if s.begun {
		return nil
	}
	s.begun = true
	_, err := s.w.Write(s.enc.Header(nil))
	return err
}

func (s *stream) put(it *line.Item) error {
	if err := s.begin(); err != nil {
		return err
	}
	_, err := s.w.Write(it.Data)
	return err
}

func (s *stream) keep() error {
	if err := s.begin(); err != nil {
		return err
	}
	if _, err := s.w.Write(s.enc.Footer(nil)); err != nil {
		return err
	}
	if err := s.w.Flush(); err != nil {
		return err
	}
	if s.closer != nil {
		return s.closer.Close()
	}
	return nil
}

func (s *stream) drop() { _ = s.w.Flush() }

func (s *stream) failed(err error) error {
	return fmt.Errorf("%w\nWhat was written so far is not complete", err)
}

// file is a stream into a temporary file that takes its name at the end.
type file struct {
	*stream
	f    *os.File
	name string
}

func newFile(name string, f *render.Format) (*file, error) {
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		return nil, err
	}
	t, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return nil, err
	}
	s, err := newStream(t, f, name)
	if err != nil {
		return nil, err
	}
	return &file{s, t, name}, nil
}

func (f *file) keep() error {
	err := f.stream.keep()
	if err == nil {
		err = f.f.Chmod(0o644)
	}
	if err == nil {
		err = f.f.Sync()
	}
	if cerr := f.f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.f.Name(), f.name)
	}
	if err != nil {
		_ = os.Remove(f.f.Name())
	}
	return err
}

func (f *file) drop() {
	_ = f.f.Close()
	_ = os.Remove(f.f.Name())
}

func (f *file) failed(err error) error { return unwritten(err, f.f.Name(), f.name) }

// folder is a sink with a file for each document, below a temporary folder beside
// the wanted one. At the end the two change places.
type folder struct {
	dir    string
	tmp    string
	base   string
	f      *render.Format
	enc    *render.Encoder
	header []byte
	footer []byte
	made   map[string]bool
}

// marker is the file by which a folder is known as an export, which may be replaced.
const marker = ".ropewalk-export"

func newFolder(dir string, f *render.Format, base string, _ bool) (*folder, error) {
	dir = filepath.Clean(dir)
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		if _, err := os.Stat(filepath.Join(dir, marker)); err != nil {
			return nil, &failure{exitUsage, fmt.Sprintf("%s holds other things than an earlier export; name an empty or a new folder", dir)}
		}
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return nil, err
	}
	tmp, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".*")
	if err != nil {
		return nil, err
	}
	e := render.NewEncoder(f, render.Options{})
	return &folder{dir: dir, tmp: tmp, base: base, f: f, enc: e, header: e.Header(nil), footer: e.Footer(nil), made: map[string]bool{}}, nil
}

func (d *folder) put(it *line.Item) error {
	rel, ok := strings.CutPrefix(it.IRI, d.base)
	if !ok {
		rel = it.IRI
	}
	name := filepath.Join(d.tmp, filepath.FromSlash(fileName(rel)))
	if dir := filepath.Dir(name); !d.made[dir] {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return err
		}
		d.made[dir] = true
	}
	return os.WriteFile(name+d.f.Suffix, slices.Concat(d.header, it.Data, d.footer), 0o644)
}

// fileName makes a relative path safe on every file system: segments that are
// empty or only points, and characters that some systems refuse, are written in
// percent-encoding.
func fileName(rel string) string {
	segs := strings.Split(rel, "/")
	for i, s := range segs {
		var b strings.Builder
		onlyPoints := strings.Trim(s, ".") == ""
		for k := 0; k < len(s); k++ {
			switch c := s[k]; {
			case c < 0x20 || strings.IndexByte(`<>:"\|?*`, c) >= 0 || c == '.' && onlyPoints:
				fmt.Fprintf(&b, "%%%02X", c)
			default:
				b.WriteByte(c)
			}
		}
		if segs[i] = b.String(); segs[i] == "" {
			segs[i] = "%"
		}
	}
	return strings.Join(segs, "/")
}

func (d *folder) keep() error {
	if err := os.WriteFile(filepath.Join(d.tmp, marker), []byte("Written by ropewalk export; replaced by the next one.\n"), 0o644); err != nil {
		d.drop()
		return err
	}
	if err := os.Chmod(d.tmp, 0o755); err != nil {
		d.drop()
		return err
	}
	old := d.tmp + ".old"
	if _, err := os.Stat(d.dir); err == nil {
		if err := os.Rename(d.dir, old); err != nil {
			d.drop()
			return err
		}
	}
	if err := os.Rename(d.tmp, d.dir); err != nil {
		err = errors.Join(err, os.Rename(old, d.dir))
		d.drop()
		return err
	}
	return os.RemoveAll(old)
}

func (d *folder) drop() { _ = os.RemoveAll(d.tmp) }

func (d *folder) failed(err error) error { return unwritten(err, d.tmp, d.dir) }

func isDir(name string) bool {
	st, err := os.Stat(name)
	return err == nil && st.IsDir()
}

// size writes a number of bytes for people.
func size(n int64) string {
	switch {
	case n < 10_000:
		return count(int(n), "byte")
	case n < 10_000_000:
		return fmt.Sprintf("%.1f KB", float64(n)/1e3)
	default:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
}
