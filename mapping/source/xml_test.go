package source

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf8"
)

func TestXML(t *testing.T) {
	lido := map[string]string{"l": "http://www.lido-schema.org"}
	tests := []struct {
		name  string
		spec  Spec
		text  string
		paths []string
		rows  []string
		notes []string
	}{
		{name: "root is the record", text: "<o><a>x</a><b c='1'>y</b></o>", paths: []string{"a", "b", "b.@c"}, rows: []string{"1/1: x|y|1"}},
		{name: "attributes of the record", text: "<o\n id='7'>x</o>", paths: []string{"@id", ".@id", "."}, rows: []string{"1/1: 7|x"}},
		{name: "records at a path", spec: Spec{Records: "list.o"}, text: "<list><x/>\n<o><a>1</a></o>\n<y><o><a>9</a></o></y><o><a>2</a></o></list>",
			paths: []string{"a"}, rows: []string{"1/2: 1", "2/3: 2"}},
		{name: "path without the root", spec: Spec{Records: "in.o"}, text: "<list><in><o><a>1</a></o></in><in><o><a>2</a></o></in></list>",
			paths: []string{"a"}, rows: []string{"1/1: 1", "2/1: 2"}},
		{name: "prefixes as written", text: `<l:lido xmlns:l="http://www.lido-schema.org"><l:a l:t="x">1</l:a></l:lido>`, paths: []string{"l:a", "l:a.@l:t"}, rows: []string{"1/1: 1|x"}},
		{name: "declared prefixes", spec: Spec{Namespaces: lido, Records: "l:wrap.l:lido"},
			text:  `<w:wrap xmlns:w="http://www.lido-schema.org"><w:lido><w:a w:t="x" t="y">1</w:a><a xmlns="http://other.example/">2</a></w:lido><lido xmlns="http://www.lido-schema.org"><a>3</a></lido></w:wrap>`,
			paths: []string{"l:a", "l:a.@l:t", "l:a.@t", "a"}, rows: []string{"1/1: 1|x|y|2", "2/1: 3|||"}},
		{name: "a declared prefix used for something else", spec: Spec{Namespaces: lido}, text: `<o xmlns:l="http://other.example/" xmlns:m="http://www.lido-schema.org"><l:a>1</l:a><m:a>2</m:a></o>`,
			paths: []string{"l:a"}, rows: []string{"1/1: 2"}},
		{name: "text and white space", text: "<o><a>\n  one\n  two \n</a><b>   </b><c/></o>", paths: []string{"a", "b", "c"}, rows: []string{"1/1: one\n  two||"}},
		{name: "mixed content", text: "<o><a>The <i>Rose</i> of <b><i>Hull</i></b>.</a></o>", paths: []string{"a", "a.i"}, rows: []string{"1/1: The Rose of Hull.|Rose"}},
		{name: "CDATA and comments", text: "<o><a>1<![CDATA[ < & ]]>2<!-- no -->3<?no no?>4</a></o>", paths: []string{"a"}, rows: []string{"1/1: 1 < & 234"}},
		{name: "references", text: "<o a='&lt;&#65;&#x42;'>&amp;&quot;&apos;&gt;</o>", paths: []string{"@a", "."}, rows: []string{`1/1: <AB|&"'>`}},
		{name: "HTML's entities", text: "<o a='&uuml;'>caf&eacute;</o>", paths: []string{"@a", "."}, rows: []string{"1/1: ü|café"},
			notes: []string{`html-entities : 1 @ t.xml row 1 line 1 ="caf&eacute;"`, `html-entities @a: 1 @ t.xml row 1 line 1 @a="&uuml;"`}},
		{name: "HTML in the text", text: "<o>&lt;p&gt;one&lt;/p&gt;&lt;p&gt;two&lt;/p&gt;</o>", paths: []string{"."}, rows: []string{"1/1: one\ntwo"},
			notes: []string{`html-tags .: 1 @ t.xml row 1 line 1 .="<p>one</p><p>two</p>"`}},
		{name: "characters XML can't carry", text: "<o>a\x01b&#2;c&#xD834;&#xFFFE;\ufffe</o>", paths: []string{"."}, rows: []string{"1/1: abc"},
			notes: []string{"control-characters .: 1 @ t.xml row 1 line 1 .=\"a\\x01b\\x02c�\\ufffe\\ufffe\"", "noncharacters .: 1 @ t.xml row 1 line 1 .=\"a\\x01b\\x02c�\\ufffe\\ufffe\"",
				"lone-surrogates .: 1 @ t.xml row 1 line 1 .=\"a\\x01b\\x02c�\\ufffe\\ufffe\""}},
		{name: "line ends", text: "<o a='1\r\n2\t3'>x\r\ny\rz&#13;</o>", paths: []string{"@a", "."}, rows: []string{"1/1: 1 2 3|x\ny\nz"}},
		{name: "repeated elements, one wanted", text: "<o><a/><a>x</a><a>y</a><a>x</a></o>", paths: []string{"a"}, rows: []string{"1/1: x"},
			notes: []string{`several-values a: 1 @ t.xml row 1 line 1 a="y"`}},
		{name: "values of one element belong together", text: "<o><a><b>1</b></a><a><b>1</b><c>2</c></a></o>", paths: []string{"a.b", "a.c"}, rows: []string{"1/1: 1|"},
			notes: []string{`several-values a.c: 1 @ t.xml row 1 line 1 a.c="2"`}},
		{name: "the first element that has anything", text: "<o><a><b/><c> </c></a><a><b/><c>2</c></a></o>", paths: []string{"a.b", "a.c"}, rows: []string{"1/1: |2"}},
		{name: "child rows", text: "<o>\n<s><e t='p'><n>1</n><n>2</n></e></s>\n<s><e t='q'/></s>\n<e t='no'/></o>", paths: []string{"s.e[].@t", "s.e[].n[]."},
			rows: []string{"1/1: ", "  1/2 s.e[1]: p", "    1/2 s.e[1].n[1]: 1", "    1/2 s.e[1].n[2]: 2", "  1/3 s[2].e[1]: q"}},
		{name: "child rows and values of the same element", text: "<o><a>x</a><a>x</a></o>", paths: []string{"a", "a[]."}, rows: []string{"1/1: x", "  1/1 a[1]: x", "  1/1 a[2]: x"}},
		{name: "elements in themselves", text: "<a><a><a>x</a></a></a>", paths: []string{"a.a", "a[].a"}, rows: []string{"1/1: x", "  1/1 a[1]: x"}},
		{name: "names with dots", text: "<o><dc.title>x</dc.title><dc><creator>y</creator></dc></o>", paths: []string{"dc.title", "dc.creator"}, rows: []string{"1/1: x|y"}},
		{name: "latin 1 by its declaration", text: "<?xml version='1.0' encoding='ISO-8859-1'?><o>M\xfcller</o>", paths: []string{"."}, rows: []string{"1/1: Müller"}},
		{name: "wrong declaration of UTF-16", text: "<?xml version=\"1.0\" encoding=\"UTF-16\"?><o>Müller</o>", paths: []string{"."}, rows: []string{"1/1: Müller"}},
		{name: "UTF-16", text: utf16LE("<?xml version=\"1.0\" encoding=\"UTF-16\"?>\n<o>Müller 𝄞</o>", true), paths: []string{"."}, rows: []string{"1/2: Müller 𝄞"}},
		{name: "byte order mark, DOCTYPE, instructions", text: "\ufeff<?xml version='1.0'?><!DOCTYPE o [<!ELEMENT o (#PCDATA)> <!-- ' > --> <!ENTITY x '>]'>]>\n<?p q?><!-- c --><o>x</o><!-- d -->\n",
			paths: []string{"."}, rows: []string{"1/2: x"}},
		{name: "greater-than in attributes", text: "<o a='x > y'><b c=\"'>\"/></o>", paths: []string{"@a", "b.@c"}, rows: []string{"1/1: x > y|'>"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.spec.Name, tt.spec.Files = "t", []string{"t.xml"}
			tt.spec.Fields = tt.paths
			src := mustNew(t, files("t.xml", tt.text), tt.spec).Source("t")
			l := nested(t, src, tt.paths...)
			rep := &Report{}
			same(t, "rows", rowsOf(t, src, l, rep), tt.rows)
			same(t, "notes", noted(rep), tt.notes)
		})
	}
}

