package plate

import (
	"fmt"
	"image"
	"strings"
)

// PlateDifference compares one plate of two stacks, over the pixels both have.
type PlateDifference struct {
	Name     string          `json:"name"`
	InA      bool            `json:"in_a"` // the stack has such a colourant; one it lacks counts as without toner
	InB      bool            `json:"in_b"`
	Pixels   int             `json:"pixels"` // that differ
	Worst    int             `json:"worst"`  // largest difference, 0..255
	WorstAt  image.Point     `json:"worst_at"`
	Box      image.Rectangle `json:"box"` // of the pixels that differ
	MAD      float64         `json:"mad"` // mean |a-b|, 0..255
	Out      float64         `json:"out"` // see Diff, 0..1
	compared int
}

// Difference compares two stacks, plate by plate: those of A in order, then those only B has.
type Difference struct {
	SizeA, SizeB image.Point // pixels
	Plates       []PlateDifference
}

// Diff compares the plates of the same names, from the top left corner. Out is the share of pixels of
// one plate that lie more than OutTolerance outside the 3 x 3 minimum and maximum of the other, the
// larger share of the two ways round: it forgives edges that are off by a pixel, and nothing more.
func Diff(a, b *Stack) *Difference {
	d := &Difference{SizeA: image.Pt(a.Width, a.Height), SizeB: image.Pt(b.Width, b.Height)}
	for _, c := range a.Set.All() {
		d.Plates = append(d.Plates, diffPlate(c.Name, a, b))
	}
	for _, c := range b.Set.All() {
		if _, ok := a.Set.Lookup(c.Name); !ok {
			d.Plates = append(d.Plates, diffPlate(c.Name, a, b))
		}
	}
	return d
}

// OutTolerance is how far a tint may lie outside its neighbourhood's range before it counts as out.
const OutTolerance = 8

// Equal reports whether the stacks have the same size and tints. A colourant without toner may be
// missing from either.
func (d *Difference) Equal() bool {
	for _, p := range d.Plates {
		if p.Pixels > 0 {
			return false
		}
	}
	return d.SizeA == d.SizeB
}

// String is a table with a line for every plate that differs, "equal" when none does.
func (d *Difference) String() string {
	if d.Equal() {
		return "equal"
	}
	var b strings.Builder
	if d.SizeA != d.SizeB {
		fmt.Fprintf(&b, "sizes differ: %d x %d and %d x %d\n", d.SizeA.X, d.SizeA.Y, d.SizeB.X, d.SizeB.Y)
	}
	for _, p := range d.Plates {
		if p.Pixels > 0 {
			fmt.Fprintf(&b, "%s: %d pixels differ, worst %d at %d,%d, mean %.3f, out %.3f %%\n", p.Name, p.Pixels, p.Worst, p.WorstAt.X, p.WorstAt.Y, p.MAD, p.Out*100)
		}
	}
	return b.String()
}

func diffPlate(name string, a, b *Stack) PlateDifference {
	d := PlateDifference{Name: name}
	w, h := min(a.Width, b.Width), min(a.Height, b.Height)
	d.compared = w * h
	pa, pb := plane{width: a.Width}, plane{width: b.Width}
	pa.pix, d.InA = a.Lookup(name)
	pb.pix, d.InB = b.Lookup(name)
	pa.w, pa.h, pb.w, pb.h = w, h, w, h
	if pa.pix == nil && pb.pix == nil || w*h == 0 {
		return d
	}
	var sum, outA, outB int
	for y := range h {
		for x := range w {
			va, vb := int(pa.at(x, y)), int(pb.at(x, y))
			if va == vb {
				continue
			}
			delta := max(va-vb, vb-va)
			sum += delta
			d.Pixels++
			at := image.Pt(x, y)
			d.Box = d.Box.Union(image.Rectangle{at, at.Add(image.Pt(1, 1))})
			if delta > d.Worst {
				d.Worst, d.WorstAt = delta, at
			}
			if delta > OutTolerance { // else the pixel itself is near enough
				if pb.outside(va, x, y) {
					outA++
				}
				if pa.outside(vb, x, y) {
					outB++
				}
			}
		}
	}
	d.MAD = float64(sum) / float64(d.compared)
	d.Out = float64(max(outA, outB)) / float64(d.compared)
	return d
}

// plane is a plate of which the top left w x h pixels are looked at; nil pix is no toner.
type plane struct {
	pix   []byte
	width int
	w, h  int
}

func (p *plane) at(x, y int) byte {
	if p.pix == nil {
		return 0
	}
	return p.pix[y*p.width+x]
}

// outside reports whether v lies more than OutTolerance outside the tints round (x, y).
func (p *plane) outside(v, x, y int) bool {
	lo, hi := 255, 0
	for ny := max(y-1, 0); ny <= min(y+1, p.h-1); ny++ {
		for nx := max(x-1, 0); nx <= min(x+1, p.w-1); nx++ {
			n := int(p.at(nx, ny))
			lo, hi = min(lo, n), max(hi, n)
		}
	}
	return v < lo-OutTolerance || v > hi+OutTolerance
}

// DiffPicture shows one plate of two stacks side by side inside box (pixels; empty = all): A, the difference, B. Plates are
// dark where there is toner. In the difference mid gray is equal, darker is more toner in B.
func DiffPicture(a, b *Stack, name string, box image.Rectangle) *image.Gray {
	all := image.Rect(0, 0, max(a.Width, b.Width), max(a.Height, b.Height))
	if box = box.Intersect(all); box.Empty() {
		box = all
	}
	const gap = 2
	w := box.Dx()
	im := image.NewGray(image.Rect(0, 0, 3*w+2*gap, box.Dy()))
	ia, inA := a.Set.Lookup(name)
	ib, inB := b.Set.Lookup(name)
	for y := range box.Dy() {
		row := im.Pix[y*im.Stride:]
		for x := range w {
			var va, vb int
			if inA {
				va = int(a.At(ia, box.Min.X+x, box.Min.Y+y))
			}
			if inB {
				vb = int(b.At(ib, box.Min.X+x, box.Min.Y+y))
			}
			row[x], row[w+gap+x], row[2*(w+gap)+x] = byte(255-va), byte(128-(vb-va)/2), byte(255-vb)
		}
	}
	return im
}
