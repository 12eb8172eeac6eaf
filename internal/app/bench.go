package app

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"runtime/debug"
	"slices"
	"sync"

	"laydown/internal/artwork/displist"
	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/press"
)

// Bench is an artwork held open with one setup, to be looked at: pages are read when first asked for and painted tile by
// tile. It is safe for concurrent use; nothing is written.
type Bench struct {
	setup *Setup
	art   *Artwork
	cache *BenchCache
	id    uint64

	ctx     context.Context // ends with Close
	stop    context.CancelFunc
	reading chan struct{} // one page is read at a time

	mu     sync.Mutex
	closed bool
	users  sync.WaitGroup
	sheets []*benchSheet // the one asked for last at the end
}

// ErrBenchClosed is the error of what a bench was asked for after Close, or that Close cut short.
var ErrBenchClosed = errors.New("the artwork was put away")

// Pages held at a time: at most benchPages, and the last one alone when the images of more take over benchImageBytes.
const (
	benchPages      = 6
	benchImageBytes = 256 << 20
)

// OpenBench opens an artwork to be looked at. Cache may serve several benches. The error is a *CannotError.
func OpenBench(file string, s *Setup, cache *BenchCache) (*Bench, error) {
	art, err := s.Open(file)
	if err != nil {
		return nil, err
	}
	b := &Bench{setup: s, art: art, cache: cache, id: cache.number(), reading: make(chan struct{}, 1)}
	b.ctx, b.stop = context.WithCancel(context.Background())
	return b, nil
}

// NumPages is how many pages the artwork has.
func (b *Bench) NumPages() int { return b.art.Doc.NumPages() }

// Close ends what is under way with ErrBenchClosed, waits for it and releases the file.
func (b *Bench) Close() error {
	b.mu.Lock()
	if b.closed {
		b.mu.Unlock()
		return nil
	}
	b.closed = true
	b.mu.Unlock()
	b.stop()
	b.users.Wait()
	b.cache.forget(b.id)
	return b.art.Close()
}

// enter keeps the bench open until users.Done; false when it is closed.
func (b *Bench) enter() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.closed {
		b.users.Add(1)
	}
	return !b.closed
}

// onBench runs f while the bench stays open. A fault inside is an error.
func onBench[T any](ctx context.Context, b *Bench, f func(context.Context) (T, error)) (v T, err error) {
	if !b.enter() {
		return v, ErrBenchClosed
	}
	ctx, cancel := context.WithCancel(ctx)
	unhook := context.AfterFunc(b.ctx, cancel)
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("looking at the page failed: internal fault (%v)\n%s", r, debug.Stack())
		}
		if err != nil && b.ctx.Err() != nil {
			err = ErrBenchClosed
		}
		unhook()
		cancel()
		b.users.Done()
	}()
	return f(ctx)
}

// benchBaseDPI is the resolution of level 0; each level doubles it. Level 5 has 300 dpi, level 9 4800.
const (
	benchBaseDPI = 9.375
	benchLevels  = 10
	pointLevel   = 5 // of figures at a point: the resolution checks run at
)

// levelDPI is the resolution of a level.
func levelDPI(level int) float64 { return math.Ldexp(benchBaseDPI, level) }

// BenchPage is a page as it is laid down: what a viewer has to know of it. Boxes are in millimetres from the top left
// corner of the trim, y down.
type BenchPage struct {
	Number    int               `json:"number"`
	Region    finding.BoxMM     `json:"region"` // bleed and crop; its top left corner is pixel (0,0) of every level
	Trim      finding.BoxMM     `json:"trim"`
	Bleed     finding.BoxMM     `json:"bleed"`
	Levels    []BenchLevel      `json:"levels"`
	Tile      int               `json:"tile"`    // side of a tile, pixels
	Laydown   []BenchLayer      `json:"laydown"` // first laid first
	Passes    []BenchPass       `json:"passes"`
	PassError string            `json:"pass_error,omitempty"` // why no passes can be laid out
	Stock     BenchStockSide    `json:"stock"`
	Side      string            `json:"side"`             // front or back of the stock
	Film      bool              `json:"film"`             // the stock is film and can be looked at through
	Behind    int               `json:"behind,omitempty"` // the page on the other side of stock that light passes: it shows through where both have one size
	Glint     look.MapGlint     `json:"glint"`
	OnLayers  []string          `json:"on_layers"` // the layers something of the page prints on, in order of painting
	Cautions  []string          `json:"cautions"`  // of stock, press, the toners used, and what the job says of zones and use
	Notes     []string          `json:"notes,omitempty"`
	Findings  []finding.Finding `json:"findings"` // of reading
}