func TestXMLFaults(t *testing.T) {
	tests := []struct {
		name, text     string
		records        string
		line, col, row int
		reason         string
	}{
		{"empty", " ", "", 1, 2, 0, "no element in this file"},
		{"element not closed", "<o>\n<a>x\n", "", 3, 1, 1, "before element a, which began on line 2, is closed"},
		{"wrong end tag", "<o>\n <a>x</b></o>", "", 2, 6, 1, "</b> stands where element a, which began on line 2"},
		{"end tag too many", "<o/></o>", "", 1, 5, 0, "</o> closes nothing"},
		{"tag not closed", "<o>é<a b='c'", "", 1, 5, 1, "the file ends within a tag"},
		{"attribute without quotes", "<o a=b/>", "", 1, 6, 0, "not in quotation marks"},
		{"attribute without value", "<o a/>", "", 1, 5, 0, "attribute a has no value"},
		{"attribute twice", "<o a='1' a='2'/>", "", 1, 12, 0, "attribute a twice"},
		{"less-than in an attribute", "<o a='<'/>", "", 1, 7, 0, "a < in the value"},
		{"no space", "<o a='1'b='2'/>", "", 1, 9, 0, "a space is missing"},
		{"ampersand", "<o>\nfish & chips</o>", "", 2, 6, 1, "& that begins no reference"},
		{"ampersand in an attribute", "<o a='x & y'/>", "", 1, 9, 0, "& that begins no reference"},
		{"unknown entity", "<o>&nosuch;</o>", "", 1, 4, 1, "&nosuch; is not known"},
		{"bad numeric reference", "<o>&#xg;</o>", "", 1, 4, 1, "& that begins no reference"},
		{"less-than in text", "<o>a < b</o>", "", 1, 9, 1, "a < within a tag"},
		{"less-than at the end of a text", "<o>a <></o>", "", 1, 6, 1, "begins no tag"},
		{"]]> in text", "<o>]]></o>", "", 1, 4, 1, "]]>"},
		{"comment not closed", "<o><!-- x", "", 1, 4, 1, "within a comment"},
		{"two hyphens", "<o><!-- x -- y --></o>", "", 1, 11, 1, "-- within a comment"},
		{"CDATA not closed", "<o><![CDATA[ x ]]</o>", "", 1, 4, 1, "within a CDATA section"},
		{"text outside", "<o/>\nx", "", 2, 1, 0, "text outside the root"},
		{"two roots", "<o/><o/>", "", 1, 5, 0, "second root element"},
		{"late declaration", "\n<?xml version='1.0'?><o/>", "", 2, 1, 0, "must stand at the very beginning"},
		{"not XML", "a,b\n1,2\n", "", 1, 1, 0, "text outside the root"},
		{"no records at the path", "<o><a/></o>", "o.b", 0, 0, 0, "no element at this path"},
		{"fault in what is skipped", "<o><x><y>\n<z></y></x></o>", "", 2, 4, 1, "</y> stands where element z"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			src := mustNew(t, files("t.xml", tt.text), Spec{Name: "t", Files: []string{"t.xml"}, Records: tt.records}).Source("t")
			e := failure(t, src, src.Layout())
			if e.File != "t.xml" || e.Line != tt.line || e.Col != tt.col || e.Row != tt.row || !strings.Contains(e.Reason, tt.reason) {
				t.Errorf("%v\nwant line %d, column %d, row %d: %s", e, tt.line, tt.col, tt.row, tt.reason)
			}
		})
	}
}

