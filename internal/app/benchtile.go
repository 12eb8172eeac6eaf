package app

import (
	"context"
	"image"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// Tile is one tile of a page in a view: what a tile of a file of maps inflates to (docs/maps.md). Tile (0,0) lies at the top
// left; those of the last column and row are as small as what is left. Nil where the page has no tile. The lamp of the
// view does not matter. The bytes are those of the whole page painted in the level's resolution.
func (b *Bench) Tile(ctx context.Context, page int, view LookView, level, x, y int) ([]byte, error) {
	return onBench(ctx, b, func(ctx context.Context) ([]byte, error) {
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		bounds, err := sh.bounds(level)
		if err != nil {
			return nil, err
		}
		const side = look.MapTileSide
		if x < 0 || y < 0 || x > bounds.Max.X/side || y > bounds.Max.Y/side {
			return nil, nil
		}
		at := image.Rect(x*side, y*side, (x+1)*side, (y+1)*side).Intersect(bounds)
		if at.Empty() {
			return nil, nil
		}
		m, err := sh.model(b.setup, view)
		if err != nil {
			return nil, err
		}
		if view.Through {
			turned := image.Rect(bounds.Max.X-at.Max.X, at.Min.Y, bounds.Max.X-at.Min.X, at.Max.Y)
			st, err := b.window(ctx, &sh.canvas, level, turned)
			if err != nil {
				return nil, err
			}
			turn(st)
			return m.coder.Tile(st, image.Rectangle{Max: at.Size()}, nil, at.Min)
		}
		bx, by, place := blockAt(at.Min.X, at.Min.Y, blockTiles*side)
		st, err := b.block(ctx, &sh.canvas, level, bx, by)
		if err != nil {
			return nil, err
		}
		var behind *look.Behind
		if !view.Alone {
			if behind, err = b.behind(ctx, sh, m, view, level, at); err != nil {
				return nil, err
			}
		}
		return m.coder.Tile(st, at.Sub(place), behind, place)
	})
}

// turn exchanges left and right.
func turn(st *plate.Stack) {
	for i := range st.Set.Len() {
		p := st.Plane(i)
		for ; len(p) > 0; p = p[st.Width:] {
			slices.Reverse(p[:st.Width])
		}
	}
}

// block is a block of plates, painted unless it is kept. It must not be changed.
func (b *Bench) block(ctx context.Context, c *canvas, level, bx, by int) (*plate.Stack, error) {
	key := blockKey{bench: b.id, page: c.page, other: c.other, level: level, x: bx, y: by}
	return b.cache.block(ctx, b.ctx, key, func(ctx context.Context, workers int) (*plate.Stack, error) {
		if !b.enter() { // who asked may have left
			return nil, ErrBenchClosed
		}
		defer b.users.Done()
		const side = blockTiles * look.MapTileSide
		st := &plate.Stack{}
		err := paint.Render(ctx, c.job(level, image.Rect(bx*side, by*side, (bx+1)*side, (by+1)*side), workers), st)
		return st, stopped(ctx, err)
	})
}

// job paints a part of a canvas. What reading and laying told of the page is not told again.
func (c *canvas) job(level int, part image.Rectangle, workers int) paint.Job {
	j := c.sheet.paintJob(c.region, levelDPI(level), nil)
	j.Part, j.Workers, j.Sink = part, workers, finding.Discard
	return j
}

// window gathers the plates of any pixels of a canvas.
func (b *Bench) window(ctx context.Context, c *canvas, level int, r image.Rectangle) (*plate.Stack, error) {
	const side = blockTiles * look.MapTileSide
	dpi := levelDPI(level)
	out := plate.NewStack(plate.Header{Width: r.Dx(), Height: r.Dy(), DPI: dpi, Set: c.sheet.Target.Set,
		OriginX: c.region.X0 + float64(r.Min.X)*72/dpi, OriginY: c.region.Y0 + float64(r.Min.Y)*72/dpi})
	for by := r.Min.Y / side; by*side < r.Max.Y; by++ {
		for bx := r.Min.X / side; bx*side < r.Max.X; bx++ {
			st, err := b.block(ctx, c, level, bx, by)
			if err != nil {
				return nil, err
			}
			place := image.Pt(bx*side, by*side)
			part := image.Rect(0, 0, st.Width, st.Height).Add(place).Intersect(r)
			for i := range st.Set.Len() {
				from := st.Plane(i)
				if from == nil || part.Empty() {
					continue
				}
				to := out.Plane(i)
				if to == nil {
					to = make([]byte, out.Width*out.Height)
					out.SetPlane(i, to)
				}
				for y := part.Min.Y; y < part.Max.Y; y++ {
					copy(to[(y-r.Min.Y)*out.Width+part.Min.X-r.Min.X:][:part.Dx()], from[(y-place.Y)*st.Width+part.Min.X-place.X:])
				}
			}
		}
	}
	return out, nil
}

// otherSide is the canvas of the print that shows through a page; nil where nothing does.
func (b *Bench) otherSide(ctx context.Context, sh *benchSheet) (*canvas, *benchSheet, error) {
	sh.mu.Lock()
	back, of, known := sh.back, sh.backOf, sh.backed
	sh.mu.Unlock()
	if known {
		return back, of, nil
	}
	if n, ok := b.setup.printsBehind(b.art, sh.n); ok {
		other, err := b.sheet(ctx, n)
		if err != nil {
			return nil, nil, err
		}
		if mirror, ok := mirroredArea(sh.canvas.region, sh.sheet.List.Page.Trim, other.sheet.List.Page.Trim); ok {
			back, of = &canvas{sheet: other.sheet, page: sh.n, other: true, region: mirror}, other
		}
	}
	sh.mu.Lock()
	sh.back, sh.backOf, sh.backed = back, of, true
	sh.mu.Unlock()
	return back, of, nil
}

// behind is what shows through the pixels of a tile; nil where nothing does.
func (b *Bench) behind(ctx context.Context, sh *benchSheet, m *benchModel, view LookView, level int, at image.Rectangle) (*look.Behind, error) {
	back, of, err := b.otherSide(ctx, sh)
	if back == nil || err != nil {
		return nil, err
	}
	w, h := sh.canvas.size(level)
	if backW, backH := back.size(level); backW != w || backH != h {
		return nil, nil // rounded apart by a pixel
	}
	sink, ok := m.sinks.Get().(*look.BehindSink)
	if !ok {
		first, err := m.behind(func() (*look.BehindSink, error) { return b.behindSink(of, view) })
		if err != nil {
			return nil, err
		}
		sink = first.Another()
	}
	defer m.sinks.Put(sink)
	// Whole cells, and as many more as each depends on.
	cell := sink.Cell(levelDPI(level))
	cells := func(from, to, side int) (int, int) {
		return max(from/cell-look.BehindReach, 0) * cell, min((to+cell-1)/cell*cell+look.BehindReach*cell, side)
	}
	var r image.Rectangle
	r.Min.X, r.Max.X = cells(w-at.Max.X, w-at.Min.X, w)
	r.Min.Y, r.Max.Y = cells(at.Min.Y, at.Max.Y, h)
	st, err := b.window(ctx, back, level, r)
	if err != nil {
		return nil, err
	}
	if err := st.Replay(sink, st.Height); err != nil {
		return nil, err
	}
	out := sink.Behind()
	out.Within(w, r.Min.X, r.Min.Y)
	return out, nil
}

// behindSink takes the plates of the other side.
func (b *Bench) behindSink(of *benchSheet, view LookView) (*look.BehindSink, error) {
	c, err := b.setup.conditionsOf(of.n, of.layers, of.process, LookView{Backing: view.Backing})
	if err != nil {
		return nil, err
	}
	return look.NewBehindSink(c, 1)
}
