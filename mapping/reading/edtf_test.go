package reading

import (
	"bufio"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sharedFile finds a file of the corpora in ROPEWALK_SHARED. Where they are
// missing the test fails under CI and is skipped, saying so, elsewhere.
func sharedDateFile(t testing.TB, path ...string) string {
	t.Helper()
	dir := os.Getenv("ROPEWALK_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	name := filepath.Join(append([]string{dir}, path...)...)
	if _, err := os.Stat(name); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("corpus is missing: %s", name)
		}
		t.Skipf("SKIPPED: corpus is missing: %s", name)
	}
	return name
}

type edtfExample struct{ text, level, expected, feature string }

func edtfExamples(t testing.TB) []edtfExample {
	f, err := os.Open(sharedDateFile(t, "standards", "edtf", "edtf-examples.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var list []edtfExample
	for s, n := bufio.NewScanner(f), 0; s.Scan(); n++ {
		if c := strings.Split(s.Text(), "\t"); n > 0 && len(c) >= 4 {
			list = append(list, edtfExample{c[0], c[1], c[2], c[3]})
		}
	}
	if len(list) < 112 {
		t.Fatalf("%d examples, want at least 112", len(list))
	}
	return list
}

func TestParseEDTFExamples(t *testing.T) {
	var valid, invalid int
	for _, x := range edtfExamples(t) {
		e, err := ParseEDTF(x.text)
		if x.expected != "valid" {
			invalid++
			if err == nil {
				t.Errorf("%s (%s) is read, want refused", x.text, x.feature)
			} else if code := err.(*Unread).Code; (x.expected == "invalid-calendar") != (code == "no-such-day" || code == "backwards") {
				t.Errorf("%s: refused with %s, want %s", x.text, code, x.expected)
			}
			continue
		}
		valid++
		if err != nil {
			t.Errorf("%s (%s) is refused: %v", x.text, x.feature, err)
			continue
		}
		// two examples of level 2 need nothing beyond level 1
		if got := string('0' + rune(e.Level())); got != x.level && !(got == "1" && (x.text == "2004-06-11%" || x.text == "2004-06-XX/2004-07-03")) {
			t.Errorf("%s: level %s, want %s", x.text, got, x.level)
		}
		if d, err := ReadDate(x.text, nil); err != nil {
			t.Errorf("ReadDate(%s): %v", x.text, err)
		} else if c := e.Corners(nil); c != d.DateCorners {
			t.Errorf("ReadDate(%s) and ParseEDTF give different corners", x.text)
		}
		again, err := ParseEDTF(e.String())
		if err != nil || again.Corners(nil) != e.Corners(nil) {
			t.Errorf("%s is written %s, which reads differently (%v)", x.text, e.String(), err)
		}
	}
	if valid < 64 || invalid < 48 {
		t.Errorf("%d valid and %d invalid examples, want at least 64 and 48", valid, invalid)
	}
}

func TestParseEDTFBounds(t *testing.T) {
	for _, x := range []struct{ text, earliest, latest string }{
		{"1985", "1985-01-01", "1985-12-31"},
		{"2004-02", "2004-02-01", "2004-02-29"},
		{"1985-04-12T23:20:30-04", "1985-04-12", "1985-04-12"},
		{"-1985", "-1985-01-01", "-1985-12-31"},
		{"0000", "0000-01-01", "0000-12-31"},
		{"Y-17E7", "-170000000-01-01", "-170000000-12-31"},
		{"1950S2", "1900-01-01", "1999-12-31"},
		{"-1950S2", "-1999-01-01", "-1900-12-31"},
		{"Y3388E2S3", "338000-01-01", "338999-12-31"},
		{"Y171010000S3", "171000000-01-01", "171999999-12-31"},
		{"156X-12-25", "1560-12-25", "1569-12-25"},
		{"XXXX-12-XX", "0000-12-01", "9999-12-31"},
		{"1XXX-12", "1000-12-01", "1999-12-31"},
		{"1984-1X", "1984-10-01", "1984-12-31"},
		{"1984-0X-3X", "1984-01-30", "1984-09-30"},
		{"XXXX-02-29", "0000-02-29", "9996-02-29"},
		{"-01XX", "-0199-01-01", "-0100-12-31"},
		{"-000X", "-0009-01-01", "-0001-12-31"},
		{"2001-33", "2001-01-01", "2001-03-31"},
		{"2001-39", "2001-09-01", "2001-12-31"},
		{"2001-41", "2001-07-01", "2001-12-31"},
		{"2001-21", "2001-03-01", "2001-06-21"},
		{"2001-24", "2001-01-01", "2002-03-21"},
		{"2001-29", "2001-09-01", "2001-12-22"},
		{"[1667,1668,1670..1672]", "1667-01-01", "1672-12-31"},
		{"[..1760-12-03]", "", "1760-12-03"},
		{"[1760-12..]", "1760-12-01", ""},
		{"{1960,1961-12}", "1960-01-01", "1961-12-31"},
		{"{..1984}", "", "1984-12-31"},
		{"1985/..", "1985-01-01", ""},
		{"/1985", "", "1985-12-31"},
		{"2004-06-XX/2004-07-03", "2004-06-01", "2004-07-03"},
		{"1984~", "1979-01-01", "1989-12-31"},
		{"198X~", "1975-01-01", "1994-12-31"},
		{"18XX~", "1790-01-01", "1909-12-31"},
		{"2004-06-~11", "2003-06-11", "2005-06-11"},
		{"2004?-06-11", "2004-06-11", "2004-06-11"},
	} {
		e, err := ParseEDTF(x.text)
		if err != nil {
			t.Errorf("%s: %v", x.text, err)
			continue
		}
		c := e.Corners(nil)
		if c.EarliestBegin.String() != x.earliest || c.LatestEnd.String() != x.latest {
			t.Errorf("%s is %s to %s, want %s to %s", x.text, c.EarliestBegin, c.LatestEnd, x.earliest, x.latest)
		}
	}
}

func TestParseEDTFRefuses(t *testing.T) {
	for _, x := range []struct{ text, code string }{
		{"", "not-edtf"}, {"-0000", "not-edtf"}, {"Y1985", "not-edtf"}, {"Y-1985", "not-edtf"}, {"Y17E2", "not-edtf"},
		{"1985-13", "not-edtf"}, {"1985-2X", "no-such-day"}, {"1985-02-3X", "no-such-day"}, {"XXX1-02-29", "no-such-day"},
		{"/", "not-edtf"}, {"../..", "not-edtf"}, {"1985/1984/1983", "not-edtf"}, {"1985/1984", "backwards"},
		{"[]", "not-edtf"}, {"[..]", "not-edtf"}, {"[1985..1984]", "backwards"}, {"[1984,..1985]", "not-edtf"}, {"[1984..,1985]", "not-edtf"},
		{"1985-21-01", "not-edtf"}, {"1950S5", "not-edtf"}, {"1950S0", "not-edtf"}, {"19X0S2", "not-edtf"}, {"Y1E99", "out-of-range"},
		{"1985-04-12T24:00:00", "no-such-day"}, {"1985-04-12T23:20:60", "no-such-day"}, {"1985-04T10:00:00", "not-edtf"},
		{"1985?-04-12T10:00:00", "not-edtf"}, {"1985 ", "not-edtf"}, {"1985-04-1", "not-edtf"}, {"1985-", "not-edtf"},
	} {
		if e, err := ParseEDTF(x.text); err == nil {
			t.Errorf("%q is read as %s", x.text, e.String())
		} else if got := err.(*Unread).Code; got != x.code {
			t.Errorf("%q is refused with %s, want %s", x.text, got, x.code)
		}
	}
}
