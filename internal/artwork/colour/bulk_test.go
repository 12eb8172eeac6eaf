package colour

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	_ "laydown/internal/sameseed"
)

// bulkSpaces are spaces of each family that images can have.
func bulkSpaces(t testing.TB) []Space {
	calculator := object{"/FunctionType 4 /Domain [0 1 0 1 0 1 0 1 0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{pop 2 div exch}")}
	return []Space{
		Gray, RGB, CMYK,
		&CalGray{White: d50, Gamma: 2.2},
		&CalRGB{White: d50, Gamma: [3]float64{1.8, 1.8, 1.8}, Matrix: [9]float64{.4, .2, .1, .3, .6, .1, .2, .1, .6}},
		&Lab{White: [3]float64{.95, 1, 1.09}, Limits: [4]float64{-100, 100, -128, 127}},
		&ICCBased{N: 3, Alternate: RGB, Limits: []float64{0, 1, 0, 1, 0, 1}},
		&ICCBased{N: 4, Alternate: CMYK, Limits: []float64{0, 1, 0, 1, 0, 1, 0, 1}},
		mustSpace(t, object{text: "[/Separation /White /DeviceRGB << /FunctionType 2 /Domain [0 1] /N 1.5 /C0 [1 1 1] /C1 [.3 .9 .2] >>]"}),
		mustSpace(t, object{text: "[/DeviceN [/Cyan /White /Gold /Silver /Clear] /DeviceCMYK 4 0 R]"}, calculator),
		mustSpace(t, object{text: "[/Indexed /DeviceCMYK 3 <00000000 FF000000 00FF0080 01020304>]"}),
	}
}

// pack writes samples of a depth as an image row does.
func pack(raw []int, bits int) []byte {
	out := make([]byte, (len(raw)*bits+7)/8)
	for i, v := range raw {
		if bits == 16 {
			out[2*i], out[2*i+1] = byte(v>>8), byte(v)
			continue
		}
		out[i*bits/8] |= byte(v << (8 - bits - i*bits%8))
	}
	return out
}

// Every row conversion must give exactly what converting colour by colour and rounding gives.
func TestRowsEqualColourByColour(t *testing.T) {
	spaces := bulkSpaces(t)
	converters := map[string]*Converter{"naive": NewConverter(nil)}
	if dest, err := readSystemProfile("default_cmyk.icc"); err == nil {
		converters["destination"] = NewConverter(dest)
	}
	for name, c := range converters {
		for _, s := range spaces {
			for _, bits := range []int{1, 2, 4, 8, 16} {
				t.Run(fmt.Sprintf("%s, %s, %d bits", name, s, bits), func(t *testing.T) {
					rapid.Check(t, func(t *rapid.T) { checkRow(t, c, s, bits) })
				})
			}
		}
	}
}

func checkRow(t *rapid.T, c *Converter, s Space, bits int) {
	n := s.Components()
	decode := DefaultDecode(s, bits)
	switch rapid.IntRange(0, 2).Draw(t, "decode") {
	case 1: // turned round
		for i := 0; i < len(decode); i += 2 {
			decode[i], decode[i+1] = decode[i+1], decode[i]
		}
	case 2: // a part of the range
		for i := range decode {
			decode[i] *= .7
		}
	}
	width := rapid.IntRange(1, 9).Draw(t, "width")
	raw := rapid.SliceOfN(rapid.IntRange(0, 1<<bits-1), width*n, width*n).Draw(t, "samples")
	got := make([]byte, 4*width)
	c.PrepareImage(s, decode, bits, Perceptual).Row(got, pack(raw, bits), width)
	comps := make([]float64, n)
	for x := range width {
		for k := range comps {
			comps[k] = sampleValue(decode[2*k], decode[2*k+1], raw[x*n+k], bits)
		}
		want := c.CMYK(s, comps, Perceptual)
		for k, v := range want {
			if got[4*x+k] != TintFromUnit(v) {
				t.Fatalf("pixel %d component %d of %v is %d, want %d (%v)", x, k, comps, got[4*x+k], TintFromUnit(v), v)
			}
		}
	}
}

func TestMissingPixelsPrintNothing(t *testing.T) {
	dst := []byte{9, 9, 9, 9, 9, 9, 9, 9, 9}
	NewConverter(nil).PrepareImage(Gray, nil, 8, 0).Row(dst, []byte{0}, 2)
	if fmt.Sprint(dst) != "[0 0 0 255 0 0 0 0 9]" {
		t.Error(dst)
	}
}

func TestTintTables(t *testing.T) {
	if got := fmt.Sprint(TintTable(0, 1, 2), TintTable(1, 0, 1), TintTable(-1, 3, 2)); got != "[0 85 170 255] [255 0] [0 85 255 255]" {
		t.Error(got)
	}
}

func BenchmarkRows(b *testing.B) {
	dest, _ := readSystemProfile("default_cmyk.icc")
	noise := make([]byte, 4*4096)
	for i := range noise {
		noise[i] = byte(i * 2654435761 >> 7)
	}
	dst := make([]byte, 4*4096)
	for _, bench := range []struct {
		name string
		c    *Converter
		s    Space
	}{{"gray", NewConverter(nil), Gray}, {"RGB", NewConverter(nil), RGB}, {"CMYK", NewConverter(nil), CMYK}, {"Lab", NewConverter(nil), &Lab{White: d50, Limits: [4]float64{-128, 127, -128, 127}}},
		{"RGB through a profile", NewConverter(dest), RGB}} {
		b.Run(bench.name, func(b *testing.B) {
			p := bench.c.PrepareImage(bench.s, nil, 8, 0)
			b.SetBytes(4096)
			for b.Loop() {
				p.Row(dst, noise, 4096)
			}
		})
	}
}
