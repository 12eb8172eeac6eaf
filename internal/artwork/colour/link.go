package colour

import (
	"math"
	"sync/atomic"
)

// link is the way of colours of one device or CIE space through the connection space to the tints of
// the output profile, for one intent, worked out once. Single colours and images take the same way, so
// they come out alike to the last bit.
//
// A table over the source's components, interpolated, would be quicker still, but not true: with 52 nodes
// a side, a third of the cells at best, and nearly all under half of the output profiles tried, are off by more
// than a quarter of an 8-bit step, as the profiles' own tables have steep black generation and the
// edges of gamuts in them.
type link struct {
	n int
	// Gray, RGB: curves to linear light, and a matrix with offsets to X, Y, Z of the destination.
	curves []*iccCurve
	matrix [12]float64
	lab    bool // the matrix gives X, Y, Z in parts of white, to become L*, a*, b*
	// Others: a pipeline, or L*, a*, b* under white.
	pipe  *iccPipeline
	white [3]float64

	stretch stretch
	out     *iccPipeline
}

func (c *Converter) newLink(s Space, intent Intent) *link {
	l := &link{n: s.Components(), stretch: c.stretch(s, intent, true), out: c.dest().device(intent)}
	if l.out == nil { // CanPrint has been asked: another intent's table
		l.out = c.dest().device(RelativeColorimetric)
	}
	m := matrix3{d50[0], 0, 0, d50[1], 0, 0, d50[2], 0, 0}
	if p := c.profileOf(s); p != nil {
		l.pipe = p.pcs(intent)
		if p.usesTables() || l.pipe.pcs != pcsXYZ {
			return l
		}
		l.curves = l.pipe.stages[0].curves
		k := l.pipe.stages[1].matrix
		for i := range m {
			m[i] = k[i] * xyzUnit
		}
		l.pipe = nil
	} else {
		switch x := s.(type) {
		case *Lab:
			l.white = x.White
			return l
		case *CalGray:
			l.curves = []*iccCurve{gammaCurve(x.Gamma)}
		case *CalRGB:
			l.curves = []*iccCurve{gammaCurve(x.Gamma[0]), gammaCurve(x.Gamma[1]), gammaCurve(x.Gamma[2])}
			k := x.Matrix
			m = adaptation(x.White).times(matrix3{k[0], k[3], k[6], k[1], k[4], k[7], k[2], k[5], k[8]})
		default: // device RGB, as sRGB
			l.curves = []*iccCurve{srgbCurve, srgbCurve, srgbCurve}
			m = xyzFromLinear
		}
	}
	copy(l.matrix[:], m[:])
	if l.stretch.on {
		for i := range 3 {
			for k := range 3 {
				l.matrix[3*i+k] *= l.stretch.m[i]
			}
			l.matrix[9+i] = l.stretch.o[i]
		}
	}
	if l.lab = l.out.pcs != pcsXYZ; l.lab {
		for i, w := range d50 {
			for _, k := range []int{3 * i, 3*i + 1, 3*i + 2, 9 + i} {
				l.matrix[k] /= w
			}
		}
	}
	return l
}

// srgbCurve is the transfer curve of sRGB (IEC 61966-2-1).
var srgbCurve = &iccCurve{form: 3, p: [7]float64{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045}}

func gammaCurve(g float64) *iccCurve {
	if g == 1 {
		return &iccCurve{form: -1}
	}
	return &iccCurve{form: 0, p: [7]float64{g}}
}

