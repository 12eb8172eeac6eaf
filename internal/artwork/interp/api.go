// Package interp runs page content and fills a display list: the graphics state machine of ISO
// 32000-2 clauses 8, 9, 11 and annotations of 12.5. It separates nothing.
package interp

import (
	"context"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/font"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// Reader holds what the pages of one document share. Safe for concurrent use.
type Reader struct {
	Doc    *pdf.Document
	Spaces *colour.Reader
	Fonts  *font.Reader
	Images *image.Reader
}

// NewReader makes the caches for a document.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader { panic("unwritten") }

// Options choose what is drawn.
type Options struct {
	AsViewer      bool            // layers as a printing viewer would show them (8.11.4.5)
	Layers        map[string]bool // by name: overrides the file's visibility
	NoAnnotations bool
	Sink          finding.Sink // findings of this page; nil = discard
}

// Page interprets page n. An error means the page does not exist or ctx ended; everything else is
// findings, and Incomplete on the list.
func (r *Reader) Page(ctx context.Context, n int, opt Options) (*displist.List, error) {
	panic("unwritten")
}
