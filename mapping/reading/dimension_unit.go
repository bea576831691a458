package reading

// Unit is the canonical symbol of a unit of measure: "mm", "in", "kg". The
// empty unit belongs to counts.
type Unit string
