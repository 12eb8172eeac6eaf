package starter

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/handover/pdfpage"
	"laydown/internal/press"
)

func (s *starter) draw() {
	s.f.Each = func(p *pdfpage.Page) {
		s.out.Pages++
		s.overprint(false)
		s.f.Ink = s.inked(p)
	}
	f := s.f
	f.Heading(1, "Colours of "+s.p.Title, 30)
	f.Text(pdfpage.Style{Size: 9}, "Place or open this page in a design program and take the colours over from it: each is a colourant of its own with the very name the press knows. "+
		"On a screen it shows as its stand-in colour. Do not rename, convert or merge these colours, and delete the page itself from the finished artwork.")
	f.Heading(2, "Tints", 20)
	for i := range s.p.Toners {
		if t := &s.p.Toners[i]; s.has(t.Name) {
			s.toner(t)
		}
	}
	if len(s.blends) > 0 {
		f.Heading(2, "Mixes", 20)
		f.Text(pdfpage.Style{Size: 8}, "Upper row: by the name of the mix. Lower row: as the toners it is made of.")
		for i := range s.p.Mixes {
			if m := &s.p.Mixes[i]; s.has(m.Name) {
				s.mix(m)
			}
		}
	}
	s.pairs()
	if len(s.out.LeftOut) > 0 {
		f.Text(pdfpage.Style{Size: 8}, "Left out, since no set of the press lays them: "+strings.Join(s.out.LeftOut, ", ")+".")
	}
}

func (s *starter) has(name string) bool { return slices.Contains(s.out.Colours, name) }

