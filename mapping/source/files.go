package source

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// formatOf is the format that a file's suffix stands for, and whether the file
// is compressed.
func formatOf(name string) (format string, gzipped bool) {
	lower := strings.ToLower(path.Base(name))
	if base, ok := strings.CutSuffix(lower, ".gz"); ok {
		lower, gzipped = base, true
	}
	switch path.Ext(lower) {
	case ".csv", ".txt":
		return "csv", gzipped
	case ".tsv", ".tab":
		return "tsv", gzipped
	case ".xlsx", ".xlsm":
		return "xlsx", gzipped
	case ".json":
		return "json", gzipped
	case ".jsonl", ".ndjson":
		return "jsonl", gzipped
	case ".xml", ".lido":
		return "xml", gzipped
	}
	return "", gzipped
}

func familyOf(format string) family {
	switch format {
	case "csv", "tsv", "xlsx":
		return tables
	case "json", "jsonl":
		return jsons
	case "xml":
		return xmls
	}
	return 0
}

// expander turns the declared files of a source into a sorted list of names.
type expander struct {
	fsys  fs.FS
	found map[string]fs.FileInfo
}

// add resolves a file, folder or glob. only is the declared format, or "".
func (x *expander) add(pattern, only string) error {
	clean := path.Clean(strings.TrimPrefix(pattern, "./"))
	if info, err := fs.Stat(x.fsys, clean); err == nil {
		if !info.IsDir() {
			x.found[clean] = info
			return nil
		}
		return x.folder(clean, nil, only)
	} else if !hasMeta(clean) {
		if errors.Is(err, fs.ErrNotExist) {
			return errors.New("there is no such file or folder")
		}
		return err
	}
	parts := strings.Split(clean, "/")
	for i, p := range parts {
		if p == "**" {
			continue
		}
		if _, err := path.Match(p, ""); err != nil {
			return fmt.Errorf("the pattern's part %q is not well formed", parts[i])
		}
	}
	fixed := 0
	for fixed < len(parts)-1 && !hasMeta(parts[fixed]) {
		fixed++
	}
	root := "."
	if fixed > 0 {
		root = strings.Join(parts[:fixed], "/")
	}
	before := len(x.found)
	if err := x.folder(root, parts[fixed:], only); err != nil {
		return err
	}
	if len(x.found) == before && !x.any(parts) {
		return errors.New("no file matches")
	}
	return nil
}

// any reports whether a file found before matches the pattern.
func (x *expander) any(parts []string) bool {
	for name := range x.found {
		if matchParts(parts, strings.Split(name, "/")) {
			return true
		}
	}
	return false
}

// folder adds the files below dir whose path from it matches pattern; without a
// pattern those of a known format.
func (x *expander) folder(dir string, pattern []string, only string) error {
	before := len(x.found)
	err := fs.WalkDir(x.fsys, dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if p != dir && hidden(d.Name()) {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			return nil
		}
		rel := p
		if dir != "." {
			rel = strings.TrimPrefix(p, dir+"/")
		}
		if pattern != nil {
			if !matchParts(pattern, strings.Split(rel, "/")) {
				return nil
			}
		} else if f, _ := formatOf(p); f == "" || only != "" && familyOf(f) != familyOf(only) {
			return nil
		}
		info, err := fs.Stat(x.fsys, p)
		if err != nil {
			return err
		}
		if !info.IsDir() {
			x.found[p] = info
		}
		return nil
	})
	if errors.Is(err, fs.ErrNotExist) {
		return errors.New("there is no such folder")
	}
	if err == nil && pattern == nil && len(x.found) == before {
		return errors.New("the folder holds no file of a format that is read here")
	}
	return err
}

func (x *expander) names() []string {
	out := make([]string, 0, len(x.found))
	for n := range x.found {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

func hasMeta(s string) bool { return strings.ContainsAny(s, `*?[\`) }

// hidden tells files that no person put there: lock files and system droppings.
func hidden(name string) bool {
	return strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~$")
}

// matchParts matches path segments; "**" stands for any number of them.
func matchParts(pattern, name []string) bool {
	for len(pattern) > 0 {
		if pattern[0] == "**" {
			for i := 0; i <= len(name); i++ {
				if matchParts(pattern[1:], name[i:]) {
					return true
				}
			}
			return false
		}
		if len(name) == 0 {
			return false
		}
		if ok, err := path.Match(pattern[0], name[0]); !ok || err != nil {
			return false
		}
		pattern, name = pattern[1:], name[1:]
	}
	return len(name) == 0
}
