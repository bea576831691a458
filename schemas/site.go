package schemas

import (
	"bytes"
	_ "embed"
	"fmt"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

//go:embed site.json
var siteJSON []byte

//go:embed mapping.json
var mappingJSON []byte

// Site returns the schema of a site file.
var Site = sync.OnceValue(func() *jsonschema.Schema { return handWritten("site.json", siteJSON) })

// Mapping returns the schema of one document of a mapping file.
var Mapping = sync.OnceValue(func() *jsonschema.Schema { return handWritten("mapping.json", mappingJSON) })

// SiteText and MappingText are those schemas as text, for editors.
func SiteText() []byte    { return bytes.Clone(siteJSON) }
func MappingText() []byte { return bytes.Clone(mappingJSON) }

func handWritten(name string, data []byte) *jsonschema.Schema {
	c := NewCompiler()
	if err := c.AddResource(Base+name, bytes.NewReader(data)); err != nil {
		panic(fmt.Sprintf("schemas: %s: %v", name, err))
	}
	s, err := c.Compile(Base + name)
	if err != nil {
		panic(fmt.Sprintf("schemas: %s: %v", name, err)) // a test compiles it
	}
	return s
}
