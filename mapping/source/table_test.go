package source

import (
	"strings"
	"testing"
)

func TestTables(t *testing.T) {
	tests := []struct {
		name  string
		spec  Spec
		file  string // name; "" = t.csv
		text  string
		names string // columns, joined by |
		rows  []string
		notes []string
	}{
		{name: "plain", text: "a,b\n1,2\n3,4\n", names: "a|b", rows: []string{"2/2: 1|2", "3/3: 3|4"}},
		{name: "no line end at the end", text: "a,b\n1,2", names: "a|b", rows: []string{"2/2: 1|2"}},
		{name: "CR LF", text: "a,b\r\n1,2\r\n\"3\",\"4\"\r\n", names: "a|b", rows: []string{"2/2: 1|2", "3/3: 3|4"}},
		{name: "CR alone", text: "a,b\r1,2\r\"3\r3\",4\r", names: "a|b", rows: []string{"2/2: 1|2", "3/3: 3\n3|4"},
			notes: []string{`line-ends a: 1 @ t.csv row 3 line 3 a="3\r3"`}},
		{name: "header only", text: "a,b\n", names: "a|b"},
		{name: "header only, no line end", text: "a;b", names: "a|b"},
		{name: "quotes", text: "a,b\n\"x, y\",\"say \"\"hi\"\"\"\n\"\",\"z\"\n", names: "a|b",
			rows: []string{`2/2: x, y|say "hi"`, "3/3: |z"}},
		{name: "line ends inside quotes", text: "a,b,c\n1,\"two\nlines\",\"and\n\nthree\"\n2,x,y\n", names: "a|b|c",
			rows: []string{"2/2: 1|two\nlines|and\n\nthree", "3/6: 2|x|y"}},
		{name: "lone quotes inside a cell", text: "a,b\n5\" high,6\"\n", names: "a|b", rows: []string{`2/2: 5" high|6"`}},
		{name: "a quoted word at the start of a cell", text: "a,b\n\"Rose\" brooch,1\nx,2\n", names: "a|b",
			rows:  []string{`2/2: "Rose" brooch|1`, "3/3: x|2"},
			notes: []string{`stray-quotes a: 1 @ t.csv row 2 line 2 a="\"Rose\" brooch"`}},
		{name: "no quoting", spec: Spec{Quote: "none"}, text: "a|b\n\"x|y\"\nq\"|\n", names: "a|b",
			rows: []string{`2/2: "x|y"`, `3/3: q"|`}},
		{name: "short rows", text: "a,b,c\n1\n1,2\n1,2,3\n", names: "a|b|c", rows: []string{"2/2: 1||", "3/3: 1|2|", "4/4: 1|2|3"},
			notes: []string{`short-rows : 2 @ t.csv row 2 line 2 ="1 of 3 cells" t.csv row 3 line 3 ="2 of 3 cells"`}},
		{name: "long rows", text: "a,b\n1,2,3,4\n1,2,,\n1,2\n", names: "a|b", rows: []string{"2/2: 1|2", "3/3: 1|2", "4/4: 1|2"},
			notes: []string{`long-rows : 1 @ t.csv row 2 line 2 ="3,4"`}},
		{name: "blank lines", text: "\n\na,b\n\n1,2\n  \n3,4\n\n", names: "a|b", rows: []string{"5/5: 1|2", "7/7: 3|4"}},
		{name: "empty rows", text: "a,b\n,\n1,2\n \"\" , \n", names: "a|b", rows: []string{"3/3: 1|2", "4/4: \"\"|"},
			notes: []string{`empty-rows : 1 @ t.csv row 2 line 2 =""`}},
		{name: "duplicate and empty names", text: "a,a,,a (2), b \n1,2,3,4,5\n", names: "a|a (2)|column 3|a (2) (2)|b",
			rows: []string{"2/2: 1|2|3|4|5"},
			notes: []string{`duplicate-names a: 1 @ t.csv row 1 line 1 a="a"`, `duplicate-names a (2): 1 @ t.csv row 1 line 1 a (2)="a (2)"`,
				`empty-names column 3: 1 @ t.csv row 1 line 1 column 3="column 3"`}},
		{name: "names over two lines", text: "\"date\nmade\",b\n1,2\n", names: "date made|b", rows: []string{"2/3: 1|2"}},
		{name: "declared names", spec: Spec{Columns: []string{"a", "b"}}, text: "1;2\n3;4\n", names: "a|b", rows: []string{"1/1: 1|2", "2/2: 3|4"}},
		{name: "semicolon", text: "a;b\n1,5;2\n", names: "a|b", rows: []string{"2/2: 1,5|2"}},
		{name: "tab", text: "a\tb\n1,5\t2;3\n", names: "a|b", rows: []string{"2/2: 1,5|2;3"}},
		{name: "bar", text: "a|b\n1,5|2;3\n", names: "a|b", rows: []string{"2/2: 1,5|2;3"}},
		{name: "commas in one column only", text: "name\nSmith, John\nBrown, Ann\n", names: "name", rows: []string{"2/2: Smith, John", "3/3: Brown, Ann"}},
		{name: "more of the wrong delimiter in the header", text: "id;name, first, last\n1;x\n2;y\n", names: "id|name, first, last",
			rows: []string{"2/2: 1|x", "3/3: 2|y"}},
		{name: "declared delimiter", spec: Spec{Delimiter: "#"}, text: "a,b#c\n1,2#3\n", names: "a,b|c", rows: []string{"2/2: 1,2|3"}},
		{name: "a line that names the delimiter", text: "sep=;\na;b\n1,1,1;2\n", names: "a|b", rows: []string{"2/3: 1,1,1|2"}},
		{name: "tsv", file: "t.tsv", text: "a,b\tc\n1\t2\n", names: "a,b|c", rows: []string{"2/2: 1|2"}},
		{name: "byte order mark", text: "\ufeffa,b\n1,2\n", names: "a|b", rows: []string{"2/2: 1|2"}},
		{name: "byte order mark and quotes", text: "\ufeff\"a\",\"b\"\n1,2\n", names: "a|b", rows: []string{"2/2: 1|2"}},
		{name: "UTF-16 with mark, bars, no quoting", spec: Spec{Quote: "none"}, text: utf16LE("Id|Beschreibung\r\n1|Zürich \"𝄞\"\r\n2|\r\n", true),
			names: "Id|Beschreibung", rows: []string{`2/2: 1|Zürich "𝄞"`, "3/3: 2|"}},
		{name: "UTF-16 big endian with mark", text: swap(utf16LE("a,b\nä,€\n", true)), names: "a|b", rows: []string{"2/2: ä|€"}},
		{name: "UTF-16 without mark", text: utf16LE("alpha,beta\none,two\n", false), names: "alpha|beta", rows: []string{"2/2: one|two"}},
		{name: "UTF-16 big endian without mark", text: swap(utf16LE("alpha,beta\none,two\n", false)), names: "alpha|beta", rows: []string{"2/2: one|two"}},
		{name: "UTF-16 declared", spec: Spec{Encoding: "utf-16le"}, text: utf16LE("ж,б\nя,ю\n", false), names: "ж|б", rows: []string{"2/2: я|ю"}},
		{name: "UTF-16 with lone halves", text: utf16LE("alpha,beta\n", true) + "x\x00\x00\xd8y\x00,\x00\x01\xdc\n\x00", names: "alpha|beta",
			rows: []string{"2/2: xy|"}, notes: []string{`lone-surrogates alpha: 1 @ t.csv row 2 line 2 alpha="x�y"`,
				`lone-surrogates beta: 1 @ t.csv row 2 line 2 beta="�"`}},
		{name: "UTF-16 cut within a character", text: utf16LE("alpha,beta\none,two", true) + "x", names: "alpha|beta", rows: []string{"2/2: one|two�"},
			notes: []string{`lost-characters beta: 1 @ t.csv row 2 line 2 beta="two�"`}},
		{name: "windows-1252 found", text: "a,b\nM\xfcller \x80 5,\x93x\x94\n", names: "a|b", rows: []string{"2/2: Müller € 5|“x”"}},
		{name: "windows-1252 with unused bytes", spec: Spec{Encoding: "windows-1252"}, text: "a,b\nx\x81y,2\n", names: "a|b", rows: []string{"2/2: xy|2"},
			notes: []string{"control-characters a: 1 @ t.csv row 2 line 2 a=\"x\u0081y\""}},
		{name: "latin 1", spec: Spec{Encoding: "iso-8859-1"}, text: "a,b\nM\xfcller,\x80\n", names: "a|b", rows: []string{"2/2: Müller|€"},
			notes: []string{"misread b: 1 @ t.csv row 2 line 2 b=\"\u0080\""}},
		{name: "another encoding by its name", spec: Spec{Encoding: "macintosh"}, text: "a,b\nM\x9fller,2\n", names: "a|b", rows: []string{"2/2: Müller|2"}},
		{name: "UTF-8 with a bad byte", text: "a,b\nZürich Genève,caf\xe9\nÅrhus,Łódź\n", names: "a|b", rows: []string{"2/2: Zürich Genève|café", "3/3: Århus|Łódź"},
			notes: []string{`invalid-bytes b: 1 @ t.csv row 2 line 2 b="caf�"`}},
		{name: "repairs have their places", text: "a,b\nx\u00a0y,1\nz,\"q\u0001\"\n", names: "a|b", rows: []string{"2/2: x y|1", "3/3: z|q"},
			notes: []string{"control-characters b: 1 @ t.csv row 3 line 3 b=\"q\\x01\"", "special-spaces a: 1 @ t.csv row 2 line 2 a=\"x\u00a0y\""}},
		{name: "white space at the ends", text: "a,b\n  x  ,\" \n y \t\"\n", names: "a|b", rows: []string{"2/2: x|y"}},
		{name: "repairs in names", text: "a\u00a0b,c\n1,2\n", names: "a b|c", rows: []string{"2/2: 1|2"},
			notes: []string{"special-spaces a b: 1 @ t.csv row 1 line 1 a\u00a0b=\"a\u00a0b\""}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			name := tt.file
			if name == "" {
				name = "t.csv"
			}
			tt.spec.Name, tt.spec.Files = "t", []string{name}
			src := mustNew(t, files(name, tt.text), tt.spec).Source("t")
			l := allColumns(t, src)
			if got := strings.Join(l.Names(), "|"); got != tt.names {
				t.Errorf("columns %s, want %s", got, tt.names)
			}
			rep := &Report{}
			same(t, "rows", rowsOf(t, src, l, rep), tt.rows)
			same(t, "notes", noted(rep), tt.notes)
			if got := rep.Records("t"); got != len(tt.rows) {
				t.Errorf("%d records in the report, want %d", got, len(tt.rows))
			}
		})
	}
}

