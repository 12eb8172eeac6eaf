package separate

import (
	"math"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image"
)

// An image's effects are those of its colour space; only tints vary from sample to sample. Rows of
// tints are made one of three ways:
//
//   - by tables, where every painted component depends on one sample of the pixel: gray, Indexed and
//     Separation images whatever they are converted to, CMYK and DeviceN images that reach their plates
//     directly;
//   - by colour.ImageConverter, 8 bits deep, where the pixel as a whole is converted to CMYK;
//   - pixel by pixel through SpaceInk.Tints, with a memory of the last colours: everything else.
//
// All give the same tints.

// ImageInk is a sampled image, separated: a SpaceInk and the rows of its planes. Immutable and safe
// for concurrent use.
type ImageInk struct {
	*SpaceInk
	Image *image.Image

	matte []float64
	// from[i] is the sample of a pixel that makes component Painted[i], -1 = never any toner;
	// table16 and table8 give the tint by raw sample. nil = pixel by pixel.
	from    []int
	table16 [][]uint16
	table8  [][]uint8
	bulk    *colour.ImageConverter // nil = not that way
}

// Tint8 rounds a tint of 0..65535 to the 0..255 of plates.
func Tint8(v uint16) uint8 { return uint8((uint32(v) + 128) / 257) }

// Image separates a sampled image (not a stencil, which is painted with Colour). OPM never acts on
// it (8.6.7). Image masks, soft masks and colour keys are the painter's: StencilRow, AlphaRow, KeyRow.
func (t *Target) Image(pic *image.Image, overprint bool, intent colour.Intent, ctx Context) *ImageInk {
	k := &ImageInk{SpaceInk: t.Space(pic.Space, overprint, intent, ctx), Image: pic}
	if m := pic.SoftMask; m != nil && m.Width == pic.Width && m.Height == pic.Height {
		if len(pic.Matte) == pic.Components() && k.index == nil {
			k.matte = pic.Matte
		}
	}
	if k.Nothing || k.matte != nil {
		return k
	}
	k.makeTables()
	if k.table8 == nil && pic.Components() > 1 && ctx.Space == BlendCMYK && k.process != nil && k.gather == nil && k.alternates == nil {
		k.bulk = t.Converter.PrepareImage(k.process, pic.Decode, pic.Bits, intent)
	}
	return k
}

// makeTables fills the tables where tables can do it and pay for themselves.
func (k *ImageInk) makeTables() {
	values := 1 << k.Image.Bits
	if k.Image.Bits > 8 && k.Image.Width*k.Image.Height < values {
		return
	}
	from := make([]int, len(k.Painted))
	if k.Image.Components() > 1 && !k.separable(from) {
		return
	}
	k.from = from
	comps := make([]float64, k.Image.Components())
	tints := make([]uint16, len(k.Painted))
	for range k.Painted {
		k.table16 = append(k.table16, make([]uint16, values))
		k.table8 = append(k.table8, make([]uint8, values))
	}
	for v := range values {
		for c := range comps {
			comps[c] = k.decode(c, uint32(v))
		}
		k.Tints(tints, comps)
		for i, t := range tints {
			k.table16[i][v] = t
			k.table8[i][v] = Tint8(t)
		}
	}
	for i, table := range k.table16 {
		if slices.Max(table) == 0 {
			from[i] = -1
		}
	}
}

// separable sets from where each painted component is made of at most one sample. Tints of a pixel
// whose samples are all alike then hold for that sample alone.
func (k *ImageInk) separable(from []int) bool {
	if k.process != nil || k.alternates != nil || k.index != nil {
		return false
	}
	for i, c := range k.Painted {
		from[i] = -1
		for _, t := range k.terms {
			if t.to != c {
				continue
			}
			if from[i] >= 0 && from[i] != t.from {
				return false
			}
			from[i] = t.from
		}
	}
	return true
}

// decode maps a raw sample of component c to the colour space (8.9.5.2).
func (k *ImageInk) decode(c int, v uint32) float64 { return decoded(k.Image, c, v) }

// ImageRows converts rows of an image with scratch memory of its own: for one goroutine.
type ImageRows struct {
	ink     *ImageInk
	samples []uint16
	comps   []float64
	tints   []uint16
	wide    [][]uint16 // planes of Row where there are no tables
	cmyk    []byte     // a row of the bulk conversion
	memory  []uint16   // remembered tints, len(Painted) each
	keys    []uint64   // packed samples + 1 of the remembered tints; 0 = none
}

// Rows returns a row converter.
func (k *ImageInk) Rows() *ImageRows {
	return &ImageRows{ink: k, comps: make([]float64, k.Image.Components()), tints: make([]uint16, len(k.Painted))}
}

