package reading

import (
	"fmt"
	"strings"
	"time"
)

// choose finds the name of a setting among those it may have.
func choose(text []byte, names ...string) (uint8, error) {
	for i, n := range names {
		if string(text) == n {
			return uint8(i), nil
		}
	}
	return 0, fmt.Errorf("it is one of %s, not %q", strings.Join(names, ", "), text)
}

// UnmarshalText reads "by-precision" or "fixed".
func (d *DateCirca) UnmarshalText(b []byte) error {
	n, err := choose(b, "by-precision", "fixed")
	*d = DateCirca(n)
	return err
}

// UnmarshalText reads "widen" or "keep".
func (d *DateCircaRanges) UnmarshalText(b []byte) error {
	n, err := choose(b, "widen", "keep")
	*d = DateCircaRanges(n)
	return err
}

// UnmarshalText reads "from-00" or "from-01".
func (d *DateCentury) UnmarshalText(b []byte) error {
	n, err := choose(b, "from-00", "from-01")
	*d = DateCentury(n)
	return err
}

// UnmarshalText reads "century", "decade" or "unread".
func (d *DateHundreds) UnmarshalText(b []byte) error {
	n, err := choose(b, "century", "decade", "unread")
	*d = DateHundreds(n)
	return err
}

// UnmarshalText reads "unknown", "day-first" or "month-first".
func (d *DateOrder) UnmarshalText(b []byte) error {
	n, err := choose(b, "unknown", "day-first", "month-first")
	*d = DateOrder(n)
	return err
}

// UnmarshalText reads "month" or "range".
func (d *DateHyphen) UnmarshalText(b []byte) error {
	n, err := choose(b, "month", "range")
	*d = DateHyphen(n)
	return err
}

// UnmarshalText reads "year" or "until".
func (d *DateDash) UnmarshalText(b []byte) error {
	n, err := choose(b, "year", "until")
	*d = DateDash(n)
	return err
}

// UnmarshalText reads "unread", "died" or "onwards".
func (d *DatePlus) UnmarshalText(b []byte) error {
	n, err := choose(b, "unread", "died", "onwards")
	*d = DatePlus(n)
	return err
}

// UnmarshalText reads a day of the Gregorian calendar, such as "1752-09-14".
func (d *DateDay) UnmarshalText(b []byte) error {
	t, err := time.Parse(time.DateOnly, string(b))
	if err != nil {
		return fmt.Errorf("it is a day such as 1752-09-14, not %q", b)
	}
	*d = DateDay{Year: int64(t.Year()), Month: uint8(t.Month()), Day: uint8(t.Day())}
	return nil
}

// UnmarshalText reads "any", "natural" or "inverted".
func (n *NameOrder) UnmarshalText(b []byte) error {
	x, err := choose(b, "any", "natural", "inverted")
	*n = NameOrder(x)
	return err
}