func TestTableFaults(t *testing.T) {
	long := strings.Repeat("x,\"y\"\n", 60_000) // beyond the first chunk
	tests := []struct {
		name, text     string
		line, col, row int
		reason         string
	}{
		{"empty file", "", 0, 0, 0, "the file is empty"},
		{"only blank lines", "\n \n", 0, 0, 0, "the file is empty"},
		{"unclosed quote", "a,b\n1,2\nü,\"x\n4,5\n", 3, 3, 3, "no quotation mark closes it"},
		{"unclosed quote in the header", "a,\"b\n1,2\n", 1, 3, 1, "no quotation mark closes it"},
		{"unclosed quote on a later line of a row", "a,b\n\"1\n2\",\"x\n", 3, 4, 2, "no quotation mark closes it"},
		{"unclosed quote far down", "a,b\n" + long + "x,\"z\n", 60_002, 3, 60_002, "no quotation mark closes it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			src := mustNew(t, files("t.csv", tt.text), Spec{Name: "t", Files: []string{"t.csv"}}).Source("t")
			e := failure(t, src, src.Layout())
			if e.File != "t.csv" || e.Line != tt.line || e.Col != tt.col || e.Row != tt.row || !strings.Contains(e.Reason, tt.reason) {
				t.Errorf("%#v\nwant line %d, column %d, row %d: %s", e, tt.line, tt.col, tt.row, tt.reason)
			}
		})
	}
}

