package validate

import (
	"encoding/json"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v5"
	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/schemas"
)

// definition compiles one definition of the schemas of entity documents.
func definition(t testing.TB, name string) *jsonschema.Schema {
	t.Helper()
	s, err := schemas.NewCompiler().Compile(schemas.Base + "entity/core.json#/$defs/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// garbled makes strings near the good ones: pieces joined, characters changed.
func garbled(pieces []string, odd string) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := []rune(strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 1, 7).Draw(t, "pieces"), ""))
		for range rapid.IntRange(0, 3).Draw(t, "changes") {
			if len(s) == 0 {
				break
			}
			at := rapid.IntRange(0, len(s)-1).Draw(t, "at")
			s[at] = rapid.SampledFrom([]rune(odd)).Draw(t, "odd")
		}
		return string(s)
	})
}

func TestIRIsAsTheSchemaReadsThem(t *testing.T) {
	schema := definition(t, "iri")
	texts := garbled([]string{
		"http://", "https://", "example.org", "www.example.org:8080", "/object/KQ.1911.4", "?q=1", "#top", "/", "//", "urn:isbn:",
		"%20", "%C3%85", "å", "日本", "[::1]", "@", ":", "mailto:", "a.b-c_d~e", "!$&'()*+,;=", "",
	}, "a%/:?#[]@ \"<>{}|\\^`\t\x00\x7f\u0085é\u2028")
	count := map[bool]int{}
	rapid.Check(t, func(t *rapid.T) {
		s := texts.Draw(t, "iri")
		want := schema.Validate(s) == nil
		count[want]++
		if got := absoluteIRI(s); got != want {
			t.Fatalf("%q: absoluteIRI %v, schema %v", s, got, want)
		}
		want = want && entity.CheckIRI(s) == nil
		if commonIRI(s) && !want {
			t.Fatalf("%q: commonIRI knows it, schema or writers do not", s)
		}
		if got := goodIRI(s); got != want {
			t.Fatalf("%q: goodIRI %v, schema and writers %v", s, got, want)
		}
	})
	if count[true] < 10 || count[false] < 10 {
		t.Errorf("one-sided test: %v", count)
	}
	for _, s := range []string{"https://example.org", "http://example.org/", "https://vocab.example/aat/300404670", "http://example.org/%C3%85/å?x=y#z"} {
		if !commonIRI(s) {
			t.Errorf("commonIRI does not know %q", s)
		}
	}
	for _, s := range []string{"http://example.org/\xff", "http://example.org/\uFFFE"} {
		if goodIRI(s) {
			t.Errorf("%q is good", s)
		}
	}
}

func TestDatesAsTheSchemaReadsThem(t *testing.T) {
	schema := definition(t, "dateTime")
	texts := garbled([]string{"1851-05-01T12:34:56Z"}, "0123456789-:TZtz.+ é")
	more := garbled([]string{"1852-02-29T", "1851-02-29T", "1900-02-29T", "1851-12-31T", "23:59:60", "00:00:00", "12:34:56", ".5", "Z", "z", "+01:00", "-14:00", "+14:01", "+23:59", "++1:00"},
		"0123456789-:TZtz.+ é")
	count := map[bool]int{}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(texts, more).Draw(t, "date")
		want := schema.Validate(s) == nil
		count[want]++
		if got := schemaDateTime(s); got != want {
			t.Fatalf("%q: schemaDateTime %v, schema %v", s, got, want)
		}
		if commonDateTime(s) && !want {
			t.Fatalf("%q: commonDateTime knows it, the schema does not", s)
		}
	})
	if count[true] < 10 || count[false] < 10 {
		t.Errorf("one-sided test: %v", count)
	}
	for _, s := range []string{"1852-02-29T00:00:00Z", "1851-12-31T23:59:59Z", "2000-02-29T00:00:00Z", "0000-01-01T00:00:00Z"} {
		if !commonDateTime(s) {
			t.Errorf("commonDateTime does not know %q", s)
		}
	}
}

func TestEveryDayOfACalendar(t *testing.T) {
	schema := definition(t, "dateTime")
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		b := []byte("0000-00-00T00:00:00Z")
		put := func(at, n int) { b[at], b[at+1] = byte('0'+n/10), byte('0'+n%10) }
		put(0, rng.IntN(22))
		put(2, rng.IntN(100))
		put(5, rng.IntN(14))
		put(8, rng.IntN(33))
		put(11, rng.IntN(26))
		put(14, rng.IntN(62))
		put(17, rng.IntN(62))
		if s := string(b); commonDateTime(s) != (schema.Validate(s) == nil) {
			t.Fatalf("%s: commonDateTime %v", s, commonDateTime(s))
		}
	}
}

func TestNumbersAsJSONWritesThem(t *testing.T) {
	texts := garbled([]string{"0", "-", "1", "23", ".5", "e3", "E-2", "+", "00"}, "0123456789.-+eE x")
	rapid.Check(t, func(t *rapid.T) {
		s := texts.Draw(t, "number")
		want := json.Valid([]byte(s)) && strings.TrimSpace(s) == s
		if got := goodNumber(s); got != want {
			t.Fatalf("%q: %v, want %v", s, got, want)
		}
	})
	for s, want := range map[string]bool{"1": true, "80.9": true, "1e308": true, "1e309": false, "-1e309": false, "1e-400": true, strings.Repeat("9", 400): false} {
		if got := finite(s); got != want {
			t.Errorf("finite(%q) = %v", s, got)
		}
	}
}

func TestTextThatXMLCanCarry(t *testing.T) {
	ok := func(s string) bool {
		if !utf8.ValidString(s) {
			return false
		}
		for _, r := range s {
			if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
				return false
			}
		}
		return true
	}
	odd := []string{"\x00", "\x1f", " ", "\t", "\n", "\x7f", "\x80", "\xff", "é", "\u0085", "\uFFFD", "\uFFFE", "\uFFFF", "\U0001F9ED", "\xed\xa0\x80", "\xc3"}
	rng := rand.New(rand.NewPCG(3, 4))
	good := 0
	for range 50000 {
		s := strings.Repeat("a", rng.IntN(20))
		for range rng.IntN(3) {
			s += odd[rng.IntN(len(odd))] + strings.Repeat("~", rng.IntN(12))
		}
		want := ok(s)
		if got := cleanText(s); got != want {
			t.Fatalf("cleanText(%q) = %v", s, got)
		}
		if want {
			good++
		} else if firstBad(s) == "" {
			t.Fatalf("firstBad(%q) says nothing", s)
		}
	}
	if good < 1000 {
		t.Errorf("only %d good texts", good)
	}
	for s, want := range map[string]bool{"": true, "   ": true, "\u00a0\t": true, "a": false, " é": false, "é": false} {
		if got := blank(s); got != want {
			t.Errorf("blank(%q) = %v", s, got)
		}
	}
}

func TestMediaTypes(t *testing.T) {
	for s, want := range map[string]bool{
		"image/jpeg": true, "model/gltf-binary": true, "application/ld+json;profile=\"https://example.org/p\"": true, "text/html; charset=utf-8": true,
		"application/vnd.oai.openapi": true, "jpeg": false, "image/": false, "/jpeg": false, "image/jp eg": false, "image/jpeg;": true, "image//x": false,
		"": false, "image/jpeg, image/png": false, ".x/y": false,
	} {
		if got := goodMediaType(s); got != want {
			t.Errorf("goodMediaType(%q) = %v", s, got)
		}
	}
}
