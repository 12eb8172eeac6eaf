package distance

import (
	"math"
	"testing"

	"laydown/internal/geom"
)

// A drawn disc choked or spread by 0.10 mm is the disc drawn smaller or larger by that. Asked for is 0.01 mm at 1200 dpi; what is
// measured is a tenth of it, and holds in pixels, so that 300 dpi keep 0.01 mm too. Coverage of a pixel moves by 255 when the outline
// moves by a pixel.
func TestChokeOfADisc(t *testing.T) {
	for _, dpi := range []float64{1200, 600, 300} {
		perMM := dpi / 25.4
		n := int(8.4 * perMM)
		const r = 4.0 // mm
		cx, cy := 4.2137*perMM, 4.1951*perMM
		p := drawn(disc(&geom.Path{}, cx, cy, r*perMM), n, n, dpi)
		for _, out := range []bool{false, true} {
			f, want := Choke, r-0.1
			if out {
				f, want = Spread, r+0.1
			}
			got, err := f(p, 0.1, Options{})
			if err != nil {
				t.Fatal(err)
			}
			model := drawn(disc(&geom.Path{}, cx, cy, want*perMM), n, n, dpi)
			mean := math.Sqrt(sum(got)/math.Pi) / perMM
			worst := 0
			for i, v := range got.Pix {
				worst = max(worst, abs(int(v)-int(model.Pix[i])))
			}
			px := float64(worst) / 255
			t.Logf("%v dpi, outwards %v: radius by area off by %.5f mm, worst pixel by %d of 255: %.3f pixel, %.5f mm", dpi, out, mean-want, worst, px, px/perMM)
			// The area tells the mean of all directions.
			if math.Abs(mean-want) > 0.0003 || px > 0.06 {
				t.Errorf("%v dpi, outwards %v: off by %.5f mm in the mean and %.3f pixel at worst; at most 0.0003 and 0.06", dpi, out, mean-want, px)
			}
		}
	}
}

func abs(x int) int { return max(x, -x) }

// The outline of a thresholded photograph moves by 0.10 mm as well: every point of the new one is that far from the contour of the
// function the photograph was made of.
func TestChokeOfAPhotograph(t *testing.T) {
	const size, level = 12.0, 110 // mm
	f := newTones(5, 6, 1.2)
	contour := contourOf(f, level-0.5, size, 0.01)
	// Reading the result by linear interpolation alone is off by up to 0.086 pixel. At 300 dpi a pixel is 0.085 mm, and details
	// of the photograph are a few pixels large.
	for _, c := range []struct{ dpi, mm, rms float64 }{{1200, 0.01, 0.002}, {600, 0.01, 0.003}, {300, 0.04, 0.006}} {
		n := int(size * c.dpi / 25.4)
		p := f.plane(n, n, c.dpi)
		for _, out := range []bool{false, true} {
			move := Choke
			if out {
				move = Spread
			}
			got, err := move(p, 0.1, Options{Threshold: level})
			if err != nil {
				t.Fatal(err)
			}
			worst, squares, k := 0.0, 0.0, 0
			for _, q := range outlineOf(got) {
				x, y := q.X/p.PerMM(), q.Y/p.PerMM()
				if x < 1 || y < 1 || x > size-1 || y > size-1 {
					continue // the contour beyond the plane is not known to it
				}
				off := math.Abs(contour.nearest(x, y) - 0.1)
				worst = max(worst, off)
				squares += off * off
				k++
			}
			rms := math.Sqrt(squares / float64(k))
			t.Logf("%v dpi, outwards %v: %d points of the outline moved by 0.1 mm, off by %.5f mm at worst, %.5f mm root mean square", c.dpi, out, k, worst, rms)
			if k < 500 || worst > c.mm || rms > c.rms {
				t.Errorf("%v dpi, outwards %v: %d points, off by %.5f mm at worst and %.5f mm root mean square; at most %v and %v", c.dpi, out, k, worst, rms, c.mm, c.rms)
			}
		}
	}
}

// points in cells of 0.25 mm.
type cells struct {
	n   int
	pts [][]geom.Point
}

func (c *cells) nearest(x, y float64) float64 {
	best := math.Inf(1)
	cx, cy := int(x*4), int(y*4)
	for j := max(cy-1, 0); j <= min(cy+1, c.n-1); j++ {
		for i := max(cx-1, 0); i <= min(cx+1, c.n-1); i++ {
			for _, q := range c.pts[j*c.n+i] {
				best = min(best, math.Hypot(q.X-x, q.Y-y))
			}
		}
	}
	return best
}

// contourOf samples a contour on lines a step apart, both ways.
func contourOf(f tones, level, size, step float64) *cells {
	c := &cells{n: int(size*4) + 1}
	c.pts = make([][]geom.Point, c.n*c.n)
	n := int(size / step)
	row := make([]float64, n+1)
	last := make([]float64, n+1)
	for j := range n + 1 {
		y := float64(j) * step
		for i := range row {
			row[i] = f.at(float64(i)*step, y) - level
		}
		put := func(x, y float64) {
			k := int(y*4)*c.n + int(x*4)
			c.pts[k] = append(c.pts[k], geom.Point{X: x, Y: y})
		}
		for i := range row {
			x := float64(i) * step
			if i > 0 && (row[i] > 0) != (row[i-1] > 0) {
				put(x-step+step*row[i-1]/(row[i-1]-row[i]), y)
			}
			if j > 0 && (row[i] > 0) != (last[i] > 0) {
				put(x, y-step+step*last[i]/(last[i]-row[i]))
			}
		}
		row, last = last, row
	}
	return c
}
