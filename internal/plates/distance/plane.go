// Package distance measures how far pixels of a plate lie from the outline of a shape, to a small part of a
// pixel, and builds on it: shapes choked or spread by a distance, features and gaps thinner than a distance, specks
// and holes below an area. It knows planes of bytes, no colourant and no page.
package distance

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"laydown/internal/limits"
)

// How the pieces fit:
//
//	coverage --crossings--> points of the outline on the lines between pixel centres (edge.go)
//	         --envelope---> the nearest such point of every pixel, exactly (tile.go)
//	         --foot-------> the nearest point of the outline through them (foot.go)
//	         --cover------> the coverage of the shape moved inwards (choke.go)
//
// The plane is cut into tiles, each looked at with a margin as wide as distances are asked for. What is farther than
// that does not count, so that tiles, their size and the number of goroutines cannot change a result. Positions are integers of
// 1/256 pixel up to the nearest point; what follows is floating point with rounded products.

// Plane is one plate or part of one: coverage or tint, 0 nothing to 255 full, row by row. Pixel (x, y) covers
// x..x+1, y..y+1 from the top left corner. What lies beyond the plane is taken to go on as its border does, so that a
// shape that runs off the plane has no outline there.
type Plane struct {
	Pix  []uint8 // W*H bytes
	W, H int
	DPI  float64 // pixels per inch, both ways

	ramps *ramps // of a plane that Shape made
}

// PerMM is the number of pixels in a millimetre.
func (p Plane) PerMM() float64 { return p.DPI / 25.4 }

// Options of all functions. The zero value is ready.
type Options struct {
	// Workers is the number of goroutines; 0 takes as many as the machine runs at a time. Results do not depend on it.
	Workers int
	// Threshold says what is inside. 0: the plane is the coverage of a shape, inside is what is covered by half and more,
	// and the outline is found from the covered areas. 1..255: the plane is a tone, inside is a tone of Threshold and more, and
	// the outline is where the tone between pixel centres passes Threshold - 1/2.
	Threshold uint8
	// Faint is the least coverage at which Thin, Gaps and Specks also see what covers no pixel by half: lines of less than a pixel.
	// 0 leaves them out. Flat tints are no lines; grain of tones is, so Faint is for plates of line work. With a Threshold it does nothing.
	Faint uint8
}

// level is the least byte that is inside.
func (o Options) level() uint8 {
	if o.Threshold == 0 {
		return 128
	}
	return o.Threshold
}

// maxMM keeps distances within what the integers hold and a margin of a tile costs.
const maxMM = 1000

func (p Plane) check() error {
	switch {
	case p.W < 1 || p.H < 1:
		return fmt.Errorf("distance: a plane of %d x %d pixels is empty", p.W, p.H)
	case p.W > limits.MaxPlateSide || p.H > limits.MaxPlateSide || p.W*p.H > limits.MaxPagePixels:
		return fmt.Errorf("distance: a plane of %d x %d pixels is too large; at most %d a side and %d in all",
			p.W, p.H, limits.MaxPlateSide, limits.MaxPagePixels)
	case len(p.Pix) != p.W*p.H:
		return fmt.Errorf("distance: %d bytes for a plane of %d x %d pixels", len(p.Pix), p.W, p.H)
	case !(p.DPI >= 1 && p.DPI <= 100_000):
		return fmt.Errorf("distance: a resolution of %v dpi; it must lie between 1 and 100000", p.DPI)
	}
	return nil
}

// pixels checks a distance in millimetres and returns it in pixels.
func (p Plane) pixels(mm float64) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	if !(mm >= 0 && mm <= maxMM) {
		return 0, fmt.Errorf("distance: %v mm; it must lie between 0 and %d", mm, maxMM)
	}
	return float64(mm * p.PerMM()), nil
}

// eachTile calls do for every tile of targets, on several goroutines. Scratch memory is 18 bytes a pixel of one tile with its margins for each
// goroutine: 1.5 MB up to 16 pixels, 60 MB at 300, and of the whole plane at most.
func (p Plane) eachTile(o Options, reach float64, do func(t *tile)) {
	// Wide margins want large tiles: at four times the margin it costs half as much again as the tile.
	r := int(min(reach, float64(limits.MaxPlateSide)))
	side := max(256, min(4*r, 2048), r)
	nx, ny := (p.W+side-1)/side, (p.H+side-1)/side
	workers := o.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, nx*ny)
	var next atomic.Int64
	run := func() {
		t := &tile{p: p, level: o.level(), tone: o.Threshold != 0, reach: reach}
		for i := int(next.Add(1)) - 1; i < nx*ny; i = int(next.Add(1)) - 1 {
			x, y := i%nx*side, i/nx*side
			t.set(x, y, min(x+side, p.W), min(y+side, p.H))
			do(t)
		}
	}
	var wg sync.WaitGroup
	for range workers - 1 {
		wg.Go(run)
	}
	run()
	wg.Wait()
}

// eachBand calls do for bands of rows, on several goroutines; i counts bands from the top.
func (p Plane) eachBand(o Options, do func(i, y0, y1 int)) {
	workers := o.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	n := p.bands()
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, n) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i, i*bandRows, min((i+1)*bandRows, p.H))
			}
		})
	}
	wg.Wait()
}

const bandRows = 64

func (p Plane) bands() int { return (p.H + bandRows - 1) / bandRows }

// Distances returns for every pixel centre the signed distance in millimetres from the outline, positive inside and negative
// outside; what is reach millimetres and more away has that distance. The result takes 4 bytes a pixel.
func Distances(p Plane, reach float64, o Options) ([]float32, error) {
	px, err := p.pixels(reach)
	if err != nil {
		return nil, err
	}
	out := make([]float32, p.W*p.H)
	mm := 1 / p.PerMM()
	p.eachTile(o, px, func(t *tile) {
		t.find(1)
		for y := t.ty0; y < t.ty1; y++ {
			row := p.Pix[y*p.W : (y+1)*p.W]
			for x := t.tx0; x < t.tx1; x++ {
				d := px
				if f, ok := t.nearest(x-t.x0, y-t.y0); ok {
					d = min(d, f.d)
				}
				if row[x] < t.level {
					d = -d
				}
				out[y*p.W+x] = float32(d * mm)
			}
		}
	})
	return out, nil
}

// square is the product with itself, rounded so that no machine fuses it with a sum.
func square(x float64) float64 { return float64(x * x) }

func hypot(x, y float64) float64 { return math.Sqrt(square(x) + square(y)) }