// tints replaces the components of a colour by its tints.
func (l *link) tints(v *[4]float64) {
	if l.curves != nil {
		for k, c := range l.curves {
			v[k] = c.at(v[k])
		}
		l.linear(v)
		return
	}
	var c [3]float64
	lab := true
	switch {
	case l.pipe != nil:
		for i := l.n; i < 4; i++ {
			v[i] = 0
		}
		l.pipe.run(v)
		for i := range v {
			v[i] = sane(v[i])
		}
		c, lab = l.pipe.pcs.decode(v), l.pipe.pcs != pcsXYZ
	case l.white == d50:
		c = [3]float64{v[0], v[1], v[2]}
	default:
		c, lab = adapt(xyzFromLab([3]float64{v[0], v[1], v[2]}, l.white), l.white), false
	}
	if l.stretch.on {
		if lab {
			c, lab = xyzFromLab(c, d50), false
		}
		c = l.stretch.apply(c)
	}
	switch wantLab := l.out.pcs != pcsXYZ; {
	case wantLab && !lab:
		c = labFromXYZ(c, d50)
	case lab && !wantLab:
		c = xyzFromLab(c, d50)
	}
	l.out.print(v, c)
}

// linear is tints after the curves.
func (l *link) linear(v *[4]float64) {
	m := &l.matrix
	var c [3]float64
	if l.n == 1 {
		c = [3]float64{float64(m[0]*v[0]) + m[9], float64(m[3]*v[0]) + m[10], float64(m[6]*v[0]) + m[11]}
	} else {
		c = [3]float64{
			float64(m[0]*v[0]) + float64(m[1]*v[1]) + float64(m[2]*v[2]) + m[9],
			float64(m[3]*v[0]) + float64(m[4]*v[1]) + float64(m[5]*v[2]) + m[10],
			float64(m[6]*v[0]) + float64(m[7]*v[1]) + float64(m[8]*v[2]) + m[11],
		}
	}
	if l.lab {
		x, y, z := labCurve(c[0]), labCurve(c[1]), labCurve(c[2])
		c = [3]float64{float64(116*y) - 16, float64(500 * (x - y)), float64(200 * (y - z))}
	}
	l.out.print(v, c)
}

// linkKey tells links apart; spaces are compared as pointers.
type linkKey struct {
	space  Space
	intent Intent
}

type linkEntry struct {
	linkKey
	l *link
}

// maxLinks a converter remembers: a page has some ten spaces and an intent or two.
const maxLinks = 32

// link finds or makes the link of a space.
func (c *Converter) link(s Space, intent Intent) *link {
	key := linkKey{s, intent}
	known := c.links.Load()
	if known != nil {
		for i := range *known {
			if e := &(*known)[i]; e.linkKey == key {
				return e.l
			}
		}
	}
	l := c.newLink(s, intent)
	c.mu.Lock()
	defer c.mu.Unlock()
	var list []linkEntry
	if known = c.links.Load(); known != nil && len(*known) < maxLinks {
		list = append(list, *known...)
	}
	list = append(list, linkEntry{key, l})
	c.links.Store(&list)
	return l
}

// labCurve is f of CIE 1976 (CIE 15): the cube root, straight below 216/24389.
func labCurve(t float64) float64 {
	if t > 216.0/24389 && t < 1.25 {
		if table := cubeRootTable.Load(); table != nil {
			x := t * cubeRootSteps
			i := int(x)
			low := table[i]
			return low + float64((x-float64(i))*(table[i+1]-low))
		}
	}
	return labCurveRare(t)
}

// labCurveRare is labCurve of the rest, and for the first time.
func labCurveRare(t float64) float64 {
	switch {
	case t <= 216.0/24389:
		return float64(24389.0/27*t+16) / 116
	case t < 1.25:
		makeCubeRoots()
		return labCurve(t)
	}
	return settle(math.Cbrt(finite(t)))
}

// The cube root of 0 to 1.25 by a table, good to 0.0005 of L*.
const (
	cubeRootSteps   = 1 << 12
	cubeRootEntries = cubeRootSteps*5/4 + 2
)

var cubeRootTable atomic.Pointer[[cubeRootEntries]float64]

func makeCubeRoots() {
	var t [cubeRootEntries]float64
	for i := range t {
		t[i] = settle(math.Cbrt(float64(i) / cubeRootSteps))
	}
	cubeRootTable.Store(&t)
}
