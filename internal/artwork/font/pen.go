package font

import (
	"errors"
	"math"

	"laydown/internal/geom"
)

var (
	errGlyph    = errors.New("the glyph description is damaged")
	errTooLarge = errors.New("the glyph description is over a limit")
)

// Limits of one glyph. The largest glyphs of public test fonts have some thousand points; a
// subroutine that calls itself twice doubles at every level.
const (
	maxGlyphPoints = 200_000
	maxGlyphOps    = 500_000
	// A glyph may take glyphOpsFloor + glyphOpsFactor x its own bytes operators: the rest comes from
	// subroutines, of which the largest public glyphs run a thousand.
	glyphOpsFloor  = 20_000
	glyphOpsFactor = 16
	maxSubrDepth   = 24
	maxComponents  = 256
	// maxCoordinate in text space at size 1: a glyph of ten thousand ems is damage.
	maxCoordinate = 10_000
)

// opsFor is how many operators a glyph of n bytes may take.
func opsFor(n int) int { return min(glyphOpsFloor+glyphOpsFactor*n, maxGlyphOps) }

// pen draws in font units and stores points mapped by m.
type pen struct {
	m    geom.Matrix
	path geom.Path
	cur  geom.Point
	open bool
	over bool
}

// grow makes room for the curves and lines through n points.
func (p *pen) grow(n int) {
	n = min(n, maxGlyphPoints)
	p.path.Verbs = make([]geom.Verb, 0, n+n/4)
	p.path.Points = make([]geom.Point, 0, 2*n)
}

func (p *pen) full() bool {
	if len(p.path.Points) > maxGlyphPoints {
		p.over = true
	}
	return p.over
}

// close ends the subpath; the current point stays, as Type 1 wants it.
func (p *pen) close() {
	if p.open {
		p.path.ClosePath()
		p.open = false
	}
}

func (p *pen) moveBy(dx, dy float64) { p.close(); p.cur.X += dx; p.cur.Y += dy }

func (p *pen) moveTo(pt geom.Point) { p.close(); p.cur = pt }

// start emits the pending move: a move that nothing follows leaves no trace.
func (p *pen) start() {
	if !p.open {
		p.path.Move(p.m.Apply(p.cur))
		p.open = true
	}
}

func (p *pen) lineBy(dx, dy float64) {
	p.lineTo(geom.Point{X: p.cur.X + dx, Y: p.cur.Y + dy})
}

func (p *pen) lineTo(pt geom.Point) {
	if p.full() {
		return
	}
	p.start()
	p.cur = pt
	p.path.Line(p.m.Apply(pt))
}

// curveBy takes the three relative steps of rrcurveto.
func (p *pen) curveBy(dxa, dya, dxb, dyb, dxc, dyc float64) {
	a := geom.Point{X: p.cur.X + dxa, Y: p.cur.Y + dya}
	b := geom.Point{X: a.X + dxb, Y: a.Y + dyb}
	p.curveTo(a, b, geom.Point{X: b.X + dxc, Y: b.Y + dyc})
}

func (p *pen) curveTo(a, b, c geom.Point) {
	if p.full() {
		return
	}
	p.start()
	p.cur = c
	p.path.Cubic(p.m.Apply(a), p.m.Apply(b), p.m.Apply(c))
}

// quadTo draws a quadratic segment as the cubic that is equal to it.
func (p *pen) quadTo(q, c geom.Point) {
	a := geom.Point{X: p.cur.X + float64((q.X-p.cur.X)*2)/3, Y: p.cur.Y + float64((q.Y-p.cur.Y)*2)/3}
	b := geom.Point{X: c.X + float64((q.X-c.X)*2)/3, Y: c.Y + float64((q.Y-c.Y)*2)/3}
	p.curveTo(a, b, c)
}

// finish closes and hands the path over: nil when there are no marks.
func (p *pen) finish() (*geom.Path, error) {
	p.close()
	if p.over {
		return nil, errTooLarge
	}
	if len(p.path.Verbs) == 0 {
		return nil, nil
	}
	for _, pt := range p.path.Points {
		if !(math.Abs(pt.X) <= maxCoordinate && math.Abs(pt.Y) <= maxCoordinate) { // NaN too
			return nil, errGlyph
		}
	}
	return &p.path, nil
}
