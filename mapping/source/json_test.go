package source

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

// nested is a layout from paths; "x[]" asks for child rows and "x[].y" for a field
// of theirs.
func nested(t testing.TB, src *Source, paths ...string) *Layout {
	t.Helper()
	l := src.Layout()
	for _, p := range paths {
		at := l
		for {
			rows, rest, ok := strings.Cut(p, "[]")
			if !ok {
				break
			}
			at, _ = kids(t, at, rows)
			if p = rest; p != "." {
				p = strings.TrimPrefix(rest, ".")
			}
		}
		if p != "" {
			slots(t, at, p)
		}
	}
	return l
}

func TestJSON(t *testing.T) {
	tests := []struct {
		name  string
		spec  Spec
		file  string // name; "" = t.json
		text  string
		paths []string
		rows  []string
		notes []string
	}{
		{name: "array", text: `[{"a":1,"b":"x"}, {"a":2}]`, paths: []string{"a", "b"}, rows: []string{"1/1: 1|x", "2/1: 2|"}},
		{name: "object", text: "{\n \"a\": {\"b\": \"x\"}\n}", paths: []string{"a.b"}, rows: []string{"1/1: x"}},
		{name: "values one after another", text: "{\"a\":1}\n\n{\"a\":\n2}{\"a\":3}", paths: []string{"a"}, rows: []string{"1/1: 1", "2/3: 2", "3/4: 3"}},
		{name: "lines", file: "t.jsonl", text: "{\"a\":1}\n{\"a\":2}\n", paths: []string{"a"}, rows: []string{"1/1: 1", "2/2: 2"}},
		{name: "records below a path", spec: Spec{Records: "data.items"}, text: "{\"n\":2,\"data\":{\"items\":[\n{\"a\":1},\n{\"a\":2}],\"x\":[1]}}",
			paths: []string{"a"}, rows: []string{"1/2: 1", "2/3: 2"}},
		{name: "records in pages", spec: Spec{Records: "items"}, text: `[{"items":[{"a":1}]},{"items":[]},{"items":{"a":3}}]`, paths: []string{"a"},
			rows: []string{"1/1: 1", "2/1: 3"}},
		{name: "no records", text: `[]`, paths: []string{"a"}},
		{name: "null is no record", text: `[{"a":1},null,{"a":3}]`, paths: []string{"a"}, rows: []string{"1/1: 1", "3/1: 3"}},
		{name: "numbers keep their text", text: `{"a":1.50,"b":-0,"c":1e400,"d":12345678901234567890}`, paths: []string{"a", "b", "c", "d"},
			rows: []string{"1/1: 1.50|-0|1e400|12345678901234567890"}},
		{name: "true, false, null, empty", text: `{"a":true,"b":false,"c":null,"d":"","e":{},"f":[]}`, paths: []string{"a", "b", "c", "d", "e", "f"},
			rows: []string{"1/1: true|false||||"}},
		{name: "escapes", text: `{"a":"\"\\\/\b\t\n\u00e9\ud834\udd1e"}`, paths: []string{"a"}, rows: []string{"1/1: \"\\/\t\né𝄞"},
			notes: []string{"control-characters a: 1 @ t.json row 1 line 1 a=\"\\\"\\\\/\\b\\t\\né𝄞\""}},
		{name: "lone surrogates", text: `{"a":"x\ud834y","b":"\udd1e","c":"\ud834\ud834\udd1e"}`, paths: []string{"a", "b", "c"}, rows: []string{"1/1: xy||𝄞"},
			notes: []string{`lone-surrogates a: 1 @ t.json row 1 line 1 a="x�y"`, `lone-surrogates b: 1 @ t.json row 1 line 1 b="�"`,
				`lone-surrogates c: 1 @ t.json row 1 line 1 c="�𝄞"`}},
		{name: "escaped names", text: `{"\u0061\n":{"b\"":1}}`, paths: []string{"a\n.b\""}, rows: []string{"1/1: 1"}},
		{name: "names with dots", text: `{"a.b":{"c.d":1,"x":2},"a":{"e":3}}`, paths: []string{"a.b.c.d", "a.e"}, rows: []string{"1/1: 1|3"}},
		{name: "the record's own value", file: "t.jsonl", text: "\"x\"\n2\n", paths: []string{"."}, rows: []string{"1/1: x", "2/2: 2"}},
		{name: "array of one", text: `{"a":[{"b":"x"}],"c":["y"]}`, paths: []string{"a.b", "c"}, rows: []string{"1/1: x|y"}},
		{name: "array of several", text: `[{"a":[{"b":"x","c":"1"},{"b":"y","c":"1"},{"b":"z"}],"d":["p","p"]}]`, paths: []string{"a.b", "a.c", "d"},
			rows: []string{"1/1: x|1|p"}, notes: []string{`several-values a.b: 1 @ t.json row 1 line 1 a.b="y"`}},
		{name: "values of one item belong together", text: `[{"a":[{"b":"x","c":null},{"b":"","c":"1"}]}]`, paths: []string{"a.b", "a.c"},
			rows: []string{"1/1: x|"}, notes: []string{`several-values a.c: 1 @ t.json row 1 line 1 a.c="1"`}},
		{name: "the first item that has anything", text: `[{"a":[{"b":null},{"b":"","c":"1"}]}]`, paths: []string{"a.b", "a.c"}, rows: []string{"1/1: |1"}},
		{name: "several once in a row", text: `[{"a":["x","y","z"]},{"a":["x","y"]}]`, paths: []string{"a"}, rows: []string{"1/1: x", "2/1: x"},
			notes: []string{`several-values a: 2 @ t.json row 1 line 1 a="y" t.json row 2 line 1 a="y"`}},
		{name: "a member twice", text: `{"a":1,"a":2,"a":1}`, paths: []string{"a"}, rows: []string{"1/1: 1"},
			notes: []string{`several-values a: 1 @ t.json row 1 line 1 a="2"`}},
		{name: "an object where a value is wanted", text: `[{"a":"x"},{"a":{"b":1}},{"a":{}}]`, paths: []string{"a"}, rows: []string{"1/1: x", "2/1: ", "3/1: "},
			notes: []string{`not-a-value a: 1 @ t.json row 2 line 1 a="{\"b\":1}}"`}},
		{name: "child rows", text: "{\"id\":7,\"a\":[\n {\"b\":\"x\",\"c\":[1,2]},\n {\"c\":[]},\n null,\n {\"b\":\"y\",\"c\":3}]}",
			paths: []string{"id", "a[].b", "a[].c[]."}, rows: []string{"1/1: 7", "  1/2 a[0]: x", "    1/2 a[0].c[0]: 1", "    1/2 a[0].c[1]: 2",
				"  1/3 a[1]: ", "  1/5 a[3]: y", "    1/5 a[3].c: 3"}},
		{name: "child rows and a value of the same array", text: `{"a":[{"b":"x"},{"b":"x"}]}`, paths: []string{"a.b", "a[].b"},
			rows: []string{"1/1: x", "  1/1 a[0]: x", "  1/1 a[1]: x"}},
		{name: "child rows through arrays", text: `{"a":[{"b":[{"c":1},{"c":2}]},{"b":[{"c":3}]},{"b":{"c":4}}]}`, paths: []string{"a.b[].c"},
			rows: []string{"1/1: ", "  1/1 a[0].b[0]: 1", "  1/1 a[0].b[1]: 2", "  1/1 a[1].b[0]: 3", "  1/1 a[2].b: 4"}},
		{name: "arrays in arrays", text: `{"a":[["x",["y"]],"z"]}`, paths: []string{"a[]."}, rows: []string{"1/1: ", "  1/1 a[0][0]: x", "  1/1 a[0][1][0]: y", "  1/1 a[1]: z"}},
		{name: "a value where rows are wanted", text: `[{"a":"x"},{"a":["y","z"]},{"a":null},{}]`, paths: []string{"a[]."},
			rows: []string{"1/1: ", "  1/1 a: x", "2/1: ", "  2/1 a[0]: y", "  2/1 a[1]: z", "3/1: ", "4/1: "}},
		{name: "child rows keep apart", text: `[{"a":[{"b":["x","y"]},{"b":["z"]}]},{"a":[{"b":[]}]}]`, paths: []string{"a[].b"},
			rows:  []string{"1/1: ", "  1/1 a[0]: x", "  1/1 a[1]: z", "2/1: ", "  2/1 a[0]: "},
			notes: []string{`several-values a.b: 1 @ t.json row 1 line 1 a[0].b="y"`}},
		{name: "HTML and spaces", text: `{"a":" <p>one<\/p>\u00a0&amp; ","b":"\r\n"}`, paths: []string{"a", "b"}, rows: []string{"1/1: one\n &|"},
			notes: []string{"special-spaces a: 1 @ t.json row 1 line 1 a=\" <p>one</p>\u00a0&amp; \"",
				`html-entities a: 1 @ t.json row 1 line 1 a=" <p>one</p>` + "\u00a0" + `&amp; "`, `html-tags a: 1 @ t.json row 1 line 1 a=" <p>one</p>` + "\u00a0" + `&amp; "`}},
		{name: "byte order mark", text: "\ufeff{\"a\":1}", paths: []string{"a"}, rows: []string{"1/1: 1"}},
		{name: "UTF-16", text: utf16LE("[{\"a\":\"é\"},\n{\"a\":\"𝄞\"}]", true), paths: []string{"a"}, rows: []string{"1/1: é", "2/2: 𝄞"}},
		{name: "bad bytes", text: "{\"a\":\"caf\xe9 Zürich Łódź\"}", paths: []string{"a"}, rows: []string{"1/1: café Zürich Łódź"},
			notes: []string{`invalid-bytes a: 1 @ t.json row 1 line 1 a="caf� Zürich Łódź"`}},
		{name: "braces and escapes in what is skipped", text: `{"x":{"y":"}]\\\"","z":["\\"]},"a":1}`, paths: []string{"a"}, rows: []string{"1/1: 1"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			name := tt.file
			if name == "" {
				name = "t.json"
			}
			tt.spec.Name, tt.spec.Files = "t", []string{name}
			if len(tt.rows) == 0 {
				tt.spec.Fields = tt.paths
			}
			src := mustNew(t, files(name, tt.text), tt.spec).Source("t")
			l := nested(t, src, tt.paths...)
			rep := &Report{}
			same(t, "rows", rowsOf(t, src, l, rep), tt.rows)
			same(t, "notes", noted(rep), tt.notes)
		})
	}
}

