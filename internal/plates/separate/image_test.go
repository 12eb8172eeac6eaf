package separate

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
)

// testImage has random samples, the first ones all the extremes.
func testImage(space colour.Space, bits, w, h int, decode []float64) *image.Image {
	if decode == nil {
		decode = colour.DefaultDecode(space, bits)
	}
	im := &image.Image{Width: w, Height: h, Bits: bits, Space: space, Decode: decode}
	r := rand.New(rand.NewPCG(1, 2))
	im.Data = make([]byte, h*im.Stride())
	for i := range im.Data {
		im.Data[i] = byte(r.Uint32())
	}
	return im
}

// Every way of converting rows gives the tints that Colour gives sample by sample.
func TestImageRowsEqualColoursSampleBySample(t *testing.T) {
	target := testTarget(t)
	lab := &colour.Lab{White: [3]float64{.9642, 1, .8249}, Limits: [4]float64{-100, 100, -100, 100}}
	spaces := map[string]colour.Space{
		"lab": lab, "rgb table": &colour.Indexed{Base: colour.RGB, HiVal: 3, Table: []byte{1, 2, 3, 255, 255, 255, 0, 0, 0, 200, 100, 0}},
	}
	for _, name := range []string{"DeviceGray", "DeviceRGB", "DeviceCMYK", "ICC4", "Separation:White", "Separation:pale", "Separation:Missing", "Separation:All",
		"Separation:None", "Indexed:White", "DeviceN:White,Silver", "DeviceN:Black,Silver", "DeviceN:White,Missing", "DeviceN:pale,Gold", "DeviceN:None,White,Gold,Black",
		"NChannel:White,Missing", "NChannel:Cyan,White,Missing", "NChannel:Red,Green,Blue,White"} {
		spaces[name] = testSpace(t, name)
	}
	for name, space := range spaces {
		for _, bits := range []int{1, 2, 4, 8, 16} {
			for _, ctx := range []Context{{BlendCMYK}, {BlendRGB}, {BlendGray}} {
				for _, inverted := range []bool{false, true} {
					decode := colour.DefaultDecode(space, bits)
					if inverted && space.Family() != colour.FamilyIndexed {
						slices.Reverse(decode)
						if space == lab {
							continue
						}
					}
					im := testImage(space, bits, 23, 3, decode)
					t.Run(fmt.Sprintf("%s %d %v %v", name, bits, ctx.Space, inverted), func(t *testing.T) { checkRows(t, target, im, ctx) })
				}
			}
		}
	}
}

func checkRows(t *testing.T, target *Target, im *image.Image, ctx Context) {
	ink := target.Image(im, false, colour.RelativeColorimetric, ctx)
	rows := ink.Rows()
	x0, x1 := 3, 21
	narrow, wide := make([][]uint8, len(ink.Painted)), make([][]uint16, len(ink.Painted))
	for i := range ink.Painted {
		narrow[i], wide[i] = make([]uint8, x1-x0), make([]uint16, x1-x0)
	}
	for y := range im.Height {
		rows.Row(y, x0, x1, narrow)
		rows.Row16(y, x0, x1, wide)
		for x := x0; x < x1; x++ {
			comps := make([]float64, im.Components())
			for c := range comps {
				comps[c] = decoded(im, c, uint32(sample(im, x*len(comps)+c, y)))
			}
			want := target.Colour(displist.Paint{Space: im.Space, Comps: comps}, false, 0, true, colour.RelativeColorimetric, ctx)
			if !slices.Equal(want.Effects, ink.Effects) || !slices.Equal(want.Reasons, ink.Reasons) || want.Nothing != ink.Nothing {
				t.Fatalf("effects %v, a colour's %v", ink.Effects, want.Effects)
			}
			for i, c := range ink.Painted {
				if wide[i][x-x0] != want.Values[c] {
					t.Fatalf("pixel %d,%d component %d: tint %d, want %d", x, y, c, wide[i][x-x0], want.Values[c])
				}
				if narrow[i][x-x0] != Tint8(want.Values[c]) {
					t.Fatalf("pixel %d,%d component %d: 8-bit tint %d, want %d", x, y, c, narrow[i][x-x0], Tint8(want.Values[c]))
				}
			}
		}
	}
}

func TestTint8RoundsToNearestAndKeepsEightBitValues(t *testing.T) {
	for v := range 256 {
		if got := Tint8(uint16(v * 257)); int(got) != v {
			t.Errorf("%d becomes %d", v, got)
		}
	}
	if Tint8(128) != 0 || Tint8(129) != 1 || Tint8(65535-129) != 254 {
		t.Error("not rounded to nearest")
	}
}

