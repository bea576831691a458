package entity

import (
	"github.com/cespare/xxhash/v2"

	"ropewalk/vocab"
)

// shortRun is the number of siblings that are compared one by one; for longer runs
// a table is kept, so that the time for a node does not grow with their number.
const shortRun = 24

// run is a long run of siblings under one term.
type run struct {
	parent int32
	term   *vocab.Term
	last   int32 // the last sibling in the table
	nodes  map[uint64]int32
}

// hasTwin reports whether a sibling just before the node at index at, under the
// same term, equals it.
func (d *Document) hasTwin(at int32) bool {
	n := &d.ev[at]
	size := n.End - at
	count := 0
	for i := at - 1; i > 0; {
		c := &d.ev[i]
		if c.Kind != Close || c.Term != n.Term {
			return false
		}
		if count++; count > shortRun {
			return d.hasTwinInRun(at)
		}
		start := c.End
		if i-start == size && d.equal(start, at, size) {
			return true
		}
		i = start - 1
	}
	return false
}

func (d *Document) equal(a, b, size int32) bool {
	for k := int32(0); k < size; k++ {
		x, y := &d.ev[a+k], &d.ev[b+k]
		if x.Kind != y.Kind || x.Term != y.Term || x.Class != y.Class || x.Ref != y.Ref || x.Value != y.Value {
			return false
		}
	}
	return true
}

// hasTwinInRun is hasTwin for a node of a long run, which must still be open in its
// parent. It adds the node to the run's table.
func (d *Document) hasTwinInRun(at int32) bool {
	return d.inRun(d.longRun(at), at)
}

// longRun is the table of the run before the node at index at.
func (d *Document) longRun(at int32) *run {
	parent, term := d.open[len(d.open)-1], d.ev[at].Term
	if n := len(d.runs); n > 0 && d.runs[n-1].parent == parent && d.runs[n-1].term == term {
		return &d.runs[n-1]
	}
	d.runs = append(d.runs, run{parent: parent, term: term, nodes: map[uint64]int32{}})
	r := &d.runs[len(d.runs)-1]
	var nodes []int32
	for i := at - 1; i > 0 && d.ev[i].Kind == Close && d.ev[i].Term == term; i = d.ev[i].End - 1 {
		nodes = append(nodes, d.ev[i].End)
	}
	for k := len(nodes) - 1; k >= 0; k-- {
		d.inRun(r, nodes[k])
	}
	return r
}

// inRun looks for an equal of the node at index at, and adds the node if there is
// none.
func (d *Document) inRun(r *run, at int32) bool {
	size := d.ev[at].End - at
	h := uint64(size)
	for i := at; i < at+size; i++ {
		h = mix(h, xxhash.Sum64String(d.ev[i].Value)+uint64(d.ev[i].Kind))
	}
	for ; ; h++ {
		k, ok := r.nodes[h]
		if !ok {
			break
		}
		if d.ev[k].End-k == size && d.equal(k, at, size) {
			return true
		}
	}
	r.nodes[h], r.last = at, at
	return false
}

// dropRuns forgets the tables of runs whose parent, or one of whose nodes, stands
// at index at or after.
func (d *Document) dropRuns(at int32) {
	for n := len(d.runs); n > 0 && (d.runs[n-1].parent >= at || d.runs[n-1].last >= at); n-- {
		d.runs[n-1] = run{}
		d.runs = d.runs[:n-1]
	}
}
