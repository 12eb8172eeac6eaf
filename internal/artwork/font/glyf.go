package font

import (
	"laydown/internal/geom"
)

// glyfPoint is a point of a TrueType contour.
type glyfPoint struct {
	geom.Point
	on, last bool // on the curve; the last of its contour
}

// glyfLoader collects the points of one glyph with its components.
type glyfLoader struct {
	font       *trueType
	components int
	work       int // points read and moved
}

// draw reads a glyph ("glyf" table). The outline is shifted so that its xMin lies at the left side
// bearing of "hmtx", as every reader of the format does.
func (f *trueType) draw(gid int) (*geom.Path, int, error) {
	l := glyfLoader{font: f}
	pts, left, err := l.load(gid, 0)
	if len(pts) == 0 {
		return nil, l.work, err
	}
	p := pen{m: f.matrix}
	p.m.E = -float64(left * f.scale)
	p.grow(len(pts))
	for start := 0; start < len(pts); {
		end := start
		for end < len(pts)-1 && !pts[end].last {
			end++
		}
		contour(&p, pts[start:end+1])
		start = end + 1
	}
	path, perr := p.finish()
	if err == nil {
		err = perr
	}
	return path, l.work, err
}

// contour draws one closed contour: two neighbouring off-curve points imply an on-curve point midway.
func contour(p *pen, c []glyfPoint) {
	if len(c) < 2 {
		return // a lone point is an anchor of composites, not a mark
	}
	mid := func(a, b geom.Point) geom.Point { return geom.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2} }
	first := 0
	for first < len(c) && !c[first].on {
		first++
	}
	var start geom.Point
	if first == len(c) {
		first = 0
		start = mid(c[len(c)-1].Point, c[0].Point)
	} else {
		start = c[first].Point
		first++
	}
	p.moveTo(start)
	var ctrl *geom.Point
	for i := range c {
		q := c[(first+i)%len(c)]
		switch {
		case q.on && ctrl == nil:
			if i < len(c)-1 { // the closing line is drawn by closing
				p.lineTo(q.Point)
			}
		case q.on:
			p.quadTo(*ctrl, q.Point)
			ctrl = nil
		case ctrl == nil:
			pt := q.Point
			ctrl = &pt
		default:
			pt := q.Point
			p.quadTo(*ctrl, mid(*ctrl, pt))
			ctrl = &pt
		}
	}
	if ctrl != nil {
		p.quadTo(*ctrl, start)
	}
	p.close()
}

// load gives the points of a glyph and how far its outline lies right of where its metrics want it:
// xMin less the left side bearing, or that of the component marked USE_MY_METRICS.
func (l *glyfLoader) load(gid, depth int) (pts []glyfPoint, left float64, err error) {
	b, err := l.font.glyphData(gid)
	if err != nil || len(b) == 0 {
		return nil, 0, err
	}
	if len(b) < 10 {
		return nil, 0, errGlyph
	}
	if _, lsb, ok := l.font.metrics(gid); ok {
		left = float64(int(int16(be16(b[2:]))) - lsb)
	}
	if n := int(int16(be16(b))); n >= 0 {
		pts, err = simpleGlyph(b[10:], n)
		l.work += len(pts)
		return pts, left, err
	}
	return l.composite(b[10:], left, depth)
}

// Flags of simple glyphs.
const (
	glyfOn     = 1
	glyfXShort = 2
	glyfYShort = 4
	glyfRepeat = 8
	glyfXSame  = 16 // or positive, when short
	glyfYSame  = 32
)

