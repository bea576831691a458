package source

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"
)

// workbookOptions show dates whose format a workbook leaves to the reader's
// country in the one form that no country misreads.
var workbookOptions = excelize.Options{ShortDatePattern: "yyyy-mm-dd", LongDatePattern: "yyyy-mm-dd", LongTimePattern: "hh:mm:ss"}

// readWorkbook reads one sheet. The compressed workbook is held in memory, as the
// format has its directory at the end; rows are streamed.
func (rd *reading) readWorkbook(f *File, in io.Reader) (err error) {
	defer func() {
		// The library below panics on some damaged workbooks.
		if r := recover(); r != nil {
			err = &Error{File: f.Name, Reason: "the workbook is damaged", Err: rd.library(fmt.Errorf("%v", r))}
		}
	}()
	data, err := io.ReadAll(in)
	if err != nil {
		return err
	}
	rd.fileReport().Encoding = encUTF8
	if err := checkWorkbook(f, data, len(rd.src.Withheld) > 0); err != nil {
		return err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), workbookOptions)
	if err != nil {
		return &Error{File: f.Name, Reason: "not readable as a workbook", Err: rd.library(err)}
	}
	defer book.Close()
	sheets := book.GetSheetList()
	name := rd.src.Sheet
	if name == "" {
		if len(sheets) == 0 {
			return &Error{File: f.Name, Reason: "the workbook has no sheet"}
		}
		name = sheets[0]
	} else if at, err := book.GetSheetIndex(name); err != nil || at < 0 {
		return &Error{File: f.Name, Reason: fmt.Sprintf("the workbook has no sheet %q, only %s", name, strings.Join(sheets, ", "))}
	}
	if rd.headers {
		f.Sheet = name
	}
	rd.fileReport().Sheet = name
	rows, err := book.Rows(name)
	if err != nil {
		return &Error{File: f.Name, Reason: "the sheet " + name + " can't be read", Err: rd.library(err)}
	}
	defer rows.Close()
	return rd.readSheet(f, rows)
}

func (rd *reading) readSheet(f *File, rows *excelize.Rows) error {
	t := &table{rd: rd, f: f}
	if len(rd.src.Columns) > 0 {
		t.head(rd.src.Columns, 0, 0)
		if !t.start() {
			return nil
		}
	}
	run := rd.root
	row := 0
	for rows.Next() {
		row++
		cells, err := rows.Columns()
		if err != nil {
			return &Error{File: f.Name, Row: row, Reason: "this row can't be read", Err: rd.library(err)}
		}
		if len(cells) == 0 {
			continue
		}
		full := false
		for _, c := range cells {
			full = full || len(trim(bytesOf(c))) > 0
		}
		switch {
		case !full:
			if t.names != nil {
				t.oddRow(EmptyRow, row, 0)
			}
			continue
		case t.names == nil:
			t.head(cells, row, 0)
			if !t.start() {
				return nil
			}
			continue
		}
		r, err := rd.begin()
		if err != nil {
			return err
		}
		r.Num = row
		for slot, c := range run.columns {
			if c < 0 || int(c) >= len(cells) || cells[c] == "" {
				continue
			}
			v := rd.clean.clean(bytesOf(cells[c]))
			if rd.clean.found == 0 {
				r.Cells[slot] = view(v)
				continue
			}
			r.Cells[slot] = rd.mem.put(v)
			rd.repaired(run, r, slot, bytesOf(cells[c]))
		}
		// A sheet ends each row at its last filled cell, so rows are never short.
		for i := len(t.names); i < len(cells); i++ {
			if len(trim(bytesOf(cells[i]))) > 0 {
				run.note(LongRow, r, -1, strings.Join(cells[i:], "\t"))
				break
			}
		}
		if err := rd.end(r); err != nil {
			return err
		}
	}
	if err := rows.Error(); err != nil {
		return &Error{File: f.Name, Row: row + 1, Reason: "the sheet can't be read further", Err: rd.library(err)}
	}
	if t.names == nil {
		return &Error{File: f.Name, Reason: "the sheet is empty; not even a header was found"}
	}
	return nil
}

// library is an error of the library that reads workbooks. It may quote a cell, so of
// a source with withheld columns it is not passed on.
func (rd *reading) library(err error) error {
	if len(rd.src.Withheld) > 0 {
		return nil
	}
	return err
}

// checkWorkbook sees to it that sheets and texts are well-formed XML: the library
// that reads them takes a broken end for the end of the sheet.
func checkWorkbook(f *File, data []byte, private bool) error {
	if bytes.HasPrefix(data, []byte{0xd0, 0xcf, 0x11, 0xe0}) {
		return &Error{File: f.Name, Reason: "this is a workbook in the old binary format, or one locked with a password; save it as .xlsx without a password"}
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return &Error{File: f.Name, Reason: "not readable as a workbook: it is cut short, or no workbook", Err: err}
	}
	for _, part := range z.File {
		if !strings.HasPrefix(part.Name, "xl/worksheets/sheet") && part.Name != "xl/sharedStrings.xml" {
			continue
		}
		in, err := part.Open()
		if err != nil {
			return &Error{File: f.Name, Path: part.Name, Reason: "this part can't be read", Err: err}
		}
		x := newXMLScanner(in)
		x.private = private
		for err == nil {
			_, err = x.next()
		}
		in.Close()
		if err == io.EOF {
			continue
		}
		e := &Error{File: f.Name, Path: part.Name, Reason: "this part of the workbook is damaged", Err: err}
		var at *Error
		if errors.As(err, &at) {
			e.Line, e.Col, e.Reason, e.Err = at.Line, at.Col, "this part of the workbook is damaged: "+at.Reason, nil
		}
		return e
	}
	return nil
}
