package main

import (
	"fmt"
	"text/tabwriter"

	"ropewalk/mapping"
	"ropewalk/mapping/validate"
)

type rulesCmd struct{}

func (c *rulesCmd) Run(a *app) error {
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "Rules for mappings")
	for _, r := range mapping.Rules() {
		kind := ""
		if r.Severity == mapping.Notice {
			kind = " (notice)"
		}
		fmt.Fprintf(w, "  %s%s\t%s\n", r.Name, kind, r.About)
	}
	fmt.Fprintln(w, "Rules for documents")
	for _, r := range validate.Rules() {
		fmt.Fprintf(w, "  %s\t%s\n", r.Name, r.About)
	}
	return w.Flush()
}
