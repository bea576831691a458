package service

import (
	"errors"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"
)

func TestPath(t *testing.T) {
	const base = "https://x.example/coll/"
	for iri, want := range map[string]string{
		base + "object/KQ.1911.4":              "object/KQ.1911.4",
		base + "object/a%2fb":                  "object/a%2Fb",
		base + "object/%41%7e":                 "object/A~",
		base + "object/Ö 1":                    "object/%C3%96%201",
		base + "object/a:b@c!$&'()*+,;=":       "object/a:b@c!$&'()*+,;=",
		base + `object/<"{}|\^` + "`>":         "object/%3C%22%7B%7D%7C%5C%5E%60%3E",
		base + "object/\U0001F9ED":             "object/%F0%9F%A7%AD",
		base + "object//1":                     "object//1",
		base + "a/...":                         "a/...",
		base:                                   "",
		base + "/object/1":                     "",
		base + "object/1#part":                 "",
		base + "object/1?q":                    "",
		base + "object/../1":                   "",
		base + "./1":                           "",
		base + "object/%2e%2E/1":               "",
		base + "object/100%":                   "",
		base + "object/%4":                     "",
		base + "object/%zz":                    "",
		base + "object/a\nb":                   "",
		base + "object/a%00b":                  "",
		"https://x.example/other/1":            "",
		"https://x.example/coll":               "",
		"http://x.example/coll/object/1":       "",
		"https://x.example.evil/coll/object/1": "",
	} {
		got, ok := Path(base, iri)
		if ok != (want != "") || ok && got != want {
			t.Errorf("%s: %q, %v, want %q", iri, got, ok, want)
		}
	}
	if _, ok := Path("https://x.example/coll", "https://x.example/collobject/1"); ok {
		t.Error("a base without a slash")
	}
}

func TestReserved(t *testing.T) {
	for path, want := range map[string]bool{
		"healthz": true, "harvest": true, "object/": true, ".well-known/void": true, "downloads/a.nt.gz": true,
		"object/1": false, "healthzone": false, "object": false, "a/b/": false,
	} {
		if Reserved(path) != want {
			t.Errorf("%s: %v", path, !want)
		}
	}
}

func TestRelative(t *testing.T) {
	for _, c := range [][3]string{
		{"object/1", "object/1.ttl", "1.ttl"},
		{"object/1", "person/2", "../person/2"},
		{"object/a/b", "object/c", "../c"},
		{"object/1", "", "../"},
		{"a", "", "./"},
		{"", "object/1", "object/1"},
		{"object/1", "object/", "./"},
		{"object/", "object/1", "1"},
		{"object/1", "object/a:b", "./a:b"},
		{"object/1", "object//b", ".//b"},
		{"object/1", "object/1", "1"},
	} {
		if got := Relative(c[0], c[1]); got != c[2] {
			t.Errorf("%q to %q: %q, want %q", c[0], c[1], got, c[2])
		}
	}
}

// A normal path stays as it is, is a legal path of a URI, and relative references
// lead where they should under any base.
func FuzzAddresses(f *testing.F) {
	for _, s := range [][2]string{{"object/1", "person/2"}, {"a%2Fb/c", "é:x"}, {"a//b", "//"}, {"", "a/"}, {"..", "%2e"}} {
		f.Add(s[0], s[1])
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		from, ok := NormalPath(a)
		if !ok {
			return
		}
		if again, ok := NormalPath(from); !ok || again != from {
			t.Fatalf("%q is not stable: %q, %v", from, again, ok)
		}
		to, ok := NormalPath(b)
		if !ok {
			return
		}
		for _, base := range []string{"http://127.0.0.1:8080/", "https://x.example/coll/"} {
			at, err := url.Parse(base + from)
			if err != nil {
				t.Fatalf("%q is not a path: %v", from, err)
			}
			ref, err := url.Parse(Relative(from, to))
			if err != nil {
				t.Fatalf("%q to %q: %v", from, to, err)
			}
			if got := at.ResolveReference(ref).EscapedPath(); got != strings.TrimPrefix(base+to, at.Scheme+"://"+at.Host) && !strings.Contains(to+from, "//") && Relative(from, to) != "%2A" { // net/url reads "%2A" as the asterisk of OPTIONS
				t.Fatalf("%q to %q leads to %q", from, to, got)
			}
		}
	})
}

func TestNextTime(t *testing.T) {
	at := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
	cest := time.FixedZone("", 7200)
	for _, c := range [][3]time.Time{
		{{}, at.Add(999 * time.Millisecond), at},
		{at, at.Add(time.Hour), at.Add(time.Hour)},
		{at, at.Add(999 * time.Millisecond), at.Add(time.Second)},
		{at, at.Add(-time.Hour), at.Add(time.Second)},
		{at, at.Add(time.Minute).In(cest), at.Add(time.Minute)},
	} {
		if got := NextTime(c[0], c[1]); !got.Equal(c[2]) || got.Location() != time.UTC {
			t.Errorf("after %v at %v: %v, want %v", c[0], c[1], got, c[2])
		}
	}
}

func TestErrors(t *testing.T) {
	cause := errors.New("cause")
	for _, c := range []struct {
		err  error
		code Code
		text string
	}{
		{nil, "", ""},
		{cause, Internal, "cause"},
		{Errorf(NotFound, "no %d", 7), NotFound, "no 7"},
		{fmt.Errorf("outer: %w", &Error{Code: Conflict, Message: "clash", Err: cause}), Conflict, "outer: clash: cause"},
		{&Error{Code: Unavailable, Err: cause}, Unavailable, "cause"},
	} {
		if CodeOf(c.err) != c.code || c.err != nil && c.err.Error() != c.text {
			t.Errorf("%v: %s", c.err, CodeOf(c.err))
		}
	}
	if !errors.Is(&Error{Err: cause}, cause) {
		t.Error("the cause is lost")
	}
}

func TestSummary(t *testing.T) {
	var s Summary
	for c := Unchanged; c <= Relocated; c++ {
		s.Count(c)
		if strings.HasPrefix(c.String(), "Change(") {
			t.Errorf("%d has no name", c)
		}
	}
	if s != (Summary{1, 1, 1, 1, 1, 1}) || s.Changes() != 5 {
		t.Errorf("%+v", s)
	}
	for st, want := range map[State]string{Live: "live", Gone: "gone", Moved: "moved", 9: "State(9)"} {
		if st.String() != want {
			t.Errorf("%v", st)
		}
	}
}
