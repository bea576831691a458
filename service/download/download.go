// Package download makes files of everything that is published, describes them, and
// keeps them in a folder from which they are served. [Make] is called after a
// publication; a [Shelf] is what a server reads.
//
// The folder holds current.json, which names the folder of the files in force and
// describes each of them. That file is replaced, by renaming, when all files of a
// newer publication are complete; the files before stay for those who read them,
// until the next time.
package download

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
	"ropewalk/service"
)

// Encoder writes records one after the other. Each worker has its own.
type Encoder interface {
	Header(dst []byte) []byte
	Append(dst []byte, r *service.Record, d *entity.Document) ([]byte, error) // a whole record, or dst as it was
	Footer(dst []byte) []byte
}

// Kind is a syntax or schema in which the whole is offered.
type Kind struct {
	Name      string // "nt"
	Suffix    string // ".nt"
	Title     string
	MediaType string
	Feature   string // IRI of the syntax among the W3C's formats (https://www.w3.org/ns/formats/); "" if it is none of RDF
	Conforms  string // IRI of the schema or profile it conforms to; "" for none
	Lossy     bool   // records that it cannot express are left out
	Endpoints []string
	New       func() Encoder
}

// formatIRIs is where the W3C keeps IRIs of RDF syntaxes.
const formatIRIs = "http://www.w3.org/ns/formats/"

// Kinds are the syntaxes that lose nothing: N-Triples, N-Quads, Turtle, and JSON-LD
// with a document on each line.
func Kinds() []Kind {
	var out []Kind
	for _, k := range []Kind{
		{Name: "nt", Feature: formatIRIs + "N-Triples"}, {Name: "nq", Feature: formatIRIs + "N-Quads"},
		{Name: "ttl", Feature: formatIRIs + "Turtle"}, {Name: "jsonld", Feature: formatIRIs + "JSON-LD", Conforms: render.Profile},
	} {
		f := render.FormatByName(k.Name)
		k.Suffix, k.Title = f.Suffix, f.Title
		k.MediaType, _, _ = strings.Cut(f.MediaTypes[0], ";")
		k.New = func() Encoder { return formatEncoder{render.NewEncoder(f, render.Options{})} }
		if k.Name == "jsonld" {
			k.Suffix, k.Title = ".jsonl", "JSON-LD, a document on each line"
			k.New = func() Encoder { return storedEncoder{} }
		}
		out = append(out, k)
	}
	return out
}

// View is the kind that a view writes, of those that can be a file of many documents.
func View(v *view.View, c *view.Context) Kind {
	mediaType, _, _ := strings.Cut(v.MediaTypes[0], ";")
	return Kind{Name: v.Name, Suffix: v.Suffix, Title: v.Title, MediaType: mediaType, Conforms: v.Schema, Lossy: true, Endpoints: v.Endpoints,
		New: func() Encoder { return viewEncoder{v, c} }}
}

type viewEncoder struct {
	v *view.View
	c *view.Context
}

func (e viewEncoder) Header(dst []byte) []byte {
	before, _, _ := e.v.Wrap()
	return append(dst, before...)
}

func (e viewEncoder) Footer(dst []byte) []byte {
	_, after, _ := e.v.Wrap()
	return append(dst, after...)
}

func (e viewEncoder) Append(dst []byte, _ *service.Record, d *entity.Document) ([]byte, error) {
	return e.v.Append(dst, d, e.c)
}

type formatEncoder struct{ e *render.Encoder }

func (f formatEncoder) Header(dst []byte) []byte { return f.e.Header(dst) }
func (f formatEncoder) Footer(dst []byte) []byte { return f.e.Footer(dst) }
func (f formatEncoder) Append(dst []byte, _ *service.Record, d *entity.Document) ([]byte, error) {
	return f.e.Append(dst, d)
}

// storedEncoder writes the documents as they are stored.
type storedEncoder struct{}

func (storedEncoder) Header(dst []byte) []byte { return dst }
func (storedEncoder) Footer(dst []byte) []byte { return dst }
func (storedEncoder) Append(dst []byte, r *service.Record, _ *entity.Document) ([]byte, error) {
	body := bytes.TrimRight(r.Body, "\n")
	if bytes.IndexByte(body, '\n') >= 0 {
		b := bytes.NewBuffer(dst)
		err := json.Compact(b, body)
		return append(b.Bytes(), '\n'), err
	}
	return append(append(dst, body...), '\n'), nil
}

