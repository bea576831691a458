package reading

import (
	"reflect"
	"testing"
)

func TestDateConventions(t *testing.T) {
	for _, x := range []struct {
		text             string
		conv             DateConventions
		earliest, latest string
	}{
		{"c. 1874", DateConventions{}, "1869-01-01", "1879-12-31"},
		{"c. 1874", DateConventions{Circa: DateCircaFixed}, "1874-01-01", "1874-12-31"},
		{"c. 1874", DateConventions{Circa: DateCircaFixed, CircaYears: 10}, "1864-01-01", "1884-12-31"},
		{"c. 19th century", DateConventions{}, "1790-01-01", "1909-12-31"},
		{"c. March 1874", DateConventions{}, "1873-03-01", "1875-03-31"},
		{"c. 29 February 1872", DateConventions{}, "1871-02-28", "1873-02-28"},
		{"c. 1871–76", DateConventions{CircaRanges: DateCircaKeepsRanges}, "1871-01-01", "1876-12-31"},
		{"19th century", DateConventions{Century: DateCenturyFrom01}, "1801-01-01", "1900-12-31"},
		{"late 19th century", DateConventions{Century: DateCenturyFrom01}, "1867-01-01", "1900-12-31"},
		{"3rd century BC", DateConventions{Century: DateCenturyFrom01}, "-0299-01-01", "-0200-12-31"},
		{"2nd millennium", DateConventions{Century: DateCenturyFrom01}, "1001-01-01", "2000-12-31"},
		{"1800s", DateConventions{Hundreds: DateHundredsDecade}, "1800-01-01", "1809-12-31"},
		{"early 19th century", DateConventions{EarlyPercent: 25}, "1800-01-01", "1824-12-31"},
		{"mid 19th century", DateConventions{MidPercent: 20}, "1840-01-01", "1859-12-31"},
		{"late 19th century", DateConventions{LatePercent: 50}, "1850-01-01", "1899-12-31"},
		{"turn of the 20th century", DateConventions{TurnYears: 5}, "1895-01-01", "1905-12-31"},
		{"3/4/1921", DateConventions{Order: DateDayFirst}, "1921-04-03", "1921-04-03"},
		{"3/4/1921", DateConventions{Order: DateMonthFirst}, "1921-03-04", "1921-03-04"},
		{"25-Oct-31", DateConventions{TwoDigitYears: 1870}, "1931-10-25", "1931-10-25"},
		{"25-Oct-92", DateConventions{TwoDigitYears: 1870}, "1892-10-25", "1892-10-25"},
		{"1/2/05", DateConventions{TwoDigitYears: 1900, Order: DateMonthFirst}, "1905-01-02", "1905-01-02"},
		{"May 3-15, 1874", DateConventions{TwoDigitYears: 1900}, "1874-05-03", "1874-05-15"},
		{"12-41", DateConventions{MinYear: 1}, "0012-01-01", "0041-12-31"},
		{"1908-12", DateConventions{Hyphen: DateHyphenRange}, "1908-01-01", "1912-12-31"},
		{"1908-02", DateConventions{Hyphen: DateHyphenRange}, "1908-02-01", "1908-02-29"},
		{"-1460", DateConventions{}, "-1460-01-01", "-1460-12-31"},
		{"-1460", DateConventions{LeadingDash: DateDashUntil}, "", "1460-12-31"},
		{"1670+", DateConventions{Plus: DatePlusDied}, "", "1670-12-31"},
		{"1670+", DateConventions{Plus: DatePlusOnwards}, "1670-01-01", ""},
		{"3 September 1752", DateConventions{}, "1752-09-03", "1752-09-03"},
		{"3 September 1752 O.S.", DateConventions{}, "1752-09-14", "1752-09-14"},
		{"3 September 1752", DateConventions{JulianUntil: DateDay{1752, 9, 14}}, "1752-09-03", "1752-09-03"},
		{"2 September 1752", DateConventions{JulianUntil: DateDay{1752, 9, 14}}, "1752-09-13", "1752-09-13"},
		{"12 October 1492", DateConventions{JulianUntil: DateDay{1582, 10, 15}}, "1492-10-21", "1492-10-21"},
		{"spring 1874", DateConventions{Southern: true}, "1874-09-01", "1874-12-22"},
		{"before 1914", DateConventions{}, "", "1914-12-31"},
		{"before 1914", DateConventions{Exclusive: true}, "", "1913-12-31"},
		{"after 1914", DateConventions{Exclusive: true}, "1915-01-01", ""},
		{"after 3 May 1914", DateConventions{Exclusive: true}, "1914-05-04", ""},
		{"before 1914", DateConventions{BeforeYears: 25}, "1889-01-01", "1914-12-31"},
		{"after 1914", DateConventions{AfterYears: 25}, "1914-01-01", "1939-12-31"},
		{"1926, printed 1974", DateConventions{}, "1926-01-01", "1974-12-31"},
		{"1926, printed 1974", DateConventions{LaterStages: []string{}}, "1926-01-01", "1926-12-31"},
		{"1926, exhibited 1974", DateConventions{}, "1926-01-01", "1926-12-31"},
		{"1926, exhibited 1974", DateConventions{LaterStages: []string{"exhibited"}}, "1926-01-01", "1974-12-31"},
	} {
		d, err := ReadDate(x.text, &Conventions{Date: x.conv})
		if err != nil || d.EarliestBegin.String() != x.earliest || d.LatestEnd.String() != x.latest {
			t.Errorf("%s under %+v is %q to %q (%v), want %q to %q", x.text, x.conv, d.EarliestBegin, d.LatestEnd, err, x.earliest, x.latest)
		}
	}
	for text, code := range map[string]string{"1800s": "ambiguous-hundred"} {
		if _, err := ReadDate(text, &Conventions{Date: DateConventions{Hundreds: DateHundredsUnread}}); err == nil || err.(*Unread).Code != code {
			t.Errorf("%s: %v, want %s", text, err, code)
		}
	}
}

