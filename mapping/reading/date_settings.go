package reading

import (
	"fmt"
	"strconv"
	"strings"
)

// DateSetting is a field of [DateConventions] as it is written in a site file or
// on the command line.
type DateSetting struct {
	Name   string // such as "circa"
	Values string // what it may be set to
	set    func(c *DateConventions, v string) bool
}

var dateSettings = []DateSetting{
	{"circa", "by-precision, fixed, none, or a number of years", func(c *DateConventions, v string) bool {
		switch v {
		case "by-precision":
			c.Circa, c.CircaYears = DateCircaByPrecision, 0
			return true
		case "fixed":
			c.Circa = DateCircaFixed
			return true
		case "none":
			v = "0"
		}
		c.Circa = DateCircaFixed
		return dateInt(&c.CircaYears, 0, 1000)(v)
	}},
	{"circa_years", "0 to 1000, with circa: fixed", func(c *DateConventions, v string) bool { return dateInt(&c.CircaYears, 0, 1000)(v) }},
	{"circa_ranges", "widen, keep", func(c *DateConventions, v string) bool { return dateWordOf(&c.CircaRanges, v, "widen", "keep") }},
	{"century", "from-00, from-01", func(c *DateConventions, v string) bool { return dateWordOf(&c.Century, v, "from-00", "from-01") }},
	{"hundreds", "century, decade, unread", func(c *DateConventions, v string) bool {
		return dateWordOf(&c.Hundreds, v, "century", "decade", "unread")
	}},
	{"early_percent", "1 to 100", func(c *DateConventions, v string) bool { return dateInt(&c.EarlyPercent, 1, 100)(v) }},
	{"mid_percent", "1 to 100", func(c *DateConventions, v string) bool { return dateInt(&c.MidPercent, 1, 100)(v) }},
	{"late_percent", "1 to 100", func(c *DateConventions, v string) bool { return dateInt(&c.LatePercent, 1, 100)(v) }},
	{"turn_years", "1 to 50", func(c *DateConventions, v string) bool { return dateInt(&c.TurnYears, 1, 50)(v) }},
	{"order", "unknown, day-first, month-first", func(c *DateConventions, v string) bool {
		return dateWordOf(&c.Order, v, "unknown", "day-first", "month-first")
	}},
	{"two_digit_years", "the first year of the hundred, such as 1870; 0 for unread", func(c *DateConventions, v string) bool { return dateInt(&c.TwoDigitYears, 0, 2000)(v) }},
	{"min_year", "1 to 1000", func(c *DateConventions, v string) bool { return dateInt(&c.MinYear, 1, 1000)(v) }},
	{"hyphen", "month, range", func(c *DateConventions, v string) bool { return dateWordOf(&c.Hyphen, v, "month", "range") }},
	{"leading_dash", "year, until", func(c *DateConventions, v string) bool { return dateWordOf(&c.LeadingDash, v, "year", "until") }},
	{"plus", "unread, died, onwards", func(c *DateConventions, v string) bool {
		return dateWordOf(&c.Plus, v, "unread", "died", "onwards")
	}},
	{"julian_until", "a Gregorian day, such as 1752-09-14, or none", func(c *DateConventions, v string) bool {
		if v == "none" {
			c.JulianUntil = DateDay{}
			return true
		}
		e, err := ParseEDTF(v)
		if err != nil || e.form != edtfDateForm || e.precision() != DatePrecisionDay {
			return false
		}
		c.JulianUntil = e.Corners(nil).EarliestBegin
		return true
	}},
	{"southern", "true, false", func(c *DateConventions, v string) bool { return dateBool(&c.Southern, v) }},
	{"exclusive", "true, false", func(c *DateConventions, v string) bool { return dateBool(&c.Exclusive, v) }},
	{"before_years", "0 to 1000", func(c *DateConventions, v string) bool { return dateInt(&c.BeforeYears, 0, 1000)(v) }},
	{"after_years", "0 to 1000", func(c *DateConventions, v string) bool { return dateInt(&c.AfterYears, 0, 1000)(v) }},
	{"later_stages", "default, none, all, or some of: " + strings.Join(DateStageNames(), ", "), setLaterStages},
}

// DateSettings lists the settings with the values they take.
func DateSettings() []DateSetting { return append([]DateSetting(nil), dateSettings...) }

// Set sets the field with a name of [DateSettings] (with or without its
// underscores) to a value in words: circa to "5", order to "day-first",
// later_stages to "printed, cast". A site file names fields and values alike, save
// that circa takes no number there.
func (c *DateConventions) Set(name, value string) error {
	key, v := dateKey(name), strings.ToLower(strings.TrimSpace(value))
	for i := range dateSettings {
		s := &dateSettings[i]
		if dateKey(s.Name) != key {
			continue
		}
		if !s.set(c, v) {
			return fmt.Errorf("%s can't be %q: it may be %s", s.Name, value, s.Values)
		}
		return nil
	}
	names := make([]string, len(dateSettings))
	for i := range dateSettings {
		names[i] = dateSettings[i].Name
	}
	return fmt.Errorf("there is no setting %q for dates: there are %s", name, strings.Join(names, ", "))
}

func dateKey(s string) string {
	return strings.NewReplacer("_", "", "-", "").Replace(strings.ToLower(s))
}

func setLaterStages(c *DateConventions, v string) bool {
	switch v {
	case "default":
		c.LaterStages = nil
		return true
	case "none":
		c.LaterStages = []string{}
		return true
	case "all":
		c.LaterStages = DateStageNames()
		return true
	}
	list := []string{}
	for w := range strings.SplitSeq(v, ",") {
		w = strings.TrimSpace(w)
		known := false
		for i := range dateStages {
			known = known || dateStages[i].name == w
		}
		if !known {
			return false
		}
		list = append(list, w)
	}
	c.LaterStages = list
	return true
}

func dateInt(p *int, least, most int) func(string) bool {
	return func(v string) bool {
		n, err := strconv.Atoi(v)
		if err != nil || n < least || n > most {
			return false
		}
		*p = n
		return true
	}
}

func dateBool(p *bool, v string) bool {
	b, err := strconv.ParseBool(v)
	if err == nil {
		*p = b
	}
	return err == nil
}

// dateWordOf sets p to the place of v among words.
func dateWordOf[T ~uint8](p *T, v string, words ...string) bool {
	for i, w := range words {
		if w == v {
			*p = T(i)
			return true
		}
	}
	return false
}
