package app

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/look"
	"laydown/internal/plan"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// seenAtOnce is a CIEDE2000 difference that is seen at once, side by side; common practice, no source.
const seenAtOnce = 3

// LookChange is how another plan changes the look of the piece, straight on in even light. Gloss and glint change besides.
type LookChange struct {
	Mean        float64       `json:"mean_de00"` // over all finished pages
	ChangedMM2  float64       `json:"changed_mm2"`
	LargestPage int           `json:"largest_page,omitempty"`
	LargestMM2  float64       `json:"largest_mm2"` // the largest connected area that is seen to change at once
	LargestMean float64       `json:"largest_de00"`
	LargestBox  finding.BoxMM `json:"largest_box"`
	Lost        []string      `json:"lost,omitempty"` // what goes besides the colour
	Note        string        `json:"note,omitempty"`
}

// Words are the change in a sentence.
func (c *LookChange) Words() string {
	b := c.LargestBox
	s := fmt.Sprintf("ΔE00 %.2f in the mean; largest area %s with ΔE00 %.1f, on page %d, %.0f × %.0f mm at %.0f mm from the left and %.0f mm from the top",
		c.Mean, areaOf(c.LargestMM2), c.LargestMean, c.LargestPage, b.W, b.H, b.X, b.Y)
	switch {
	case c.LargestMM2 == 0 && c.Mean < 0.005:
		s = "no change of colour"
	case c.LargestMM2 == 0:
		s = fmt.Sprintf("ΔE00 %.2f in the mean, nowhere %d or more", c.Mean, seenAtOnce)
	}
	for _, l := range c.Lost {
		s += "; " + l
	}
	if c.Note != "" {
		s += " (" + c.Note + ")"
	}
	return s
}

// lost tells what goes with a plan besides colour: gloss, glint, glow, and what is laid otherwise than usual.
func (l *looks) lost(p *plan.Plan) (out []string) {
	for _, g := range p.GivesUp {
		kind, ok := l.pl.setup.Press.KindOf(g.What)
		if g.Kind != plan.GiveToner || !ok {
			continue
		}
		switch kind {
		case colourant.Clear:
			out = append(out, "the gloss of "+g.What+" goes")
		case colourant.Metallic:
			out = append(out, "the glint of "+g.What+" goes, and what it knocked out stays bare")
		case colourant.Fluorescent:
			out = append(out, "the glow of "+g.What+" goes, and what it knocked out stays bare")
		case colourant.OpaqueWhite:
			out = append(out, "nothing keeps the stock from showing through where "+g.What+" lay")
		}
	}
	for _, u := range p.Unusual {
		if words := fmt.Sprintf("page %d: %s", u.Page, strings.TrimSuffix(u.Words, ".")); !slices.Contains(l.first.Unusual, u) && len(out) < mostLost {
			out = append(out, words)
		}
	}
	return out
}

// mostLost lines about one plan.
const mostLost = 6

func areaOf(mm2 float64) string {
	switch {
	case mm2 < 10:
		return fmt.Sprintf("%.1f mm²", mm2)
	case mm2 < 10_000:
		return fmt.Sprintf("%.0f mm²", mm2)
	}
	return fmt.Sprintf("%.0f cm²", mm2/100)
}

// looks keeps the colours of the first plan.
type looks struct {
	pl    *planner
	first *plan.Plan
	base  [][]press.Lab // by page
}

func (l *looks) labs(i int, p *plan.Plan) ([]press.Lab, error) {
	kept := l.pl.pages[i]
	layers, _ := look.LayersFromPasses(l.pl.setup.Press, p.Side(i), kept.stack.Set)
	layers = layers[:min(len(layers), limits.MaxLookToners)]
	c, err := l.pl.setup.conditionsOf(kept.number, layers, kept.process, LookView{})
	if err != nil {
		return nil, err
	}
	c.Through = l.pl.setup.SeenThrough()
	m, err := look.NewModelFor(c)
	if err != nil {
		return nil, err
	}
	return m.Labs(planes(kept.stack), kept.stack.Width*kept.stack.Height), nil
}

func planes(st *plate.Stack) [][]byte {
	out := make([][]byte, st.Set.Len())
	for k := range out {
		out[k] = st.Plane(k)
	}
	return out
}

// change compares the look of a plan with that of the first.
func (l *looks) change(p *plan.Plan) (*LookChange, error) {
	out := &LookChange{Lost: l.lost(p)}
	sum, pixels := 0.0, 0
	for i, kept := range l.pl.pages {
		if kept.stack == nil {
			continue
		}
		n := kept.stack.Width * kept.stack.Height
		weight := l.pl.alike.groups[kept.group].pages
		pixels += n * weight
		if sameLaydown(l.first.Side(i), p.Side(i)) {
			continue
		}
		if l.base == nil {
			l.base = make([][]press.Lab, len(l.pl.pages))
		}
		var err error
		if l.base[i] == nil {
			if l.base[i], err = l.labs(i, l.first); err != nil {
				return nil, err
			}
		}
		now, err := l.labs(i, p)
		if err != nil {
			return nil, err
		}
		d := make([]float64, n)
		for k := range d {
			if now[k] != l.base[i][k] {
				d[k] = look.Difference(l.base[i][k], now[k])
				sum += d[k] * float64(weight)
			}
		}
		out.largest(kept, d, float64(weight))
	}
	out.Note = l.pl.alike.note()
	if pixels > 0 {
		out.Mean = round2(sum / float64(pixels))
	}
	out.ChangedMM2 = round2(out.ChangedMM2)
	return out, nil
}

func sameLaydown(a, b []press.Pass) bool {
	one, other := press.LaydownOrder(a), press.LaydownOrder(b)
	if len(one) != len(other) {
		return false
	}
	for i := range one {
		if one[i] != other[i] {
			return false
		}
	}
	return true
}

// largest finds the largest connected area of a page that changes visibly, pixels touching along their sides.
func (c *LookChange) largest(kept *plannedPage, d []float64, pages float64) {
	w, h := kept.stack.Width, kept.stack.Height
	px := 25.4 / kept.stack.DPI
	seen := make([]bool, len(d))
	var stack []int
	for start := range d {
		if seen[start] || d[start] < seenAtOnce {
			continue
		}
		stack = append(stack[:0], start)
		seen[start] = true
		n, sum := 0, 0.0
		x0, y0, x1, y1 := w, h, 0, 0
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := i%w, i/w
			n++
			sum += d[i]
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			for _, next := range [4][3]int{{x - 1, y, i - 1}, {x + 1, y, i + 1}, {x, y - 1, i - w}, {x, y + 1, i + w}} {
				if k := next[2]; next[0] >= 0 && next[0] < w && next[1] >= 0 && next[1] < h && !seen[k] && d[k] >= seenAtOnce {
					seen[k] = true
					stack = append(stack, k)
				}
			}
		}
		area := float64(n) * px * px
		c.ChangedMM2 += area * pages
		if area > c.LargestMM2 {
			c.LargestMM2, c.LargestMean, c.LargestPage = round2(area), round2(sum/float64(n)), kept.number
			c.LargestBox = finding.BoxMM{X: round2(float64(x0) * px), Y: round2(float64(y0) * px), W: round2(float64(x1-x0) * px), H: round2(float64(y1-y0) * px)}
		}
	}
}
