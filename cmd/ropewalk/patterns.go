package main

import (
	"fmt"
	"strings"

	"ropewalk/mapping"
)

type patternCmd struct {
	Name string `arg:"" optional:"" help:"A pattern to print as it is written."`
}

func (c *patternCmd) Run(a *app) error {
	all := mapping.LibraryPatterns()
	if c.Name != "" {
		return c.print(a, all)
	}
	p := &painter{w: a.stdout, color: colorful(a.stdout)}
	file := ""
	for _, x := range all {
		if x.File != file {
			file = x.File
			fmt.Fprintln(a.stdout)
		}
		what := x.Class
		if what == "" {
			what = "keys for the node that uses it"
		}
		fmt.Fprintf(a.stdout, "%s  %s\n", p.bold(x.Name), p.faint(what))
		p.para("  ", strings.TrimSpace(x.About))
		if len(x.Required) > 0 {
			p.para("  needs ", strings.Join(x.Required, ", "))
		}
		if len(x.Optional) > 0 {
			p.para("  may have ", strings.Join(x.Optional, ", "))
		}
	}
	fmt.Fprintln(a.stdout, "\nA mapping uses one with \"use\", as in { use: primary-name, content: \"{title}\" }.")
	return nil
}

// print shows a pattern as it is written.
func (c *patternCmd) print(a *app, all []mapping.PatternInfo) error {
	var names []string
	for _, x := range all {
		names = append(names, x.Name)
		if x.Name != c.Name {
			continue
		}
		data, _ := mapping.LibraryFile(x.File)
		lines := strings.Split(string(data), "\n")[x.Line-1:]
		for i, l := range lines {
			if l == "---" {
				lines = lines[:i]
				break
			}
		}
		fmt.Fprintln(a.stdout, strings.TrimSpace(strings.Join(lines, "\n")))
		return nil
	}
	hint := mapping.DidYouMean(c.Name, names)
	if hint == "" {
		hint = "\"ropewalk patterns\" lists them all"
	}
	return &failure{exitUsage, fmt.Sprintf("the library has no pattern %q; %s", c.Name, hint)}
}
