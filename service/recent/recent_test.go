package recent

import (
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// TestAnyUse holds a cache against a map of all that was ever put: what is found is what
// was put last, the weights kept are counted right and never beyond the limit, and a value
// is found right after it was put unless it is too heavy.
func TestAnyUse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const limit = 80
		c := New[int, int](limit)
		last, weights := map[int]int{}, map[int]int{}
		for i := range rapid.IntRange(1, 100).Draw(t, "steps") {
			key := rapid.IntRange(0, 20).Draw(t, "key")
			if rapid.IntRange(0, 30).Draw(t, "clear") == 0 {
				c.Clear()
				clear(last)
			}
			weights[key] = rapid.IntRange(0, 12).Draw(t, "weight")
			c.Put(key, i, weights[key])
			last[key] = i
			if v, ok := c.Get(key); ok != (weights[key] <= limit/8) || ok && v != i {
				t.Fatalf("%d, %v after %d of weight %d was put", v, ok, i, weights[key])
			}
			sum := 0
			for k := range 21 {
				if v, ok := c.Get(k); ok {
					sum += weights[k]
					if want, put := last[k]; !put || v != want {
						t.Fatalf("%d under %d, where %d was put last", v, k, want)
					}
				}
			}
			if sum > limit || sum != c.bytes {
				t.Fatalf("%d is kept, %d counted", sum, c.bytes)
			}
		}
	})
}

func TestTogether(t *testing.T) {
	c := New[int, int](1000)
	var all sync.WaitGroup
	for g := range 8 {
		all.Go(func() {
			for i := range 2000 {
				c.Put(i%40, i%40, 50)
				if v, ok := c.Get((i + g) % 40); ok && v != (i+g)%40 {
					t.Errorf("%d under %d", v, (i+g)%40)
				}
				if i%500 == 0 {
					c.Clear()
				}
			}
		})
	}
	all.Wait()
}