func TestJSONFaults(t *testing.T) {
	tests := []struct {
		name, file, text string
		records          string
		line, col, row   int
		reason           string
	}{
		{"empty", "t.json", " \n", "", 0, 0, 0, "the file is empty"},
		{"cut short", "t.json", "[{\"a\":1},\n{\"a\":", "", 2, 6, 2, "ends within a value"},
		{"cut in an array", "t.json", "[{\"a\":1},\n{\"a\":2}", "", 2, 8, 3, "ends within a value"},
		{"bad value", "t.json", "[{\"a\":1},\n{\"a\":oops}]", "", 2, 6, 2, "not well-formed JSON"},
		{"comma at the end", "t.json", "[{\"a\":1},\n]", "", 1, 9, 2, "not well-formed JSON"},
		{"bad line", "t.jsonl", "{\"a\":1}\n{\"a\" 1}\n", "", 2, 6, 2, "not well-formed JSON"},
		{"raw line end in a string", "t.json", "{\"a\":\"x\ny\"}", "", 1, 8, 1, "not well-formed JSON"},
		{"behind the records", "t.json", "[{\"a\":1}]\n]", "", 2, 1, 2, "not well-formed JSON"},
		{"no records at the path", "t.json", "{\"x\":{\"items\":[]}}", "items", 0, 0, 0, "nothing at this path"},
		{"bad behind the records' path", "t.json", "{\"items\":[{\"a\":1}],\n\"x\":}", "items", 2, 5, 2, "not well-formed JSON"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			src := mustNew(t, files(tt.file, tt.text), Spec{Name: "t", Files: []string{tt.file}, Records: tt.records}).Source("t")
			e := failure(t, src, src.Layout())
			if e.File != tt.file || e.Line != tt.line || e.Col != tt.col || e.Row != tt.row || !strings.Contains(e.Reason, tt.reason) {
				t.Errorf("%#v\nwant line %d, column %d, row %d: %s", e, tt.line, tt.col, tt.row, tt.reason)
			}
		})
	}
}

