package concordance

import (
	"cmp"
	"container/heap"
	"fmt"
	"slices"
)

// edge says that an object may be a piece of a slot, and how much speaks for it.
type edge struct {
	object, slot int
	points       int // > 0
}

// assignment says which slot each object takes.
type assignment struct {
	slots   []int   // by object; -1: none
	options [][]int // by object: the slots, rising, -1 for none first, that it takes in assignments that are as good or nearly so
	total   int     // points
	size    int     // objects that take a slot
	parts   []int   // by object: the connected part of the graph it belongs to; -1: it has no edge
}

// assign gives objects to slots: each object to one slot at most, to each slot no more
// objects than its capacity, so that the sum of points is the highest there is and, of
// assignments with that sum, most objects take a slot. options holds every slot that
// an object takes in an assignment whose sum is within margin of the highest (and, at
// margin 0, that has as many objects). Edges of extra make options for their own
// object: what it could take if all others kept to the other edges.
//
// It is a flow of least cost, found by shortest augmenting paths with potentials
// (Edmonds and Karp 1972; Tomizawa 1971), one connected part of the graph after the
// other.
func assign(objects int, capacity []int, edges, extra []edge, margin int) assignment {
	a := assignment{slots: make([]int, objects), options: make([][]int, objects), parts: make([]int, objects)}
	for i := range a.slots {
		a.slots[i], a.options[i], a.parts[i] = -1, []int{-1}, -1
	}
	byObject, extras := make([][]edge, objects), make([][]edge, objects)
	for _, e := range edges {
		if capacity[e.slot] > 0 {
			byObject[e.object] = append(byObject[e.object], e)
		}
	}
	for _, e := range extra {
		if capacity[e.slot] > 0 {
			extras[e.object] = append(extras[e.object], e)
		}
	}
	for i, part := range parts(objects, len(capacity), byObject, extras) {
		for _, o := range part {
			a.parts[o] = i
		}
		solve(part, capacity, byObject, extras, margin, &a)
	}
	return a
}

// parts are the objects of each connected part of the graph, those without an edge
// left out.
func parts(objects, slots int, byObject, extras [][]edge) [][]int {
	root := make([]int, objects+slots)
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for o := range byObject {
		for _, e := range slices.Concat(byObject[o], extras[o]) {
			root[find(objects+e.slot)] = find(o)
		}
	}
	at := map[int]int{}
	var out [][]int
	for o := range byObject {
		if len(byObject[o])+len(extras[o]) == 0 {
			continue
		}
		r := find(o)
		i, ok := at[r]
		if !ok {
			i = len(out)
			at[r] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], o)
	}
	return out
}

// flow is a network: arcs in pairs, one and its reverse.
type flow struct {
	first []int // by node: its first arc; -1: none
	next  []int // by arc
	to    []int
	left  []int // capacity not used
	cost  []int64
	pot   []int64
}

func newFlow(nodes int) *flow {
	f := &flow{first: make([]int, nodes), pot: make([]int64, nodes)}
	for i := range f.first {
		f.first[i] = -1
	}
	return f
}

func (f *flow) arc(from, to, capacity int, cost int64) int {
	i := len(f.to)
	f.to = append(f.to, to, from)
	f.left = append(f.left, capacity, 0)
	f.cost = append(f.cost, cost, -cost)
	f.next = append(f.next, f.first[from], f.first[to])
	f.first[from], f.first[to] = i, i+1
	return i
}

// reduced is the cost of an arc under the potentials; it is never negative where
// capacity is left.
func (f *flow) reduced(a int) int64 { return f.cost[a] + f.pot[f.to[a^1]] - f.pot[f.to[a]] }

