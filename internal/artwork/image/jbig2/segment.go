package jbig2

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// segment is a segment header (7.2) and what its data gave.
type segment struct {
	number uint32
	kind   byte
	refers []uint32
	rows   int // of a region that told them at its end; 0 = it did not

	symbols  []*Bitmap
	retained *retained
	patterns []*Bitmap
	table    *huffmanTable
	bitmap   *Bitmap // of an intermediate region
}

// Segment types (7.3).
const (
	kindSymbols    = 0
	kindText       = 4
	kindPatterns   = 16
	kindHalftone   = 20
	kindGeneric    = 36
	kindRefinement = 40
	kindPage       = 48
	kindPageEnd    = 49
	kindFileEnd    = 51
	kindTable      = 53
)

const unknownLength = 0xffffffff

var errShort = errors.New("the JBIG2 data is cut short")

// input reads big-endian numbers; reading beyond the end sets short.
type input struct {
	b     []byte
	short bool
}

func (r *input) take(n int) []byte {
	if n > len(r.b) {
		r.short = true
		r.b = nil
		return make([]byte, n)
	}
	v := r.b[:n]
	r.b = r.b[n:]
	return v
}

func (r *input) u8() int  { return int(r.take(1)[0]) }
func (r *input) i8() int  { return int(int8(r.take(1)[0])) }
func (r *input) u16() int { return int(binary.BigEndian.Uint16(r.take(2))) }
func (r *input) u32() int { return int(binary.BigEndian.Uint32(r.take(4))) }
func (r *input) i32() int { return int(int32(binary.BigEndian.Uint32(r.take(4)))) }

// stream reads segments one after the other until the data or the page ends. The first damage is returned;
// a segment that cannot be decoded is left out.
func (d *decoder) stream(data []byte) (damage error) {
	// Some writers leave the header of a file of its own before the segments.
	if bytes.HasPrefix(data, []byte("\x97JB2\r\n\x1a\n")) && len(data) > 13 {
		if data[8]&2 == 0 {
			data = data[4:]
		}
		data = data[9:]
	}
	r := &input{b: data}
	for len(r.b) > 0 && !d.ended {
		left := len(r.b)
		s, length := readHeader(r)
		if r.short {
			if damage == nil && left > 2 { // else the end of a line
				damage = errShort
			}
			return damage
		}
		if length == unknownLength {
			if length = findLength(s, r.b); length < 0 {
				length = len(r.b)
			} else {
				s.rows = int(binary.BigEndian.Uint32(r.b[length-4:]))
			}
		}
		if length > len(r.b) {
			length = len(r.b)
			if damage == nil {
				damage = errShort
			}
		}
		d.segments[s.number] = s
		if err := d.segment(s, &input{b: r.take(length)}); err != nil && damage == nil {
			damage = err
		}
		if errors.Is(damage, ErrTooLarge) {
			return damage
		}
	}
	return damage
}

func readHeader(r *input) (s *segment, length int) {
	s = &segment{number: uint32(r.u32())}
	flags := r.u8()
	s.kind = byte(flags & 63)
	count := r.u8()
	n := count >> 5
	if n == 7 { // the long form: 29 bits, and retention flags of whole bytes
		rest := r.take(3)
		n = count&31<<24 | int(rest[0])<<16 | int(rest[1])<<8 | int(rest[2])
		r.take(min(n/8+1, len(r.b)+1))
	}
	size := 4
	switch {
	case s.number <= 256:
		size = 1
	case s.number <= 65536:
		size = 2
	}
	if n*size > len(r.b) {
		r.short = true
		return s, 0
	}
	for range n {
		v := uint32(0)
		for _, b := range r.take(size) {
			v = v<<8 | uint32(b)
		}
		s.refers = append(s.refers, v)
	}
	r.take(1 + 3*(flags>>6&1)) // the page
	return s, r.u32()
}

