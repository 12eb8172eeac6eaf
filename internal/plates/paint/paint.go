// Package paint replays a display list onto plates, band by band: coverage from raster, effects from
// separate, compositing by ISO 32000-2 clause 11 with the spots beside the group's colour space.
//
// # Depth
//
// These rules are fixed; goldens depend on them.
//
//   - The root plates have 8 bits. Opaque painting there (alpha 1, Normal, no soft mask, no
//     transparent image, not in a group) is v = (dst*(255-cov) + src*cov + 127)/255 in integers, component
//     by component; Clear is src 0, Leave is untouched; a tint of 16 bits enters as
//     (t + 128)/257.
//   - Everything else is done with 16 bits: tints, alpha and shape are 0..65535, every product or
//     quotient is rounded to nearest once. Constant alpha enters as floor(alpha*65535 + 0.5),
//     coverage and 8-bit tints as v*257. A result for a root plate goes back as (v + 128)/257, which
//     gives an untouched value back unchanged.
//   - Buffers hold tints multiplied by alpha. The page is an isolated group on paper without toner
//     (11.4.7), so the root plates are the product of tint and alpha and need no last step; the
//     page's alpha is kept, as one more plane of the same depth, only when a blend mode reads it.
//
// # Compositing
//
// With tints premultiplied, the formulas of 11.4.8 lose their division. Let P be a group's colour
// times its group alpha ag, both without the backdrop; a0, B0 = a0*C0 the alpha and premultiplied
// colour of the backdrop the group started on (0 when isolated); fs and as shape and alpha of the
// object. Then for every component
//
//	k  = fs in a knockout group, else as
//	P' = (1-k)*P + as*X        X  = (1-ab)*Cs + ab*B(Cb, Cs)
//	ag'= (1-k)*ag + as
//
// where ab, ab*Cb is a0, B0 in a knockout group and otherwise Union(a0, ag), P + (1-ag)*B0. Normal has
// X = Cs and reads no backdrop. CompatibleOverprint with Leave has B = Cb and Cs = no toner, so X is
// the premultiplied backdrop. The backdrop is never copied into a non-isolated group and so need
// not be removed from its result. A tint t counts as 1-t in blend functions (11.3.4).
//
// # Groups that change nothing
//
// A group without alpha, mask, blend mode, knockout or blending space of its own composites like
// its members one by one, unless it is isolated and a member reads its backdrop; it is painted that
// way, straight into its parent.
//
// # Images
//
// A device pixel gets the mean of the samples under it, whatever the resolution: what painting with
// the samples as squares and averaging gives. Samples are separated first, to 8 bits, and then averaged.
package paint

import (
	"image"
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/plates/separate"
)

// Job says what to paint.
type Job struct {
	List   *displist.List
	Target *separate.Target
	DPI    float64
	Region geom.Rect // list space; its top left corner is the corner of pixel (0,0)
	// Part is what to paint of the region, in its pixels; empty = all of it. Its bytes are those the whole region has there,
	// whatever the resolution: the region itself may then have up to MaxSide pixels a side.
	Part    image.Rectangle
	Workers int // goroutines; 0 = GOMAXPROCS
	Sink    finding.Sink
	Timer   *instrument.Timer
	// Skip leaves an item out (with its members when it is a group); nil = paint all.
	Skip func(item int) bool
}

// MaxSide is how many pixels a side a region can have of which parts are painted: half of what the scanner counts to.
const MaxSide = 1 << 20

// Size is the number of pixels a region needs at a resolution: the ceiling, forgiving 0.001 pixel.
func Size(region geom.Rect, dpi float64) (w, h int) {
	side := func(points float64) int {
		px := points * dpi / 72
		if !(px > 0) {
			return 0
		}
		return int(math.Ceil(min(px, 1<<40) - 0.001))
	}
	return side(region.W()), side(region.H())
}

// device is the map from list space to pixels. A corner that lies on the pixel grid of the page is
// subtracted as a whole number, so that a crop has the pixels of the page.
func (j *Job) device() geom.Matrix {
	m, ox, oy := j.pagePixels()
	m.E -= float64(ox)
	m.F -= float64(oy)
	return m
}

// pagePixels is the map from list space to the pixels of the page, of which (ox,oy) is pixel (0,0) of the
// region.
func (j *Job) pagePixels() (m geom.Matrix, ox, oy int) {
	s := j.DPI / 72
	whole := func(v float64) (fraction float64, n int) {
		if r := math.Round(v); math.Abs(v-r) < 1e-6 && math.Abs(r) < 1<<30 {
			return 0, int(r)
		}
		return v, 0
	}
	x, ox := whole(j.Region.X0 * s)
	y, oy := whole(j.Region.Y0 * s)
	return geom.Matrix{A: s, D: s, E: -x, F: -y}, ox, oy
}
