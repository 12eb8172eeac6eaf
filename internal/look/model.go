package look

import (
	"fmt"
	"math"
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/limits"
	"laydown/internal/press"
)

// Layer is one toner of a laydown and the number of the plate that drives it.
type Layer struct {
	Toner *press.Toner
	Plate int
}

// LayersFromPasses lists the toners of passes, first laid first, with their plates in set; a toner
// laid in two passes is two layers. Toners without a plate are left out; plates without a toner in
// the passes are returned by name.
func LayersFromPasses(p *press.Press, passes []press.Pass, set *colourant.Set) (layers []Layer, left []string) {
	laid := map[string]bool{}
	for _, name := range press.LaydownOrder(passes) {
		t, ok := p.Toner(name)
		if i, plated := set.Lookup(name); ok && plated {
			laid[name] = true
			layers = append(layers, Layer{t, i})
		}
	}
	for _, c := range set.All() {
		if !laid[c.Name] {
			left = append(left, c.Name)
		}
	}
	return layers, left
}

// Model is the appearance of one laydown on one side of a stock. It is immutable and safe for
// concurrent use.
type Model struct {
	layers  []Layer
	films   []film
	inputs  []int // the different plates, in the order of the layers
	input   []int // layer -> number in inputs
	stock   press.Lab
	primary [][bands]float32 // square roots of the reflectance of each overprint; bit i = inputs[i] present
	plates  int              // one more than the highest plate number
	linear  [3][bands]float32
	notes   []string
}

// Trapping: a toner laid on another transparent one goes down thinner, and again on metal.
const (
	trapOnToner = 0.85
	trapOnMetal = 0.75
)

// NewModel builds the model of layers in laydown order, the one that touches the stock first. A
// plate may drive several layers, as a white laid in two passes does; their dots lie on each other.
// More than limits.MaxLookToners layers and a layer without a toner or a plate are errors.
func NewModel(stock *press.Stock, side press.Side, layers []Layer) (*Model, error) {
	if len(layers) > limits.MaxLookToners {
		return nil, fmt.Errorf("%d toners lie over each other; the picture can show at most %d", len(layers), limits.MaxLookToners)
	}
	encodedOnce.Do(makeEncoded)
	m := &Model{layers: append([]Layer(nil), layers...), stock: stock.Colour(side)}
	for i, l := range layers {
		if l.Toner == nil || l.Plate < 0 {
			return nil, fmt.Errorf("layer %d has no toner or no plate", i)
		}
		in := slices.Index(m.inputs, l.Plate)
		if in < 0 {
			in = len(m.inputs)
			m.inputs = append(m.inputs, l.Plate)
		}
		m.input = append(m.input, in)
		m.plates = max(m.plates, l.Plate+1)
		m.films = append(m.films, filmOf(l.Toner))
	}
	for c := range m.linear {
		for b := range bands {
			m.linear[c][b] = float32(linearWeights[c][b] * linearScale)
		}
	}
	m.stack(stock)
	return m, nil
}

// stack computes every overprint from the stock upwards.
func (m *Model) stack(stock *press.Stock) {
	g, k0, kept := ground(m.stock, stockK0(stock))
	m.note(stock, kept)
	type thickness struct {
		layer, below int
		metal        bool
	}
	thin := map[thickness]*film{}
	m.primary = make([][bands]float32, 1<<len(m.inputs))
	for mask := range m.primary {
		ri, top := g, k0
		below, metal := 0, false
		for i := range m.films {
			if mask>>m.input[i]&1 == 0 {
				continue
			}
			f := &m.films[i]
			if traps(f.kind) && m.layers[i].Toner.Name != colourant.Black && (below > 0 || metal) {
				at := thickness{i, below, metal}
				if thin[at] == nil {
					c := math.Pow(trapOnToner, float64(below))
					if metal {
						c *= trapOnMetal
					}
					t := f.thinned(c)
					thin[at] = &t
				}
				f = thin[at]
			}
			ri, top = f.over(&ri), f.k0
			switch {
			case f.kind == colourant.OpaqueWhite:
				below, metal = 0, false
			case f.kind == colourant.Metallic:
				below, metal = 0, true
			case traps(f.kind):
				below++
			}
		}
		m.setPrimary(mask, &ri, top)
	}
}

// note tells which colours had to be made less vivid.
func (m *Model) note(stock *press.Stock, kept float64) {
	if kept < 1 {
		m.notes = append(m.notes, fmt.Sprintf("The colour of stock %s is more vivid than a surface can be; it is shown with %.0f %% of its chroma.", stock.Name, 100*kept))
	}
	for i, f := range m.films {
		if f.kept < 1 {
			m.notes = append(m.notes, fmt.Sprintf("The colour of %s is more vivid than a toner that does not glow can be; it is shown with %.0f %% of its chroma.", m.layers[i].Toner.Name, 100*f.kept))
		}
	}
}

// traps tells the toners that go down thinner on others. An opaque white starts afresh; whites,
// metals and clears are laid thick and do not thin, nor does black: thinned, it would be lighter
// over a colour than alone.
func traps(k colourant.Kind) bool {
	return k == colourant.Process || k == colourant.Fluorescent || k == colourant.Spot
}

// setPrimary stores the overprint's root reflectance in single precision: coarse enough that the
// last bit of the mathematics library does not reach a pixel.
func (m *Model) setPrimary(mask int, ri *spectrum, k0 float64) {
	r := measured(ri, k0)
	for b := range r {
		m.primary[mask][b] = float32(math.Sqrt(max(r[b], 0)))
	}
}

// Layers of the model, in laydown order.
func (m *Model) Layers() []Layer { return m.layers }

// Stock is the colour of the bare stock.
func (m *Model) Stock() press.Lab { return m.stock }

// Notes say in words where the picture shows less than the definitions ask for.
func (m *Model) Notes() []string { return m.notes }

// Hiding is the contrast ratio of a layer's solid in percent: how light it is on black, of how
// light it is on white (Y, D50). 100 hides all.
func (m *Model) Hiding(layer int) float64 { return 100 * m.films[layer].contrast() }

// Solid is the colour of a layer's plate at full tint on the bare stock.
func (m *Model) Solid(layer int) press.Lab {
	r := squared(&m.primary[1<<m.input[layer]])
	return r.lab()
}

func squared(root *[bands]float32) (r spectrum) {
	for b, v := range root {
		r[b] = float64(v) * float64(v)
	}
	return r
}

// Lab is the colour at the given tints, one for each plate; missing ones are 0.
func (m *Model) Lab(tints []uint8) press.Lab {
	r := m.reflectance(tints)
	return r.lab()
}

// SRGB is the colour on a screen; colours outside its gamut are brought into it.
func (m *Model) SRGB(tints []uint8) [3]uint8 {
	e := newEvaluator(m)
	return srgb8(e.shownAt(e.load(tints)).linear)
}

func (m *Model) reflectance(tints []uint8) spectrum {
	e := newEvaluator(m)
	e.mix(e.load(tints))
	return squared(&e.sum)
}