// File is one file for others to take.
type File struct {
	Name      string `json:"name"`
	Kind      string `json:"kind"` // name of its kind; "" for sitemaps and descriptions
	Title     string `json:"title,omitempty"`
	MediaType string `json:"mediaType"`          // of what is in it
	Packing   string `json:"packing,omitempty"`  // media type of the compressed file
	Feature   string `json:"feature,omitempty"`  // see Kind
	Conforms  string `json:"conforms,omitempty"` // see Kind
	Bytes     int64  `json:"bytes"`              // as it lies there
	Unpacked  int64  `json:"unpacked"`           // bytes without compression
	Records   int64  `json:"records"`
	Omitted   int64  `json:"omitted,omitempty"` // records of its endpoints that it cannot express
	SHA256    string `json:"sha256"`            // of the file as it lies there, in hexadecimal digits
}

// Type is the media type with which the file is sent.
func (f *File) Type() string {
	if f.Packing != "" {
		return f.Packing
	}
	return f.MediaType
}

// Set is the files of one publication.
type Set struct {
	Version     string    `json:"version"` // of what made them from the same records
	Publication int64     `json:"publication"`
	Time        time.Time `json:"time"`
	Folder      string    `json:"folder"`
	Previous    string    `json:"previous,omitempty"` // folder of the files before
	Counts      Counts    `json:"counts"`
	Files       []File    `json:"files"`
}

// Counts are the statistics of the dataset, in the terms of VoID (§4.6 of its guide).
type Counts struct {
	Documents  int64   `json:"documents"`
	Triples    int64   `json:"triples"`  // distinct, over all documents
	Subjects   int64   `json:"subjects"` // distinct
	Properties []Count `json:"properties"`
	Classes    []Count `json:"classes"`
}

// Count is how often a property or class is used: in so many distinct triples, by so
// many distinct subjects.
type Count struct {
	IRI string `json:"iri"`
	N   int64  `json:"n"`
}

// Options say what is made.
type Options struct {
	Site    service.Site
	Kinds   []Kind
	Workers int // 1 if 0
}

const (
	manifest = "current.json"
	// version changes when other bytes are made from the same records.
	version  = "1"
	prefix   = "p"
	scratch  = ".making-"
	lockFile = "publishing.lock"
)

// Make makes the files of what is published now, unless they are there. If it fails
// or is interrupted, the files before stay in force, whole.
func Make(ctx context.Context, store service.Store, dir string, o Options) (*Set, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	current, err := store.Current(ctx)
	if err != nil {
		return nil, err
	}
	if current.Number == 0 {
		return nil, service.Errorf(service.NotFound, "nothing is published yet")
	}
	before, err := readSet(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		before = nil // unreadable: made anew
	}
	stamp := o.stamp()
	if before != nil && before.Version == stamp && before.of(current) && before.complete(dir) {
		return before, nil
	}
	work, err := os.MkdirTemp(dir, scratch)
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(work)
	m := maker{o: o, store: store, dir: work}
	set, err := m.make(ctx)
	if err != nil {
		return nil, fmt.Errorf("making downloads: %w", err)
	}
	set.Version = stamp
	set.Folder = prefix + fmt.Sprint(set.Publication) + "-" + strings.TrimPrefix(filepath.Base(work), scratch)
	if current, err = store.Current(ctx); err != nil {
		return nil, err
	}
	return set.install(work, dir, current)
}

// of reports whether a set is that of a publication.
func (s *Set) of(p service.Publication) bool {
	return s.Publication == p.Number && s.Time.Equal(p.Time)
}

// install puts a set in force, unless another publisher was faster with that of the
// current publication.
func (s *Set) install(work, dir string, current service.Publication) (*Set, error) {
	unlock, err := lock(dir)
	if err != nil {
		return nil, err
	}
	defer unlock()
	if before, err := readSet(dir); err == nil {
		if before.Version == s.Version && before.of(current) && before.complete(dir) {
			return before, nil
		}
		s.Previous = before.Folder
	}
	if err := os.Chmod(work, 0o755); err != nil {
		return nil, err
	}
	if err := os.Rename(work, filepath.Join(dir, s.Folder)); err != nil {
		return nil, err
	}
	if err := s.write(dir); err != nil {
		_ = os.RemoveAll(filepath.Join(dir, s.Folder))
		return nil, err
	}
	sweep(dir, s)
	return s, nil
}

