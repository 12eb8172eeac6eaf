package raster

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"laydown/internal/geom"
)

// render returns the coverage of clip, row by row.
func render(e *Edges, clip IntRect) []byte {
	w := max(clip.X1-clip.X0, 0)
	out := make([]byte, w*max(clip.Y1-clip.Y0, 0))
	var s Scanner
	lastY := clip.Y0 - 1
	s.Scan(e, clip, func(y int, spans []Span) {
		if y <= lastY || y >= clip.Y1 || len(spans) == 0 {
			panic(fmt.Sprintf("row %d after %d", y, lastY))
		}
		lastY = y
		lastX, lastCover := int32(clip.X0), uint8(0)
		for _, p := range spans {
			if p.X0 < lastX || p.X0 >= p.X1 || int(p.X1) > clip.X1 || p.Cover == 0 || (p.X0 == lastX && p.Cover == lastCover) {
				panic(fmt.Sprintf("row %d: bad span %v in %v", y, p, spans))
			}
			lastX, lastCover = p.X1, p.Cover
			for x := p.X0; x < p.X1; x++ {
				out[(y-clip.Y0)*w+int(x)-clip.X0] = p.Cover
			}
		}
	})
	return out
}

// grid prints coverage as one digit a pixel: 0 none, 9 full.
func grid(cover []byte, w int) string {
	var b strings.Builder
	for i, c := range cover {
		if i > 0 && i%w == 0 {
			b.WriteByte('\n')
		}
		if c == 0 {
			b.WriteByte('.')
		} else {
			b.WriteByte('0' + byte((int(c)*9+127)/255))
		}
	}
	return b.String()
}

func polygon(p ...float64) *geom.Path {
	q := &geom.Path{}
	for i := 0; i < len(p); i += 2 {
		if i == 0 {
			q.Move(geom.Point{X: p[0], Y: p[1]})
		} else {
			q.Line(geom.Point{X: p[i], Y: p[i+1]})
		}
	}
	q.ClosePath()
	return q
}

func fill(p *geom.Path, rule geom.FillRule) *Edges {
	var b Builder
	b.Fill(p, geom.Identity)
	return b.Edges(rule)
}

// checkGrid compares the pixels from (0,0) on with rows of digits.
func checkGrid(t *testing.T, e *Edges, want string) {
	t.Helper()
	lines := strings.Fields(want)
	w := len(lines[0])
	got := grid(render(e, IntRect{0, 0, w, len(lines)}), w)
	if got != strings.Join(lines, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(lines, "\n"))
	}
}

func TestFillGrids(t *testing.T) {
	star := polygon(4, 0, 6.5, 8, 0, 3, 8, 3, 1.5, 8)
	for _, c := range []struct {
		name string
		path *geom.Path
		rule geom.FillRule
		want string
	}{
		{"rectangle on pixels", polygon(1, 1, 4, 1, 4, 3, 1, 3), geom.NonZero, `...... .999.. .999.. ......`},
		{"rectangle over half pixels", polygon(0.5, 0.5, 4.5, 0.5, 4.5, 2.5, 0.5, 2.5), geom.NonZero, `25552. 59995. 25552. ......`},
		{"triangle", polygon(0, 0, 4, 0, 0, 4), geom.NonZero, `9995.. 995... 95.... 5.....`},
		{"star by winding", star, geom.NonZero, `...11... ...44... ...77... 39999993 .299992. ..7997.. .094490. .22..22.`},
		{"star by crossings", star, geom.EvenOdd, `...11... ...44... ...77... 39800893 .27..72. ..7337.. .094490. .22..22.`},
	} {
		t.Run(c.name, func(t *testing.T) {
			checkGrid(t, fill(c.path, c.rule), c.want)
		})
	}
}

// randomPath has lines and curves, some of them wild.
func randomPath(r *rand.Rand, size float64) *geom.Path {
	p := &geom.Path{}
	pt := func() geom.Point {
		q := geom.Point{X: (r.Float64()*1.4 - 0.2) * size, Y: (r.Float64()*1.4 - 0.2) * size}
		switch r.IntN(12) {
		case 0:
			q.X = math.Round(q.X)
		case 1:
			q.Y = math.Round(q.Y)
		case 2:
			q.X *= 1000
		}
		return q
	}
	for range 1 + r.IntN(3) {
		p.Move(pt())
		for range 1 + r.IntN(6) {
			if r.IntN(2) == 0 {
				p.Line(pt())
			} else {
				p.Cubic(pt(), pt(), pt())
			}
		}
		if r.IntN(2) == 0 {
			p.ClosePath()
		}
	}
	return p
}

// A crop of the page has the bytes of the page.
func TestCropIndependence(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const size = 48
	page := IntRect{-8, -8, size + 8, size + 8}
	w := page.X1 - page.X0
	for i := range 300 {
		e := fill(randomPath(r, size), geom.FillRule(i%2))
		whole := render(e, page)
		for range 12 {
			c := IntRect{page.X0 + r.IntN(w), page.Y0 + r.IntN(w), page.X0 + r.IntN(w), page.Y0 + r.IntN(w)}
			if r.IntN(2) == 0 {
				c.X1, c.Y1 = c.X0+1, c.Y0+1
			}
			if c.Empty() {
				continue
			}
			part := render(e, c)
			for y := c.Y0; y < c.Y1; y++ {
				for x := c.X0; x < c.X1; x++ {
					if a, b := part[(y-c.Y0)*(c.X1-c.X0)+x-c.X0], whole[(y-page.Y0)*w+x-page.X0]; a != b {
						t.Fatalf("path %d, clip %v, pixel %d,%d: %d cropped, %d whole", i, c, x, y, a, b)
					}
				}
			}
		}
	}
}
