package web

import (
	"slices"
	"strings"
	"testing"

	"ropewalk/mapping/render"
)

var testOffers = []Offer{
	{Type: "application/ld+json", Profile: []string{render.Profile, compactedURI}},
	{Type: "application/json"},
	{Type: "text/html"},
	{Type: "text/turtle"},
	{Type: "application/n-triples"},
	{Type: "application/ld+json", Profile: []string{render.Profile, expandedURI}},
	{Type: "application/ld+json", Profile: []string{render.Profile, flattenedURI}},
}

const (
	oJSONLD = iota
	oJSON
	oHTML
	oTurtle
	oNTriples
	oExpanded
	oFlattened
	oNone = -1
)

// One row for each rule of RFC 9110 §12.5.1 and of the profile parameter.
func TestNegotiate(t *testing.T) {
	for _, c := range []struct {
		rule   string
		accept []string
		want   int
	}{
		{"no field: anything", nil, oJSONLD},
		{"empty field", []string{""}, oJSONLD},
		{"empty members", []string{" , ,"}, oJSONLD},
		{"any", []string{"*/*"}, oJSONLD},
		{"exact", []string{"text/turtle"}, oTurtle},
		{"names of types are case-insensitive", []string{"TEXT/Turtle"}, oTurtle},
		{"any subtype", []string{"text/*"}, oHTML},
		{"any subtype of another type", []string{"application/*"}, oJSONLD},
		{"weights", []string{"text/turtle;q=0.5, application/n-triples;q=0.7"}, oNTriples},
		{"three digits of weight", []string{"text/turtle;q=0.501, application/n-triples;q=0.5"}, oTurtle},
		{"weight defaults to 1", []string{"text/turtle;q=0.9, application/n-triples"}, oNTriples},
		{"name of the weight is case-insensitive", []string{"text/turtle;Q=0.5, application/n-triples;Q=0.7"}, oNTriples},
		{"space around parameters", []string{"text/turtle ; q=0.5 ,\tapplication/n-triples\t;\tq=0.7"}, oNTriples},
		{"weight before other parameters", []string{"text/turtle;q=0.5;charset=utf-8, application/n-triples;q=0.7"}, oNTriples},
		{"several fields are one list", []string{"text/turtle;q=0.5", "application/n-triples;q=0.7"}, oNTriples},
		{"zero excludes", []string{"text/turtle;q=0, */*;q=0.1"}, oJSONLD},
		{"zero excludes the favourite", []string{"application/ld+json;q=0, application/json;q=0, */*"}, oHTML},
		{"zero in three digits", []string{"text/turtle;q=0.000"}, oNone},
		{"nothing but an exclusion", []string{"text/html;q=0"}, oNone},
		{"any is excluded", []string{"*/*;q=0"}, oNone},
		{"specific range goes before type/*", []string{"text/*;q=0.9, text/turtle;q=0.1, application/n-triples;q=0.5"}, oHTML},
		{"specific range with zero within type/*", []string{"text/html;q=0, text/*"}, oTurtle},
		{"type/* goes before */*", []string{"text/*;q=0.1, */*;q=0.5"}, oJSONLD},
		{"order in the field means nothing", []string{"*/*;q=0.5, text/*;q=0.1"}, oJSONLD},
		{"equal weights: the more specific", []string{"*/*, text/turtle"}, oTurtle},
		{"equal weights and specificity: the server's order", []string{"application/n-triples, text/turtle"}, oTurtle},
		{"a browser", []string{"text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,image/webp,*/*;q=0.8,application/signed-exchange;v=b3;q=0.7"}, oHTML},
		{"an RDF client", []string{"application/rdf+xml;q=0.9, text/turtle, application/n-triples;q=0.8, */*;q=0.1"}, oTurtle},
		{"nothing acceptable", []string{"image/png"}, oNone},
		{"unknown beside known", []string{"image/png, text/turtle;q=0.1"}, oTurtle},
		{"charset we have", []string{"text/turtle;charset=UTF-8"}, oTurtle},
		{"charset we do not have", []string{"text/turtle;charset=iso-8859-1"}, oNone},
		{"quoted charset", []string{`text/turtle;charset="utf-8"`}, oTurtle},
		{"unknown parameter matches nothing", []string{"text/turtle;level=1, application/n-triples;q=0.1"}, oNTriples},
		{"a parameter on */*", []string{"*/*;v=1"}, oNone},

		{"profile", []string{`application/ld+json;profile="` + expandedURI + `"`}, oExpanded},
		{"profile name is case-insensitive", []string{`application/ld+json;PROFILE="` + expandedURI + `"`}, oExpanded},
		{"profile URIs are case-sensitive", []string{`application/ld+json;profile="` + strings.ToUpper(expandedURI) + `"`}, oJSONLD},
		{"the default's profile", []string{`application/ld+json;profile="` + render.Profile + `"`}, oJSONLD},
		{"two profiles", []string{`application/ld+json; profile="` + render.Profile + " " + flattenedURI + `"`}, oFlattened},
		{"no profile", []string{"application/ld+json"}, oJSONLD},
		{"empty profile", []string{`application/ld+json;profile=""`}, oJSONLD},
		{"unknown profile is a hint", []string{`application/ld+json;profile="https://example.org/p"`}, oJSONLD},
		{"a hint loses against a name", []string{`application/ld+json;profile="https://example.org/p", text/turtle`}, oTurtle},
		{"profile on a type without any", []string{`application/json;profile="https://example.org/p"`}, oJSON},
		{"excluded profile", []string{`application/ld+json;profile="` + compactedURI + `";q=0, application/ld+json`}, oExpanded},
		{"excluded unknown profile", []string{`application/ld+json;profile="https://example.org/p";q=0, */*`}, oJSONLD},
		{"profile with a weight", []string{`application/ld+json;profile="` + expandedURI + `";q=0.2, text/turtle;q=0.3`}, oTurtle},
		{"comma and semicolon in quotes", []string{`application/ld+json;profile="a,b;q=0", text/turtle;q=0.5`}, oJSONLD},
		{"escaped quote", []string{`application/ld+json;profile="a\"b,c";q=0.1, text/turtle;q=0.5`}, oTurtle},

		{"malformed member is passed over", []string{"turtle, text/turtle"}, oTurtle},
		{"*/subtype is no range", []string{"*/turtle, application/n-triples"}, oNTriples},
		{"nothing readable: as if absent", []string{"turtle"}, oJSONLD},
		{"garbage: as if absent", []string{"\x00\xff;;=,\"", "/"}, oJSONLD},
		{"open quote", []string{`text/turtle, application/ld+json;profile="x`}, oTurtle},
		{"weight above 1 is none", []string{"text/turtle;q=2, application/n-triples;q=0.9"}, oTurtle},
		{"negative weight is none", []string{"text/turtle;q=-1, application/n-triples;q=0.9"}, oTurtle},
		{"four digits are none", []string{"text/turtle;q=0.1234, application/n-triples;q=0.9"}, oTurtle},
		{"member without end", []string{strings.Repeat("a/b,", 1000) + "text/turtle"}, oNone},
	} {
		if got := Negotiate(c.accept, testOffers); got != c.want {
			t.Errorf("%s: %q gives %d, want %d", c.rule, c.accept, got, c.want)
		}
	}
	if got := Negotiate([]string{"*/*"}, nil); got != -1 {
		t.Errorf("nothing offered: %d", got)
	}
}

