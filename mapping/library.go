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

// LibraryFile returns the text of a library file named in a diagnostic.
func LibraryFile(name string) ([]byte, bool) {
	if len(name) <= len(libraryPrefix) || name[:len(libraryPrefix)] != libraryPrefix {
		return nil, false
	}
	data, err := patternFiles.ReadFile("patterns/" + name[len(libraryPrefix):])
	return data, err == nil
}
