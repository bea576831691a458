package mapping

import (
	"fmt"
	"testing"
	"testing/fstest"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
)

// Words joined by dots name a field in an expression as they do in a hole.
func TestDottedNames(t *testing.T) {
	const data = `{"id":"1","a":{"b":"x","c":{"d":"y"}},"k":"one"}`
	for _, tt := range []struct{ expr, want string }{
		{`a.b + a.c.d`, "xy"},
		{`lower(a.b) + "a.b"`, "xa.b"},
		{`a.b == "x" ? a.c.d : ""`, "y"},
		{`squash({a.b}) + a.c.d`, "xy"},
		{`look.v + id`, "first1"},
		{`a.nosuch`, "unknown-field 1:10+8"},
		{`nosuch.b + id`, "unknown-field 1:10+8"},
		{`look.nosuch`, "unknown-field 1:10+11"},
	} {
		set, err := source.New(fstest.MapFS{
			"t.json": {Data: []byte(data)},
			"l.csv":  {Data: []byte("k,v\none,first\n")},
		}, []source.Spec{
			{Name: "t", Files: []string{"t.json"}, Lookups: map[string]source.Join{"look": {From: "l", On: [][2]string{{"k", "k"}}}}},
			{Name: "l", Files: []string{"l.csv"}},
		})
		if err != nil {
			t.Fatal(err)
		}
		f, err := Parse("t.yaml", []byte("label: '{"+tt.expr+"}'\nmake: Type\nfrom: t\nid: concept/{id}\n"))
		if err != nil {
			t.Fatal(err)
		}
		p, ds := Compile([]*File{f}, Env{Base: "https://a.example/", Sources: set})
		got := ""
		if p == nil {
			got = fmt.Sprintf("%s %d:%d+%d", ds[0].Rule, ds[0].Line, ds[0].Col, ds[0].Len)
		} else {
			got = labels(t, p)
		}
		if got != tt.want {
			t.Errorf("%s: %q, want %q", tt.expr, got, tt.want)
		}
	}
}

// labels are the labels of all documents, one after the other.
func labels(t *testing.T, p *Program) (out string) {
	run := p.NewRun()
	for _, sp := range p.Sources {
		err := sp.Source.Read(t.Context(), sp.Layout, source.Options{}, func(b *source.Batch) error {
			defer b.Release()
			for i := range b.Rows {
				err := run.Record(sp, &b.Rows[i], func(d *entity.Document, _ Meta) error {
					out += d.Label()
					return nil
				})
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}