// BenchLevel is the page in one resolution.
type BenchLevel struct {
	DPI    float64 `json:"dpi"`
	Width  int     `json:"width"` // pixels
	Height int     `json:"height"`
}

// BenchLayer is one toner of the laydown; one laid in two passes is two of them.
type BenchLayer struct {
	Name      string  `json:"name"`
	Kind      string  `json:"kind"`
	Colour    string  `json:"colour"`       // of its solid on the page's stock, CSS
	OnWhite   string  `json:"on_white"`     // of its solid on white
	Thickness float64 `json:"thickness_um"` // of its solid, see TonerThickness
	Pass      int     `json:"pass"`         // from 1; 0 = no passes are known
	Coverage  float64 `json:"coverage"`     // mean tint inside the trim, percent
}

// BenchPass is one trip through the press.
type BenchPass struct {
	Set    string   `json:"set"`
	Toners []string `json:"toners"` // those used, first laid first
}

// View is the view of the page with some toners left out; names it does not lay are passed over.
func (p *BenchPage) View(off []string) LookView {
	v := LookView{}
	if len(off) == 0 {
		return v
	}
	v.Only = []string{}
	for _, l := range p.Laydown {
		if !slices.Contains(off, l.Name) && !slices.Contains(v.Only, l.Name) {
			v.Only = append(v.Only, l.Name)
		}
	}
	return v
}

// benchSheet is a page that was read and laid.
type benchSheet struct {
	n       int
	sheet   *Sheet
	canvas  canvas
	layers  []look.Layer
	process *look.Process
	page    *BenchPage
	images  int64

	mu     sync.Mutex
	models []*benchModel
	back   *canvas // what shows through; nil = not found out, or nothing does
	backed bool
	backOf *benchSheet
}

// canvas is what blocks are painted of: a page, and the part of it that lies on the sheet.
type canvas struct {
	sheet  *Sheet
	page   int // that is looked at
	other  bool
	region geom.Rect
}

// size of the canvas in pixels of a level.
func (c *canvas) size(level int) (w, h int) { return paint.Size(c.region, levelDPI(level)) }

// Page reads and lays page n. What it gives is shared and must not be changed. The error is a *CannotError, ErrBenchClosed or ctx's.
func (b *Bench) Page(ctx context.Context, n int) (*BenchPage, error) {
	return onBench(ctx, b, func(ctx context.Context) (*BenchPage, error) {
		sh, err := b.sheet(ctx, n)
		if err != nil {
			return nil, err
		}
		return sh.page, nil
	})
}

// known is a page that is held; nil when it is not.
func (b *Bench) known(n int) *benchSheet {
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.IndexFunc(b.sheets, func(s *benchSheet) bool { return s.n == n })
	if i < 0 {
		return nil
	}
	sh := b.sheets[i]
	b.sheets = append(append(b.sheets[:i:i], b.sheets[i+1:]...), sh)
	return sh
}

// sheet is a page laid, read when it is not held.
func (b *Bench) sheet(ctx context.Context, n int) (*benchSheet, error) {
	if sh := b.known(n); sh != nil {
		return sh, nil
	}
	select {
	case b.reading <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-b.reading }()
	if sh := b.known(n); sh != nil {
		return sh, nil
	}
	sh, err := b.read(ctx, n)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.sheets = append(b.sheets, sh)
	bytes := int64(0)
	for i := len(b.sheets) - 1; i >= 0; i-- {
		bytes += b.sheets[i].images
		if kept := len(b.sheets) - i; kept > benchPages || kept > 1 && bytes > benchImageBytes {
			b.sheets = slices.Clone(b.sheets[i+1:])
			break
		}
	}
	return sh, nil
}

