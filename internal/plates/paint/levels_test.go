package paint

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/raster"
	"laydown/internal/plates/separate"
	_ "laydown/internal/sameseed"
	"laydown/internal/slowpaint"
)

// levels paints a job pixel by pixel, with the painter's own colours of shadings.
func levels(t fataler, j Job) *plate.Stack {
	t.Helper()
	return levelsRead(t, j, nil)
}

// levelsRead finds the colours of shadings without the painter when read is not nil: there, in pixels from the centre of one.
func levelsRead(t fataler, j Job, read *geom.Point) *plate.Stack {
	t.Helper()
	r, err := prepare(j)
	if err != nil {
		t.Fatal(err)
	}
	var scan raster.Scanner
	covered := func(b *raster.Builder, s *displist.Shape, in slowpaint.Place) []uint8 {
		out := make([]uint8, in.W*in.H)
		scan.Scan(b.Edges(ruleOf(s)), raster.IntRect{X1: in.W, Y1: in.H}, func(y int, spans []raster.Span) {
			for _, sp := range spans {
				for x := sp.X0; x < sp.X1; x++ {
					out[y*in.W+int(x)] = sp.Cover
				}
			}
		})
		return out
	}
	l := &slowpaint.Levels{Place: slowpaint.Place{W: r.w, H: r.h, Device: j.device()}, Target: j.Target,
		Cover: func(it *displist.Item, in slowpaint.Place) []uint8 {
			var b raster.Builder
			pl := &plan{dev: in.Device, finer: in.Finer}
			switch it.Kind {
			case displist.Shade:
				return bounded(it, in)
			case displist.Image:
				square := &geom.Path{}
				square.Rect(geom.Rect{X1: 1, Y1: 1})
				b.Fill(square, it.Image.M.Mul(in.Device))
				return covered(&b, &displist.Shape{Path: square}, in)
			case displist.Stroke:
				newWorker(r).stroke(&b, pl, it)
			default:
				newWorker(r).addShape(&b, pl, &it.Shape, true)
			}
			return covered(&b, &it.Shape, in)
		},
		Filled: func(s *displist.Shape, in slowpaint.Place) []uint8 {
			var b raster.Builder
			newWorker(r).addShape(&b, &plan{dev: in.Device}, s, false)
			return covered(&b, s, in)
		},
		Shading: func(it *displist.Item, in slowpaint.Place, target *separate.Target, ctx separate.Context, eight bool) func(x, y int) slowpaint.Sample {
			return shadingAlone(r, it, in, target, ctx, eight)
		},
	}
	if read != nil {
		l.Shading, l.Read = nil, *read
	}
	planes := l.Page(j.List, RootContext(j.List), r.wrap)
	s := plate.NewStack(plate.Header{Width: r.w, Height: r.h, DPI: j.DPI, Set: j.Target.Set})
	for c, p := range planes {
		s.SetPlane(c, p)
	}
	return s
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

// shadingAlone is what the painter finds for a shading, pixel by pixel: how it is composited is what is compared.
func shadingAlone(r *job, it *displist.Item, in slowpaint.Place, target *separate.Target, ctx separate.Context, eight bool) func(x, y int) slowpaint.Sample {
	alone := *it
	alone.SoftMask, alone.Clip = nil, nil
	page := raster.IntRect{X1: in.W, Y1: in.H}
	p := &planner{job: r, sink: r.Sink, page: page, dev: in.Device, abs: in.Device,
		masks: map[*displist.SoftMask]*maskPlan{}, clips: map[*displist.Clip]*clipShape{}}
	j := *r
	j.w, j.h = in.W, in.H
	j.root = p.plan([]displist.Item{alone}, target, ctx, nil, 0, false)
	w := newWorker(&j)
	w.begin(context.Background(), page, &planePool{})
	ps := j.root.steps[0].pattern
	ps.prepare(w, j.root, &alone, ctx)
	out := make([]slowpaint.Sample, in.W*in.H)
	if ps.ink.Nothing || ps.shader == nil && ps.back == nil {
		return func(x, y int) slowpaint.Sample { return slowpaint.Sample{} }
	}
	n := len(ps.ink.Effects)
	src := &source{}
	if eight {
		src.px8 = make([][]uint8, n)
	} else {
		src.px = make([][]uint16, n)
	}
	tex := w.shadeTexture(ps, page, src, it.Kind == displist.Image)
	for y := range in.H {
		for _, s := range tex.texels(y, []raster.Span{{X1: int32(in.W), Cover: 255}}, src) {
			for x := int(s.X0); x < int(s.X1); x++ {
				v := slowpaint.Sample{Effects: ps.ink.Effects, Premult: make([]uint16, n), Alpha: full, Shape: full, Eight: eight}
				for c := range n {
					switch {
					case eight && src.px8[c] != nil:
						v.Premult[c] = uint16(src.px8[c][x]) * 257
					case !eight && src.px[c] != nil:
						v.Premult[c] = src.px[c][x]
					}
				}
				out[y*in.W+x] = v
			}
		}
	}
	return func(x, y int) slowpaint.Sample {
		s := out[y*in.W+x]
		s.Premult = append([]uint16(nil), s.Premult...)
		return s
	}
}

// firstDifference is where two stacks differ, "" if nowhere.
func firstDifference(a, b *plate.Stack) (plateAt, x, y int, differ bool) {
	for c := range a.Set.Len() {
		for y := range a.Height {
			for x := range a.Width {
				if a.At(c, x, y) != b.At(c, x, y) {
					return c, x, y, true
				}
			}
		}
	}
	return 0, 0, 0, false
}

// Has every byte of every plate the value that painting each pixel by itself gives?
func TestPlatesAreThoseOfEachPixel(t *testing.T) {
	for _, c := range []struct {
		name string
		r    randomList
		n    int
	}{
		{"opaque", randomList{opaque: true, clips: true, overline: true}, 8},
		{"alpha and modes on the page", randomList{blends: allModes, clips: true, overline: true}, 6},
		{"groups", randomList{groups: 3, blends: allModes, clips: true, overline: true}, 5},
		{"groups of other spaces", randomList{groups: 2, blends: allModes, spaces: true, overline: true}, 5},
		{"clips of groups", randomList{groups: 3, blends: steady[:3], clips: true, chains: true, overline: true}, 8},
		{"clips of opaque groups", randomList{groups: 3, opaque: true, clips: true, chains: true}, 8},
		{"soft masks", randomList{groups: 2, blends: steady[:3], masks: true, overline: true, clips: true}, 4},
		{"pictures", randomList{groups: 1, blends: steady[:3], masks: true, overline: true, clips: true, pictures: true}, 5},
		{"curves and strokes", randomList{groups: 1, blends: steady[:3], overline: true, clips: true, curves: true}, 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				r := c.r
				// rapid prefers small numbers, of which lists would all be alike: it picks the seed, byte by byte, and
				// how many items.
				seed := binary.LittleEndian.Uint64(rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "seed"))
				r.Rand, r.w, r.h = rand.New(rand.NewPCG(seed, 7)), 7, 6
				j := jobOf(r.list(rapid.IntRange(1, c.n).Draw(t, "items")))
				j.DPI = []float64{72, 72, 31, 150}[r.IntN(4)]
				want := levels(t, j)
				for _, workers := range []int{1, 3} {
					j.Workers = workers
					got := renderRows(t, j, []int{1, 3, 64}[r.IntN(3)])
					if c, x, y, differ := firstDifference(got, want); differ {
						t.Fatalf("%d workers: plate %d at %d,%d is %d, by itself %d\n%s", workers, c, x, y, got.At(c, x, y), want.At(c, x, y), dumped(j.List))
					}
				}
			})
		})
	}
}