func TestWhereInJSON(t *testing.T) {
	src := mustNew(t, files("t.json", "[{\n\"id\": 1,\n\"a\": [\n  {\"b\": \"x\",\n   \"c\": 5}]}]"), Spec{Name: "t", Files: []string{"t.json"}}).Source("t")
	l := src.Layout()
	id := slots(t, l, "id", "a.c")
	a, at := kids(t, l, "a")
	f := slots(t, a, "c", "b")
	err := src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		r := &b.Rows[0]
		kid := &r.Kids[at][0]
		same(t, "places", []string{place(l.Where(r, id[0])), place(l.Where(r, id[1])), place(a.Where(kid, f[0])), place(a.Where(kid, f[1])), place(a.WhereRow(kid))},
			[]string{`t.json row 1 line 2 id="1"`, `t.json row 1 line 5 a.c="5"`, `t.json row 1 line 5 a[0].c="5"`, `t.json row 1 line 4 a[0].b="x"`, `t.json row 1 line 4 a[0]=""`})
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestDescribeJSON(t *testing.T) {
	const text = `[{"id":1,"a":[{"b":"x"},{"b":"y"}],"o":{"p":null}},{"id":2,"a":[],"o":{"p":"z"},"tags":["t","u","v"]},{"id":3,"e":{}}]`
	src := mustNew(t, files("t.json", text), Spec{Name: "t", Files: []string{"t.json"}}).Source("t")
	d, err := src.Describe()
	if err != nil {
		t.Fatal(err)
	}
	want := []Column{
		{Path: "id", Count: 3, Most: 1, Sample: "1"},
		{Path: "a", Count: 1, Most: 2, Rows: true},
		{Path: "a.b", Count: 1, Most: 2, Sample: "x"},
		{Path: "o.p", Count: 1, Most: 1, Sample: "z"},
		{Path: "tags", Count: 1, Most: 3, Sample: "t", Rows: true},
	}
	if !d.Complete || d.Records != 3 || len(d.Columns) != len(want) {
		t.Fatalf("%+v", d)
	}
	for i, w := range want {
		got := d.Columns[i]
		got.value, got.inner = false, false
		if got != w {
			t.Errorf("%+v, want %+v", got, w)
		}
	}
}

// What is met only behind the sample that Describe looks at is accepted as a
// field, and listed as unused after a Read.
func TestPathsBehindTheSample(t *testing.T) {
	var b strings.Builder
	for range describeMost {
		b.WriteString("{\"id\":1,\"o\":{\"p\":1}}\n")
	}
	b.WriteString("{\"id\":2,\"late\":\"x\",\"o\":{\"q\":2,\"later\":3}}\n")
	src := mustNew(t, files("t.jsonl", b.String()), Spec{Name: "t", Files: []string{"t.jsonl"}}).Source("t")
	d, err := src.Describe()
	if err != nil || d.Complete || d.Records != describeMost {
		t.Fatalf("%+v, %v", d, err)
	}
	l := nested(t, src, "id", "o.q")
	rows := rowsOf(t, src, l, nil)
	same(t, "last row", rows[len(rows)-1:], []string{"2001/2001: 2|2"})
	var unused []string
	for _, c := range src.Unused(l) {
		unused = append(unused, c.Path)
	}
	same(t, "unused", unused, []string{"o.p", "late", "o.later"})
}

// Any bytes: no panic, valid JSON is read, and what is not is refused at a place
// within the file.
func FuzzJSON(f *testing.F) {
	for _, s := range []string{`[{"a":[1,{"b":"x"}]},null]`, "{\"a\":1}\n{\"a\":\"\\ud800\"}", `{"a":{"b":[[],[{}]]},"c":tru}`, `"x"`, "[[1]]", "{\"\\\"\":0}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		src := mustNew(t, files("t.json", string(data)), Spec{Name: "t", Files: []string{"t.json"}, Encoding: "utf-8"}).Source("t")
		d, err := src.Describe()
		if err != nil {
			lines := bytes.Count(data, []byte{'\n'}) + 1
			if e, ok := err.(*Error); !ok || e.Line > lines || e.Col > len(data)+1 {
				t.Fatalf("%q: %v", data, err)
			} else if json.Valid(data) {
				t.Fatalf("%q is valid: %v", data, err)
			}
			return
		}
		l := src.Layout()
		slots(t, l, ".")
		for _, c := range d.Columns {
			if _, err := l.Field(c.Path); c.value && err != nil {
				t.Fatalf("%q: %v", data, err)
			}
			if c.Rows {
				sub, _ := kids(t, l, c.Path)
				sub.Field(".")
			}
		}
		if _, err := readAll(src, l, Options{Report: &Report{}}); err != nil {
			t.Fatalf("%q: %v", data, err)
		}
	})
}

