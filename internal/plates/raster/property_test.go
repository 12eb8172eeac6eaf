package raster

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
	"laydown/internal/slowpaint"
)

// onGrid rounds all points to 1/256 pixel.
func onGrid(p *geom.Path) *geom.Path {
	for i, q := range p.Points {
		p.Points[i] = geom.Point{X: math.Round(q.X*one) / one, Y: math.Round(q.Y*one) / one}
	}
	return p
}

// A shift by whole pixels shifts the bytes.
func TestShiftByWholePixels(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	style := geom.StrokeStyle{Width: 3, Cap: geom.RoundCap, MiterLimit: 4}
	for i := range 200 {
		p := onGrid(randomPath(r, 40))
		dx, dy := r.IntN(2000)-1000, r.IntN(2000)-1000
		clip := IntRect{-10, -10, 60, 60}
		moved := IntRect{clip.X0 + dx, clip.Y0 + dy, clip.X1 + dx, clip.Y1 + dy}
		var a, b Builder
		if i%3 > 0 {
			a.Fill(p, geom.Identity)
			b.Fill(p, geom.Translate(float64(dx), float64(dy)))
		} else {
			a.Stroke(p, style, geom.Identity, geom.Identity)
			b.Stroke(p, style, geom.Identity, geom.Translate(float64(dx), float64(dy)))
		}
		rule := geom.FillRule(i % 2)
		if !bytes.Equal(render(a.Edges(rule), clip), render(b.Edges(rule), moved)) {
			t.Fatalf("path %d differs when shifted by %d,%d", i, dx, dy)
		}
	}
}

// The coverage of all pixels together is the area of the shape.
func TestSumOfCoverageIsTheArea(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2))
	for i := range 200 {
		// A star-shaped polygon has winding 0 or 1 only.
		n := 3 + r.IntN(20)
		p := &geom.Path{}
		for k := range n {
			a, d := 2*math.Pi*float64(k)/float64(n), 3+r.Float64()*27
			q := geom.Point{X: 32.5 + d*math.Cos(a), Y: 31.7 + d*math.Sin(a)}
			if k == 0 {
				p.Move(q)
			} else {
				p.Line(q)
			}
		}
		onGrid(p)
		e := fill(p, geom.FillRule(i%2))
		sum := 0.0
		for _, c := range render(e, IntRect{0, 0, 64, 64}) {
			sum += float64(c) / 255
		}
		area := math.Abs(slowpaint.Area(slowpaint.Lines(p, geom.Identity, 1)))
		// Rounding to 1/255 errs by up to 1/510 on each of the pixels along the outline.
		if math.Abs(sum-area) > 0.15 {
			t.Errorf("polygon %d: coverage %.3f, area %.3f", i, sum, area)
		}
	}
}

// A shape and the rest of a rectangle make the rectangle.
func TestComplementsMakeTheWhole(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	box := geom.Rect{X0: -4, Y0: -4, X1: 44, Y1: 44}
	clip := IntRect{0, 0, 40, 40}
	for i := range 200 {
		p := randomPath(r, 40)
		rest := &geom.Path{}
		rest.Rect(box)
		rest.Rect(geom.Rect{X0: -1e5, Y0: -1e5, X1: 1e5, Y1: 1e5})
		rest.Rect(box)
		rest.Append(p, geom.Identity)
		a, b := render(fill(p, geom.EvenOdd), clip), render(fill(rest, geom.EvenOdd), clip)
		for k := range a {
			if s := int(a[k]) + int(b[k]); s < 254 || s > 256 {
				t.Fatalf("path %d pixel %d,%d: %d + %d", i, k%40, k/40, a[k], b[k])
			}
		}
	}
}

// A line and its reverse cancel wherever they are: the direction of a path does not matter.
func TestReversedPathsAreEqual(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	for i := range 200 {
		var xy []float64
		for range 2 * (3 + r.IntN(8)) {
			xy = append(xy, r.Float64()*60-10)
		}
		var back []float64
		for k := len(xy) - 2; k >= 0; k -= 2 {
			back = append(back, xy[k], xy[k+1])
		}
		clip := IntRect{0, 0, 40, 40}
		if !bytes.Equal(render(fill(polygon(xy...), geom.NonZero), clip), render(fill(polygon(back...), geom.NonZero), clip)) {
			t.Fatalf("polygon %d differs backwards", i)
		}
	}
}

