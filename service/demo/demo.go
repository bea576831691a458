// Package demo holds a small, complete site: an invented museum of navigation and
// weather, with the tangle that real collections have. It is what "ropewalk init"
// writes and "ropewalk serve --demo" serves.
package demo

import (
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

//go:embed all:site
var files embed.FS

// FS is the site's folder.
func FS() fs.FS {
	sub, err := fs.Sub(files, "site")
	if err != nil {
		panic(err) // the folder is embedded
	}
	return sub
}

// Write copies the site into dir, which must not exist or be empty: nothing is
// overwritten. If it fails, what it had written is taken away again.
func Write(dir string) (err error) {
	entries, err := os.ReadDir(dir)
	existed := err == nil
	if existed && len(entries) > 0 {
		return fmt.Errorf("%s is not empty; name a new folder", dir)
	}
	if err != nil && !os.IsNotExist(err) {
		return err
	}
	defer func() {
		if err != nil && !existed {
			_ = os.RemoveAll(dir)
		}
	}()
	return fs.WalkDir(FS(), ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(p))
		if e.IsDir() {
			return os.MkdirAll(to, 0o777)
		}
		data, err := fs.ReadFile(FS(), p)
		if err != nil {
			return err
		}
		return os.WriteFile(to, data, 0o666)
	})
}
