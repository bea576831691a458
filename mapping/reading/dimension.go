package reading

// Element is what a measure is a measure of, in the trade's own English terms. The
// empty element means that the words do not say.
type Element string

// The elements.
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
)

// DimensionConventions are habits of writing measures. The zero value gives the
// defaults stated with each field.
type DimensionConventions struct {
	// Order says what the numbers of "A x B x C" are when they bear no word of
	// their own. Default: height, width, depth.
	Order []Element
	// Unit is the unit of numbers written without one. Default: none, and such
	// numbers are not read.
	Unit Unit
	// Element is what a lone number without a word is. Default: unstated.
	Element Element
	// Letters says what single letters stand for, as written: {"D": ElementDiameter}.
	// Default: the trade's usual letters; where those differ between languages (D, T,
	// and l beside capital letters) the element stays unstated, with a note, unless
	// the other measures of the cell decide.
	Letters map[string]Element
	// Decimal is the decimal sign, "." or ",". Default: either; a number that could
	// be read both ways (1,325) is not read unless another number of the cell decides.
	Decimal string
	// NoThousandsSpace says that thousands are never set apart by a space, so that
	// "strap 2 150 mm" is 150 mm of strap 2. Default: such words are not read.
	NoThousandsSpace bool
}

// Amount is a number or a range with its unit, as written.
type Amount struct {
	Value    Number // not given if only a range or a bound was written
	Lower    Number // of a range, or of "at least"
	Upper    Number // of a range, or of "at most"
	Unit     Unit   // canonical symbol; empty for counts
	UnitText string // as written; empty where the unit stands with another number or in the conventions
	Start    int    // byte offsets in the text: the number and its unit
	End      int
}

// Measure is one measure of a cell.
type Measure struct {
	Element     Element
	ElementText string // as written: "H.", "Höjd"; empty where the order of the numbers says it
	Part        string // what was measured, in the words of the cell; empty if not said
	PartTerm    string // the usual English term where the words are known: overall, frame, with stand …
	Remark      string // words after the measure that are no name of a part, or a second one
	Amount
	Also        []Amount // the same measure in other units
	Approximate bool
	Uncertain   bool
	Each        bool // holds for each of several
	Disagrees   bool // an amount in Also differs by more than rounding
}

// DimensionNote is something to report to a curator though the text was read. Its
// codes: units-disagree, ambiguous-letter, element-unknown, unit-inferred,
// words-left, unexplained-parenthesis.
type DimensionNote struct {
	Code       string
	Reason     string // one sentence
	Start, End int    // byte offsets in the text
}

// Dimensions are the measures of one cell in the order written.
type Dimensions struct {
	Text     string
	Measures []Measure
	Notes    []DimensionNote
}

var defaultOrder = []Element{ElementHeight, ElementWidth, ElementDepth}

func (c *DimensionConventions) order() []Element {
	if len(c.Order) > 0 {
		return c.Order
	}
	return defaultOrder
}
