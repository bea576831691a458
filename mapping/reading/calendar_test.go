package reading

import (
	"testing"
	"time"
)

func TestDayNumbers(t *testing.T) {
	// against the standard library, whose calendar is proleptic Gregorian too
	epoch := time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)
	for n := int64(-1_500_000); n < 1_500_000; n += 97 {
		d := dayFromNumber(n)
		w := epoch.AddDate(0, 0, int(n))
		if int64(w.Year()) != d.Year || uint8(w.Month()) != d.Month || uint8(w.Day()) != d.Day || d.dayNumber() != n {
			t.Fatalf("day %d is %v (number %d), want %v", n, d, d.dayNumber(), w)
		}
	}
}

// Days of both calendars as history gives them: the reforms of 1582 and 1752, and
// the battle of the Boyne, 1 July 1690 Old Style; 1 January of the Julian year 1.
func TestJulianDay(t *testing.T) {
	for _, x := range []struct {
		y    int64
		m, d uint8
		want string
	}{
		{1582, 10, 5, "1582-10-15"}, {1582, 10, 4, "1582-10-14"}, {1752, 9, 3, "1752-09-14"}, {1690, 7, 1, "1690-07-11"},
		{1700, 2, 29, "1700-03-11"}, {1, 1, 1, "0000-12-30"}, {1900, 3, 1, "1900-03-14"}, {-4712, 1, 1, "-4713-11-24"}, {300, 2, 29, "0300-03-01"},
	} {
		if got, ok := julianDay(x.y, x.m, x.d); !ok || got.String() != x.want {
			t.Errorf("%d-%d-%d Julian is %v, want %s", x.y, x.m, x.d, got, x.want)
		}
	}
	if _, ok := julianDay(1701, 2, 29); ok {
		t.Error("1701 had no leap day")
	}
}

// Easters as almanacs give them.
func TestEaster(t *testing.T) {
	for _, x := range []struct {
		y      int64
		julian bool
		want   string
	}{
		{1818, false, "1818-03-22"}, {1943, false, "1943-04-25"}, {2000, false, "2000-04-23"}, {2024, false, "2024-03-31"}, {1961, false, "1961-04-02"},
		{1199, true, "1199-04-25"}, {2000, true, "2000-04-30"}, {1917, true, "1917-04-15"},
	} {
		if got := easter(x.y, x.julian); got.String() != x.want {
			t.Errorf("Easter of %d is %v, want %s", x.y, got, x.want)
		}
	}
}

// Days of the French Republic with names of their own in history.
func TestFrenchDays(t *testing.T) {
	for _, x := range []struct {
		y    int64
		m, d uint8
		want string
	}{
		{1, 1, 1, "1792-09-22"}, {2, 11, 9, "1794-07-27"}, {8, 2, 18, "1799-11-09"}, {3, 13, 6, "1795-09-22"}, {14, 4, 10, "1805-12-31"}, {4, 1, 13, "1795-10-05"},
	} {
		lo, hi, ok := frenchDays(x.y, x.m, x.d)
		if !ok || lo != hi || lo.String() != x.want {
			t.Errorf("%d %d %d is %v to %v, want %s", x.d, x.m, x.y, lo, hi, x.want)
		}
	}
	for _, x := range [][3]int64{{2, 13, 6}, {15, 1, 1}, {14, 4, 11}, {0, 1, 1}} {
		if lo, _, ok := frenchDays(x[0], uint8(x[1]), uint8(x[2])); ok {
			t.Errorf("%v is %v, want none", x, lo)
		}
	}
}

// Years of the Hijra: 1 Muharram 1215, 1300 and 1400 are 25 May 1800, 12 November
// 1882 and 21 November 1979 by the arithmetical calendar.
func TestHijriYear(t *testing.T) {
	for y, want := range map[int64]string{1: "0622-07-18", 1215: "1800-05-24", 1300: "1882-11-11", 1400: "1979-11-20"} {
		if lo, hi := hijriYear(y); lo.String() != want || hi.dayNumber()-lo.dayNumber() < 355 || hi.dayNumber()-lo.dayNumber() > 356 {
			t.Errorf("%d is %v to %v, want from %s", y, lo, hi, want)
		}
	}
}

// The tables of reigns: in order, without gaps within a name's numbers, and with
// documents whose days are known (the Great Charter, 17 John; the Licensing Act,
// 14 Cha. II; the calendar act, 24 Geo. II).
func TestRulers(t *testing.T) {
	for i := range dateRulers {
		r := &dateRulers[i]
		if r.to.Compare(r.from) <= 0 {
			t.Errorf("%s %d ends before it begins", r.name, r.number)
		}
		if i > 0 && r.from.Compare(dateRulers[i-1].from) < 0 {
			t.Errorf("%s %d is out of order", r.name, r.number)
		}
		if lo, _, ok := rulerYear(r, 1); !ok || lo.Compare(englishDay(r.from)) != 0 && r.name != "john" {
			t.Errorf("%s %d: year 1 begins %v", r.name, r.number, lo)
		}
	}
	for _, x := range []struct{ text, day string }{
		{"17 John", "1215-06-22"}, {"14 Car. II", "1662-05-29"}, {"24 Geo. II", "1751-06-02"}, {"1 Will. & Mar.", "1689-12-26"},
		{"45 Vict.", "1882-01-01"}, {"26 Hen. VIII", "1534-11-13"}, {"6 Anne", "1707-05-12"},
	} {
		d, err := ReadDate(x.text, nil)
		if err != nil || d.EarliestBegin.String() > x.day || d.LatestEnd.String() < x.day {
			t.Errorf("%s is %v to %v (%v), want %s within", x.text, d.EarliestBegin, d.LatestEnd, err, x.day)
		}
	}
	for _, text := range []string{"20 John", "61 Geo. III", "3 Edw. VIII", "5 Geo. VII", "0 Geo. III"} {
		if d, err := ReadDate(text, nil); err == nil {
			t.Errorf("%s is read as %s", text, d.EDTF())
		}
	}
}

func TestReigns(t *testing.T) {
	for i := range dateReigns {
		if r := &dateReigns[i]; r.to < r.from {
			t.Errorf("%s ends before it begins", r.names)
		}
	}
	for text, year := range map[string]string{
		"Meiji 31": "1898", "Showa 20": "1945", "Heisei 31": "2019", "Ansei 2": "1855", "Kan'ei 10": "1633", "Kōka 3": "1846", "Kangxi 61": "1722", "K'ang-hsi 61": "1722", "Qianlong 60": "1795", "Wanli 1": "1573",
	} {
		d, err := ReadDate(text, nil)
		if err != nil || d.EarliestBegin.String()[:4] != year {
			t.Errorf("%s is %v (%v), want %s", text, d.EarliestBegin, err, year)
		}
	}
	for _, text := range []string{"Meiji 46", "Kangxi 62", "Taishō 0"} {
		if d, err := ReadDate(text, nil); err == nil {
			t.Errorf("%s is read as %s", text, d.EDTF())
		}
	}
}
