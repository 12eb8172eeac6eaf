package paint

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
	"time"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
)

// job is a Job made ready: shared by all workers, not changed while they run.
type job struct {
	Job
	w, h   int            // of the region
	part   raster.IntRect // of it that is painted
	plates int
	root   *plan
	ox, oy int // of the page's pixel that is pixel (0,0) of the region
	ramps  *memory[rampKey, *separate.Ramp]
	meshes *memory[meshKey, *mesh]
	cells  *memory[cellKey, *cell]
	// Tables of the transfer functions of soft masks: tiles plan their masks anew.
	transfers  *memory[*displist.SoftMask, []uint16]
	maskTarget func() *separate.Target
	// wrap is set when the page is composited in a buffer of its own before it goes to the plates:
	// a blending page whose group is a knockout group or has another blending space than CMYK.
	wrap *displist.Group
}

// RootContext is what the items of a page that stand in no group are separated for: the page group's
// blending space, and CMYK while nothing on the page blends, since the group then changes nothing.
func RootContext(list *displist.List) separate.Context {
	if list.Group == nil || !list.Blending {
		return separate.Context{}
	}
	return separate.PageContext(list)
}

// prepare plans a job. What can go wrong is its size alone.
func prepare(j Job) (*job, error) {
	if j.Sink == nil {
		j.Sink = finding.Discard
	}
	defer j.Timer.Start("paint: plan")()
	w, h := Size(j.Region, j.DPI)
	number := j.List.Page.Number
	if w < 1 || h < 1 {
		return nil, fmt.Errorf("page %d has no area to paint at %g dpi", number, j.DPI)
	}
	part := raster.IntRect{X1: w, Y1: h}
	if !j.Part.Empty() {
		if w > MaxSide || h > MaxSide {
			return nil, fmt.Errorf("page %d would be %d x %d pixels at %g dpi; parts can be painted of %d a side: lower the resolution",
				number, w, h, j.DPI, MaxSide)
		}
		part = part.Intersect(raster.IntRect{X0: j.Part.Min.X, Y0: j.Part.Min.Y, X1: j.Part.Max.X, Y1: j.Part.Max.Y})
		if part.Empty() {
			return nil, fmt.Errorf("the part %v lies outside page %d, which has %d x %d pixels at %g dpi", j.Part, number, w, h, j.DPI)
		}
	}
	if pw, ph := part.X1-part.X0, part.Y1-part.Y0; pw > limits.MaxPlateSide || ph > limits.MaxPlateSide || pw*ph > limits.MaxPagePixels {
		return nil, fmt.Errorf("page %d would be %d x %d pixels at %g dpi; the limit is %d a side and %d in all: lower the resolution",
			number, pw, ph, j.DPI, limits.MaxPlateSide, limits.MaxPagePixels)
	}
	r := &job{Job: j, w: w, h: h, part: part, plates: j.Target.Set.Len(),
		ramps:  &memory[rampKey, *separate.Ramp]{limit: limits.RampBytes},
		meshes: &memory[meshKey, *mesh]{limit: limits.MeshBytes},
		cells:  &memory[cellKey, *cell]{limit: limits.TilingBytes},

		transfers:  &memory[*displist.SoftMask, []uint16]{limit: limits.TransferBytes},
		maskTarget: sync.OnceValue(func() *separate.Target { return maskTarget(j.Target) })}
	p := &planner{job: r, sink: j.Sink, page: part, number: number, dev: j.device(),
		masks: map[*displist.SoftMask]*maskPlan{}, clips: map[*displist.Clip]*clipShape{}}
	p.abs, r.ox, r.oy = j.pagePixels()
	ctx := RootContext(j.List)
	if g := j.List.Group; g != nil && j.List.Blending && (g.Knockout || ctx.Space != separate.BlendCMYK) {
		r.wrap = g
	}
	items := j.List.Items
	if n := affordable(j.List); n < len(items) {
		tooHeavy(j.List, n, j.Sink)
		items = items[:n]
	}
	r.root = p.plan(items, j.Target, ctx, j.Skip, 0, r.wrap != nil && r.wrap.Knockout)
	r.root.page = true
	return r, nil
}

// bandRows is the height of bands: as many rows as let the plates of a band stay in a cache of
// most bytes, within reason; of a small page a part, as some bands are there at a time. Bytes do not depend on it.
func (j *job) bandRows() int {
	const least, most, parts = 192 << 10, 768 << 10, 8
	row := (j.part.X1 - j.part.X0) * (j.plates + 1)
	rows := max(least, min(most, row*(j.part.Y1-j.part.Y0)/parts)) / row
	return max(16, min(128, rows&^7))
}

