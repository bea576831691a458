package source

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"ropewalk/vocab/near"
)

// nearest gives up to three candidates that may have been meant by word: those a
// few slips of the pen away, and paths that end in it. Best first.
func nearest(word string, candidates []string) []string {
	type scored struct {
		text string
		cost int
	}
	var out []scored
	low := strings.ToLower(word)
	for _, c := range candidates {
		lc := strings.ToLower(c)
		most := 1 + len(low)/4
		cost := near.Between(low, lc, most)
		if strings.HasSuffix(lc, "."+low) || strings.HasSuffix(low, "."+lc) {
			cost = min(cost, 1)
		} else if last := lc[strings.LastIndexByte(lc, '.')+1:]; last != lc {
			cost = min(cost, 1+near.Between(low, last, 1+len(low)/4))
		}
		if cost <= most {
			out = append(out, scored{c, cost})
		}
	}
	slices.SortStableFunc(out, func(a, b scored) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(len(a.text), len(b.text)))
	})
	if len(out) > 3 {
		out = out[:3]
	}
	names := make([]string, len(out))
	for i := range out {
		names[i] = out[i].text
	}
	return names
}

func keysOf[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
