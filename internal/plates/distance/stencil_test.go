package distance

import (
	"math"
	"strings"
	"testing"

	"laydown/internal/geom"
)

// The stencil of a drawn disc has the pixels whose centres lie in it, but for those whose centres lie within 0.05 pixel of its outline:
// coverage of a straight edge and a direction within some degrees tell no more.
func TestStencilOfADisc(t *testing.T) {
	const n, cx, cy, r = 200, 100.3, 99.6, 83.2
	p := drawn(disc(&geom.Path{}, cx, cy, r), n, n, 600)
	for _, k := range []int{1, 3, 4} {
		bits, err := Stencil(p, k, Options{Workers: 3})
		if err != nil {
			t.Fatal(err)
		}
		stride := (k*n + 7) / 8
		if len(bits) != stride*k*n {
			t.Fatalf("%d times: %d bytes, want %d", k, len(bits), stride*k*n)
		}
		for y := range k * n {
			for x := range stride * 8 {
				far := r - math.Hypot((float64(x)+0.5)/float64(k)-cx, (float64(y)+0.5)/float64(k)-cy)
				if got := bits[y*stride+x/8]>>(7-x%8)&1 == 1; math.Abs(far) > 0.05 && got != (far > 0) {
					t.Fatalf("%d times, pixel %d, %d: inside %v, %.3f pixel of the plane inside", k, x, y, got, far)
				}
			}
		}
	}
}

// A pixel of a flat tint, which no edge tells about, is inside from a half.
func TestStencilOfAFlatTint(t *testing.T) {
	for _, v := range []uint8{0, 100, 127, 128, 200, 255} {
		p := Plane{Pix: []uint8{v, v, v, v, v, v}, W: 3, H: 2, DPI: 600}
		bits, err := Stencil(p, 2, Options{})
		want := byte(0)
		if v >= 128 {
			want = 0xFC
		}
		for i, b := range bits {
			if b != want {
				t.Errorf("tint %d: byte %d is %#x, want %#x", v, i, b, want)
			}
		}
		if err != nil || len(bits) != 4 {
			t.Errorf("tint %d: %d bytes, %v", v, len(bits), err)
		}
	}
	if _, err := Stencil(Plane{Pix: []uint8{0}, W: 1, H: 1, DPI: 600}, 40, Options{}); err == nil || !strings.Contains(err.Error(), "1 to 16") {
		t.Errorf("40 times as fine: %v", err)
	}
}
