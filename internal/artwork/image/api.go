// Package image decodes PDF image XObjects and inline images into samples in their source colour
// space (ISO 32000-2, 8.9). It converts no colour.
package image

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// Image is a decoded image. Samples keep the source depth: rows of Width x Components samples of
// Bits bits, most significant first, each row padded to a byte. Immutable.
type Image struct {
	Width, Height int
	Bits          int          // 1, 2, 4, 8 or 16
	Space         colour.Space // nil for a stencil
	Decode        []float64    // 2 per component, defaults filled in (Table 88)
	Stencil       bool         // an image mask: samples paint where Decode maps them to 0
	Data          []byte       // exactly Height x Stride() bytes
	Interpolate   bool
	Intent        colour.Intent
	SoftMask      *Image    // alpha, DeviceGray, own size; overrides Mask and ColourKey
	Matte         []float64 // of the soft mask, in the image's space; nil = not premultiplied
	Mask          *Image    // hard stencil mask
	ColourKey     []int     // 2 per component on raw samples; nil = none
	Ref           pdf.Ref   // the XObject; zero for inline
	Filter        string    // last filter, "" = none; for quality checks
}

// Components is the number of samples a pixel has.
func (im *Image) Components() int {
	if im.Space == nil {
		return 1
	}
	return im.Space.Components()
}

// Stride is the number of bytes of a row.
func (im *Image) Stride() int { return (im.Width*im.Components()*im.Bits + 7) / 8 }

// Reader decodes images, caching by reference within a budget. Safe for concurrent use.
type Reader struct{}

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, spaces *colour.Reader, sink finding.Sink) *Reader {
	panic("unwritten")
}

// Image decodes an image XObject or an inline stream. Truncated data is padded with white and
// reported; an error means the image cannot be drawn at all (unsupported filter, absurd size), with
// ErrUnsupported or ErrTooLarge wrapped. place is copied into findings.
func (r *Reader) Image(s *pdf.Stream, res pdf.Dict, place finding.Place) (*Image, error) {
	panic("unwritten")
}
