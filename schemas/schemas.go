// Package schemas holds the JSON Schemas of Ropewalk (draft 2020-12), embedded
// and compiled once: [Entity] gives that of an entity document, [Site] and
// [Mapping] those of a site's files. [Problems] turns what a schema finds into a
// flat list in plain words.
//
// The schemas of entity documents are generated from the record shapes of
// package vocab (go generate ./schemas). Nothing is ever read from the network:
// a reference to an address that is not embedded is an error.
//
// Compiled schemas may be shared by goroutines.
package schemas

import (
	"bytes"
	"embed"
	"fmt"
	"io"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

//go:generate go run ./gen

//go:embed entity *.json
var files embed.FS

// Base is what the addresses ($id) of all schemas begin with. No server answers
// there (RFC 2606 §2).
const Base = "https://ropewalk.invalid/schemas/"

// File returns an embedded schema as text; name is its path below this package,
// such as "entity/object.json".
func File(name string) ([]byte, error) { return files.ReadFile(name) }

// Entity returns the schema of the documents of an endpoint of the profile
// ([ropewalk/vocab.Endpoint]), such as "object", or nil if there is none.
func Entity(endpoint string) *jsonschema.Schema {
	name := "entity/" + endpoint + ".json"
	if strings.ContainsAny(endpoint, "/.") || endpoint == "core" {
		return nil
	}
	if _, err := files.Open(name); err != nil {
		return nil
	}
	return compiled(name)
}

var cache struct {
	sync.Mutex
	compiler *jsonschema.Compiler
	schemas  map[string]*jsonschema.Schema
}

// compiled returns the embedded schema of that name, compiled at its first use.
// It panics if the file is missing or wrong, which the tests rule out.
func compiled(name string) *jsonschema.Schema {
	cache.Lock()
	defer cache.Unlock()
	if s := cache.schemas[name]; s != nil {
		return s
	}
	if cache.compiler == nil {
		cache.compiler = NewCompiler()
		cache.schemas = map[string]*jsonschema.Schema{}
	}
	s, err := cache.compiler.Compile(Base + name)
	if err != nil {
		panic(fmt.Sprintf("schemas: %s: %v", name, err))
	}
	cache.schemas[name] = s
	return s
}

// NewCompiler returns a compiler for draft 2020-12 that asserts formats and
// reads embedded schemas only.
func NewCompiler() *jsonschema.Compiler {
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft2020
	c.AssertFormat = true
	c.LoadURL = load
	return c
}

func load(address string) (io.ReadCloser, error) {
	name, ours := strings.CutPrefix(address, Base)
	if !ours {
		return nil, fmt.Errorf("schema %s is not embedded", address)
	}
	data, err := files.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("schema %s is not embedded", address)
	}
	return io.NopCloser(bytes.NewReader(data)), nil
}