func TestWhereInXML(t *testing.T) {
	src := mustNew(t, files("t.xml", "<o>\n<a>\n<b c='1'>x</b></a><a>\n\n<b>y</b></a></o>"), Spec{Name: "t", Files: []string{"t.xml"}}).Source("t")
	l := src.Layout()
	f := slots(t, l, "a.b", "a.b.@c")
	a, at := kids(t, l, "a")
	g := slots(t, a, "b")
	err := src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		r := &b.Rows[0]
		same(t, "places", []string{place(l.Where(r, f[0])), place(l.Where(r, f[1])), place(a.Where(&r.Kids[at][1], g[0]))},
			[]string{`t.xml row 1 line 3 a.b="x"`, `t.xml row 1 line 3 a.b.@c="1"`, `t.xml row 1 line 5 a[2].b="y"`})
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestUnusedXML(t *testing.T) {
	src := mustNew(t, files("t.xml", "<o><a>x<i n='1'>y</i></a><b><c/>\n</b><d k='v'>z</d></o>"), Spec{Name: "t", Files: []string{"t.xml"}}).Source("t")
	l := nested(t, src, "a")
	var got []string
	for _, c := range src.Unused(l) {
		got = append(got, c.Path)
	}
	same(t, "unused", got, []string{"a.i.@n", "b.c", "d", "d.@k"})
}

// A long text is handed on in pieces, a long tag is not; both come out whole,
// whatever the pieces in which the file is read.
func TestXMLPieces(t *testing.T) {
	long := strings.Repeat("äb&amp;c]]d\r\n", 30_000)
	want := strings.Repeat("äb&c]]d\n", 30_000)
	doc := "<o a='" + strings.Repeat("x&lt;", 40_000) + "'>" + long + "<b>" + long + "</b><!--" + strings.Repeat("-x", 50_000) + "--></o>"
	for name, r := range map[string]io.Reader{"whole": strings.NewReader(doc), "bytes": iotest.OneByteReader(strings.NewReader(doc)), "halves": iotest.HalfReader(strings.NewReader(doc))} {
		var text, attr []byte
		x := newXMLScanner(r)
		for {
			kind, err := x.next()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(name, err)
			}
			switch kind {
			case xmlStart:
				if len(x.attrs) > 0 {
					attr, _ = decodeXML(attr, x.attrs[0].value, true)
				}
			case xmlText:
				text, _ = decodeXML(text, x.text, false)
			}
		}
		if string(text) != want+want || string(attr) != strings.Repeat("x<", 40_000) {
			t.Errorf("%s: %d bytes of text and %d of attribute, want %d and %d", name, len(text), len(attr), 2*len(want), 80_000)
		}
	}
}

