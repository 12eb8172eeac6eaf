package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

var blendSteps = Rule{
	ID:    "blend-with-steps",
	Group: Fineness,
	Measures: "axial and radial blends whose colour jumps between stretches of one colour, and rows of five objects or more, one after the other, whose colours go the same way in " +
		"equal steps, as blends are that were turned into shapes",
	Figures: []Figure{
		{Key: "step", Unit: press.UnitLength, Default: .5, What: "length of a step from which it is seen", Source: CommonPractice},
		{Key: "jump", Unit: press.UnitPercent, Default: 1.5, What: "difference of two steps from which it is seen, largest component", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		step, jump := c.figure("step"), c.figure("jump")/100
		var items []int
		longest := 0.0
		for i := range c.List.Items {
			it := &c.List.Items[i]
			s := it.Shading
			if s == nil {
				s = it.Paint.Shading
			}
			if it.Hidden || s == nil || it.Bounds.Intersect(c.List.Page.Bleed).Empty() {
				continue
			}
			if mm := longestStep(s, jump); mm >= step {
				items = append(items, i)
				longest = max(longest, mm)
			}
		}
		for _, r := range c.steppedRows(step, jump) {
			items = append(items, r.items...)
			longest = max(longest, r.mm)
		}
		if len(items) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("A blend has visible steps of up to %.1f mm.", longest),
			Why:      "The eye sees edges between bands that differ by a hundredth when they are wider than half a millimetre.",
			Remedy:   "Make the blend anew as a smooth one, with more steps, or over a shorter way.",
			Place:    c.place(c.boundsOf(items), items),
			Figures:  map[string]float64{"step_mm": round2(longest)},
		})
		return nil
	},
}

// blendSamples along a blend: of one 200 mm long a quarter of a millimetre each.
const blendSamples = 1024

// longestStep is the longest stretch of one colour between two jumps inside a blend, mm; 0 for smooth ones and
// other types. The ends do not count: they may be flat on purpose.
func longestStep(s *displist.Shading, jump float64) float64 {
	if s.Space == nil || s.Function == nil || len(s.Domain) < 2 || s.Type != 2 && s.Type != 3 {
		return 0
	}
	a, b := geom.Point{X: s.Coords[0], Y: s.Coords[1]}, geom.Point{}
	length := 0.0
	if s.Type == 2 {
		b = geom.Point{X: s.Coords[2], Y: s.Coords[3]}
		d := s.M.ApplyVector(geom.Point{X: b.X - a.X, Y: b.Y - a.Y})
		length = math.Hypot(d.X, d.Y)
	} else {
		length = math.Abs(s.Coords[5]-s.Coords[2]) * s.M.Expansion()
	}
	per := length / geom.PointsPerMM / blendSamples
	before, now := make([]float64, s.Space.Components()), make([]float64, s.Space.Components())
	start, longest := -1, 0.0
	for i := range blendSamples {
		t := s.Domain[0] + float64((s.Domain[1]-s.Domain[0])*(float64(i)+.5)/blendSamples)
		s.Function.Eval(now, []float64{t})
		if i > 0 {
			d := difference(before, now)
			if d >= jump {
				if start >= 0 {
					longest = max(longest, float64(i-start)*per)
				}
				start = i
			} else if d > 1e-9 {
				start = -1 // it goes on smoothly
			}
		}
		before, now = now, before
	}
	return longest
}

// difference is the largest difference of two colours' components.
func difference(a, b []float64) (d float64) {
	for i, v := range a {
		d = max(d, math.Abs(v-b[i]))
	}
	return d
}

type steppedRow struct {
	items []int
	mm    float64 // widest band
}

// fewestBands make a blend; fewer are a pattern of a designer.
const fewestBands = 5

// steppedRows finds flat fills, one directly after the other and side by side, whose colours differ by the same
// step each time.
func (c *Case) steppedRows(step, jump float64) (out []steppedRow) {
	var row []int
	var by []float64
	mm := 0.0
	finish := func() {
		if len(row) >= fewestBands && mm >= step {
			out = append(out, steppedRow{row, mm})
		}
		row, by, mm = nil, nil, 0
	}
	for i := range c.List.Items {
		it := &c.List.Items[i]
		flat := it.Kind == displist.Fill && !it.Hidden && it.Text == nil && it.Paint.Shading == nil && it.Paint.Tiling == nil && it.Paint.Space != nil
		if !flat {
			finish()
			continue
		}
		if len(row) == 0 {
			row = []int{i}
			continue
		}
		last := &c.List.Items[row[len(row)-1]]
		d := stepBetween(last, it)
		touch := !last.Bounds.Grow(.1).Intersect(it.Bounds).Empty()
		if d == nil || !touch || difference(d, make([]float64, len(d))) < jump || by != nil && difference(d, by) > .2*difference(by, make([]float64, len(by))) {
			finish()
			row = []int{i}
			continue
		}
		by = d
		row = append(row, i)
		mm = max(mm, math.Max(math.Abs(it.Bounds.X0-last.Bounds.X0), math.Abs(it.Bounds.Y0-last.Bounds.Y0))/geom.PointsPerMM)
	}
	finish()
	return out
}

// stepBetween is the difference of two items' colours, nil when they have none in common.
func stepBetween(a, b *displist.Item) []float64 {
	if a.Paint.Space != b.Paint.Space || len(a.Paint.Comps) != len(b.Paint.Comps) {
		return nil
	}
	d := make([]float64, len(a.Paint.Comps))
	for i, v := range b.Paint.Comps {
		d[i] = v - a.Paint.Comps[i]
	}
	return d
}
