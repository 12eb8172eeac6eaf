package truth

import (
	"bytes"
	"context"
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
func byPixel(t *testing.T, p *painted) *plate.Stack {
	t.Helper()
	j := p.Job
	w, h := paint.Size(j.Region, j.DPI)
	alone := func(it displist.Item) []uint8 {
		it.Clip, it.Alpha, it.Blend, it.SoftMask, it.Overprint, it.AlphaIsShape, it.Image = nil, 1, displist.Normal, nil, false, false, nil
		it.Paint = displist.Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}
		list := *j.List
		list.Items, list.Group, list.Blending = []displist.Item{it}, nil, false
		s := plate.Stack{}
		if err := paint.Render(context.Background(), paint.Job{List: &list, Target: separate.NewTargetFromLists(nil, p.Sink), DPI: j.DPI, Region: j.Region}, &s); err != nil {
			t.Fatal(err)
		}
		if k := s.Plane(3); k != nil {
			return k
		}
		return make([]uint8, w*h)
	}
	filled := func(s *displist.Shape) []uint8 {
		return alone(displist.Item{Kind: displist.Fill, Shape: *s, Bounds: j.Region})
	}
	square := &geom.Path{}
	square.Rect(geom.Rect{X1: 1, Y1: 1})
	s := j.DPI / 72
	l := &slowpaint.Levels{W: w, H: h, Target: j.Target, Filled: filled,
		Device: geom.Matrix{A: s, D: s, E: -j.Region.X0 * s, F: -j.Region.Y0 * s},
		Cover: func(it *displist.Item) []uint8 {
			if it.Kind == displist.Image {
				return filled(&displist.Shape{Glyphs: []displist.Glyph{{Outline: square, M: it.Image.M}}})
			}
			return alone(*it)
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

// Do the plates of every probe have the bytes of painting each pixel by itself?
func TestProbes_byPixel(t *testing.T) {
	all := probes()
	for i, ours := range paintProbes(t, all, probeFile(all)) {
		t.Run(all[i].name, func(t *testing.T) {
			if ours.Undrawn {
				t.Skip("not drawn in full")
			}
			if painted := ours.Job.List.Items; slices.ContainsFunc(painted, func(it displist.Item) bool {
				return it.Shading != nil || it.Paint.Shading != nil || it.Paint.Tiling != nil
			}) {
				t.Skip("pixels of patterns hang on more than the item")
			}
			sameBytes(t, ours.Stack, byPixel(t, ours))
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
			sameBytes(t, p.Stack, byPixel(t, p))
		}
	}
}
