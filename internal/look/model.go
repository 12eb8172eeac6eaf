package look

import (
	"fmt"
	"slices"
	"sync/atomic"

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

// Conditions are what a model is made for.
type Conditions struct {
	Stock  *press.Stock
	Side   press.Side
	Layers []Layer // in laydown order, the one that touches the stock first

	// Backing is the colour of what the sheet lies on. Left out it is the one the stock's colour is given for: white,
	// and for film a dark ground. It matters for stock that light passes.
	Backing *press.Lab
	// Process tells how the process toners print on each other. Left out, or where they do not lie together, they are
	// stacked as films of their own.
	Process *Process

	// Through shows a film from the side that is not printed: film on top, then the toners, the first laid foremost,
	// then the backing. The picture is mirrored, which is left to the caller.
	Through bool
}

// Model is the appearance of one laydown on one side of a stock. It is safe for concurrent use.
type Model struct {
	layers  []Layer
	films   []*layerOf
	inputs  []int // the different plates, in the order of the layers
	input   []int // layer -> number in inputs
	plates  int   // one more than the highest plate number
	stock   press.Lab
	linear  [3][mixBands]float32
	notes   []string
	groups  []group
	set     *group // that of the process set, nil = none
	steps   []step
	base    base
	backing spectrum // what the sheet lies on, below the surface
	usual   spectrum // the backing the stock's colour is given for
	through bool
	of      *press.Stock
	side    press.Side
	beneath *film // the sheet, when this is the print behind it: rows then hold levels, see behind.go
	stacks  stacks
}

// NewModel builds the model of layers in laydown order, the one that touches the stock first. A
// plate may drive several layers, as a white laid in two passes does; their dots lie on each other.
// More than limits.MaxLookToners layers and a layer without a toner or a plate are errors.
func NewModel(stock *press.Stock, side press.Side, layers []Layer) (*Model, error) {
	return NewModelFor(Conditions{Stock: stock, Side: side, Layers: layers})
}

// NewModelFor builds the model for conditions; errors are those of NewModel, and a view through stock that is no film.
func NewModelFor(c Conditions) (*Model, error) {
	if len(c.Layers) > limits.MaxLookToners {
		return nil, fmt.Errorf("%d toners lie over each other; the picture can show at most %d", len(c.Layers), limits.MaxLookToners)
	}
	if c.Through && c.Stock.Surface != press.SurfaceFilm {
		return nil, fmt.Errorf("stock %s is no film: its print cannot be seen through it", c.Stock.Name)
	}
	encodedOnce.Do(makeEncoded)
	m := &Model{layers: slices.Clone(c.Layers), stock: c.Stock.Colour(c.Side), through: c.Through, of: c.Stock, side: c.Side}
	for i, l := range c.Layers {
		if l.Toner == nil || l.Plate < 0 {
			return nil, fmt.Errorf("layer %d has no toner or no plate", i)
		}
		in := slices.Index(m.inputs, l.Plate)
		if in < 0 {
			in = len(m.inputs)
			m.inputs = append(m.inputs, l.Plate)
			m.groups = append(m.groups, group{inputs: []int{in}, nodes: 2})
		}
		m.input = append(m.input, in)
		m.plates = max(m.plates, l.Plate+1)
		f := filmOf(l.Toner)
		m.films = append(m.films, f)
		// Black does not thin: thinned, it would be lighter over a colour than alone.
		m.steps = append(m.steps, step{in, []*film{nil, &f.film}, layered(f.kind) && l.Toner.Name != colourant.Black})
	}
	for c := range linearWeights {
		for b := range mixBands {
			m.linear[c][b] = float32(linearWeights[c][b])
		}
	}
	m.characterise(c.Process, c.Stock)
	m.lay(c)
	m.number()
	return m, nil
}

// number gives each combination of nodes a number.
func (m *Model) number() {
	n := int32(1)
	for i := range m.groups {
		m.groups[i].stride = n
		n *= int32(m.groups[i].nodes)
	}
	m.stacks.rows = make([]atomic.Pointer[row], n)
	m.stacks.thin = map[thickness]*film{}
}

// note tells which colours had to be made less vivid.
func (m *Model) note(stock *press.Stock, kept float64) {
	if kept < 1 {
		m.notes = append(m.notes, fmt.Sprintf("The colour of stock %s is more vivid than a surface can be; it is shown with %.0f %% of its chroma.", stock.Name, 100*kept))
	}
	for i, f := range m.films {
		name := m.layers[i].Toner.Name
		switch {
		case f.characterised:
		case f.kept < 1:
			m.notes = append(m.notes, fmt.Sprintf("The colour of %s is more vivid than such a toner can be; it is shown with %.0f %% of its chroma.", name, 100*f.kept))
		case f.missed > 1:
			m.notes = append(m.notes, fmt.Sprintf("No layer on white has the colour of %s; what is shown is %.1f CIEDE2000 off.", name, f.missed))
		}
	}
}

// Layers of the model, in laydown order.
func (m *Model) Layers() []Layer { return m.layers }

// Stock is the colour of the bare stock.
func (m *Model) Stock() press.Lab { return m.stock }

// Notes say in words where the picture shows less than the definitions ask for.
func (m *Model) Notes() []string { return m.notes }

// Knowledge tells for each layer what its look was made of and how far it can be trusted.
func (m *Model) Knowledge() []Knowledge {
	var out []Knowledge
	for i, f := range m.films {
		out = append(out, f.knowledge(m.layers[i].Toner, m.stock))
	}
	return out
}

// Hiding is the contrast ratio of a layer's solid in percent: how light it is on black, of how
// light it is on white (Y, D50, without glow). 100 hides all.
func (m *Model) Hiding(layer int) float64 { return 100 * m.films[layer].contrast() }

// Solid is the colour of a layer's plate at full tint on the bare stock.
func (m *Model) Solid(layer int) press.Lab {
	var k key
	k.set(m.input[layer], 255)
	e := newEvaluator(m)
	e.mix(k)
	return e.lab()
}

// Lab is the colour at the given tints, one for each plate; missing ones are 0.
func (m *Model) Lab(tints []uint8) press.Lab {
	e := newEvaluator(m)
	e.mix(e.load(tints))
	return e.lab()
}

// Surface is what the place with these tints, one for each plate, is to a lamp.
func (m *Model) Surface(tints []uint8) Surface {
	e := newEvaluator(m)
	return e.surface(e.load(tints))
}

// SRGB is the colour on a screen; colours outside its gamut are brought into it.
func (m *Model) SRGB(tints []uint8) [3]uint8 {
	e := newEvaluator(m)
	return srgb8(e.shownAt(e.load(tints)).linear)
}

func (m *Model) inputPlates() []int { return m.inputs }

func (m *Model) surfaces() func(key) Surface { return newEvaluator(m).surface }

func squared(root *[mixBands]float32) (r coarse) {
	for b, v := range root {
		r[b] = float64(v) * float64(v)
	}
	return r
}
