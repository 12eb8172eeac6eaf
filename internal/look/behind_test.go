package look

import (
	"bytes"
	"math"
	"testing"

	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

func thinStock(opacity press.Percent) *press.Stock {
	return &press.Stock{Name: "thin", Front: press.Lab{93, 0, 1}, Surface: press.SurfaceUncoated, Opacity: opacity, Thickness: .08}
}

// behindOf is the print of one toner at these tints on the other side of a page.
func behindOf(t *testing.T, s *press.Stock, toner string, w, h int, tints []byte) *Behind {
	t.Helper()
	sink, err := NewBehindSink(Conditions{Stock: s, Side: press.Back, Layers: []Layer{{toners(t, toner)[0], 0}}}, 2)
	if err != nil {
		t.Fatal(err)
	}
	if err := sink.Begin(plate.Header{Width: w, Height: h, DPI: 300}); err != nil {
		t.Fatal(err)
	}
	if err := sink.Band(&plate.Band{Rows: h, Planes: [][]byte{tints}}); err != nil {
		t.Fatal(err)
	}
	if err := sink.End(); err != nil {
		t.Fatal(err)
	}
	return sink.Behind()
}

// The opacity given is the ratio of luminance on black to that on white (ISO 2471, where the white is a pile of the same
// stock), and on white the sheet has its colour.
func TestSheetHasItsOpacity(t *testing.T) {
	for _, opacity := range []press.Percent{60, 80, 93, 98} {
		m := model(t, thinStock(opacity))
		bright, dark, err := m.grounds()
		if err != nil {
			t.Fatal(err)
		}
		b, d := bright.primary(0), dark.primary(0)
		near(t, "opacity", 100*d.r.luminance()/b.r.luminance(), float64(opacity), .01)
		if Difference(bright.Lab(nil), m.stock) > .01 {
			t.Errorf("on white it is %v", bright.Lab(nil))
		}
	}
	if _, _, err := model(t, thinStock(100)).grounds(); err == nil {
		t.Error("opaque stock lets something through")
	}
	if _, err := NewBehindSink(Conditions{Stock: thinStock(0), Side: press.Back}, 1); err == nil {
		t.Error("stock without an opacity lets something through")
	}
}

// The blend of two grounds against the stack reckoned on the very ground, for solids and tints.
func TestBlendOfTwoGroundsIsTheSheetOnTheGround(t *testing.T) {
	for _, opacity := range []press.Percent{70, 90} {
		s := thinStock(opacity)
		front := model(t, s, toners(t, "Cyan", "Yellow", "Silver")...)
		bright, dark, err := front.grounds()
		if err != nil {
			t.Fatal(err)
		}
		blend := newBetween(bright, dark)
		for _, name := range []string{"Black", "Magenta", "White", "Silver"} {
			p := behindOf(t, s, name, 32, 32, bytes.Repeat([]byte{255}, 32*32))
			other := model(t, satin(press.Lab{95, 0, -2}), toners(t, name)...)
			ri := other.films[0].over(referenceWhite())
			exact := front.on(front.sheetOf(s).over(&ri))
			for _, tints := range [][]uint8{{0, 0, 0}, {255, 0, 0}, {60, 120, 0}, {0, 0, 255}, {128, 0, 128}} {
				k := newEvaluator(front).load(tints)
				// Levels are told in 200 steps.
				if got, want := labFromLinear(blend.linearAt(k, p.at(16, 16))), exact.Lab(tints); Difference(got, want) > .2 {
					t.Errorf("opacity %v, %s behind, tints %v: %.2f, want %.2f", opacity, name, tints, got, want)
				}
			}
		}
	}
}

func TestPrintBehindShowsMirroredAndSoft(t *testing.T) {
	const w, h = 90, 20
	tints := make([]byte, w*h)
	for i := range tints {
		if i%w < w/2 {
			tints[i] = 255
		}
	}
	s := thinStock(85)
	m := model(t, s, toners(t, "Cyan")...)
	plain, err := m.Picture(plate.Header{Width: w, Height: h, DPI: 300}, [][]byte{nil}, 1)
	if err != nil {
		t.Fatal(err)
	}
	show := func(workers, reduce int) []byte {
		sink := NewPictureSink(m, workers)
		sink.Reduce, sink.Behind = reduce, behindOf(t, s, "Black", w, h, tints)
		if err := sink.Begin(plate.Header{Width: w, Height: h, DPI: 300}); err != nil {
			t.Fatal(err)
		}
		if err := sink.Band(&plate.Band{Rows: h, Planes: [][]byte{nil}}); err != nil {
			t.Fatal(err)
		}
		return sink.Image().Pix
	}
	pix := show(1, 1)
	green := func(x int) int { return int(pix[4*(h/2*w+x)+1]) }
	bare := int(plain.Pix[1])
	if d := green(5) - bare; d < -1 || d > 1 {
		t.Errorf("over the bare half it is %d, alone %d", green(5), bare)
	}
	if green(w-5) > bare-8 {
		t.Errorf("over the printed half it is %d, alone %d", green(w-5), bare)
	}
	for x := 1; x < w; x++ {
		if step := green(x-1) - green(x); step < 0 || step > (bare-green(w-5))*2/3 {
			t.Errorf("from pixel %d on it falls by %d", x-1, step)
		}
	}
	for _, reduce := range []int{1, 3} {
		if !bytes.Equal(show(1, reduce), show(3, reduce)) {
			t.Errorf("reduced by %d, three workers differ from one", reduce)
		}
	}
}

// With the lamp of the instrument the lit picture is the plain one, with something behind too.
func TestLitPictureShowsWhatIsBehind(t *testing.T) {
	const w, h = 60, 16
	tints, front := make([]byte, w*h), make([]byte, w*h)
	for i := range tints {
		tints[i], front[i] = byte(i%w*4), byte(i/w*16)
	}
	s := thinStock(85)
	m := model(t, s, toners(t, "Cyan")...)
	header := plate.Header{Width: w, Height: h, DPI: 300}
	behind := behindOf(t, s, "Black", w, h, tints)
	plain := NewPictureSink(m, 1)
	plain.Behind = behind
	lit, err := NewLitSink(m, MeasuredLight(), 2)
	if err != nil {
		t.Fatal(err)
	}
	lit.Behind = behind
	for _, sink := range []plate.Sink{plain, lit} {
		if err := sink.Begin(header); err != nil {
			t.Fatal(err)
		}
		if err := sink.Band(&plate.Band{Rows: h, Planes: [][]byte{front}}); err != nil {
			t.Fatal(err)
		}
		if err := sink.End(); err != nil {
			t.Fatal(err)
		}
	}
	for i, v := range plain.Image().Pix {
		if d := int(v) - int(lit.Image().Pix[i]); d < -1 || d > 1 {
			t.Fatalf("byte %d is %d, lit %d", i, v, lit.Image().Pix[i])
		}
	}
}

func TestBackingOfOpaqueStockIsTold(t *testing.T) {
	m, err := NewModelFor(Conditions{Stock: thinStock(100), Backing: &press.Lab{20, 0, 0}})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Notes()) != 1 || Difference(m.Lab(nil), m.Stock()) > .01 {
		t.Errorf("%v, notes %q", m.Lab(nil), m.Notes())
	}
}

