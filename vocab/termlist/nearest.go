package termlist

import (
	"cmp"
	"slices"

	"ropewalk/vocab/near"
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
	type candidate struct{ distance, word int }
	var found []candidate
	var rows near.Rows
	for size := max(1, len(w)-limit); size <= len(w)+limit && size < len(l.byLen); size++ {
		for _, e := range l.byLen[size] {
			if d := rows.Between(w, e.folded, limit); d <= limit {
				found = append(found, candidate{d, e.word})
			}
		}
	}
	slices.SortFunc(found, func(a, b candidate) int {
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
