package jpx

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"sort"

	"laydown/internal/limits"
)

// Markers (Table A.2).
const (
	markSIZ = 0xff51
	markCOD = 0xff52
	markCOC = 0xff53
	markQCD = 0xff5c
	markQCC = 0xff5d
	markRGN = 0xff5e
	markPOC = 0xff5f
	markPPM = 0xff60
	markPPT = 0xff61
	markSOT = 0xff90
	markSOP = 0xff91
	markEPH = 0xff92
	markSOD = 0xff93
	markEOC = 0xffd9
)

const (
	maxLevels = 32
	maxBands  = 3*maxLevels + 1
)

// coding is how the code-blocks of one component are coded (Table A.15).
type coding struct {
	levels     int
	xcb, ycb   int // log2 of the code-block
	style      byte
	reversible bool
	precincts  [maxLevels + 1]byte // PPx in the low half, PPy in the high half
	owner      *parameters         // whose COC set it, nil = a COD did
}

// Code-block styles (Table A.19).
const (
	styleBypass   = 1
	styleReset    = 2
	styleTermAll  = 4
	styleCausal   = 8
	styleSegment  = 32
	styleHighRate = 64
)

// quantisation of one component (Table A.27 on).
type quantisation struct {
	guard     int
	style     int // 0 none, 1 derived from the lowest band, 2 each band its own
	exponents []uint8
	mantissas []uint16
	owner     *parameters // whose QCC set it, nil = a QCD did
}

// order is a progression and what it runs over (Table A.32).
type order struct {
	progression              byte
	res0, res1, comp0, comp1 int
	layers                   int
}

// parameters are what COD, QCD and their kin set for a tile.
type parameters struct {
	coding []*coding
	quant  []*quantisation
	shift  []int // of the region of interest
	layers int
	progression,
	transform byte // multiple component transform
	changes        []order
	hasCOD, hasQCD bool
}

// clone shares what it can: there may be 65535 tiles.
func (p *parameters) clone() *parameters {
	q := *p
	q.coding = slices.Clone(p.coding)
	q.quant = slices.Clone(p.quant)
	q.shift = slices.Clone(p.shift)
	q.changes = p.changes[:len(p.changes):len(p.changes)]
	return &q
}

// tileData is what the tile-parts of one tile hold.
type tileData struct {
	par     *parameters
	body    []byte
	headers []byte // packed packet headers
	packed  bool
	pocs    bool // its own progression changes have replaced those of the main header
}

// codestream is a parsed codestream: main header and where the tiles are.
type codestream struct {
	x0, y0, x1, y1   int // the picture on the reference grid
	tw, th, tx0, ty0 int
	tilesX, tilesY   int
	components       []Component
	main             *parameters
	tiles            map[int]*tileData
	packedMain       []packedPart
	packedHeaders    [][]byte // of PPM, one a tile-part
	parts            int
	damage           error
}

type packedPart struct {
	index int
	data  []byte
}

func (cs *codestream) fault(err error) {
	if cs.damage == nil {
		cs.damage = err
	}
}

func parseCodestream(data []byte) (*codestream, error) {
	cs := &codestream{tiles: map[int]*tileData{}}
	at := 2
	sized := false
	for {
		if at+4 > len(data) {
			return nil, damaged("its header is cut short")
		}
		m := int(binary.BigEndian.Uint16(data[at:]))
		if m == markSOT {
			break
		}
		size := int(binary.BigEndian.Uint16(data[at+2:]))
		if m < 0xff00 || size < 2 || at+2+size > len(data) {
			return nil, damaged("its header is cut short")
		}
		body := data[at+4 : at+2+size]
		at += 2 + size
		if m == markSIZ {
			if err := cs.size(body); err != nil {
				return nil, err
			}
			sized = true
			continue
		}
		if !sized {
			return nil, damaged("it does not begin with its size")
		}
		if m == markPPM && len(body) > 0 {
			cs.packedMain = append(cs.packedMain, packedPart{int(body[0]), body[1:]})
			continue
		}
		if err := cs.segment(cs.main, m, body); err != nil {
			return nil, err
		}
	}
	if !cs.main.hasCOD || !cs.main.hasQCD {
		return nil, damaged("its header lacks the coding style or the quantisation")
	}
	cs.unpackMain()
	if err := cs.tileParts(data, at); err != nil {
		return nil, err
	}
	return cs, nil
}

