package app

import (
	"context"
	"fmt"
	"image"
	"runtime"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/limits"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// plainStock is what artwork is shown on when no stock was named.
const plainStock = "white-matt"

func (s *Setup) stock() (*press.Stock, error) {
	if s.Stock != nil {
		return s.Stock, nil
	}
	return press.FindStock(plainStock)
}

// LookView says how the sheet lies under the eye. The zero value is the whole laydown of the page's side as a 45/0
// instrument sees it.
type LookView struct {
	Only    []string   // toners to show, of those the press lays; nil = all
	Backing *press.Lab // what lies behind stock that light passes; nil = as the stock is described
	Side    string     // front or back of the stock; "" = odd pages are fronts
	Through bool       // a film seen from its other side
	Alone   bool       // leave out what shows through thin stock from the other side

	Lit                bool       // under a desk lamp, not an instrument's
	Lamp               *LampPlace // of that lamp; nil = behind the top left corner
	TiltTop, TiltRight float64    // degrees by which the sheet faces these edges
}

// LampPlace is where a lamp stands: degrees above the sheet, and round it clockwise from its top edge.
type LampPlace struct{ Up, Round float64 }

// light is the lamp of a view for an area whose longer side is so many millimetres.
func (v *LookView) light(side float64) look.Light {
	if !v.Lit {
		return look.MeasuredLight()
	}
	return v.lamp(side)
}

func (v *LookView) lamp(side float64) look.Light {
	l := look.LampLight(2 * side)
	if v.Lamp != nil {
		l.Elevation, l.Azimuth = v.Lamp.Up, v.Lamp.Round
	}
	l.TiltTop, l.TiltRight = v.TiltTop, v.TiltRight
	return l
}

// laidPage is a page with plates that tell which toners it uses.
type laidPage struct {
	sheet *Sheet
	page  *check.Page
}

// layers are the toners of a page in laydown order: those of its passes, or without a press process toners first and
// each spot as its stand-in colour.
func (s *Setup) layers(p *laidPage) (layers []look.Layer, err error) {
	if s.Press != nil && len(p.page.Passes) > 0 {
		layers, _ = look.LayersFromPasses(s.Press, p.page.Passes, p.page.Plates.Set)
	} else if layers, err = s.guessedLayers(p); err != nil {
		return nil, err
	}
	if len(layers) > limits.MaxLookToners {
		layers = layers[:limits.MaxLookToners]
	}
	return layers, nil
}

// side is the side of the stock a page is printed on.
func (v LookView) side(page int) press.Side {
	if v.Side == press.Back.String() || v.Side == "" && page%2 == 0 {
		return press.Back
	}
	return press.Front
}

// conditions are what the appearance of a page is made for.
func (s *Setup) conditions(p *laidPage, v LookView) (c look.Conditions, err error) {
	layers, err := s.layers(p)
	if err != nil {
		return c, err
	}
	process, err := p.sheet.art.process(s, p.sheet.Number, p.sheet.Findings)
	if err != nil {
		return c, err
	}
	return s.conditionsOf(p.sheet.Number, layers, process, v)
}

// conditionsOf are those of a page whose layers are known.
func (s *Setup) conditionsOf(page int, layers []look.Layer, process *look.Process, v LookView) (c look.Conditions, err error) {
	stock, err := s.stock()
	if err != nil {
		return c, err
	}
	if v.Only != nil {
		if layers, err = only(layers, v.Only); err != nil {
			return c, err
		}
	}
	if v.Through && stock.Surface != press.SurfaceFilm {
		return c, cannot(nil, "leave out --through", "nobody sees through %s", stock.Title)
	}
	return look.Conditions{Stock: stock, Side: v.side(page), Layers: layers, Process: process, Backing: v.Backing, Through: v.Through}, nil
}

// model builds the appearance of a page.
func (s *Setup) model(p *laidPage, v LookView) (*look.Model, []look.Layer, error) {
	c, err := s.conditions(p, v)
	if err != nil {
		return nil, nil, err
	}
	m, err := look.NewModelFor(c)
	return m, c.Layers, err
}

// only keeps the layers of toners named.
func only(layers []look.Layer, names []string) (kept []look.Layer, err error) {
	var laid []string
	for _, l := range layers {
		laid = append(laid, l.Toner.Name)
		if slices.Contains(names, l.Toner.Name) {
			kept = append(kept, l)
		}
	}
	for _, n := range names {
		if !slices.Contains(laid, n) {
			return nil, cannot(nil, "the page has "+strings.Join(laid, ", "), "no toner %q is laid on the page", n)
		}
	}
	return kept, nil
}

// guessedLayers are the plates with toner in plate order, with the press's toner of that name, or the
// trade's process toner, or a toner looking like the stand-in colour.
func (s *Setup) guessedLayers(p *laidPage) ([]look.Layer, error) {
	known := s.Press
	if known == nil {
		var err error
		if known, err = press.FindPress(press.PressNames()[0]); err != nil {
			return nil, err
		}
	}
	var layers []look.Layer
	for i, c := range p.page.Plates.Set.All() {
		if !hasToner(p.page.Plates.Plane(i)) {
			continue
		}
		t, ok := known.Toner(c.Name)
		if !ok || s.Press == nil && c.Kind != colourant.Process {
			t = p.sheet.standInToner(c.Name)
		}
		layers = append(layers, look.Layer{Toner: t, Plate: i})
	}
	return layers, nil
}

// standInToner makes a toner that looks as the artwork's alternate colour says.
func (sh *Sheet) standInToner(name string) *press.Toner {
	t := &press.Toner{Name: name, Kind: colourant.Spot}
	for _, n := range sh.List.Names {
		if n.Name != name {
			continue
		}
		for _, sp := range n.Spaces {
			if sep, ok := sp.(*colour.Separation); ok && sep.Components() == 1 {
				c := sh.Target.Converter.CMYK(sep, []float64{1}, colour.RelativeColorimetric)
				for k := range c {
					t.StandIn[k] = press.Percent(c[k] * 100)
				}
				return t
			}
		}
	}
	t.StandIn = [4]press.Percent{0, 0, 0, 50}
	return t
}

// picture shows a page's plates on its stock, reduced by a whole factor, over what shows through; nil where nothing does.
func picture(m *look.Model, st *plate.Stack, reduce int, behind *look.Behind) (*image.RGBA, error) {
	sink := look.NewPictureSink(m, runtime.GOMAXPROCS(0))
	sink.Reduce, sink.Behind = reduce, behind
	if err := st.Replay(sink, 128); err != nil {
		return nil, err
	}
	return sink.Image(), nil
}

// viewed is a page of an open artwork that pictures and figures are made of.
type viewed struct {
	setup *Setup
	art   *Artwork
	stock *press.Stock
	laid  *laidPage
	timer *instrument.Timer
}

// usedDPI is fine enough to tell which toners a page uses.
const usedDPI = 100

// view opens one page to be looked at. It paints the page coarsely, to know which toners it uses and so the passes.
func (s *Setup) view(ctx context.Context, file string, page int, t *instrument.Timer) (v *viewed, err error) {
	v = &viewed{setup: s, timer: t}
	if v.stock, err = s.stock(); err != nil {
		return nil, err
	}
	if v.art, err = s.Open(file); err != nil {
		return nil, err
	}
	if v.laid, err = v.art.lay(ctx, s, page, t); err != nil {
		v.art.Close()
		return nil, err
	}
	return v, nil
}

// lay reads a page and works out what is laid on it.
func (a *Artwork) lay(ctx context.Context, s *Setup, page int, t *instrument.Timer) (*laidPage, error) {
	sh, err := a.Read(ctx, s, page, ReadOptions{Timer: t})
	if err != nil {
		return nil, err
	}
	region := BoxWork.Region(&sh.List.Page)
	st := &plate.Stack{}
	dpi := fittingDPI(region, usedDPI, sh.Target.Set.Len())
	if dpi < 1 {
		return nil, cannot(nil, "set the page boxes", "page %d is too large to be painted", page)
	}
	if err := checkSize(region, dpi); err != nil {
		return nil, err
	}
	if err := paint.Render(ctx, sh.paintJob(region, dpi, t), st); err != nil {
		return nil, err
	}
	return &laidPage{sh, sh.checkPage(s, st, region)}, nil
}

func (v *viewed) Close() error { return v.art.Close() }

// model is the appearance of the page.
func (v *viewed) model(view LookView) (*look.Model, []look.Layer, error) {
	m, layers, err := v.setup.model(v.laid, view)
	if err != nil {
		return nil, nil, cannot(err, "name another stock or press", "the look of page %d cannot be made: %v", v.laid.sheet.Number, err)
	}
	return m, layers, nil
}

// region is the part of the page to show: in millimetres from the trim, or a box.
func (v *viewed) region(part *finding.BoxMM, box Box) (geom.Rect, error) {
	page := &v.laid.sheet.List.Page
	if part == nil {
		return box.Region(page), nil
	}
	const mm = geom.PointsPerMM
	x, y := page.Trim.X0+part.X*mm, page.Trim.Y0+part.Y*mm
	r := geom.Rect{X0: x, Y0: y, X1: x + part.W*mm, Y1: y + part.H*mm}.Intersect(page.Media)
	if r.Empty() {
		return r, cannot(nil, fmt.Sprintf("the trim is %.1f × %.1f mm", page.Trim.W()/mm, page.Trim.H()/mm),
			"the part %g,%g,%g,%g mm lies outside page %d", part.X, part.Y, part.W, part.H, page.Number)
	}
	return r, nil
}

// css writes an sRGB colour.
func css(c [3]uint8) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }
