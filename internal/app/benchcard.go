package app

import (
	"math"
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/look"
	"laydown/internal/press"
)

// Densities of toner layers, g/cm³: resins of toners have 1.1 to 1.3; what whites and metals hold makes them denser. From
// memory, no source; they serve the drawing of a cut edge alone.
const (
	densityToner = 1.2
	densityWhite = 1.7
	densityMetal = 1.4
)

// TonerThickness is how thick the solid of a toner lies, in micrometres: its mass by a usual density of its kind. A guess by
// kind, for drawings of the cut edge; where the definition gives no mass, 5 g/m² are taken.
func TonerThickness(t *press.Toner) float64 {
	mass, density := float64(t.Mass), densityToner
	if !(mass > 0) {
		mass = 5
	}
	switch t.Kind {
	case colourant.OpaqueWhite:
		density = densityWhite
	case colourant.Metallic:
		density = densityMetal
	}
	return math.Round(mass/density*10) / 10
}

// BenchStockSide is one side of a stock, for a viewer.
type BenchStockSide struct {
	Name      string  `json:"name"`
	Title     string  `json:"title"`
	Colour    string  `json:"colour"` // CSS
	Surface   string  `json:"surface"`
	Thickness float64 `json:"thickness_um"` // 0 = not known
}

func stockSide(s *press.Stock, side press.Side) BenchStockSide {
	return BenchStockSide{Name: s.Name, Title: s.Title, Colour: stockColour(s, side), Surface: s.Surface,
		Thickness: math.Round(float64(s.Thickness) * 1000)}
}

// stockColour is how a screen shows a side of bare stock, CSS; "" where it cannot be shown.
func stockColour(s *press.Stock, side press.Side) string {
	m, err := look.NewModel(s, side, nil)
	if err != nil {
		return ""
	}
	return css(m.SRGB(nil))
}

// StockCard is what a person chooses a stock by.
type StockCard struct {
	Name      string   `json:"name"`
	Title     string   `json:"title"`
	Front     string   `json:"front"` // colour of the bare side, CSS
	Back      string   `json:"back"`
	Surface   string   `json:"surface"`
	Gloss     string   `json:"gloss,omitempty"`
	Weight    float64  `json:"weight_gsm"`
	Thickness float64  `json:"thickness_um,omitempty"`
	Opacity   float64  `json:"opacity,omitempty"`  // percent; 0 = nothing shows through, but for film
	Hits      int      `json:"hits,omitempty"`     // passes it stands; 0 = not limited
	Cautions  []string `json:"cautions,omitempty"` // those it was written with, and what its surface and weight ask for
}

// CardOfStock tells of a stock.
func CardOfStock(s *press.Stock) StockCard {
	return StockCard{Name: s.Name, Title: s.Title, Front: stockColour(s, press.Front), Back: stockColour(s, press.Back), Surface: s.Surface, Gloss: s.Gloss,
		Weight: float64(s.Weight), Thickness: math.Round(float64(s.Thickness) * 1000), Opacity: float64(s.Opacity), Hits: s.Hits, Cautions: slices.Concat(s.Cautions, stockCautions(s))}
}

// PressCard is what a person chooses a press by.
type PressCard struct {
	Name        string      `json:"name"`
	Title       string      `json:"title"`
	Notes       string      `json:"notes,omitempty"`
	Toners      []TonerCard `json:"toners"`
	Mixes       []string    `json:"mixes,omitempty"`
	Sets        []SetCard   `json:"sets"`
	PilePerPass float64     `json:"pile_per_pass"` // percent
	PileSum     float64     `json:"pile_sum"`
	Width       float64     `json:"width_mm"` // of the largest sheet, across the feed
	Height      float64     `json:"height_mm"`
	Cautions    []string    `json:"cautions,omitempty"`
}

// TonerCard is a toner of a press.
type TonerCard struct {
	Name      string   `json:"name"`
	Kind      string   `json:"kind"`
	OnWhite   string   `json:"on_white"`           // its solid on white, CSS
	OnStock   string   `json:"on_stock,omitempty"` // its solid on the front of the stock, CSS
	Thickness float64  `json:"thickness_um"`       // see TonerThickness
	MayTint   bool     `json:"may_tint"`
	Basis     string   `json:"basis"` // what its look is made of
	Cautions  []string `json:"cautions,omitempty"`
}

// SetCard is a set of a press: its stations in laydown order.
type SetCard struct {
	Name     string   `json:"name"`
	Stations []string `json:"stations"`
}

// CardOfPress tells of a press and, given a stock, how its toners look on the front of that.
func CardOfPress(p *press.Press, stock *press.Stock) (PressCard, error) {
	c := PressCard{Name: p.Name, Title: p.Title, Notes: p.Notes, PilePerPass: float64(p.Pile.PerPass), PileSum: float64(p.Pile.Sum),
		Width: float64(p.Sheet.Width), Height: float64(p.Sheet.Height), Cautions: p.Cautions, Sets: []SetCard{}, Toners: []TonerCard{}}
	for _, s := range p.Sets {
		c.Sets = append(c.Sets, SetCard{s.Name, s.Stations})
	}
	for _, m := range p.Mixes {
		c.Mixes = append(c.Mixes, m.Name)
	}
	white, err := press.FindStock(plainStock)
	if err != nil {
		return c, err
	}
	for i := range p.Toners {
		t := &p.Toners[i]
		card := TonerCard{Name: t.Name, Kind: t.Kind.String(), Thickness: TonerThickness(t), Cautions: t.Cautions,
			MayTint: t.Tint.MayTint == nil || *t.Tint.MayTint}
		if card.OnWhite, card.Basis, err = solidOn(white, t); err != nil {
			return c, err
		}
		if stock != nil {
			if card.OnStock, _, err = solidOn(stock, t); err != nil {
				return c, err
			}
		}
		c.Toners = append(c.Toners, card)
	}
	return c, nil
}

// solidOn is how a screen shows a toner's solid on the front of a stock, CSS, and what its look is made of.
func solidOn(s *press.Stock, t *press.Toner) (colour, basis string, err error) {
	m, err := look.NewModel(s, press.Front, []look.Layer{{Toner: t}})
	if err != nil {
		return "", "", cannot(err, "correct the toner", "the look of toner %q cannot be made: %v", t.Name, err)
	}
	return css(m.SRGB([]uint8{255})), m.Knowledge()[0].Basis.String(), nil
}
