package main

import (
	"fmt"

	"ropewalk/service/demo"
)

type initCmd struct {
	Dir string `arg:"" help:"The folder to write; it must be new or empty."`
}

func (c *initCmd) Run(a *app) error {
	if err := demo.Write(c.Dir); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, `A small site is in %[1]s: an invented museum, to look at and to change.
Begin with %[1]s/ropewalk.yaml, which says what is what. Then:

  ropewalk check %[1]s
  ropewalk export %[1]s --format ttl
  ropewalk publish %[1]s
  ropewalk serve %[1]s
`, c.Dir)
	return nil
}
