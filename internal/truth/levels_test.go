package truth

import (
	"bytes"
	"context"
	"math"
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/demo"
	"laydown/internal/geom"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/slowpaint"
)

// byPixel paints a page pixel by pixel. The coverage of a shape is what the painter gives to it alone in
// solid black on bare paper.
func byPixel(t *testing.T, p *painted, read geom.Point) *plate.Stack {
	t.Helper()
	j := p.Job
	w, h := paint.Size(j.Region, j.DPI)
	s := j.DPI / 72
	page := slowpaint.Place{W: w, H: h, Device: geom.Matrix{A: s, D: s, E: -j.Region.X0 * s, F: -j.Region.Y0 * s}}
	alone := func(it displist.Item, in slowpaint.Place) []uint8 {
		it.Clip, it.Alpha, it.Blend, it.SoftMask, it.Overprint, it.AlphaIsShape, it.Image = nil, 1, displist.Normal, nil, false, false, nil
		it.Paint = displist.Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}
		list, region := *j.List, j.Region
		if in != page { // a cell's: as a page of so many pixels
			region = geom.Rect{X1: float64(in.W) / s, Y1: float64(in.H) / s}
			list.Page.Media, list.Page.Crop, list.Page.Bleed = region, region, region
			onPage(&it, in, geom.Matrix{A: 1 / s, D: 1 / s}, j.DPI)
		}
		list.Items, list.Group, list.Blending = []displist.Item{it}, nil, false
		stack := plate.Stack{}
		if err := paint.Render(context.Background(), paint.Job{List: &list, Target: separate.NewTargetFromLists(nil, p.Sink), DPI: j.DPI, Region: region}, &stack); err != nil {
			t.Fatal(err)
		}
		if k := stack.Plane(3); k != nil {
			return k
		}
		return make([]uint8, in.W*in.H)
	}
	everywhere := geom.Rect{X0: -1e6, Y0: -1e6, X1: 1e6, Y1: 1e6}
	filled := func(s *displist.Shape, in slowpaint.Place) []uint8 {
		return alone(displist.Item{Kind: displist.Fill, Shape: *s, Bounds: everywhere}, in)
	}
	square := &geom.Path{}
	square.Rect(geom.Rect{X1: 1, Y1: 1})
	l := &slowpaint.Levels{Place: page, Target: j.Target, Filled: filled, Read: read,
		Cover: func(it *displist.Item, in slowpaint.Place) []uint8 {
			if it.Kind == displist.Image {
				return filled(&displist.Shape{Glyphs: []displist.Glyph{{Outline: square, M: it.Image.M}}}, in)
			}
			if it.Kind == displist.Shade {
				return bounded(it, in)
			}
			return alone(*it, in)
		}}
	ctx := paint.RootContext(j.List)
	var group *displist.Group
	if g := j.List.Group; g != nil && j.List.Blending && (g.Knockout || ctx.Space != separate.BlendCMYK) {
		group = g
	}
	out := plate.NewStack(plate.Header{Width: w, Height: h, DPI: j.DPI, Set: j.Target.Set})
	for c, plane := range l.Page(j.List, ctx, group) {
		out.SetPlane(c, plane)
	}
	return out
}

// bounded is 255 in the pixels a Shade's bounds touch, and one more on every side.
func bounded(it *displist.Item, in slowpaint.Place) []uint8 {
	out := make([]uint8, in.W*in.H)
	d := in.Device.Bounds(it.Bounds)
	for i := range out {
		x, y := float64(i%in.W), float64(i/in.W)
		if x >= math.Floor(d.X0)-1 && x < math.Ceil(d.X1)+1 && y >= math.Floor(d.Y0)-1 && y < math.Ceil(d.Y1)+1 {
			out[i] = 255
		}
	}
	return out
}

