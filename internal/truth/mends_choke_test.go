package truth

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/distance"
)

// An underlay is measured at 1200 dpi, on a page of discPage points.
const (
	chokeDPI    = 1200
	chokeMM     = .10
	chokeWithin = .01 // mm: what was promised of a choke
	discPage    = 30.0
	discAt      = discPage / 2
	discR       = 12.0
)

// discOfProcess is a page with a disc in process colour, as four Bezier curves (within 0.03 % of a circle).
func discOfProcess() []byte {
	const k = 0.5522847498 * discR
	f := pdfbuild.New()
	p := func(x, y float64) string { return fmt.Sprintf("%g %g ", discAt+x, discAt+y) }
	f.Page(discPage, discPage, "", "0 .6 .3 0 k "+p(discR, 0)+"m "+p(discR, k)+p(k, discR)+p(0, discR)+"c "+p(-k, discR)+p(-discR, k)+p(-discR, 0)+"c "+
		p(-discR, -k)+p(-k, -discR)+p(0, -discR)+"c "+p(k, -discR)+p(discR, -k)+p(discR, 0)+"c f")
	return f.Bytes()
}

// photoOfProcess is a page filled by a picture of 1200 ppi: soft patches of tone between nothing and nearly full, with grain of
// two levels (standard deviation).
func photoOfProcess() []byte {
	const side = int(discPage / 72 * chokeDPI)
	data := make([]byte, side*side)
	r := rand.New(rand.NewSource(5))
	for i := range data {
		x, y := float64(i%side), float64(i/side)
		v := math.Sin(x/31+math.Sin(y/57)) + math.Sin(y/37+math.Cos(x/71)) + .5*math.Sin((x+y)/19)
		data[i] = byte(max(0, min(255, 40+70*v+2*r.NormFloat64())))
	}
	f := pdfbuild.New()
	space := f.Add(pdfbuild.Spot("Magenta", 0, 1, 0, 0))
	im := f.Stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %[1]d /BitsPerComponent 8 /ColorSpace %s", side, pdfbuild.Ref(space)), string(data))
	f.Page(discPage, discPage, "/XObject << /P "+pdfbuild.Ref(im)+" >>", fmt.Sprintf("%g 0 0 %[1]g 0 0 cm /P Do", discPage))
	return f.Bytes()
}

// whites are the plate of the white an underlay was made in, by us and by Ghostscript, and the shape it lies under.
type whites struct {
	ours, gs, under distance.Plane
}

func underlaid(t *testing.T, data []byte, use string) whites {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		t.Fatal(err)
	}
	c := mendCase{}
	_, mended := mendFile(t, c.setup(t, dir), in, out, mendDPI, false, use)
	p, err := paintPage(context.Background(), mended, 1, chokeDPI, interp.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	plane := func(pix []byte) distance.Plane {
		return distance.Plane{Pix: pix, W: p.Stack.Width, H: p.Stack.Height, DPI: chokeDPI}
	}
	white, _ := p.Stack.Lookup("White")
	under, _ := p.Stack.Lookup("Magenta")
	w := whites{ours: plane(white), under: plane(under)}
	pages, err := GhostscriptAll(context.Background(), out, chokeDPI)
	if err != nil {
		t.Fatal(err)
	}
	if w.gs = plane(pages[0].Plane["White"]); pages[0].W != w.gs.W || pages[0].H != w.gs.H {
		t.Fatalf("Ghostscript gives %d x %d pixels, not %d x %d", pages[0].W, pages[0].H, w.gs.W, w.gs.H)
	}
	return w
}

// radii are the radii in mm of a disc in sectors of 10 degrees, each from the coverage along 50 rays from the middle.
func radii(p distance.Plane) (out []float64) {
	const rays, step = 50, .1
	at := func(x, y int) float64 { return float64(p.Pix[max(0, min(p.H-1, y))*p.W+max(0, min(p.W-1, x))]) / 255 }
	c := discAt / 72 * chokeDPI
	for sector := range 36 {
		sum := 0.0
		for ray := range rays {
			a := (float64(sector) + (float64(ray)+.5)/rays) * math.Pi / 18
			for r := step / 2; r < c; r += step {
				x, y := c+r*math.Cos(a)-.5, c+r*math.Sin(a)-.5 // in between pixel centres
				x0, y0 := int(math.Floor(x)), int(math.Floor(y))
				fx, fy := x-float64(x0), y-float64(y0)
				sum += step * ((at(x0, y0)*(1-fx)+at(x0+1, y0)*fx)*(1-fy) + (at(x0, y0+1)*(1-fx)+at(x0+1, y0+1)*fx)*fy)
			}
		}
		out = append(out, sum/rays/p.PerMM())
	}
	return out
}

