package reading

// MakerConventions are habits of writing makers and attributions.
type MakerConventions struct{}
