package main

import (
	"fmt"
	"text/tabwriter"

	"ropewalk/mapping"
	"ropewalk/mapping/site"
	"ropewalk/mapping/trade"
	"ropewalk/mapping/validate"
)

type rulesCmd struct{}

func (c *rulesCmd) Run(a *app) error {
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', 0)
	list := func(title string, rules []*mapping.Rule) {
		fmt.Fprintln(w, title)
		for _, r := range rules {
			kind := ""
			if r.Severity == mapping.Notice {
				kind = " (notice)"
			}
			fmt.Fprintf(w, "  %s%s\t%s\n", r.Name, kind, r.About)
		}
	}
	list("Rules for the site file", site.Rules())
	list("Rules for mappings", mapping.Rules())
	list("Rules of the trade, for documents", trade.Rules())
	fmt.Fprintln(w, "Rules for documents")
	for _, r := range validate.Rules() {
		fmt.Fprintf(w, "  %s\t%s\n", r.Name, r.About)
	}
	return w.Flush()
}