// TestTruth_chokeOfADisc: a choke of 0.10 mm makes the white under a drawn disc smaller by 0.10 mm within 0.01 mm in every direction.
func TestTruth_chokeOfADisc(t *testing.T) {
	if testing.Short() {
		t.Skip("paints at 4800 dpi")
	}
	oracles(t)
	for _, as := range []string{"outline", "bitmap", "image"} {
		w := underlaid(t, discOfProcess(), "make-underlay:toner=White,choke=0.1mm,dpi=1200,as="+as)
		for who, p := range map[string]distance.Plane{"ours": w.ours, "gs": w.gs} {
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, r := range radii(p) {
				moved := discR*25.4/72 - r
				lo, hi = min(lo, moved), max(hi, moved)
			}
			t.Logf("%s, %s: %.4f to %.4f mm", as, who, lo, hi)
			if lo < chokeMM-chokeWithin || hi > chokeMM+chokeWithin {
				t.Errorf("%s, %s: the outline moved by %.4f to %.4f mm", as, who, lo, hi)
			}
		}
	}
}

// segment is a piece of an outline, mm.
type segment struct{ a, b geom.Point }

// outlineOf is the outline of a plane as segments, in mm: between neighbouring pixel centres, of which one is above the level and one not,
// it passes where cross says, counted from the first; where the four sides of a square are passed, the mean of the four tells what belongs together.
func outlineOf(p distance.Plane, level float64, cross func(x, y int, down bool) float64) (out []segment) {
	at := func(x, y int) float64 { return float64(p.Pix[y*p.W+x]) - level }
	var pts []geom.Point
	side := func(x, y int, down bool) {
		q := geom.Point{X: float64(x) + .5, Y: float64(y) + .5}
		if down {
			if (at(x, y) > 0) == (at(x, y+1) > 0) {
				return
			}
			q.Y += cross(x, y, down)
		} else {
			if (at(x, y) > 0) == (at(x+1, y) > 0) {
				return
			}
			q.X += cross(x, y, down)
		}
		pts = append(pts, geom.Point{X: q.X / p.PerMM(), Y: q.Y / p.PerMM()})
	}
	for y := range p.H - 1 {
		for x := range p.W - 1 {
			pts = pts[:0]
			side(x, y, false)
			side(x+1, y, true)
			side(x, y+1, false)
			side(x, y, true)
			switch {
			case len(pts) == 2:
				out = append(out, segment{pts[0], pts[1]})
			case len(pts) == 4 && (at(x, y) > 0) == (at(x, y)+at(x+1, y)+at(x, y+1)+at(x+1, y+1) >= 0):
				out = append(out, segment{pts[0], pts[1]}, segment{pts[2], pts[3]})
			case len(pts) == 4:
				out = append(out, segment{pts[0], pts[3]}, segment{pts[1], pts[2]})
			}
		}
	}
	return out
}

// toneOutline is where tones, taken to run straight from pixel to pixel, pass a level.
func toneOutline(p distance.Plane, level float64) []segment {
	return outlineOf(p, level, func(x, y int, down bool) float64 {
		a, b := float64(p.Pix[y*p.W+x]), 0.0
		if down {
			b = float64(p.Pix[(y+1)*p.W+x])
		} else {
			b = float64(p.Pix[y*p.W+x+1])
		}
		return (level - a) / (b - a)
	})
}

// coverOutline is the outline of coverage by the area model.
func coverOutline(p distance.Plane) []segment {
	return outlineOf(p, 127.5, func(x, y int, down bool) float64 { return geom.CoverageCrossing(p.Pix, p.W, p.H, x, y, down) })
}

// nearby finds segments by where they begin, in cells of 0.15 mm.
type nearby map[[2]int][]segment

