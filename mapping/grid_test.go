package mapping

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestGridCell(t *testing.T) {
	for _, c := range []struct{ lat, lon, grid, want, err string }{
		{"54.3712", "-3.1415", "0.1", "POLYGON((-3.2 54.3, -3.1 54.3, -3.1 54.4, -3.2 54.4, -3.2 54.3))", ""},
		{"54.3712", "-3.1415", "1", "POLYGON((-4 54, -3 54, -3 55, -4 55, -4 54))", ""},
		{"-0.05", "0", "0.1", "POLYGON((0.0 -0.1, 0.1 -0.1, 0.1 0.0, 0.0 0.0, 0.0 -0.1))", ""},
		{"0.3", "0.7", "0.1", "POLYGON((0.7 0.3, 0.8 0.3, 0.8 0.4, 0.7 0.4, 0.7 0.3))", ""}, // binary fractions would lie in 0.2 and 0.6
		{"90", "180", "0.5", "POLYGON((179.5 89.5, 180.0 89.5, 180.0 90.0, 179.5 90.0, 179.5 89.5))", ""},
		{"-90", "-180", "7", "POLYGON((-180 -90, -175 -90, -175 -84, -180 -84, -180 -90))", ""},
		{"90", "180", "7", "POLYGON((175 84, 180 84, 180 90, 175 90, 175 84))", ""},
		{"", " ", "0.1", "", ""},
		{"54.37", "", "0.1", "", "longitude is missing"},
		{"", "3.1", "0.1", "", "latitude is missing"},
		{"54,37", "3.1", "0.1", "", "decimal degrees"},
		{"54° 22′", "3.1", "0.1", "", "decimal degrees"},
		{"1/3", "3.1", "0.1", "", "decimal degrees"},
		{"1e2", "3.1", "0.1", "", "decimal degrees"},
		{"90.1", "3.1", "0.1", "", "beyond 90"},
		{"54", "-180.5", "0.1", "", "beyond 180"},
		{"54", "3", "0.0009", "", "0.001 at least"},
		{"54", "3", "0", "", "0.001 at least"},
		{"54", "3", "-1", "", "0.001 at least"},
		{"54", "3", "", "", "side of a square is missing"},
	} {
		got, err := gridCell(c.lat, c.lon, c.grid)
		if (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) || got != c.want {
			t.Errorf("%s %s in %s: %q, %v; want %q, %q", c.lat, c.lon, c.grid, got, err, c.want, c.err)
		}
	}
}

// Every place lies in its square, and all places of a square give the same text: it
// tells nothing else of them.
func TestGridCellHides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grid := rapid.SampledFrom([]string{"0.01", "0.05", "0.1", "0.25", "1", "7"}).Draw(t, "grid")
		side, _ := new(big.Rat).SetString(grid)
		rows, _ := new(big.Rat).Quo(big.NewRat(90, 1), side).Float64() // from the equator to a pole, the last perhaps not whole
		most := min(300, int64(rows))
		k := rapid.Int64Range(-most, most-1).Draw(t, "row")
		low := new(big.Rat).Mul(side, big.NewRat(k, 1))
		in := func(name string) string {
			part := new(big.Rat).Mul(side, big.NewRat(rapid.Int64Range(0, 9999).Draw(t, name), 10000))
			return new(big.Rat).Add(low, part).FloatString(8)
		}
		a, b := in("a"), in("b")
		x, errX := gridCell(a, "10", grid)
		y, errY := gridCell(b, "10", grid)
		if x != y || (errX == nil) != (errY == nil) {
			t.Fatalf("%s: %s (%v), %s: %s (%v)", a, x, errX, b, y, errY)
		}
	})
}
