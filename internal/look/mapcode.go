package look

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"

	"github.com/klauspost/compress/zlib"

	"laydown/internal/limits"
)

// The file of maps is written down in docs/maps.md: what a sheet is to a lamp, pixel by pixel, in three layers of four
// bytes, cut into tiles that are read one by one.

const (
	mapMagic     = "\x89LMAP\r\n\x1a"
	mapEnd       = "LMAPEND\n"
	mapVersion   = 1
	mapTile      = 256
	mapPlanes    = 12
	mapEntry     = 12      // bytes of the index for each tile
	mapHeadBytes = 16      // magic, version, length of the header
	mapTailBytes = 16      // place of the index, end mark
	mapMaxHeader = 1 << 20 // bytes of JSON: notes and names, never pictures
	mapMaxSide   = 1024    // of a tile: an entry of the index costs its reader at most 12 MB
	mapLeastSide = 16      // or the index would be larger than the tiles
	mapRootZero  = 1024    // code of linear 0
	mapRootOne   = 2047.0  // codes from there to linear 1
	mapRootMost  = 1<<12 - 1
	mapMetalMost = 2.0 // amplitude of code 255
)

// MapHeader is the JSON at the beginning of a file of maps.
type MapHeader struct {
	Width   int      `json:"width"` // pixels
	Height  int      `json:"height"`
	DPI     float64  `json:"dpi"`
	Tile    int      `json:"tile"` // side in pixels; tiles at the right and at the bottom may be smaller
	Box     MapBox   `json:"box"`
	Stock   string   `json:"stock,omitempty"`
	Laydown []string `json:"laydown,omitempty"` // toners, first laid first
	Glint   MapGlint `json:"glint"`
	Notes   []string `json:"notes,omitempty"`
}

// MapBox is the part of the page that is shown, in points from the top left corner of the MediaBox as viewed.
type MapBox struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
}

// MapGlint says how flakes glint; where they lie is not stored.
type MapGlint struct {
	Flake  float64 `json:"flake_um"`
	Spread float64 `json:"spread_deg"`
	Seed   uint64  `json:"seed"`
}

// check refuses what no reader should try.
func (h *MapHeader) check() error {
	switch {
	case h.Width < 1 || h.Height < 1 || h.Width > limits.MaxPlateSide || h.Height > limits.MaxPlateSide || h.Width > limits.MaxPagePixels/h.Height:
		return fmt.Errorf("maps of %d x %d pixels; a side can have 1 to %d and all %d", h.Width, h.Height, limits.MaxPlateSide, limits.MaxPagePixels)
	case h.Tile < mapLeastSide || h.Tile > mapMaxSide:
		return fmt.Errorf("tiles of %d pixels; they can have %d to %d", h.Tile, mapLeastSide, mapMaxSide)
	case !(h.DPI >= 0 && h.DPI <= 100_000):
		return fmt.Errorf("a resolution of %g dpi", h.DPI)
	}
	return nil
}

// tiles across and down.
func (h *MapHeader) tiles() (nx, ny int) {
	return (h.Width + h.Tile - 1) / h.Tile, (h.Height + h.Tile - 1) / h.Tile
}

// surfaceCode is a surface in the order of the planes.
type surfaceCode [mapPlanes]byte

// Planes: layer 0 is 0 to 3, layer 1 is 4 to 7, layer 2 is 8 to 11.
const (
	planeRootHigh   = 0 // three
	planeCoat       = 3
	planeRootLow    = 4 // three
	planeMetalAlpha = 7
	planeMetal      = 8 // three
	planeShare      = 11
)

func codeFromSurface(s *Surface) (c surfaceCode) {
	for i, v := range s.R45 {
		root := math.Sqrt(math.Abs(float64(v)))
		if v < 0 {
			root = -root
		}
		code := uint16(min(max(mapRootZero+math.Round(root*mapRootOne), 0), mapRootMost))
		c[planeRootHigh+i], c[planeRootLow+i] = byte(code>>4), byte(code<<4)
	}
	for i, v := range s.Metal {
		c[planeMetal+i] = rootByte(float64(v) / mapMetalMost)
	}
	c[planeCoat] = rootByte(float64(s.CoatAlpha))
	c[planeShare] = byte(min(max(float64(s.MetalShare), 0), 1)*255 + 0.5)
	if s.MetalShare > 0 {
		c[planeMetalAlpha] = rootByte(float64(s.MetalAlpha))
	}
	return c
}

func rootByte(v float64) byte {
	if v <= 0 {
		return 0
	}
	return byte(math.Sqrt(min(v, 1))*255 + 0.5)
}

func squareOf(b byte) float64 { return float64(b) * float64(b) / (255 * 255) }