func (cs *codestream) size(b []byte) error {
	if len(b) < 36 {
		return damaged("its size is cut short")
	}
	u := func(i int) int { return int(binary.BigEndian.Uint32(b[i:])) }
	cs.x1, cs.y1, cs.x0, cs.y0 = u(2), u(6), u(10), u(14)
	cs.tw, cs.th, cs.tx0, cs.ty0 = u(18), u(22), u(26), u(30)
	n := int(binary.BigEndian.Uint16(b[34:]))
	switch {
	case cs.x1 <= cs.x0 || cs.y1 <= cs.y0 || cs.tw == 0 || cs.th == 0 || n == 0 || len(b) < 36+3*n:
		return damaged("its size makes no sense")
	case cs.tx0 > cs.x0 || cs.ty0 > cs.y0 || cs.tx0+cs.tw <= cs.x0 || cs.ty0+cs.th <= cs.y0:
		return damaged("its tiles lie beside the picture")
	}
	w, h := cs.x1-cs.x0, cs.y1-cs.y0
	if w > limits.MaxImageSide || h > limits.MaxImageSide || w*h > limits.MaxImagePixels {
		return fmt.Errorf("%w: %d x %d pixels", ErrTooLarge, w, h)
	}
	if n > limits.MaxComponents {
		return fmt.Errorf("%w: %d components", ErrTooLarge, n)
	}
	for i := range n {
		s := b[36+3*i:]
		c := Component{int(s[0]&0x7f) + 1, s[0]&0x80 != 0, int(s[1]), int(s[2])}
		if c.DX == 0 || c.DY == 0 {
			return damaged("its size makes no sense")
		}
		if c.Precision > 24 {
			return fmt.Errorf("%w: samples of %d bits", ErrUnsupported, c.Precision)
		}
		cs.components = append(cs.components, c)
	}
	cs.tilesX = ceilDiv(cs.x1-cs.tx0, cs.tw)
	cs.tilesY = ceilDiv(cs.y1-cs.ty0, cs.th)
	if cs.tilesX*cs.tilesY > 65535 {
		return damaged("it has more than 65535 tiles")
	}
	cs.main = &parameters{coding: make([]*coding, n), quant: make([]*quantisation, n), shift: make([]int, n)}
	return nil
}

var errMarker = errors.New("the JPEG 2000 data is damaged: a marker segment is cut short")