func TestDateTimes(t *testing.T) {
	d, err := ReadDate("1871–76", nil)
	if err != nil {
		t.Fatal(err)
	}
	for got, want := range map[string]string{
		d.BeginOfTheBegin(): "1871-01-01T00:00:00Z", d.EndOfTheBegin(): "1871-12-31T23:59:59Z",
		d.BeginOfTheEnd(): "1876-01-01T00:00:00Z", d.EndOfTheEnd(): "1876-12-31T23:59:59Z",
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	d, _ = ReadDate("100 BC", nil)
	if got := d.BeginOfTheBegin(); got != "-0099-01-01T00:00:00Z" || d.EarliestBegin.RFC3339() {
		t.Errorf("100 BC begins %s (RFC 3339: %v)", got, d.EarliestBegin.RFC3339())
	}
	d, _ = ReadDate("before 1914", nil)
	if d.BeginOfTheBegin() != "" || d.EarliestBegin.RFC3339() || !d.LatestEnd.RFC3339() {
		t.Error("before 1914 has a beginning")
	}
	if b := d.LatestEnd.AppendLastSecond([]byte("x")); string(b) != "x1914-12-31T23:59:59Z" {
		t.Errorf("%s", b)
	}
}

func TestUnreadPlaces(t *testing.T) {
	for text, at := range map[string]int{"1874 of oak": 8, "  1874 banana": 7, "12 Mai 1874 oder Holz": 17} {
		_, err := ReadDate(text, nil)
		if u, ok := err.(*Unread); !ok || u.At != at || u.Text != text {
			t.Errorf("%q: %#v, want a failure at %d", text, err, at)
		}
	}
}

func TestDateMemo(t *testing.T) {
	m := NewDateMemo(nil, 2)
	for range 3 {
		for _, text := range []string{"1874", "no date", "c. 1874", "1874"} {
			d, err := m.Read(text)
			want, wantErr := ReadDate(text, nil)
			if (err == nil) != (wantErr == nil) || err == nil && (d.DateCorners != want.DateCorners || d.EDTF() != want.EDTF()) {
				t.Errorf("%s: %v %v, want %v %v", text, d, err, want, wantErr)
			}
		}
	}
	if len(m.known) > 2 {
		t.Errorf("%d texts are kept, want at most 2", len(m.known))
	}
}

func TestDateSettings(t *testing.T) {
	var c DateConventions
	for _, x := range [][2]string{
		{"circa", "5"}, {"circa_ranges", "keep"}, {"century", "from-01"}, {"hundreds", "decade"}, {"early_percent", "25"}, {"mid-percent", "20"}, {"latepercent", "50"},
		{"turn_years", "5"}, {"order", "day-first"}, {"two_digit_years", "1870"}, {"min_year", "1"}, {"hyphen", "range"}, {"leading_dash", "until"}, {"plus", "died"},
		{"julian_until", "1752-09-14"}, {"southern", "true"}, {"exclusive", "true"}, {"before_years", "10"}, {"after_years", "20"}, {"later_stages", "printed, cast"},
	} {
		if err := c.Set(x[0], x[1]); err != nil {
			t.Error(err)
		}
	}
	want := DateConventions{
		Circa: DateCircaFixed, CircaYears: 5, CircaRanges: DateCircaKeepsRanges, Century: DateCenturyFrom01, Hundreds: DateHundredsDecade,
		EarlyPercent: 25, MidPercent: 20, LatePercent: 50, TurnYears: 5, Order: DateDayFirst, TwoDigitYears: 1870, MinYear: 1, Hyphen: DateHyphenRange,
		LeadingDash: DateDashUntil, Plus: DatePlusDied, JulianUntil: DateDay{1752, 9, 14}, Southern: true, Exclusive: true, BeforeYears: 10, AfterYears: 20,
		LaterStages: []string{"printed", "cast"},
	}
	if !reflect.DeepEqual(c, want) {
		t.Errorf("%+v\nwant %+v", c, want)
	}
	for _, x := range [][2]string{{"circa", "fixed"}, {"circa_years", "7"}, {"later_stages", "none"}, {"southern", "false"}, {"century", "from-00"}, {"julian_until", "none"}} {
		if err := c.Set(x[0], x[1]); err != nil {
			t.Error(err)
		}
	}
	if c.CircaYears != 7 || c.LaterStages == nil || len(c.LaterStages) != 0 || c.Southern || c.Century != DateCenturyFrom00 || c.JulianUntil.Known() || c.MinYear != 1 {
		t.Errorf("%+v", c)
	}
	for _, x := range [][2]string{{"circa", "five"}, {"order", "year"}, {"century", "02"}, {"julian_until", "1752"}, {"later_stages", "eaten"}, {"colour", "red"}, {"early_percent", "0"}} {
		if err := c.Set(x[0], x[1]); err == nil {
			t.Errorf("%s is set to %s", x[0], x[1])
		}
	}
}
