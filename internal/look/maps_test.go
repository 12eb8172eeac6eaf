package look

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"laydown/internal/plates/plate"
)

func mapOf(t testing.TB, src surfaceSource, h plate.Header, planes [][]byte, reduce, rows, workers int) []byte {
	t.Helper()
	var buf bytes.Buffer
	s := newMapSink(src, &buf, MapHeader{Stock: "board", Laydown: []string{"White", "Gold"}, Glint: MapGlint{25, 15, 1}, Notes: []string{"a note"}}, workers)
	s.Reduce = reduce
	replay(t, s, h, planes, rows)
	return buf.Bytes()
}

func openMap(t testing.TB, data []byte) *Map {
	t.Helper()
	m, err := OpenMap(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Twelve bits of the square root; 0.117 at worst and 0.014 in the mean were found when this was written.
func TestMapsKeepTheMeasuredColour(t *testing.T) {
	worst, sum, n := 0.0, 0.0, 0
	for _, v := range someLinear(200000, -.02, 1.3) {
		if .2126*v[0]+.7152*v[1]+.0722*v[2] < .003 {
			continue
		}
		s := Surface{R45: [3]float32{float32(v[0]), float32(v[1]), float32(v[2])}}
		code := codeFromSurface(&s)
		back := code.surface()
		d := Difference(labFromLinear(v), labFromLinear([3]float64{float64(back.R45[0]), float64(back.R45[1]), float64(back.R45[2])}))
		worst, sum, n = max(worst, d), sum+d, n+1
	}
	mean := sum / float64(n)
	t.Logf("worst %.3f, mean %.3f CIEDE2000", worst, mean)
	if worst > .13 || mean > .02 {
		t.Error("maps lose colour")
	}
}

// Eight bits of the square roots of widths and amplitudes: a metal in full light. 1.01 at worst and 0.15 in the mean were
// found when this was written.
func TestMapsKeepTheShine(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	const n = 20000
	worst, sum := 0.0, 0.0
	for range n {
		bright := .1 + .4*r.Float64()
		s := Surface{MetalShare: 1, MetalAlpha: float32(.2 + .25*r.Float64()), CoatAlpha: float32(.05 + .3*r.Float64())}
		for c, tint := range [3]float64{1, .6 + .4*r.Float64(), .3 + .7*r.Float64()} {
			s.R45[c] = float32(bright * tint)
			s.Metal[c] = float32(.75 * bright * tint / aspecularFactor(float64(s.MetalAlpha), 45))
		}
		code := codeFromSurface(&s)
		back := code.surface()
		for _, tilt := range []float64{0, 15, -15} {
			light := StripLight()
			lamp, err := newLamp(light.Tilted(tilt))
			if err != nil {
				t.Fatal(err)
			}
			var lab [2][3]float64
			for i, s := range []*Surface{&s, &back} {
				h := newShine(s)
				p := lamp.shade(&h, &lamp.far)
				for c := range p.base {
					p.base[c] += p.flakes[c]
				}
				lab[i] = tone(p.base, p.knee)
			}
			d := Difference(labFromLinear(lab[0]), labFromLinear(lab[1]))
			worst, sum = max(worst, d), sum+d/(3*n)
		}
	}
	t.Logf("worst %.2f, mean %.2f CIEDE2000", worst, sum)
	if worst > 1.1 || sum > .2 {
		t.Error("maps lose shine")
	}
}

func TestMapCodesOfExactValues(t *testing.T) {
	for _, s := range []Surface{{}, {R45: [3]float32{1, 0, 1}, MetalShare: 1, MetalAlpha: 1, CoatAlpha: 1, Metal: [3]float32{2, 0, 2}}} {
		code := codeFromSurface(&s)
		if got := code.surface(); got != s {
			t.Errorf("%+v becomes %+v", s, got)
		}
	}
	// What no surface is stays within the codes.
	s := Surface{R45: [3]float32{-5, 9, float32(math.Inf(1))}, Metal: [3]float32{-1, 7, 0}, MetalShare: 3, CoatAlpha: -1}
	code := codeFromSurface(&s)
	back := code.surface()
	near(t, "least", float64(back.R45[0]), -.2502, 1e-4)
	near(t, "most", float64(back.R45[1]), 2.2507, 1e-4)
}

func TestMapsReadBackAsWritten(t *testing.T) {
	src := testModel(t)
	h, planes := somePlates(7, 300, 270) // four tiles
	h.DPI, h.OriginX = 300, 12
	m := openMap(t, mapOf(t, src, h, planes, 1, 100, 2))
	if m.Tiles != 4 || m.Header.Width != 300 || m.Header.Height != 270 || m.Header.Tile != mapTile || m.Header.Stock != "board" || m.Header.Box != (MapBox{12, 0, 72, 64.8}) || m.Header.Notes[0] != "a note" {
		t.Fatalf("%+v with %d tiles", m.Header, m.Tiles)
	}
	surface := src.surfaces()
	for i := range m.Tiles {
		tile, err := m.Tile(i)
		if err != nil {
			t.Fatal(err)
		}
		for y := range tile.Height {
			for x := 0; x < tile.Width; x += 7 {
				var k key
				for in, number := range src.inputs {
					if p := planes[number]; p != nil {
						k.set(in, p[(tile.Y+y)*h.Width+tile.X+x])
					}
				}
				s := surface(k)
				code := codeFromSurface(&s)
				if got, want := tile.Surface(x, y), code.surface(); got != want {
					t.Fatalf("tile %d pixel %d,%d is %+v, want %+v", i, x, y, got, want)
				}
			}
		}
	}
}

func TestMapsAreTheSameForAnyWorkersAndBands(t *testing.T) {
	src := plainSource{}
	h, planes := somePlates(7, 290, 261)
	for _, reduce := range []int{1, 3} {
		want := mapOf(t, src, h, planes, reduce, 261, 1)
		for _, c := range [][2]int{{2, 1}, {5, 50}} {
			if got := mapOf(t, src, h, planes, reduce, c[1], c[0]); !bytes.Equal(got, want) {
				t.Errorf("reduced by %d: %d workers with bands of %d rows differ", reduce, c[0], c[1])
			}
		}
	}
}

func TestReducedMapsAverage(t *testing.T) {
	m := model(t, stockOf(t, "white-gloss"), toners(t, "Black")...)
	p := []byte{0, 255, 255, 0}
	data := mapOf(t, m, plate.Header{Width: 2, Height: 2}, [][]byte{p}, 2, 1, 1)
	tile, err := openMap(t, data).Tile(0)
	if err != nil {
		t.Fatal(err)
	}
	e := newEvaluator(m)
	bare, solid := e.linearAt(key{}), e.linearAt(key{255})
	near(t, "average", float64(tile.Surface(0, 0).R45[1]), (bare[1]+solid[1])/2, 4e-4) // half a code step at 0.4
}

func TestFlatPagesTakeNoRoom(t *testing.T) {
	m := testModel(t)
	h := plate.Header{Width: 1000, Height: 1000}
	if data := mapOf(t, m, h, make([][]byte, 7), 1, 500, 1); len(data) > 2000 {
		t.Errorf("an empty page takes %d bytes", len(data))
	}
}

// plainSource reads three plates: a cyan-like one, a yellow-like one and a metal.
type plainSource struct{}

func (plainSource) inputPlates() []int { return []int{0, 1, 2} }

func (plainSource) surfaces() func(key) Surface {
	return func(k key) Surface {
		c, y, m := float32(uint8(k[0]))/255, float32(uint8(k[0]>>8))/255, float32(uint8(k[0]>>16))/255
		s := Surface{R45: [3]float32{1 - .95*c, 1 - .3*c - .1*y, 1 - .1*c - .85*y}, Metal: [3]float32{.3 * m, .2 * m, .1 * m},
			MetalShare: m, MetalAlpha: .3, CoatAlpha: .1 + .2*m}
		for i, v := range [3]float32{.25, .17, .09} { // three quarters of it in the lobe
			s.R45[i] += m * (v - s.R45[i])
		}
		return s
	}
}

func smallMap(t testing.TB) []byte {
	h, planes := somePlates(7, 40, 20)
	return mapOf(t, plainSource{}, h, planes, 1, 20, 1)
}

func TestDamagedMapsAreRefusedInWords(t *testing.T) {
	good := smallMap(t)
	if _, err := openMap(t, good).Tile(0); err != nil {
		t.Fatal(err)
	}
	change := func(f func([]byte) []byte) []byte { return f(append([]byte(nil), good...)) }
	headerEnd := mapHeadBytes + int(binary.LittleEndian.Uint32(good[12:]))
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":         {nil, "too short"},
		"another file":  {bytes.Repeat([]byte("x"), 100), "no file of maps"},
		"newer":         {change(func(b []byte) []byte { b[8] = 9; return b }), "version 9"},
		"header length": {change(func(b []byte) []byte { b[14] = 0xff; return b }), "more than"},
		"header":        {change(func(b []byte) []byte { b[17] = 'x'; return b }), "header"},
		"no width":      {change(func(b []byte) []byte { return bytes.Replace(b, []byte(`"width":40`), []byte(`"width":-4`), 1) }), "pixels"},
		"cut off":       {good[:len(good)-3], "cut off"},
		"index":         {change(func(b []byte) []byte { b[len(b)-mapTailBytes]++; return b }), "index"},
		"more tiles":    {change(func(b []byte) []byte { return bytes.Replace(b, []byte(`"tile":256`), []byte(`"tile":016`), 1) }), "header"},
	} {
		if _, err := OpenMap(bytes.NewReader(c.data), int64(len(c.data))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, data := range map[string][]byte{
		"picture data": change(func(b []byte) []byte { b[headerEnd+20] ^= 0x55; return b }),
		"place":        change(func(b []byte) []byte { b[len(b)-mapTailBytes-mapEntry+5] = 1; return b }),
		"length":       change(func(b []byte) []byte { b[len(b)-mapTailBytes-1] = 0x7f; return b }),
	} {
		if _, err := openMap(t, data).Tile(0); err == nil || !strings.Contains(err.Error(), "tile 0") {
			t.Errorf("%s: %v", name, err)
		}
	}
	m := openMap(t, good)
	for _, i := range []int{-1, 1} {
		if _, err := m.Tile(i); err == nil {
			t.Errorf("tile %d", i)
		}
	}
}

func TestMapSinkRefusesWhatDoesNotFit(t *testing.T) {
	m := testModel(t)
	h, planes := somePlates(7, 16, 4)
	s := NewMapSink(m, &bytes.Buffer{}, MapHeader{}, 1)
	if err := s.Band(&plate.Band{Rows: 1}); err == nil {
		t.Error("a band before Begin")
	}
	if err := s.Begin(plate.Header{Width: 1 << 20, Height: 1}); err == nil {
		t.Error("a side of a million pixels")
	}
	s = NewMapSink(m, &bytes.Buffer{}, MapHeader{Notes: []string{strings.Repeat("x", mapMaxHeader)}}, 1)
	if err := s.Begin(h); err == nil {
		t.Error("a megabyte of notes")
	}
	s = NewMapSink(m, &bytes.Buffer{}, MapHeader{}, 1)
	if err := s.Begin(h); err != nil {
		t.Fatal(err)
	}
	if err := s.Band(&plate.Band{Y0: 2, Rows: 1, Planes: planes}); err == nil {
		t.Error("a band out of order")
	}
	if err := s.End(); err == nil {
		t.Error("a page that ended early")
	}
	if err := s.Begin(h); err == nil {
		t.Error("a second page in one file")
	}
}

// Whatever the bytes, a reader gives an error or whole tiles of surfaces that code to the same bytes again.
func FuzzMaps(f *testing.F) {
	good := smallMap(f)
	f.Add(good)
	f.Add(good[:50])
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := OpenMap(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		for i := range min(m.Tiles, 4) {
			tile, err := m.Tile(i)
			if err != nil {
				continue
			}
			for _, layer := range tile.Layers {
				if len(layer) != 4*tile.Width*tile.Height {
					t.Fatalf("%d bytes for %d x %d", len(layer), tile.Width, tile.Height)
				}
			}
			s := tile.Surface(tile.Width-1, tile.Height-1)
			code := codeFromSurface(&s)
			if back := code.surface(); back.R45 != s.R45 || back.Metal != s.Metal || back.CoatAlpha != s.CoatAlpha || back.MetalShare != s.MetalShare {
				t.Fatalf("%+v codes to %+v", s, back)
			}
		}
	})
}

// A viewer that has the maps alone shows the picture of the model under any lamp, flakes and all: within 4 of 255 of coding
// at the brightest flakes, and within 1 on the mean.
func TestMapsLitAnewAreThePicture(t *testing.T) {
	h, planes := somePlates(7, 290, 261)
	h.DPI = 300
	for name, light := range someLights() {
		m := openMap(t, mapOf(t, plainSource{}, h, planes, 1, 100, 2))
		s, err := newLitSink(plainSource{}, light, &imageCanvas{}, 2)
		if err != nil {
			t.Fatal(err)
		}
		replay(t, s, h, planes, 64)
		lamp := s.lamp
		const pixel = 25400.0 / 300
		sum, n := 0.0, 0
		for i := range m.Tiles {
			tile, err := m.Tile(i)
			if err != nil {
				t.Fatal(err)
			}
			for y := range tile.Height {
				for x := range tile.Width {
					surface := tile.Surface(x, y)
					shine := newShine(&surface)
					px, py := tile.X+x, tile.Y+y
					g := lamp.at((float64(px)+.5-float64(h.Width)/2)*pixel/1000, (float64(h.Height)/2-float64(py)-.5)*pixel/1000)
					p := lamp.shade(&shine, &g)
					factor := 1.0
					if lamp.glint.on && shine.share > 0 {
						number := lamp.glint.number(&shine, &g, lamp.widening, pixel*pixel)
						factor = lamp.glint.factor(lamp.glint.place(px, py), &g, &number)
					}
					for c := range p.base {
						p.base[c] += factor * p.flakes[c]
					}
					f := fit(tone(p.base, p.knee))
					want := s.Image().RGBAAt(px, py)
					for c, v := range [3]uint8{want.R, want.G, want.B} {
						d := math.Abs(float64(encoded8(float32(f.linear[c]))) - float64(v))
						if d > 4 {
							t.Fatalf("%s: pixel %d,%d is %v, want %v", name, px, py, f.linear, want)
						}
						sum += d
						n++
					}
				}
			}
		}
		if mean := sum / float64(n); mean > 1 {
			t.Errorf("%s: %.2f off on the mean", name, mean)
		}
	}
}
