package web

import (
	"context"
	"errors"
	"slices"
	"sync"

	"laydown/internal/app"
)

// benchesKept are held open at a time: two sides of a fold line of a few artworks.
const benchesKept = 6

// benches are states of artworks held open to be looked at; the one asked for last is at the end.
type benches struct {
	cache *app.BenchCache

	mu   sync.Mutex
	open []*openBench
}

type openBench struct {
	artwork, rev string
	once         sync.Once
	bench        *app.Bench
	err          error

	users int  // who look at it now
	over  bool // to be closed by the last of them
}

// of is the bench for a state of an artwork, opened unless it is held. The caller must release it. One put away to make room stays
// open as long as somebody looks at it.
func (b *benches) of(a *artwork, at seen) *openBench {
	b.mu.Lock()
	i := slices.IndexFunc(b.open, func(o *openBench) bool { return o.artwork == a.id && o.rev == at.rev })
	var o *openBench
	if i >= 0 {
		o = b.open[i]
		b.open = slices.Delete(b.open, i, i+1)
	} else {
		o = &openBench{artwork: a.id, rev: at.rev}
	}
	o.users++
	b.open = append(b.open, o)
	var idle []*openBench
	for len(b.open) > benchesKept {
		if b.open[0].over = true; b.open[0].users == 0 {
			idle = append(idle, b.open[0])
		}
		b.open = slices.Delete(b.open, 0, 1)
	}
	b.mu.Unlock()
	closeBenches(idle)
	o.once.Do(func() { o.bench, o.err = app.OpenBench(at.file, at.settled.setup, b.cache) })
	return o
}

// release ends the use of a bench; one that could not be opened is not kept.
func (b *benches) release(o *openBench) {
	b.mu.Lock()
	o.users--
	if o.err != nil {
		b.open = slices.DeleteFunc(b.open, func(k *openBench) bool { return k == o })
	}
	last := o.over && o.users == 0
	b.mu.Unlock()
	if last {
		closeBenches([]*openBench{o})
	}
}

// drop closes benches at once: what is under way on them ends.
func (b *benches) drop(which func(*openBench) bool) {
	b.mu.Lock()
	var gone []*openBench
	b.open = slices.DeleteFunc(b.open, func(o *openBench) bool {
		if which(o) {
			gone = append(gone, o)
			return true
		}
		return false
	})
	b.mu.Unlock()
	closeBenches(gone)
}

// closeBenches closes benches, after those who are opening them.
func closeBenches(list []*openBench) {
	for _, o := range list {
		o.once.Do(func() { o.err = app.ErrBenchClosed })
		if o.bench != nil {
			_ = o.bench.Close()
		}
	}
}

// onBench runs f with the bench of a state. A state that was dropped meanwhile is looked up again.
func onBench[T any](ctx context.Context, s *Server, a *artwork, at seen, f func(*app.Bench) (T, error)) (v T, err error) {
	for range 3 {
		o := s.benches.of(a, at)
		if err = o.err; err == nil {
			v, err = f(o.bench)
		}
		s.benches.release(o)
		if !errors.Is(err, app.ErrBenchClosed) || ctx.Err() != nil {
			return v, err
		}
		if at, err = a.find(at.rev); err != nil {
			return v, err
		}
	}
	return v, app.ErrBenchClosed
}
