// Package plate is the hand-over after painting: N plates of one page, 8 bits, 0 = no toner, 255 =
// full tint, made band by band. It holds them, writes them, measures them and compares them.
package plate

import (
	"errors"
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

// Header describes the plates of one page.
type Header struct {
	Width, Height int // pixels
	DPI           float64
	Set           *colourant.Set
	// OriginX, OriginY is the pixel (0,0) corner in list space (points).
	OriginX, OriginY float64
}

// Band is a strip of rows. Planes[i] is nil when colourant i has no toner in it, else Rows x Width bytes.
type Band struct {
	Y0, Rows int
	Planes   [][]byte
}

// Sink takes bands from top to bottom, each once, without gaps. It must not keep a band after Band
// returns.
type Sink interface {
	Begin(Header) error
	Band(*Band) error
	End() error
}

// Aborter is a Sink that has something to throw away when painting fails before End.
type Aborter interface{ Abort() }

// Abort tells a sink that no more bands come. It does nothing after a successful End, so that it
// may be deferred.
func Abort(s Sink) {
	if a, ok := s.(Aborter); ok {
		a.Abort()
	}
}

// progress checks that a sink is used as Sink says.
type progress struct {
	header Header
	next   int // first row not yet taken
	begun  bool
}

func (p *progress) begin(h Header) error {
	switch {
	case h.Set == nil || h.Set.Len() > limits.MaxColourants:
		return fmt.Errorf("plates need 4 to %d colourants", limits.MaxColourants)
	case h.Width < 1 || h.Height < 1:
		return fmt.Errorf("plates of %d x %d pixels are empty", h.Width, h.Height)
	case h.Width > limits.MaxPlateSide || h.Height > limits.MaxPlateSide || h.Width*h.Height > limits.MaxPagePixels:
		return fmt.Errorf("plates of %d x %d pixels are too large; at most %d a side and %d in all",
			h.Width, h.Height, limits.MaxPlateSide, limits.MaxPagePixels)
	}
	*p = progress{header: h, begun: true}
	return nil
}

func (p *progress) band(b *Band) error {
	if !p.begun {
		return errors.New("plates: a band before the header")
	}
	if b.Y0 != p.next || b.Rows < 1 || b.Rows > p.header.Height-b.Y0 {
		return fmt.Errorf("plates: a band of rows %d to %d where row %d of %d is next", b.Y0, b.Y0+b.Rows, p.next, p.header.Height)
	}
	if len(b.Planes) != p.header.Set.Len() {
		return fmt.Errorf("plates: a band with %d planes for %d colourants", len(b.Planes), p.header.Set.Len())
	}
	for i, plane := range b.Planes {
		if plane != nil && len(plane) != b.Rows*p.header.Width {
			return fmt.Errorf("plates: plane %d has %d bytes for %d rows of %d", i, len(plane), b.Rows, p.header.Width)
		}
	}
	p.next += b.Rows
	return nil
}

func (p *progress) end() error {
	if !p.begun || p.next != p.header.Height {
		return fmt.Errorf("plates: ended after %d of %d rows", p.next, p.header.Height)
	}
	return nil
}

type tee []Sink

// Tee passes everything to several sinks, in order. The first error ends the call.
func Tee(sinks ...Sink) Sink { return tee(sinks) }

func (t tee) Begin(h Header) error { return t.each(func(s Sink) error { return s.Begin(h) }) }
func (t tee) Band(b *Band) error   { return t.each(func(s Sink) error { return s.Band(b) }) }
func (t tee) End() error           { return t.each(Sink.End) }

// Abort aborts all sinks.
func (t tee) Abort() {
	for _, s := range t {
		Abort(s)
	}
}

func (t tee) each(do func(Sink) error) error {
	for _, s := range t {
		if err := do(s); err != nil {
			return err
		}
	}
	return nil
}
