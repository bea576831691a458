// Package concordance works out what an order meant and what is left of it: which
// entry of a maker's printed catalogue each line of an order list names, which objects
// of the collection are the pieces that were ordered, what of the order is lost, and
// which objects were never ordered there.
//
// Begin with [Work]. It takes what was written ([Input]) and gives a [Result] in
// which every finding has its reasons. Exact rules come first: a line is identified
// only if its number, its price, its words and its date leave one article. Whatever
// leaves several is ambiguous: its candidates are ranked by points, and none is picked.
// What a curator has decided ([Decision]) takes precedence over both, and only that
// becomes rows for mappings ([Result.Rows]).
//
// [ReadNumbers] reads the numbers of order lists, catalogues and objects.
//
// The package does no input or output, and its results are the same for the same
// input, always.
package concordance

import (
	"strconv"
	"strings"

	"ropewalk/mapping/reading"
)

// Input is everything that was written, cell by cell.
type Input struct {
	Lines     []Line // in the order of the documents
	Entries   []Entry
	Objects   []Object
	Decisions []Decision

	// Each says that a line without a column of quantities stands for one piece.
	// Without it, a line that says no quantity stands for at least one.
	Each bool
	// About is how far "about 40" may be from 40, in percent.
	About int

	// LineConventions are for reading dates, money and quantities of lines; nil for the
	// defaults.
	LineConventions *reading.Conventions
}

// Place is where something was written.
type Place struct {
	File string
	Row  int // as a spreadsheet counts; the header is 1
	Line int // line of the file; 0 in a workbook
}

// String is "orders.csv, row 5".
func (p Place) String() string {
	if p.File == "" {
		return ""
	}
	return p.File + ", row " + strconv.Itoa(p.Row)
}

// Line is a line of an order list, as written.
type Line struct {
	Document string
	Folio    string
	Line     string
	Number   string // "212", "ditto", "2?2"; see [ReadNumbers]
	Edition  string // edition of the catalogue that the document itself names; may be empty
	Name     string // words for the thing; may be empty
	Quantity string
	Price    string // of one piece
	Amount   string // of the whole line
	Note     string
	Date     string // of the document
	Total    string // the document's own total
	Place    Place
}

// Entry is an entry of a trade catalogue.
type Entry struct {
	Catalogue   string // name of the catalogue in the site file
	Edition     string
	Published   string // date
	Number      string
	Name        string
	Price       string // of one piece
	Description string
	Conventions *reading.Conventions // for its dates and money; nil for the defaults
	Place       Place
}

// Object is an object of the collection, or the record of one that is lost.
type Object struct {
	ID          string
	Name        string
	Numbers     []string // numbers of a maker's catalogue, as recorded
	Edition     string   // edition that the numbers are of; may be empty
	Document    string   // the order that the object is recorded to come from; may be empty
	Fragmentary bool
	Lost        bool
	Place       Place
}

// Label is "1871 no. 212", with the catalogue's name where it has no editions.
func (e *Entry) Label() string {
	edition := e.Edition
	if edition == "" {
		edition = e.Catalogue
	}
	return edition + " no. " + e.Number
}

// ID names a line for people: "D11, leaf 2, line 3".
func (l *Line) ID() string {
	s := l.Document
	if s == "" {
		s = "no document"
	}
	if l.Folio != "" {
		s += ", leaf " + l.Folio
	}
	if l.Line != "" {
		s += ", line " + l.Line
	}
	return s
}

// State is what is known of the number of a line.
type State string

// The states.
const (
	Identified  State = "identified"  // the rules leave one article
	Accepted    State = "accepted"    // a curator has decided
	Ambiguous   State = "ambiguous"   // several articles fit, or a doubt is left
	Unexplained State = "unexplained" // no entry fits, or nothing can be read
	StruckOut   State = "struck out"  // not ordered
	Refused     State = "none"        // a curator has decided that no entry is meant
)

// Known reports whether the article is known.
func (s State) Known() bool { return s == Identified || s == Accepted }

// Reason is one thing that speaks for a match, or against it if Points is negative.
type Reason struct {
	Text   string
	Points int
}

