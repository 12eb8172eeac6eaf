package distance

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
)

// Bars of 0.3 to 3 pixels are found at any angle and measured within 0.1 pixel; as features and, reversed, as gaps.
func TestBarsAreMeasured(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const dpi, n = 254.0, 90 // 10 pixels a millimetre
	worst, worstThinnest, worstLength := 0.0, 0.0, 0.0
	for i := range 600 {
		width := 0.3 + 2.7*r.Float64()
		angle := math.Pi * r.Float64()
		switch i % 6 {
		case 0:
			angle = 0
		case 1:
			angle = math.Pi / 4
		}
		p := drawn(bar(&geom.Path{}, 45+r.Float64(), 45+r.Float64(), 60, width, angle), n, n, dpi)
		find := Thin
		if i%2 == 1 {
			find = Gaps
			for k, v := range p.Pix {
				p.Pix[k] = 255 - v
			}
		}
		got, err := find(p, 0.4, Options{Faint: 26})
		if err != nil || len(got) != 1 {
			t.Fatalf("bar of %.3f pixels at %.3f rad: %d regions, %v: %+v", width, angle, len(got), err, got)
		}
		g := got[0]
		off := math.Abs(g.Width*10 - width)
		worst, worstThinnest = max(worst, off), max(worstThinnest, math.Abs(g.Thinnest*10-width))
		worstLength = max(worstLength, math.Abs(g.Length*10-60))
		c, s := math.Abs(math.Cos(angle)), math.Abs(math.Sin(angle))
		if box := math.Abs(float64(g.X1-g.X0)-60*c-width*s) + math.Abs(float64(g.Y1-g.Y0)-60*s-width*c); off > 0.1 || math.Abs(g.Thinnest*10-width) > 0.1 || box > 6 {
			t.Fatalf("bar of %.3f pixels at %.3f rad: width %.3f (thinnest %.3f), box %v %v %v %v", width, angle, g.Width*10, g.Thinnest*10, g.X0, g.Y0, g.X1, g.Y1)
		}
	}
	t.Logf("widths off by %.4f pixel at worst, those of the thinnest part by %.4f, lengths of 60 pixels by %.2f", worst, worstThinnest, worstLength)
}

// A width is asked for and met: bars just thinner are named, bars just wider are not.
func TestBarsAtTheBorderOfTheWidth(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 2))
	const dpi = 600.0
	for i := range 150 {
		limit := 0.05 + 0.3*r.Float64() // mm
		mm := dpi / 25.4
		for _, more := range []float64{-0.1, 0.1} {
			width := limit*mm + more
			p := drawn(bar(&geom.Path{}, 60+r.Float64(), 60+r.Float64(), 70, width, math.Pi*r.Float64()), 120, 120, dpi)
			got, err := Thin(p, limit, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if (len(got) == 1) != (more < 0) || len(got) > 1 {
				t.Errorf("bar %d of %.3f pixels where %.3f are asked for: %d regions %+v", i, width, limit*mm, len(got), got)
			}
		}
	}
}

// Corners of large shapes are no thin features, convex or reflex, down to 30 degrees.
func TestCornersAreNotThin(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2))
	for _, degrees := range []float64{30, 37, 45, 60, 90, 120, 130, 180} {
		for range 12 {
			turn := 2 * math.Pi * r.Float64()
			half := degrees / 2 * math.Pi / 180
			tip := geom.Point{X: 150 + r.Float64(), Y: 150 + r.Float64()}
			arm := func(a float64) geom.Point {
				return geom.Point{X: tip.X + 140*math.Cos(a), Y: tip.Y + 140*math.Sin(a)}
			}
			p := drawn(polygon(tip, arm(turn-half), arm(turn), arm(turn+half)), 300, 300, 600)
			for _, find := range []func(Plane, float64, Options) ([]Region, error){Thin, Gaps} {
				got, err := find(p, 0.2, Options{})
				if err != nil || len(got) != 0 {
					t.Errorf("corner of %v degrees turned by %.3f rad: %+v, %v", degrees, turn, got, err)
				}
			}
		}
	}
}

// What is thin is named with its place: a stem between large shapes, a dot, a hairline that swells, a bridge of two squares and the gap
// between them.
func TestThinPlaces(t *testing.T) {
	const dpi = 600.0
	mm := dpi / 25.4
	path := &geom.Path{}
	path.Rect(geom.Rect{X0: 20.3, Y0: 20.2, X1: 80.1, Y1: 80.6})
	path.Rect(geom.Rect{X0: 110.3, Y0: 20.2, X1: 170.1, Y1: 80.6})
	path.Rect(geom.Rect{X0: 70, Y0: 50, X1: 120, Y1: 52.7}) // a bridge of 2.7 pixels, 30.2 free
	path.Rect(geom.Rect{X0: 173.1, Y0: 20.2, X1: 230, Y1: 80.6})
	disc(path, 60, 130, 1.6) // a dot of 3.2 pixels
	disc(path, 120, 150, 20) // a large one
	p := drawn(path, 250, 200, dpi)
	thin, err := Thin(p, 0.2, Options{}) // 4.72 pixels
	if err != nil {
		t.Fatal(err)
	}
	if len(thin) != 2 {
		t.Fatalf("thin: %+v", thin)
	}
	bridge, dot := thin[0], thin[1]
	if math.Abs(bridge.Width*mm-2.7) > 0.1 || math.Abs(bridge.Length*mm-30.2) > 5 || math.Abs(bridge.Y-51.35) > 0.3 || bridge.X0 < 74 || bridge.X1 > 116 {
		t.Errorf("bridge of 2.7 x 30.2 pixels from 80 to 110: %.2f x %.2f pixels, %+v", bridge.Width*mm, bridge.Length*mm, bridge)
	}
	if math.Abs(dot.Width*mm-3.2) > 0.32 || math.Hypot(dot.X-60, dot.Y-130) > 1 {
		t.Errorf("dot of 3.2 pixels at 60, 130: %.2f pixels, %+v", dot.Width*mm, dot)
	}
	gaps, err := Gaps(p, 0.2, Options{})
	if err != nil || len(gaps) != 1 {
		t.Fatalf("gaps: %+v %v", gaps, err)
	}
	if g := gaps[0]; math.Abs(g.Width*mm-3) > 0.1 || math.Abs(g.Length*mm-60.4) > 4 || math.Abs(g.X-171.6) > 0.3 {
		t.Errorf("gap of 3 x 60.4 pixels at 171.6: %.2f x %.2f pixels, %+v", g.Width*mm, g.Length*mm, g)
	}
}

// Flat tints and their edges are no lines, even when faint ones are looked for.
func TestTintsAreNotThin(t *testing.T) {
	p := Plane{Pix: make([]uint8, 100*100), W: 100, H: 100, DPI: 300}
	for y := 20; y < 80; y++ {
		for x := 20; x < 80; x++ {
			p.Pix[y*100+x] = 60
		}
	}
	for _, mm := range []float64{0.1, 0.3, 1} {
		got, err := Thin(p, mm, Options{Faint: 26})
		if err != nil || len(got) != 0 {
			t.Errorf("a tint of 60, thinner than %v mm: %+v, %v", mm, got, err)
		}
	}
}
