package browser

import (
	"image"
	"image/color"
	"slices"
	"testing"
)

// Pictures of the page have a palette of 256 colours, found by median cut (Heckbert, "Color image quantization for frame buffer
// display", 1982).

type shade struct {
	k [3]uint8
	n int // pixels
}

// fewColours gives a picture the 256 colours that are nearest to it.
func fewColours(img image.Image) *image.Paletted {
	b := img.Bounds()
	counts := map[[3]uint8]*shade{}
	key := func(x, y int) [3]uint8 {
		c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
		return [3]uint8{c.R, c.G, c.B}
	}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			k := key(x, y)
			s := counts[k]
			if s == nil {
				s = &shade{k: k}
				counts[k] = s
			}
			s.n++
		}
	}
	all := make([]*shade, 0, len(counts))
	for _, s := range counts {
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b *shade) int { return slices.Compare(a.k[:], b.k[:]) })
	boxes := [][]*shade{all}
	for len(boxes) < 256 {
		// The box whose longest side, weighed by its pixels, matters most is cut where half of them lie on each side.
		best, axis, most := -1, 0, 0.0
		for i, box := range boxes {
			a, length := longest(box)
			n := 0
			for _, s := range box {
				n += s.n
			}
			if w := float64(length*length) * float64(n); length > 0 && w > most {
				best, axis, most = i, a, w
			}
		}
		if best < 0 {
			break
		}
		box := slices.Clone(boxes[best])
		slices.SortStableFunc(box, func(a, b *shade) int { return int(a.k[axis]) - int(b.k[axis]) })
		total, half, at := 0, 0, 1
		for _, s := range box {
			total += s.n
		}
		for i, s := range box[:len(box)-1] {
			half += s.n
			at = i + 1
			if 2*half >= total {
				break
			}
		}
		boxes[best] = box[:at]
		boxes = append(boxes, box[at:])
	}
	out := &image.Paletted{Rect: image.Rect(0, 0, b.Dx(), b.Dy()), Stride: b.Dx(), Pix: make([]uint8, b.Dx()*b.Dy())}
	index := map[[3]uint8]uint8{}
	for i, box := range boxes {
		var sum [3]int
		n := 0
		for _, s := range box {
			n += s.n
			for j := range sum {
				sum[j] += s.n * int(s.k[j])
			}
			index[s.k] = uint8(i)
		}
		out.Palette = append(out.Palette, color.NRGBA{uint8(sum[0] / n), uint8(sum[1] / n), uint8(sum[2] / n), 255})
	}
	for y := range b.Dy() {
		for x := range b.Dx() {
			k := key(b.Min.X+x, b.Min.Y+y)
			out.Pix[y*out.Stride+x] = index[k]
		}
	}
	return out
}

// longest is the component in which the colours of a box differ most, and by how much.
func longest(box []*shade) (axis, length int) {
	for a := range 3 {
		low, high := 255, 0
		for _, s := range box {
			low, high = min(low, int(s.k[a])), max(high, int(s.k[a]))
		}
		if high-low > length {
			axis, length = a, high-low
		}
	}
	return axis, length
}

// A picture of few colours comes out as it went in.
func TestFewColours_keeps_few(t *testing.T) {
	img := image.NewNRGBA(image.Rect(3, 5, 19, 21))
	for i := range 256 {
		img.SetNRGBA(3+i%16, 5+i/16, color.NRGBA{uint8(i%16) * 16, uint8(i/16) * 16, 7, 255})
	}
	out := fewColours(img)
	for i := range 256 {
		x, y := i%16, i/16
		want, got := img.NRGBAAt(3+x, 5+y), color.NRGBAModel.Convert(out.At(x, y)).(color.NRGBA)
		if want != got {
			t.Fatalf("at %d, %d: %v, want %v", x, y, got, want)
		}
	}
}
