package paint

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// What shadings and tilings cost beyond a plain fill of their area, in the units of budget.
const (
	costShade    = 3    // a table is read
	costRadial   = 12   // after a root is taken
	costFunction = 80   // the function is called for each pixel
	costMesh     = 12   // triangles are found and interpolated, for each time one lies over an area
	costTriangle = 20   // and set up
	costPatch    = 1000 // a patch: cut into triangles
	costCut      = 20   // for each point of length of the patch, up to
	costCuts     = 16_000
	costRamp     = 1000 // a table of colours, and
	costRampSide = 100  // for each point of length of the shading's axis
	costTiled    = 4    // a raster of a tile is read, or a group of tiles composited
	costHeld     = 12   // and what is kept by component
	costTile     = 600  // a tile is planned
	costTileItem = 20   // with each of its items
	costFine     = cellFine * cellFine
	// A pixel of the coarsest resolution for which work is told, in points.
	pixelSide = 0.5
	// Tiles larger than this (square points) may be painted one by one.
	largeTile = 400
	// No raster has more entries than limits.MaxTilingEntries: with six components at 300 dpi, so many square points.
	largestRaster = limits.MaxTilingEntries / 6 / 17
)

// cost is an amount for each square unit of pattern or shading space, and one whatever the size.
type cost struct{ area, fixed float64 }

// pattern is the cost of painting rect with what an item has beyond a plain colour.
func (b *budget) pattern(it *displist.Item, rect geom.Rect) float64 {
	s := it.Shading
	if s == nil {
		s = it.Paint.Shading
	}
	size := b.area(rect)
	switch {
	case s != nil:
		return b.shading(s, size)
	case it.Paint.Tiling != nil:
		// What shares no more than a pixel with its clip is looked at.
		rect = rect.Grow(pixelSide / math.Sqrt(b.real))
		if area(rect) == 0 {
			return 0
		}
		each := float64(costTiled)
		if b.reader.tileReading(it.Paint.Tiling).backdrop {
			each = costHeld
		}
		return b.tiling(it, rect) + float64(each*size)
	}
	return 0
}

func (b *budget) shading(s *displist.Shading, size float64) float64 {
	c := 0.0
	if !b.met[s] {
		b.met[s] = true
		c = costRamp + float64(costRampSide*min(2000, axisLength(s)))
	}
	switch {
	case s.Type == 1:
		return c + float64(costFunction*size)
	case s.Type == 3:
		return c + float64(costRadial*size)
	case s.Mesh == nil:
		return c + float64(costShade*size)
	}
	m := b.mesh(s.Mesh, s.M.Expansion()*math.Sqrt(b.real))
	if !b.made[s] { // triangles are made once for the page, and for each tile
		b.made[s] = true
		c += m.setup
	}
	// What lies outside the area is not interpolated; triangles may lie on top of each other in it.
	over := float64(m.area*math.Abs(s.M.Det())) * b.scale
	return c + float64(costMesh*min(over, float64(size*m.triangles))) + float64(costTriangle*m.triangles) + float64(costShade*size)
}

// axisLength is the length of an axial or radial shading in list space.
func axisLength(s *displist.Shading) float64 {
	switch c := s.Coords; s.Type {
	case 2:
		return math.Hypot(c[2]-c[0], c[3]-c[1]) * s.M.Expansion()
	case 3:
		return (math.Hypot(c[3]-c[0], c[4]-c[1]) + math.Abs(c[5]-c[2])) * s.M.Expansion()
	}
	return 0
}

// meshSize is a mesh at a size.
type meshSize struct {
	mesh *displist.Mesh
	size float64 // points of a unit of shading space
}

// meshCost is the area of all triangles of a mesh, in shading space, their number, a patch counting for several, and what cutting its
// patches costs.
type meshCost struct{ area, triangles, setup float64 }

// mesh counts a patch as what its net of control points covers.
func (b *budget) mesh(m *displist.Mesh, size float64) meshCost {
	key := meshSize{m, size}
	if c, ok := b.meshes[key]; ok {
		return c
	}
	var c meshCost
	for i := 0; i+2 < len(m.Triangles); i += 3 {
		c.area += triangleArea(m.Vertices[m.Triangles[i]], m.Vertices[m.Triangles[i+1]], m.Vertices[m.Triangles[i+2]])
		c.triangles++
	}
	for i := range m.Patches {
		p := &m.Patches[i].P
		for k := range 9 {
			at := k/3*4 + k%3
			c.area += triangleArea(p[at], p[at+1], p[at+4]) + triangleArea(p[at+1], p[at+4], p[at+5])
		}
		c.triangles += costPatch / costTriangle
		n := net(*p)
		x0, y0, x1, y1 := n.bounds()
		if length := (x1 - x0 + y1 - y0) * size; length < costCuts/costCut {
			c.setup += float64(costCut * length)
		} else {
			c.setup += costCuts
		}
	}
	c.setup = min(c.setup, 4*limits.MaxMeshTriangles)
	b.meshes[key] = c
	return c
}

func triangleArea(p, q, r geom.Point) float64 {
	return math.Abs(float64((q.X-p.X)*(r.Y-p.Y))-float64((r.X-p.X)*(q.Y-p.Y))) / 2
}

