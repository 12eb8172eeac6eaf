package mend

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
	"laydown/internal/plates/distance"
	"laydown/internal/plates/outline"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// shape is where a made toner lies: a path of list space, or pixels.
type shape struct {
	path  *geom.Path
	pix   []byte // coverage, or tints
	w, h  int
	at    geom.Rect // of the pixels, list space
	tints bool
}

// making says how a shape is made from plates.
type making struct {
	plates    map[string]bool // those it lies under or over; nil = all
	threshold float64         // least tint that counts, 0..1
	move      float64         // mm outwards; negative inwards
	keep      float64         // mm of what is thinner than the choke that stays
	holes     float64         // mm2 of holes that are filled
	as        string          // outline, bitmap or image
	follow    bool            // the tint follows that of the plates
	dpi       float64
	skip      func(i int) bool
	region    geom.Rect
}

// madeOptions are those of remedies that make a shape from plates.
var madeOptions = []Option{
	{"as", "outline, bitmap (one bit) or image (8 bits) (outline)", false},
	{"threshold", "the least tint that counts (10%)", false},
	{"keep", "width that stays of what is thinner than the choke (0.15mm)", false},
	{"holes", "holes up to this many mm² are filled (0)", false},
	{"dpi", "resolution the plates are looked at (600)", false},
	{"layer", "name of the layer it is put on", false},
}

func (m *making) read(o Options) error {
	var err error
	if m.threshold, err = o.percent("threshold", .1); err != nil {
		return err
	}
	if m.keep, err = o.mm("keep", .15); err != nil {
		return err
	}
	m.holes, m.dpi = 0, 600
	for _, f := range []struct {
		to   *float64
		name string
		most float64
	}{{&m.holes, "holes", 10_000}, {&m.dpi, "dpi", 4800}} {
		if t := o[f.name]; t != "" {
			v, err := numbers(t, 1)
			if err != nil || !(v[0] > 0 && v[0] <= f.most) {
				return fmt.Errorf("%s is a number up to %g, not %q", f.name, f.most, t)
			}
			*f.to = v[0]
		}
	}
	switch m.as = o.text("as", "outline"); m.as {
	case "outline", "bitmap", "image":
		return nil
	}
	return fmt.Errorf("as is outline, bitmap or image, not %q", m.as)
}

// make paints the page and shapes what is there; nil when there is nothing.
func (m *making) make(ctx context.Context, p *Page) (*shape, error) {
	w, h := paint.Size(m.region, m.dpi)
	if w < 1 || h < 1 || w > limits.MaxPlateSide || h > limits.MaxPlateSide || w*h > limits.MaxPagePixels {
		return nil, fmt.Errorf("page %d would have %d × %d pixels at %g dpi; choose a lower dpi", p.List.Page.Number, w, h, m.dpi)
	}
	sink := &unionSink{want: m.plates}
	job := paint.Job{List: p.List, Target: p.Target, DPI: m.dpi, Region: m.region, Sink: finding.Discard, Skip: m.skip}
	if err := paint.Render(ctx, job, sink); err != nil {
		return nil, err
	}
	tone := sink.tone
	plane, err := distance.Shape(distance.Plane{Pix: tone, W: w, H: h, DPI: m.dpi}, max(1, byte(math.Ceil(m.threshold*255))), distance.Options{})
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(plane.Pix, func(v byte) bool { return v >= 128 }) {
		return nil, nil
	}
	if m.holes > 0 {
		if plane, err = distance.FillHoles(plane, m.holes, distance.Options{}); err != nil {
			return nil, err
		}
	}
	switch {
	case m.move < 0:
		plane, err = distance.ChokeKeeping(plane, -m.move, m.keep, distance.Options{})
	case m.move > 0:
		plane, err = distance.Spread(plane, m.move, distance.Options{})
	}
	if err != nil {
		return nil, err
	}
	scale := 72 / m.dpi
	at := geom.Rect{X0: m.region.X0, Y0: m.region.Y0, X1: m.region.X0 + float64(float64(w)*scale), Y1: m.region.Y0 + float64(float64(h)*scale)}
	s := &shape{pix: plane.Pix, w: w, h: h, at: at, tints: m.as == "image"}
	if m.as == "outline" {
		return s.traced(m.dpi)
	}
	if m.follow && s.tints {
		s.pix = make([]byte, len(plane.Pix))
		for i, v := range plane.Pix {
			s.pix[i] = byte((int(v)*int(tone[i]) + 127) / 255)
		}
	}
	return s, nil
}

// stencilDPI is the least resolution of a one-bit shape: its edges are the steps of whole pixels, whose corners lie up to 0.71 pixel
// off the outline, 0.0075 mm at this one. A choke is exact to 0.01 mm.
const stencilDPI = 2400

// dpi is the resolution of the pixels.
func (s *shape) dpi() float64 { return 72 * float64(s.w) / s.at.W() }

// finer is how many times as fine the shape is as a stencil, within what readers take of one image.
func (s *shape) finer() int {
	k := 1
	for float64(k)*s.dpi() < stencilDPI-1 && k < 16 && (k+1)*(k+1)*s.w*s.h <= limits.MaxImagePixels {
		k++
	}
	return k
}

// unionSink keeps the highest tint of the plates wanted.
type unionSink struct {
	want map[string]bool
	use  []bool
	w    int
	tone []byte
}

// Begin implements plate.Sink.
func (s *unionSink) Begin(h plate.Header) error {
	s.w, s.tone = h.Width, make([]byte, h.Width*h.Height)
	for _, c := range h.Set.All() {
		s.use = append(s.use, s.want == nil || s.want[c.Name])
	}
	return nil
}

// Band implements plate.Sink.
func (s *unionSink) Band(b *plate.Band) error {
	for i, plane := range b.Planes {
		if plane == nil || !s.use[i] {
			continue
		}
		to := s.tone[b.Y0*s.w:]
		for k, v := range plane {
			to[k] = max(to[k], v)
		}
	}
	return nil
}

// End implements plate.Sink.
func (s *unionSink) End() error { return nil }

var errNothing = errors.New("there is nothing on the pages it could lie under or over")

// traceMM is how far a traced outline may lie off, in mm. A choke is exact to 0.01 mm, of which its corners under a photograph take 0.005.
const traceMM = .003

// traced turns coverage into an outline.
func (s *shape) traced(dpi float64) (*shape, error) {
	path, err := outline.Trace(outline.Plane{Pix: s.pix, W: s.w, H: s.h, DPI: dpi, OriginX: s.at.X0, OriginY: s.at.Y0}, outline.Options{Curves: true, Tolerance: traceMM})
	if err != nil || path.Empty() {
		return nil, err
	}
	return &shape{path: path}, nil
}
