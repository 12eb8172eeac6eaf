package font

import (
	"encoding/binary"
	"fmt"
)

// Subset rebuilds a TrueType program with the outlines of all glyphs not kept left out and only the
// tables an embedded program needs (ISO 32000-2, 9.9); glyph numbers stay as they are, and glyphs that others
// are made of are kept with them. It is for the sound programs that travel with this one.
func Subset(ttf []byte, keep map[int]bool) ([]byte, error) {
	be := binary.BigEndian
	tables := map[string][]byte{}
	for i := range int(be.Uint16(ttf[4:])) {
		rec := ttf[12+16*i:]
		off, n := be.Uint32(rec[8:]), be.Uint32(rec[12:])
		if uint64(off)+uint64(n) > uint64(len(ttf)) {
			return nil, fmt.Errorf("the font program is cut short")
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
	all := map[int]bool{}
	var add func(g int)
	add = func(g int) {
		if g < 0 || g >= n || all[g] {
			return
		}
		all[g] = true
		for _, part := range partsOf(glyf[at(g):at(g+1)]) {
			add(part)
		}
	}
	for g, kept := range keep {
		if kept {
			add(g)
		}
	}
	var data, index []byte
	for g := range n {
		index = be.AppendUint32(index, uint32(len(data)))
		if all[g] {
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
		out = be.AppendUint32(out, tableSum(b))
		out = be.AppendUint32(out, uint32(offset+len(body)))
		out = be.AppendUint32(out, uint32(len(b)))
		body = append(body, b...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	return append(out, body...), nil
}

// partsOf are the glyphs a composite glyph is made of.
func partsOf(b []byte) (parts []int) {
	be := binary.BigEndian
	if len(b) < 10 || int16(be.Uint16(b)) >= 0 {
		return nil
	}
	const wordArgs, scale, more, xyScale, matrix = 1, 8, 32, 64, 128
	for at := 10; at+4 <= len(b); {
		flags := be.Uint16(b[at:])
		parts = append(parts, int(be.Uint16(b[at+2:])))
		at += 6
		if flags&wordArgs != 0 {
			at += 2
		}
		switch {
		case flags&scale != 0:
			at += 2
		case flags&xyScale != 0:
			at += 4
		case flags&matrix != 0:
			at += 8
		}
		if flags&more == 0 {
			break
		}
	}
	return parts
}

func tableSum(b []byte) (sum uint32) {
	for len(b) >= 4 {
		sum += binary.BigEndian.Uint32(b)
		b = b[4:]
	}
	var last [4]byte
	copy(last[:], b)
	return sum + binary.BigEndian.Uint32(last[:])
}

// Metrics are what a font descriptor tells of a program (Table 120), in thousandths of the size.
type Metrics struct {
	Box                        [4]int
	Ascent, Descent, CapHeight int
}

// MetricsOf reads a sound TrueType program.
func MetricsOf(ttf []byte) (m Metrics, err error) {
	defer func() {
		if recover() != nil {
			err = fmt.Errorf("the font program is cut short")
		}
	}()
	be := binary.BigEndian
	tables := map[string][]byte{}
	for i := range int(be.Uint16(ttf[4:])) {
		rec := ttf[12+16*i:]
		tables[string(rec[:4])] = ttf[be.Uint32(rec[8:]):][:be.Uint32(rec[12:])]
	}
	head, hhea := tables["head"], tables["hhea"]
	em := int(be.Uint16(head[18:]))
	at := func(t []byte, off int) int { return int(int16(be.Uint16(t[off:]))) * 1000 / em }
	for i := range m.Box {
		m.Box[i] = at(head, 36+2*i)
	}
	m.Ascent, m.Descent = at(hhea, 4), at(hhea, 6)
	m.CapHeight = m.Ascent * 3 / 4
	if os2 := tables["OS/2"]; len(os2) >= 90 {
		m.CapHeight = at(os2, 88)
	}
	return m, nil
}

// StandIn is the program a font that is not in the file is drawn with.
type StandIn struct {
	Name   string // of the program, as PostScript has it
	TTF    []byte
	Glyphs [256]int // by code; -1 = none
	Bold   bool
	Italic bool
	Fixed  bool
	Serif  bool
}

// StandIn is what a simple font without a program is drawn with; nil for others, and for those drawn with signs.
func (f *Font) StandIn() *StandIn { return f.standIn }