// Row writes the tints of samples x0 <= x < x1 of source row y: dst[i][x-x0] is the tint 0..255 of
// component Painted[i]. Decode is applied, Matte is taken out.
func (r *ImageRows) Row(y, x0, x1 int, dst [][]uint8) {
	k := r.ink
	if k.table8 != nil {
		tableRow(r, k.table8, y, x0, x1, dst)
		return
	}
	if k.bulk != nil {
		r.bulkRow(y, x0, x1, dst)
		return
	}
	for i := range k.Painted {
		if i == len(r.wide) {
			r.wide = append(r.wide, nil)
		}
		if len(r.wide[i]) < x1-x0 {
			r.wide[i] = make([]uint16, x1-x0)
		}
	}
	r.pixels(y, x0, x1, r.wide)
	for i := range k.Painted {
		for x, v := range r.wide[i][:x1-x0] {
			dst[i][x] = Tint8(v)
		}
	}
}

// Row16 is Row with tints 0..65535.
func (r *ImageRows) Row16(y, x0, x1 int, dst [][]uint16) {
	if r.ink.table16 != nil {
		tableRow(r, r.ink.table16, y, x0, x1, dst)
		return
	}
	r.pixels(y, x0, x1, dst)
}

// bulkRow converts from the last byte boundary before x0. The painted components are C, M, Y, K.
func (r *ImageRows) bulkRow(y, x0, x1 int, dst [][]uint8) {
	im := r.ink.Image
	start := x0
	for start*im.Components()*im.Bits%8 != 0 {
		start--
	}
	if need := 4 * (x1 - start); len(r.cmyk) < need {
		r.cmyk = make([]byte, need)
	}
	row := im.Data[y*im.Stride() : (y+1)*im.Stride()]
	r.ink.bulk.Row(r.cmyk, row[start*im.Components()*im.Bits/8:], x1-start)
	src := r.cmyk[4*(x0-start):]
	c, m, ye, k := dst[0][:x1-x0], dst[1][:x1-x0], dst[2][:x1-x0], dst[3][:x1-x0]
	for x := range c {
		px := src[4*x : 4*x+4 : 4*x+4]
		c[x], m[x], ye[x], k[x] = px[0], px[1], px[2], px[3]
	}
}

func tableRow[T uint8 | uint16](r *ImageRows, tables [][]T, y, x0, x1 int, dst [][]T) {
	im := r.ink.Image
	n := im.Components()
	if im.Bits == 8 {
		row := im.Data[y*im.Stride()+x0*n:]
		for i, from := range r.ink.from {
			lookUp(dst[i][:x1-x0], tables[i], row, from, n)
		}
		return
	}
	r.samples = unpack(r.samples, im, y, x0, x1)
	for i, from := range r.ink.from {
		lookUp(dst[i][:x1-x0], tables[i], r.samples, from, n)
	}
}

// lookUp maps every n-th sample, from the from-th on. A component made of no sample is without toner.
func lookUp[T uint8 | uint16, S uint8 | uint16](dst, table []T, samples []S, from, n int) {
	if from < 0 {
		clear(dst)
		return
	}
	for x := range dst {
		dst[x] = table[samples[from]]
		from += n
	}
}

// memorySize is the number of colours remembered from pixel to pixel, a power of two.
const memorySize = 1 << 12

// pixels converts one by one.
func (r *ImageRows) pixels(y, x0, x1 int, dst [][]uint16) {
	k, im := r.ink, r.ink.Image
	n, painted := im.Components(), len(k.Painted)
	r.samples = unpack(r.samples, im, y, x0, x1)
	remember := n*im.Bits <= 63 && k.matte == nil
	if remember && r.keys == nil {
		r.keys = make([]uint64, memorySize)
		r.memory = make([]uint16, memorySize*painted)
	}
	for x := range x1 - x0 {
		px := r.samples[x*n : x*n+n]
		tints := r.tints
		known := false
		if remember {
			var key uint64
			for _, s := range px {
				key = key<<im.Bits | uint64(s)
			}
			slot := int(key * 0x9e3779b97f4a7c15 >> 52)
			tints = r.memory[slot*painted : slot*painted+painted]
			known = r.keys[slot] == key+1
			r.keys[slot] = key + 1
		}
		if !known {
			for c, s := range px {
				r.comps[c] = k.decode(c, uint32(s))
			}
			if k.matte != nil {
				k.takeMatte(r.comps, x0+x, y)
			}
			k.Tints(tints, r.comps)
		}
		for i, v := range tints {
			dst[i][x] = v
		}
	}
}

// takeMatte undoes the blending of a pixel with the matte colour: c = m + (c'-m)/alpha (11.6.5.3).
// Where alpha is 0 the colour does not matter.
func (k *ImageInk) takeMatte(comps []float64, x, y int) {
	m := k.Image.SoftMask
	a := unit(decoded(m, 0, uint32(sample(m, x*m.Components(), y))))
	if a == 0 {
		return
	}
	for c := range comps {
		lo, hi := k.space.Range(c)
		comps[c] = min(max(k.matte[c]+(comps[c]-k.matte[c])/a, lo), hi)
	}
}