// solve assigns the objects of one part.
func solve(part []int, capacity []int, byObject, extras [][]edge, margin int, a *assignment) {
	slotAt := map[int]int{}
	var slots []int
	most := 0
	for _, o := range part {
		for _, e := range slices.Concat(byObject[o], extras[o]) {
			most = max(most, e.points)
			if _, ok := slotAt[e.slot]; !ok {
				slotAt[e.slot] = len(slots)
				slots = append(slots, e.slot)
			}
		}
	}
	scale := int64(len(part) + 1) // a point outweighs any number of objects more
	weight := func(points int) int64 { return int64(points)*scale + 1 }
	n := len(part)
	sink := n + len(slots)
	f := newFlow(sink + 1)
	none := make([]int, n)
	arcs := make([][]int, n)
	for i, o := range part {
		none[i] = f.arc(i, sink, 1, weight(most))
		for _, e := range byObject[o] {
			arcs[i] = append(arcs[i], f.arc(i, n+slotAt[e.slot], 1, weight(most)-weight(e.points)))
		}
	}
	for k, s := range slots {
		f.arc(n+k, sink, capacity[s], 0)
	}
	d := newSearch(sink + 1)
	for i := range part {
		f.augment(d, i, sink)
	}
	type class struct {
		loss []int64 // by edge, then by extra edge, then none; -1: too much
	}
	seen := map[string]class{}
	for i, o := range part {
		for k, x := range arcs[i] {
			if f.left[x] == 0 {
				a.slots[o] = byObject[o][k].slot
				a.total += byObject[o][k].points
				a.size++
			}
		}
		// Objects with the same edges have the same options.
		all := slices.Concat(byObject[o], extras[o])
		name := fmt.Sprint(len(extras[o]), edgesName(all))
		c, ok := seen[name]
		if !ok {
			bound := int64(margin) * scale
			far := bound
			if len(extras[o]) > 0 {
				far = 1 << 62 // one of them may be better than what it has
			}
			f.distances(d, i, far)
			loss := func(to int, reduced int64) int64 {
				if l := reduced + d.dist[to]; d.done[to] && l <= bound {
					return max(l, 0)
				}
				return -1
			}
			for _, x := range arcs[i] {
				if f.left[x] == 0 {
					c.loss = append(c.loss, 0)
				} else {
					c.loss = append(c.loss, loss(f.to[x], f.reduced(x)))
				}
			}
			for _, e := range extras[o] {
				to := n + slotAt[e.slot]
				c.loss = append(c.loss, loss(to, weight(most)-weight(e.points)+f.pot[i]-f.pot[to]))
			}
			if f.left[none[i]] == 0 {
				c.loss = append(c.loss, 0)
			} else {
				c.loss = append(c.loss, loss(sink, f.reduced(none[i])))
			}
			seen[name] = c
		}
		a.options[o] = a.options[o][:0]
		if c.loss[len(all)] >= 0 {
			a.options[o] = append(a.options[o], -1)
		}
		for k, e := range all {
			if c.loss[k] >= 0 && !slices.Contains(a.options[o], e.slot) {
				a.options[o] = append(a.options[o], e.slot)
			}
		}
		slices.Sort(a.options[o])
	}
}

func edgesName(es []edge) string {
	b := make([]byte, 0, 8*len(es))
	for _, e := range es {
		b = fmt.Appendf(b, "%d:%d ", e.slot, e.points)
	}
	return string(b)
}

// search is the memory of a search for shortest ways.
type search struct {
	dist    []int64
	done    []bool
	reached []bool
	by      []int // arc by which a node was reached
	queue   nodeQueue
	touched []int
}

func newSearch(nodes int) *search {
	return &search{dist: make([]int64, nodes), done: make([]bool, nodes), reached: make([]bool, nodes), by: make([]int, nodes)}
}

func (d *search) begin(node int) {
	for _, n := range d.touched {
		d.done[n], d.reached[n] = false, false
	}
	d.touched, d.queue = d.touched[:0], d.queue[:0]
	d.reach(node, 0, -1)
}

func (d *search) reach(node int, dist int64, by int) {
	if d.done[node] || d.reached[node] && d.dist[node] <= dist {
		return
	}
	if !d.reached[node] {
		d.reached[node] = true
		d.touched = append(d.touched, node)
	}
	d.dist[node], d.by[node] = dist, by
	heap.Push(&d.queue, nodeDist{node, dist})
}

func (d *search) next() (int, bool) {
	for len(d.queue) > 0 {
		x := heap.Pop(&d.queue).(nodeDist)
		if !d.done[x.node] && d.dist[x.node] == x.dist {
			d.done[x.node] = true
			return x.node, true
		}
	}
	return 0, false
}

// augment sends one object's unit to the sink by the cheapest way.
func (f *flow) augment(d *search, object, sink int) {
	d.begin(object)
	for {
		n, ok := d.next()
		if !ok || n == sink {
			break
		}
		for x := f.first[n]; x >= 0; x = f.next[x] {
			if f.left[x] > 0 {
				d.reach(f.to[x], d.dist[n]+f.reduced(x), x)
			}
		}
	}
	far := d.dist[sink] // the sink is always reached: an object may go without a slot
	for _, n := range d.touched {
		if d.done[n] {
			f.pot[n] += d.dist[n] - far
		}
	}
	for n := sink; n != object; {
		x := d.by[n]
		f.left[x]--
		f.left[x^1]++
		n = f.to[x^1]
	}
}

// distances finds the cost of the cheapest way from each node to target, as far as it
// is at most bound: what it costs to free the target from what it has now.
func (f *flow) distances(d *search, target int, bound int64) {
	d.begin(target)
	for {
		n, ok := d.next()
		if !ok {
			return
		}
		for x := f.first[n]; x >= 0; x = f.next[x] {
			if f.left[x^1] > 0 { // the arc that leads here
				if l := d.dist[n] + f.reduced(x^1); l <= bound {
					d.reach(f.to[x], l, x)
				}
			}
		}
	}
}

type nodeDist struct {
	node int
	dist int64
}

type nodeQueue []nodeDist

func (q nodeQueue) Len() int { return len(q) }
func (q nodeQueue) Less(i, j int) bool {
	return cmp.Or(cmp.Compare(q[i].dist, q[j].dist), cmp.Compare(q[i].node, q[j].node)) < 0
}
func (q nodeQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *nodeQueue) Push(x any)   { *q = append(*q, x.(nodeDist)) }
func (q *nodeQueue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}