func simpleGlyph(b []byte, contours int) ([]glyfPoint, error) {
	if contours == 0 {
		return nil, nil
	}
	if len(b) < 2*contours+2 {
		return nil, errGlyph
	}
	n := be16(b[2*(contours-1):]) + 1
	at := 2*contours + 2 + be16(b[2*contours:]) // instructions are skipped
	// A flag byte stands for at most 256 points, so the data bounds the count.
	if at > len(b) || n > (len(b)-at)*256 {
		return nil, errGlyph
	}
	pts := make([]glyfPoint, n)
	flags := make([]byte, n)
	for i := 0; i < n; {
		if at >= len(b) {
			return nil, errGlyph
		}
		fl := b[at]
		at++
		repeat := 1
		if fl&glyfRepeat != 0 {
			if at >= len(b) {
				return nil, errGlyph
			}
			repeat += int(b[at])
			at++
		}
		for ; repeat > 0 && i < n; repeat-- {
			flags[i] = fl
			pts[i].on = fl&glyfOn != 0
			i++
		}
	}
	coordinate := func(v int, fl byte, short, same byte) (int, bool) {
		switch {
		case fl&short != 0:
			if at >= len(b) {
				return 0, false
			}
			d := int(b[at])
			at++
			if fl&same == 0 {
				d = -d
			}
			return v + d, true
		case fl&same != 0:
			return v, true
		}
		if at+2 > len(b) {
			return 0, false
		}
		d := int(int16(be16(b[at:])))
		at += 2
		return v + d, true
	}
	v, ok := 0, true
	for i := range pts {
		if v, ok = coordinate(v, flags[i], glyfXShort, glyfXSame); !ok {
			return nil, errGlyph
		}
		pts[i].X = float64(v)
	}
	v = 0
	for i := range pts {
		if v, ok = coordinate(v, flags[i], glyfYShort, glyfYSame); !ok {
			return nil, errGlyph
		}
		pts[i].Y = float64(v)
	}
	prev := -1
	for c := range contours {
		e := be16(b[2*c:])
		if e < prev || e >= n {
			return nil, errGlyph
		}
		pts[e].last = true
		prev = e
	}
	return pts, nil
}

// Flags of composite glyphs.
const (
	compWords       = 0x0001
	compXY          = 0x0002
	compScale       = 0x0008
	compMore        = 0x0020
	compXYScale     = 0x0040
	compTwoByTwo    = 0x0080
	compMyMetrics   = 0x0200
	compScaleOffset = 0x0800
)

func (l *glyfLoader) composite(b []byte, left float64, depth int) (pts []glyfPoint, _ float64, _ error) {
	if depth > 16 {
		return nil, 0, errGlyph
	}
	var failed error
	for at := 0; ; {
		if l.components++; l.components > maxComponents || len(pts) > maxGlyphPoints {
			return pts, left, errTooLarge
		}
		if at+4 > len(b) {
			return pts, left, errGlyph
		}
		flags, gid := be16(b[at:]), be16(b[at+2:])
		at += 4
		need := 2
		if flags&compWords != 0 {
			need = 4
		}
		switch {
		case flags&compScale != 0:
			need += 2
		case flags&compXYScale != 0:
			need += 4
		case flags&compTwoByTwo != 0:
			need += 8
		}
		if at+need > len(b) {
			return pts, left, errGlyph
		}
		var a1, a2 int
		switch {
		case flags&compWords != 0 && flags&compXY != 0:
			a1, a2 = int(int16(be16(b[at:]))), int(int16(be16(b[at+2:])))
			at += 4
		case flags&compWords != 0:
			a1, a2 = be16(b[at:]), be16(b[at+2:])
			at += 4
		case flags&compXY != 0:
			a1, a2 = int(int8(b[at])), int(int8(b[at+1]))
			at += 2
		default:
			a1, a2 = int(b[at]), int(b[at+1])
			at += 2
		}
		f2dot14 := func() float64 {
			v := float64(int16(be16(b[at:]))) / 16384
			at += 2
			return v
		}
		m := geom.Identity
		switch {
		case flags&compScale != 0:
			m.A = f2dot14()
			m.D = m.A
		case flags&compXYScale != 0:
			m.A = f2dot14()
			m.D = f2dot14()
		case flags&compTwoByTwo != 0:
			m.A, m.B = f2dot14(), f2dot14()
			m.C, m.D = f2dot14(), f2dot14()
		}
		part, partLeft, err := l.load(gid, depth+1)
		if flags&compMyMetrics != 0 {
			left = partLeft
		}
		if err != nil {
			failed = err // the other components are still worth drawing
		}
		for i := range part {
			part[i].Point = m.Apply(part[i].Point)
		}
		var d geom.Point
		switch {
		case flags&compXY == 0: // match point a2 of the component to a1 of what is there
			if a1 < len(pts) && a2 < len(part) {
				d = geom.Point{X: pts[a1].X - part[a2].X, Y: pts[a1].Y - part[a2].Y}
			}
		case flags&compScaleOffset != 0:
			d = m.ApplyVector(geom.Point{X: float64(a1), Y: float64(a2)})
		default:
			d = geom.Point{X: float64(a1), Y: float64(a2)}
		}
		for i := range part {
			part[i].X += d.X
			part[i].Y += d.Y
		}
		pts = append(pts, part...)
		l.work += len(part) + 1
		if flags&compMore == 0 {
			return pts, left, failed
		}
	}
}