func decoded(im *image.Image, c int, v uint32) float64 {
	lo, hi := im.Decode[2*c], im.Decode[2*c+1]
	return lo + float64(float64(v)*(hi-lo))/float64(uint32(1)<<im.Bits-1)
}

// sample is raw sample i of row y, counting all components.
func sample(im *image.Image, i, y int) uint16 {
	row := im.Data[y*im.Stride():]
	switch im.Bits {
	case 8:
		return uint16(row[i])
	case 16:
		return uint16(row[2*i])<<8 | uint16(row[2*i+1])
	}
	bit := i * im.Bits
	return uint16(row[bit/8]) >> (8 - im.Bits - bit%8) & (1<<im.Bits - 1)
}

// unpack returns the raw samples of x0 <= x < x1 of row y, in buf where it is large enough.
func unpack(buf []uint16, im *image.Image, y, x0, x1 int) []uint16 {
	n := im.Components()
	size := (x1 - x0) * n
	if cap(buf) < size {
		buf = make([]uint16, size)
	}
	buf = buf[:size]
	row := im.Data[y*im.Stride():]
	switch im.Bits {
	case 8:
		for i, v := range row[x0*n : x1*n] {
			buf[i] = uint16(v)
		}
	case 16:
		row = row[2*x0*n : 2*x1*n]
		for i := range buf {
			buf[i] = uint16(row[2*i])<<8 | uint16(row[2*i+1])
		}
	default:
		for i := range buf {
			bit := (x0*n + i) * im.Bits
			buf[i] = uint16(row[bit/8]) >> (8 - im.Bits - bit%8) & (1<<im.Bits - 1)
		}
	}
	return buf
}

// StencilRow writes 255 where an image mask, or the hard Mask of an image, paints, and 0 elsewhere,
// for samples x0 <= x < x1 of row y: it paints where Decode maps to 0 (8.9.6.2).
func StencilRow(pic *image.Image, y, x0, x1 int, dst []uint8) {
	n := pic.Components()
	if pic.Bits == 1 && n == 1 {
		bitRow(pic.Data[y*pic.Stride():], x0, x1, dst, decoded(pic, 0, 0) < 0.5, decoded(pic, 0, 1) < 0.5)
		return
	}
	for i := range dst[:x1-x0] {
		dst[i] = 0
		if decoded(pic, 0, uint32(sample(pic, (x0+i)*n, y))) < 0.5 {
			dst[i] = 255
		}
	}
}

// bitRow is StencilRow of bits: zero and one say whether these paint. Most bytes of a stencil are all of one.
func bitRow(row []byte, x0, x1 int, dst []uint8, zero, one bool) {
	var to [2]uint8
	if zero {
		to[0] = 255
	}
	if one {
		to[1] = 255
	}
	for x := x0; x < x1; {
		b := row[x/8]
		if x%8 == 0 && x+8 <= x1 {
			d := dst[x-x0:][:8]
			if b == 0 || b == 255 {
				v := to[b&1]
				d[0], d[1], d[2], d[3], d[4], d[5], d[6], d[7] = v, v, v, v, v, v, v, v
			} else {
				for i := range d {
					d[i] = to[b>>(7-i)&1]
				}
			}
			x += 8
			continue
		}
		dst[x-x0] = to[b>>(7-x%8)&1]
		x++
	}
}

// AlphaRow writes a soft-mask image's alpha 0..255, Decode applied, for samples x0 <= x < x1 of row y.
func AlphaRow(pic *image.Image, y, x0, x1 int, dst []uint8) {
	if n := pic.Components(); pic.Bits != 8 || n != 1 || pic.Decode[0] != 0 || pic.Decode[1] != 1 {
		for i := range dst[:x1-x0] {
			v := unit(decoded(pic, 0, uint32(sample(pic, (x0+i)*n, y))))
			dst[i] = uint8(math.Floor(float64(v*255) + 0.5))
		}
		return
	}
	copy(dst[:x1-x0], pic.Data[y*pic.Stride()+x0:])
}

// KeyRow writes 0 where the colour key of pic masks a sample out (all raw components within their
// ranges, 8.9.6.4) and 255 elsewhere, for samples x0 <= x < x1 of row y.
func KeyRow(pic *image.Image, y, x0, x1 int, dst []uint8) {
	n := pic.Components()
	for i := range dst[:x1-x0] {
		out := len(pic.ColourKey) >= 2*n
		for c := 0; c < n && out; c++ {
			v := int(sample(pic, (x0+i)*n+c, y))
			out = v >= pic.ColourKey[2*c] && v <= pic.ColourKey[2*c+1]
		}
		dst[i] = 0
		if !out {
			dst[i] = 255
		}
	}
}
