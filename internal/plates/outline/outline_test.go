package outline

import (
	"fmt"
	"hash/fnv"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/geom"
	"laydown/internal/plates/raster"
	_ "laydown/internal/sameseed"
)

func raster8(p *geom.Path, rule geom.FillRule, w, h int) []uint8 {
	pix := make([]uint8, w*h)
	var b raster.Builder
	b.Fill(p, geom.Identity)
	var s raster.Scanner
	s.Scan(b.Edges(rule), raster.IntRect{X1: w, Y1: h}, func(y int, spans []raster.Span) {
		for _, sp := range spans {
			for x := sp.X0; x < sp.X1; x++ {
				pix[y*w+int(x)] = sp.Cover
			}
		}
	})
	return pix
}

// ring adds a polygon of n corners on a circle, clockwise as seen or the other way.
func ring(p *geom.Path, cx, cy, r float64, n int, turn float64) {
	for i := range n {
		a := turn * 2 * math.Pi * (float64(i) + 0.3) / float64(n)
		q := geom.Point{X: cx + r*math.Cos(a), Y: cy + r*math.Sin(a)}
		if i == 0 {
			p.Move(q)
		} else {
			p.Line(q)
		}
	}
	p.ClosePath()
}

// pixels brings a result from list space back to pixels.
func pixels(path *geom.Path, p Plane) *geom.Path {
	s := p.DPI / 72
	return path.Transform(geom.Translate(-p.OriginX, -p.OriginY).Mul(geom.Scale(s, s)))
}

func must(t interface{ Fatal(...any) }, p Plane, o Options) *geom.Path {
	path, err := Trace(p, o)
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// A drawn shape with a hole, traced and drawn again, has the same coverage within the tolerance; at its corners a contour between
// pixel centres cuts a triangle off, up to half a pixel.
func TestDrawnAgainItIsTheSame(t *testing.T) {
	const w, h, dpi = 260, 220, 600.0
	shape := &geom.Path{}
	ring(shape, 90.3, 100.6, 80, 400, 1)
	ring(shape, 95.1, 90.2, 33.3, 400, -1)
	ring(shape, 210.4, 120.7, 40, 4, 1)
	p := Plane{Pix: raster8(shape, geom.NonZero, w, h), W: w, H: h, DPI: dpi, OriginX: 12.5, OriginY: -3}
	var corners []geom.Point
	for i := range 4 {
		a := 2 * math.Pi * (float64(i) + 0.3) / 4
		corners = append(corners, geom.Point{X: 210.4 + 40*math.Cos(a), Y: 120.7 + 40*math.Sin(a)})
	}
	for _, o := range []Options{{Tolerance: 1e-6}, {}, {Tolerance: 0.01}, {Curves: true}, {Tolerance: 0.01, Curves: true}} {
		path := pixels(must(t, p, o), p)
		again := raster8(path, geom.EvenOdd, w, h)
		tolerance := o.Tolerance
		if tolerance == 0 {
			tolerance = defaultTolerance
		}
		// A pixel changes by 255 when an edge of it moves by a pixel, and the length of an edge in it is up to 1.42.
		limit := 255*1.42*tolerance*dpi/25.4 + 6
		worst := 0.0
		for i, v := range again {
			d := math.Abs(float64(v) - float64(p.Pix[i]))
			x, y := float64(i%w)+0.5, float64(i/w)+0.5
			at := 0.0
			for _, c := range corners {
				if math.Hypot(x-c.X, y-c.Y) < 2 {
					at = 128
				}
			}
			if d > limit+at {
				t.Fatalf("%+v: pixel %d,%d was %d and is %d; at most %.1f", o, i%w, i/w, p.Pix[i], v, limit)
			}
			if at == 0 {
				worst = max(worst, d)
			}
		}
		t.Logf("tolerance %v mm, curves %v: %d points, pixels off by %.0f of 255 at worst", tolerance, o.Curves, len(path.Points), worst)
	}
}

// anyPlane draws noise, masks and shapes.
func anyPlane(t *rapid.T) Plane {
	w, h := rapid.IntRange(1, 20).Draw(t, "w"), rapid.IntRange(1, 20).Draw(t, "h")
	p := Plane{Pix: make([]uint8, w*h), W: w, H: h, DPI: 72}
	switch rapid.IntRange(0, 2).Draw(t, "kind") {
	case 0:
		for i := range p.Pix {
			p.Pix[i] = rapid.Uint8().Draw(t, "v")
		}
	case 1:
		for i := range p.Pix {
			p.Pix[i] = 255 * rapid.Uint8Range(0, 1).Draw(t, "v")
		}
	case 2:
		path := &geom.Path{}
		for range rapid.IntRange(1, 3).Draw(t, "rings") {
			f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
			ring(path, f("x", 0, float64(w)), f("y", 0, float64(h)), f("r", 0.5, 12), rapid.IntRange(3, 40).Draw(t, "n"), rapid.SampledFrom([]float64{1, -1}).Draw(t, "turn"))
		}
		p.Pix = raster8(path, geom.NonZero, w, h)
	}
	return p
}

// winding counts how often a path of lines goes around a point, clockwise as seen.
func winding(p *geom.Path, x, y float64) (n int) {
	var start, cur geom.Point
	edge := func(a, b geom.Point) {
		if (a.Y <= y) != (b.Y <= y) {
			if at := a.X + (y-a.Y)/(b.Y-a.Y)*(b.X-a.X); at > x {
				if b.Y > a.Y {
					n++
				} else {
					n--
				}
			}
		}
	}
	i := 0
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			start, cur = p.Points[i], p.Points[i]
			i++
		case geom.LineTo:
			edge(cur, p.Points[i])
			cur = p.Points[i]
			i++
		case geom.Close:
			edge(cur, start)
			cur = start
		}
	}
	return n
}

