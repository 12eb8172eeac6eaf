package app

import (
	"container/list"
	"context"
	"fmt"
	"image"
	"runtime"
	"runtime/debug"
	"sync"

	"laydown/internal/plates/plate"
)

// BenchCacheBytes is what a cache of painted plates holds unless told otherwise: some forty blocks of a page whose every
// pixel is printed in four toners.
const BenchCacheBytes = 192 << 20

// BenchCache keeps blocks of plates that were painted to be looked at, those of all documents together, and lets go of the
// ones not asked for longest. It is safe for concurrent use; a block several ask for at a time is painted once.
//
// It holds at most its bytes, and beside them the blocks being painted: one for each processor, and what painting takes.
type BenchCache struct {
	limit int64
	seats chan struct{} // of painters at work

	mu      sync.Mutex
	blocks  map[blockKey]*list.Element // of *keptBlock
	recent  list.List                  // the one asked for last in front
	bytes   int64
	flights map[blockKey]*flight
	last    uint64 // number of a bench
	painted int64
}

// blockKey names a block: a square of tiles of one side of a page.
type blockKey struct {
	bench uint64
	page  int
	other bool // what shows through the page from its other side
	level int
	x, y  int
}

type keptBlock struct {
	key   blockKey
	st    *plate.Stack
	bytes int64
}

// flight is a block being painted. It goes on while somebody waits for it.
type flight struct {
	waiting int
	stop    context.CancelFunc
	done    chan struct{}
	st      *plate.Stack
	err     error
}

// NewBenchCache makes a cache of so many bytes; 0 = BenchCacheBytes.
func NewBenchCache(bytes int64) *BenchCache {
	if bytes <= 0 {
		bytes = BenchCacheBytes
	}
	return &BenchCache{limit: bytes, seats: make(chan struct{}, runtime.GOMAXPROCS(0)), blocks: map[blockKey]*list.Element{},
		flights: map[blockKey]*flight{}}
}

// BenchUse tells how full a cache is.
type BenchUse struct {
	Bytes   int64 `json:"bytes"`
	Blocks  int   `json:"blocks"`
	Painted int64 `json:"painted"` // blocks painted since it was made
}

// Use tells how full the cache is.
func (c *BenchCache) Use() BenchUse {
	c.mu.Lock()
	defer c.mu.Unlock()
	return BenchUse{c.bytes, len(c.blocks), c.painted}
}

// number is that of a new bench.
func (c *BenchCache) number() uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.last++
	return c.last
}

// block is a painted block: one that is kept, or being painted, or painted now. Painting ends with owner, or when nobody
// waits any longer.
func (c *BenchCache) block(ctx, owner context.Context, key blockKey, paint func(ctx context.Context, workers int) (*plate.Stack, error)) (*plate.Stack, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c.mu.Lock()
	if e := c.blocks[key]; e != nil {
		c.recent.MoveToFront(e)
		c.mu.Unlock()
		return e.Value.(*keptBlock).st, nil
	}
	f := c.flights[key]
	if f == nil {
		f = &flight{done: make(chan struct{})}
		var on context.Context
		on, f.stop = context.WithCancel(owner)
		c.flights[key] = f
		go c.fly(on, key, f, paint)
	}
	f.waiting++
	c.mu.Unlock()
	select {
	case <-f.done:
		return f.st, f.err
	case <-ctx.Done():
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if f.waiting--; f.waiting == 0 {
		f.stop()
		if c.flights[key] == f { // whoever asks next begins anew
			delete(c.flights, key)
		}
	}
	return nil, ctx.Err()
}

func (c *BenchCache) fly(ctx context.Context, key blockKey, f *flight, paint func(context.Context, int) (*plate.Stack, error)) {
	defer f.stop()
	st, err := c.paint(ctx, paint)
	c.mu.Lock()
	defer c.mu.Unlock()
	f.st, f.err = st, err
	if c.flights[key] == f {
		delete(c.flights, key)
	}
	if err == nil {
		c.painted++
		if ctx.Err() == nil {
			c.keep(&keptBlock{key, st, stackSize(st)})
		}
	}
	close(f.done)
}

// paint takes a seat. Who paints alone has all processors.
func (c *BenchCache) paint(ctx context.Context, paint func(context.Context, int) (*plate.Stack, error)) (st *plate.Stack, err error) {
	select {
	case c.seats <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-c.seats }()
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("painting failed: %v\n%s", v, debug.Stack())
		}
	}()
	return paint(ctx, max(1, cap(c.seats)/max(len(c.seats), 1)))
}

// keep takes a block in and lets go of others; c.mu is held.
func (c *BenchCache) keep(b *keptBlock) {
	if e := c.blocks[b.key]; e != nil {
		c.drop(e)
	}
	if b.bytes > c.limit {
		return
	}
	c.blocks[b.key] = c.recent.PushFront(b)
	c.bytes += b.bytes
	for c.bytes > c.limit {
		c.drop(c.recent.Back())
	}
}

func (c *BenchCache) drop(e *list.Element) {
	b := c.recent.Remove(e).(*keptBlock)
	delete(c.blocks, b.key)
	c.bytes -= b.bytes
}

// forget lets go of all blocks of a bench.
func (c *BenchCache) forget(bench uint64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for key, e := range c.blocks {
		if key.bench == bench {
			c.drop(e)
		}
	}
}

// stackSize is about what a stack takes.
func stackSize(st *plate.Stack) int64 {
	const own = 4096
	n := int64(own)
	for i := range st.Set.Len() {
		n += int64(len(st.Plane(i)))
	}
	return n
}

// Blocks are squares of blockTiles x blockTiles tiles, of about a million pixels: planning a page costs the same for a tile.
const blockTiles = 4

// blockAt is the block a pixel lies in and its place.
func blockAt(x, y, side int) (bx, by int, place image.Point) {
	bx, by = x/side, y/side
	return bx, by, image.Pt(bx*side, by*side)
}
