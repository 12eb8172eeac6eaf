package truth

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/artwork/interp"
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

// TestTruth_chokeOfAPhoto: a choke of 0.10 mm under a photograph lays the outline of the white 0.10 mm from where tones pass the
// threshold, and nowhere is a stretch of that line missing. Grain moves the line where tones pass the threshold from pixel to
// pixel, so that a fiftieth of each side may lie farther off.
func TestTruth_chokeOfAPhoto(t *testing.T) {
	if testing.Short() {
		t.Skip("paints at 4800 dpi")
	}
	oracles(t)
	const reach, halfPixel = .3, 12.7 / chokeDPI
	for _, as := range []string{"outline", "bitmap", "image"} {
		w := underlaid(t, photoOfProcess(), "make-underlay:toner=White,choke=0.1mm,keep=0mm,threshold=10%,dpi=1200,as="+as)
		under, err := distance.Distances(w.under, reach, distance.Options{Threshold: 26}) // 10 % of 255, rounded up
		if err != nil {
			t.Fatal(err)
		}
		within := chokeWithin
		if as == "bitmap" {
			within = chokeWithin + halfPixel/2 // whole pixels of 0.021 mm
		}
		for who, p := range map[string]distance.Plane{"ours": w.ours, "gs": w.gs} {
			white, err := distance.Distances(p, reach, distance.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var off []float64
			for i := range white {
				// Pixels on the outline of the white, and those where it is to be.
				if a, b := float64(white[i]), float64(under[i]); math.Abs(a) <= halfPixel || math.Abs(b-chokeMM) <= halfPixel {
					off = append(off, b-a)
				}
			}
			slices.Sort(off)
			n := len(off)
			mean := 0.0
			for _, v := range off {
				mean += v / float64(n)
			}
			lo, hi := off[n/50], off[n-1-n/50]
			t.Logf("%s, %s: %d pixels of outline, moved by %.4f mm in the mean, %.4f to %.4f without the last fiftieth of each side", as, who, n, mean, lo, hi)
			if math.Abs(mean-chokeMM) > chokeWithin/2 || lo < chokeMM-within || hi > chokeMM+within {
				t.Errorf("%s, %s: the outline moved by %.4f mm in the mean, %.4f to %.4f", as, who, mean, lo, hi)
			}
		}
	}
}
