package browser

import (
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/app"
	"laydown/internal/look"
	"laydown/internal/press"
)

// labOf is the CIELAB (D50) of an sRGB byte triple, by the matrix of IEC 61966-2-1 adapted after Bradford (ICC.1:2022, Annex E).
func labOf(r, g, b uint8) press.Lab {
	lin := func(v uint8) float64 {
		c := float64(v) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	R, G, B := lin(r), lin(g), lin(b)
	x := f((0.4360747*R + 0.3850649*G + 0.1430804*B) / 0.9642956)
	y := f(0.2225045*R + 0.7168786*G + 0.0606169*B)
	z := f((0.0139322*R + 0.0971045*G + 0.7141733*B) / 0.8251046)
	return press.Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// difference is how far two pictures are apart in CIEDE2000.
type difference struct{ mean, p95, worst float64 }

func (d difference) String() string {
	return fmt.Sprintf("mean %.3f, 95 of 100 below %.3f, worst %.2f", d.mean, d.p95, d.worst)
}

// compare holds the pixels of got from at on against want.
func compare(t *testing.T, want, got image.Image, at image.Point) difference {
	t.Helper()
	var all []float64
	memory := map[[6]uint8]float64{}
	b := want.Bounds()
	if !b.Add(at).In(got.Bounds()) {
		t.Fatalf("a picture of %v does not lie in one of %v at %v", b, got.Bounds(), at)
	}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := want.At(x, y).RGBA()
			r2, g2, bl2, _ := got.At(x+at.X, y+at.Y).RGBA()
			k := [6]uint8{uint8(r >> 8), uint8(g >> 8), uint8(bl >> 8), uint8(r2 >> 8), uint8(g2 >> 8), uint8(bl2 >> 8)}
			d, ok := memory[k]
			if !ok {
				d = look.Difference(labOf(k[0], k[1], k[2]), labOf(k[3], k[4], k[5]))
				memory[k] = d
			}
			all = append(all, d)
		}
	}
	slices.Sort(all)
	sum := 0.0
	for _, d := range all {
		sum += d
	}
	return difference{sum / float64(len(all)), all[len(all)*95/100], all[len(all)-1]}
}

// looked is the picture that look makes of a page.
func (k *ticket) looked(t *testing.T, page int, dpi float64, view app.LookView) image.Image {
	t.Helper()
	out := filepath.Join(t.TempDir(), "look.png")
	view.Alone = true
	if _, err := app.WriteLook(t.Context(), app.LookRequest{File: k.file, Setup: k.setup, Page: page, DPI: dpi, Box: app.BoxWork, View: view, Out: out}); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// Is the page, measured or under a lamp, the picture that look makes?
func TestSheetLooksAsLookMakesIt(t *testing.T) {
	k := openTicket(t, nil)
	s := k.serve(t)
	p := open(t, s.URL, 1500, 800, 1)
	// 150 dpi: a texel a pixel.
	p.eval(`window.v = stand({ kind: "webgl2" }); window.s = await source(1); v.show(s)
		v.set({ zoom: 150 / 25.4 }); if (v.kind !== "webgl2") throw new Error(v.kind)`, nil)
	for name, c := range map[string]struct {
		light string
		view  app.LookView
	}{
		"measured": {`{ lit: false }`, app.LookView{}},
		"corner":   {`{ lit: true }`, app.LookView{Lit: true}},
		"right":    {`{ lit: true, up: 48, round: 100 }`, app.LookView{Lit: true, Lamp: &app.LampPlace{Up: 48, Round: 100}}},
		"tilted":   {`{ lit: true, up: 60, round: -20, tiltTop: 12, tiltRight: -9 }`, app.LookView{Lit: true, Lamp: &app.LampPlace{Up: 60, Round: -20}, TiltTop: 12, TiltRight: -9}},
	} {
		want := k.looked(t, 1, 150, c.view)
		got := p.shown(`v.light = { up: 66, round: -40, tiltTop: 0, tiltRight: 0, ...` + c.light + ` }; await v.idle(); return v.pixels()`)
		var at struct{ X, Y float64 }
		p.eval(`return v.toScreen(s.region)`, &at)
		d := compare(t, want, got, image.Pt(int(math.Round(at.X)), int(math.Round(at.Y))))
		t.Logf("%s: %v", name, d)
		keep(t, "look-"+name, map[string]image.Image{"want": want, "got": got})
	}
}
