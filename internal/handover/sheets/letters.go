package sheets

import (
	"strings"

	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// letters sets small type as outlines, so that a sheet brings no font with it.
type letters struct {
	font   *sfnt.Font
	failed bool
	buf    sfnt.Buffer
	glyphs map[rune]glyph
}

// glyph is an outline in 1/1000 of the size, y down, and how wide it is.
type glyph struct {
	segments sfnt.Segments
	advance  float64
}

func (l *letters) glyph(r rune) (g glyph, ok bool) {
	if l.font == nil && !l.failed {
		var err error
		if l.font, err = sfnt.Parse(liberationsansregular.TTF); err != nil {
			l.failed = true
		}
		l.glyphs = map[rune]glyph{}
	}
	if l.failed {
		return g, false
	}
	if g, ok = l.glyphs[r]; ok {
		return g, true
	}
	ppem := fixed.I(1000)
	i, err := l.font.GlyphIndex(&l.buf, r)
	if err != nil {
		return g, false
	}
	s, err := l.font.LoadGlyph(&l.buf, i, ppem, nil)
	if err != nil {
		return g, false
	}
	a, err := l.font.GlyphAdvance(&l.buf, i, ppem, 0)
	if err != nil {
		return g, false
	}
	g = glyph{append(sfnt.Segments(nil), s...), float64(a) / 64}
	l.glyphs[r] = g
	return g, true
}

// line is a filled line of type from x on the baseline, in mm with y down, no further than most; and where it ends. h is
// the height of the sheet.
func (l *letters) line(text string, x, base, size, most, h float64) (path string, end float64) {
	var b strings.Builder
	scale := size / 1000
	for _, r := range text {
		g, ok := l.glyph(r)
		if !ok {
			continue
		}
		if x+float64(g.advance*scale) > most {
			break
		}
		var now [2]float64
		at := func(p fixed.Point26_6) [2]float64 {
			return [2]float64{x + float64(float64(p.X)/64*scale), base + float64(float64(p.Y)/64*scale)}
		}
		put := func(p [2]float64) { b.WriteString(pt(p[0]) + " " + pt(h-p[1]) + " ") }
		for i, s := range g.segments {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				if i > 0 {
					b.WriteString("h\n")
				}
				now = at(s.Args[0])
				put(now)
				b.WriteString("m ")
			case sfnt.SegmentOpLineTo:
				now = at(s.Args[0])
				put(now)
				b.WriteString("l ")
			case sfnt.SegmentOpQuadTo: // a curve of the third degree through the same points
				c, e := at(s.Args[0]), at(s.Args[1])
				put([2]float64{now[0] + float64((c[0]-now[0])*2/3), now[1] + float64((c[1]-now[1])*2/3)})
				put([2]float64{e[0] + float64((c[0]-e[0])*2/3), e[1] + float64((c[1]-e[1])*2/3)})
				put(e)
				b.WriteString("c ")
				now = e
			case sfnt.SegmentOpCubeTo:
				for k := range 3 {
					now = at(s.Args[k])
					put(now)
				}
				b.WriteString("c ")
			}
		}
		if len(g.segments) > 0 {
			b.WriteString("h\n")
		}
		x += float64(g.advance * scale)
	}
	if b.Len() == 0 {
		return "", x
	}
	return b.String() + "f\n", x
}
