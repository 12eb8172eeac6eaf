package check

import (
	"bytes"
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/geom"
)

// picture is a printing image of the page with what rules ask of it.
type picture struct {
	item   int
	ppi    float64 // effective resolution, of the coarser axis
	oneBit bool
	toner  plateBits
	w, h   float64 // sides in mm
	flat   bool    // one colour throughout
}

// pictures lists the images that print inside the bleed. Those in cells of patterns are left out.
func (p *Page) pictures() (out []picture) {
	flat := map[*image.Image]bool{}
	for i := range p.List.Items {
		it := &p.List.Items[i]
		if it.Kind != displist.Image || it.Image == nil || it.Image.Image == nil || it.Hidden || it.Bounds.Intersect(p.List.Page.Bleed).Empty() {
			continue
		}
		im, m := it.Image.Image, it.Image.M
		if _, known := flat[im]; !known {
			flat[im] = isFlat(im)
		}
		pic := picture{item: i, oneBit: im.Bits == 1 && im.Components() == 1, toner: p.itemToner(i), flat: flat[im]}
		w, h := math.Hypot(m.A, m.B), math.Hypot(m.C, m.D)
		pic.w, pic.h = w/geom.PointsPerMM, h/geom.PointsPerMM
		pic.ppi = math.Inf(1)
		// An axis of one sample is a stripe and says nothing of detail.
		if im.Width > 1 && w > 0 {
			pic.ppi = float64(im.Width) * 72 / w
		}
		if im.Height > 1 && h > 0 {
			pic.ppi = min(pic.ppi, float64(im.Height)*72/h)
		}
		if !math.IsInf(pic.ppi, 1) {
			out = append(out, pic)
		}
	}
	return out
}

// isFlat reports whether all pixels of an image are alike.
func isFlat(im *image.Image) bool {
	n := im.Components() * im.Bits / 8
	if im.Width < 1 || im.Height < 1 || len(im.Data) < im.Stride()*im.Height {
		return false
	}
	if im.Bits < 8 {
		return isFlatBits(im)
	}
	for i := n; i < len(im.Data); i += n {
		if !bytes.Equal(im.Data[i:min(i+n, len(im.Data))], im.Data[:n]) {
			return false
		}
	}
	return true
}

// isFlatBits is isFlat for samples of less than a byte: the first row by its samples, the others by the bytes of the first.
func isFlatBits(im *image.Image) bool {
	for x := 1; x < im.Width; x++ {
		for c := range im.Components() {
			if im.Sample(x, 0, c) != im.Sample(0, 0, c) {
				return false
			}
		}
	}
	bits, stride := im.Width*im.Components()*im.Bits, im.Stride()
	whole := bits / 8
	pad := 8 - bits%8 // of the last byte, where there is one that is not whole
	for y := 1; y < im.Height; y++ {
		row := im.Data[y*stride:]
		if !bytes.Equal(row[:whole], im.Data[:whole]) || whole < stride && (row[whole]^im.Data[whole])>>pad != 0 {
			return false
		}
	}
	return true
}

// specialPlates are all but the process plates.
func (p *Page) specialPlates() plateBits { return p.allPlates() &^ processPlates }
