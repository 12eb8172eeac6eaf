package displist

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// Tiling is a tiling pattern (8.7.3) in one colour of use, shared by all items painted with it.
//
// Its cell is a small list of its own in pattern space: Items, with their bounds, clips, pens, glyphs,
// images and masks, stand in pattern space as those of a page do in list space. Nothing of them may be
// marked outside BBox, to which the painter clips the cell (no Clip of an item says so). The cell is
// repeated at (i*XStep, j*YStep) of pattern space for all whole i and j; cells overlap where a step is less
// than the box, in an order that is not defined. The whole is one group, non-isolated and not
// knockout (11.6.7), whose colour, shape and opacity are the source of the item painted with it.
//
// Items of an uncoloured tiling carry the colour it is used with, so that they are painted like any
// other; there is a Tiling for each colour. Tilings with the same cell under different M share Items.
type Tiling struct {
	Items        []Item
	BBox         geom.Rect   // pattern space, not empty
	XStep, YStep float64     // pattern space, above 0
	M            geom.Matrix // pattern space to the space of the items painted with it: list space, or that of the cell round them; regular
	Coloured     bool
	Bounds       geom.Rect // pattern space: of all Items, within BBox; empty when the cell marks nothing
	Blending     bool      // as List.Blending, for the cell
	Ref          pdf.Ref
}

// Shading is a smooth shading (8.7.4), its geometry in shading space with M to list space (or to the
// pattern space of the cell its item is in); M is regular.
//
// Colours are found in Space, tints of Separation and DeviceN among them, and only then separated
// (8.7.4.4). With a Function, it takes the parameter (two of them for type 1) to Space.Components() values, which
// may lie outside the ranges of Space and are then clipped to them; without one, the mesh carries colours within them.
type Shading struct {
	Type  int // 1 to 7
	Space colour.Space
	M     geom.Matrix
	// BBox, in shading space, clips the shading but not the background; nil = none.
	BBox *geom.Rect
	// Background, in Space, lies under the shading of a pattern, over all of the area painted; nil = none,
	// so that only where the shading is defined is anything marked. Always nil for sh.
	Background []float64
	// Coords is the matrix a b c d e f from the domain to shading space (type 1); x0 y0 x1 y1 (type 2);
	// x0 y0 r0 x1 y1 r1 (type 3); nil for meshes.
	Coords []float64
	// Domain is x0 x1 y0 y1 of the function (type 1), the parameter at the start and the end (types 2 and
	// 3; the first may be the larger), its least and greatest value (meshes with a Function), else nil.
	Domain   []float64
	Extend   [2]bool // types 2 and 3: beyond the start, beyond the end
	Function colour.Function
	Mesh     *Mesh // types 4 to 7
	Ref      pdf.Ref
}

// Mesh is the decoded data of shading types 4 to 7. A colour is Space.Components() values, or one
// parameter when the shading has a Function.
type Mesh struct {
	Triangles []int32      // 3 vertex indices each, in paint order (types 4, 5)
	Vertices  []geom.Point // shading space
	Comps     [][]float64  // colour of each vertex
	Patches   []Patch      // types 6, 7, in paint order
	Bounds    geom.Rect    // shading space, of all vertices or control points; may have no width or height
}

// Patch is a tensor-product patch (8.7.4.5.8); a Coons patch has its inner points computed. P[4*i+j]
// is the control point p_ij of the surface S(u,v) = sum of p_ij B_i(u) B_j(v), and C are the colours at (u,v) =
// (0,0), (0,1), (1,1), (1,0), between which colour is bilinear in u and v.
type Patch struct {
	P [16]geom.Point
	C [4][]float64
}
