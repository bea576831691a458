package source

import (
	"cmp"
	"maps"
	"slices"
	"strings"
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
		cost := distance(low, lc, most)
		if strings.HasSuffix(lc, "."+low) || strings.HasSuffix(low, "."+lc) {
			cost = min(cost, 1)
		} else if last := lc[strings.LastIndexByte(lc, '.')+1:]; last != lc {
			cost = min(cost, 1+distance(low, last, 1+len(low)/4))
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

// distance counts insertions, deletions, substitutions and swaps of neighbours
// (optimal string alignment); most+1 stands for anything greater than most.
func distance(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if d := len(x) - len(y); d > most || -d > most {
		return most + 1
	}
	before, prev, cur := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			step := 1
			if x[i-1] == y[j-1] {
				step = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+step)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev, cur = prev, cur, before
	}
	return min(prev[len(y)], most+1)
}

func keysOf[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