// findLength finds the end of an immediate generic region that does not tell its length (7.2.7).
func findLength(s *segment, b []byte) int {
	if s.kind&^3 != kindGeneric || len(b) < 19 {
		return -1
	}
	end := []byte{0xff, 0xac}
	if b[17]&1 != 0 {
		end = []byte{0, 0}
	}
	i := bytes.Index(b[18:], end)
	if i < 0 || 18+i+6 > len(b) {
		return -1
	}
	return 18 + i + 6
}

// segment decodes one segment.
func (d *decoder) segment(s *segment, r *input) error {
	switch s.kind {
	case kindSymbols:
		return d.symbolDictionary(s, r)
	case kindPatterns:
		return d.patternDictionary(s, r)
	case kindTable:
		var err error
		s.table, err = readTable(r)
		return err
	case kindPage:
		return d.pageInformation(r)
	case kindPageEnd, kindFileEnd:
		d.ended = true
		return nil
	case kindText, kindText + 2, kindText + 3:
		return d.region(s, r, d.textRegion)
	case kindHalftone, kindHalftone + 2, kindHalftone + 3:
		return d.region(s, r, d.halftoneRegion)
	case kindGeneric, kindGeneric + 2, kindGeneric + 3:
		return d.region(s, r, d.genericRegion)
	case kindRefinement, kindRefinement + 2, kindRefinement + 3:
		return d.region(s, r, d.refinementRegion)
	}
	return nil // ends of stripes, profiles, colour palettes, extensions
}

// pageInformation makes the page (7.4.8).
func (d *decoder) pageInformation(r *input) error {
	w, h := r.u32(), r.u32()
	r.take(8)
	flags := r.u8()
	r.take(2)
	if r.short {
		return errShort
	}
	if d.page != nil {
		return damaged("it holds more than one page")
	}
	if h == unknownLength { // striped; the dictionary of the image knows
		h = d.height
	}
	if w <= 0 || h <= 0 {
		return damaged("a page of %d x %d pixels", w, h)
	}
	var err error
	if d.page, err = d.newBitmap(w, h); err != nil {
		return err
	}
	if flags&4 != 0 {
		d.page.fill(0xff)
	}
	return nil
}

// regionInfo is a region segment information field (7.4.1).
type regionInfo struct{ w, h, x, y, op int }

// region decodes a region segment and puts it on the page, or keeps it for others.
func (d *decoder) region(s *segment, r *input, decode func(*segment, *regionInfo, *input) (*Bitmap, error)) error {
	info := &regionInfo{w: r.u32(), h: r.u32(), x: r.i32(), y: r.i32()}
	flags := r.u8()
	info.op = flags & 7
	if r.short {
		return errShort
	}
	if s.rows > 0 {
		info.h = min(info.h, s.rows)
	}
	if info.op > opReplace {
		return damaged("an unknown combination of regions")
	}
	if flags&8 != 0 {
		return fmt.Errorf("%w: coloured regions", ErrUnsupported)
	}
	if d.page == nil {
		if d.width <= 0 || d.height <= 0 {
			return damaged("a region without a page")
		}
		var err error
		if d.page, err = d.newBitmap(d.width, d.height); err != nil {
			return err
		}
	}
	// A bitmap that is damaged is shown as far as it goes.
	b, err := decode(s, info, r)
	if b == nil {
		return err
	}
	if s.kind&3 == 0 {
		s.bitmap = b
		return err
	}
	if e := d.spend(b.H * b.Stride); e != nil {
		return e
	}
	d.page.combine(b, info.x, info.y, info.op)
	d.bytes += b.H*b.Stride + 64 // it is not kept
	return err
}

// referred calls visit with the segments s refers to that are there.
func (d *decoder) referred(s *segment, visit func(*segment)) {
	for _, n := range s.refers {
		if t := d.segments[n]; t != nil && t != s {
			visit(t)
		}
	}
}