// shown are the tints of a toner in the legend: the steps it holds, with the ends of its range and what is advised.
func shown(t *press.Toner) []float64 {
	least, most, advised := t.Tint.Held()
	var out []float64
	for _, v := range append([]float64{float64(most), float64(least), float64(advised)}, steps...) {
		if v > 0 && v >= float64(least) && v <= float64(most) && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	slices.Reverse(out)
	return out
}

// Sizes of the legend in millimetres.
const (
	nameWidth   = 46.0
	patchWidth  = 14.0
	patchHeight = 7.0
	patchStep   = 16.5
)

const nameLine = 3.8 // mm

// label sets a name, which is shown whole, and a line below it within the width of their column, and tells how high they are. The
// patches beside them are so high.
func (s *starter) label(name, below string, patches float64) (high float64) {
	f := s.f
	st, small := pdfpage.Style{Size: 9, Bold: true}, pdfpage.Style{Size: 7.5}
	lines := f.Doc.Wrap(st, name, nameWidth-2)
	high = math.Max(patches, nameLine*float64(len(lines)+1)+.6)
	f.Need(math.Min(high, f.Bottom()-f.Margin))
	st.Colour, small.Colour = f.Ink, f.Ink // of the page there is now
	f.Page.Tag("P", "", func() {
		y := f.Y + 3.4
		for _, l := range lines {
			f.Page.Text(f.Margin, y, st, l)
			y += nameLine
		}
		f.Page.Text(f.Margin, y, small, f.Doc.Shorten(small, below, nameWidth-2))
	})
	return high
}

func (s *starter) caption(x, y float64, text string) {
	st := pdfpage.Style{Size: 7, Colour: s.f.Ink}
	s.f.Page.Tag("P", "", func() { s.f.Page.Text(x, y, st, text) })
}

func (s *starter) toner(t *press.Toner) {
	f := s.f
	_, _, advised := t.Tint.Held()
	below := t.Kind.String()
	if !t.Tint.Tints() {
		below += ", solid only"
	}
	high := s.label(t.Name, below, patchHeight+4.8)
	x := f.Margin + nameWidth
	for _, v := range shown(t) {
		s.figure(t.Name, v, func() {
			s.paint(s.colours[t.Name], x, f.Y, patchWidth, patchHeight, Patch{Tints: map[string]float64{t.Name: v}}, v)
		})
		words := fmt.Sprintf("%g %%", v)
		if v == float64(advised) {
			words += " adv."
		}
		s.caption(x, f.Y+patchHeight+3, words)
		x += patchStep
	}
	f.Y += high
}

func (s *starter) figure(name string, tint float64, draw func()) {
	s.f.Page.Tag("Figure", fmt.Sprintf("%s at %g %%", name, tint), draw)
}

// mix shows the steps at which each toner of the mix holds its tint.
func (s *starter) mix(m *press.Mix) {
	f := s.f
	var parts []string
	for _, p := range m.Parts {
		parts = append(parts, fmt.Sprintf("%s %g %%", p.Toner, float64(p.Tint)))
	}
	high := s.label(m.Name, strings.Join(parts, ", "), 2*patchHeight+7)
	x := f.Margin + nameWidth
	for _, v := range steps {
		if !s.holds(m, v) {
			continue
		}
		tints := map[string]float64{}
		var apart []float64
		for _, p := range m.Parts {
			tints[p.Toner] = float64(p.Tint) * v / 100
			apart = append(apart, tints[p.Toner])
		}
		s.figure(m.Name, v, func() {
			s.paint(s.colours[m.Name], x, f.Y, patchWidth, patchHeight, Patch{Tints: tints, Mix: m.Name, Tint: v}, v)
		})
		s.figure(m.Name+" as its toners", v, func() {
			s.paint(s.blends[m.Name], x, f.Y+patchHeight+1, patchWidth, patchHeight, Patch{Tints: tints}, apart...)
		})
		s.caption(x, f.Y+2*patchHeight+4, fmt.Sprintf("%g %%", v))
		x += patchStep
	}
	f.Y += high
}

func (s *starter) holds(m *press.Mix, v float64) bool {
	if v == 100 {
		return true
	}
	for _, p := range m.Parts {
		t, ok := s.p.Toner(p.Toner)
		if !ok {
			return false
		}
		if least, _, _ := t.Tint.Held(); float64(p.Tint)*v/100 < float64(least) {
			return false
		}
	}
	return true
}

// pairs shows special toners with every other, the one laid later overprinting the one laid first.
func (s *starter) pairs() {
	var list [][2]*press.Toner
	var never []string
	for i := range s.p.Toners {
		for j := i + 1; j < len(s.p.Toners); j++ {
			a, b := &s.p.Toners[i], &s.p.Toners[j]
			if !s.has(a.Name) || !s.has(b.Name) || a.Kind == colourant.Process && b.Kind == colourant.Process {
				continue
			}
			if neverOn(a, b) || neverOn(b, a) {
				never = append(never, a.Name+" and "+b.Name)
				continue
			}
			order, ok := s.laid(a.Name, b.Name)
			if !ok {
				continue // no passes lay both
			}
			if order[0] != a.Name {
				a, b = b, a
			}
			list = append(list, [2]*press.Toner{a, b})
		}
	}
	if len(list) > 0 {
		s.f.Heading(2, "Pairs", 20)
		s.f.Text(pdfpage.Style{Size: 8}, "Each at its advised tint, or solid. The first named overprints the second, in the order the press lays a piece with all its toners; a screen shows the overlap only when it simulates overprint.")
		s.f.Space(1.5)
	}
	const across, width, height = 8, 21.5, 14.5
	step := s.f.Width() / across
	for i, p := range list {
		if i%across == 0 {
			s.f.Need(height)
		}
		s.pair(s.f.Margin+float64(i%across)*step, width, p[0], p[1])
		if i%across == across-1 || i == len(list)-1 {
			s.f.Y += height
		}
	}
	if len(never) > 0 {
		s.f.Text(pdfpage.Style{Size: 8}, "Never on each other: "+strings.Join(never, "; ")+".")
	}
}

// laid is the order of two toners where all of the press are laid, or where that is not possible, of the two alone.
func (s *starter) laid(a, b string) (order []string, ok bool) {
	if s.order == nil {
		s.order = []string{}
		if passes, err := s.p.Passes(s.out.Colours); err == nil {
			s.order = press.LaydownOrder(passes)
		}
	}
	for _, n := range s.order {
		if n == a || n == b {
			order = append(order, n)
		}
	}
	if len(order) >= 2 {
		return order, true
	}
	passes, err := s.p.Passes([]string{a, b})
	return press.LaydownOrder(passes), err == nil
}

func neverOn(a, b *press.Toner) bool {
	return slices.Contains(a.NeverOn, b.Name) || b.Kind == colourant.Process && slices.Contains(a.NeverOn, press.UnderProcess)
}

func best(t *press.Toner) float64 {
	_, most, advised := t.Tint.Held()
	if advised > 0 {
		return float64(advised)
	}
	return float64(most)
}

func (s *starter) pair(x, width float64, lower, upper *press.Toner) {
	const w, h, dx, dy = 13.0, 6.0, 6.5, 2.0
	f := s.f
	y := f.Y
	a, b := best(lower), best(upper)
	f.Page.Tag("Figure", upper.Name+" over "+lower.Name, func() {
		s.overprint(true)
		s.paint(s.colours[lower.Name], x, y, w, h, Patch{}, a)
		s.paint(s.colours[upper.Name], x+dx, y+dy, w, h, Patch{}, b)
		s.overprint(false)
	})
	// Of the two areas, three are seen.
	s.out.Patches = s.out.Patches[:len(s.out.Patches)-2]
	seen := func(x, y, w, h float64, tints map[string]float64) {
		s.out.Patches = append(s.out.Patches, Patch{Page: s.out.Pages, X: x, Y: y, W: w, H: h, Tints: tints})
	}
	seen(x, y, dx, h, map[string]float64{lower.Name: a})
	seen(x+dx, y+dy, w-dx, h-dy, map[string]float64{lower.Name: a, upper.Name: b})
	seen(x+w, y+dy, dx, h, map[string]float64{upper.Name: b})
	st := pdfpage.Style{Size: 6.5, Colour: f.Ink}
	f.Page.Tag("P", "", func() {
		lines := f.Doc.Wrap(st, upper.Name+" over "+lower.Name, width)
		if len(lines) > 2 {
			const over = "over "
			lines = []string{f.Doc.Squeeze(st, upper.Name, width), over + f.Doc.Squeeze(st, lower.Name, width-f.Doc.Width(st, over))}
		}
		for i, l := range lines {
			f.Page.Text(x, y+h+dy+math.Round(float64(i)*26)/10+2.8, st, l)
		}
	})
}
