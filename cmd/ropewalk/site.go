package main

import (
	"fmt"
	"os"
	"path/filepath"

	"ropewalk/mapping"
	"ropewalk/mapping/site"
	"ropewalk/service/store/postgres"
)

// loadSite loads the site in a folder. Its diagnostics are drawn on standard
// error; if any is a problem the error says only that.
func (a *app) loadSite(dir string, notices bool) (*site.Site, error) {
	st, err := os.Stat(dir)
	if err == nil && !st.IsDir() && filepath.Base(dir) == site.FileName {
		dir = filepath.Dir(dir)
	} else if err == nil && !st.IsDir() {
		err = fmt.Errorf("it is not a folder")
	}
	if err != nil {
		return nil, &failure{exitUsage, fmt.Sprintf("%s: a site is a folder with a file %s: %v", dir, site.FileName, reason(err))}
	}
	s, diags := site.Load(os.DirFS(dir))
	p := &painter{w: a.stderr, color: colorful(a.stderr), text: s.Text}
	for _, d := range diags {
		if d.Severity == mapping.Problem || notices {
			p.diagnostic(d)
		}
	}
	if n := diags.Problems(); n > 0 {
		fmt.Fprintf(a.stderr, "%s in the site and its mappings. Nothing was read or written.\n", count(n, "problem"))
		return nil, problems()
	}
	return s, nil
}

// storeEnv names an address or file that takes the place of the site file's "store":
// an address with a password need not stand in a file.
const storeEnv = "ROPEWALK_STORE"

// storePath is the file of a site's store, or the address of its database.
func storePath(dir string, s *site.Site) string {
	if v := os.Getenv(storeEnv); v != "" {
		return v
	}
	return siteStore(dir, s)
}

// siteStore is the store that the site file names.
func siteStore(dir string, s *site.Site) string {
	if filepath.IsAbs(s.Store) || postgres.IsAddress(s.Store) {
		return s.Store
	}
	if filepath.Base(dir) == site.FileName {
		dir = filepath.Dir(dir)
	}
	return filepath.Join(dir, filepath.FromSlash(s.Store))
}

func reason(err error) error {
	if os.IsNotExist(err) {
		return fmt.Errorf("there is no such folder")
	}
	return err
}

// count says a number with its noun.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return thousands(n) + " " + noun + "s"
}

// them stands for a number of things named before.
func them(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}

// thousands writes a number with commas.
func thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
