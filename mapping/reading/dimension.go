package reading

// Element is what a measure is a measure of. The terms are the trade's own; the
// empty element means that the words do not say.
type Element string

// The elements. ElementSize is a size in a scale of a trade (shoes, clothes).
const (
	ElementUnstated      Element = ""
	ElementHeight        Element = "height"
	ElementWidth         Element = "width"
	ElementDepth         Element = "depth"
	ElementLength        Element = "length"
	ElementDiameter      Element = "diameter"
	ElementRadius        Element = "radius"
	ElementCircumference Element = "circumference"
	ElementThickness     Element = "thickness"
	ElementCaliber       Element = "caliber"
	ElementArea          Element = "area"
	ElementWeight        Element = "weight"
	ElementVolume        Element = "volume"
	ElementDuration      Element = "duration"
	ElementCount         Element = "count"
	ElementSize          Element = "size"
)

// DimensionConventions are habits of writing measures. The zero value gives the
// defaults stated with each field.
type DimensionConventions struct {
	// Order says what the numbers of "A x B x C" are when they bear no element of
	// their own. Default: height, width, depth.
	Order []Element
	// Unit is the unit of numbers written without one. Default: none, and such
	// numbers are not read.
	Unit Unit
	// Element is what a lone number without a word is. Default: unstated.
	Element Element
	// D is what the letter D stands for. Default: depth beside a width, a length
	// or a diameter; otherwise the element stays unstated, with a note.
	D Element
}

// Amount is a number or a range with its unit, as written.
type Amount struct {
	Value    Number // not given if a range or a bound was written
	Lower    Number // of a range, or of "at least"
	Upper    Number // of a range, or of "at most"
	Unit     Unit   // canonical symbol; empty for counts
	UnitText string // as written; empty where taken from the conventions
	Start    int    // byte offsets in the text, of number and unit
	End      int
}

// Measure is one measure of a cell.
type Measure struct {
	Element     Element
	ElementText string // as written: "H.", "Höjd"
	Part        string // what was measured, in the words of the cell; empty if not said
	PartTerm    string // the usual English term where the words are known: overall, frame, base …
	Amount
	Also        []Amount // the same measure in other units
	Approximate bool
	Uncertain   bool
	Disagrees   bool // an amount in Also differs by more than rounding
}

// DimensionNote is something to report to a curator though the text was read.
type DimensionNote struct {
	Code       string // stable name, such as "units-disagree"
	Reason     string // one sentence
	Start, End int    // byte offsets in the text
}

// Dimensions are the measures of one cell in the order written.
type Dimensions struct {
	Text     string
	Measures []Measure
	Notes    []DimensionNote
}
