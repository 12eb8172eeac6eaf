// Package plate is the hand-over after painting: N plates of one page, 8 bits, 0 = no toner, 255 =
// full tint, made band by band. It holds them, writes them, measures them and compares them.
package plate

import "laydown/internal/colourant"

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
