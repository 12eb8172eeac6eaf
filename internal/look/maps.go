package look

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"laydown/internal/limits"
	"laydown/internal/plates/plate"
)

// MapSink is a plate.Sink that writes a file of maps as bands come; a row of tiles is all that it holds of the page. The
// bytes are the same for any number of workers.
type MapSink struct {
	// Reduce makes the maps smaller by this whole factor, by averages; set it before Begin.
	Reduce int
	// Info is copied to the header; size, resolution and box come from the plates.
	Info MapHeader

	source surfaceSource
	inputs []int
	w      *bufio.Writer
	at     uint64 // bytes written
	index  []byte
	work   []*mapWorker
	header plate.Header
	size   MapHeader
	planes [mapPlanes][]byte // of one row of tiles, Width x Tile
	rows   int               // of plates taken
	begun  bool
}

type mapWorker struct {
	surface func(key) Surface
	codes   []codeMemory
	cache   []mapMemory // of maps that are made smaller
	sums    [][mapSums]float64
}

type codeMemory struct {
	key  key
	code surfaceCode
	used bool
}

type mapMemory struct {
	key     key
	used    bool
	surface Surface
}

// Sums of a reduced pixel: R45, Metal, MetalShare, MetalAlpha times share, CoatAlpha.
const mapSums = 9

// NewMapSink writes maps of plates with model m to w on so many goroutines.
func NewMapSink(m *Model, w io.Writer, info MapHeader, workers int) *MapSink {
	return newMapSink(m, w, info, workers)
}

func newMapSink(source surfaceSource, w io.Writer, info MapHeader, workers int) *MapSink {
	s := &MapSink{Info: info, source: source, inputs: source.inputPlates(), w: bufio.NewWriterSize(w, 1<<16)}
	for range max(workers, 1) {
		s.work = append(s.work, &mapWorker{surface: source.surfaces()})
	}
	return s
}

// Begin implements plate.Sink.
func (s *MapSink) Begin(h plate.Header) error {
	if s.begun {
		return errors.New("one file takes the maps of one page")
	}
	s.Reduce = max(s.Reduce, 1)
	w, ht, err := pictureSize(h, s.Reduce, s.inputs)
	if err != nil {
		return err
	}
	s.header, s.size, s.begun = h, s.Info, true
	s.size.Width, s.size.Height, s.size.DPI, s.size.Tile = w, ht, h.DPI/float64(s.Reduce), mapTile
	s.size.Box = MapBox{}
	if h.DPI > 0 {
		s.size.Box = MapBox{h.OriginX, h.OriginY, float64(h.Width) * 72 / h.DPI, float64(h.Height) * 72 / h.DPI}
	}
	if err := s.size.check(); err != nil {
		return err
	}
	text, err := json.Marshal(&s.size)
	if err != nil {
		return err
	}
	if len(text) > mapMaxHeader {
		return fmt.Errorf("names and notes of the maps take %d bytes; at most %d", len(text), mapMaxHeader)
	}
	for i := range s.planes {
		s.planes[i] = make([]byte, w*min(mapTile, ht))
	}
	if s.Reduce > 1 {
		for _, worker := range s.work {
			worker.sums = make([][mapSums]float64, w)
		}
	}
	head := binary.LittleEndian.AppendUint32([]byte(mapMagic), mapVersion)
	head = binary.LittleEndian.AppendUint32(head, uint32(len(text)))
	return s.write(append(head, text...))
}

func (s *MapSink) write(b []byte) error {
	s.at += uint64(len(b))
	_, err := s.w.Write(b)
	return err
}

// Band implements plate.Sink.
func (s *MapSink) Band(b *plate.Band) error {
	if !s.begun || b.Y0 != s.rows || b.Rows < 0 || b.Rows > s.header.Height-s.rows {
		return fmt.Errorf("band at row %d of %d rows does not follow row %d", b.Y0, b.Rows, s.rows)
	}
	active, err := activePlanes(b, s.header.Width, s.inputs)
	if err != nil {
		return err
	}
	s.rows += b.Rows
	// A band may end within a row of tiles and may hold several.
	for row := 0; row < b.Rows; {
		y := b.Y0 + row
		end := min(b.Rows, row+s.Reduce*mapTile-y%(s.Reduce*mapTile))
		n := min(len(s.work), max(1, s.size.Width/16))
		var wg sync.WaitGroup
		for i := range n {
			c0, c1 := s.size.Width*i/n, s.size.Width*(i+1)/n
			wg.Go(func() { s.strip(s.work[i], b.Y0, row, end, active, c0, c1) })
		}
		wg.Wait()
		row = end
		if done := b.Y0 + row; done%(s.Reduce*mapTile) == 0 || done == s.header.Height {
			if err := s.tileRow((done - 1) / s.Reduce / mapTile); err != nil {
				return err
			}
		}
	}
	return nil
}

