// Package reading turns what curators write into typed values: dates, dimensions,
// money, quantities, makers. Each reader takes the text of a cell and the museum's
// [Conventions] and gives a value or the [Unread] reason why not. A wrong reading
// is worse than none: a reader that is not sure does not read.
//
// The package knows nothing of RDF or of where the text came from. Readers are
// pure functions and safe for concurrent use.
package reading

// Unread is the error of every reader: the text could not be read, and why.
type Unread struct {
	Text   string // the text as given
	Code   string // stable name of the reason, such as "ambiguous-day-month" or "unknown-words"
	Reason string // one sentence for a curator
	At     int    // byte offset in Text where reading stopped; -1 if nowhere in particular
}

// Error gives the reason with the text.
func (u *Unread) Error() string { return u.Reason + ": " + u.Text }

// Conventions are a museum's habits of writing. The zero value gives the
// documented defaults.
type Conventions struct {
	Date      DateConventions
	Dimension DimensionConventions
	Money     MoneyConventions
	Maker     MakerConventions
}
