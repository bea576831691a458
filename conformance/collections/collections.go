// Package collections holds two sites over real open datasets, written as a
// museum's developer would write them: see README.md. The sites are in the
// folders tate and skokloster; the data is not here. [Open] puts both together.
package collections

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// Names are the sites.
func Names() []string { return []string{"skokloster", "tate"} }

// Open gives the site of that name with its data: the site's folder, in which the
// folder data/NAME below shared is mounted as "data". The site file's paths, such
// as data/artworks, lie within it.
func Open(name, shared string) (fs.FS, error) {
	if !slices.Contains(Names(), name) {
		return nil, fmt.Errorf("no site is called %q; there are %s", name, strings.Join(Names(), " and "))
	}
	site := filepath.Join(folder(), name)
	data := filepath.Join(shared, "data", name)
	for _, dir := range []string{site, data} {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			err = &fs.PathError{Op: "open", Path: dir, Err: errors.New("this is no folder")}
		}
		if err != nil {
			return nil, err
		}
	}
	return &overlay{base: os.DirFS(site), at: "data", mounted: os.DirFS(data)}, nil
}

// folder is where the source of this package lies.
func folder() string {
	_, file, _, _ := runtime.Caller(0)
	return filepath.Dir(file)
}

// overlay is a file system with another mounted in its root: what base itself has
// under that name is hidden.
type overlay struct {
	base    fs.FS
	at      string // one path element
	mounted fs.FS
}

var (
	_ fs.ReadDirFS  = (*overlay)(nil)
	_ fs.StatFS     = (*overlay)(nil)
	_ fs.ReadFileFS = (*overlay)(nil)
)

// inside gives the file system that has a path, and the path in it.
func (o *overlay) inside(op, name string) (fs.FS, string, error) {
	switch rest, below := strings.CutPrefix(name, o.at+"/"); {
	case !fs.ValidPath(name):
		return nil, "", &fs.PathError{Op: op, Path: name, Err: fs.ErrInvalid}
	case name == o.at:
		return o.mounted, ".", nil
	case below:
		return o.mounted, rest, nil
	}
	return o.base, name, nil
}

// named makes an error speak of the path that was asked for.
func named(err error, name string) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return &fs.PathError{Op: pe.Op, Path: name, Err: pe.Err}
	}
	return err
}

// Open opens a file or folder. The root is a folder with the mounted one in it.
func (o *overlay) Open(name string) (fs.File, error) {
	in, p, err := o.inside("open", name)
	if err != nil {
		return nil, err
	}
	f, err := in.Open(p)
	if err != nil {
		return nil, named(err, name)
	}
	if p != "." {
		return f, nil
	}
	info, err := o.Stat(name)
	if err == nil {
		var list []fs.DirEntry
		if list, err = o.ReadDir(name); err == nil {
			return &rootDir{File: f, info: info, list: list}, nil
		}
	}
	f.Close()
	return nil, err
}

// ReadDir lists a folder, sorted by name.
func (o *overlay) ReadDir(name string) ([]fs.DirEntry, error) {
	in, p, err := o.inside("readdir", name)
	if err != nil {
		return nil, err
	}
	list, err := fs.ReadDir(in, p)
	if err != nil {
		return nil, named(err, name)
	}
	if name != "." {
		return list, nil
	}
	info, err := o.Stat(o.at)
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(e fs.DirEntry) bool { return e.Name() == o.at })
	list = append(list, fs.FileInfoToDirEntry(info))
	slices.SortFunc(list, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return list, nil
}

// Stat describes a file or folder.
func (o *overlay) Stat(name string) (fs.FileInfo, error) {
	in, p, err := o.inside("stat", name)
	if err != nil {
		return nil, err
	}
	info, err := fs.Stat(in, p)
	if err != nil {
		return nil, named(err, name)
	}
	if p == "." {
		return mountInfo{info, path.Base(name)}, nil
	}
	return info, nil
}

// ReadFile gives the content of a file.
func (o *overlay) ReadFile(name string) ([]byte, error) {
	in, p, err := o.inside("open", name)
	if err != nil {
		return nil, err
	}
	b, err := fs.ReadFile(in, p)
	return b, named(err, name)
}

// mountInfo is a root that goes by the name it has in the overlay.
type mountInfo struct {
	fs.FileInfo
	name string
}

func (m mountInfo) Name() string { return m.name }

// rootDir is one of the two roots opened: the overlay's, which lists the mounted
// folder too, or the mounted one under its name.
type rootDir struct {
	fs.File
	info fs.FileInfo
	list []fs.DirEntry
	next int
}

// Stat describes the folder.
func (d *rootDir) Stat() (fs.FileInfo, error) { return d.info, nil }

// ReadDir gives the next n entries, or all that are left if n is not above zero.
func (d *rootDir) ReadDir(n int) ([]fs.DirEntry, error) {
	left := d.list[d.next:]
	if n > 0 && len(left) == 0 {
		return nil, io.EOF
	}
	if n > 0 && n < len(left) {
		left = left[:n]
	}
	d.next += len(left)
	return slices.Clone(left), nil
}
