package look

import (
	"bytes"
	"image/color"
	"testing"

	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

func labOf8(c color.RGBA, see *[3][3]float64) press.Lab {
	var v [3]float64
	for i, x := range [3]uint8{c.R, c.G, c.B} {
		// The inverse of the table of 8-bit values.
		lo, hi := 0, linearScale
		for lo < hi {
			m := (lo + hi) / 2
			if encoded[m] < x {
				lo = m + 1
			} else {
				hi = m
			}
		}
		v[i] = float64(lo) / linearScale
	}
	if see == nil {
		return labFromLinear(v)
	}
	var out [3]float64
	for i := range out {
		for k := range v {
			out[i] += see[i][k] * v[k]
		}
	}
	return labFromLinear(out)
}

// Colours as people without the red or the green receptor see them, in linear sRGB (Viénot, Brettel and Mollon 1999;
// figures from memory).
var dichromats = map[string]*[3][3]float64{
	"all receptors":       nil,
	"no red receptor":     {{.11238, .88762, 0}, {.11238, .88762, 0}, {.00401, -.00401, 1}},
	"no green receptor":   {{.29275, .70725, 0}, {.29275, .70725, 0}, {-.02234, .02234, 1}},
	"no colour vision, Y": {{.2126, .7152, .0722}, {.2126, .7152, .0722}, {.2126, .7152, .0722}},
}

func TestHeatScaleDarkensEvenlyForEveryReader(t *testing.T) {
	encodedOnce.Do(makeEncoded)
	for who, see := range dichromats {
		last := labOf8(HeatColour(0), see)[0]
		for i := 1; i <= 20; i++ {
			l := labOf8(HeatColour(float64(i)/20), see)[0]
			if l > last-1.5 {
				t.Errorf("%s: step %d goes from lightness %.1f to %.1f", who, i, last, l)
			}
			last = l
		}
	}
	// 85 in 20 steps is 4.25; 8-bit rounding and the soft knee of the gamut move a step.
	for i := range 20 {
		a, b := labOf8(HeatColour(float64(i)/20), nil)[0], labOf8(HeatColour(float64(i+1)/20), nil)[0]
		near(t, "step", a-b, 4.25, .8)
	}
}

func TestHeatAddsPlatesAndFindsTheMost(t *testing.T) {
	h, _ := somePlates(7, 8, 4)
	planes := make([][]byte, 7)
	for i := range 3 {
		planes[i] = bytes.Repeat([]byte{51}, 32) // 20 %
	}
	planes[0][9], planes[5] = 255, make([]byte, 32)
	planes[5][9] = 255
	s := &HeatSink{Limit: 100, Title: "All"}
	replay(t, s, h, planes, 3)
	near(t, "most", s.Most, 240, 1e-9)
	near(t, "over", s.Over, 1.0/32, 1e-12)
	if c := s.Image.RGBAAt(6, 2); c != HeatColour(60.0/250) {
		t.Errorf("60 %% of 250 is %v, want %v", c, HeatColour(60.0/250))
	}
	one := &HeatSink{Plates: []int{5}}
	replay(t, one, h, planes, 4)
	near(t, "one plate", one.Most, 100, 1e-9)
	if c := one.Image.RGBAAt(1, 1); c != HeatColour(1) {
		t.Errorf("a solid is %v", c)
	}
}

func TestReducedHeatKeepsTheMost(t *testing.T) {
	h, _ := somePlates(7, 9, 9)
	planes := make([][]byte, 7)
	planes[2] = make([]byte, 81)
	planes[2][80] = 200
	s := &HeatSink{Plates: []int{2}, Reduce: 4}
	replay(t, s, h, planes, 2)
	near(t, "most", s.Most, 200/2.55, 1e-9)
	if c := s.Image.RGBAAt(2, 2); c != HeatColour(200.0/255) {
		t.Errorf("the corner is %v", c)
	}
}

func TestHeatDrawsALineAroundWhatIsOver(t *testing.T) {
	h, _ := somePlates(7, 20, 20)
	planes := make([][]byte, 7)
	planes[0] = make([]byte, 400)
	for y := 5; y < 15; y++ {
		for x := 5; x < 15; x++ {
			planes[0][20*y+x] = 255
		}
	}
	s := &HeatSink{Limit: 90}
	replay(t, s, h, planes, 20)
	if in, out := s.Image.RGBAAt(5, 9), s.Image.RGBAAt(4, 9); in != labelPaper || out != (color.RGBA{0, 0, 0, 255}) {
		t.Errorf("edge is %v inside and %v outside", in, out)
	}
	if s.Image.RGBAAt(9, 9) != HeatColour(1) {
		t.Error("the middle has lost its colour")
	}
}

func TestHeatRefusesWhatDoesNotFit(t *testing.T) {
	h, _ := somePlates(7, 8, 4)
	for _, s := range []*HeatSink{{Plates: []int{-1}}, {Plates: []int{70}}, {Limit: -1}} {
		if err := s.Begin(h); err == nil {
			t.Errorf("%+v is taken", s)
		}
	}
	s := &HeatSink{}
	if err := s.Band(&plate.Band{Rows: 1}); err == nil {
		t.Error("a band before Begin")
	}
}
