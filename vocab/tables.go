package vocab

var (
	classes   = map[string]*Class{}
	terms     = map[string]*Term{}
	records   = map[*Class][]*Endpoint{}
	endpoints = map[string]*Endpoint{}
)