// The short cut for rectangles gives the bytes of the general way.
func TestRectanglesEqualTheGeneralWay(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 5))
	for i := range 2000 {
		c := func() float64 { return math.Round(r.Float64()*16*one)/one - 3 }
		p := &geom.Path{}
		p.Rect(geom.RectOf(c(), c(), c(), c()))
		var b Builder
		b.FillArea(p, geom.Identity)
		e := b.Edges(geom.FillRule(i % 2))
		if len(e.list) > 0 && !e.rect {
			t.Fatalf("rectangle %d is not known as one", i)
		}
		clip := IntRect{r.IntN(8) - 2, r.IntN(8) - 2, 4 + r.IntN(8), 4 + r.IntN(8)}
		short := render(e, clip)
		e.rect = false
		if !bytes.Equal(short, render(e, clip)) {
			t.Fatalf("rectangle %d %v in %v", i, p.Points, clip)
		}
	}
}

// Coordinates far beyond any page do not change what is on it.
func TestFarCoordinatesAreClipped(t *testing.T) {
	for _, far := range []float64{1e4, 1 << 21, 1e7, 1e9, 1e12, 1e15, 1e300} {
		for _, c := range []struct {
			name string
			path *geom.Path
			want string
		}{
			{"half plane", polygon(3, -far, far, -far, far, far, 3, far), "...99999 ...99999 ...99999 ...99999 ...99999 ...99999"},
			{"strip", polygon(-far, 2, far, 2, far, 4, -far, 4), "........ ........ 99999999 99999999 ........ ........"},
			{"everything", polygon(-far, -far, far, -far, far, far, -far, far), "99999999 99999999 99999999 99999999 99999999 99999999"},
			{"beyond", polygon(far, far, 2*far, far, 2*far, 2*far), "........ ........ ........ ........ ........ ........"},
		} {
			checkGrid(t, fill(c.path, geom.NonZero), c.want)
		}
	}
	// A curve that comes back from far away leaves the page as a vertical strip.
	p := &geom.Path{}
	p.Move(geom.Point{X: 2, Y: 0})
	p.Cubic(geom.Point{X: 2, Y: -1e8}, geom.Point{X: 5, Y: -1e8}, geom.Point{X: 5, Y: 0})
	p.Line(geom.Point{X: 5, Y: 6})
	p.Line(geom.Point{X: 2, Y: 6})
	e := fill(p, geom.NonZero)
	checkGrid(t, e, "..999... ..999... ..999... ..999... ..999... ..999...")
	// A slope keeps its place when its ends are cut off.
	for _, k := range []float64{1e3, 1e7, 1e11} {
		e := fill(polygon(-k, -k, k, k, -k, k), geom.NonZero)
		checkGrid(t, e, "5....... 95...... 995..... 9995.... 99995... 999995..")
	}
	if len(e.list) > 1<<14 {
		t.Errorf("%d edges", len(e.list))
	}
}

func TestDegenerateFillsPaintThePixelsTheyTouch(t *testing.T) {
	for _, c := range []struct {
		name string
		path *geom.Path
		want string
	}{
		{"rectangle without width", polygon(2.5, 1, 2.5, 1, 2.5, 3, 2.5, 3), "...... ..9... ..9... ......"},
		{"rectangle without height", polygon(1.5, 2, 4.5, 2, 4.5, 2, 1.5, 2), "...... ...... .9999. ......"},
		{"point", polygon(1.5, 1.5, 1.5, 1.5), "...... .9.... ...... ......"},
		{"with a true shape beside it", func() *geom.Path {
			p := polygon(0, 0, 3, 0, 3, 2, 0, 2)
			p.Append(polygon(1, 1.5, 5, 1.5), geom.Identity)
			return p
		}(), "999... 99999. ...... ......"},
		{"a move alone", &geom.Path{Verbs: []geom.Verb{geom.MoveTo}, Points: []geom.Point{{X: 1, Y: 1}}}, "...... ...... ...... ......"},
	} {
		checkGrid(t, fill(c.path, geom.NonZero), c.want)
		var b Builder
		b.FillArea(c.path, geom.Identity)
		if e := b.Edges(geom.NonZero); len(e.specks) > 0 {
			t.Errorf("%s: painted by area", c.name)
		}
	}
}

// The same path from many goroutines in any bands gives the same bytes.
func TestBandsInParallel(t *testing.T) {
	e := fill(gear(3000), geom.NonZero)
	page := IntRect{900, 0, 1000, 3508}
	want := render(e, page)
	done := make(chan []byte)
	for _, rows := range []int{1, 7, 64, 1000} {
		go func() {
			var out []byte
			for y := page.Y0; y < page.Y1; y += rows {
				out = append(out, render(e, IntRect{page.X0, y, page.X1, min(y+rows, page.Y1)})...)
			}
			done <- out
		}()
	}
	for range 4 {
		if !bytes.Equal(<-done, want) {
			t.Error("bands differ from the whole")
		}
	}
}

func TestScanAllocatesNothing(t *testing.T) {
	e := fill(gear(1000), geom.NonZero)
	var s Scanner
	if n := testing.AllocsPerRun(3, func() { scanBands(&s, e, a4) }); n > 0 {
		t.Errorf("%v allocations", n)
	}
}