// Contours go exactly once, clockwise, around what is inside, and not around what is not: the two fill rules agree and a hole is a
// hole.
func TestContoursGoAroundTheInsideOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyPlane(rt)
		o := Options{Threshold: rapid.SampledFrom([]uint8{0, 0, 1, 77, 128, 255}).Draw(rt, "threshold")}
		level := o.Threshold
		if level == 0 {
			level = 128
		}
		// As found, before points are dropped: a pixel may be nearer to its contour than any tolerance.
		m := &marcher{p: p, level: level, area: o.Threshold == 0}
		if err := m.march(); err != nil {
			rt.Fatal(err)
		}
		w := &writer{most: 1 << 20, scale: 1, path: &geom.Path{}}
		for i := range m.nodes {
			if m.nodes[i].next >= 0 {
				w.polygon(m.loop(i, nil))
			}
		}
		path := w.path
		for i, v := range p.Pix {
			want := 0
			if v >= level {
				want = 1
			}
			// Off the lines through pixel centres, where crossings lie, by less than they are from a centre.
			if got := winding(path, float64(i%p.W)+0.5001, float64(i/p.W)+0.5003); got != want {
				rt.Fatalf("pixel %d,%d of %d: %d times around, want %d", i%p.W, i/p.W, v, got, want)
			}
		}
	})
}

// flat returns the segments of a path, cubics in 40 steps.
func flat(p *geom.Path) (segs [][2]geom.Point) {
	var start, cur geom.Point
	i := 0
	to := func(q geom.Point) {
		segs = append(segs, [2]geom.Point{cur, q})
		cur = q
	}
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			start, cur = p.Points[i], p.Points[i]
			i++
		case geom.LineTo:
			to(p.Points[i])
			i++
		case geom.CubicTo:
			p0 := cur
			for k := 1; k <= 40; k++ {
				to(cubicAt(p0, p.Points[i], p.Points[i+1], p.Points[i+2], float64(k)/40))
			}
			i += 3
		case geom.Close:
			to(start)
		}
	}
	return segs
}

// Every crossing lies within the tolerance of the result, unless its contour is as narrow as twice the tolerance and gone.
func TestToleranceIsKept(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyPlane(rt)
		tolerance := rapid.Float64Range(0.01, 2).Draw(rt, "tolerance") // pixels
		o := Options{Tolerance: tolerance * 25.4 / 72, Curves: rapid.Bool().Draw(rt, "curves")}
		segs := flat(must(rt, p, o))
		m := &marcher{p: p, level: 128, area: true}
		if err := m.march(); err != nil {
			rt.Fatal(err)
		}
		for i := range m.nodes {
			if m.nodes[i].next < 0 {
				continue
			}
			loop := m.loop(i, nil)
			size := 0.0
			for _, q := range loop {
				size = max(size, math.Hypot(q.X-loop[0].X, q.Y-loop[0].Y))
			}
			worst := 0.0
			for _, q := range loop {
				best := math.Inf(1)
				for _, s := range segs {
					d := sub(s[1], s[0])
					e := geom.Point{X: q.X + 0.5 - s[0].X, Y: q.Y + 0.5 - s[0].Y}
					u := 0.0
					if l := d.X*d.X + d.Y*d.Y; l > 0 {
						u = min(max((e.X*d.X+e.Y*d.Y)/l, 0), 1)
					}
					best = min(best, math.Hypot(e.X-u*d.X, e.Y-u*d.Y))
				}
				worst = max(worst, best)
			}
			// Cubics are looked at in 40 steps.
			if worst > tolerance+0.01 && flatness(loop) > 2.1*tolerance {
				rt.Fatalf("a contour of %d crossings and size %.3f is left by %.3f; tolerance %.3f", len(loop), size, worst, tolerance)
			}
		}
	})
}

// flatness is the least breadth of a contour in 24 directions.
func flatness(loop []geom.Point) float64 {
	best := math.Inf(1)
	for k := range 24 {
		c, s := math.Cos(math.Pi*float64(k)/24), math.Sin(math.Pi*float64(k)/24)
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, q := range loop {
			lo, hi = min(lo, q.X*c+q.Y*s), max(hi, q.X*c+q.Y*s)
		}
		best = min(best, hi-lo)
	}
	return best
}