// onPage takes a shape of a cell to a page, which has the pixels of its grid. Lines thinner than a quarter of a pixel of
// the real page are widened to it.
func onPage(it *displist.Item, in slowpaint.Place, pixels geom.Matrix, dpi float64) {
	m := in.Device.Mul(pixels)
	it.Bounds = m.Bounds(it.Bounds)
	if it.Shape.Path != nil {
		it.Shape.Path = it.Shape.Path.Transform(m)
	}
	it.Shape.Glyphs = slices.Clone(it.Shape.Glyphs)
	for i := range it.Shape.Glyphs {
		it.Shape.Glyphs[i].M = it.Shape.Glyphs[i].M.Mul(m)
	}
	if it.Pen == nil {
		return
	}
	pen := *it.Pen
	pen.M = pen.M.Mul(m)
	if in.Finer > 0 {
		least := 0.25
		if pen.Style.Width == 0 {
			least = max(least, min(1, dpi/600))
		}
		if size := pen.M.Expansion() * dpi / 72; pen.Style.Width*size < least*in.Finer {
			pen.M, pen.Style.Width = geom.Matrix{A: 72 / dpi, D: 72 / dpi}, least*in.Finer
			pen.Style.Dash = slices.Clone(pen.Style.Dash)
			for i := range pen.Style.Dash {
				pen.Style.Dash[i] *= size
			}
			pen.Style.DashPhase *= size
		}
	}
	it.Pen = &pen
}

func sameBytes(t *testing.T, got, want *plate.Stack) {
	t.Helper()
	for c, col := range got.Set.All() {
		for y := range got.Height {
			for x := range got.Width {
				if a, b := got.At(c, x, y), want.At(c, x, y); a != b {
					t.Errorf("%s at %d,%d is %d, painted by itself %d", col.Name, x, y, a, b)
					return
				}
			}
		}
	}
}

// eighth of a pixel is how far tables of shadings, and patches cut into triangles, may stand off (paint/shadingramp.go, paint/meshpatch.go).
const eighth = 0.125

// between fails where a plate is more than a step of 8 bits, for rounding, off what is found round a pixel's centre.
func between(t *testing.T, got *plate.Stack, found []*plate.Stack) {
	t.Helper()
	off := 0
	for c, col := range got.Set.All() {
		for y := range got.Height {
			for x := range got.Width {
				lo, hi := 255, 0
				for _, f := range found {
					v := int(f.At(c, x, y))
					lo, hi = min(lo, v), max(hi, v)
				}
				if v := int(got.At(c, x, y)); v < lo-1 || v > hi+1 {
					if off++; off == 1 {
						t.Errorf("%s at %d,%d is %d, painted by itself %d to %d", col.Name, x, y, v, lo, hi)
					}
				}
			}
		}
	}
	if off > 1 {
		t.Errorf("%d places in all", off)
	}
}

// hasShadings is whether a shading is painted, by items or in the cells of their tilings.
func hasShadings(items []displist.Item) bool {
	return slices.ContainsFunc(items, func(it displist.Item) bool {
		return it.Shading != nil || it.Paint.Shading != nil || it.Paint.Tiling != nil && hasShadings(it.Paint.Tiling.Items)
	})
}

// Do the plates of every probe have the bytes of painting each pixel by itself?
func TestProbes_byPixel(t *testing.T) {
	all := probes()
	for i, ours := range paintProbes(t, all, probeFile(all)) {
		t.Run(all[i].name, func(t *testing.T) {
			if ours.Undrawn {
				t.Skip("not drawn in full")
			}
			if !hasShadings(ours.Job.List.Items) {
				sameBytes(t, ours.Stack, byPixel(t, ours, geom.Point{}))
				return
			}
			var found []*plate.Stack
			for _, y := range []float64{-eighth, 0, eighth} {
				for _, x := range []float64{-eighth, 0, eighth} {
					found = append(found, byPixel(t, ours, geom.Point{X: x, Y: y}))
				}
			}
			between(t, ours.Stack, found)
		})
	}
}

// And those of the example job?
func TestTicket_byPixel(t *testing.T) {
	for _, faulty := range []bool{false, true} {
		var b bytes.Buffer
		if err := demo.WriteTicket(&b, faulty); err != nil {
			t.Fatal(err)
		}
		for page := 1; page <= 2; page++ {
			p, err := paintPage(context.Background(), b.Bytes(), page, 24, interp.Options{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			sameBytes(t, p.Stack, byPixel(t, p, geom.Point{}))
		}
	}
}
