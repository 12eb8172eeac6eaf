// Package interp runs page content and fills a display list: the graphics state machine of ISO
// 32000-2 clauses 8, 9, 11 and annotations of 12.5. It separates nothing.
//
// A page is one machine: content streams (the page's, then forms, Type 3 glyphs, soft masks and
// appearances within them) run on one graphics state and append to one list of items. Everything
// is carried to list space while it is read; what is inherited is written out on each item; what
// cannot mark never reaches the list.
//
// Patterns are settled where they are selected and resolved where they paint. A tiling's cell is a list of its own in
// pattern space, run once for each colour it is used in and each graphics state it may begin with;
// pattern.go tells of colours, cell.go of cells, shading.go and mesh.go of shadings.
package interp

import (
	"context"
	"fmt"
	"sync"

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

	layersOnce sync.Once
	layers     *layerTable
}

// NewReader makes the caches for a document. Damage of fonts, images and colour spaces, which pages
// share, goes to sink.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader {
	if sink == nil {
		sink = finding.Discard
	}
	spaces := colour.NewReader(doc, sink)
	return &Reader{
		Doc:    doc,
		Spaces: spaces,
		Fonts:  font.NewReader(doc, sink),
		Images: image.NewReader(doc, spaces, sink),
	}
}

// Options choose what is drawn.
type Options struct {
	AsViewer      bool            // layers as a printing viewer would show them (8.11.4.5)
	Layers        map[string]bool // by name: overrides the file's visibility
	NoAnnotations bool
	Sink          finding.Sink // findings of this page; nil = discard
}

// Page interprets page n, from 1. An error means the page does not exist or ctx ended; everything
// else is findings, and Incomplete on the list.
func (r *Reader) Page(ctx context.Context, n int, opt Options) (*displist.List, error) {
	pg, err := r.Doc.Page(n)
	if err != nil {
		return nil, fmt.Errorf("page %d: %w", n, err)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	m := newMachine(ctx, r, pg, opt)
	m.runPage()
	if !opt.NoAnnotations {
		m.runAnnotations()
	}
	m.finish()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return m.list, nil
}

// layerTable reads the document's optional content once.
func (r *Reader) layerTable() *layerTable {
	r.layersOnce.Do(func() { r.layers = readLayers(r.Doc) })
	return r.layers
}