// One row for each rule of RFC 9110 §12.5.3.
func TestNegotiateCoding(t *testing.T) {
	for _, c := range []struct {
		rule   string
		accept []string
		want   string
		ok     bool
	}{
		{"no field", nil, "", true},
		{"empty field: no coding", []string{""}, "", true},
		{"gzip", []string{"gzip"}, "gzip", true},
		{"old name of gzip", []string{"x-gzip"}, "gzip", true},
		{"names are case-insensitive", []string{"GZip"}, "gzip", true},
		{"zstd is the favourite", []string{"gzip, deflate, br, zstd"}, "zstd", true},
		{"weights", []string{"gzip;q=0.8, zstd;q=0.5"}, "gzip", true},
		{"several fields", []string{"gzip;q=0.8", "zstd"}, "zstd", true},
		{"any", []string{"*"}, "zstd", true},
		{"any but one", []string{"zstd;q=0, *"}, "gzip", true},
		{"zero excludes", []string{"gzip;q=0, zstd;q=0"}, "", true},
		{"unknown codings", []string{"br, deflate"}, "", true},
		{"identity wanted more", []string{"gzip;q=0.5, identity"}, "", true},
		{"identity wanted less", []string{"gzip, identity;q=0.5"}, "gzip", true},
		{"identity excluded", []string{"gzip;q=0.1, identity;q=0"}, "gzip", true},
		{"any excluded, one named", []string{"gzip;q=0.5, *;q=0"}, "gzip", true},
		{"identity named, any excluded", []string{"identity;q=0.1, *;q=0"}, "", true},
		{"nothing left", []string{"identity;q=0"}, "", false},
		{"all excluded", []string{"*;q=0"}, "", false},
		{"only unknown, identity excluded", []string{"br, identity;q=0"}, "", false},
		{"malformed member is passed over", []string{"gzip;q, zstd;q=0.5"}, "zstd", true},
		{"weight that is none", []string{"gzip;q=x"}, "gzip", true},
	} {
		if got, ok := NegotiateCoding(c.accept, true); got != c.want || ok != c.ok {
			t.Errorf("%s: %q gives %q, %v, want %q, %v", c.rule, c.accept, got, ok, c.want, c.ok)
		}
	}
	// A body too small to be worth it is compressed only if it must be.
	for accept, want := range map[string]string{"gzip": "", "gzip, identity;q=0": "gzip", "*;q=0, zstd": "zstd"} {
		if got, ok := NegotiateCoding([]string{accept}, false); got != want || !ok {
			t.Errorf("small body, %q: %q, %v, want %q", accept, got, ok, want)
		}
	}
}

