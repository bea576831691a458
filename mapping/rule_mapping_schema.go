package mapping

import (
	"fmt"
	"path"
	"strconv"

	"ropewalk/schemas"
)

var ruleMappingSchema = &Rule{Name: "mapping-schema", About: "something the JSON Schema of mappings refuses, which is what editors check while you write"}

// schema holds the mappings and patterns against their JSON Schema. The other rules
// say the same more clearly, so it speaks only where they have found nothing.
func (c *compiler) schema(files []*File) {
	for _, f := range files {
		for _, m := range append(append([]*Map{}, f.Mappings...), f.Patterns...) {
			err := schemas.Mapping().Validate(Plain(m))
			for _, p := range schemas.Problems(err) {
				msg := p.Message
				above, key := path.Split(p.InstancePath)
				if n, err := strconv.Atoi(key); err == nil && p.Key == "" {
					msg = fmt.Sprintf("item %d of %q %s", n+1, path.Base(above), msg)
				} else if key != "" && p.Key == "" {
					msg = fmt.Sprintf("%q %s", key, msg)
				}
				c.add(ruleMappingSchema, Find(m, p.InstancePath), msg, didYouMean(p.Key, p.Allowed))
			}
		}
	}
}
