package jpx

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
)

// palette is a palette box (I.5.3.4).
type palette struct {
	entries int
	bits    []int // precision of each column
	values  []uint32
}

// mapping is one entry of a component mapping box (I.5.3.5); column -1 = direct use.
type mapping struct{ component, column int }

// definition is one entry of a channel definition box (I.5.3.6).
type definition struct{ channel, kind, association int }

// header is what the boxes say.
type header struct {
	colours []Colour
	palette *palette
	maps    []mapping
	defs    []definition
	stream  []byte
}

var startOfStream = []byte{0xff, 0x4f, 0xff, 0x51}

func parse(data []byte) (*File, error) {
	var h header
	if !bytes.HasPrefix(data, startOfStream) {
		h.boxes(data, 0)
	} else {
		h.stream = data
	}
	if h.stream == nil {
		i := bytes.Index(data, startOfStream)
		if i < 0 {
			return nil, errors.New("the JPEG 2000 data has no codestream")
		}
		h.stream = data[i:]
	}
	cs, err := parseCodestream(h.stream)
	if err != nil {
		return nil, err
	}
	f := &File{Width: cs.x1 - cs.x0, Height: cs.y1 - cs.y0, Components: cs.components, Colours: h.colours, cs: cs}
	f.channels(&h)
	return f, nil
}

// boxes reads a sequence of boxes (I.4); damage ends it.
func (h *header) boxes(data []byte, depth int) {
	for len(data) >= 8 {
		size := uint64(binary.BigEndian.Uint32(data))
		kind := string(data[4:8])
		head := uint64(8)
		switch {
		case size == 0:
			size = uint64(len(data))
		case size == 1 && len(data) >= 16:
			size, head = binary.BigEndian.Uint64(data[8:]), 16
		}
		if size < head {
			return
		}
		size = min(size, uint64(len(data)))
		body := data[head:size]
		switch kind {
		case "jp2h":
			if depth == 0 {
				h.boxes(body, 1)
			}
		case "colr":
			h.colour(body)
		case "pclr":
			if h.palette == nil {
				h.palette = parsePalette(body)
			}
		case "cmap":
			for ; len(body) >= 4; body = body[4:] {
				m := mapping{int(binary.BigEndian.Uint16(body)), -1}
				if body[2] == 1 {
					m.column = int(body[3])
				}
				h.maps = append(h.maps, m)
			}
		case "cdef":
			if len(body) < 2 {
				break
			}
			for body = body[2:]; len(body) >= 6; body = body[6:] {
				h.defs = append(h.defs, definition{int(binary.BigEndian.Uint16(body)),
					int(binary.BigEndian.Uint16(body[2:])), int(binary.BigEndian.Uint16(body[4:]))})
			}
		case "jp2c":
			if h.stream == nil && bytes.HasPrefix(body, startOfStream[:2]) {
				h.stream = body
			}
		}
		data = data[size:]
	}
}

func (h *header) colour(body []byte) {
	if len(body) < 3 {
		return
	}
	switch body[0] {
	case 1:
		if len(body) >= 7 {
			h.colours = append(h.colours, Colour{Enumerated: int(binary.BigEndian.Uint32(body[3:]))})
		}
	case 2, 3:
		h.colours = append(h.colours, Colour{Profile: body[3:]})
	}
}

func parsePalette(body []byte) *palette {
	if len(body) < 3 {
		return nil
	}
	p := &palette{entries: int(binary.BigEndian.Uint16(body))}
	n := int(body[2])
	body = body[3:]
	if p.entries == 0 || p.entries > 1024 || n == 0 || len(body) < n {
		return nil
	}
	for _, b := range body[:n] {
		p.bits = append(p.bits, int(b&0x7f)+1)
	}
	body = body[n:]
	for range p.entries {
		for _, bits := range p.bits {
			size := (bits + 7) / 8
			if size > 4 || len(body) < size {
				return nil
			}
			var v uint32
			for _, b := range body[:size] {
				v = v<<8 | uint32(b)
			}
			p.values = append(p.values, v&(1<<bits-1))
			body = body[size:]
		}
	}
	return p
}

// channels makes f.Channels: components, through the palette, in the order of their associations.
func (f *File) channels(h *header) {
	maps := h.maps
	for _, m := range maps {
		if m.component >= len(f.Components) || m.column >= 0 && (h.palette == nil || m.column >= len(h.palette.bits)) {
			maps = nil
			break
		}
	}
	if h.palette == nil || len(maps) == 0 {
		maps = nil
		for i := range f.Components {
			maps = append(maps, mapping{i, -1})
		}
	} else {
		f.palette, f.Palette = h.palette, true
	}
	order := make([]int, len(maps))
	for i, m := range maps {
		c := Channel{Precision: f.Components[m.component].Precision, component: m.component, column: m.column}
		if m.column >= 0 {
			c.Precision = f.palette.bits[m.column]
		}
		f.Channels = append(f.Channels, c)
		order[i] = i + 1
	}
	for _, d := range h.defs {
		if d.channel >= len(maps) {
			continue
		}
		f.Channels[d.channel].Type = d.kind
		order[d.channel] = d.association
		if d.kind != ChannelColour {
			order[d.channel] = 1<<16 + d.channel
			if d.association != 0 && d.kind <= ChannelPremultiplied { // opacity of one colour only
				f.Channels[d.channel].Type = 1<<16 - 1
			}
		}
	}
	type ranked struct {
		Channel
		rank int
	}
	var all []ranked
	for i, c := range f.Channels {
		all = append(all, ranked{c, order[i]})
	}
	slices.SortStableFunc(all, func(a, b ranked) int { return a.rank - b.rank })
	for i, r := range all {
		f.Channels[i] = r.Channel
	}
}

func damaged(format string, a ...any) error {
	return fmt.Errorf("the JPEG 2000 data is damaged: "+format, a...)
}
