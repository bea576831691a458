package source

import (
	"strings"
	"testing"
)

// Rows that may have a private cell under another name give no record, neither of
// their own nor for those who join them.
func TestUnsafeRows(t *testing.T) {
	const text = "no,title,value,note\n1,a,SECRET,x\n2,b, c,SECRET,x\n3,d SECRET,x\n4,e,SECRET\n5,\"f\"\"\"\"\",SECRET,x\n6,g,SECRET,x,\n7,\"h\"h,SECRET,x\n"
	open := mustNew(t, files("t.csv", text), Spec{Name: "t", Files: []string{"t.csv"}})
	l := open.Source("t").Layout()
	slots(t, l, "title", "note")
	if all := strings.Join(rowsOf(t, open.Source("t"), l, nil), "\n"); !strings.Contains(all, "SECRET") {
		t.Errorf("the file does not show what this is about: without care nothing private is in the wrong place:\n%s", all)
	}

	set := mustNew(t, files("t.csv", text, "u.csv", "id\n1\n2\n3\n4\n6\n7\n"),
		Spec{Name: "t", Files: []string{"t.csv"}, Withheld: []string{"value"}},
		Spec{Name: "u", Files: []string{"u.csv"}, Lookups: map[string]Join{"thing": {From: "t", On: [][2]string{{"id", "no"}}}}})
	src := set.Source("t")
	l = src.Layout()
	slots(t, l, "no", "title", "note")
	var rep Report
	same(t, "rows", rowsOf(t, src, l, &rep), []string{"2/2: 1|a|x", `6/6: 5|f""|x`, `8/8: 7|"h"h|x`})
	if rep.Count(Unsafe) != 4 {
		t.Errorf("%d unsafe rows: %v", rep.Count(Unsafe), noted(&rep))
	}

	u := set.Source("u").Layout()
	slots(t, u, "id", "thing.title", "thing.note")
	for _, row := range rowsOf(t, set.Source("u"), u, &rep) {
		if strings.Contains(row, "SECRET") {
			t.Errorf("looked up: %s", row)
		}
	}
	for _, n := range noted(&rep) {
		if strings.Contains(n, "SECRET") {
			t.Errorf("reported: %s", n)
		}
	}
}

// Whatever is wrong with a file that has withheld columns, neither the error nor the
// report quotes them, and no other cell takes them in.
func TestPrivateFaults(t *testing.T) {
	const secret = "SECRET"
	for _, tt := range []struct{ name, file, text string }{
		{"unclosed quote", "t.csv", "no,title,value,note\n1,a,\"SECRET,x\n"},
		{"stray quotes", "t.csv", "no,title,value,note\n1,a,\"SECRET\"!,x\n"},
		{"lost delimiter", "t.csv", "no,title,value,note\n1,a SECRET,x\n"},
		{"delimiter too many", "t.csv", "no,title,value,note\n1,a,,SECRET,x\n"},
		{"trailing delimiter", "t.csv", "no,title,value,note\n1,a,SECRET,x,\n"},
		{"bad bytes", "t.csv", "no,title,value,note\n1,a,SECRET\xff\xfe\x80,x\n"},
		{"controls", "t.csv", "no,title,value,note\n1,a,SECRET\x00\x01,x\n"},
		{"markup", "t.csv", "no,title,value,note\n1,a,<b>SECRET&amp;,x\n"},
		{"half a character of UTF-16", "t.csv", utf16LE("no,title,value,note\n1,a,SECRET,x\n", true) + "S"},
		{"unfinished JSON", "t.json", `[{"no":"1","title":"a","note":"x","value":"SECRET`},
		{"bad JSON", "t.json", `[{"no":"1","title":"a","note":"x","value":SECRET}]`},
		{"bad escape", "t.json", `[{"no":"1","title":"a","note":"x","value":"SECRET\q"}]`},
		{"two values", "t.json", `[{"no":"1","title":"a","note":"x","value":"SECRET" "SECRET"}]`},
		{"an object for a value", "t.json", `[{"no":"1","title":"a","note":"x","value":{"SECRET":"SECRET"}}]`},
		{"broken off", "t.jsonl", `{"no":"1","title":"a","note":"x","value":"SECRET"` + "\n" + `{"value":"SECRET"`},
		{"unclosed element", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>SECRET</t></r>"},
		{"bad reference", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>SECRET &SECRET;</value></t></r>"},
		{"bad reference, numbered", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>SECRET &#xSECRET;</value></t></r>"},
		{"an address in brackets", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>Jo <SECRET@SECRET.example></value></t></r>"},
		{"a name in brackets", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>Jo <SECRET></value></t></r>"},
		{"a name in brackets at the end", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>Jo <SECRET>"},
		{"stray bracket", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>SECRET < SECRET</value></t></r>"},
		{"bad attribute", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value v=SECRET>SECRET</value></t></r>"},
		{"attribute without end", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value v=\"SECRET"},
		{"markup within", "t.xml", "<r><t><no>1</no><title>a</title><note>x</note><value>SECRET<![CDATA[SECRET]]><!-- SECRET -- -->x</value></t></r>"},
	} {
		spec := Spec{Name: "t", Files: []string{tt.file}, Withheld: []string{"value"}, Fields: []string{"no", "title", "note"}}
		if strings.HasSuffix(tt.file, ".xml") {
			spec.Records = "r.t"
		}
		if strings.HasSuffix(tt.file, ".csv") {
			spec.Fields = nil
		}
		var rep Report
		var said []string
		set, err := New(files(tt.file, tt.text), []Spec{spec})
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		src := set.Source("t")
		if _, err := src.Describe(); err != nil {
			said = append(said, err.Error())
		} else {
			l := src.Layout()
			for _, p := range []string{"no", "title", "note"} {
				if _, err := l.Field(p); err != nil {
					said = append(said, err.Error())
				}
			}
			rows, err := readAll(src, l, Options{Report: &rep})
			said = append(said, rows...)
			if err != nil {
				said = append(said, err.Error())
			}
		}
		said = append(said, noted(&rep)...)
		if len(said) == 0 {
			t.Errorf("%s: nothing was said at all", tt.name)
		}
		for _, s := range said {
			if strings.Contains(s, secret) {
				t.Errorf("%s: %s", tt.name, s)
			}
		}
	}
}