// Strings written by encoding/json come back as they were, but for the repairs.
func FuzzJSONStrings(f *testing.F) {
	f.Add("a", "\u2028\x01\"\\/")
	f.Add("é\x7f", "<b>")
	f.Fuzz(func(t *testing.T, a, b string) {
		line, err := json.Marshal(map[string]any{"v": []string{a, b}, "skip": map[string]string{a: b}})
		if err != nil {
			t.Fatal(err)
		}
		src := mustNew(t, files("t.jsonl", string(line)+"\n"+string(line)), Spec{Name: "t", Files: []string{"t.jsonl"}, HTML: "keep"}).Source("t")
		l := src.Layout()
		v, at := kids(t, l, "v")
		slots(t, v, ".")
		var c cleaner
		var want, got []string
		for _, s := range []string{a, b, a, b} {
			want = append(want, string(c.clean([]byte(strings.ToValidUTF8(s, "\ufffd")))))
		}
		err = src.Read(t.Context(), l, Options{}, func(b *Batch) error {
			for i := range b.Rows {
				for k := range b.Rows[i].Kids[at] {
					got = append(got, strings.Clone(b.Rows[i].Kids[at][k].Cells[0]))
				}
			}
			b.Release()
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if utf8.ValidString(a) && utf8.ValidString(b) {
			same(t, "strings", got, want)
		}
	})
}

func TestFilesWithoutRecords(t *testing.T) {
	for _, tt := range []struct{ suffix, with, without, path string }{
		{"json", `{"id":1,"s":{"k":[{"n":"a"},{"n":"b"}]}}`, `{"id":2}`, "s.k"},
		{"xml", `<o><s><k><n>a</n></k><k><n>b</n></k></s></o>`, `<o><i>2</i></o>`, "o.s.k"},
	} {
		one, two, three := "1."+tt.suffix, "2."+tt.suffix, "3."+tt.suffix
		spec := Spec{Name: "t", Files: []string{one, two, three}, Records: tt.path}
		src := mustNew(t, files(one, tt.without, two, tt.with, three, tt.without), spec).Source("t")
		rep := &Report{}
		same(t, "rows", rowsOf(t, src, nested(t, src, "n"), rep), []string{"1/1: a", "2/1: b"})
		same(t, "notes", noted(rep), []string{fmt.Sprintf(`files-without-records %s: 2 @ %s row 0 line 0 ="" %s row 0 line 0 =""`, tt.path, one, three)})

		spec.Files = []string{one, three}
		src = mustNew(t, files(one, tt.without, three, tt.without), spec).Source("t")
		if e := failure(t, src, src.Layout()); e.File != one || !strings.Contains(e.Reason, "at this path") {
			t.Error(e)
		}
	}
}
