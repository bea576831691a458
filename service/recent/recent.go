// Package recent keeps what was made or read lately in a bounded amount of memory.
package recent

import "sync"

// Cache maps keys to values until their weights, in bytes, add up to more than its
// limit; then it drops others, in no order. It is safe for concurrent use. Make it with
// [New].
type Cache[K comparable, V any] struct {
	mu      sync.RWMutex
	limit   int
	bytes   int
	entries map[K]entry[V]
}

type entry[V any] struct {
	value  V
	weight int
}

// New makes a cache that holds values of about so many bytes.
func New[K comparable, V any](limit int) *Cache[K, V] {
	return &Cache[K, V]{limit: limit, entries: map[K]entry[V]{}}
}

// Get returns what is kept under a key.
func (c *Cache[K, V]) Get(key K) (V, bool) {
	c.mu.RLock()
	e, ok := c.entries[key]
	c.mu.RUnlock()
	return e.value, ok
}

// Put keeps a value in place of what the key had. A value that is heavier than an
// eighth of the limit is not kept: it would drive out too much.
func (c *Cache[K, V]) Put(key K, value V, weight int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if old, ok := c.entries[key]; ok {
		c.bytes -= old.weight
		delete(c.entries, key)
	}
	if weight > c.limit/8 {
		return
	}
	for k, e := range c.entries {
		if c.bytes+weight <= c.limit {
			break
		}
		c.bytes -= e.weight
		delete(c.entries, k)
	}
	c.entries[key] = entry[V]{value, weight}
	c.bytes += weight
}

// Clear drops everything.
func (c *Cache[K, V]) Clear() {
	c.mu.Lock()
	defer c.mu.Unlock()
	clear(c.entries)
	c.bytes = 0
}
