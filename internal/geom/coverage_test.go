package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// clipped is the area of the unit square about the origin where n . p >= -depth, summed over a fine grid.
func clipped(depth, nx, ny float64) float64 {
	const n = 400
	k := 0
	for i := range n {
		for j := range n {
			x, y := (float64(i)+0.5)/n-0.5, (float64(j)+0.5)/n-0.5
			if x*nx+y*ny >= -depth {
				k++
			}
		}
	}
	return float64(k) / (n * n)
}

func TestHalfPlaneCoverageIsTheArea(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for i := range 60 {
		a := 2 * math.Pi * r.Float64()
		if i%6 == 0 {
			a = math.Pi / 2 * float64(i/6)
		}
		depth, nx, ny := 1.6*r.Float64()-0.8, math.Cos(a), math.Sin(a)
		c := HalfPlaneCoverage(depth, nx, ny)
		// The grid counts cells along an edge of up to 1.42 whole or not at all.
		if want := clipped(depth, nx, ny); math.Abs(c-want) > 0.004 {
			t.Errorf("depth %.3f, normal %.3f %.3f: %.4f, want %.4f", depth, nx, ny, c, want)
		}
		if c > 0 && c < 1 && math.Abs(HalfPlaneDepth(c, nx, ny)-depth) > 1e-6 {
			t.Errorf("depth %.6f of coverage %.6f became %.6f", depth, c, HalfPlaneDepth(c, nx, ny))
		}
	}
}

// Straight edges of any angle cross the lines between pixel centres where they do, within 0.03 pixel across the edge: 8 bits tell
// 0.006 and differences of 3 x 3 pixels the direction within some degrees.
func TestCoverageCrossingOfStraightEdges(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	worst := 0.0
	for range 3000 {
		a := 2 * math.Pi * r.Float64()
		nx, ny, s := math.Cos(a), math.Sin(a), r.Float64()-0.5
		var pix [36]byte
		for i := range pix {
			x, y := float64(i%6)-2.5, float64(i/6)-2.5
			pix[i] = byte(math.Round(255 * HalfPlaneCoverage(s+x*nx+y*ny, nx, ny)))
		}
		for i := range pix {
			x, y := i%6, i/6
			if x < 1 || y < 1 || x > 3 || y > 3 {
				continue
			}
			for _, down := range []bool{false, true} {
				j := i + 1
				if down {
					j = i + 6
				}
				if (pix[i] >= 128) == (pix[j] >= 128) {
					continue
				}
				px, py := float64(x)-2.5, float64(y)-2.5
				if down {
					py += CoverageCrossing(pix[:], 6, 6, x, y, down)
				} else {
					px += CoverageCrossing(pix[:], 6, 6, x, y, down)
				}
				worst = max(worst, math.Abs(s+px*nx+py*ny))
			}
		}
	}
	t.Logf("edges met within %.4f pixel", worst)
	if worst > 0.03 {
		t.Errorf("an edge is off by %.4f pixel", worst)
	}
}
