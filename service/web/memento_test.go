package web

import (
	"encoding/json"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/sqlite"
)

// Days on which something was published.
var (
	day1 = time.Date(2021, 5, 1, 0, 0, 0, 0, time.UTC)
	day2 = time.Date(2021, 5, 2, 0, 0, 0, 0, time.UTC)
	day3 = time.Date(2021, 5, 3, 0, 0, 0, 0, time.UTC)
	day4 = time.Date(2021, 5, 4, 0, 0, 0, 0, time.UTC)
)

func httpDate(t time.Time) string { return t.UTC().Format(http.TimeFormat) }

// past is a server with a history: object/1 has three versions, object/2 is withdrawn
// and returned, object/3 moved to object/4.
func past(t testing.TB) *Server {
	t.Helper()
	now := day1
	store, err := sqlite.Open(filepath.Join(t.TempDir(), "s.db"), sqlite.Clock(func() time.Time { return now }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	gone := &service.Record{IRI: base + "object/2", Path: "object/2", State: service.Gone, Reason: "Lent"}
	moved := &service.Record{IRI: base + "object/3", Path: "object/3", State: service.Moved, MovedTo: base + "object/4"}
	publish(t, store, live(t, "object/1", "One"), live(t, "object/2", "Two"), live(t, "object/3", "Three"))
	now = day2
	publish(t, store, live(t, "object/1", "First"), gone, live(t, "object/3", "Three"))
	now = day3
	publish(t, store, live(t, "object/1", "First"), live(t, "object/2", "Two"), moved, live(t, "object/4", "Three"))
	now = day4
	publish(t, store, live(t, "object/1", "Erste"), live(t, "object/2", "Two"), moved, live(t, "object/4", "Four"))
	return newServer(t, store, io.Discard, Limits{})
}

var linkValue = regexp.MustCompile(`<([^>]*)>((?:; [a-z]+="[^"]*")+)`)

// linksOf are the targets and parameters of links with a relation.
func linksOf(text, rel string) (targets, params []string) {
	for _, m := range linkValue.FindAllStringSubmatch(text, -1) {
		r := regexp.MustCompile(`rel="([^"]*)"`).FindStringSubmatch(m[2])
		if r != nil && slices.Contains(strings.Fields(r[1]), rel) {
			targets, params = append(targets, m[1]), append(params, m[2])
		}
	}
	return targets, params
}

// resolve gives the absolute path of a reference in a response from a path.
func resolve(t testing.TB, from, ref string) string {
	t.Helper()
	r, err := http.NewRequest("GET", "http://h"+from, nil)
	if err != nil {
		t.Fatal(err)
	}
	u, err := r.URL.Parse(ref)
	if err != nil {
		t.Fatal(err)
	}
	return u.EscapedPath()
}

// §4.1.1: the record's own address negotiates in time, by 302.
func TestTimeGate(t *testing.T) {
	s := past(t)
	for _, tt := range []struct {
		name, target, when, location string
	}{
		{"between two versions the earlier is in force", "/object/1", httpDate(day3), "/memento/20210502000000/object/1"},
		{"at the moment of a version", "/object/1", httpDate(day2), "/memento/20210502000000/object/1"},
		{"a second before it", "/object/1", httpDate(day2.Add(-time.Second)), "/memento/20210501000000/object/1"},
		{"before the first: the first (§4.5.3)", "/object/1", httpDate(day1.AddDate(-10, 0, 0)), "/memento/20210501000000/object/1"},
		{"after the last: the last (§4.5.3)", "/object/1", httpDate(day4.AddDate(10, 0, 0)), "/memento/20210504000000/object/1"},
		{"with a suffix", "/object/1.nt", httpDate(day3), "/memento/20210502000000/object/1.nt"},
		{"while it was withdrawn", "/object/2", httpDate(day2), "/memento/20210502000000/object/2"},
		{"of a moved record, when it was not yet", "/object/3", httpDate(day2), "/memento/20210501000000/object/3"},
		{"of a moved record", "/object/3", httpDate(day4), "/memento/20210503000000/object/3"},
	} {
		for _, method := range []string{"GET", "HEAD"} {
			r := ask(s, method, tt.target, "Accept-Datetime: "+tt.when)
			if r.StatusCode != 302 || resolve(t, tt.target, r.Header.Get("Location")) != tt.location {
				t.Errorf("%s %s: %d %s, want 302 %s", method, tt.name, r.StatusCode, r.Header.Get("Location"), tt.location)
				continue
			}
			// §2.1.2: Vary says that time is negotiated.
			if !strings.Contains(vary(r), "Accept-Datetime") {
				t.Errorf("%s: Vary: %s", tt.name, vary(r))
			}
			// §2.1.1: a TimeGate is no Memento.
			if r.Header.Get("Memento-Datetime") != "" {
				t.Errorf("%s: Memento-Datetime on a TimeGate", tt.name)
			}
			// §2.2.1: exactly one link to the original, which is its own gate.
			links := r.Header.Get("Link")
			for _, rel := range []string{"original", "timegate"} {
				if got, _ := linksOf(links, rel); len(got) != 1 || got[0] != base+strings.TrimPrefix(tt.target, "/") {
					t.Errorf("%s: %s %v", tt.name, rel, got)
				}
			}
			if got, p := linksOf(links, "timemap"); len(got) != 1 || resolve(t, tt.target, got[0]) != "/timemap"+tt.target || !strings.Contains(p[0], `type="application/link-format"`) {
				t.Errorf("%s: timemap %v %v", tt.name, got, p)
			}
			// §2.2.4: a memento's link says its datetime.
			got, p := linksOf(links, "memento")
			if len(got) != 1 || resolve(t, tt.target, got[0]) != tt.location || !strings.Contains(p[0], `datetime="`) {
				t.Errorf("%s: memento %v %v", tt.name, got, p)
			}
		}
	}
}

// §4.5.3: what is no datetime is refused; §2.1.1: RFC 1123 in GMT, nothing else.
func TestAcceptDatetime(t *testing.T) {
	s := past(t)
	for _, bad := range []string{"", "yesterday", "2021-05-02", "2021-05-02T00:00:00Z", "Sun, 02 May 2021 00:00:00 +0000", "Sun, 02 May 2021 00:00:00 UTC",
		"Mon, 02 May 2021 00:00:00 GMT", "sun, 02 may 2021 00:00:00 gmt", "Sunday, 02-May-21 00:00:00 GMT", "Sun May  2 00:00:00 2021", "Sun, 2 May 2021 00:00:00 GMT",
		"Sun, 02 May 2021 00:00:00 GMT, Sun, 02 May 2021 00:00:00 GMT", "Sun, 31 Jun 2021 00:00:00 GMT"} {
		r := ask(s, "GET", "/object/1", "Accept-Datetime: "+bad)
		if r.StatusCode != 400 || !strings.Contains(vary(r), "Accept-Datetime") || r.Header.Get("Memento-Datetime") != "" {
			t.Errorf("%q: %d, Vary %s", bad, r.StatusCode, vary(r))
		}
		if got, _ := linksOf(r.Header.Get("Link"), "original"); len(got) != 1 {
			t.Errorf("%q: original %v", bad, got)
		}
	}
	r := ask(s, "GET", "/object/1", "Accept-Datetime: "+httpDate(day1), "Accept-Datetime: "+httpDate(day2))
	if r.StatusCode != 400 {
		t.Errorf("two fields: %d", r.StatusCode)
	}
	// An address where nothing ever was has no past (§4.5.2).
	if r := ask(s, "GET", "/object/9", "Accept-Datetime: "+httpDate(day1)); r.StatusCode != 404 || r.Header.Get("Link") != "" {
		t.Errorf("nothing: %d %s", r.StatusCode, r.Header.Get("Link"))
	}
}

// The present says where the past is, whatever became of the record (§4.5.2).
func TestOriginal(t *testing.T) {
	s := past(t)
	for target, status := range map[string]int{"/object/1": 200, "/object/1.ttl": 200, "/object/3": 301, "/object/1?x=1": 200} {
		r := ask(s, "GET", target)
		path, _, _ := strings.Cut(target, "?")
		if r.StatusCode != status || !strings.Contains(vary(r), "Accept-Datetime") || r.Header.Get("Memento-Datetime") != "" {
			t.Errorf("%s: %d, Vary %s, %q", target, r.StatusCode, vary(r), r.Header.Get("Memento-Datetime"))
		}
		if got, _ := linksOf(r.Header.Get("Link"), "timegate"); len(got) != 1 || got[0] != base+strings.TrimPrefix(path, "/") {
			t.Errorf("%s: timegate %v", target, got)
		}
		if got, _ := linksOf(r.Header.Get("Link"), "timemap"); len(got) != 1 || resolve(t, path, got[0]) != "/timemap"+path {
			t.Errorf("%s: timemap %v", target, got)
		}
	}
	gone := served(t)
	r := ask(gone, "GET", "/object/lost")
	if got, _ := linksOf(r.Header.Get("Link"), "timegate"); r.StatusCode != 410 || len(got) != 1 || !strings.Contains(vary(r), "Accept-Datetime") {
		t.Errorf("withdrawn: %d %v", r.StatusCode, got)
	}
	r = ask(gone, "GET", "/object/lost", "Accept-Datetime: "+httpDate(modified))
	m := ask(gone, "GET", resolve(t, "/object/lost", r.Header.Get("Location")), "Accept: application/json")
	if m.StatusCode != 200 || !strings.Contains(text(t, m), `"_label":"Lost vane"`) {
		t.Errorf("what was withdrawn can't be read: %d", m.StatusCode)
	}
}

// A memento is the record as it was, in every form, with its datetime and links.
func TestMementos(t *testing.T) {
	s := past(t)
	for _, tt := range []struct {
		target, accept, contentType, contains string
		datetime                              time.Time
	}{
		{"/memento/20210501000000/object/1", "", jsonldType, `"_label":"One"`, day1},
		{"/memento/20210501000000/object/1.jsonld", "", jsonldType, `"_label":"One"`, day1},
		{"/memento/20210502000000/object/1.nt", "", "application/n-triples", `label> "First"`, day2},
		{"/memento/20210502000000/object/1", "application/n-triples", "application/n-triples", `label> "First"`, day2},
		{"/memento/20210504000000/object/1", "text/turtle", turtleType, `rdfs:label "Erste"`, day4},
		{"/memento/20210501000000/object/1", "text/html", htmlType, `This is an old version of the record.</strong> <a href="../../../object/1">`, day1},
		{"/memento/20210501000000/object/2", "", jsonldType, `"_label":"Two"`, day1},
		{"/memento/20210501000000/object/3", "", jsonldType, `"_label":"Three"`, day1},
	} {
		var headers []string
		if tt.accept != "" {
			headers = []string{"Accept: " + tt.accept}
		}
		r := ask(s, "GET", tt.target, headers...)
		body := text(t, r)
		if r.StatusCode != 200 || r.Header.Get("Content-Type") != tt.contentType || !strings.Contains(body, tt.contains) {
			t.Errorf("%s %s: %d %s\n%.300s", tt.target, tt.accept, r.StatusCode, r.Header.Get("Content-Type"), body)
		}
		// §2.1.1: Memento-Datetime; §2.1.2: the address is fixed, so time is not negotiated.
		if got := r.Header.Get("Memento-Datetime"); got != httpDate(tt.datetime) {
			t.Errorf("%s: Memento-Datetime %q", tt.target, got)
		}
		if strings.Contains(vary(r), "Accept-Datetime") {
			t.Errorf("%s: Vary %s", tt.target, vary(r))
		}
		links := r.Header.Get("Link")
		path := regexp.MustCompile(`^/memento/\d+/`).ReplaceAllString(tt.target, "")
		if got, _ := linksOf(links, "original"); len(got) != 1 || got[0] != base+path {
			t.Errorf("%s: original %v", tt.target, got)
		}
		if got, _ := linksOf(links, "timegate"); len(got) != 1 || got[0] != base+path {
			t.Errorf("%s: timegate %v", tt.target, got)
		}
		if got, _ := linksOf(links, "timemap"); len(got) != 1 || resolve(t, tt.target, got[0]) != "/timemap/"+path {
			t.Errorf("%s: timemap %v", tt.target, got)
		}
		// A frozen state: asking for another time changes nothing.
		again := ask(s, "GET", tt.target, append(headers, "Accept-Datetime: "+httpDate(day4))...)
		if again.StatusCode != 200 || text(t, again) != body {
			t.Errorf("%s: %d with Accept-Datetime", tt.target, again.StatusCode)
		}
		if h := ask(s, "HEAD", tt.target, headers...); h.StatusCode != 200 || h.Header.Get("Memento-Datetime") != httpDate(tt.datetime) || text(t, h) != "" {
			t.Errorf("%s: HEAD %d", tt.target, h.StatusCode)
		}
	}
}

// The versions beside a memento.
func TestMementoNeighbours(t *testing.T) {
	s := past(t)
	for target, want := range map[string]map[string]string{
		"/memento/20210501000000/object/1": {"first": "20210501000000", "last": "20210504000000", "next": "20210502000000"},
		"/memento/20210502000000/object/1": {"first": "20210501000000", "last": "20210504000000", "prev": "20210501000000", "next": "20210504000000"},
		"/memento/20210504000000/object/1": {"first": "20210501000000", "last": "20210504000000", "prev": "20210502000000"},
		"/memento/20210503000000/object/4": {"first": "20210503000000", "last": "20210504000000", "next": "20210504000000"},
	} {
		links := ask(s, "GET", target).Header.Get("Link")
		path := target[len("/memento/20210501000000/"):]
		for _, rel := range []string{"first", "last", "prev", "next"} {
			got, p := linksOf(links, rel)
			if want[rel] == "" {
				if len(got) != 0 {
					t.Errorf("%s: %s %v", target, rel, got)
				}
				continue
			}
			if len(got) != 1 || resolve(t, target, got[0]) != "/memento/"+want[rel]+"/"+path {
				t.Errorf("%s: %s %v, want %s", target, rel, got, want[rel])
				continue
			}
			at, _ := time.Parse(mementoTime, want[rel])
			if !strings.Contains(p[0], `datetime="`+httpDate(at)+`"`) || !strings.Contains(p[0], "memento") {
				t.Errorf("%s: %s %s", target, rel, p[0])
			}
		}
		if got, _ := linksOf(links, "memento"); len(slices.Compact(slices.Sorted(slices.Values(got)))) != len(got) {
			t.Errorf("%s: a memento is linked twice: %v", target, got)
		}
	}
}

// §4.5.4 and §4.5.5: mementos of redirections and of what was gone.
func TestMementosOfEnds(t *testing.T) {
	s := past(t)
	r := ask(s, "GET", "/memento/20210502000000/object/2", "Accept: application/json")
	if r.StatusCode != 410 || r.Header.Get("Memento-Datetime") != httpDate(day2) || !strings.Contains(text(t, r), `"reason":"Lent"`) {
		t.Errorf("withdrawn: %d %v", r.StatusCode, r.Header)
	}
	if got, _ := linksOf(r.Header.Get("Link"), "original"); len(got) != 1 {
		t.Errorf("withdrawn: original %v", got)
	}
	r = ask(s, "GET", "/memento/20210503000000/object/3")
	if to := resolve(t, "/memento/20210503000000/object/3", r.Header.Get("Location")); r.StatusCode != 301 ||
		r.Header.Get("Memento-Datetime") != httpDate(day3) || to != "/memento/20210503000000/object/4" {
		t.Errorf("moved: %d %v", r.StatusCode, r.Header)
	}
	r = ask(s, "GET", "/memento/20210503000000/object/3.nt")
	if to := resolve(t, "/memento/20210503000000/object/3.nt", r.Header.Get("Location")); to != "/memento/20210503000000/object/4.nt" {
		t.Errorf("moved, with a suffix: %s", to)
	}
}

// What is no memento says so and claims no datetime.
func TestNoMementos(t *testing.T) {
	s := past(t)
	for target, status := range map[string]int{
		"/memento/20210502120000/object/1": 404, "/memento/19990101000000/object/1": 404, "/memento/20210503000000/object/1": 404,
		"/memento/20210501000000/object/9": 404, "/memento/2021/object/1": 404, "/memento/20211301000000/object/1": 404,
		"/memento/20210501000000/": 404, "/memento/x": 404, "/memento/": 404, "/timemap/": 404, "/timemap/object/9": 404,
		"/memento/20210501000000/memento/20210501000000/object/1": 404, "/timemap/timemap/object/1": 404, "/memento/20210501000000/%2e%2e/x": 404,
	} {
		r := ask(s, "GET", target)
		if r.StatusCode != status || r.Header.Get("Memento-Datetime") != "" {
			t.Errorf("%s: %d %q", target, r.StatusCode, r.Header.Get("Memento-Datetime"))
		}
	}
	r := ask(s, "GET", "/memento/20210502120000/object/1", "Accept: text/plain")
	if body := text(t, r); !strings.Contains(body, "timemap/object/1") {
		t.Errorf("no way to the versions: %s", body)
	}
	if r := ask(s, "GET", "/memento/20210501000000/object/1", "Accept: image/png"); r.StatusCode != 406 || !strings.Contains(text(t, r), "1.nt") {
		t.Errorf("not acceptable: %d", r.StatusCode)
	}
	if r := ask(s, "POST", "/memento/20210501000000/object/1"); r.StatusCode != 405 {
		t.Errorf("POST: %d", r.StatusCode)
	}
}

// §5: the TimeMap lists the original, itself, the gate and every memento.
func TestTimeMap(t *testing.T) {
	s := past(t)
	r := ask(s, "GET", "/timemap/object/1")
	body := text(t, r)
	want := `<https://museum.example/coll/object/1>; rel="original timegate",
<https://museum.example/coll/timemap/object/1>; rel="self"; type="application/link-format"; from="Sat, 01 May 2021 00:00:00 GMT"; until="Tue, 04 May 2021 00:00:00 GMT",
<https://museum.example/coll/memento/20210501000000/object/1>; rel="first memento"; datetime="Sat, 01 May 2021 00:00:00 GMT",
<https://museum.example/coll/memento/20210502000000/object/1>; rel="memento"; datetime="Sun, 02 May 2021 00:00:00 GMT",
<https://museum.example/coll/memento/20210504000000/object/1>; rel="last memento"; datetime="Tue, 04 May 2021 00:00:00 GMT"
`
	if r.StatusCode != 200 || r.Header.Get("Content-Type") != "application/link-format" || body != want {
		t.Errorf("%d %s\n%s", r.StatusCode, r.Header.Get("Content-Type"), body)
	}
	if r.Header.Get("Etag") == "" || !strings.Contains(vary(r), "Accept") || r.Header.Get("Memento-Datetime") != "" {
		t.Errorf("%v", r.Header)
	}
	if again := ask(s, "GET", "/timemap/object/1", "If-None-Match: "+r.Header.Get("Etag")); again.StatusCode != 304 {
		t.Errorf("again: %d", again.StatusCode)
	}
	if r := ask(s, "GET", "/timemap/object/1", "Accept: text/turtle"); r.StatusCode != 406 {
		t.Errorf("Turtle: %d", r.StatusCode)
	}

	// One version is the first and the last; with a suffix all is in that form.
	one := text(t, ask(s, "GET", "/timemap/object/4.nt"))
	if !strings.Contains(one, `memento/20210503000000/object/4.nt>; rel="first memento"`) || !strings.Contains(one, "<https://museum.example/coll/object/4.nt>; rel=\"original timegate\"") {
		t.Errorf("%s", one)
	}
	var m jsonTimeMap
	r = ask(s, "GET", "/timemap/object/2", "Accept: application/json")
	if err := json.Unmarshal([]byte(text(t, r)), &m); err != nil {
		t.Fatal(err)
	}
	var changes []string
	for _, x := range m.Mementos {
		changes = append(changes, x.Change+" "+x.State+" "+x.Datetime)
	}
	if want := []string{"added live 2021-05-01T00:00:00Z", "withdrawn gone 2021-05-02T00:00:00Z", "returned live 2021-05-03T00:00:00Z"}; !slices.Equal(changes, want) || m.TimeGate != base+"object/2" {
		t.Errorf("%v %+v", changes, m)
	}
	// Every address in it is there.
	for _, x := range m.Mementos {
		r := ask(s, "GET", "/"+strings.TrimPrefix(x.ID, base))
		if at, _ := time.Parse(time.RFC3339, x.Datetime); r.Header.Get("Memento-Datetime") != httpDate(at) {
			t.Errorf("%s: %d %q", x.ID, r.StatusCode, r.Header.Get("Memento-Datetime"))
		}
	}
}