// stamp tells sets apart that are made differently from the same publication.
func (o *Options) stamp() string {
	site, _ := json.Marshal(o.Site) // texts alone: cannot fail
	parts := []string{version, string(site)}
	for _, k := range o.Kinds {
		parts = append(parts, k.Name+k.Suffix+k.MediaType+k.Conforms)
	}
	sum := sumOf([]byte(strings.Join(parts, "\x00")))
	return version + "-" + sum[:16]
}

func readSet(dir string) (*Set, error) {
	data, err := os.ReadFile(filepath.Join(dir, manifest))
	if err != nil {
		return nil, err
	}
	s := new(Set)
	if err := json.Unmarshal(data, s); err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(dir, manifest), err)
	}
	if s.Folder == "" || s.Folder != filepath.Base(s.Folder) || strings.HasPrefix(s.Folder, ".") {
		return nil, fmt.Errorf("%s names the folder %q", filepath.Join(dir, manifest), s.Folder)
	}
	return s, nil
}

// complete reports whether all files are there, with their sizes.
func (s *Set) complete(dir string) bool {
	for _, f := range s.Files {
		if i, err := os.Stat(filepath.Join(dir, s.Folder, f.Name)); err != nil || i.Size() != f.Bytes {
			return false
		}
	}
	return true
}

// write puts the set in force.
func (s *Set) write(dir string) error {
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, scratch)
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(append(data, '\n'))
	err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, manifest))
	}
	return errors.Join(err, syncFolder(dir))
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

// stale is how long nothing was written to what a run left before it is taken for
// interrupted, and taken away.
const stale = time.Hour

// sweep takes away what is neither in force nor was before, nor being made. What it
// cannot take away it leaves for the next time.
func sweep(dir string, s *Set) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		name := e.Name()
		switch {
		case name == s.Folder || name == s.Previous:
			continue
		case strings.HasPrefix(name, scratch):
			if t, err := written(filepath.Join(dir, name)); err != nil || time.Since(t) < stale {
				continue
			}
		case !e.IsDir() || !strings.HasPrefix(name, prefix):
			continue
		}
		_ = os.RemoveAll(filepath.Join(dir, name))
	}
}

// written is when something was last written to a file, or to a folder or a file in it.
func written(path string) (last time.Time, err error) {
	err = filepath.WalkDir(path, func(_ string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		i, err := e.Info()
		if err == nil && i.ModTime().After(last) {
			last = i.ModTime()
		}
		return err
	})
	return last, err
}

// Shelf gives the files in force in a folder. It is safe for concurrent use, and
// notices when others are in force.
type Shelf struct {
	dir   string
	mu    sync.Mutex
	stamp time.Time
	size  int64
	set   *Set
}

// NewShelf makes a shelf of a folder, which need not exist yet.
func NewShelf(dir string) *Shelf { return &Shelf{dir: dir} }

// Set is the set in force. Its error has the code NotFound if there is none.
func (s *Shelf) Set() (*Set, error) {
	none := service.Errorf(service.NotFound, "There are no downloads yet: they are made with the next publication.")
	if s == nil {
		return nil, none
	}
	i, err := os.Stat(filepath.Join(s.dir, manifest))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, none
	} else if err != nil {
		return nil, &service.Error{Code: service.Unavailable, Err: err}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.set == nil || !i.ModTime().Equal(s.stamp) || i.Size() != s.size {
		set, err := readSet(s.dir)
		if err != nil {
			return nil, &service.Error{Code: service.Internal, Err: err}
		}
		s.set, s.stamp, s.size = set, i.ModTime(), i.Size()
	}
	return s.set, nil
}

// Open opens a file of the set in force by its name. Its error has the code NotFound if
// there is none of that name. The caller closes the file.
func (s *Shelf) Open(name string) (*os.File, *File, *Set, error) {
	for range 2 {
		set, err := s.Set()
		if err != nil {
			return nil, nil, nil, err
		}
		i := slices.IndexFunc(set.Files, func(f File) bool { return f.Name == name })
		if i < 0 {
			break
		}
		f, err := os.Open(filepath.Join(s.dir, set.Folder, name))
		if err == nil {
			return f, &set.Files[i], set, nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return nil, nil, nil, &service.Error{Code: service.Unavailable, Err: err}
		}
		// The set was replaced since it was looked up.
	}
	return nil, nil, nil, service.Errorf(service.NotFound, "There is no download of this name.")
}
