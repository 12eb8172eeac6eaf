package distance

import "math"

// The area model. A pixel that the outline passes tells by its covered area how far the outline is from its centre, once
// its direction is known: a straight line of normal n cuts area c off the unit square at one distance only. Directions come
// from the differences of 3 x 3 pixels. S. Gustavson and R. Strand, "Anti-aliased Euclidean distance transform",
// Pattern Recognition Letters 32 (2011), use the same model; here it places points on the lines between pixel
// centres, where the distance transform stays exact.

// depthOf returns how deep the centre of a unit square lies inside a half-plane of unit normal (a, b) that covers
// the share c of it; negative when the centre is outside.
func depthOf(c, a, b float64) float64 {
	a, b = math.Abs(a), math.Abs(b)
	if a < b {
		a, b = b, a
	}
	half := (a + b) / 2
	corner := b / (2 * a) // the area when the line reaches the second corner
	switch {
	case c < corner:
		return math.Sqrt(2*float64(a*b)*c) - half
	case c > 1-corner:
		return half - math.Sqrt(2*float64(a*b)*(1-c))
	}
	return (c - 0.5) * a
}

// areaOf returns the share of a unit square within a half-plane of unit normal (a, b), whose centre lies s deep
// inside: the inverse of depthOf.
func areaOf(s, a, b float64) float64 {
	a, b = math.Abs(a), math.Abs(b)
	if a < b {
		a, b = b, a
	}
	half := (a + b) / 2
	switch {
	case s <= -half:
		return 0
	case s >= half:
		return 1
	case s < b-half:
		return square(s+half) / (2 * float64(a*b))
	case s > half-b:
		return 1 - square(half-s)/(2*float64(a*b))
	}
	return 0.5 + s/a
}

// gradient returns the direction in which coverage grows at a pixel, scaled. Pixels beyond the plane repeat its border.
func (p Plane) gradient(x, y int) (gx, gy int) {
	xl, xr := max(x-1, 0), min(x+1, p.W-1)
	up, at, down := p.Pix[max(y-1, 0)*p.W:], p.Pix[y*p.W:], p.Pix[min(y+1, p.H-1)*p.W:]
	// Weights 7 and 10 are 1 and the root of 2, at which straight edges keep their direction best.
	gx = 7*(int(up[xr])-int(up[xl])+int(down[xr])-int(down[xl])) + 10*(int(at[xr])-int(at[xl]))
	gy = 7*(int(down[xl])-int(up[xl])+int(down[xr])-int(up[xr])) + 10*(int(down[x])-int(up[x]))
	return gx, gy
}

// crossing returns where between the centres of two neighbours, one inside and one outside, the outline passes: 1..255 in
// 1/256 pixel from the first, which is left of the second or above it.
func (t *tile) crossing(x, y int, down bool) uint8 {
	p := t.p
	x2, y2 := x+1, y
	if down {
		x2, y2 = x, y+1
	}
	a, b := float64(p.Pix[y*p.W+x]), float64(p.Pix[y2*p.W+x2])
	if t.tone {
		return step((float64(t.level) - 0.5 - a) / (b - a))
	}
	// A pixel tells the more of the outline the nearer to half it is covered.
	wa, wb := min(a, 255-a), min(b, 255-b)
	if wa+wb == 0 {
		return 128
	}
	gx1, gy1 := p.gradient(x, y)
	gx2, gy2 := p.gradient(x2, y2)
	gx, gy := float64(gx1+gx2), float64(gy1+gy2)
	along := gx
	if down {
		along = gy
	}
	if n := hypot(gx, gy); along != 0 && (along > 0) == (b > a) {
		gx, gy, along = gx/n, gy/n, along/n
		ta := -depthOf(a/255, gx, gy) / along
		tb := 1 - depthOf(b/255, gx, gy)/along
		return step((float64(wa*ta) + float64(wb*tb)) / (wa + wb))
	}
	// Another shape is so close that the differences tell no direction.
	return step((127.5 - a) / (b - a))
}

func step(t float64) uint8 { return uint8(min(max(math.Round(t*256), 1), 255)) }
