package look

import (
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"laydown/internal/colourant"
	"laydown/internal/golden"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// characterised lays toners of the five-station press, plate i driving toner i, the process set by p.
func characterised(t testing.TB, p *Process, s *press.Stock, names ...string) *Model {
	t.Helper()
	pr, err := press.FindPress("five-station")
	if err != nil {
		t.Fatal(err)
	}
	var layers []Layer
	for i, n := range names {
		toner, ok := pr.Toner(n)
		if !ok {
			t.Fatalf("no toner %q", n)
		}
		layers = append(layers, Layer{toner, i})
	}
	m, err := NewModelFor(Conditions{Stock: s, Side: press.Front, Layers: layers, Process: p})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func stockOfLab(c press.Lab) *press.Stock {
	return &press.Stock{Name: "test", Front: c, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
}

// On its own stock the process set shows its patches, as exactly as 8-bit tints can be.
func TestModelShowsTheCharacterisation(t *testing.T) {
	set := published(t, "FOGRA39L")
	p := processOf(t, set)
	rough := stockOfLab(p.White())
	rough.Surface, rough.Gloss = press.SurfaceUncoated, press.GlossMatte
	for order, stock := range map[[4]string]*press.Stock{
		{"Cyan", "Magenta", "Yellow", "Black"}: stockOfLab(p.White()),
		{"Black", "Cyan", "Magenta", "Yellow"}: rough,
	} {
		m := characterised(t, p, stock, order[:]...)
		var d []float64
		for i := range set.Patches {
			q, tints := bits8(set.Patches[i].Tints)
			var plates []uint8
			for _, n := range order {
				k, _ := set.Colourant(n)
				plates = append(plates, q[k])
			}
			d = append(d, Difference(m.Lab(plates), p.Lab(tints)))
		}
		// As the table alone, and the rounding of the mixing bands.
		if s := spreadOf(d); !s.within(spread{.06, .15, .45}) {
			t.Errorf("%v: %v", order, s)
		}
		if len(m.Notes()) > 0 {
			t.Errorf("notes %q", m.Notes())
		}
	}
}

// Between the dots of a tint the surface is that of the stock: a light tint changes a matte black little, though its solid is
// smoother and so darker.
func TestLightTintLeavesTheSurfaceOfTheStock(t *testing.T) {
	p := processOf(t, published(t, "FOGRA39L"))
	m := characterised(t, p, stockOf(t, "black-board"), "Cyan", "Magenta", "Yellow", "Black")
	stock := m.Lab(nil)
	light, solid := Difference(stock, m.Lab([]uint8{0, 0, 0, 26})), Difference(stock, m.Lab([]uint8{0, 0, 0, 255}))
	if solid < 5 || light > .25*solid {
		t.Errorf("a tint of 10 %% changes it by %.2f, the solid by %.2f", light, solid)
	}
}

// With plates missing the rest of the set is shown the same.
func TestModelOfSomeProcessTonersIsPartOfAll(t *testing.T) {
	p := processOf(t, published(t, "TR006"))
	s := stockOfLab(p.White())
	all, some := characterised(t, p, s, "Cyan", "Magenta", "Yellow", "Black"), characterised(t, p, s, "Magenta", "Black")
	for _, v := range [][2]uint8{{0, 0}, {30, 0}, {102, 200}, {255, 255}, {0, 77}, {128, 12}} {
		if a, b := all.Lab([]uint8{0, v[0], 0, v[1]}), some.Lab(v[:]); Difference(a, b) > 1e-4 {
			t.Errorf("%v: %.4f, alone %.4f", v, b, a)
		}
	}
}

// White below takes the place of the stock, white above covers: whatever the set prints, the stock hardly counts.
func TestProcessSetLiesBetweenOtherToners(t *testing.T) {
	p := processOf(t, published(t, "FOGRA39L"))
	black := stockOfLab(press.Lab{17, 0, 1})
	under := characterised(t, p, black, "White", "Cyan", "Magenta", "Yellow", "Black")
	over := characterised(t, p, black, "Cyan", "Magenta", "Yellow", "Black", "White")
	onWhite, bare := under.Lab([]uint8{255, 0, 255, 0, 0}), under.Lab([]uint8{0, 0, 255, 0, 0})
	if onWhite[0]-bare[0] < 15 || onWhite[1] < 40 {
		t.Errorf("magenta on white %.1f, on the stock %.1f", onWhite, bare)
	}
	if covered, alone := over.Lab([]uint8{0, 255, 0, 0, 255}), over.Lab([]uint8{0, 0, 0, 0, 255}); Difference(covered, alone) > 25 || covered[0] < 60 {
		t.Errorf("white over magenta %.1f, alone %.1f", covered, alone)
	}
	if got, want := under.Lab([]uint8{255, 0, 0, 0, 0}), characterised(t, nil, black, "White").Lab([]uint8{255}); got != want {
		t.Errorf("white without process toner %.3f, want %.3f", got, want)
	}
	// Metal is not thinned away, black not made lighter on it.
	gold := characterised(t, p, black, "Gold", "Cyan", "Magenta", "Yellow", "Black")
	if k := gold.Lab([]uint8{255, 0, 0, 0, 255}); k[0] > 22 {
		t.Errorf("black on gold has L* %.1f", k[0])
	}
}

func TestProcessSetThatDoesNotLieTogetherIsStacked(t *testing.T) {
	p := processOf(t, published(t, "FOGRA39L"))
	s := stockOfLab(press.Lab{95, 0, -2})
	for _, order := range [][]string{{"Cyan", "White", "Magenta"}, {"Cyan", "Magenta", "Cyan"}} {
		m, plain := characterised(t, p, s, order...), characterised(t, nil, s, order...)
		if n := m.Notes(); len(n) != 1 || !strings.Contains(n[0], "stacks of single toners") {
			t.Errorf("%v: notes %q", order, n)
		}
		tints := []uint8{200, 100, 50}
		if m.Lab(tints) != plain.Lab(tints) {
			t.Errorf("%v is not shown as without a characterisation", order)
		}
	}
	if n := characterised(t, p, s, "White", "Gold").Notes(); len(n) > 0 {
		t.Errorf("without process toners: %q", n)
	}
}

// The more plates there are, the coarser the grid, so that the numbers of combinations stay within bounds.
func TestCombinationsStayWithinBounds(t *testing.T) {
	ends := []float64{0, 1}
	p := processOf(t, labSet(factorial(ends, ends, ends, ends), greys))
	fine, err := ProcessFromLab(func(t [4]float64) press.Lab { return greys(t) })
	if err != nil {
		t.Fatal(err)
	}
	three := []float64{0, .4, .7, 1} // three steps are divided by three
	threes, err := ProcessFromSet(labSet(factorial(three, three, three, three), greys), FullestGrid)
	if err != nil {
		t.Fatal(err)
	}
	for _, process := range []*Process{p, fine, threes} {
		layers := []Layer{}
		for i, n := range colourant.ProcessNames {
			layers = append(layers, Layer{&press.Toner{Name: n, Kind: colourant.Process}, i})
		}
		for len(layers) < 16 {
			layers = append(layers, Layer{&press.Toner{Name: string(rune('a' + len(layers))), Kind: colourant.Spot}, len(layers)})
			m, err := NewModelFor(Conditions{Stock: stockOfLab(press.Lab{95, 0, 0}), Side: press.Front, Layers: layers, Process: process})
			if err != nil {
				t.Fatal(err)
			}
			if n := len(m.stacks.rows); n > 1<<21 {
				t.Errorf("%d plates have %d combinations", len(layers), n)
			}
		}
	}
}

// Where only the process set is partial, the short way gives what the long way gives, to the last bit.
func TestShortWayOfTheProcessSetIsExact(t *testing.T) {
	three := []float64{0, .4, 1}
	p := processOf(t, labSet(factorial(three, three, three, three), greys))
	m := characterised(t, p, stockOfLab(press.Lab{60, 8, 24}), "White", "Gold", "Black", "Cyan", "Magenta", "Yellow", "Clear")
	short, long := newEvaluator(m), newEvaluator(m)
	rnd := rand.New(rand.NewPCG(3, 4))
	taken := 0
	for range 4000 {
		var k key
		for in := range m.inputs {
			v := uint8(rnd.IntN(256))
			if process := in >= 2 && in < 6; !process && rnd.IntN(20) > 0 || rnd.IntN(4) == 0 {
				v = uint8(255 * rnd.IntN(2))
			}
			k.set(in, v)
		}
		if !short.mixSet(k) {
			continue
		}
		taken++
		if long.mixAny(k); short.sum != long.sum {
			t.Fatalf("%v: %v, the long way %v", k, short.sum, long.sum)
		}
	}
	if taken < 2000 {
		t.Errorf("the short way was taken %d times", taken)
	}
	if e := newEvaluator(characterised(t, nil, stockOfLab(press.Lab{60, 8, 24}), "Cyan")); e.mixSet(key{77}) {
		t.Error("it is taken without a characterisation")
	}
}

// The picture must be the same bytes on every machine and for every instruction set level.
func TestPictureOfCharacterisedSetNeverChangesUnnoticed(t *testing.T) {
	three := []float64{0, .4, 1}
	two := []float64{.2, .7}
	p, err := ProcessFromSet(labSet(append(factorial(three, three, three, three), factorial(two, two, two, two)...), greys), AllPatches)
	if err != nil {
		t.Fatal(err)
	}
	m := characterised(t, p, stockOfLab(press.Lab{60, 8, 24}), "White", "Cyan", "Magenta", "Yellow", "Black")
	h, planes := somePlates(5, 200, 100)
	img, err := m.Picture(h, planes, 2)
	if err != nil {
		t.Fatal(err)
	}
	golden.Text(t, "picture-of-characterised-set.sha256", fmt.Sprintf("%x\n", sha256.Sum256(img.Pix)))
}

// photograph makes plates of a white underlay and four process toners, all partial: light that wanders over the page, colour
// that wanders less, grain of two steps, and black in the shadows. Hardly two pixels are the same.
func photograph(width, height int) (h plate.Header, planes [][]byte) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		planes = append(planes, make([]byte, width*height))
	}
	light, own := 128.0, [3]float64{}
	for i := range planes[0] {
		if light += 3 * rnd.NormFloat64(); light < 0 || light > 255 {
			light = 128
		}
		planes[0][i] = 255
		for k := range own {
			own[k] = 0.99*own[k] + 4*rnd.NormFloat64()
			planes[1+k][i] = byte(min(max(light+own[k]+2*rnd.NormFloat64(), 1), 254))
		}
		planes[4][i] = byte(min(max(light-90+2*rnd.NormFloat64(), 1), 254))
	}
	return plate.Header{Width: width, Height: height, DPI: 300}, planes
}

// A hundred rows of an A4 page of 300 dpi, which has 3508.
func BenchmarkPhotoPage(b *testing.B) {
	p := processOf(b, published(b, "FOGRA39L"))
	m := characterised(b, p, stockOfLab(press.Lab{30, 0, 0}), "White", "Cyan", "Magenta", "Yellow", "Black")
	h, planes := photograph(2480, 100)
	if _, err := m.Picture(h, planes, 2); err != nil {
		b.Fatal(err)
	}
	best := math.Inf(1)
	for b.Loop() {
		start := time.Now()
		if _, err := m.Picture(h, planes, 2); err != nil {
			b.Fatal(err)
		}
		best = min(best, time.Since(start).Seconds())
	}
	b.ReportMetric(best*3508/100, "best-s/page")
}
