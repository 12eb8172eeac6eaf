// Package paint replays a display list onto plates, band by band: coverage from raster, effects from
// separate, compositing by ISO 32000-2 clause 11 with the spots beside the group's colour space.
package paint

import (
	"context"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// Job says what to paint.
type Job struct {
	List    *displist.List
	Target  *separate.Target
	DPI     float64
	Region  geom.Rect // list space; its top left corner is the corner of pixel (0,0)
	Workers int       // goroutines; 0 = GOMAXPROCS
	Sink    finding.Sink
	Timer   *instrument.Timer
	// Skip leaves an item out (with its members when it is a group); nil = paint all.
	Skip func(item int) bool
}

// Size is the number of pixels a region needs at a resolution: the ceiling, forgiving 0.001 pixel.
func Size(region geom.Rect, dpi float64) (w, h int) { panic("unwritten") }

// Render paints the job into sink. The bytes do not depend on Workers.
func Render(ctx context.Context, job Job, sink plate.Sink) error { panic("unwritten") }

// Explanation is what happened to one pixel.
type Explanation struct {
	X, Y  int
	Rows  []Touch
	Final []byte // per plate
}

// Touch is one item that covered the pixel.
type Touch struct {
	Item          int
	Depth         int               // group nesting
	Cover         float64           // shape coverage 0..1, clips included
	Effects       []separate.Effect // per component as in separate.Ink; for groups: Paint where changed
	Reasons       []separate.Reason
	Values        []uint16
	Before, After []uint16 // the buffer's values in the group the item was painted in
	Alpha         float64
}

// Explain paints one pixel of the job with the same code as Render and records each touch.
func Explain(ctx context.Context, job Job, x, y int) (*Explanation, error) { panic("unwritten") }
