package colour

import (
	"bytes"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
)

// photo is smooth with the noise of a camera, 2 levels, n bytes a pixel.
func photo(pixels, n int) []byte {
	random := rand.New(rand.NewPCG(3, 4))
	out := make([]byte, pixels*n)
	for i := range pixels {
		x, y := float64(i%2480)/2480, float64(i/2480)/3508
		for k := range n {
			v := .5 + .3*math.Sin(7*x+float64(k)*2*y) + .15*math.Sin(31*y-float64(k+3)*11*x*y)
			out[i*n+k] = byte(clamp(255*v+2*random.NormFloat64(), 0, 255))
		}
	}
	return out
}

func TestRowsDoNotDependOnOrderOrWorkers(t *testing.T) {
	dest, _ := systemProfile(t, "default_cmyk.icc")
	const rows, width = 64, 200
	src := photo(rows*width, 3)
	one := make([]byte, rows*width*4)
	p := NewConverter(dest).PrepareImage(RGB, nil, 8, 0)
	for y := rows - 1; y >= 0; y-- {
		p.Row(one[4*y*width:], src[3*y*width:], width)
	}
	many := make([]byte, len(one))
	p = NewConverter(dest).PrepareImage(RGB, nil, 8, 0)
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			for y := w; y < rows; y += 4 {
				p.Row(many[4*y*width:4*(y+1)*width], src[3*y*width:], width)
			}
		})
	}
	wg.Wait()
	if !bytes.Equal(one, many) {
		t.Error("four workers give other bytes than one going backwards")
	}
	pixel := make([]byte, 4)
	for i := 0; i < rows*width; i += 97 {
		p = NewConverter(dest).PrepareImage(RGB, nil, 8, 0)
		p.Row(pixel, src[3*i:], 1)
		if !bytes.Equal(pixel, one[4*i:4*i+4]) {
			t.Fatalf("pixel %d alone is %v, in the image %v", i, pixel, one[4*i:4*i+4])
		}
	}
}

// An A4 photo at 300 dpi, 2480 x 3508, tables made anew each time.
func BenchmarkPhoto(b *testing.B) {
	dest, _ := systemProfile(b, "default_cmyk.icc")
	own, _ := systemProfile(b, "a98.icc")
	const width, height = 2480, 3508
	dst := make([]byte, 4*width)
	for _, bench := range []struct {
		name string
		s    Space
	}{{"sRGB", RGB}, {"RGB with profile", &ICCBased{N: 3, Profile: own, Alternate: RGB, Limits: []float64{0, 1, 0, 1, 0, 1}}},
		{"CMYK with profile", &ICCBased{N: 4, Profile: mustSystemProfile(b, "ps_cmyk.icc"), Alternate: CMYK, Limits: []float64{0, 1, 0, 1, 0, 1, 0, 1}}}} {
		n := bench.s.Components()
		src := photo(width*height, n)
		b.Run(bench.name, func(b *testing.B) {
			userCPU(b, func() {
				for b.Loop() {
					p := NewConverter(dest).PrepareImage(bench.s, nil, 8, 0)
					for y := range height {
						p.Row(dst, src[y*width*n:], width)
					}
				}
			})
		})
	}
}

func mustSystemProfile(b *testing.B, name string) *Profile {
	p, _ := systemProfile(b, name)
	return p
}