// segment reads a marker segment that main and tile headers share.
func (cs *codestream) segment(p *parameters, m int, b []byte) error {
	wide := len(cs.components) > 256
	component := func() (int, bool) {
		if wide {
			if len(b) < 2 {
				return 0, false
			}
			c := int(binary.BigEndian.Uint16(b))
			b = b[2:]
			return c, c < len(cs.components)
		}
		if len(b) < 1 {
			return 0, false
		}
		c := int(b[0])
		b = b[1:]
		return c, c < len(cs.components)
	}
	switch m {
	case markCOD:
		if len(b) < 10 {
			return errMarker
		}
		p.progression, p.layers, p.transform = b[1], int(binary.BigEndian.Uint16(b[2:])), b[4]
		c, err := parseCoding(b[5:], b[0]&1 != 0)
		if err != nil {
			return err
		}
		for i, old := range p.coding {
			if old == nil || old.owner != p {
				p.coding[i] = c
			}
		}
		p.hasCOD = true
	case markCOC:
		i, ok := component()
		if !ok || len(b) < 6 {
			return errMarker
		}
		c, err := parseCoding(b[1:], b[0]&1 != 0)
		if err != nil {
			return err
		}
		c.owner = p
		p.coding[i] = c
	case markQCD:
		q, err := parseQuantisation(b)
		if err != nil {
			return err
		}
		for i, old := range p.quant {
			if old == nil || old.owner != p {
				p.quant[i] = q
			}
		}
		p.hasQCD = true
	case markQCC:
		i, ok := component()
		if !ok {
			return errMarker
		}
		q, err := parseQuantisation(b)
		if err != nil {
			return err
		}
		q.owner = p
		p.quant[i] = q
	case markRGN:
		i, ok := component()
		if !ok || len(b) < 2 {
			return errMarker
		}
		if b[0] == 0 {
			p.shift[i] = int(b[1])
		}
	case markPOC:
		size := 7
		if wide {
			size = 9
		}
		for ; len(b) >= size; b = b[size:] {
			o := order{res0: int(b[0])}
			r := b[1:]
			if wide {
				o.comp0, r = int(binary.BigEndian.Uint16(r)), r[2:]
			} else {
				o.comp0, r = int(r[0]), r[1:]
			}
			o.layers, o.res1, r = int(binary.BigEndian.Uint16(r)), int(r[2]), r[3:]
			if wide {
				o.comp1, r = int(binary.BigEndian.Uint16(r)), r[2:]
			} else {
				o.comp1, r = int(r[0]), r[1:]
			}
			if o.comp1 == 0 { // 256 does not fit
				o.comp1 = len(cs.components)
			}
			o.progression = r[0]
			p.changes = append(p.changes, o)
		}
	}
	return nil
}

func parseCoding(b []byte, precincts bool) (*coding, error) {
	c := &coding{levels: int(b[0]), xcb: int(b[1]&15) + 2, ycb: int(b[2]&15) + 2, style: b[3], reversible: b[4] == 1}
	switch {
	case c.levels > maxLevels || c.xcb > 10 || c.ycb > 10 || c.xcb+c.ycb > 12:
		return c, damaged("its coding style makes no sense")
	case c.style&styleHighRate != 0:
		return c, fmt.Errorf("%w: high-throughput coding", ErrUnsupported)
	case b[4] > 1:
		return c, fmt.Errorf("%w: an unknown wavelet", ErrUnsupported)
	}
	for r := range c.levels + 1 {
		c.precincts[r] = 0xff
		if !precincts {
			continue
		}
		if 5+r >= len(b) {
			return c, errMarker
		}
		c.precincts[r] = b[5+r]
		if r > 0 && (b[5+r]&15 == 0 || b[5+r]>>4 == 0) {
			return c, damaged("its precincts make no sense")
		}
	}
	return c, nil
}

func parseQuantisation(b []byte) (*quantisation, error) {
	if len(b) < 1 {
		return nil, errMarker
	}
	q := &quantisation{style: int(b[0] & 31), guard: int(b[0] >> 5)}
	b = b[1:]
	switch q.style {
	case 0:
		for _, v := range b[:min(len(b), maxBands)] {
			q.exponents = append(q.exponents, v>>3)
			q.mantissas = append(q.mantissas, 0)
		}
	case 1, 2:
		for ; len(b) >= 2 && len(q.exponents) < maxBands; b = b[2:] {
			v := binary.BigEndian.Uint16(b)
			q.exponents = append(q.exponents, uint8(v>>11))
			q.mantissas = append(q.mantissas, v&0x7ff)
		}
	default:
		return nil, damaged("its quantisation makes no sense")
	}
	if len(q.exponents) == 0 {
		return nil, errMarker
	}
	return q, nil
}