func newNearby(ss []segment) nearby {
	n := nearby{}
	for _, s := range ss {
		k := [2]int{int(s.a.X / .15), int(s.a.Y / .15)}
		n[k] = append(n[k], s)
	}
	return n
}

// distance is how far the nearest segment is, in mm, at least .25 when it is farther than that.
func (n nearby) distance(q geom.Point) float64 {
	best := .25
	for j := -2; j <= 2; j++ {
		for i := -2; i <= 2; i++ {
			for _, s := range n[[2]int{int(q.X/.15) + i, int(q.Y/.15) + j}] {
				dx, dy := s.b.X-s.a.X, s.b.Y-s.a.Y
				u := 0.0
				if l := dx*dx + dy*dy; l > 0 {
					u = max(0, min(1, ((q.X-s.a.X)*dx+(q.Y-s.a.Y)*dy)/l))
				}
				best = min(best, math.Hypot(q.X-s.a.X-u*dx, q.Y-s.a.Y-u*dy))
			}
		}
	}
	return best
}

// TestTruth_chokeOfAPhoto: a choke of 0.10 mm under a photograph moves the outline of the white by 0.10 mm within 0.01 mm: it lies
// between the outlines of chokes by 0.09 and by 0.11 mm, all of it. That is, every point of the outline is as far from the nearest point
// of the outline of what it lies under, where tones pass the threshold; what is deeper than 0.11 mm is white; what is less deep than
// 0.09 mm is not. The other way round there is no such distance: where the outline of the tones turns sharply, or two parts of it face each
// other, the choked one has a corner, and no point of it is 0.10 mm from the outer turn. Nothing is left out, grain neither:
// grain is part of where tones pass the threshold.
func TestTruth_chokeOfAPhoto(t *testing.T) {
	if testing.Short() {
		t.Skip("paints at 4800 dpi")
	}
	oracles(t)
	const least, most = chokeMM - chokeWithin, chokeMM + chokeWithin
	for _, as := range []string{"outline", "bitmap", "image"} {
		w := underlaid(t, photoOfProcess(), "make-underlay:toner=White,choke=0.1mm,keep=0mm,threshold=10%,dpi=1200,as="+as)
		under := newNearby(toneOutline(w.under, 25.5)) // 10 % of 255
		perMM := w.under.PerMM()
		// Beyond the page there are no tones, nor an outline that would choke what lies at its edge.
		const rim = .12
		inside := func(q geom.Point) bool {
			return q.X > rim && q.Y > rim && q.X < float64(w.under.W)/perMM-rim && q.Y < float64(w.under.H)/perMM-rim
		}
		for who, p := range map[string]distance.Plane{"ours": w.ours, "gs": w.gs} {
			n, sum, lo, hi := 0, 0.0, math.Inf(1), 0.0
			for _, s := range coverOutline(p) {
				if inside(s.a) {
					d := under.distance(s.a)
					n, sum, lo, hi = n+1, sum+d, min(lo, d), max(hi, d)
				}
			}
			mean := sum / float64(n)
			slack := chokeWithin / 4
			if who == "gs" && as == "outline" {
				// It paints every pixel of 4800 dpi that a path touches (10.7.4): larger by 0.5 to 0.71 of them, 0.0037 mm.
				slack = chokeWithin / 2
			}
			t.Logf("%s, %s: %d points of outline, moved by %.4f mm in the mean, %.4f to %.4f", as, who, n, mean, lo, hi)
			if n < 3000 || math.Abs(mean-chokeMM) > slack || lo < least || hi > most {
				t.Errorf("%s, %s: %d points of outline, moved by %.4f mm in the mean, %.4f to %.4f", as, who, n, mean, lo, hi)
			}
			wrong := 0
			for i, v := range p.Pix {
				q := geom.Point{X: (float64(i%p.W) + .5) / perMM, Y: (float64(i/p.W) + .5) / perMM}
				if !inside(q) {
					continue
				}
				deep := -1.0
				if float64(w.under.Pix[i]) > 25.5 {
					deep = under.distance(q)
				}
				if deep > most && v < 128 || deep < least && v >= 128 {
					wrong++
				}
			}
			if wrong > 0 {
				t.Errorf("%s, %s: %d pixels are white nearer to the outline than %.2f mm, or bare farther inside than %.2f mm", as, who, wrong, least, most)
			}
		}
	}
}
