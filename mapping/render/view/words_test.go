package view

import "testing"

// The bounds of time spans as dates of ISO 8601.
func TestPlainDates(t *testing.T) {
	for _, c := range [][4]string{
		{"1874-01-01T00:00:00Z", "1874-12-31T23:59:59Z", "1874", "1874"},
		{"1874-01-01T00:00:00Z", "1879-12-31T23:59:59Z", "1874", "1879"},
		{"1874-05-04T00:00:00Z", "1874-05-04T23:59:59Z", "1874-05-04", "1874-05-04"},
		{"1874-01-01T00:00:00Z", "1874-01-01T23:59:59Z", "1874-01-01", "1874-01-01"}, // New Year's Day, not the year
		{"1874-01-01T00:00:00Z", "1874-03-31T23:59:59Z", "1874-01-01", "1874-03-31"},
		{"", "1837-12-31T23:59:59Z", "", "1837"},
		{"1881-01-01T00:00:00Z", "", "1881", ""},
		{"", "1837-06-30T23:59:59Z", "", "1837-06-30"},
		{"1907-02-02T06:00:00Z", "1907-02-02T23:59:59Z", "1907-02-02T06:00:00Z", "1907-02-02"},
		{"1874-01-01T00:00:00Z", "1875-01-01T00:00:00Z", "1874-01-01", "1875-01-01T00:00:00Z"}, // the first second of a day is not the day
		{"1874-01-01T00:00:00+01:00", "1874-12-31T23:59:59Z", "1874-01-01T00:00:00+01:00", "1874-12-31"},
		{"-0044-01-01T00:00:00Z", "-0044-12-31T23:59:59Z", "-0044", "-0044"},
		{"", "", "", ""},
	} {
		if from, to := plainDates(c[0], c[1]); from != c[2] || to != c[3] {
			t.Errorf("%s to %s: %s, %s", c[0], c[1], from, to)
		}
	}
}

// What statements about rights stand for; most stand for nothing that is known.
func TestRightsIRI(t *testing.T) {
	const cc, rs = "http://creativecommons.org/", "http://rightsstatements.org/vocab/"
	for text, want := range map[string]string{
		"CC0":                         cc + "publicdomain/zero/1.0/",
		"CC0 1.0, no rights reserved": cc + "publicdomain/zero/1.0/",
		"cc by 4.0":                   cc + "licenses/by/4.0/",
		"CC BY 4.0, name the museum":  cc + "licenses/by/4.0/",
		"CC BY-NC-SA 3.0 (Sweden)":    cc + "licenses/by-nc-sa/3.0/",
		" CC BY-SA 4.0.":              cc + "licenses/by-sa/4.0/",
		"In copyright; ask us":        rs + "InC/1.0/",
		"Public Domain Mark 1.0":      cc + "publicdomain/mark/1.0/",
		"https://creativecommons.org/licenses/by/2.0/se/": "https://creativecommons.org/licenses/by/2.0/se/",
		rs + "NKC/1.0/": rs + "NKC/1.0/",

		"CC BY":                   "", // which version?
		"CC BY 4.0.1":             "",
		"CC BY 4.05":              "",
		"CC BY 4.0 or ask":        "",
		"CC0 does not hold":       "",
		"not CC0":                 "",
		"In copyright until 2030": "",
		"© Tate":                  "",
		"":                        "",
		"see https://creativecommons.org/licenses/by/4.0/": "",
		"https://creativecommons.org.example/x":            "",
		"ftp://creativecommons.org/licenses/by/4.0/":       "",
	} {
		if got := rightsIRI(text); got != want {
			t.Errorf("%q: %q", text, got)
		}
	}
	for iri, want := range map[string]string{
		"https://creativecommons.org/publicdomain/zero/1.0/": cc + "publicdomain/zero/1.0/",
		"https://creativecommons.org/licenses/by/2.0/se/":    cc + "licenses/by/2.0/se/",
		"https://museum.example/terms":                       "https://museum.example/terms",
		"":                                                   "",
	} {
		if got := canonicalRights(iri); got != want {
			t.Errorf("%s: %s", iri, got)
		}
	}
	for iri, want := range map[string]string{
		"https://creativecommons.org/licenses/by-sa/4.0/": "CC BY-SA 4.0", cc + "publicdomain/zero/1.0/": "CC0 1.0",
		cc + "publicdomain/mark/1.0/": "Public Domain Mark 1.0", cc + "licenses/": cc + "licenses/", "https://museum.example/a/b/c": "https://museum.example/a/b/c",
	} {
		if got := licenceName(iri); got != want {
			t.Errorf("%s: %s", iri, got)
		}
	}
}

func TestAnyURI(t *testing.T) {
	for iri, want := range map[string]bool{
		"https://a.example/b?c=d#e": true, "urn:isbn:0": true, "mailto:a@example.org?x#y": true, "http://[2001:db8::1]:80/a": true,
		"http://a.example:8080": true, "http://user:pw@a.example/": true, "https://bücher.example/å": true, "http://a.example:/": true,
		"http://a.example/#b#c": false, "http://a.example/[b]": false, "http://a.example/?[": false, "urn:x:[1]": false,
		"http://a.example:80b/": false, "http://[::1/": false, "http://[x]/": false, "http://[::1]x/": false, "http://a[b/": false,
	} {
		if got := anyURI(iri); got != want {
			t.Errorf("%s: %v", iri, got)
		}
	}
}

func TestPoint(t *testing.T) {
	for wkt, want := range map[string]string{
		"POINT(-41.3000 44.1500)": "-41.3000 44.1500", "POINT (1 2)": "1 2", "POINT( 0.5  -7 )": "0.5 -7",
		"POINT(1 2 3)": "", "POINT(1)": "", "POINT(1e5 2)": "", "POINT(NaN 2)": "", "POINT(01 2)": "", "POINT(.5 2)": "", "POINT(5. 2)": "", "POINT(0x1 2)": "", "POINT Z(1 2)": "",
		"POLYGON((1 2))": "", "": "", "POINT": "",
	} {
		long, lat, ok := point(wkt)
		got := ""
		if ok {
			got = long + " " + lat
		}
		if got != want {
			t.Errorf("%s: %q", wkt, got)
		}
	}
}

func TestLanguageSubtags(t *testing.T) {
	for s, want := range map[string]bool{
		"en": true, "sv-FI": true, "zh-Hans-CN": true, "x-klingon": true, "de-CH-1901": true,
		"": false, "en_GB": false, "en-": false, "-en": false, "e n": false, "123": false, "abcdefghi": false, "å": false,
	} {
		if got := languageSubtags(s); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
}

func TestAAT(t *testing.T) {
	for iri, want := range map[string]int{
		"http://vocab.getty.edu/aat/300404670": 300404670, "http://vocab.getty.edu/aat/30040467": 0, "http://vocab.getty.edu/aat/30040467x": 0,
		"http://vocab.getty.edu/tgn/300404670": 0, "": 0, "http://vocab.getty.edu/aat/3004046701": 0,
	} {
		if got := aat(iri); got != want {
			t.Errorf("%s: %d", iri, got)
		}
	}
}
