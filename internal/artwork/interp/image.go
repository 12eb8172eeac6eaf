package interp

import (
	"math"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// imageKey tells decoded images apart: device colours of one image may mean different things under
// resources with default spaces.
type imageKey struct {
	stream streamKey
	res    *resources
}

type imageEntry struct{ im *image.Image }

// inlineKey is where an inline image stands, in streams that may run more than once.
type inlineKey struct {
	source streamKey
	offset int64
}

var unitSquare = geom.Rect{X1: 1, Y1: 1}

// imageArea is what an image would mark now; ok is false when nothing.
func (m *machine) imageArea() (geom.Rect, bool) {
	c := m.gs.ctm
	b := clampRect(c.Bounds(unitSquare)).Intersect(m.gs.area)
	return b, !b.Empty() && c.Det() != 0 && !math.IsInf(1/c.Det(), 0)
}

// imageXObject draws an image XObject (8.9.5), decoding it the first time only.
func (m *machine) imageXObject(s *pdf.Stream) {
	area, ok := m.imageArea()
	if !ok {
		return
	}
	key := imageKey{stream: keyOf(s)}
	if m.f.res.defaults {
		key.res = m.f.res
	}
	e, ok := m.images[key]
	if !ok {
		var err error
		if e.im, err = m.r.Images.Image(s, m.f.res.dict, m.hereAt(area)); err != nil {
			m.imageNotDrawn(err, area)
			e.im = nil
		}
		m.images[key] = e
	}
	if e.im != nil {
		m.placeImage(e.im, area, s.Dict["Intent"] != nil)
	}
}

// inlineImage draws an inline image (8.9.7).
func (m *machine) inlineImage(in *content.Inline) {
	area, ok := m.imageArea()
	if !ok {
		return
	}
	key := inlineKey{m.f.source, m.offset}
	im, ok := m.inline[key]
	if !ok {
		var err error
		im, err = m.r.Images.Image(m.r.Doc.NewInlineStream(in.Dict, in.Data), m.f.res.dict, m.hereAt(area))
		if err != nil {
			m.imageNotDrawn(err, area)
			im = nil
		}
		if key.source != (streamKey{}) {
			m.inline[key] = im
		}
	}
	if im != nil {
		m.placeImage(im, area, in.Dict["Intent"] != nil)
	}
}

func (m *machine) imageNotDrawn(err error, area geom.Rect) {
	m.report(finding.Finding{ID: "image-not-drawn", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
		What:   "An image cannot be decoded and is not drawn.",
		Why:    "It is missing from the plates.",
		Remedy: "Place the image again, saved as an ordinary JPEG or with lossless compression.",
		Place:  m.hereAt(area), Notes: []string{err.Error()}})
}

// placeImage puts an image on the list; ownIntent says that its rendering intent overrides the
// current one (Table 87).
func (m *machine) placeImage(im *image.Image, area geom.Rect, ownIntent bool) {
	it := m.item(displist.Image, area)
	if ownIntent {
		it.Intent = it.Intent.WithBase(im.Intent)
	}
	it.Image = &displist.Picture{Image: im, M: m.gs.ctm}
	if im.Stencil {
		if paint, ok := m.sourceOf(&m.gs.fill, &it.Bounds); ok {
			m.emitPainted(it, paint, m.gs.fill.pattern)
		}
		return
	}
	if m.f.colourless {
		m.colouredInUncoloured()
		return
	}
	if im.SoftMask != nil {
		it.SoftMask = nil // the image's own mask overrides the current one (11.6.5.3)
		m.blending = true
	}
	m.emit(it)
}
