package mapping

import (
	"embed"
	"fmt"
	"sync"
)

//go:embed patterns/*.yaml
var patternFiles embed.FS

// libraryPrefix begins the file names of the library's patterns in diagnostics.
const libraryPrefix = "library:"

// libraryFiles parses the library of patterns, once.
var libraryFiles = sync.OnceValue(func() []*File {
	entries, err := patternFiles.ReadDir("patterns")
	if err != nil {
		panic(err)
	}
	var out []*File
	for _, e := range entries {
		data, err := patternFiles.ReadFile("patterns/" + e.Name())
		if err != nil {
			panic(err)
		}
		f, err := Parse(libraryPrefix+e.Name(), data)
		if err != nil {
			panic(fmt.Sprintf("the library of patterns: %v", err)) // a test compiles them all
		}
		out = append(out, f)
	}
	return out
})

// PatternInfo is a pattern as people choose it.
type PatternInfo struct {
	Name     string
	About    string
	File     string
	Line     int
	Class    string   // the class of the node it makes; "": it adds keys to the node that uses it
	Required []string // holes
	Optional []string
}

// LibraryPatterns lists the patterns of the library, file by file.
func LibraryPatterns() []PatternInfo {
	var out []PatternInfo
	for _, f := range libraryFiles() {
		out = append(out, f.PatternInfos()...)
	}
	return out
}

// PatternInfos lists the patterns of a file.
func (f *File) PatternInfos() []PatternInfo {
	var out []PatternInfo
	for _, m := range f.Patterns {
		p := PatternInfo{Name: scalarText(m.Get("pattern")), About: scalarText(m.Get("about")), File: f.Name, Line: m.Line, Class: scalarText(m.Get("type"))}
		if used := scalarText(m.Get("use")); p.Class == "" && used != "" {
			p.Class = usedClass(used)
		}
		if holes, ok := m.Get("holes").(*Map); ok {
			for _, h := range holes.Entries {
				if scalarText(h.Value) == "required" {
					p.Required = append(p.Required, h.Key.Text)
				} else {
					p.Optional = append(p.Optional, h.Key.Text)
				}
			}
		}
		out = append(out, p)
	}
	return out
}

// usedClass is the class of a pattern of the library, for those built on it.
func usedClass(name string) string {
	for _, f := range libraryFiles() {
		for _, m := range f.Patterns {
			if scalarText(m.Get("pattern")) == name {
				return scalarText(m.Get("type"))
			}
		}
	}
	return ""
}

// LibraryFile returns the text of a library file named in a diagnostic.
func LibraryFile(name string) ([]byte, bool) {
	if len(name) <= len(libraryPrefix) || name[:len(libraryPrefix)] != libraryPrefix {
		return nil, false
	}
	data, err := patternFiles.ReadFile("patterns/" + name[len(libraryPrefix):])
	return data, err == nil
}