// tiling is the cost of the tiles of an item that reach rect.
func (b *budget) tiling(it *displist.Item, rect geom.Rect) float64 {
	t := it.Paint.Tiling
	det := math.Abs(t.M.Det())
	inv, ok := t.M.Invert()
	if !ok || len(t.Items) == 0 {
		return 0
	}
	cell := b.cell(t, float64(b.real*det))
	one := float64(cell.area*det)*b.scale + cell.fixed
	seen := inv.Bounds(rect)
	n, rows := tilesIn(t, inv, rect)
	reads := b.reader.tileReading(t)
	if reads.blends || reads.backdrop && it.Blend != displist.Normal {
		return float64(n*one) + rows
	}
	if !b.met[t] { // the raster, which is made once
		b.met[t] = true
		lap := max(1, math.Ceil(t.Bounds.W()/t.XStep)) * max(1, math.Ceil(t.Bounds.H()/t.YStep))
		step := float64(t.XStep * t.YStep)
		density := cell.area / step
		once := float64(density*min(float64(costFine*step*det)*b.real, largestRaster)) + float64(lap*cell.fixed)
		if reads.backdrop {
			once *= 2
		}
		*b.once += once
	}
	c := 0.0
	if float64(t.XStep*t.YStep*det)*b.real > largeTile {
		c += min(float64(n*one)+rows, b.tilesSeen(t, seen, det, n*float64(len(t.Items)), cell.fixed))
	}
	return c
}

// tilesSeen is the cost of the parts of tiles that lie in seen, a rectangle of pattern space; work is about how many
// items have to be looked at for it.
func (b *budget) tilesSeen(t *displist.Tiling, seen geom.Rect, det, work, fixed float64) float64 {
	// Cells within cells are not looked through: their number doubles with each level.
	const most, mostInAll = 1 << 12, 1 << 20
	if b.looked += work; b.depth > 0 || !(work <= most && b.looked <= mostInAll) {
		return math.Inf(1)
	}
	c := 0.0
	// Counted in whole numbers: far out adding 1 to a coordinate changes nothing.
	x0, y0 := math.Ceil((seen.X0-t.Bounds.X1)/t.XStep), math.Ceil((seen.Y0-t.Bounds.Y1)/t.YStep)
	for j := range int(tileCount(seen.H()+t.Bounds.H(), t.YStep)) {
		for i := range int(tileCount(seen.W()+t.Bounds.W(), t.XStep)) {
			x, y := float64((x0+float64(i))*t.XStep), float64((y0+float64(j))*t.YStep)
			part := geom.Rect{X0: seen.X0 - x, Y0: seen.Y0 - y, X1: seen.X1 - x, Y1: seen.Y1 - y}.Intersect(t.BBox)
			in := &budget{page: part, masks: map[*displist.SoftMask]float64{}, depth: b.depth + 1, scale: float64(b.scale * det), real: float64(b.real * det),
				once: b.once, met: b.met, made: map[*displist.Shading]bool{}, meshes: b.meshes, cells: b.cells, reader: b.reader}
			items, _ := in.items(t.Items, part, true, math.MaxFloat64)
			c += items + fixed
		}
	}
	return c
}

// tilesIn is how many tiles rect can touch, inv mapping it to pattern space, and rows of tiles. A turned rectangle touches
// fewer than the box round it.
func tilesIn(t *displist.Tiling, inv geom.Matrix, rect geom.Rect) (n, rows float64) {
	seen := inv.Bounds(rect)
	rows = tileCount(seen.H()+t.Bounds.H(), t.YStep)
	n = tileCount(seen.W()+t.Bounds.W(), t.XStep) * rows
	// The places of tiles that touch it fill what it covers moved about by a tile; a step more on every side makes up for counting whole ones.
	w, h := t.Bounds.W()+2*t.XStep, t.Bounds.H()+2*t.YStep
	ax, ay, bx, by := math.Abs(inv.A*rect.W()), math.Abs(inv.B*rect.W()), math.Abs(inv.C*rect.H()), math.Abs(inv.D*rect.H())
	area := float64(math.Abs(inv.Det())*rect.W()*rect.H()) + float64((ax+bx)*h) + float64((ay+by)*w) + float64(w*h)
	return min(n, area/float64(t.XStep*t.YStep)), rows
}

// tileCount is how many tiles a length can touch.
func tileCount(length, step float64) float64 { return math.Floor(max(0, length)/step) + 2 }

// cell is the cost of painting one tile, a square unit of which is so many square points.
func (b *budget) cell(t *displist.Tiling, real float64) cost {
	if c, ok := b.cells[t]; ok {
		return c
	}
	b.cells[t] = cost{} // a tiling within itself is not painted
	if b.depth >= limits.MaxFormDepth {
		return cost{}
	}
	// The cost of items grows in a straight line with the square of the scale.
	at := func(scale float64) float64 {
		in := &budget{page: t.BBox, masks: map[*displist.SoftMask]float64{}, depth: b.depth + 1, scale: scale, real: real,
			once: b.once, met: b.met, made: map[*displist.Shading]bool{}, meshes: b.meshes, cells: b.cells, reader: b.reader}
		c, _ := in.items(t.Items, t.BBox, true, math.MaxFloat64)
		return c
	}
	fixed := at(1e-9)
	c := cost{area: max(0, at(1)-fixed), fixed: fixed + costTile + costTileItem*float64(len(t.Items))}
	b.cells[t] = c
	return c
}
