package web

import (
	"context"
	"errors"
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
}

// of is the bench for a state of an artwork, opened unless it is held.
func (b *benches) of(a *artwork, at seen) (*app.Bench, error) {
	b.mu.Lock()
	var o *openBench
	for i, k := range b.open {
		if k.artwork == a.id && k.rev == at.rev {
			o = k
			b.open = append(append(b.open[:i:i], b.open[i+1:]...), o)
		}
	}
	var over []*openBench
	if o == nil {
		o = &openBench{artwork: a.id, rev: at.rev}
		b.open = append(b.open, o)
		if n := len(b.open) - benchesKept; n > 0 {
			over = append(over, b.open[:n]...)
			b.open = append([]*openBench(nil), b.open[n:]...)
		}
	}
	b.mu.Unlock()
	putAway(over)
	o.once.Do(func() { o.bench, o.err = app.OpenBench(at.file, at.settled.setup, b.cache) })
	if o.err != nil {
		b.drop(func(k *openBench) bool { return k == o })
	}
	return o.bench, o.err
}

// drop puts benches away.
func (b *benches) drop(which func(*openBench) bool) {
	b.mu.Lock()
	var kept, gone []*openBench
	for _, o := range b.open {
		if which(o) {
			gone = append(gone, o)
		} else {
			kept = append(kept, o)
		}
	}
	b.open = kept
	b.mu.Unlock()
	putAway(gone)
}

// putAway closes benches, after those who are opening them.
func putAway(list []*openBench) {
	for _, o := range list {
		o.once.Do(func() { o.err = app.ErrBenchClosed })
		if o.bench != nil {
			_ = o.bench.Close()
		}
	}
}

// onBench runs f with the bench of a state. One that was put away meanwhile, to make room, is opened again.
func onBench[T any](ctx context.Context, s *Server, a *artwork, at seen, f func(*app.Bench) (T, error)) (v T, err error) {
	for range 3 {
		b, err := s.benches.of(a, at)
		if err == nil {
			v, err = f(b)
		}
		if !errors.Is(err, app.ErrBenchClosed) || ctx.Err() != nil {
			return v, err
		}
		if at, err = a.find(at.rev); err != nil {
			return v, err
		}
	}
	return v, app.ErrBenchClosed
}