func TestXMLLimits(t *testing.T) {
	for doc, reason := range map[string]string{
		"<o a='" + strings.Repeat(">", 2*xmlTagMost):                                      "longer than 16 MiB",
		"<!--" + strings.Repeat("x", 2*xmlTagMost):                                        "longer than 16 MiB",
		strings.Repeat("<a>", xmlDepth+1):                                                 "nested more than 10000 deep",
		"<o" + strings.Repeat(" a"+strings.Repeat("b", 20)+"='1'", xmlAttrsMost+1) + "/>": "twice",
		"<o" + attributesOf(xmlAttrsMost+1) + "/>":                                        "more than 5000 attributes",
	} {
		x := newXMLScanner(strings.NewReader(doc))
		var err error
		for err == nil {
			_, err = x.next()
		}
		if !strings.Contains(err.Error(), reason) {
			t.Errorf("%.40q: %v, want %s", doc, err, reason)
		}
	}
}

func attributesOf(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, " a%d=''", i)
	}
	return b.String()
}

// events lists the tokens of a document with adjacent text joined.
func events(doc []byte) (string, error) {
	var b strings.Builder
	var text []byte
	flush := func() {
		if len(text) > 0 {
			fmt.Fprintf(&b, "%q ", text)
			text = text[:0]
		}
	}
	x := newXMLScanner(bytes.NewReader(doc))
	for {
		kind, err := x.next()
		if err != nil {
			flush()
			if err == io.EOF {
				err = nil
			}
			return b.String(), err
		}
		switch kind {
		case xmlStart:
			flush()
			fmt.Fprintf(&b, "<%s", x.name)
			for _, a := range x.attrs {
				v, _ := decodeXML(nil, a.value, true)
				fmt.Fprintf(&b, " %s=%q", a.name, v)
			}
			b.WriteString("> ")
		case xmlEnd:
			flush()
			fmt.Fprintf(&b, "</%s> ", x.name)
		case xmlText:
			if x.coded {
				text, _ = decodeXML(text, x.text, false)
			} else {
				text = append(text, x.text...)
			}
		}
	}
}

