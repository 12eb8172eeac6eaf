package distance

import (
	"fmt"

	"laydown/internal/geom"
)

// maxFiner keeps the places within a pixel of 8 bits of coverage apart.
const maxFiner = 16

// Stencil returns the shape as bits of k times the resolution, 1 inside, rows of (k W + 7) / 8 bytes whose highest bit is the leftmost pixel. A
// pixel of it is inside when its centre is, by the straight edge that covers as much of the pixel of the plane it lies in as that
// says, across the direction in which coverage grows. Threshold and Faint do nothing. Memory: the result.
func Stencil(p Plane, k int, o Options) ([]byte, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	if k < 1 || k > maxFiner {
		return nil, fmt.Errorf("distance: a stencil %d times as fine; it must be 1 to %d times", k, maxFiner)
	}
	stride := (k*p.W + 7) / 8
	out := make([]byte, stride*k*p.H)
	p.eachBand(o, func(_, y0, y1 int) {
		for y := y0; y < y1; y++ {
			rows := out[y*k*stride : (y+1)*k*stride]
			row := p.Pix[y*p.W : (y+1)*p.W]
			for x := 0; x < p.W; {
				from := x
				for x < p.W && row[x] == 255 {
					x++
				}
				for j := range k {
					setBits(rows[j*stride:(j+1)*stride], from*k, x*k)
				}
				for x < p.W && row[x] == 0 {
					x++
				}
				for x < p.W && row[x] != 0 && row[x] != 255 {
					p.stencilPixel(rows, stride, x, y, k)
					x++
				}
			}
		}
	})
	return out, nil
}

// stencilPixel sets the bits of one pixel that an edge passes.
func (p Plane) stencilPixel(rows []byte, stride, x, y, k int) {
	cover := float64(p.Pix[y*p.W+x]) / 255
	gx, gy := geom.CoverageGradient(p.Pix, p.W, p.H, x, y)
	if gx == 0 && gy == 0 { // a line along the pixel, or a dot in it
		if cover >= 0.5 {
			for j := range k {
				setBits(rows[j*stride:(j+1)*stride], x*k, (x+1)*k)
			}
		}
		return
	}
	n := hypot(float64(gx), float64(gy))
	nx, ny := float64(gx)/n, float64(gy)/n
	depth := geom.HalfPlaneDepth(cover, nx, ny)
	for j := range k {
		v := (float64(j)+0.5)/float64(k) - 0.5
		for i := range k {
			u := (float64(i)+0.5)/float64(k) - 0.5
			if depth+float64(u*nx)+float64(v*ny) >= 0 {
				at := x*k + i
				rows[j*stride+at/8] |= 0x80 >> (at % 8)
			}
		}
	}
}

// setBits sets bits from up to, and not with, to.
func setBits(row []byte, from, to int) {
	for ; from < to && from%8 != 0; from++ {
		row[from/8] |= 0x80 >> (from % 8)
	}
	for ; from+8 <= to; from += 8 {
		row[from/8] = 0xFF
	}
	for ; from < to; from++ {
		row[from/8] |= 0x80 >> (from % 8)
	}
}
