package paint

import "sync"

// A memory keeps what the workers of a job share, made by the first that asks. When it holds more than its limit it
// starts afresh: what it gave stays good for those who have it.
type memory[K comparable, V any] struct {
	limit int // bytes

	mu      sync.Mutex
	entries map[K]*remembered[V]
	bytes   int
}

type remembered[V any] struct {
	once  sync.Once
	value V
}

// get returns the value of a key, which takes so many bytes when made.
func (m *memory[K, V]) get(key K, bytes int, made func() V) V {
	m.mu.Lock()
	e := m.entries[key]
	if e == nil {
		if m.bytes += bytes; m.entries == nil || m.bytes > m.limit {
			m.entries, m.bytes = map[K]*remembered[V]{}, bytes
		}
		e = &remembered[V]{}
		m.entries[key] = e
	}
	m.mu.Unlock()
	e.once.Do(func() { e.value = made() })
	return e.value
}
