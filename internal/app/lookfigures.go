package app

import (
	"fmt"

	"laydown/internal/colourant"
	"laydown/internal/look"
	"laydown/internal/press"
)

// TonerLook tells what one toner of a laydown does on its stock.
type TonerLook struct {
	look.Knowledge
	Kind    string    `json:"kind"`
	OnStock press.Lab `json:"on_stock"` // its solid alone on the stock of the job
	Hits    []HitLook `json:"hits,omitempty"`
	Flop    float64   `json:"flop_index,omitempty"` // of a metal: 0 looks the same from all sides, 15 and more is very strong
}

// HitLook tells how well an opaque toner hides when laid so many times.
type HitLook struct {
	Hits    int       `json:"hits"`
	Hiding  float64   `json:"hiding"`   // contrast ratio in percent: Y on black by Y on white
	OnStock press.Lab `json:"on_stock"` // on the stock of the job
}

// Figures are the toner's figures in words.
func (t *TonerLook) Figures() (out []string) {
	for _, h := range t.Hits {
		times := "once"
		if h.Hits > 1 {
			times = fmt.Sprintf("%d times", h.Hits)
		}
		out = append(out, fmt.Sprintf("laid %s: hides %.0f %%, L* %.1f on this stock", times, h.Hiding, h.OnStock[0]))
	}
	if t.Flop > 0 {
		out = append(out, fmt.Sprintf("flop index %.1f", t.Flop))
	}
	return out
}

// mostHits of a white a press room would lay.
const mostHits = 3

// tonerLooks tells of each toner once, in laydown order.
func tonerLooks(stock *press.Stock, side press.Side, m *look.Model, layers []look.Layer) []TonerLook {
	out := []TonerLook{}
	seen := map[string]bool{}
	for i, k := range m.Knowledge() {
		t := layers[i].Toner
		if seen[t.Name] {
			continue
		}
		seen[t.Name] = true
		l := TonerLook{Knowledge: k, Kind: t.Kind.String(), OnStock: rounded(m.Solid(i))}
		if flop, ok := m.Flop(i); ok {
			l.Flop = round2(flop)
		}
		if t.Kind == colourant.OpaqueWhite {
			l.Hits = hits(stock, side, t)
		}
		out = append(out, l)
	}
	return out
}

// hits lays a toner up to mostHits times: on the stock, and on the two cards hiding is measured on.
func hits(stock *press.Stock, side press.Side, t *press.Toner) (out []HitLook) {
	white := &press.Stock{Front: press.Lab{95, 0, -2}, Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
	black := &press.Stock{Front: press.Lab{17, 0, 1}, Surface: press.SurfaceCoated, Gloss: press.GlossMatte}
	var layers []look.Layer
	for n := range mostHits {
		layers = append(layers, look.Layer{Toner: t})
		var solid [3]press.Lab
		for k, s := range []*press.Stock{white, black, stock} {
			at := press.Front
			if s == stock {
				at = side
			}
			m, err := look.NewModel(s, at, layers)
			if err != nil {
				return nil
			}
			solid[k] = m.Solid(0)
		}
		out = append(out, HitLook{n + 1, round2(100 * luminance(solid[1]) / luminance(solid[0])), rounded(solid[2])})
	}
	return out
}

// luminance is Y of a colour, 1 for the perfect diffuser (ISO/CIE 11664-4).
func luminance(c press.Lab) float64 {
	if f := (c[0] + 16) / 116; f > 6.0/29 {
		return f * f * f
	}
	return c[0] * 27 / 24389
}

// rounded keeps two decimals: no instrument tells more.
func rounded(c press.Lab) press.Lab { return press.Lab{round2(c[0]), round2(c[1]), round2(c[2])} }
