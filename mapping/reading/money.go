package reading

// MoneyConventions are habits of writing amounts of money.
type MoneyConventions struct{}
