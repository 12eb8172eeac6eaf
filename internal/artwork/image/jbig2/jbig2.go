// Package jbig2 decodes JBIG2 (ITU-T T.88 | ISO/IEC 14492) in the embedded organisation that
// JBIG2Decode holds (ISO 32000-2, 7.4.7): one page of segments, with global ones before them.
//
// A segment (segment.go) makes a bitmap, or something that others use: symbols (symbol.go), patterns
// (halftone.go) or Huffman tables (huffman.go). Bitmaps come from three procedures: generic
// (generic.go), refinement (refine.go), and text (text.go), which places symbols. Names in capitals
// in comments are the standard's.
package jbig2

import (
	"errors"
	"fmt"

	"laydown/internal/limits"
)

// Errors, always wrapped. Any other error means damaged data.
var (
	ErrUnsupported = errors.New("JBIG2 of a kind that is not supported")
	ErrTooLarge    = errors.New("JBIG2 over a limit")
)

// Decode decodes the page in data, with the segments of globals before it. The size is what the
// page is taken to have where it does not say. A page that is damaged or ends early is returned as
// far as it was decoded, with damage telling what is wrong; err means there is none.
func Decode(data, globals []byte, width, height int) (page *Bitmap, damage, err error) {
	d := &decoder{width: width, height: height, bytes: limits.MaxBilevelBytes, work: limits.MaxBilevelWork}
	return d.decode(data, globals)
}

func (d *decoder) decode(data, globals []byte) (page *Bitmap, damage, err error) {
	d.segments = map[uint32]*segment{}
	defer func() {
		if p := recover(); p != nil {
			page, damage, err = d.page, damaged("%v", p), nil
			if page == nil {
				err = damage
			}
		}
	}()
	damage = d.stream(globals)
	d.ended = false
	if e := d.stream(data); damage == nil {
		damage = e
	}
	if d.page == nil {
		if damage == nil {
			damage = damaged("it holds no page")
		}
		return nil, nil, damage
	}
	return d.page, damage, nil
}

func damaged(format string, a ...any) error {
	return fmt.Errorf("the JBIG2 data is damaged: "+format, a...)
}

// decoder is the state of one page.
type decoder struct {
	width, height int
	page          *Bitmap
	segments      map[uint32]*segment
	ended         bool
	bytes         int // of bitmaps that may still be made
	work          int // pixels that may still be decoded, or bytes combined
}

// newBitmap makes a white bitmap within the limits.
func (d *decoder) newBitmap(w, h int) (*Bitmap, error) {
	if w < 0 || h < 0 || w > limits.MaxImageSide || h > limits.MaxImageSide || w*h > limits.MaxImagePixels {
		return nil, fmt.Errorf("%w: a bitmap of %d x %d pixels", ErrTooLarge, w, h)
	}
	stride := (w + 7) / 8
	if d.bytes -= stride*h + 64; d.bytes < 0 {
		return nil, fmt.Errorf("%w: bitmaps of more than %d MB", ErrTooLarge, limits.MaxBilevelBytes>>20)
	}
	return &Bitmap{W: w, H: h, Stride: stride, Pix: make([]byte, stride*h)}, nil
}

// spend counts work.
func (d *decoder) spend(n int) error {
	if d.work -= n; d.work < 0 {
		return fmt.Errorf("%w: more than %d million pixels to decode", ErrTooLarge, limits.MaxBilevelWork/1_000_000)
	}
	return nil
}

// Bitmap is a two-level picture: rows of Stride bytes, most significant bit first, 1 = black.
type Bitmap struct {
	W, H, Stride int
	Pix          []byte
}

func (b *Bitmap) at(x, y int) int {
	if x < 0 || y < 0 || x >= b.W || y >= b.H {
		return 0
	}
	return int(b.Pix[y*b.Stride+x>>3]>>(7-x&7)) & 1
}

// unpack writes row y to dst, a byte a pixel; a row outside is white.
func (b *Bitmap) unpack(dst []byte, y int) {
	if y < 0 || y >= b.H {
		clear(dst)
		return
	}
	row := b.Pix[y*b.Stride:]
	for x := range dst[:min(len(dst), b.W)] {
		dst[x] = row[x>>3] >> (7 - x&7) & 1
	}
}

// pack sets row y from a byte a pixel.
func (b *Bitmap) pack(src []byte, y int) {
	row := b.Pix[y*b.Stride : (y+1)*b.Stride]
	clear(row)
	for x, v := range src[:b.W] {
		row[x>>3] |= v << (7 - x&7)
	}
}

// Combination operators (7.4.1.5).
const (
	opOr = iota
	opAnd
	opXor
	opXnor
	opReplace
)

// combine puts src with its top left at x, y.
func (b *Bitmap) combine(src *Bitmap, x, y, op int) {
	x0, x1 := max(x, 0), min(x+src.W, b.W)
	y0, y1 := max(y, 0), min(y+src.H, b.H)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	first, last := x0>>3, (x1-1)>>3
	for row := y0; row < y1; row++ {
		from := src.Pix[(row-y)*src.Stride : (row-y+1)*src.Stride]
		to := b.Pix[row*b.Stride:]
		for k := first; k <= last; k++ {
			mask := byte(0xff)
			if k == first {
				mask >>= x0 & 7
			}
			if k == last {
				mask &= ^(byte(0x7f) >> ((x1 - 1) & 7))
			}
			v := eight(from, 8*k-x)
			switch op {
			case opOr:
				to[k] |= v & mask
			case opAnd:
				to[k] &= v | ^mask
			case opXor:
				to[k] ^= v & mask
			case opXnor:
				to[k] ^= ^v & mask
			default:
				to[k] = to[k]&^mask | v&mask
			}
		}
	}
}

// eight is the eight pixels of a row from pixel i on, white outside.
func eight(row []byte, i int) byte {
	k := i >> 3 // rounds down below 0
	var v uint16
	if k >= 0 && k < len(row) {
		v = uint16(row[k]) << 8
	}
	if k+1 >= 0 && k+1 < len(row) {
		v |= uint16(row[k+1])
	}
	return byte(v << (i & 7) >> 8)
}

// cut copies columns x0 <= x < x0+w.
func (d *decoder) cut(b *Bitmap, x0, w int) (*Bitmap, error) {
	out, err := d.newBitmap(w, b.H)
	if err == nil {
		out.combine(b, -x0, 0, opReplace)
	}
	return out, err
}

func (b *Bitmap) fill(v byte) {
	for i := range b.Pix {
		b.Pix[i] = v
	}
}
