package paint

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/raster"
	"laydown/internal/slowpaint"
)

// levels paints a job pixel by pixel.
func levels(t fataler, j Job) *plate.Stack {
	t.Helper()
	r, err := prepare(j)
	if err != nil {
		t.Fatal(err)
	}
	page := raster.IntRect{X1: r.w, Y1: r.h}
	var scan raster.Scanner
	covered := func(b *raster.Builder, s *displist.Shape) []uint8 {
		out := make([]uint8, r.w*r.h)
		scan.Scan(b.Edges(ruleOf(s)), page, func(y int, spans []raster.Span) {
			for _, sp := range spans {
				for x := sp.X0; x < sp.X1; x++ {
					out[y*r.w+int(x)] = sp.Cover
				}
			}
		})
		return out
	}
	l := &slowpaint.Levels{W: r.w, H: r.h, Target: j.Target, Device: j.device(),
		Cover: func(it *displist.Item) []uint8 {
			var b raster.Builder
			switch it.Kind {
			case displist.Image:
				square := &geom.Path{}
				square.Rect(geom.Rect{X1: 1, Y1: 1})
				b.Fill(square, it.Image.M.Mul(j.device()))
				return covered(&b, &displist.Shape{Path: square})
			case displist.Stroke:
				newWorker(r).stroke(&b, r.root, it)
			default:
				newWorker(r).addShape(&b, r.root, &it.Shape, true)
			}
			return covered(&b, &it.Shape)
		},
		Filled: func(s *displist.Shape) []uint8 {
			var b raster.Builder
			newWorker(r).addShape(&b, r.root, s, false)
			return covered(&b, s)
		},
	}
	planes := l.Page(j.List, RootContext(j.List), r.wrap)
	s := plate.NewStack(plate.Header{Width: r.w, Height: r.h, DPI: j.DPI, Set: j.Target.Set})
	for c, p := range planes {
		s.SetPlane(c, p)
	}
	return s
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