func (c *surfaceCode) surface() (s Surface) {
	for i := range s.R45 {
		root := (float64(uint16(c[planeRootHigh+i])<<4|uint16(c[planeRootLow+i])>>4) - mapRootZero) / mapRootOne
		s.R45[i] = float32(root * math.Abs(root))
		s.Metal[i] = float32(mapMetalMost * squareOf(c[planeMetal+i]))
	}
	s.MetalShare = float32(c[planeShare]) / 255
	s.MetalAlpha, s.CoatAlpha = float32(squareOf(c[planeMetalAlpha])), float32(squareOf(c[planeCoat]))
	return s
}

// Ways a plane is stored in a tile.
const (
	planeConstant = iota // one byte for all pixels
	planePlain
	planeLeft // less the byte at the left, modulo 256; 0 is left of the first
	planeUp   // less the byte above
)

// appendPlane stores w x h bytes of a plane whose rows are stride apart, in the way that looks smallest.
func appendPlane(dst, plane []byte, stride, w, h int) []byte {
	first, same := plane[0], true
	for y := 0; y < h && same; y++ {
		row := plane[y*stride:][:w]
		same = row[0] == first && equalBytes(row) == w
	}
	if same {
		return append(dst, planeConstant, first)
	}
	var cost [3]int
	var none [mapMaxSide]byte
	above := none[:w]
	for y := range h {
		row := plane[y*stride:][:w]
		above = above[:len(row)]
		var left byte
		for x, v := range row {
			cost[0] += absByte(v)
			cost[1] += absByte(v - left)
			cost[2] += absByte(v - above[x])
			left = v
		}
		above = row
	}
	kind := byte(planePlain)
	if cost[1] < cost[0] {
		kind = planeLeft
	}
	if cost[2] < min(cost[0], cost[1]) {
		kind = planeUp
	}
	dst = append(dst, kind)
	for y := range h {
		row := plane[y*stride:][:w]
		switch {
		case kind == planeLeft:
			var left byte
			for _, v := range row {
				dst = append(dst, v-left)
				left = v
			}
		case kind == planeUp && y > 0:
			for x, v := range row {
				dst = append(dst, v-plane[(y-1)*stride+x])
			}
		default:
			dst = append(dst, row...)
		}
	}
	return dst
}

// takePlane reads a plane into every fourth byte of out.
func takePlane(src []byte, out []byte, w, h int) (rest []byte, err error) {
	if len(src) < 2 {
		return nil, errShortTile
	}
	kind, src := src[0], src[1:]
	if kind == planeConstant {
		for i := range w * h {
			out[4*i] = src[0]
		}
		return src[1:], nil
	}
	if kind > planeUp {
		return nil, fmt.Errorf("a plane is stored in a way (%d) that this version does not know", kind)
	}
	if len(src) < w*h {
		return nil, errShortTile
	}
	for i, v := range src[:w*h] {
		switch {
		case kind == planeLeft && i%w > 0:
			v += out[4*(i-1)]
		case kind == planeUp && i >= w:
			v += out[4*(i-w)]
		}
		out[4*i] = v
	}
	return src[w*h:], nil
}

var errShortTile = errors.New("a tile ends too early")

// mapDeflaters compress tiles.
var mapDeflaters = sync.Pool{New: func() any {
	w, err := zlib.NewWriterLevel(nil, 7)
	if err != nil {
		panic(err) // 7 is a level
	}
	return w
}}

// tileBody stores the planes of a tile, not yet compressed; planes[i] starts at the tile's first pixel.
func tileBody(planes *[mapPlanes][]byte, stride, w, h int) []byte {
	raw := make([]byte, 0, mapPlanes*(1+w*h))
	for _, p := range planes {
		raw = appendPlane(raw, p, stride, w, h)
	}
	return raw
}

// packTile compresses the planes of a tile.
func packTile(planes *[mapPlanes][]byte, stride, w, h int) []byte {
	raw := tileBody(planes, stride, w, h)
	var buf bytes.Buffer
	z := mapDeflaters.Get().(*zlib.Writer)
	z.Reset(&buf)
	z.Write(raw) // a bytes.Buffer does not fail
	z.Close()
	mapDeflaters.Put(z)
	return buf.Bytes()
}

// Map is an opened file of maps.
type Map struct {
	Header MapHeader
	Tiles  int // in rows from the top left

	r     io.ReaderAt
	index []byte
	end   int64 // where tiles end
}

// MapTile is a part of the maps in three layers of RGBA8, ready for a graphics card: 0 is the upper eight bits of the
// 45/0 colour and the coat's width, 1 the lower four (in the upper half of the byte) and the flakes' width, 2 the
// flakes' amplitude and share. docs/maps.md tells how to decode them.
type MapTile struct {
	X, Y, Width, Height int
	Layers              [3][]byte // 4 x Width x Height
}

