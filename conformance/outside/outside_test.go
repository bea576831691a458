package outside

import (
	"errors"
	"strings"
	"testing"
)

// TestDeviationsJudge proves that the list of deviations can fail: an unlisted
// failure, a listed check that passes, a failure for another reason, and an entry
// that names no check.
func TestDeviationsJudge(t *testing.T) {
	list, err := parseDeviations([]byte("deviations:\n- {id: g/known, where: w, fails: expected words, reason: r}\n- {id: g/unused, where: w, fails: f, reason: r}\n"))
	if err != nil {
		t.Fatal(err)
	}
	load := func() *Deviations {
		d := &Deviations{t: t, group: "g", known: map[string]Deviation{}, seen: map[string]bool{}}
		for _, e := range list {
			d.known[strings.TrimPrefix(e.ID, "g/")] = e
		}
		return d
	}
	for _, c := range []struct {
		id    string
		fault error
		want  string
	}{
		{"new", nil, ""},
		{"new", errors.New("broken"), "g/new: broken"},
		{"known", errors.New("the expected words"), ""},
		{"known", errors.New("something else"), "fails otherwise"},
		{"known", nil, "passes now"},
	} {
		d := load()
		got := d.judge(c.id, c.fault)
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s with %v: %q, want %q", c.id, c.fault, got, c.want)
		}
	}
	d := load()
	d.judge("known", errors.New("the expected words"))
	if p := d.unused(true); len(p) != 1 || !strings.Contains(p[0], "g/unused") {
		t.Errorf("unused entries: %v", p)
	}
	if p := d.unused(false); len(p) != 0 {
		t.Errorf("unused entries of a sample: %v", p)
	}
	for _, bad := range []string{
		"deviations:\n- {id: g/x, where: w, fails: f}\n",
		"deviations:\n- {id: g/x, where: w, fails: f, reason: r}\n- {id: g/x, where: w, fails: f, reason: r}\n",
		"deviations:\n- {id: g/x, where: w, fails: f, reason: r, more: m}\n",
	} {
		if _, err := parseDeviations([]byte(bad)); err == nil {
			t.Errorf("accepted: %s", bad)
		}
	}
}

// TestDifference proves that graphs that differ are told apart.
func TestDifference(t *testing.T) {
	read := func(text string) []Quad {
		q, err := ParseNQuads(text)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	const doc = "<http://m.example/1>"
	base := read(doc + " <a:p> <http://m.example/1#x> .\n<http://m.example/1#x> <a:q> \"v\" .\n")
	for text, same := range map[string]bool{
		doc + " <a:p> _:b .\n_:b <a:q> \"v\" .\n":                                       true,
		"_:z <a:q> \"v\" .\n" + doc + " <a:p> _:z .\n" + doc + " <a:p> _:z .\n":         true,
		doc + " <a:p> _:b .\n_:b <a:q> \"v\"@en .\n":                                    false,
		doc + " <a:p> _:b .\n_:b <a:q> \"v\"^^<a:t> .\n":                                false,
		doc + " <a:p> _:b .\n_:c <a:q> \"v\" .\n":                                       false,
		doc + " <a:p> _:b .\n_:b <a:q> \"v\" .\n_:b <a:q> \"w\" .\n":                    false,
		doc + " <a:p> _:b .\n":                                                          false,
		doc + " <a:p> <http://m.example/1/x> .\n<http://m.example/1/x> <a:q> \"v\" .\n": false,
	} {
		want, err := Canonical(Unskolemise(base, "http://m.example/1"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := Canonical(read(text))
		if err != nil {
			t.Fatal(err)
		}
		if (Difference(want, got) == "") != same {
			t.Errorf("same = %v expected for\n%s", same, text)
		}
	}
}