func dumped(l *displist.List) string {
	var b bytes.Buffer
	_ = l.WriteText(&b)
	return b.String()
}

// And of pages with patterns and shadings, alone and within each other?
func TestPatternsAreThoseOfEachPixel(t *testing.T) {
	compared := 0
	for seed := range uint64(500) {
		r := &randomList{Rand: rand.New(rand.NewPCG(seed, 5)), w: 14, h: 14, groups: 2, blends: allModes, clips: true, overline: true,
			masks: seed%4 == 0, spaces: seed%4 == 1}
		// Something to show where less than all is painted.
		l := list(14, 14, rect(0, 0, 14, 14, cmyk(0.7, 0.2, 0, 0.4)), rect(3, 0, 9, 14, paintOf(gold, 0.6)))
		for range 1 + r.IntN(2) {
			it := r.anyPattern(1)
			if it.Kind == displist.Fill && r.IntN(4) > 0 { // much of the page
				whole := rect(0.6, 0.3, 13.2, 12.7, it.Paint)
				it.Shape, it.Bounds, it.Clip = whole.Shape, whole.Bounds, nil
				it.Alpha = max(it.Alpha, 0.3)
			}
			if t := it.Paint.Tiling; t != nil && r.IntN(3) == 0 {
				t.BBox = geom.Rect{X0: []float64{0.7, 2, 5.4}[r.IntN(3)], Y0: []float64{-1, 1.1, 5.2}[r.IntN(3)], X1: 6, Y1: 6}
				t.Bounds = t.BBox
			}
			l.Items = append(l.Items, it)
		}
		for i := range l.Items {
			if m := l.Items[i].SoftMask; m != nil && m.Ref.Num == 0 {
				m.Ref.Num = 1
				r.end(m.Items, 0, len(m.Items))
			}
		}
		if work, _ := workOf(l, math.MaxFloat64); work > 400_000 {
			continue
		}
		compared++
		j := jobOf(l)
		j.DPI = []float64{36, 72}[r.IntN(2)]
		got, want := render(t, j), levels(t, j)
		if c, x, y, differ := firstDifference(got, want); differ {
			t.Errorf("seed %d: plate %d at %d,%d is %d, by itself %d", seed, c, x, y, got.At(c, x, y), want.At(c, x, y))
		}
	}
	if compared < 350 {
		t.Errorf("%d pages compared", compared)
	}
}