// otherEvents does the same with the standard library's decoder.
func otherEvents(doc []byte) (string, error) {
	var b strings.Builder
	var text []byte
	flush := func() {
		if len(text) > 0 {
			fmt.Fprintf(&b, "%q ", text)
			text = text[:0]
		}
	}
	name := func(n xml.Name) string {
		if n.Space != "" {
			return n.Space + ":" + n.Local
		}
		return n.Local
	}
	d := xml.NewDecoder(bytes.NewReader(doc))
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	var open []string
	roots := 0
	for {
		tok, err := d.RawToken()
		if err != nil {
			flush()
			if err == io.EOF {
				err = nil
				if len(open) > 0 || roots != 1 {
					err = errors.New("not one whole root element")
				}
			}
			return b.String(), err
		}
		switch v := tok.(type) {
		case xml.StartElement:
			flush()
			if len(open) == 0 {
				roots++
			}
			open = append(open, name(v.Name))
			fmt.Fprintf(&b, "<%s", name(v.Name))
			for _, a := range v.Attr {
				// The library does not normalise white space (§3.3.3).
				fmt.Fprintf(&b, " %s=%q", name(a.Name), strings.NewReplacer("\n", " ", "\t", " ").Replace(a.Value))
			}
			b.WriteString("> ")
		case xml.EndElement:
			flush()
			if len(open) == 0 || open[len(open)-1] != name(v.Name) {
				return b.String(), errors.New("end tag out of place")
			}
			open = open[:len(open)-1]
			fmt.Fprintf(&b, "</%s> ", name(v.Name))
		case xml.CharData:
			if len(open) > 0 {
				text = append(text, v...)
			} else if len(trim(v)) > 0 {
				return b.String(), errors.New("text outside")
			}
		}
	}
}

// What the standard library takes for a document, the scanner reads the same or
// refuses for a reason the library does not check.
func FuzzXML(f *testing.F) {
	for _, s := range []string{"<o/>", "<o a='1' b=\"&lt;2\">x&amp;y<![CDATA[<z>]]>\r\n</o>", "<?xml version='1.0'?><!DOCTYPE o [<!ENTITY a 'b'>]><o><!-- c --><p:q p:r=''/></o>",
		"<a><b>1</b>\n<b>2</b></a>", "<a>&#65;&#x1F600;</a>", "<a>]]&gt;</a>", "<é ü='ö'>ß</é>", "<o a=' > '>", "<o><!-- - --></o>"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, doc []byte) {
		got, err := events(doc)
		var at *Error
		if errors.As(err, &at) {
			if lines := bytes.Count(doc, []byte{'\n'}) + 1; at.Line < 1 || at.Line > lines || at.Col < 1 || at.Col > len(doc)+1 {
				t.Fatalf("%q: %v is outside the file", doc, err)
			}
		}
		if !utf8.Valid(doc) {
			return
		}
		want, otherErr := otherEvents(doc)
		if otherErr != nil || err != nil && stricter(at) {
			return
		}
		if err != nil {
			t.Fatalf("%q: %v; the library reads it", doc, err)
		}
		if got != want && !strings.Contains(want, ":\"") && !bytes.Contains(doc, []byte("::")) {
			t.Fatalf("%q:\n got  %s\n want %s", doc, got, want)
		}
	})
}

// stricter tells the mistakes that the standard library lets pass.
func stricter(e *Error) bool {
	for _, s := range []string{"twice", "a < in the value", "space is missing", "must stand", "DOCTYPE", "begins neither", "expected here", "within a tag", "begins no tag", "stands where",
		"no value", "without a name", "-- within"} {
		if e != nil && strings.Contains(e.Reason, s) {
			return true
		}
	}
	return false
}

// An element that is empty here and holds others there has no value of its own.
func TestDescribeEmptyXML(t *testing.T) {
	src := mustNew(t, files("t.xml", "<r><o><p/><q>x</q></o><o><p><n>y</n></p></o><o><q/></o></r>"), Spec{Name: "t", Files: []string{"t.xml"}, Records: "r.o"}).Source("t")
	d, err := src.Describe()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range d.Columns {
		got = append(got, c.Path)
	}
	same(t, "paths", got, []string{"p.n", "q"})
}