// band is the exponent and mantissa of band i, which comes from the nb-th decomposition of levels (Equation E-5).
func (q *quantisation) band(i, nb, levels int) (exponent, mantissa int, ok bool) {
	if q.style == 1 {
		return max(int(q.exponents[0])-(levels-nb), 0), int(q.mantissas[0]), true
	}
	if i >= len(q.exponents) {
		return 0, 0, false
	}
	return int(q.exponents[i]), int(q.mantissas[i]), true
}

// unpackMain splits the packet headers of the main header into those of each tile-part (A.7.4).
func (cs *codestream) unpackMain() {
	sort.SliceStable(cs.packedMain, func(i, j int) bool { return cs.packedMain[i].index < cs.packedMain[j].index })
	var all []byte
	for _, p := range cs.packedMain {
		all = append(all, p.data...)
	}
	for len(all) >= 4 {
		n := min(int(binary.BigEndian.Uint32(all)), len(all)-4)
		cs.packedHeaders = append(cs.packedHeaders, all[4:4+n])
		all = all[4+n:]
	}
}

// tileParts finds all tile-parts from offset at on; damage ends the search.
func (cs *codestream) tileParts(data []byte, at int) error {
	for at+12 <= len(data) && int(binary.BigEndian.Uint16(data[at:])) == markSOT {
		index := int(binary.BigEndian.Uint16(data[at+4:]))
		length := int(binary.BigEndian.Uint32(data[at+6:]))
		end := at + length
		if length == 0 {
			end = len(data)
			if end >= 2 && data[end-2] == 0xff && data[end-1] == markEOC&0xff {
				end -= 2
			}
		}
		if end > len(data) {
			cs.fault(damaged("it is cut short"))
			end = len(data)
		}
		if index >= cs.tilesX*cs.tilesY || end < at+14 {
			cs.fault(damaged("a tile makes no sense"))
			return nil
		}
		if err := cs.tilePart(index, data[at+12:end]); err != nil {
			if errors.Is(err, ErrUnsupported) {
				return err
			}
			cs.fault(err)
		}
		at = end
	}
	if at+2 > len(data) || int(binary.BigEndian.Uint16(data[at:])) != markEOC {
		if len(cs.tiles) < cs.tilesX*cs.tilesY {
			cs.fault(damaged("it is cut short"))
		}
	}
	return nil
}

// tilePart reads the header of a tile-part and keeps its body.
func (cs *codestream) tilePart(index int, data []byte) error {
	t := cs.tiles[index]
	if t == nil {
		t = &tileData{par: cs.main}
		cs.tiles[index] = t
	}
	if cs.parts < len(cs.packedHeaders) {
		t.headers = append(t.headers, cs.packedHeaders[cs.parts]...)
	}
	t.packed = t.packed || len(cs.packedMain) > 0
	cs.parts++
	for {
		if len(data) < 2 {
			return damaged("the header of a tile is cut short")
		}
		m := int(binary.BigEndian.Uint16(data))
		if m == markSOD {
			break
		}
		if len(data) < 4 {
			return damaged("the header of a tile is cut short")
		}
		size := int(binary.BigEndian.Uint16(data[2:]))
		if m < 0xff00 || size < 2 || 2+size > len(data) {
			return damaged("the header of a tile is cut short")
		}
		body := data[4 : 2+size]
		data = data[2+size:]
		switch {
		case m == markPPT && len(body) > 0:
			t.headers = append(t.headers, body[1:]...)
			t.packed = true
			continue
		case m < markCOD || m > markPOC: // a comment, or lengths of packets
			continue
		case t.par == cs.main:
			t.par = cs.main.clone()
		}
		if m == markPOC && !t.pocs {
			t.par.changes, t.pocs = nil, true
		}
		if err := cs.segment(t.par, m, body); err != nil {
			return err
		}
	}
	data = data[2:]
	if t.body == nil {
		t.body = data[:len(data):len(data)]
	} else {
		t.body = append(t.body, data...)
	}
	return nil
}

func ceilDiv(a, b int) int { return (a + b - 1) / b }

func ceilShift(a, n int) int { return (a + 1<<n - 1) >> n }
