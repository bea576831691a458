package source

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// File is one file of a source.
type File struct {
	Source string // name of the source
	Name   string // path as the site sees it
	Size   int64  // bytes on disk
	Format string // csv, tsv, xlsx, json, jsonl, xml
	Sheet  string // sheet of a workbook; known once the source was described
	gzip   bool

	columns []string // of a table: names in order, made unique; known once the source was described
}

// Columns are the names of a table's columns; nil for other files.
func (f *File) Columns() []string { return slices.Clone(f.columns) }

// column is the number of a column, from 1; 0 if the file has none of that name.
func (f *File) column(name string) int { return slices.Index(f.columns, name) + 1 }

// Row is one record, or a child row of one.
type Row struct {
	Cells []string // by slot of the layout
	Kids  [][]Row  // child rows, by index of the layout
	File  *File
	Line  int    // line of the file where the row begins; 0 in a workbook
	Num   int    // row of the table as a spreadsheet counts (the header is 1), or number of the record in its file
	Path  string // of a nested child row: path from the record, with indexes; else ""
	extra *extra
}

// extra is what few rows need.
type extra struct {
	lines  []int32 // line of each cell, by slot
	looked []*Row  // rows the look-ups found, by look-up of the layout
}

// Batch is a run of rows. Its memory is reused: rows and cells are valid until
// [Batch.Release].
type Batch struct {
	Rows []Row
	Seq  int   // number of the batch, from 0
	Read int64 // bytes of the source consumed so far, for progress

	mem *memory
}

// Place is where a value stands.
type Place struct {
	Source string
	File   string
	Sheet  string // of a workbook
	Row    int    // see [Row.Num]
	Line   int    // line of the file; 0 in a workbook
	Col    int    // number of the column in a table, from 1; else 0
	Column string // name of the column, or path with indexes (from 0 in JSON, from 1 in XML)
	Value  string // the cell; shortened in reports
}

// Where is the place of a cell of a row read with l. For a looked-up cell it is
// the place in the looked-up file; where nothing was found, that of the field
// that was looked up.
func (l *Layout) Where(r *Row, slot int) Place {
	if slot < 0 || slot >= len(l.fields) {
		return l.whereRow(r)
	}
	f := &l.fields[slot]
	if f.look >= 0 {
		lk := l.looks[f.look]
		if r.extra != nil && f.look < len(r.extra.looked) && r.extra.looked[f.look] != nil {
			return lk.sub.Where(r.extra.looked[f.look], f.sub)
		}
		p := l.Where(r, lk.here[0])
		p.Value = ""
		return p
	}
	return l.whereOwn(r, slot)
}

// whereOwn is the place of a cell that the row's own file has.
func (l *Layout) whereOwn(r *Row, slot int) Place {
	p := l.whereRow(r)
	path := l.fields[slot].path
	p.Column = columnPath(r, path)
	if slot < len(r.Cells) {
		p.Value = r.Cells[slot]
	}
	if r.File != nil && l.src.family == tables {
		p.Col = r.File.column(path)
	}
	if r.extra != nil && slot < len(r.extra.lines) && r.extra.lines[slot] > 0 {
		p.Line = int(r.extra.lines[slot])
	}
	return p
}

// WhereRow is the place of a row read with l.
func (l *Layout) WhereRow(r *Row) Place { return l.whereRow(r) }

func (l *Layout) whereRow(r *Row) Place {
	p := Place{Row: r.Num, Line: r.Line, Column: r.Path}
	if r.File != nil {
		p.Source, p.File, p.Sheet = r.File.Source, r.File.Name, r.File.Sheet
	}
	return p
}

func columnPath(r *Row, path string) string {
	switch {
	case r.Path == "":
		return path
	case path == ".":
		return r.Path
	default:
		return r.Path + "." + path
	}
}

// preview copies a value for messages and shortens it.
func preview(s string) string {
	const most = 80
	s = strings.Clone(strings.ToValidUTF8(s[:min(len(s), most+utf8.UTFMax)], "\ufffd"))
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return s[:cut] + "…"
}