// read lays a page out.
func (b *Bench) read(ctx context.Context, n int) (*benchSheet, error) {
	laid, err := b.art.lay(ctx, b.setup, n, nil)
	if err != nil {
		return nil, stopped(ctx, err)
	}
	sh := &benchSheet{n: n, sheet: laid.sheet, images: imageBytes(laid.sheet.List)}
	sh.canvas = canvas{sheet: laid.sheet, page: n, region: laid.page.Region}
	if sh.layers, err = b.setup.layers(laid); err != nil {
		return nil, err
	}
	if sh.process, err = b.art.process(b.setup, n, laid.sheet.Findings); err != nil {
		return nil, err
	}
	if sh.page, err = b.describe(sh, laid.page); err != nil {
		return nil, err
	}
	sh.page.Findings = laid.sheet.allFindings(b.art)
	return sh, nil
}

// describe tells of a page what a viewer needs.
func (b *Bench) describe(sh *benchSheet, laid *check.Page) (*BenchPage, error) {
	list := &sh.sheet.List.Page
	view := LookView{}
	m, err := sh.model(b.setup, view)
	if err != nil {
		return nil, err
	}
	stock, err := b.setup.stock()
	if err != nil {
		return nil, err
	}
	side := view.side(sh.n)
	g := look.DefaultGlint()
	p := &BenchPage{Number: sh.n, Region: boxFromTrim(list, sh.canvas.region), Trim: boxFromTrim(list, list.Trim), Bleed: boxFromTrim(list, list.Bleed),
		Tile: look.MapTileSide, Stock: stockSide(stock, side), Side: side.String(), Film: stock.Surface == press.SurfaceFilm,
		Glint: look.MapGlint{Flake: g.Flake, Spread: g.Spread, Seed: g.Seed}, Notes: m.model.Notes(), Laydown: []BenchLayer{}, Passes: []BenchPass{},
		OnLayers: printingLayers(sh.sheet.List), Cautions: []string{}}
	for k := range benchLevels {
		w, h := sh.canvas.size(k)
		if w > paint.MaxSide || h > paint.MaxSide {
			break
		}
		p.Levels = append(p.Levels, BenchLevel{levelDPI(k), w, h})
	}
	if len(p.Levels) == 0 || p.Levels[0].Width == 0 || p.Levels[0].Height == 0 {
		return nil, cannot(nil, "set the page boxes", "page %d has no area that could be shown", sh.n)
	}
	if other, ok := b.setup.printsBehind(b.art, sh.n); ok {
		p.Behind = other
	}
	if laid.PassError != nil {
		p.PassError = laid.PassError.Error()
	}
	var in []int // passes of the layers
	for i, pass := range laid.Passes {
		p.Passes = append(p.Passes, BenchPass{Set: pass.Set.Name, Toners: pass.Toners})
		for _, t := range pass.Toners {
			if _, plated := laid.Plates.Set.Lookup(t); plated {
				in = append(in, i+1)
			}
		}
	}
	white, err := press.FindStock(plainStock)
	if err != nil {
		return nil, err
	}
	stats := trimStats(laid)
	var used []string
	for i, l := range sh.layers {
		layer := BenchLayer{Name: l.Toner.Name, Kind: l.Toner.Kind.String(), Thickness: TonerThickness(l.Toner), Coverage: round2(stats[l.Plate].mean)}
		tints := make([]uint8, laid.Plates.Set.Len())
		tints[l.Plate] = 255
		layer.Colour = css(m.model.SRGB(tints))
		if layer.OnWhite, _, err = solidOn(white, l.Toner); err != nil {
			return nil, err
		}
		if i < len(in) {
			layer.Pass = in[i]
		}
		if layer.Coverage > 0 {
			used = append(used, layer.Name)
		}
		p.Laydown = append(p.Laydown, layer)
	}
	p.Cautions = append(p.Cautions, cautionsOn(stock, b.setup, used)...)
	return p, nil
}

