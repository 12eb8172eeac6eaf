package raster

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
)

// shapeFrom reads a path and a stroke style from bytes.
func shapeFrom(data []byte) (*geom.Path, geom.StrokeStyle, geom.Matrix) {
	next := func() byte {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return b
	}
	number := func() float64 {
		switch k := next(); {
		case k < 200:
			return float64(int8(next())) / 2
		case k < 240:
			return float64(int8(next())) * math.Pow(10, float64(next()%20))
		default:
			if len(data) < 8 {
				return float64(k)
			}
			v := math.Float64frombits(binary.LittleEndian.Uint64(data))
			data = data[8:]
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return 0
			}
			return v
		}
	}
	point := func() geom.Point { return geom.Point{X: number(), Y: number()} }
	style := geom.StrokeStyle{
		Width: math.Abs(number()), Cap: geom.Cap(next() % 3), Join: geom.Join(next() % 3),
		MiterLimit: 1 + math.Abs(number()), Adjust: next()%2 == 0,
	}
	for range next() % 4 {
		style.Dash = append(style.Dash, math.Abs(number()))
	}
	style.DashPhase = number()
	pen := geom.Identity
	if next()%2 == 0 {
		pen = geom.Matrix{A: number(), B: number(), C: number(), D: number()}
	}
	p := &geom.Path{}
	for len(data) > 0 {
		switch k := next() % 5; {
		case len(p.Verbs) == 0 || k == 0:
			p.Move(point())
		case k == 1:
			p.Cubic(point(), point(), point())
		case k == 2:
			p.ClosePath()
		default:
			p.Line(point())
		}
	}
	return p, style, pen
}

// Whatever the numbers are, bounds hold the coverage and a crop equals the whole.
func FuzzShapes(f *testing.F) {
	f.Add([]byte("a path of some points and a pen of some width"))
	r := rand.New(rand.NewPCG(12, 1))
	for range 24 {
		b := make([]byte, 20+r.IntN(200))
		for i := range b {
			b[i] = byte(r.UintN(256))
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, style, pen := shapeFrom(data)
		if len(p.Verbs) > 200 {
			return
		}
		var b Builder
		for k := range 4 {
			b.Reset()
			rule := geom.FillRule(k % 2)
			if k < 2 {
				b.Fill(p, geom.Identity)
			} else if style.Adjust = k == 2; len(style.Dash) == 0 || k == 3 {
				b.Stroke(p, style, pen, geom.Identity)
			}
			e := b.Edges(rule)
			whole := IntRect{-20, -20, 40, 30}
			bytes := render(e, whole)
			inside := whole.Intersect(e.Bounds)
			for i, c := range bytes {
				x, y := whole.X0+i%60, whole.Y0+i/60
				if c != 0 && (x < inside.X0 || x >= inside.X1 || y < inside.Y0 || y >= inside.Y1) {
					t.Fatalf("pixel %d,%d is outside the bounds %v", x, y, e.Bounds)
				}
			}
			part := IntRect{3, -5, 17, 21}
			for i, c := range render(e, part) {
				x, y := part.X0+i%14, part.Y0+i/14
				if w := bytes[(y-whole.Y0)*60+x-whole.X0]; c != w {
					t.Fatalf("pixel %d,%d: %d cropped, %d whole", x, y, c, w)
				}
			}
		}
	})
}

// The bytes are the same on every machine and for every instruction set the compiler may use.
func TestBytesAreTheSameEverywhere(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 1))
	h := fnv.New64a()
	for i := range 400 {
		p := randomPath(r, 60)
		m := geom.Matrix{A: 1 + r.Float64(), B: r.Float64(), C: -r.Float64(), D: 1 + r.Float64(), E: r.Float64(), F: r.Float64()}
		style := geom.StrokeStyle{Width: r.Float64() * 5, Cap: geom.Cap(i % 3), Join: geom.Join(i / 3 % 3), MiterLimit: 1 + r.Float64()*9}
		if i%4 == 0 {
			style.Dash = []float64{1 + r.Float64()*9, r.Float64() * 4}
			style.DashPhase = r.Float64() * 20
		}
		var b Builder
		b.Fill(p, m)
		h.Write(render(b.Edges(geom.FillRule(i%2)), IntRect{0, 0, 96, 96}))
		b.Reset()
		b.Stroke(p, style, m, m)
		h.Write(render(b.Edges(geom.NonZero), IntRect{0, 0, 96, 96}))
	}
	if got, want := fmt.Sprintf("%016x", h.Sum64()), "2365c690b35734f8"; got != want {
		t.Errorf("hash %s, want %s", got, want)
	}
}
