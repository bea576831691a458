package reading

// DimensionConventions are habits of writing measures.
type DimensionConventions struct{}
