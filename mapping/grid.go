package mapping

import (
	"fmt"
	"math/big"
	"regexp"
	"strings"
)

// decimalDegrees are degrees as they are written: no more digits than any survey has,
// so that nothing long is computed with.
var decimalDegrees = regexp.MustCompile(`^[+-]?[0-9]{1,3}(\.[0-9]{1,15})?$`)

// gridCell is the square of a grid in which a place lies, as a polygon in well-known
// text (OGC 06-103r4, §7) with longitude before latitude, counter-clockwise; "" for a
// place without coordinates. Latitude and longitude are decimal degrees, grid is the
// side of the square in degrees; the grid begins at 0° 0°, and the squares at the
// poles and at 180° end there. It is computed in exact decimals: nothing of the place
// but its square is in the result.
func gridCell(latitude, longitude, grid string) (string, error) {
	latitude, longitude = strings.TrimSpace(latitude), strings.TrimSpace(longitude)
	if latitude == "" && longitude == "" {
		return "", nil
	}
	side, err := degrees("side of a square", grid, 90)
	if err != nil {
		return "", err
	}
	if side.Cmp(big.NewRat(1, 1000)) < 0 { // gridLeast
		return "", fmt.Errorf("the side of a square is %s degrees; it must be %v at least", grid, gridLeast)
	}
	south, north, err := gridBand("latitude", latitude, side, 90)
	if err != nil {
		return "", err
	}
	west, east, err := gridBand("longitude", longitude, side, 180)
	if err != nil {
		return "", err
	}
	_, decimals, _ := strings.Cut(strings.TrimSpace(grid), ".")
	corner := func(x, y *big.Rat) string { return x.FloatString(len(decimals)) + " " + y.FloatString(len(decimals)) }
	return "POLYGON((" + strings.Join([]string{corner(west, south), corner(east, south), corner(east, north), corner(west, north), corner(west, south)}, ", ") + "))", nil
}

// gridBand gives the two lines of the grid between which a coordinate lies.
func gridBand(name, s string, side *big.Rat, limit int64) (from, to *big.Rat, err error) {
	x, err := degrees(name, s, limit)
	if err != nil {
		return nil, nil, err
	}
	end := new(big.Rat).SetInt64(limit)
	start := new(big.Rat).Neg(end)
	n := new(big.Rat).Quo(x, side)
	k := new(big.Int).Div(n.Num(), n.Denom()) // Euclidean: down, for the denominator is positive
	if x.Cmp(end) == 0 && n.IsInt() {
		k.Sub(k, big.NewInt(1))
	}
	from = new(big.Rat).Mul(new(big.Rat).SetInt(k), side)
	to = new(big.Rat).Add(from, side)
	if from.Cmp(start) < 0 {
		from = start
	}
	if to.Cmp(end) > 0 {
		to = end
	}
	return from, to, nil
}

func degrees(name, s string, limit int64) (*big.Rat, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return nil, fmt.Errorf("the %s is missing", name)
	}
	x, ok := new(big.Rat).SetString(s)
	if !ok || !decimalDegrees.MatchString(s) {
		return nil, fmt.Errorf("the %s %q is not in decimal degrees, such as 54.25", name, s)
	}
	if new(big.Rat).Abs(x).Cmp(new(big.Rat).SetInt64(limit)) > 0 {
		return nil, fmt.Errorf("the %s %s is beyond %d degrees", name, s, limit)
	}
	return x, nil
}
