package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"golang.org/x/term"

	"ropewalk/mapping/concordance/report"
)

type concordanceCmd struct {
	Site   string `arg:"" help:"The site's folder."`
	Format string `help:"text, csv, html or json." enum:"text,csv,html,json" default:"text"`
	Out    string `placeholder:"FILE" help:"Write to this file; to standard output if not given."`
	Width  int    `placeholder:"N" help:"Wrap the text at so many columns; at those of the terminal if not given. A file is not wrapped."`
	Why    bool   `help:"The text shows the reasons of every line and every object, not only of what is open."`
}

func (c *concordanceCmd) Run(a *app) error {
	if c.Width < 0 {
		return &failure{code: exitUsage, msg: "--width: a number of columns is wanted"}
	}
	s, err := a.loadSite(c.Site, true)
	if err != nil {
		return err
	}
	if s.Concordance == nil {
		return errors.New("the site file declares no order list: see \"concordance:\" in mapping/concordance/README.md")
	}
	if f, ok := a.stdout.(*os.File); ok && c.Width == 0 && c.Out == "" {
		c.Width, _, _ = term.GetSize(int(f.Fd())) // 0 where it is no terminal
	}
	var b bytes.Buffer
	if err := report.Formats[c.Format](&b, s.Concordance, report.Options{Title: s.Title, Why: c.Why, Width: c.Width}); err != nil {
		return err
	}
	if c.Out == "" {
		_, err := b.WriteTo(a.stdout)
		return err
	}
	return writeWhole(c.Out, b.Bytes())
}

// writeWhole writes a file, or leaves what was there.
func writeWhole(name string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".ropewalk-*")
	if err != nil {
		return fmt.Errorf("%s can't be written: %w", name, err)
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(data); err == nil {
		err = f.Chmod(0o644)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	return err
}