// boxFromTrim is a box of list space in millimetres from the trim.
func boxFromTrim(p *displist.Page, r geom.Rect) finding.BoxMM {
	const mm = geom.PointsPerMM
	// To a nanometre: beyond it there is nothing but the rounding of points.
	tidy := func(v float64) float64 { return math.Round(v*1e6) / 1e6 }
	return finding.BoxMM{X: tidy((r.X0 - p.Trim.X0) / mm), Y: tidy((r.Y0 - p.Trim.Y0) / mm), W: tidy(r.W() / mm), H: tidy(r.H() / mm)}
}

// imageBytes is about what the images of a list take.
func imageBytes(l *displist.List) int64 {
	seen := map[any]bool{}
	n := int64(0)
	for i := range l.Items {
		if pic := l.Items[i].Image; pic != nil && pic.Image != nil && !seen[pic.Image] {
			seen[pic.Image] = true
			n += int64(pic.Width) * int64(pic.Height)
			if pic.Space != nil {
				n += int64(pic.Width) * int64(pic.Height) * int64(pic.Space.Components()-1)
			}
		}
	}
	return n
}

// benchModel is the look of a page in one view.
type benchModel struct {
	key   string
	built func() error
	model *look.Model
	coder *look.TileCoder

	sinks  sync.Pool // of *look.BehindSink, for the other side
	once   sync.Once
	first  *look.BehindSink
	failed error
}

// behind is the sink others are made of.
func (m *benchModel) behind(make func() (*look.BehindSink, error)) (*look.BehindSink, error) {
	m.once.Do(func() { m.first, m.failed = make() })
	return m.first, m.failed
}

// benchModels of a page are held: every toner switched off once, and some.
const benchModels = 12

// model is that of a view, made once while it is held.
func (sh *benchSheet) model(s *Setup, v LookView) (*benchModel, error) {
	key := fmt.Sprintf("%q %t %s %t", v.Only, v.Only == nil, v.side(sh.n), v.Through)
	if v.Backing != nil {
		key += fmt.Sprint(*v.Backing)
	}
	sh.mu.Lock()
	i := slices.IndexFunc(sh.models, func(m *benchModel) bool { return m.key == key })
	var m *benchModel
	if i >= 0 {
		m = sh.models[i]
		sh.models = slices.Delete(sh.models, i, i+1)
	} else {
		m = &benchModel{key: key}
		m.built = sync.OnceValue(func() error {
			c, err := s.conditionsOf(sh.n, sh.layers, sh.process, v)
			if err != nil {
				return err
			}
			if m.model, err = look.NewModelFor(c); err != nil {
				return cannot(err, "name another stock or press", "the look of page %d cannot be made: %v", sh.n, err)
			}
			m.coder = look.NewTileCoder(m.model)
			return nil
		})
	}
	if sh.models = append(sh.models, m); len(sh.models) > benchModels {
		sh.models = slices.Delete(sh.models, 0, 1)
	}
	sh.mu.Unlock()
	return m, m.built()
}

// bounds are the pixels of a level; the error says that there is no such level.
func (sh *benchSheet) bounds(level int) (image.Rectangle, error) {
	if level < 0 || level >= len(sh.page.Levels) {
		return image.Rectangle{}, cannot(nil, fmt.Sprintf("the page has levels 0 to %d", len(sh.page.Levels)-1), "there is no level %d", level)
	}
	l := sh.page.Levels[level]
	return image.Rect(0, 0, l.Width, l.Height), nil
}

// printingLayers names the layers something prints on, those that hold a layer among them, in order of painting.
func printingLayers(list *displist.List) []string {
	out := []string{}
	for i := range list.Items {
		if list.Items[i].Hidden {
			continue
		}
		for l := list.Items[i].Layer; l != nil; l = l.Parent {
			if l.Name != "" && !slices.Contains(out, l.Name) {
				out = append(out, l.Name)
			}
		}
	}
	return out
}