// Candidate is an entry that a number may mean.
type Candidate struct {
	Entry   int // index in [Input.Entries]
	Points  int
	Reasons []Reason
	Against bool // something contradicts it
}

// Item is one number of a line: a line has several if it names a list or a range.
type Item struct {
	Number     string // in the regular form, dittos replaced; "" if nothing can be read
	State      State
	Rule       string      // by which it is identified: "number", "number and price" …
	Why        string      // a sentence
	Entries    []int       // the article in the editions that fit, the likeliest first; nil unless the state is known
	Candidates []Candidate // by falling points; of known items those that explain the choice
	Sure       bool        // the article is known; for accepted items always

	read     Number
	legible  bool
	hi       int // pieces at most, if the line says how many of each
	articles []int
	points   map[int]int // by article that fits
}

// Piece is an object that is a piece of a line, or may be.
type Piece struct {
	Object  int // index in [Input.Objects]
	Item    int // index of the item; -1: any of them
	Certain bool
	Decided bool // by the curator
	Points  int
	Reasons []Reason
	Others  []int // lines of which it may be a piece instead
}

// LineResult is what was worked out of a line.
type LineResult struct {
	Line
	Key      string // names the line in identifiers; never changes while document, folio and line stay
	State    State
	Why      string
	Items    []Item
	Pieces   []Piece // certain ones first
	Quantity Range   // pieces ordered
	Lost     int     // pieces that the curator has declared lost
	Unit     Sum     // price of one piece
	Sum      Sum     // price of the line
	Notes    []string

	decisions []int
	declined  bool // nothing of it was ordered: struck out, or so decided
}

// ObjectState is what is known of an object with a maker's number.
type ObjectState string

// The states of objects.
const (
	OfLine       ObjectState = "of a line"     // a piece of one line
	OfSeveral    ObjectState = "undecided"     // may be a piece of a line, or of several
	NeverOrdered ObjectState = "never ordered" // the catalogue has it, and no line names it
	NotListed    ObjectState = "not in the catalogues"
	NoNumber     ObjectState = "without a number"
	NotRead      ObjectState = "not read" // its numbers can't be read
)

// ObjectResult is what was worked out of an object.
type ObjectResult struct {
	State   ObjectState
	Why     string
	Line    int   // index of the line if the state is OfLine; else -1
	Options []int // lines of which it may be a piece
	Entries []int // that its numbers name
}

// Problem is something that a person must put right: a decision that does not fit, or
// a catalogue or list that contradicts itself.
type Problem struct {
	Decision bool // it is in the decisions
	Place    Place
	Column   string // "" for the whole row
	Value    string
	Message  string
	Hint     string
}

// Result is what was worked out.
type Result struct {
	Input     *Input
	Lines     []LineResult
	Objects   []ObjectResult
	Documents []Totals // in order of first lines
	All       Totals
	Problems  []Problem

	made []made
}

// worker holds what [Work] has found so far.
type worker struct {
	*Input
	res     *Result
	entries *entryIndex
	dates   map[dateKey]*reading.Date
	objects []objectNumbers
	pairs   *pairing
	gaps    []string // documents of which parts are missing
	made    []made   // decisions that fit
}

// Work works out the concordance.
func Work(in *Input) *Result {
	w := &worker{Input: in, res: &Result{Input: in}, dates: map[dateKey]*reading.Date{}}
	w.entries = w.indexEntries()
	w.readLines()
	for i := range w.res.Lines {
		w.identify(&w.res.Lines[i])
	}
	w.readObjects()
	accepted := w.decide()
	w.assign(accepted)
	w.totals()
	w.res.made = w.made
	return w.res
}

func (w *worker) problem(p Problem) { w.res.Problems = append(w.res.Problems, p) }

type dateKey struct {
	text string
	conv *reading.Conventions
}

// date reads a date once for each wording; nil if it can't be read or is empty.
func (w *worker) date(text string, c *reading.Conventions) *reading.Date {
	text = strings.TrimSpace(text)
	if text == "" {
		return nil
	}
	k := dateKey{text, c}
	if d, ok := w.dates[k]; ok {
		return d
	}
	var out *reading.Date
	if d, err := reading.ReadDate(text, c); err == nil {
		out = &d
	}
	w.dates[k] = out
	return out
}