// The choice is one of the offers or none; none is excluded by an exact range; a
// choice stands when ranges that can match nothing are added.
func FuzzNegotiate(f *testing.F) {
	for _, s := range []string{"", "*/*", "text/*;q=0.5, text/turtle;q=0", `application/ld+json;profile="a b"`, "a/b;c=\"\\\"", ";,=/\"\\"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, accept string) {
		got := Negotiate([]string{accept}, testOffers)
		if got < -1 || got >= len(testOffers) {
			t.Fatalf("%d is not an offer", got)
		}
		if again := Negotiate([]string{accept}, testOffers); again != got {
			t.Fatalf("%d, then %d", got, again)
		}
		if strings.Count(accept, ",") < maxMembers-2 {
			for _, more := range []string{"image/x-none", "*/*;q=0"} {
				with := Negotiate([]string{more, accept}, testOffers)
				if more == "image/x-none" && with != got && !(got == 0 && with == -1) {
					t.Fatalf("with %q: %d, without %d", more, with, got)
				}
				if with >= len(testOffers) {
					t.Fatalf("%d is not an offer", with)
				}
			}
		}
		if c, ok := NegotiateCoding([]string{accept}, true); !ok && c != "" || c != "" && !slices.Contains(codings, c) {
			t.Fatalf("coding %q, %v", c, ok)
		}
	})
}

func TestNegotiateAllocations(t *testing.T) {
	accept := []string{`application/ld+json;profile="` + render.Profile + `", text/turtle;q=0.5, */*;q=0.1`}
	if n := testing.AllocsPerRun(100, func() { Negotiate(accept, testOffers) }); n > 6 {
		t.Errorf("%v allocations", n)
	}
}