func TestMatteIsTakenOut(t *testing.T) {
	// Colours .2 and .8 of gray, blended with a matte of .5 at alpha 1/3 and 1.
	blend := func(c, a float64) byte { return byte((.5+a*(c-.5))*255 + .5) }
	im := &image.Image{Width: 3, Height: 1, Bits: 8, Space: colour.Gray, Decode: []float64{0, 1},
		Data:     []byte{blend(.2, 1./3), blend(.8, 1), 17},
		SoftMask: &image.Image{Width: 3, Height: 1, Bits: 8, Space: colour.Gray, Decode: []float64{0, 1}, Data: []byte{85, 255, 0}},
		Matte:    []float64{.5}}
	ink := testTarget(t).Image(im, false, 0, Context{BlendGray})
	dst := [][]uint8{make([]uint8, 3)}
	ink.Rows().Row(0, 0, 3, dst)
	for i, want := range []float64{255 * .8, 255 * .2} {
		if d := float64(dst[0][i]) - want; d > 1.5 || d < -1.5 {
			t.Errorf("pixel %d: tint %d, want about %g", i, dst[0][i], want)
		}
	}
	im.SoftMask.Width = 1 // another size: Matte cannot apply
	testTarget(t).Image(im, false, 0, Context{BlendGray}).Rows().Row(0, 0, 3, dst)
	if want := 255 - im.Data[0]; dst[0][0] != want {
		t.Errorf("matte of a mask of another size: tint %d, want %d", dst[0][0], want)
	}
}

func TestMasksSayWhichSamplesPaint(t *testing.T) {
	stencil := &image.Image{Width: 10, Height: 1, Bits: 1, Stencil: true, Decode: []float64{0, 1}, Data: []byte{0b01010101, 0b10000000}}
	long := &image.Image{Width: 40, Height: 1, Bits: 1, Stencil: true, Decode: []float64{0, 1}, Data: []byte{0b11111111, 0, 0b10110010, 255, 0b01011111}}
	key := &image.Image{Width: 4, Height: 1, Bits: 4, Space: colour.RGB, Decode: []float64{0, 1, 0, 1, 0, 1},
		Data: []byte{0x12, 0x31, 0x24, 0x02, 0x31, 0x13}, ColourKey: []int{1, 1, 2, 3, 3, 3}} // 123 124 023 113
	alpha := &image.Image{Width: 4, Height: 1, Bits: 2, Space: colour.Gray, Decode: []float64{1, 0}, Data: []byte{0b00011011}}
	deep := &image.Image{Width: 2, Height: 1, Bits: 8, Space: colour.Gray, Decode: []float64{0, 1}, Data: []byte{7, 200}}
	inverted := *stencil
	inverted.Decode = []float64{1, 0}
	for _, c := range []struct {
		question string
		row      func(dst []uint8)
		n        int
		want     []uint8
	}{
		{"a stencil paints zeros", func(d []uint8) { StencilRow(stencil, 0, 6, 10, d) }, 4, []uint8{255, 0, 0, 255}},
		{"decoded 1 0 it paints ones", func(d []uint8) { StencilRow(&inverted, 0, 6, 10, d) }, 4, []uint8{0, 255, 255, 0}},
		{"bytes and what is left of one", func(d []uint8) { StencilRow(long, 0, 5, 35, d) }, 30, append(append(make([]uint8, 3, 30), bytes.Repeat([]uint8{255}, 8)...),
			0, 255, 0, 0, 255, 255, 0, 255, 0, 0, 0, 0, 0, 0, 0, 0, 255, 0, 255)},
		{"a key masks samples inside all ranges", func(d []uint8) { KeyRow(key, 0, 0, 4, d) }, 4, []uint8{0, 255, 255, 255}},
		{"alpha is decoded", func(d []uint8) { AlphaRow(alpha, 0, 1, 4, d) }, 3, []uint8{170, 85, 0}},
		{"8-bit alpha is copied", func(d []uint8) { AlphaRow(deep, 0, 1, 2, d) }, 1, []uint8{200}},
	} {
		got := make([]uint8, c.n)
		c.row(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.question, got, c.want)
		}
	}
}

func BenchmarkRow(b *testing.B) {
	target, _ := NewTarget(testPress(), nil, nil)
	for name, space := range map[string]colour.Space{"gray": colour.Gray, "rgb": colour.RGB, "cmyk": colour.CMYK, "white": testSeparation("White")} {
		b.Run(name, func(b *testing.B) {
			im := testImage(space, 8, 4096, 1, nil)
			ink := target.Image(im, false, 0, Context{})
			dst := make([][]uint8, len(ink.Painted))
			for i := range dst {
				dst[i] = make([]uint8, im.Width)
			}
			rows := ink.Rows()
			b.SetBytes(int64(im.Width))
			for b.Loop() {
				rows.Row(0, 0, im.Width, dst)
			}
		})
	}
}