// Are shadings what their functions and surfaces are at the centres of pixels, but for an eighth of a pixel (where
// tables and the triangles of patches may stand off) and a step of 8 bits (for rounding)?
func TestShadingsAreThoseOfEachPixel(t *testing.T) {
	const eighth = 0.125
	for seed := range uint64(300) {
		r := &randomList{Rand: rand.New(rand.NewPCG(seed, 6)), w: 14, h: 14}
		s := r.anyShading()
		if s.Mesh != nil { // patches of thousands of pixels are cut too coarsely, here and there
			for i := range s.Mesh.Patches {
				for k := range s.Mesh.Patches[i].P {
					q := &s.Mesh.Patches[i].P[k]
					q.X, q.Y = math.Mod(q.X, 60), math.Mod(q.Y, 60)
				}
			}
		}
		j := jobOf(list(14, 14, rect(0, 0, 14, 14, cmyk(0.2, 0, 0.5, 0)), rect(0.6, 0.3, 13.2, 12.7, displist.Paint{Shading: s})))
		got := render(t, j)
		var found []*plate.Stack
		for _, y := range []float64{-eighth, 0, eighth} {
			for _, x := range []float64{-eighth, 0, eighth} {
				found = append(found, levelsRead(t, j, &geom.Point{X: x, Y: y}))
			}
		}
		// Patches of random points fold. Which of two sheets is on top where they part, and how steep colours are there, depends on how finely
		// the surface is cut: 4 of 196 pixels may be off. Patches that do not fold are compared without (truth.TestProbes_byPixel).
		most := 0
		if s.Type >= 6 {
			most = 4
		}
		off := map[[2]int]string{}
		for c := range got.Set.All() {
			for y := range got.Height {
				for x := range got.Width {
					lo, hi := 255, 0
					for _, f := range found {
						lo, hi = min(lo, int(f.At(c, x, y))), max(hi, int(f.At(c, x, y)))
					}
					if v := int(got.At(c, x, y)); v < lo-1 || v > hi+1 {
						off[[2]int{x, y}] = fmt.Sprintf("plate %d at %d,%d is %d, by itself %d to %d", c, x, y, v, lo, hi)
					}
				}
			}
		}
		if len(off) > most {
			t.Errorf("seed %d, type %d: %d pixels are off: %v", seed, s.Type, len(off), off)
		}
	}
}

// Does a stencil painted with a pattern leave of what lies below all that it does not cover?
func TestPatternedStencilLeavesTheRest(t *testing.T) {
	it := picture(stencil(3, 3, []byte{0xA0, 0x40, 0xA0}), upright(0.3, 0.4, 5.2, 5.1))
	it.Paint = displist.Paint{Tiling: tiling(2, 2, rect(0, 0, 1, 2, cmyk(0, 1, 0, 0)))}
	s := render(t, jobOf(list(6, 6, rect(0, 0, 6, 6, cmyk(1, 0, 0, 0)), it)))
	for y := range 6 {
		for x := range 6 {
			if c, m := int(s.At(0, x, y)), int(s.At(1, x, y)); c+m < 254 || c+m > 256 { // each rounded
				t.Fatalf("at %d,%d cyan %d and magenta %d", x, y, c, m)
			}
		}
	}
}
