package look

import (
	"math"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// Computed once in another program from the same formulas for silver and gold, which agree to the digit written.
func TestFlopOfLobes(t *testing.T) {
	for _, c := range [][3]float64{
		{.20, .10, 16.2}, {.25, .25, 10.5}, {.30, .10, 9.8}, {.30, .25, 8.2}, {.30, .40, 6.6}, {.35, .25, 6.5}, {.35, .40, 5.2}, {.40, .25, 5.2},
	} {
		near(t, "flop index", FlopIndex(c[0], c[1]), c[2], .06)
	}
}

func TestFlopGivenIsReached(t *testing.T) {
	for _, flop := range []float64{1, 5, 8.2, 12} {
		alpha, diffuse, ok := lobeOf(&press.MetalLook{Flop: flop})
		if !ok {
			t.Errorf("%g is not reached", flop)
		}
		near(t, "flop index", FlopIndex(alpha, diffuse), flop, 1e-6)
	}
	// A width that was given stays.
	if alpha, _, ok := lobeOf(&press.MetalLook{Flop: 15, Roughness: .5}); ok || alpha != .5 {
		t.Errorf("a dull lobe of width %g reaches a flop of 15", alpha)
	}
	if alpha, diffuse, ok := lobeOf(nil); !ok || alpha != metalRoughness || diffuse != metalDiffuse {
		t.Error("the usual lobe")
	}
}

// The rule of reduction: lobe and diffuse part together are the colour an instrument sees.
func TestLobeIsItsPartOfTheColour(t *testing.T) {
	for _, name := range []string{"Silver", "Gold"} {
		m := model(t, whiteStock, toners(t, name)...)
		s := m.Surface([]uint8{255})
		if s.MetalShare != 1 || s.MetalAlpha != metalRoughness {
			t.Errorf("%s: share %g, width %g", name, s.MetalShare, s.MetalAlpha)
		}
		for c, r := range s.R45 {
			// k0 belongs to the surface, not to the flakes.
			want := (1 - metalDiffuse) * (float64(r) - .006)
			near(t, "lobe at 45/0", float64(s.Metal[c])*aspecularFactor(metalRoughness, 45), want, 3e-3)
		}
	}
}

func TestMetalShinesOnlyWhereItIsInSight(t *testing.T) {
	surface := func(names ...string) Surface {
		m := model(t, whiteStock, toners(t, names...)...)
		tints := make([]uint8, len(names))
		for i := range tints {
			tints[i] = 255
		}
		return m.Surface(tints)
	}
	bare := surface("Silver")
	if s := surface("Silver", "White"); s.Metal[1] > bare.Metal[1]/1000 || s.MetalShare > .001 {
		t.Errorf("silver under white has a lobe of %g, bare %g", s.Metal, bare.Metal)
	}
	if s := surface("White", "Silver"); s.Metal != bare.Metal {
		t.Errorf("silver over white has a lobe of %g, on the stock %g", s.Metal, bare.Metal)
	}
	if s := surface("Silver", "Cyan"); !(s.Metal[0] < bare.Metal[0]/3 && s.Metal[2] > bare.Metal[2]/2 && s.MetalShare > .8) {
		t.Errorf("cyan over silver has a lobe of %g, bare %g", s.Metal, bare.Metal)
	}
	if s := surface("Silver", "Clear"); s.Metal[1] < bare.Metal[1]*.9 || s.CoatAlpha >= bare.CoatAlpha {
		t.Errorf("clear over silver leaves a lobe of %g of %g", s.Metal, bare.Metal)
	}
	if s := surface("Cyan"); s.Metal != [3]float32{} || s.MetalShare != 0 {
		t.Errorf("cyan shines like metal: %+v", s)
	}
	if s := surface("Silver", "Gold"); s.Metal[2] >= s.Metal[0] {
		t.Errorf("gold over silver shines as %g", s.Metal)
	}
}

// Half a tint of metal is half the lobe: a mirror image has no gain. On black the colour is darker than the mean of
// areas, and the lobe stays within it.
func TestTintOfMetalHasItsShareOfTheLobe(t *testing.T) {
	m := model(t, whiteStock, toners(t, "Silver")...)
	full, half := m.Surface([]uint8{255}), m.Surface([]uint8{128})
	near(t, "lobe", float64(half.Metal[1]), float64(full.Metal[1])*128/255, 1e-6)
	near(t, "share", float64(half.MetalShare), 128./255, 1e-6)
	m = model(t, blackStock, toners(t, "Silver")...)
	for tint := range 256 {
		s := m.Surface([]uint8{uint8(tint)})
		for c, v := range s.Metal {
			if lobe := float64(v) * aspecularFactor(float64(s.MetalAlpha), 45); tint > 0 && lobe > float64(s.R45[c])+1e-6 {
				t.Fatalf("tint %d: the lobe's part at 45/0 is %g of %g", tint, lobe, s.R45[c])
			}
		}
	}
}

func TestClearSmoothsTheShareItCovers(t *testing.T) {
	stock := &press.Stock{Front: press.Lab{90, 0, 0}, Surface: press.SurfaceUncoated}
	m := model(t, stock, &press.Toner{Name: "Clear", Kind: colourant.Clear})
	bare, full := m.Surface([]uint8{0}).CoatAlpha, m.Surface([]uint8{255}).CoatAlpha
	near(t, "bare", float64(bare), .5, 1e-6)
	near(t, "clear", float64(full), .05, 1e-6)
	near(t, "a fifth of clear", float64(m.Surface([]uint8{51}).CoatAlpha), .8*.5+.2*.05, 1e-6)
}

// A metallised board is a mirror where nothing opaque lies on it, on its front only.
func TestMetallisedBoardShinesWhereItIsBare(t *testing.T) {
	stock := stockOf(t, "silver-metallised-board")
	m := model(t, stock, toners(t, "White", "Yellow")...)
	bare := m.Surface([]uint8{0, 0})
	if bare.MetalShare != 1 || bare.MetalAlpha != foilRoughness || bare.Metal[1] < .5 {
		t.Errorf("bare: %+v", bare)
	}
	if s := m.Surface([]uint8{255, 0}); s.MetalShare > .001 {
		t.Errorf("under white: %+v", s)
	}
	if s := m.Surface([]uint8{0, 255}); s.Metal[2] > s.Metal[0]/3 {
		t.Errorf("under yellow: %+v", s)
	}
	// Its facets are too fine to glint one by one.
	h := newShine(&bare)
	glints := newGlint(Light{Radius: 4, Glint: Glint{Flake: 25}})
	foil := newPoisson(glints.expected(&h, &measuring, 0, 85*85))
	if foil.spread > .5 { // of the deviation of 1024 facets, a thirty-second
		t.Errorf("a foil glints: spread %.3f", foil.spread)
	}
	back, err := NewModel(stock, press.Back, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s := back.Surface(nil); s.MetalShare != 0 || math.Abs(back.Lab(nil)[0]-93) > .01 {
		t.Errorf("the back: %+v", s)
	}
}
