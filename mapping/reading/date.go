package reading

// DateConventions are habits of writing dates.
type DateConventions struct{}
