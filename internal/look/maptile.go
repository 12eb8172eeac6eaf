package look

import (
	"fmt"
	"image"
	"sync"

	"laydown/internal/plates/plate"
)

// MapTileSide is the side of the tiles of maps, in pixels.
const MapTileSide = mapTile

// TileCoder codes tiles of maps one by one, for a viewer that asks for what it looks at. It is safe for concurrent use.
type TileCoder struct {
	source surfaceSource
	inputs []int
	model  *Model // nil for sources that are none
	work   sync.Pool
	over   sync.Pool
	ground func() (grounds, error)
}

// grounds are models of a laydown on the sheet over white and over black.
type grounds struct{ bright, dark *Model }

type tileWork struct {
	mapWorker
	planes [mapPlanes][]byte
}

// NewTileCoder codes plates by model m.
func NewTileCoder(m *Model) *TileCoder {
	c := newTileCoder(m)
	c.model = m
	c.ground = sync.OnceValues(func() (g grounds, err error) {
		g.bright, g.dark, err = m.grounds()
		return g, err
	})
	return c
}

func newTileCoder(source surfaceSource) *TileCoder {
	c := &TileCoder{source: source, inputs: source.inputPlates()}
	c.work.New = func() any {
		w := &tileWork{mapWorker: mapWorker{surface: source.surfaces()}}
		for i := range w.planes {
			w.planes[i] = make([]byte, mapTile*mapTile)
		}
		return w
	}
	return c
}

// Tile codes a part of plates, at most MapTileSide pixels a side: the bytes are those a tile of a file of maps inflates to
// (docs/maps.md). behind is what shows through from the other side, nil = nothing; its pixels are those of the page, of
// which (0,0) of the plates is pixel at.
func (c *TileCoder) Tile(st *plate.Stack, part image.Rectangle, behind *Behind, at image.Point) ([]byte, error) {
	size := part.Size()
	if part.Empty() || size.X > mapTile || size.Y > mapTile || !part.In(image.Rect(0, 0, st.Width, st.Height)) {
		return nil, fmt.Errorf("%v is no tile of %d x %d pixels", part, st.Width, st.Height)
	}
	var active []plane
	for i, number := range c.inputs {
		if number >= st.Set.Len() {
			return nil, fmt.Errorf("the page has %d plates, the model of its look uses plate %d", st.Set.Len(), number)
		}
		if pix := st.Plane(number); pix != nil {
			active = append(active, plane{i, pix})
		}
	}
	w := c.work.Get().(*tileWork)
	defer c.work.Put(w)
	if behind != nil {
		if err := c.codeOver(w, st.Width, active, part, behind, at); err != nil {
			return nil, err
		}
		return tileBody(&w.planes, size.X, size.X, size.Y), nil
	}
	for y := range size.Y {
		w.code(active, (part.Min.Y+y)*st.Width+part.Min.X, size.X, &w.planes, y*size.X)
	}
	return tileBody(&w.planes, size.X, size.X, size.Y), nil
}

// codeOver codes a part with something behind the sheet.
func (c *TileCoder) codeOver(w *tileWork, width int, active []plane, part image.Rectangle, behind *Behind, at image.Point) error {
	if c.model == nil {
		return fmt.Errorf("nothing shows through what is no sheet")
	}
	g, err := c.ground()
	if err != nil {
		return err
	}
	e, ok := c.over.Get().(*between)
	if !ok {
		e = newBetween(g.bright, g.dark)
	}
	defer c.over.Put(e)
	var last key
	var lastLevel [mixBands]uint8
	var surface Surface
	var code surfaceCode
	known := false
	size := part.Dx()
	for y := range part.Dy() {
		from := (part.Min.Y+y)*width + part.Min.X
		for x := 0; x < size; {
			var k key
			end := size
			for _, p := range active {
				k.set(p.input, p.pix[from+x])
				end = x + equalBytes(p.pix[from+x:from+end])
			}
			level := behind.at(at.X+part.Min.X+x, at.Y+part.Min.Y+y)
			end = min(end, x+behind.same(at.X+part.Min.X+x, at.Y+part.Min.Y+y, end-x))
			if !known || k != last || *level != lastLevel {
				if !known || k != last {
					surface = e.bright.surface(k)
				}
				for i, v := range e.linearAt(k, level) {
					surface.R45[i] = float32(v)
				}
				code = codeFromSurface(&surface)
				last, lastLevel, known = k, *level, true
			}
			for i, v := range code {
				fillBytes(w.planes[i][y*size+x:y*size+end], v)
			}
			x = end
		}
	}
	return nil
}