// A full plane is its own box in list space.
func TestFullPlaneIsItsBox(t *testing.T) {
	p := Plane{Pix: make([]uint8, 30*20), W: 30, H: 20, DPI: 144, OriginX: 5, OriginY: 7}
	for i := range p.Pix {
		p.Pix[i] = 255
	}
	path := must(t, p, Options{})
	want := geom.Rect{X0: 5, Y0: 7, X1: 20, Y1: 17}
	// Corners are cut from pixel to pixel: half a pixel each way, a quarter of a point.
	if b := path.Bounds(); b != want || len(path.Points) != 8 {
		t.Errorf("%d points, box %v, want 8 and %v", len(path.Points), b, want)
	}
	if !must(t, Plane{Pix: make([]uint8, 6), W: 3, H: 2, DPI: 72}, Options{}).Empty() {
		t.Error("an empty plane has an outline")
	}
}

// A disc of 8 mm takes few curves.
func TestCurvesAreFewForADisc(t *testing.T) {
	const n, dpi = 420, 1200.0
	shape := &geom.Path{}
	ring(shape, 210.3, 210.6, 189, 2000, 1)
	p := Plane{Pix: raster8(shape, geom.NonZero, n, n), W: n, H: n, DPI: dpi}
	lines, curves := must(t, p, Options{}), must(t, p, Options{Curves: true})
	if len(curves.Points) > 49 || len(lines.Points) > 80 {
		t.Errorf("%d points as lines, %d as curves; at most 80 and 49", len(lines.Points), len(curves.Points))
	}
}

func TestErrors(t *testing.T) {
	noise := Plane{Pix: make([]uint8, 200*200), W: 200, H: 200, DPI: 300}
	for i := range noise.Pix {
		noise.Pix[i] = uint8(i * i >> 7)
	}
	for _, c := range []struct {
		p    Plane
		o    Options
		want string
	}{
		{noise, Options{MaxPoints: 1000}, "more than 1000 points"},
		{Plane{Pix: make([]uint8, 5), W: 2, H: 2, DPI: 72}, Options{}, "5 bytes for a plane of 2 x 2"},
		{Plane{DPI: 72}, Options{}, "is empty"},
		{Plane{Pix: make([]uint8, 4), W: 2, H: 2}, Options{}, "resolution of 0 dpi"},
		{Plane{Pix: make([]uint8, 4), W: 2, H: 2, DPI: 72}, Options{Tolerance: math.NaN()}, "tolerance of NaN"},
	} {
		path, err := Trace(c.p, c.o)
		if err == nil || path != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("want %q, got %v", c.want, err)
		}
	}
}

func BenchmarkTrace(b *testing.B) {
	for _, dpi := range []float64{300, 600} {
		w, h := int(210/25.4*dpi), int(297/25.4*dpi)
		shapes := &geom.Path{}
		mm := dpi / 25.4
		for row := range 60 {
			for col := range 80 {
				ring(shapes, (15+float64(col)*2.25)*mm, (15+float64(row)*4.5)*mm, mm, 60, 1)
				ring(shapes, (15+float64(col)*2.25)*mm, (15+float64(row)*4.5)*mm, 0.7*mm, 5, -1)
			}
		}
		photo := make([]uint8, w*h)
		for i := range photo {
			x, y := float64(i%w)/mm, float64(i/w)/mm
			photo[i] = uint8(127 + 60*math.Sin(x*1.3+math.Sin(y))*math.Cos(y*0.9) + 60*math.Sin(x*7.1+y*3)*math.Sin(y*6.3-x*2))
		}
		thresholds := map[string]uint8{"photo": 110}
		for name, pix := range map[string][]uint8{"text": raster8(shapes, geom.NonZero, w, h), "photo": photo} {
			for _, curves := range []bool{false, true} {
				b.Run(fmt.Sprintf("%s-%vdpi-curves-%v", name, dpi, curves), func(b *testing.B) {
					b.SetBytes(int64(len(pix)))
					b.ReportAllocs()
					points := 0
					for b.Loop() {
						points = len(must(b, Plane{Pix: pix, W: w, H: h, DPI: dpi}, Options{Curves: curves, Threshold: thresholds[name]}).Points)
					}
					b.ReportMetric(float64(points), "points")
				})
			}
		}
	}
}

// The same bits on every machine level: built for x86-64-v1 and -v3 this gives one number.
func TestResultsAreTheSameOnEveryMachineLevel(t *testing.T) {
	p := Plane{Pix: make([]uint8, 200*150), W: 200, H: 150, DPI: 600, OriginX: 3, OriginY: 4}
	for i := range p.Pix {
		x, y := i%200, i/200
		p.Pix[i] = uint8(min(max((x*x+2*y*y)/7%600-170, 0), 255))
	}
	h := fnv.New64a()
	for _, o := range []Options{{}, {Curves: true}, {Threshold: 60, Tolerance: 0.02, Curves: true}} {
		path := must(t, p, o)
		for _, q := range path.Points {
			fmt.Fprintf(h, "%x %x ", math.Float64bits(q.X), math.Float64bits(q.Y))
		}
	}
	const want uint64 = 0x9974e9627747988a
	if got := h.Sum64(); got != want {
		t.Errorf("results have the checksum %#x, want %#x", got, want)
	}
}