// OpenMap reads header and index of a file of so many bytes. Tiles are read when asked for.
func OpenMap(r io.ReaderAt, size int64) (*Map, error) {
	head := make([]byte, mapHeadBytes)
	if size < mapHeadBytes+mapTailBytes {
		return nil, errors.New("this is no file of maps: it is too short")
	}
	if _, err := r.ReadAt(head, 0); err != nil {
		return nil, err
	}
	if string(head[:8]) != mapMagic {
		return nil, errors.New("this is no file of maps")
	}
	if v := binary.LittleEndian.Uint32(head[8:]); v != mapVersion {
		return nil, fmt.Errorf("the maps are of version %d; this program reads version %d", v, mapVersion)
	}
	n := int64(binary.LittleEndian.Uint32(head[12:]))
	if n > mapMaxHeader || n > size-mapHeadBytes-mapTailBytes {
		return nil, fmt.Errorf("the header of the maps has %d bytes, more than there are or than %d", n, mapMaxHeader)
	}
	text := make([]byte, n)
	if _, err := r.ReadAt(text, mapHeadBytes); err != nil {
		return nil, err
	}
	m := &Map{r: r}
	if err := decodeHeader(text, &m.Header); err != nil {
		return nil, err
	}
	tail := make([]byte, mapTailBytes)
	if _, err := r.ReadAt(tail, size-mapTailBytes); err != nil {
		return nil, err
	}
	if string(tail[8:]) != mapEnd {
		return nil, errors.New("the file of maps is cut off")
	}
	nx, ny := m.Header.tiles()
	m.Tiles = nx * ny
	at := binary.LittleEndian.Uint64(tail)
	if length := int64(m.Tiles) * mapEntry; at > uint64(size) || int64(at) < mapHeadBytes+n || size-mapTailBytes-int64(at) != length {
		return nil, fmt.Errorf("the index of the maps does not fit %d tiles", m.Tiles)
	}
	m.end = int64(at)
	m.index = make([]byte, m.Tiles*mapEntry)
	if _, err := r.ReadAt(m.index, m.end); err != nil {
		return nil, err
	}
	return m, nil
}

// Tile reads one tile.
func (m *Map) Tile(i int) (*MapTile, error) {
	raw, err := m.Body(i)
	if err != nil {
		return nil, err
	}
	t := m.place(i)
	for l := range t.Layers {
		t.Layers[l] = make([]byte, 4*t.Width*t.Height)
		for c := range 4 {
			if raw, err = takePlane(raw, t.Layers[l][c:], t.Width, t.Height); err != nil {
				return nil, fmt.Errorf("tile %d: %w", i, err)
			}
		}
	}
	if len(raw) > 0 {
		return nil, fmt.Errorf("tile %d has more in it than its planes", i)
	}
	return t, nil
}

// place is an empty tile where tile i lies.
func (m *Map) place(i int) *MapTile {
	nx, _ := m.Header.tiles()
	t := &MapTile{X: i % nx * m.Header.Tile, Y: i / nx * m.Header.Tile}
	t.Width, t.Height = min(m.Header.Tile, m.Header.Width-t.X), min(m.Header.Tile, m.Header.Height-t.Y)
	return t
}

// Body reads one tile as it is stored, inflated.
func (m *Map) Body(i int) ([]byte, error) {
	if i < 0 || i >= m.Tiles {
		return nil, fmt.Errorf("there is no tile %d of %d", i, m.Tiles)
	}
	t := m.place(i)
	e := m.index[i*mapEntry:]
	at, n := binary.LittleEndian.Uint64(e), int64(binary.LittleEndian.Uint32(e[8:]))
	most := mapPlanes * (1 + t.Width*t.Height)
	// Deflate adds at most a few bytes to each block; 1 in 100 and a hundred are more than that.
	if at > uint64(m.end) || n > m.end-int64(at) || n > int64(most+most/100+100) {
		return nil, fmt.Errorf("tile %d does not lie in the file", i)
	}
	z, err := zlib.NewReader(io.NewSectionReader(m.r, int64(at), n))
	if err != nil {
		return nil, fmt.Errorf("tile %d: %w", i, err)
	}
	raw, err := io.ReadAll(io.LimitReader(z, int64(most)+1))
	if err != nil {
		return nil, fmt.Errorf("tile %d: %w", i, err)
	}
	return raw, nil
}

// Surface decodes a pixel of the tile.
func (t *MapTile) Surface(x, y int) Surface {
	var c surfaceCode
	for l := range t.Layers {
		copy(c[4*l:], t.Layers[l][4*(y*t.Width+x):][:4])
	}
	return c.surface()
}