func TestColumnsOfSeveralFiles(t *testing.T) {
	set := mustNew(t, files("in/b.csv", "x;id\n3;2\n", "in/a.csv", "id,name\n1,one\n"), Spec{Name: "t", Files: []string{"in"}})
	src := set.Source("t")
	l := allColumns(t, src)
	rep := &Report{}
	same(t, "columns", l.Names(), []string{"id", "name", "x"})
	same(t, "rows", rowsOf(t, src, l, rep), []string{"2/2: 1|one|", "2/2: 2||3"})
	same(t, "notes", noted(rep), []string{`missing-columns name: 1 @ in/b.csv row 0 line 0 name=""`, `missing-columns x: 1 @ in/a.csv row 0 line 0 x=""`})
}

func TestWhereInTables(t *testing.T) {
	src := mustNew(t, files("t.csv", "id,note,more\n1,\"a\nb\",\"c\"\n2,x,y\n"), Spec{Name: "t", Files: []string{"t.csv"}}).Source("t")
	l := src.Layout()
	f := slots(t, l, "more", "id")
	var got []string
	err := src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		for i := range b.Rows {
			p := l.Where(&b.Rows[i], f[0])
			if p.Col != 3 || p.Source != "t" {
				t.Errorf("%+v", p)
			}
			got = append(got, place(p), place(l.Where(&b.Rows[i], f[1])))
		}
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "places", got, []string{`t.csv row 2 line 3 more="c"`, `t.csv row 2 line 2 id="1"`, `t.csv row 3 line 4 more="y"`, `t.csv row 3 line 4 id="2"`})
}
