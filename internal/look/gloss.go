package look

import (
	"laydown/internal/colourant"
	"laydown/internal/press"
)

// gloss is what the smoothness of a surface does: how much of the front reflection a 45/0 instrument still catches, and
// how wide the lobe of its mirror image is (GGX alpha). More gloss moves light from the first to the second (Dalal and
// Natale-Hoffman, Color Res. Appl. 24, 1999); the figures are invented.
type gloss struct{ k0, alpha float64 }

// tonerGloss is the surface of a fused toner by the word of its definition, else by kind.
func tonerGloss(word string, kind colourant.Kind) gloss {
	g := gloss{0.006, 0.10}
	switch kind {
	case colourant.OpaqueWhite:
		g.alpha = 0.15
	case colourant.Metallic:
		g.alpha = 0.12
	case colourant.Fluorescent:
		g.k0 = 0.004
	case colourant.Clear:
		g = gloss{0.002, 0.05}
	}
	switch word {
	case press.GlossMatte:
		return gloss{0.010, 0.30}
	case press.GlossSatin:
		// What these kinds have anyway is satin.
		if kind == colourant.Clear {
			return gloss{0.006, 0.12}
		}
		g.k0 = 0.006
	case press.GlossHigh:
		return gloss{0.002, 0.05}
	}
	return g
}

// stockGloss is the surface of a bare stock. By the lobe's width, an index of 1.5 has about 30 gloss units (60 degrees)
// at 0.05, 14 at 0.10, 5 at 0.20, 2 at 0.30 and 1 at 0.50.
func stockGloss(s *press.Stock) gloss {
	g := gloss{0.006, 0.15}
	switch s.GlossWord() {
	case press.GlossHigh:
		g = gloss{0.003, 0.07}
		if s.Surface == press.SurfaceFilm || s.Surface == press.SurfaceMetallised {
			g.alpha = 0.03
		}
	case press.GlossMatte:
		g = gloss{0.010, 0.30}
		if s.Surface == press.SurfaceUncoated {
			g = gloss{0.020, 0.50}
		}
	}
	return g
}