func TestBehindRefusesAnotherSize(t *testing.T) {
	s := thinStock(85)
	sink := NewPictureSink(model(t, s), 1)
	sink.Behind = behindOf(t, s, "Black", 8, 8, make([]byte, 64))
	if err := sink.Begin(plate.Header{Width: 8, Height: 9}); err == nil {
		t.Error("a page of another height is accepted")
	}
}

func TestFilmShowsWhatLiesBehind(t *testing.T) {
	film := stockOf(t, "clear-film")
	on := func(backing *press.Lab, through bool, tints []uint8, names ...string) press.Lab {
		var layers []Layer
		for i, toner := range toners(t, names...) {
			layers = append(layers, Layer{toner, i})
		}
		m, err := NewModelFor(Conditions{Stock: film, Layers: layers, Backing: backing, Through: through})
		if err != nil {
			t.Fatal(err)
		}
		return m.Lab(tints)
	}
	white, red := press.Lab{95, 0, -2}, press.Lab{45, 60, 40}
	// As the stock tells: its colour on a dark ground, and its opacity between white and dark.
	if got := on(nil, false, nil); Difference(got, film.Front) > .01 {
		t.Errorf("bare on the dark it is %.2f", got)
	}
	y := func(c press.Lab) float64 { return xyzFromLab(c)[1] }
	near(t, "opacity", 100*y(film.Front)/y(on(&white, false, nil)), float64(film.Opacity), .5)
	if got := on(&red, false, nil); got[1] < 35 {
		t.Errorf("on red it is %.1f", got)
	}
	// Seen through the film, the first layer is foremost: white on pink shows from above, pink on white from below.
	both := []uint8{255, 255}
	above, below := on(nil, false, both, "Fluorescent Pink", "White"), on(nil, true, both, "Fluorescent Pink", "White")
	if math.Hypot(above[1], above[2]) > 30 || below[1] < 50 {
		t.Errorf("pink, then white: %.1f from above, %.1f through the film", above, below)
	}
	if got := on(&red, true, []uint8{255}, "White"); got[1] > 35 {
		t.Errorf("red shows through white: %.1f", got)
	}
	if _, err := NewModelFor(Conditions{Stock: stockOf(t, "kraft"), Through: true}); err == nil {
		t.Error("a board is looked through")
	}
	// A flake seen through the film shines, one behind a white does not.
	shine := func(names ...string) float32 {
		var layers []Layer
		for i, toner := range toners(t, names...) {
			layers = append(layers, Layer{toner, i})
		}
		m, err := NewModelFor(Conditions{Stock: film, Layers: layers, Through: true})
		if err != nil {
			t.Fatal(err)
		}
		return m.Surface(both).Metal[1]
	}
	if s := shine("Silver", "White"); s < .2 {
		t.Errorf("silver before white has a lobe of %g", s)
	}
	if s := shine("White", "Silver"); s > .001 {
		t.Errorf("silver behind white has a lobe of %g", s)
	}
}
