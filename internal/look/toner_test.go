package look

import (
	"math"
	"strings"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// satin is a stock whose surface is that of a usual toner, so that colours carried between grounds keep their k0.
func satin(c press.Lab) *press.Stock {
	return &press.Stock{Name: "satin", Front: c, Surface: press.SurfaceCoated, Gloss: press.GlossSatin}
}

var (
	whiteStock = satin(press.Lab{95, 0, -2})
	kraftStock = satin(press.Lab{62, 8, 24})
	blackStock = satin(press.Lab{17, 0, 1})
)

// Colours of the default solids, computed once with 36 bands in another program, the same surface everywhere, rounded to
// a tenth (the three of silver on kraft and black to its lightness): what is published nowhere cannot be checked better. Metals let
// a twentieth through there and a little more here; clear scatters less here.
func TestDefaultSolidsOnOtherStocks(t *testing.T) {
	for _, c := range []struct {
		toner                  press.Toner
		white, kraft, black    press.Lab
		onWhite, kraftDE, dark float64
	}{
		{press.Toner{Name: "White", Kind: colourant.OpaqueWhite}, press.Lab{94.5, -.6, -.3}, press.Lab{82.2, .9, 1.6}, press.Lab{78.5, -1.1, -2.2}, .1, .1, .1},
		{press.Toner{Name: "Silver", Kind: colourant.Metallic}, press.Lab{58, 0, -1}, press.Lab{57.6, 0, -1}, press.Lab{57.5, 0, -1}, .1, .3, .3},
		{press.Toner{Name: "Gold", Kind: colourant.Metallic, StandIn: [4]press.Percent{20, 35, 80, 15}}, press.Lab{52, 5, 29}, press.Lab{52, 4.7, 28.7}, press.Lab{51.9, 4.7, 28.6}, .1, .4, .5},
		{press.Toner{Name: "Clear", Kind: colourant.Clear, Appearance: press.Appearance{Gloss: press.GlossSatin}}, press.Lab{95, 0, -2}, press.Lab{61.9, 7.9, 23.5}, press.Lab{18.6, 0, 1}, .7, .3, 1},
		{press.Toner{Name: "Pink", Kind: colourant.Fluorescent}, press.Lab{66.7, 80.9, -2.3}, press.Lab{51.4, 58.5, 11.6}, press.Lab{34.8, 32.5, 1.6}, .1, .1, .1},
		{press.Toner{Name: "Cyan", Kind: colourant.Process}, press.Lab{55, -37, -50}, press.Lab{36.2, -32, -15.4}, press.Lab{14.9, -8.6, -8.6}, .1, .1, .1},
		{press.Toner{Name: "Magenta", Kind: colourant.Process}, press.Lab{48, 74, -3}, press.Lab{35.6, 52.8, 10.7}, press.Lab{14.2, 15, -2.4}, .1, .1, .1},
		{press.Toner{Name: "Yellow", Kind: colourant.Process}, press.Lab{89, -5, 93}, press.Lab{60.9, 5.9, 64.3}, press.Lab{26.3, -2.5, 18.2}, .1, .1, .1},
		{press.Toner{Name: "Black", Kind: colourant.Process}, press.Lab{16, 0, 0}, press.Lab{12.7, .9, 3}, press.Lab{7.9, 0, .1}, .1, .1, .1},
	} {
		for _, on := range []struct {
			stock *press.Stock
			want  press.Lab
			limit float64
		}{{whiteStock, c.white, c.onWhite}, {kraftStock, c.kraft, c.kraftDE}, {blackStock, c.black, c.dark}} {
			if got := model(t, on.stock, &c.toner).Solid(0); Difference(got, on.want) > on.limit {
				t.Errorf("%s on L* %g: %.1f, want %.1f within %g", c.toner.Name, on.stock.Front[0], got, on.want, on.limit)
			}
		}
	}
}

// What an instrument measures on white is reflectance and glow together: it comes back, whatever of the two is known.
func TestGlowingSolidHasItsColourInAll(t *testing.T) {
	reference := &press.Stock{Front: press.Lab{95, 0, -2}, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
	for _, c := range []struct {
		onWhite press.Lab
		glow    *press.GlowLook
	}{
		{press.Lab{67, 81, -2}, nil},
		{press.Lab{72, 70, 40}, nil},
		{press.Lab{88, -70, 70}, nil},
		{press.Lab{101, -20, 105}, nil},
		{press.Lab{67, 81, -2}, &press.GlowLook{Yield: 30}},
		{press.Lab{67, 81, -2}, &press.GlowLook{Peak: 610}},
	} {
		toner := &press.Toner{Name: "F", Kind: colourant.Fluorescent, Appearance: press.Appearance{OnWhite: &c.onWhite, Glow: c.glow}}
		m := model(t, reference, toner)
		// Where the layer would have to be brighter than the stock it stays a little below.
		if d := Difference(m.Solid(0), c.onWhite); d > .2 {
			t.Errorf("%v with %+v comes back as %.2f (%s)", c.onWhite, c.glow, m.Solid(0), strings.Join(m.Notes(), " "))
		}
	}
}

func TestGlowIsWeakenedByWhatLiesAbove(t *testing.T) {
	list := toners(t, "Fluorescent Pink", "Black", "White")
	glowOf := func(above ...*press.Toner) float64 {
		m := model(t, whiteStock, append([]*press.Toner{list[0]}, above...)...)
		all := int32(1)<<(1+len(above)) - 1
		with := m.primary(all)
		m.films[0].glow.yield = 0
		m.stacks.thin = map[thickness]*film{}
		without := m.primary(all)
		return with.r.luminance() - without.r.luminance()
	}
	bare := glowOf()
	if bare < .05 {
		t.Fatalf("the bare solid glows by %.3f only", bare)
	}
	if g := glowOf(list[1]); g > bare/50 {
		t.Errorf("under black it glows by %.4f, bare %.4f", g, bare)
	}
	if g := glowOf(list[2]); g > bare/3 {
		t.Errorf("under white it glows by %.4f, bare %.4f", g, bare)
	}
}

// A spectrum measured with its glow comes back band by band where a surface can have it.
func TestGlowingSpectrumComesBack(t *testing.T) {
	source := filmOf(&press.Toner{Kind: colourant.Fluorescent})
	ri, e := source.over(referenceWhite()), source.glowOn(referenceWhite())
	total := measured(&ri, source.k0)
	for b := range total {
		total[b] += e[b]
	}
	toner := &press.Toner{Name: "F", Kind: colourant.Fluorescent, Appearance: press.Appearance{Spectra: &press.TonerSpectra{From: 380, Step: 10, OnWhite: total[:]}}}
	reference := &press.Stock{Front: press.Lab{95, 0, -2}, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
	p := model(t, reference, toner).primary(1)
	for b, v := range p.r {
		near(t, "radiance factor", v, total[b], 2e-3)
	}
	if y := filmOf(toner).glow.yield; math.Abs(y-defaultYield) > .08 {
		t.Errorf("the yield found is %.2f, the spectrum was made with %.2f", y, defaultYield)
	}
}

func TestSpectraOfASolidComeBack(t *testing.T) {
	source := &film{kind: colourant.Spot, k0: .006}
	for b := range source.k {
		source.k[b], source.s[b] = .1+2*bell(wavelengths[b], 560, 60), .8
	}
	source.fill()
	on := func(g *spectrum) []float64 {
		ri := source.over(g)
		r := measured(&ri, .006)
		return r[:]
	}
	toner := &press.Toner{Name: "Plum", Kind: colourant.Spot, Appearance: press.Appearance{
		Spectra: &press.TonerSpectra{From: 380, Step: 10, OnWhite: on(referenceWhite()), OnBlack: on(referenceBlack())}}}
	f := filmOf(toner)
	for b := range f.k {
		near(t, "K X", f.k[b], source.k[b], 1e-6)
		near(t, "S X", f.s[b], source.s[b], 1e-6)
	}
	// Twice as coarse, from 400 nm: straight between.
	coarser := &press.TonerSpectra{From: 400, Step: 20}
	for i := 2; i < bands; i += 2 {
		coarser.OnWhite = append(coarser.OnWhite, toner.Appearance.Spectra.OnWhite[i])
	}
	r := resampled(coarser.From, coarser.Step, coarser.OnWhite)
	near(t, "between values", r[5], (coarser.OnWhite[1]+coarser.OnWhite[2])/2, 1e-12)
	near(t, "before the first", r[0], coarser.OnWhite[0], 0)
	near(t, "beyond the last", r[35], coarser.OnWhite[len(coarser.OnWhite)-1], 0)
}

func TestKnowledgeSaysWhatItRestsOn(t *testing.T) {
	onWhite, onBlack := press.Lab{60, 20, 20}, press.Lab{40, 10, 10}
	grey := make([]float64, 36)
	for i := range grey {
		grey[i] = .4
	}
	spectra := &press.TonerSpectra{From: 380, Step: 10, OnWhite: grey, OnBlack: grey}
	for _, c := range []struct {
		a     press.Appearance
		kind  colourant.Kind
		stock *press.Stock
		basis Basis
		mean  float64
		words string
	}{
		{press.Appearance{}, colourant.Spot, whiteStock, KindOnly, 0, "stand-in"},
		{press.Appearance{}, colourant.OpaqueWhite, whiteStock, KindOnly, 0, "Nothing is known but the kind"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Spot, whiteStock, LabOnWhite, .1, "enough on white"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Spot, kraftStock, LabOnWhite, 0, "middle"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Spot, blackStock, LabOnWhite, 0, "dark"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Process, kraftStock, LabOnWhite, .6, "middle"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Process, blackStock, LabOnWhite, 2.1, "dark"},
		{press.Appearance{OnWhite: &onWhite, Opacity: 60}, colourant.Spot, blackStock, LabAndOpacity, 3, "opacity"},
		{press.Appearance{OnWhite: &onWhite, OnBlack: &onBlack}, colourant.Spot, blackStock, LabOnBoth, .7, "on white and on black"},
		{press.Appearance{Spectra: spectra}, colourant.Spot, blackStock, SpectraOnBoth, .4, "spectra"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Metallic, blackStock, LabOnWhite, 0, "flop index"},
		{press.Appearance{OnWhite: &onWhite, Metal: &press.MetalLook{Flop: 8}}, colourant.Metallic, blackStock, LabOnWhite, 0, "flakes"},
		{press.Appearance{OnWhite: &onWhite}, colourant.Fluorescent, blackStock, LabOnWhite, 0, "D50"},
	} {
		name := "T"
		if c.kind == colourant.Process {
			name = colourant.Cyan
		}
		k := model(t, c.stock, &press.Toner{Name: name, Kind: c.kind, StandIn: [4]press.Percent{0, 50, 50, 0}, Appearance: c.a}).Knowledge()
		if len(k) != 1 || k[0].Toner != name || k[0].Basis != c.basis || k[0].Expected != c.mean || !strings.Contains(k[0].Words, c.words) {
			t.Errorf("%v %v: %+v, want %g and %q", c.kind, c.basis, k, c.mean, c.words)
		}
		if k[0].Expected > k[0].Worst {
			t.Errorf("%+v", k[0])
		}
	}
}
