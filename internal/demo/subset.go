package demo

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// face is a TrueType program reduced to the glyphs of WinAnsi's ASCII part that are used, with the
// widths a PDF font dictionary needs.
type face struct {
	program                    []byte
	widths                     [256]int // 1/1000 of the size; code = character for 32..126
	ascent, descent, capHeight int
	box                        [4]int
}

// subsetASCII keeps the outlines of the characters in text and empties all other glyphs; glyph
// numbers stay as they are. It reads a simple TrueType program: head, loca, glyf.
func subsetASCII(ttf []byte, text string) (*face, error) {
	font, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	var buf sfnt.Buffer
	f := &face{}
	keep := map[int]bool{0: true}
	ppem := fixed.I(1000)
	for c := 32; c < 127; c++ {
		g, err := font.GlyphIndex(&buf, rune(c))
		if err != nil {
			return nil, fmt.Errorf("read the demo's font: %w", err)
		}
		adv, err := font.GlyphAdvance(&buf, g, ppem, 0)
		if err != nil {
			return nil, fmt.Errorf("read the demo's font: %w", err)
		}
		f.widths[c] = adv.Round()
	}
	for _, c := range text {
		if g, err := font.GlyphIndex(&buf, c); err == nil {
			keep[int(g)] = true
		}
	}
	m, err := font.Metrics(&buf, ppem, 0)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	f.ascent, f.descent, f.capHeight = m.Ascent.Round(), -m.Descent.Round(), m.CapHeight.Round()
	b, err := font.Bounds(&buf, ppem, 0)
	if err != nil {
		return nil, fmt.Errorf("read the demo's font: %w", err)
	}
	f.box = [4]int{b.Min.X.Round(), -b.Max.Y.Round(), b.Max.X.Round(), -b.Min.Y.Round()}
	f.program, err = emptyGlyphs(ttf, keep)
	return f, err
}

// emptyGlyphs rebuilds the font file with the outlines of all glyphs not kept left out, and only the
// tables an embedded program needs (ISO 32000-2, 9.9).
func emptyGlyphs(ttf []byte, keep map[int]bool) ([]byte, error) {
	be := binary.BigEndian
	tables := map[string][]byte{}
	for i := range int(be.Uint16(ttf[4:])) {
		rec := ttf[12+16*i:]
		off, n := be.Uint32(rec[8:]), be.Uint32(rec[12:])
		if uint64(off)+uint64(n) > uint64(len(ttf)) {
			return nil, fmt.Errorf("the demo's font is cut short")
		}
		tables[string(rec[:4])] = ttf[off : off+n]
	}
	head, loca, glyf := append([]byte(nil), tables["head"]...), tables["loca"], tables["glyf"]
	long := be.Uint16(head[50:]) == 1
	at := func(i int) uint32 {
		if long {
			return be.Uint32(loca[4*i:])
		}
		return 2 * uint32(be.Uint16(loca[2*i:]))
	}
	n := int(be.Uint16(tables["maxp"][4:]))
	var data, index []byte
	for g := range n {
		index = be.AppendUint32(index, uint32(len(data)))
		if keep[g] {
			data = append(data, glyf[at(g):at(g+1)]...)
			for len(data)%4 != 0 {
				data = append(data, 0)
			}
		}
	}
	index = be.AppendUint32(index, uint32(len(data)))
	be.PutUint16(head[50:], 1)
	be.PutUint32(head[8:], 0)
	tables["head"], tables["loca"], tables["glyf"] = head, index, data
	names := []string{"cmap", "cvt ", "fpgm", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "prep"}
	var have []string
	for _, t := range names {
		if _, ok := tables[t]; ok {
			have = append(have, t)
		}
	}
	out := append([]byte{0, 1, 0, 0}, 0, byte(len(have)), 0, 128, 0, 3, 0, byte(len(have)*16-128))
	offset := 12 + 16*len(have)
	var body []byte
	for _, t := range have {
		b := tables[t]
		out = append(out, t...)
		out = be.AppendUint32(out, checksum(b))
		out = be.AppendUint32(out, uint32(offset+len(body)))
		out = be.AppendUint32(out, uint32(len(b)))
		body = append(body, b...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	return append(out, body...), nil
}

func checksum(b []byte) (sum uint32) {
	for len(b) >= 4 {
		sum += binary.BigEndian.Uint32(b)
		b = b[4:]
	}
	var last [4]byte
	copy(last[:], b)
	return sum + binary.BigEndian.Uint32(last[:])
}
