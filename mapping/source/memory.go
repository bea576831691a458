package source

import (
	"sync"
	"sync/atomic"
	"unsafe"
)

// memory is what a batch stands on. It goes round between readers and the users
// of batches through a pool.
type memory struct {
	batch  Batch
	cells  slab[string]
	rows   slab[Row]
	lists  slab[[]Row]
	lines  slab[int32]
	looked slab[*Row]
	extras slab[extra]
	text   slab[byte]
	chunks []*chunk
}

var memories = sync.Pool{New: func() any {
	m := &memory{}
	m.cells.size, m.rows.size, m.lists.size = 2048, 256, 256
	m.lines.size, m.looked.size, m.extras.size = 2048, 256, 128
	m.text.size = 32 << 10
	return m
}}

func (m *memory) reset() {
	m.cells.reset()
	m.rows.reset()
	m.lists.reset()
	m.lines.reset()
	m.looked.reset()
	m.extras.reset()
	m.text.reset()
	for i, c := range m.chunks {
		c.drop()
		m.chunks[i] = nil
	}
	m.chunks = m.chunks[:0]
	m.batch.Rows = m.batch.Rows[:0]
}

// use keeps a chunk alive as long as the batch.
func (m *memory) use(c *chunk) {
	if n := len(m.chunks); n == 0 || m.chunks[n-1] != c {
		c.refs.Add(1)
		m.chunks = append(m.chunks, c)
	}
}

// put copies b into the batch's memory.
func (m *memory) put(b []byte) string {
	if len(b) == 0 {
		return ""
	}
	to := m.text.raw(len(b))
	copy(to, b)
	return view(to)
}

// Release gives the batch's memory back to be used again. Neither the batch nor
// its rows and cells may be used afterwards. A batch that is not released is left
// to the garbage collector.
func (b *Batch) Release() {
	if m := b.mem; m != nil {
		b.mem = nil
		m.reset()
		memories.Put(m)
	}
}

// view is b as a string without a copy.
func view(b []byte) string { return unsafe.String(unsafe.SliceData(b), len(b)) }

// bytesOf is s as bytes without a copy; they must not be changed.
func bytesOf(s string) []byte { return unsafe.Slice(unsafe.StringData(s), len(s)) }

// slab hands out slices that stay where they are until reset.
type slab[T any] struct {
	blocks [][]T
	at     int // block in use
	used   int // of that block
	size   int // of a new block
}

// slabMost is the largest block, in elements, that a slab keeps for the next batch.
const slabMost = 1 << 20

// reset takes everything back and keeps the largest block.
func (s *slab[T]) reset() {
	if n := len(s.blocks); n > 1 || n == 1 && len(s.blocks[0]) > slabMost {
		last := s.blocks[n-1]
		clear(s.blocks)
		s.blocks = s.blocks[:0]
		if len(last) <= slabMost {
			s.blocks = append(s.blocks, last)
		}
	}
	s.at, s.used = 0, 0
}

// raw returns n elements that may hold anything.
func (s *slab[T]) raw(n int) []T {
	for s.at < len(s.blocks) {
		if b := s.blocks[s.at]; s.used+n <= len(b) {
			out := b[s.used : s.used+n : s.used+n]
			s.used += n
			return out
		}
		s.at++
		s.used = 0
	}
	size := s.size
	if k := len(s.blocks); k > 0 {
		size = max(size, min(2*len(s.blocks[k-1]), slabMost))
	}
	size = max(size, n)
	s.blocks = append(s.blocks, make([]T, size))
	s.at, s.used = len(s.blocks)-1, n
	return s.blocks[s.at][:n:n]
}

// take returns n zero elements.
func (s *slab[T]) take(n int) []T {
	out := s.raw(n)
	clear(out)
	return out
}

// chunk is a piece of a file that cells point into.
type chunk struct {
	buf  []byte // with chunkPad bytes more than are ever read into it
	refs atomic.Int32
}

const (
	chunkSize = 256 << 10
	chunkPad  = 16
)

var chunks = sync.Pool{New: func() any { return &chunk{buf: make([]byte, chunkSize+chunkPad)} }}

// newChunk returns a chunk for size bytes, with one reference.
func newChunk(size int) *chunk {
	var c *chunk
	if size == chunkSize {
		c = chunks.Get().(*chunk)
	} else {
		c = &chunk{buf: make([]byte, size+chunkPad)}
	}
	c.refs.Store(1)
	return c
}

func (c *chunk) drop() {
	if c.refs.Add(-1) == 0 && len(c.buf) == chunkSize+chunkPad {
		chunks.Put(c)
	}
}

func (c *chunk) size() int { return len(c.buf) - chunkPad }
