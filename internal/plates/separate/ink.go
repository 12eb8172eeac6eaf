package separate

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
)

// Colour separates one source colour. image is true for samples of images and computed colours (OPM 1 does not act, 1.4.4).
func (t *Target) Colour(p displist.Paint, overprint bool, mode int, image bool, intent colour.Intent, ctx Context) Ink {
	panic("unwritten")
}

// Inker separates colours with a memory of those already seen. One goroutine's own; the inks it
// returns are shared and must not be changed.
type Inker struct{}

// NewInker returns an Inker for t.
func (t *Target) NewInker() *Inker { panic("unwritten") }

// Colour is Target.Colour, remembered.
func (k *Inker) Colour(p displist.Paint, overprint bool, mode int, image bool, intent colour.Intent, ctx Context) *Ink {
	panic("unwritten")
}

// SpaceInk is what all colours of one space do, where OPM does not act (images, shadings): the
// effects do not depend on the colour. Immutable.
type SpaceInk struct {
	Effects []Effect
	Reasons []Reason
	Nothing bool
	Painted []int // components whose Effect is Paint, ascending
}

// Space separates a colour space.
func (t *Target) Space(s colour.Space, overprint bool, intent colour.Intent, ctx Context) *SpaceInk {
	panic("unwritten")
}

// Tints sets dst[i] to the tint (0..65535) of component Painted[i] for a colour. Safe for concurrent use.
func (s *SpaceInk) Tints(dst []uint16, comps []float64) { panic("unwritten") }

// ImageInk is a sampled image, separated: a SpaceInk and the rows of its planes. Immutable.
type ImageInk struct {
	*SpaceInk
	Image *image.Image
}

// Image separates a sampled image (not a stencil: that is painted with Colour).
func (t *Target) Image(pic *image.Image, overprint bool, intent colour.Intent, ctx Context) *ImageInk {
	panic("unwritten")
}

// ImageRows converts rows of an image, with scratch memory of its own: for one goroutine.
type ImageRows struct{}

// Rows returns a row converter.
func (k *ImageInk) Rows() *ImageRows { panic("unwritten") }

// Row writes the tints of samples x0 <= x < x1 of source row y: dst[i][x-x0] is the tint 0..255 of
// component Painted[i]. Decode and Matte are applied.
func (r *ImageRows) Row(y, x0, x1 int, dst [][]uint8) { panic("unwritten") }

// Row16 is Row with tints 0..65535.
func (r *ImageRows) Row16(y, x0, x1 int, dst [][]uint16) { panic("unwritten") }

// StencilRow writes 255 where an image mask (or hard Mask) paints, else 0.
func StencilRow(pic *image.Image, y, x0, x1 int, dst []uint8) { panic("unwritten") }

// AlphaRow writes a soft-mask image's alpha 0..255, Decode applied.
func AlphaRow(pic *image.Image, y, x0, x1 int, dst []uint8) { panic("unwritten") }

// KeyRow writes 0 where the colour key of pic masks a sample out, else 255.
func KeyRow(pic *image.Image, y, x0, x1 int, dst []uint8) { panic("unwritten") }
