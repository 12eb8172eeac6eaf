package look

import "laydown/internal/colourant"

// shinySource adds to a model's colours what its layers would be to a lamp, by plain area shares: the topmost metal
// not covered by white keeps three quarters of its 45/0 light in a lobe of width 0.3, a clear is glossier.
type shinySource struct{ *Model }

func (m shinySource) surfaces() func(key) Surface {
	primary := make([]Surface, 1<<len(m.inputs))
	e := newEvaluator(m.Model)
	for mask := range primary {
		var k key
		for i := range m.inputs {
			if mask>>i&1 != 0 {
				k.set(i, 255)
			}
		}
		s := Surface{CoatAlpha: .12, MetalAlpha: .3}
		v := e.linearAt(k)
		for i, f := range m.films {
			if mask>>m.input[i]&1 == 0 {
				continue
			}
			switch f.kind {
			case colourant.Metallic:
				s.MetalShare = 1
			case colourant.OpaqueWhite:
				s.MetalShare = 0
			case colourant.Clear:
				s.CoatAlpha = .05
			}
		}
		for c := range v {
			s.R45[c] = float32(v[c])
			s.Metal[c] = s.MetalShare * float32(.75*max(v[c], 0)/aspecularFactor(.3, 45))
		}
		primary[mask] = s
	}
	return func(k key) (out Surface) {
		for c, v := range e.linearAt(k) {
			out.R45[c] = float32(v)
		}
		out.MetalAlpha = .3
		for mask, s := range primary {
			w := float32(1)
			for i := range m.inputs {
				a := float32(uint8(k[i>>3]>>(8*(i&7)))) / 255
				if mask>>i&1 == 0 {
					a = 1 - a
				}
				w *= a
			}
			if w == 0 {
				continue
			}
			for c := range out.Metal {
				out.Metal[c] += float32(w * s.Metal[c])
			}
			out.MetalShare += float32(w * s.MetalShare)
			out.CoatAlpha += float32(w * s.CoatAlpha)
		}
		return out
	}
}
