package main

import (
	"slices"
	"time"
)

// contest times a against b, turn about, and returns the median of the ratios of
// their times and the best time of each.
func contest(rounds int, a, b func()) (ratio float64, bestA, bestB time.Duration) {
	a()
	b()
	var ratios []float64
	for range rounds {
		b1, ta, b2 := timed(b), timed(a), timed(b)
		tb := (b1 + b2) / 2
		ratios = append(ratios, float64(ta)/float64(tb))
		if bestA == 0 || ta < bestA {
			bestA = ta
		}
		if m := min(b1, b2); bestB == 0 || m < bestB {
			bestB = m
		}
	}
	slices.Sort(ratios)
	return ratios[len(ratios)/2], bestA, bestB
}

func timed(f func()) time.Duration {
	t := time.Now()
	f()
	return time.Since(t)
}
