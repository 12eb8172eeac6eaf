package slowpaint

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
)

// mask is the values of a soft mask, row by row (11.5).
func (l *Levels) mask(sm *displist.SoftMask) []uint16 {
	if v, ok := l.masks[sm]; ok {
		return v
	}
	inner := *l
	inner.Target = &separate.Target{Set: colourant.NewSet(), Names: map[string]int{}, Converter: l.Target.Converter}
	for i, name := range colourant.ProcessNames {
		inner.Target.Names[name] = i
		inner.Target.Mounted = append(inner.Target.Mounted, true)
	}
	inner.retarget()
	var ctx separate.Context
	n := 0
	var ground [4]uint16
	if sm.Luminosity {
		ctx = ctx.Within(&displist.Group{Isolated: true, Space: sm.Space})
		n = inner.Target.Components(ctx)
		ground[3] = top
		if sm.Space != nil {
			bc := sm.Backdrop
			if bc == nil {
				bc = make([]float64, sm.Space.Components())
				if len(bc) == 4 {
					bc[3] = 1
				}
			}
			ground = [4]uint16{}
			copy(ground[:], inner.Target.Colour(displist.Paint{Space: sm.Space, Comps: bc}, false, 0, true, 0, ctx).Values)
		}
	}
	value := func(v uint16) uint16 {
		if sm.Transfer == nil {
			return v
		}
		out := make([]float64, sm.Transfer.Outputs())
		sm.Transfer.Eval(out, []float64{float64(v) / top})
		return level16(out[0])
	}
	luminosity := func(t [4]uint16) uint16 {
		comps, space := colourOf(ctx.Space, t)
		return value(level16(l.Target.Converter.Luminosity(space, comps)))
	}
	values := make([]uint16, l.W*l.H)
	for y := range l.H {
		for x := range l.W {
			g := &spot{p: make([]uint16, n), space: ctx.Space, isolated: sm.Isolated, knockout: sm.Knockout}
			if sm.Luminosity && !sm.Isolated {
				g.hasBackdrop, g.ba, g.b = true, top, ground[:n]
			}
			inner.members(sm.Items, 0, len(sm.Items), ctx, x, y, g)
			in := uint16(top)
			if sm.BBox != nil {
				in = uint16(l.clip(sm.BBox, nil).cover[y*l.W+x]) * 257
			}
			alpha := times(g.a, in)
			switch {
			case !sm.Luminosity:
				values[y*l.W+x] = value(alpha)
			case alpha == 0:
				values[y*l.W+x] = luminosity(ground)
			default:
				var t [4]uint16
				for c := range n {
					t[c] = plus(times(g.p[c], in), times(top-alpha, ground[c]))
				}
				values[y*l.W+x] = luminosity(t)
			}
		}
	}
	l.masks[sm] = values
	return values
}
