package check

import (
	"context"
	"fmt"
	"math"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// usualBleed is what is asked for when a job names none.
const usualBleed = 3.0 // mm; common practice, no source

func (in *Input) jobBleed() float64 {
	if in.Job == nil {
		return 0
	}
	return float64(in.Job.Bleed)
}

var bleedMissing = Rule{
	ID:         "bleed-missing",
	Group:      Document,
	Severities: []finding.Severity{finding.Error},
	Remedies:   []string{"add-bleed"},
	Measures: "toner at the trim edge that ends on a line along the edge, 1 mm or longer, before the end of the bleed; " +
		"shapes that end there in another way are taken as drawn. Quiet without a TrimBox: then nobody knows where the edge is",
	Figures: []Figure{
		{Key: "bleed", Unit: press.UnitLength, Default: usualBleed, From: "bleed of the job", What: "how far toner at the trim goes on beyond it", Source: CommonPractice},
		{Key: "length", Unit: press.UnitLength, Default: 1, What: "shortest stretch of the edge that counts", Source: CommonPractice},
	},
	Source: "common practice, no source",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if !p.List.Page.HasTrim {
			return nil
		}
		want, least := c.figureElse("bleed", in.jobBleed()), c.figure("length")
		var which []string
		var plates plateBits
		var strips mask // where it is missing; made when there is something
		total := 0.0
		for _, e := range p.trimEdges() {
			longest := 0
			for k := range p.Plates.Set.Len() {
				if n := p.shortRuns(e, k, want, least, &strips); n > 0 {
					plates |= 1 << k
					longest = max(longest, n)
				}
			}
			if longest > 0 {
				which = append(which, e.name)
				total += float64(longest) * p.px()
			}
		}
		if len(which) == 0 {
			return nil
		}
		names := p.plateNames(plates)
		c.Add(finding.Finding{
			Severity: finding.Error,
			What: fmt.Sprintf("The artwork reaches the trim at the %s but does not go on %.3g mm beyond it, in %s.",
				edgeWords(which), want, strings.Join(names, ", ")),
			Why:     "Cutting is never exact: a strip of bare stock will show at the edge.",
			Remedy:  fmt.Sprintf("Let pictures and areas at the edge run %.3g mm over the trim, and export with bleed.", want),
			Place:   p.place(p.bounds(strips), p.itemsTouching(strips, plates), names...),
			Figures: map[string]float64{"length_mm": round2(total)},
		})
		return nil
	},
}

func edgeWords(names []string) string {
	if len(names) == 1 {
		return names[0] + " edge"
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " and " + names[last] + " edges"
}

// edge is one side of the trim in pixels: length pixels from (x, y) on along (dx, dy), outwards
// along (ox, oy). (x, y) is the first pixel inside.
type edge struct {
	name   string
	length int
	x, y   int
	dx, dy int
	ox, oy int
}

func (p *Page) trimEdges() []edge {
	x0, y0, x1, y1 := p.PixelRect(p.List.Page.Trim)
	return []edge{
		{"left", y1 - y0, x0, y0, 0, 1, -1, 0},
		{"right", y1 - y0, x1 - 1, y0, 0, 1, 1, 0},
		{"top", x1 - x0, x0, y0, 1, 0, 0, -1},
		{"bottom", x1 - x0, x0, y1 - 1, 1, 0, 0, 1},
	}
}

// shortRuns is how many pixels of the edge lie in runs of length mm or more where the plate reaches the trim and
// ends in one line before want mm; they are added to strips.
func (p *Page) shortRuns(e edge, k int, want, length float64, strips *mask) int {
	if p.Plates.Plane(k) == nil {
		return 0
	}
	px := p.px()
	inner := max(1, int(math.Round(.3/px))) // what ends less than 0.3 mm inside is meant to reach the trim
	outer := int(want/px) - max(1, int(.15/px))
	least := max(3, int(math.Round(length/px)))
	total, start, end := 0, 0, 0 // the run at hand ends on line end since start
	finish := func(i int) {
		if n := i - start; n >= least {
			total += n
			p.markStrip(strips, e, start, i, inner)
		}
	}
	for i := range e.length {
		at := p.lastToner(e, k, i, inner, outer)
		if i > 0 && at >= end-1 && at <= end+1 && at < outer && end < outer {
			continue
		}
		if end < outer {
			finish(i)
		}
		start, end = i, at
	}
	if end < outer {
		finish(e.length)
	}
	return total
}

// lastToner is how far out of the trim the plate goes on at pixel i of the edge, in pixels: -inner at
// least where it reaches the trim, outer for as far as it must, and also where it does not reach the trim.
func (p *Page) lastToner(e edge, k, i, inner, outer int) int {
	x, y := e.x+i*e.dx, e.y+i*e.dy
	if p.Plates.At(k, x-inner*e.ox, y-inner*e.oy) < visibleTint {
		return outer
	}
	for d := -inner; d < outer; d++ {
		if p.Plates.At(k, x+(d+1)*e.ox, y+(d+1)*e.oy) < visibleTint/2 {
			return d
		}
	}
	return outer
}

// markStrip adds the strip of the edge from pixel a to b, inner pixels deep.
func (p *Page) markStrip(m *mask, e edge, a, b, inner int) {
	if *m == nil {
		*m = p.newMask()
	}
	for i := a; i < b; i++ {
		for d := range inner + 1 {
			x, y := e.x+i*e.dx-d*e.ox, e.y+i*e.dy-d*e.oy
			if x >= 0 && y >= 0 && x < p.Plates.Width && y < p.Plates.Height {
				(*m)[y*p.Plates.Width+x] = 1
			}
		}
	}
}
