package reading

import "math/big"

// Unit is the canonical symbol of a unit of measure: "mm", "in", "kg"; [UnitNone]
// belongs to counts.
//
// Exact factors: international yard and pound agreement of 1 July 1959 (1 yd =
// 0.9144 m, 1 lb = 0.453 592 37 kg), NIST SP 811 (2008) appendix B for the rest.
// Units whose size depends on place and time (Zoll, gallon, hundredweight) have no
// factor: they are read and kept, never converted.
type Unit string

// UnitNone is the unit of counts.
const UnitNone Unit = ""

type unitClass uint8

const (
	classNone unitClass = iota
	classLength
	classMass
	classVolume
	classArea
	classTime
	classPixel
)

type unitSystem uint8

const (
	systemOther unitSystem = iota
	systemMetric
	systemImperial
)

// unitInfo gives the class, the system, and the factor to the base unit of the class
// (m, kg, l, m², s) as a fraction; den 0: no exact factor.
type unitInfo struct {
	class    unitClass
	system   unitSystem
	num, den int64
}

var units = map[Unit]unitInfo{
	"µm": {classLength, systemMetric, 1, 1000000},
	"mm": {classLength, systemMetric, 1, 1000},
	"cm": {classLength, systemMetric, 1, 100},
	"dm": {classLength, systemMetric, 1, 10},
	"m":  {classLength, systemMetric, 1, 1},
	"km": {classLength, systemMetric, 1000, 1},
	"in": {classLength, systemImperial, 254, 10000},
	"ft": {classLength, systemImperial, 3048, 10000},
	"yd": {classLength, systemImperial, 9144, 10000},
	"mi": {classLength, systemImperial, 1609344, 1000},

	"mg":   {classMass, systemMetric, 1, 1000000},
	"g":    {classMass, systemMetric, 1, 1000},
	"hg":   {classMass, systemMetric, 1, 10},
	"kg":   {classMass, systemMetric, 1, 1},
	"t":    {classMass, systemMetric, 1000, 1},
	"ct":   {classMass, systemMetric, 2, 10000},
	"lb":   {classMass, systemImperial, 45359237, 100000000},
	"oz":   {classMass, systemImperial, 45359237, 1600000000},
	"st":   {classMass, systemImperial, 14 * 45359237, 100000000},
	"oz t": {classMass, systemImperial, 311034768, 10000000000},
	"dwt":  {classMass, systemImperial, 155517384, 100000000000},
	"gr":   {classMass, systemImperial, 6479891, 100000000000},
	"cwt":  {classMass, systemImperial, 0, 0},
	"ton":  {classMass, systemImperial, 0, 0},

	"ml":  {classVolume, systemMetric, 1, 1000},
	"cl":  {classVolume, systemMetric, 1, 100},
	"dl":  {classVolume, systemMetric, 1, 10},
	"l":   {classVolume, systemMetric, 1, 1},
	"hl":  {classVolume, systemMetric, 100, 1},
	"mm3": {classVolume, systemMetric, 1, 1000000},
	"cm3": {classVolume, systemMetric, 1, 1000},
	"dm3": {classVolume, systemMetric, 1, 1},
	"m3":  {classVolume, systemMetric, 1000, 1},
	"in3": {classVolume, systemImperial, 16387064, 1000000000},
	"ft3": {classVolume, systemImperial, 28316846592, 1000000000},

	"fl oz": {classVolume, systemImperial, 0, 0},
	"pt":    {classVolume, systemImperial, 0, 0},
	"qt":    {classVolume, systemImperial, 0, 0},
	"gal":   {classVolume, systemImperial, 0, 0},

	"mm2": {classArea, systemMetric, 1, 1000000},
	"cm2": {classArea, systemMetric, 1, 10000},
	"m2":  {classArea, systemMetric, 1, 1},
	"ha":  {classArea, systemMetric, 10000, 1},
	"in2": {classArea, systemImperial, 64516, 100000000},
	"ft2": {classArea, systemImperial, 9290304, 100000000},

	"s":   {classTime, systemOther, 1, 1},
	"min": {classTime, systemOther, 60, 1},
	"h":   {classTime, systemOther, 3600, 1},

	"px": {classPixel, systemOther, 0, 0},

	// Measures of the old towns and states, kept by their own names.
	"Zoll": {classLength, systemOther, 0, 0}, "Fuß": {classLength, systemOther, 0, 0}, "Elle": {classLength, systemOther, 0, 0},
	"tum": {classLength, systemOther, 0, 0}, "fot": {classLength, systemOther, 0, 0}, "aln": {classLength, systemOther, 0, 0},
	"pouce": {classLength, systemOther, 0, 0}, "pied": {classLength, systemOther, 0, 0}, "duim": {classLength, systemOther, 0, 0},
	"tomme": {classLength, systemOther, 0, 0}, "pulgada": {classLength, systemOther, 0, 0}, "pollice": {classLength, systemOther, 0, 0},
	"skålpund": {classMass, systemOther, 0, 0}, "lod": {classMass, systemOther, 0, 0}, "Pfund": {classMass, systemOther, 0, 0},
	"livre": {classMass, systemOther, 0, 0},
}

// Known says whether the unit is one that [ReadDimensions] gives.
func (u Unit) Known() bool {
	_, ok := units[u]
	return ok
}

// Factor is the exact size of one unit in the base unit of its class: m, kg, l, m², s.
// It says false for units without an exact size.
func (u Unit) Factor() (*big.Rat, bool) {
	info := units[u]
	if info.den == 0 {
		return nil, false
	}
	return big.NewRat(info.num, info.den), true
}

// Convert gives a number of one unit in another, exactly. It says false where the
// units measure different things or have no exact size.
func Convert(n Number, from, to Unit) (*big.Rat, bool) {
	a, b := units[from], units[to]
	if !n.Given() || a.class != b.class || a.den == 0 || b.den == 0 {
		return nil, false
	}
	r := n.Rat()
	r.Mul(r, big.NewRat(a.num, a.den))
	return r.Quo(r, big.NewRat(b.num, b.den)), true
}
