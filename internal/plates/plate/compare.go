package plate

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"image"
	"math"
)

// Comparison is a PairSink that compares the plates of two pages colourant by colourant, byte for byte
// the same name, over the pixels both pages have, from the top left corner. Set Limit before Begin; read the
// rest after End.
type Comparison struct {
	Limit  int     // the largest difference of two tints (0..255) that still counts as the same
	CellMM float64 // differences this near to each other lie in one box; 0 = 2 mm

	A, B   Header
	Plates []ComparedPlate // those of A in order, then those only B has
	Boxes  []image.Rectangle

	width, height int
	all           *cells
}

// ComparedPlate is what one colourant's plates have different. A plate that one page lacks counts as one without toner.
type ComparedPlate struct {
	Name     string
	IndexA   int // in the page's set; -1 = the page has no such colourant
	IndexB   int
	TonerA   bool  // there is any toner on the plate
	TonerB   bool  //
	Pixels   int64 // that differ by more than Limit
	Compared int64
	Worst    int         // largest difference of all pixels, 0..255
	WorstAt  image.Point // its first place, by rows
	Mean     float64     // mean difference of all pixels, 0..255
	Boxes    []image.Rectangle
	// Twin is the plate in Plates that only the other page has and whose tints are the very same, as when a
	// colourant was only renamed; -1 = none.
	Twin int

	sum   int64
	cells *cells
	print hash.Hash // of a plate that only one page has
}

// defaultCellMM is about the gap between two lines of small type.
const defaultCellMM = 2

// Begin implements PairSink.
func (c *Comparison) Begin(a, b Header) error {
	c.A, c.B, c.Plates, c.Boxes = a, b, nil, nil
	c.width, c.height = min(a.Width, b.Width), min(a.Height, b.Height)
	size := image.Pt(c.width, c.height)
	mm := c.CellMM
	if mm <= 0 {
		mm = defaultCellMM
	}
	side := 1
	if a.DPI > 0 {
		side = max(1, int(math.Round(mm/25.4*a.DPI)))
	}
	c.all = newCells(size, side)
	add := func(name string, ia, ib int) {
		p := ComparedPlate{Name: name, IndexA: ia, IndexB: ib, Compared: int64(c.width) * int64(c.height), Twin: -1, cells: newCells(size, side)}
		if ia < 0 || ib < 0 {
			p.print = sha256.New()
		}
		c.Plates = append(c.Plates, p)
	}
	for i, col := range a.Set.All() {
		ib, ok := b.Set.Lookup(col.Name)
		if !ok {
			ib = -1
		}
		add(col.Name, i, ib)
	}
	for i, col := range b.Set.All() {
		if _, ok := a.Set.Lookup(col.Name); !ok {
			add(col.Name, -1, i)
		}
	}
	return nil
}

// Rows implements PairSink.
func (c *Comparison) Rows(a, b *Band) error {
	zero := make([]byte, c.width)
	for i := range c.Plates {
		p := &c.Plates[i]
		pa, pb := planeOf(a, p.IndexA), planeOf(b, p.IndexB)
		if pa == nil && pb == nil {
			continue
		}
		p.TonerA = p.TonerA || pa != nil && !blank(pa)
		p.TonerB = p.TonerB || pb != nil && !blank(pb)
		for y := range a.Rows {
			ra, rb := zero, zero
			if pa != nil {
				ra = pa[y*c.A.Width:][:c.width]
			}
			if pb != nil {
				rb = pb[y*c.B.Width:][:c.width]
			}
			if !bytes.Equal(ra, rb) {
				c.row(p, a.Y0+y, ra, rb)
			}
		}
	}
	return nil
}

// planeOf is plane i of a band, nil when there is none.
func planeOf(b *Band, i int) []byte {
	if i < 0 {
		return nil
	}
	return b.Planes[i]
}

// row compares two rows that are not alike.
func (c *Comparison) row(p *ComparedPlate, y int, a, b []byte) {
	if p.print != nil {
		var at [8]byte
		binary.LittleEndian.PutUint64(at[:], uint64(y))
		p.print.Write(at[:])
		if p.IndexA >= 0 {
			p.print.Write(a)
		} else {
			p.print.Write(b)
		}
	}
	first, last := -1, -1 // pixels of the run in the cell at hand
	for x, va := range a {
		vb := b[x]
		if va == vb {
			continue
		}
		d := max(int(va)-int(vb), int(vb)-int(va))
		p.sum += int64(d)
		if d > p.Worst {
			p.Worst, p.WorstAt = d, image.Pt(x, y)
		}
		if d <= c.Limit {
			continue
		}
		p.Pixels++
		if first >= 0 && x/p.cells.side != first/p.cells.side {
			p.cells.mark(first, last, y)
			c.all.mark(first, last, y)
			first = -1
		}
		if first < 0 {
			first = x
		}
		last = x
	}
	if first >= 0 {
		p.cells.mark(first, last, y)
		c.all.mark(first, last, y)
	}
}

// End implements PairSink.
func (c *Comparison) End() error {
	for i := range c.Plates {
		p := &c.Plates[i]
		if p.Compared > 0 {
			p.Mean = float64(p.sum) / float64(p.Compared)
		}
		p.Boxes = p.cells.boxes(maxBoxes)
		p.cells = nil
	}
	c.findTwins()
	c.Boxes = c.all.boxes(maxBoxes)
	c.all = nil
	return nil
}

// findTwins pairs plates that only one page has with those only the other has.
func (c *Comparison) findTwins() {
	byPrint := map[string]int{} // of plates only A has
	for i := range c.Plates {
		p := &c.Plates[i]
		if p.print == nil || !p.TonerA && !p.TonerB {
			continue
		}
		sum := string(p.print.Sum(nil))
		if p.IndexB < 0 {
			byPrint[sum] = i
		} else if k, ok := byPrint[sum]; ok {
			p.Twin, c.Plates[k].Twin = k, i
			delete(byPrint, sum)
		}
		p.print = nil
	}
}

// Same reports whether no plate differs by more than Limit. Pages of different sizes are not the same.
func (c *Comparison) Same() bool {
	for i := range c.Plates {
		if c.Plates[i].Pixels > 0 {
			return false
		}
	}
	return c.A.Width == c.B.Width && c.A.Height == c.B.Height
}