// Render paints the job into sink. The bytes do not depend on Workers. The error is ctx's, the sink's, or
// that the region is empty or too large.
func Render(ctx context.Context, job Job, sink plate.Sink) error {
	r, err := prepare(job)
	if err != nil {
		return err
	}
	defer job.Timer.Start("paint: bands")()
	return r.render(ctx, sink, r.bandRows())
}

// Workers take memory of their own: unless told how many, a page of fewer than smallPage bytes of
// plates begins with one, and gets the others when it takes longer than patience.
const (
	smallPage = 8 << 20
	patience  = 30 * time.Millisecond
)

// render paints all bands and hands them on in order, never more than a few ahead of the sink.
func (j *job) render(ctx context.Context, sink plate.Sink, rows int) error {
	defer plate.Abort(sink)
	part := j.part
	width, height := part.X1-part.X0, part.Y1-part.Y0
	if err := sink.Begin(plate.Header{Width: width, Height: height, DPI: j.DPI, Set: j.Target.Set,
		OriginX: j.Region.X0 + float64(part.X0)*72/j.DPI, OriginY: j.Region.Y0 + float64(part.Y0)*72/j.DPI}); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	bands := (height + rows - 1) / rows
	j.root.countUses(part.Y0, rows)
	workers := j.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, bands)

	type result struct {
		band *plate.Band
		err  error
	}
	done := make([]chan result, bands)
	for i := range done {
		done[i] = make(chan result, 1)
	}
	todo := make(chan int)
	var planes planePool
	var wg sync.WaitGroup
	running := 0
	start := func(n int) {
		for ; running < n; running++ {
			wg.Go(func() {
				w := newWorker(j)
				for i := range todo {
					window := raster.IntRect{X0: part.X0, X1: part.X1, Y0: part.Y0 + i*rows, Y1: min(part.Y1, part.Y0+(i+1)*rows)}
					band, err := w.band(ctx, window, &planes)
					if band != nil {
						band.Y0 -= part.Y0
					}
					done[i] <- result{band, err}
				}
			})
		}
	}
	var more <-chan time.Time
	if j.Workers == 0 && width*height*j.plates < smallPage {
		start(1)
		more = time.After(patience)
	} else {
		start(workers)
	}
	defer func() {
		cancel()
		close(todo)
		wg.Wait()
	}()
	sent := 0
	for i := range bands {
		var r result
		for painted := false; !painted; {
			next := todo
			if sent == bands || sent >= i+2*running {
				next = nil
			}
			select {
			case next <- sent:
				sent++
			case r = <-done[i]:
				painted = true
			case <-more:
				start(workers)
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		if r.err != nil {
			return r.err
		}
		if err := sink.Band(r.band); err != nil {
			return err
		}
		planes.put(r.band.Planes)
	}
	return sink.End()
}

// band paints one window and takes its plates. A panic becomes an error: one page must not take the
// program down.
func (w *worker) band(ctx context.Context, window raster.IntRect, pool *planePool) (b *plate.Band, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("painting rows %d to %d failed: %v\n%s", window.Y0, window.Y1, r, debug.Stack())
		}
	}()
	root := w.begin(ctx, window, pool)
	w.page(root)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return &plate.Band{Y0: window.Y0, Rows: window.Y1 - window.Y0, Planes: root.p8}, nil
}

// countUses notes in how many bands, the first of which begins at row y0, each shape is needed.
func (pl *plan) countUses(y0, rows int) {
	for i := range pl.steps {
		if b := pl.steps[i].box; !b.Empty() {
			n := (b.Y1-1-y0)/rows - (b.Y0-y0)/rows + 1
			pl.steps[i].uses.Store(int32(n))
			pl.steps[i].single = n == 1
		}
	}
}

// planePool keeps band planes between bands.
type planePool struct {
	mu   sync.Mutex
	free [][]byte
}

// get returns n zeroed bytes.
func (p *planePool) get(n int) []byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i := len(p.free) - 1; i >= 0; i-- {
		if b := p.free[i]; cap(b) >= n {
			p.free[i] = p.free[len(p.free)-1]
			p.free = p.free[:len(p.free)-1]
			b = b[:n]
			clear(b)
			return b
		}
	}
	return make([]byte, n)
}

func (p *planePool) put(planes [][]byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, b := range planes {
		if b != nil {
			p.free = append(p.free, b)
		}
	}
}

// strokeCut reports a stroke that a limit cut short.
func (j *job) strokeCut(it *displist.Item) {
	j.Sink.Add(finding.Finding{ID: "stroke-cut-short", Severity: finding.Warning, Class: finding.OverLimit, Incomplete: true,
		What:   "A dashed line has more dashes than are drawn; the rest of it is missing.",
		Why:    "The missing part would not be printed.",
		Remedy: "Use a longer dash pattern, or split the line.",
		Place:  finding.Place{Page: j.List.Page.Number, Object: it.Origin.Object, Offset: it.Origin.Offset}})
}
