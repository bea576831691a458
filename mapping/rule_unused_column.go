package mapping

import (
	"fmt"
	"strings"
)

var ruleUnusedColumn = &Rule{Name: "unused-column", Severity: Notice, About: "a column that no mapping reads and the site file does not name as unused or withheld"}

func checkUnusedColumn(c *compiler) {
	for _, u := range c.columnUse() {
		if len(u.Unused) == 0 {
			continue
		}
		var names []string
		for _, col := range u.Unused {
			names = append(names, col.Path)
		}
		c.add(ruleUnusedColumn, Span{File: c.SiteFile, Line: 1, Col: 1, Len: 1},
			fmt.Sprintf("source %q: no mapping reads %s", u.Source, strings.Join(names, ", ")),
			"map them, or name them under \"unused\" or \"withheld\"")
	}
}
