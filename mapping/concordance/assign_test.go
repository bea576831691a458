package concordance

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// every assignment there is.
func every(objects int, capacity []int, edges []edge) []assignment {
	var all []assignment
	slots := make([]int, objects)
	used := make([]int, len(capacity))
	var try func(o, total, size int)
	try = func(o, total, size int) {
		if o == objects {
			all = append(all, assignment{slots: slices.Clone(slots), total: total, size: size})
			return
		}
		slots[o] = -1
		try(o+1, total, size)
		for _, e := range edges {
			if e.object == o && used[e.slot] < capacity[e.slot] {
				used[e.slot]++
				slots[o] = e.slot
				try(o+1, total+e.points, size+1)
				used[e.slot]--
			}
		}
	}
	try(0, 0, 0)
	return all
}

// best tries every assignment.
func best(objects int, capacity []int, edges []edge, margin int) assignment {
	all := every(objects, capacity, edges)
	top := all[0]
	for _, a := range all {
		if a.total > top.total || a.total == top.total && a.size > top.size {
			top = a
		}
	}
	top.options = make([][]int, objects)
	for o := range objects {
		top.options[o] = near(objects, capacity, edges, margin, o, top.total, top.size)
	}
	return top
}

// near are the slots of an object in all assignments that have so many points and
// objects, or nearly.
func near(objects int, capacity []int, edges []edge, margin, object, total, size int) []int {
	var out []int
	for _, a := range every(objects, capacity, edges) {
		good := a.total > total-margin || a.total == total-margin && a.size >= size
		if good && !slices.Contains(out, a.slots[object]) {
			out = append(out, a.slots[object])
		}
	}
	slices.Sort(out)
	return out
}

// The assignment is the best of all, and its options are all there are: compared with
// trying every assignment.
func TestAssignmentIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		objects := rapid.IntRange(0, 5).Draw(t, "objects")
		capacity := rapid.SliceOfN(rapid.IntRange(0, 3), 1, 4).Draw(t, "capacity")
		points := rapid.SampledFrom([]int{1, 3, 60}).Draw(t, "most points")
		margin := rapid.SampledFrom([]int{0, 1, 5, 9}).Draw(t, "margin")
		var edges []edge
		for o := range objects {
			for s := range capacity {
				if rapid.IntRange(0, 2).Draw(t, "edge") > 0 {
					edges = append(edges, edge{o, s, rapid.IntRange(1, points).Draw(t, "points")})
				}
			}
		}
		got, want := assign(objects, capacity, edges, nil, margin), best(objects, capacity, edges, margin)
		if got.total != want.total || got.size != want.size {
			t.Fatalf("%d points, %d objects; the best has %d, %d", got.total, got.size, want.total, want.size)
		}
		used := make([]int, len(capacity))
		sum := 0
		for o, s := range got.slots {
			if s >= 0 {
				used[s]++
				i := slices.IndexFunc(edges, func(e edge) bool { return e.object == o && e.slot == s })
				if i < 0 || used[s] > capacity[s] {
					t.Fatalf("object %d takes slot %d, which it can't", o, s)
				}
				sum += edges[i].points
			}
			if !slices.Contains(got.options[o], s) {
				t.Fatalf("object %d takes slot %d, and its options are %v", o, s, got.options[o])
			}
			if !slices.Equal(got.options[o], want.options[o]) {
				t.Fatalf("object %d: options %v, by trying all %v", o, got.options[o], want.options[o])
			}
		}
		if sum != got.total {
			t.Fatalf("%d points said, %d assigned", got.total, sum)
		}
	})
}

// What an object could take by an edge of its own is what trying all finds.
func TestAssignmentWithExtraEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		objects := rapid.IntRange(1, 4).Draw(t, "objects")
		capacity := rapid.SliceOfN(rapid.IntRange(0, 2), 1, 4).Draw(t, "capacity")
		margin := rapid.SampledFrom([]int{0, 3, 9}).Draw(t, "margin")
		var edges, extra []edge
		for o := range objects {
			for s := range capacity {
				e := edge{o, s, rapid.IntRange(1, 12).Draw(t, "points")}
				switch rapid.IntRange(0, 3).Draw(t, "edge") {
				case 0:
					extra = append(extra, e)
				case 1, 2:
					edges = append(edges, e)
				}
			}
		}
		got := assign(objects, capacity, edges, extra, margin)
		top := best(objects, capacity, edges, margin)
		for o := range objects {
			mine := slices.Clone(edges)
			for _, e := range extra {
				if e.object == o {
					mine = append(mine, e)
				}
			}
			want := near(objects, capacity, mine, margin, o, top.total, top.size)
			if got.total != top.total || !slices.Equal(got.options[o], want) {
				t.Fatalf("object %d: options %v, by trying all %v", o, got.options[o], want)
			}
		}
	})
}

// Where a greedy choice takes the best pair first and loses, the assignment does not.
func TestAssignmentIsNotGreedy(t *testing.T) {
	a := assign(2, []int{1, 1}, []edge{{0, 0, 50}, {0, 1, 49}, {1, 0, 48}}, nil, 0)
	if a.total != 97 || !slices.Equal(a.slots, []int{1, 0}) {
		t.Errorf("%+v", a)
	}
}
