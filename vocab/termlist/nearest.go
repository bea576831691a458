package termlist

import (
	"cmp"
	"slices"
)

// Nearest returns up to n words of the list that are most like word, the most
// alike first: by the number of characters to put in, take out, change or swap
// with the next (optimal string alignment) after folding. Words that differ in
// more than a third of their characters, and by more than two, are not near.
func (l *List) Nearest(word string, n int) []string {
	w := []rune(fold(word))
	if len(w) == 0 || n <= 0 {
		return nil
	}
	limit := max(2, len(w)/3)
	if len(w) <= 3 {
		limit = 1
	}
	type near struct{ distance, word int }
	var found []near
	var rows [3][]int
	for size := max(1, len(w)-limit); size <= len(w)+limit && size < len(l.byLen); size++ {
		for _, e := range l.byLen[size] {
			if d := distance(w, e.folded, limit, &rows); d <= limit {
				found = append(found, near{d, e.word})
			}
		}
	}
	slices.SortFunc(found, func(a, b near) int {
		return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.word, b.word))
	})
	var words []string
	seen := map[string]bool{}
	for _, f := range found {
		if len(words) == n {
			break
		}
		if s := l.words[f.word]; !seen[s] {
			seen[s] = true
			words = append(words, s)
		}
	}
	return words
}

// distance is the optimal string alignment distance of a and b, or some number
// above limit if it is above limit.
func distance(a, b []rune, limit int, rows *[3][]int) int {
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	for i := range rows {
		if cap(rows[i]) <= len(b) {
			rows[i] = make([]int, 2*len(b)+1)
		}
		rows[i] = rows[i][:len(b)+1]
	}
	two, one, cur := rows[0], rows[1], rows[2]
	for j := range one {
		one[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		least := i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			d := min(one[j]+1, cur[j-1]+1, one[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, two[j-2]+1)
			}
			cur[j] = d
			least = min(least, d)
		}
		// A swap reaches back two rows, so one row above the limit is not yet the end;
		// its value plus what follows can only grow from the row before it, too.
		if least > limit && slices.Min(one) > limit {
			return limit + 1
		}
		two, one, cur = one, cur, two
	}
	return one[len(b)]
}
