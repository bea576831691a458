package source

import (
	"archive/zip"
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// workbook makes a workbook of sheets; fill puts in the cells.
func workbook(t testing.TB, fill func(*excelize.File)) string {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func put(t testing.TB, f *excelize.File, sheet string, cells map[string]any) {
	t.Helper()
	for c, v := range cells {
		if err := f.SetCellValue(sheet, c, v); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWorkbook(t *testing.T) {
	data := workbook(t, func(f *excelize.File) {
		if _, err := f.NewSheet("Objects"); err != nil {
			t.Fatal(err)
		}
		put(t, f, "Sheet1", map[string]any{"A1": "other"})
		put(t, f, "Objects", map[string]any{
			"A2": "No.", "B2": "Title", "C2": "Made", "D2": "Price", "E2": "Title", "F2": "Gilt",
			"A3": 1, "B3": "Sextant\u00a0", "C3": time.Date(1911, 4, 3, 0, 0, 0, 0, time.UTC), "D3": 1234.5, "E3": "a\nb", "F3": true,
			"B5": " ",
			"A6": "2", "C6": "undated", "D6": 0.1, "H6": "beyond",
			"A7": "three",
		})
		iso, err := f.NewStyle(&excelize.Style{NumFmt: 14})
		if err != nil {
			t.Fatal(err)
		}
		money, err := f.NewStyle(&excelize.Style{NumFmt: 4})
		if err != nil {
			t.Fatal(err)
		}
		f.SetCellStyle("Objects", "C3", "C3", iso)
		f.SetCellStyle("Objects", "D3", "D3", money)
		f.MergeCell("Objects", "A7", "C7")
	})
	fsys := files("in/t.xlsx", data)
	set := mustNew(t, fsys, Spec{Name: "t", Files: []string{"in/t.xlsx"}, Sheet: "Objects"}, Spec{Name: "first", Files: []string{"in/t.xlsx"}})
	src := set.Source("t")
	l := allColumns(t, src)
	same(t, "columns", l.Names(), []string{"No.", "Title", "Made", "Price", "Title (2)", "Gilt"})
	rep := &Report{}
	same(t, "rows", rowsOf(t, src, l, rep), []string{"3/0: 1|Sextant|1911-04-03|1,234.50|a\nb|TRUE", "6/0: 2||undated|0.1||", "7/0: three|||||"})
	same(t, "notes", noted(rep), []string{"special-spaces Title: 1 @ in/t.xlsx row 3 line 0 Title=\"Sextant\u00a0\"",
		`long-rows : 1 @ in/t.xlsx row 6 line 0 ="beyond"`, `empty-rows : 1 @ in/t.xlsx row 5 line 0 =""`,
		`duplicate-names Title: 1 @ in/t.xlsx row 2 line 0 Title="Title"`})
	err := src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		if p := l.Where(&b.Rows[1], 2); p.Sheet != "Objects" || p.Row != 6 || p.Col != 3 || p.Column != "Made" || p.Value != "undated" {
			t.Errorf("%+v", p)
		}
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "columns of the first sheet", allColumns(t, set.Source("first")).Names(), []string{"other"})
	if f := rep.Files(); len(f) != 1 || f[0].Sheet != "Objects" || f[0].Records != 3 || f[0].Size != int64(len(data)) {
		t.Errorf("files: %+v", f)
	}
}

func TestLargeWorkbook(t *testing.T) {
	const rows = 20_000
	data := workbook(t, func(f *excelize.File) {
		w, err := f.NewStreamWriter("Sheet1")
		if err != nil {
			t.Fatal(err)
		}
		w.SetRow("A1", []any{"id", "title"})
		for i := range rows {
			c, _ := excelize.CoordinatesToCellName(1, i+2)
			w.SetRow(c, []any{i, "title"})
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
	})
	src := mustNew(t, files("t.xlsx", data), Spec{Name: "t", Files: []string{"t.xlsx"}}).Source("t")
	got := rowsOf(t, src, allColumns(t, src), nil)
	if len(got) != rows || got[rows-1] != "20001/0: 19999|title" {
		t.Errorf("%d rows, the last %q", len(got), got[len(got)-1])
	}
}

func TestWorkbookFaults(t *testing.T) {
	good := workbook(t, func(f *excelize.File) {
		put(t, f, "Sheet1", map[string]any{"A1": "a", "A2": "1", "A3": "2"})
	})
	empty := workbook(t, func(*excelize.File) {})
	// A sheet whose XML breaks off in a zip that is whole.
	broken := rezip(t, good, "xl/worksheets/sheet1.xml", func(s string) string { return s[:strings.Index(s, `<row r="3"`)+9] })
	tests := []struct {
		name, data, sheet, reason string
	}{
		{"no workbook", "a,b\n1,2\n", "", "not readable as a workbook"},
		{"empty file", "", "", "not readable as a workbook"},
		{"cut short", good[:len(good)-200], "", "not readable as a workbook"},
		{"old format", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "", "old binary format"},
		{"no such sheet", good, "Objects", `no sheet "Objects", only Sheet1`},
		{"empty sheet", empty, "", "the sheet is empty"},
		{"broken sheet", broken, "", "this part of the workbook is damaged"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			src := mustNew(t, files("t.xlsx", tt.data), Spec{Name: "t", Files: []string{"t.xlsx"}, Sheet: tt.sheet}).Source("t")
			e := failure(t, src, src.Layout())
			if e.File != "t.xlsx" || !strings.Contains(e.Reason, tt.reason) {
				t.Errorf("%v, want %s", e, tt.reason)
			}
		})
	}
}

// rezip changes one part of a zip file.
func rezip(t testing.TB, data, name string, change func(string) string) string {
	t.Helper()
	r, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, part := range r.File {
		in, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		if part.Name == name {
			content = []byte(change(string(content)))
		}
		out, err := w.Create(part.Name)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(content)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
