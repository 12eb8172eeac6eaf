package pdf

import (
	"sync"
	"sync/atomic"
)

// cache keeps values by number within a budget of bytes. It forgets by generations: when the younger one has
// grown to half the budget it becomes the older one, and what nobody asked for since then goes. A look-up costs
// no lock. It is safe for many goroutines.
type cache struct {
	half       int64 // of the budget
	young, old atomic.Pointer[sync.Map]
	bytes      atomic.Int64 // of the younger generation
	turning    sync.Mutex
}

// cached is a value with its weight, which may be known later than the value.
type cached struct {
	value any
	bytes atomic.Int64
}

func (c *cache) init(budget int64) {
	c.half = budget / 2
	c.clear()
}

// clear forgets everything.
func (c *cache) clear() {
	c.young.Store(&sync.Map{})
	c.old.Store(&sync.Map{})
	c.bytes.Store(0)
}

// load gives what is kept under key, nil when nothing is.
func (c *cache) load(key int) *cached {
	if v, ok := c.young.Load().Load(key); ok {
		return v.(*cached)
	}
	v, ok := c.old.Load().Load(key)
	if !ok {
		return nil
	}
	e := v.(*cached)
	return c.keep(key, e)
}

// keep stores e under key and gives what is kept there now: another goroutine may have been first.
func (c *cache) keep(key int, e *cached) *cached {
	v, had := c.young.Load().LoadOrStore(key, e)
	if !had {
		c.grow(e.bytes.Load())
	}
	return v.(*cached)
}

// weigh adds n bytes to the weight of e.
func (c *cache) weigh(e *cached, n int64) {
	e.bytes.Add(n)
	c.grow(n)
}

func (c *cache) grow(n int64) {
	if c.bytes.Add(n) <= c.half || !c.turning.TryLock() {
		return
	}
	defer c.turning.Unlock()
	c.old.Store(c.young.Swap(&sync.Map{}))
	c.bytes.Store(0)
}

// weightOf is about how many bytes o takes in memory.
func weightOf(o Object) int64 {
	const word, entry, stream = 24, 80, 320
	switch v := o.(type) {
	case String:
		return word + int64(len(v))
	case Name:
		return word + int64(len(v))
	case Array:
		n := int64(word + 16*cap(v))
		for _, e := range v {
			n += weightOf(e)
		}
		return n
	case Dict:
		n := int64(2 * word)
		for _, e := range v {
			n += entry + weightOf(e)
		}
		return n
	case *Stream:
		return stream + weightOf(v.Dict)
	}
	return word
}
