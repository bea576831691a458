package mapping

import (
	"fmt"
)

var ruleUnknownSet = &Rule{Name: "unknown-set", About: "a harvest set that the site file does not declare"}

func (c *compiler) unknownSet(v Value) {
	hint := didYouMean(scalarText(v), c.Sets)
	if hint == "" && len(c.Sets) > 0 {
		hint = "the site file has " + oneOf(c.Sets)
	}
	if hint == "" {
		hint = "declare it under \"sets:\" in the site file"
	}
	c.add(ruleUnknownSet, v.Place(), fmt.Sprintf("the site file declares no set %q", scalarText(v)), hint)
}
