// Package image decodes PDF image XObjects and inline images into samples in their source colour
// space (ISO 32000-2, 8.9). It converts no colour.
package image

import (
	"container/list"
	"errors"
	"fmt"
	"sync"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Errors of Image, always wrapped; any other error means a damaged image.
var (
	ErrUnsupported = errors.New("the image is of a kind that is not supported")
	ErrTooLarge    = errors.New("the image is over a limit")
)

// Image is a decoded image. Samples keep the source depth: rows of Width x Components samples of
// Bits bits, most significant first, each row padded to a byte. Immutable.
//
// It holds its samples once, decoded when the page that shows it is read, and lives as long as that page's
// display list; the Reader keeps limits.ImageCacheBytes of the images used last for further pages.
type Image struct {
	Width, Height int
	Bits          int          // 1, 2, 4, 8 or 16
	Space         colour.Space // nil for a stencil
	Decode        []float64    // 2 per component, defaults filled in (Table 88)
	Stencil       bool         // an image mask: samples paint where Decode maps them to 0
	Data          []byte       // exactly Height x Stride() bytes
	Interpolate   bool
	Intent        colour.Intent
	HasIntent     bool      // Intent is the image's own, not the default
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

// Sample is raw sample c of the pixel at column x, row y.
func (im *Image) Sample(x, y, c int) int {
	i := x*im.Components() + c
	row := im.Data[y*im.Stride():]
	switch im.Bits {
	case 8:
		return int(row[i])
	case 16:
		return int(row[2*i])<<8 | int(row[2*i+1])
	}
	at := i * im.Bits
	return int(row[at/8]) >> (8 - im.Bits - at%8) & (1<<im.Bits - 1)
}

// Bytes is the memory the image and its masks hold.
func (im *Image) Bytes() int {
	if im == nil {
		return 0
	}
	return len(im.Data) + im.SoftMask.Bytes() + im.Mask.Bytes()
}

// Reader decodes images, caching by reference within a budget. Safe for concurrent use.
type Reader struct {
	doc    *pdf.Document
	spaces *colour.Reader
	sink   finding.Sink

	mu    sync.Mutex
	cache map[cacheKey]*list.Element // of *cacheEntry
	order list.List                  // most recently used first
	held  int                        // bytes
}

// cacheKey tells apart one XObject read under different default colour spaces.
type cacheKey struct {
	ref   pdf.Ref
	space colour.Space
}

// cacheEntry is decoded by the first who asks; the findings are given to everyone who asks, with
// the place of their own.
type cacheEntry struct {
	key  cacheKey
	once sync.Once
	result
	bytes int // counted in held
}

type result struct {
	image    *Image
	findings []finding.Finding
	err      error
}

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, spaces *colour.Reader, sink finding.Sink) *Reader {
	return &Reader{doc: doc, spaces: spaces, sink: sink, cache: map[cacheKey]*list.Element{}}
}

// Image decodes an image XObject or an inline stream. Truncated data is padded with white and
// reported; an error means the image cannot be drawn at all (unsupported filter, absurd size), with
// ErrUnsupported or ErrTooLarge wrapped. place is copied into findings.
//
// Of an image with alternates the one made for printing is decoded, if there is one (8.9.5.4).
func (r *Reader) Image(s *pdf.Stream, res pdf.Dict, place finding.Place) (*Image, error) {
	if alt := r.forPrinting(s); alt != nil {
		im, err := r.image(alt, res, place)
		if err == nil {
			return im, nil
		}
		place.Object = alt.Ref.Num
		r.sink.Add(finding.Finding{ID: "image-alternate-unreadable", Severity: finding.Warning, Class: classOf(err), Incomplete: true,
			What: fmt.Sprintf("The version for printing of an image cannot be read: %v.", err), Why: "The version for the screen is printed instead.",
			Remedy: remedyExport, Place: place})
	}
	return r.image(s, res, place)
}

// forPrinting is the alternate image that is the default for printing, nil = none.
func (r *Reader) forPrinting(s *pdf.Stream) *pdf.Stream {
	if s.Dict["Alternates"] == nil {
		return nil
	}
	list, _ := r.doc.Resolve(s.Dict["Alternates"]).(pdf.Array)
	for _, o := range list {
		d, _ := r.doc.Dict(o)
		if print, _ := r.doc.Bool(d["DefaultForPrinting"]); !print {
			continue
		}
		if alt, ok := r.doc.Stream(d["Image"]); ok && alt != s && (alt.Ref != s.Ref || s.Ref == (pdf.Ref{})) {
			return alt
		}
	}
	return nil
}

func (r *Reader) image(s *pdf.Stream, res pdf.Dict, place finding.Place) (*Image, error) {
	var space colour.Space
	var spaceErr error
	if o := s.Dict["ColorSpace"]; o != nil && !r.isStencil(s) {
		space, spaceErr = r.spaces.Space(o, res)
	}
	var got result
	if s.Ref == (pdf.Ref{}) {
		got = r.decode(s, space, spaceErr)
	} else {
		e := r.entry(cacheKey{s.Ref, space})
		e.once.Do(func() {
			e.result = r.decode(s, space, spaceErr)
			r.account(e)
		})
		got = e.result
	}
	for _, f := range got.findings {
		object := f.Place.Object
		f.Place = place
		if object != 0 {
			f.Place.Object = object
		}
		r.sink.Add(f)
	}
	return got.image, got.err
}

func (r *Reader) entry(k cacheKey) *cacheEntry {
	r.mu.Lock()
	defer r.mu.Unlock()
	if el, ok := r.cache[k]; ok {
		r.order.MoveToFront(el)
		return el.Value.(*cacheEntry)
	}
	e := &cacheEntry{key: k}
	r.cache[k] = r.order.PushFront(e)
	return e
}

// account counts a decoded entry and lets go of the ones used longest ago while over budget. Who
// holds an image keeps it; the cache only forgets.
func (r *Reader) account(e *cacheEntry) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, ok := r.cache[e.key]; !ok {
		return
	}
	e.bytes = e.image.Bytes()
	r.held += e.bytes
	for el := r.order.Back(); el != nil && r.held > limits.ImageCacheBytes; {
		prev := el.Prev()
		if old := el.Value.(*cacheEntry); old.bytes > 0 {
			r.held -= old.bytes
			delete(r.cache, old.key)
			r.order.Remove(el)
		}
		el = prev
	}
}

func (r *Reader) isStencil(s *pdf.Stream) bool {
	b, _ := r.doc.Bool(s.Dict["ImageMask"])
	return b
}
