// Package near tells how far words are apart: by the number of characters to put
// in, take out, change or swap with the next (optimal string alignment). It serves
// the hints of diagnostics and of term lists.
package near

import "slices"

// Rows is the memory of a comparison, for many in turn. The zero value is ready.
type Rows [3][]int

// Between is the distance of two words, or some number above limit if it is above
// limit.
func Between(a, b string, limit int) int {
	var rows Rows
	return rows.Between([]rune(a), []rune(b), limit)
}

// Between is the distance of a and b, or some number above limit if it is above
// limit.
func (rows *Rows) Between(a, b []rune, limit int) int {
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
