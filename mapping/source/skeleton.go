package source

import (
	"context"
	"errors"
	"io/fs"
)

type indexEntry struct{}

type memory struct{}

var errUnfinished = errors.New("reading sources is being built")

// New checks the declared sources.
func New(fsys fs.FS, specs []Spec) (*Set, error) { return nil, errUnfinished }

// Description is what a source holds.
type Description struct {
	Columns   []Column
	Complete  bool // everything was looked at, not a sample
	Records   int  // records looked at
	Format    string
	Encoding  string
	Delimiter string
}

// Column is a column or path of a source.
type Column struct {
	Path   string
	Count  int    // records in which it has a value; 0 in tables, where only the header is read
	Most   int    // most values in one record
	Sample string // a value
	Rows   bool   // repeats: ask for it with [Layout.Rows]
}

// Describe lists the columns.
func (s *Source) Describe() (*Description, error) { return nil, errUnfinished }

// Layout gives a fresh layout of a record.
func (s *Source) Layout() *Layout { return &Layout{src: s} }

// Field gives the slot of a field.
func (l *Layout) Field(path string) (int, error) { return 0, errUnfinished }

// Rows gives the layout of child rows and their index in [Row.Kids].
func (l *Layout) Rows(path string) (*Layout, int, error) { return nil, 0, errUnfinished }

// Options adjust a Read.
type Options struct {
	Report *Report // gathers repairs and oddities; may be nil
	Rows   int     // rows of a batch; 0: 128
	Limit  int     // stop after so many records; 0: all
}

// Read streams the rows of the source.
func (s *Source) Read(ctx context.Context, l *Layout, opt Options, emit func(*Batch) error) error {
	return errUnfinished
}

// Unused are the columns that none of the layouts asks for.
func (s *Source) Unused(layouts ...*Layout) []Column { return nil }

// Release gives the batch's memory back.
func (b *Batch) Release() {}

func (s *Source) columnNumber(f *File, column string) int { return 0 }