// strip codes map columns c0 to c1 of rows of a band that lie in one row of tiles.
func (s *MapSink) strip(w *mapWorker, y0, row, end int, active []plane, c0, c1 int) {
	width := s.header.Width
	x0, x1 := c0*s.Reduce, min(c1*s.Reduce, width)
	e := w.entry(key{})
	for ; row < end; row++ {
		y := y0 + row
		at := y / s.Reduce % mapTile * s.size.Width
		if s.Reduce == 1 {
			w.code(active, row*width+x0, x1-x0, &s.planes, at+x0)
			continue
		}
		for x := x0; x < x1; x++ {
			var k key
			for _, p := range active {
				k.set(p.input, p.pix[row*width+x])
			}
			if k != e.key {
				e = w.entry(k)
			}
			sum := &w.sums[x/s.Reduce]
			for c := range 3 {
				sum[c] += float64(e.surface.R45[c])
				sum[3+c] += float64(e.surface.Metal[c])
			}
			sum[6] += float64(e.surface.MetalShare)
			sum[7] += float64(e.surface.MetalShare) * float64(e.surface.MetalAlpha)
			sum[8] += float64(e.surface.CoatAlpha)
		}
		if (y+1)%s.Reduce != 0 && y+1 != s.header.Height {
			continue
		}
		rows := y%s.Reduce + 1
		for c := c0; c < c1; c++ {
			n := float64(rows * (min((c+1)*s.Reduce, width) - c*s.Reduce))
			sum := &w.sums[c]
			mean := Surface{MetalShare: float32(sum[6] / n), CoatAlpha: float32(sum[8] / n)}
			for i := range 3 {
				mean.R45[i], mean.Metal[i] = float32(sum[i]/n), float32(sum[3+i]/n)
			}
			if sum[6] > 0 {
				mean.MetalAlpha = float32(sum[7] / sum[6])
			}
			for i, v := range codeFromSurface(&mean) {
				s.planes[i][at+c] = v
			}
			*sum = [mapSums]float64{}
		}
	}
}

// code writes the codes of n pixels, which begin at from in the plates, into planes from to on.
func (w *mapWorker) code(active []plane, from, n int, planes *[mapPlanes][]byte, to int) {
	for x := 0; x < n; {
		var k key
		end := n
		for _, p := range active {
			k.set(p.input, p.pix[from+x])
			end = x + equalBytes(p.pix[from+x:from+end])
		}
		code := w.coded(k)
		if end == x+1 {
			for i, v := range code {
				planes[i][to+x] = v
			}
		} else {
			for i, v := range code {
				fillBytes(planes[i][to+x:to+end], v)
			}
		}
		x = end
	}
}

// equalBytes is how many bytes from the first on are the same.
func equalBytes(b []byte) int {
	v := b[0]
	n := 1
	if len(b) > 1 && b[1] == v {
		for eight := uint64(v) * 0x0101010101010101; n+8 <= len(b) && binary.LittleEndian.Uint64(b[n:]) == eight; {
			n += 8
		}
	}
	for n < len(b) && b[n] == v {
		n++
	}
	return n
}

func fillBytes(b []byte, v byte) {
	if v == 0 {
		clear(b)
		return
	}
	for i := range b {
		b[i] = v
	}
}

// coded is the code of a pixel.
func (w *mapWorker) coded(k key) *surfaceCode {
	if w.codes == nil {
		w.codes = make([]codeMemory, litCacheSize)
	}
	e := &w.codes[k.slot()]
	if !e.used || e.key != k {
		surface := w.surface(k)
		e.key, e.code, e.used = k, codeFromSurface(&surface), true
	}
	return &e.code
}

// slot is where a table of litCacheSize remembers a pixel.
func (k *key) slot() uint64 { return mixed(k[0]*hashA^k[1]*hashB) >> (64 - litCacheBits) }

func (w *mapWorker) entry(k key) *mapMemory {
	if w.cache == nil {
		w.cache = make([]mapMemory, litCacheSize)
	}
	e := &w.cache[k.slot()]
	if !e.used || e.key != k {
		*e = mapMemory{k, true, w.surface(k)}
	}
	return e
}

// tileRow compresses and writes a row of tiles.
func (s *MapSink) tileRow(row int) error {
	nx, _ := s.size.tiles()
	h := min(mapTile, s.size.Height-row*mapTile)
	packed := make([][]byte, nx)
	var wg sync.WaitGroup
	for first := range min(len(s.work), nx) {
		wg.Go(func() {
			for i := first; i < nx; i += len(s.work) {
				var planes [mapPlanes][]byte
				for p := range planes {
					planes[p] = s.planes[p][i*mapTile:]
				}
				packed[i] = packTile(&planes, s.size.Width, min(mapTile, s.size.Width-i*mapTile), h)
			}
		})
	}
	wg.Wait()
	for _, p := range packed {
		s.index = binary.LittleEndian.AppendUint64(s.index, s.at)
		s.index = binary.LittleEndian.AppendUint32(s.index, uint32(len(p)))
		if err := s.write(p); err != nil {
			return err
		}
	}
	return nil
}

// End writes the index.
func (s *MapSink) End() error {
	if !s.begun || s.rows != s.header.Height {
		return fmt.Errorf("the page ended at row %d of %d", s.rows, s.header.Height)
	}
	at := s.at
	tail := binary.LittleEndian.AppendUint64(s.index, at)
	if err := s.write(append(tail, mapEnd...)); err != nil {
		return err
	}
	return s.w.Flush()
}

// decodeHeader reads the JSON of a header. Unknown fields are left for later versions.
func decodeHeader(text []byte, h *MapHeader) error {
	if err := json.Unmarshal(text, h); err != nil {
		return fmt.Errorf("the header of the maps cannot be read: %s", strings.TrimPrefix(err.Error(), "json: "))
	}
	if len(h.Laydown) > limits.MaxColourants {
		return fmt.Errorf("the header of the maps names %d toners; at most %d", len(h.Laydown), limits.MaxColourants)
	}
	return h.check()
}
