package look

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"laydown/internal/cgats"
	"laydown/internal/colourant"
	"laydown/internal/press"
)

// The process set as it prints on one stock, known from measured patches or from an output profile. Overprints of
// cyan, magenta, yellow and black are too many and trap too differently for a stack of four films to tell
// (about 2 CIEDE2000 at best); patches tell them. The patches that fill a grid of tints are lifted to spectra, the
// nodes; between them a spectrum is interpolated ink by ink in the root of reflectance (cellular Yule-Nielsen
// Neugebauer). Where on the way from one node to the next a tint lies is told by the ramps of single inks: an
// effective coverage for each ink, bent apart a little for short, middle and long waves, so that a ramp comes out in its
// measured colours. Along an ink the interpolation is quadratic: how an ink's dots gain over others shows in the
// node half-way and bends the whole way.

// processRoot is the Yule-Nielsen n between nodes. 1.5 suits coated stocks best and 2.5 uncoated ones; over held-out patches of
// published sets the mean difference hardly moves between 1.5 and 2.
const processRoot = 1.6

// Process is a characterised process set: colours of C, M, Y, K on the stock it was measured on. It is safe for
// concurrent use.
type Process struct {
	levels [4][]float64 // tints of the nodes, ascending from 0 to 1
	nodes  []spectrum   // roots of reflectance, black running fastest
	inks   [4]inkCurve
	white  spectrum // reflectance of the bare stock
	rest   *rest    // correction by patches that are no nodes, nil = none
	notes  []string

	mu     sync.Mutex
	tables map[tableOptions]*processTable
}

// ProcessGrid says which patches of a table become nodes.
type ProcessGrid int

const (
	// ThreeLevels takes no tint, a middle tint and the solid of each ink, 81 nodes; more patches would add little.
	ThreeLevels ProcessGrid = iota
	// FullestGrid takes the largest grid of which every patch is there.
	FullestGrid
	// AllPatches takes that grid and corrects it by all other patches.
	AllPatches
)

// sample is a colour of the process set.
type sample struct {
	tints [4]float64
	r     spectrum
	lab   press.Lab
	place string // "line 7", for messages
}

// ProcessFromSet characterises the process set by measured patches. A set that lacks process tints, overprints of
// solids, or colours under D50 relative to the perfect diffuser gives an error. Patches with other toners do not
// count; patches measured several times are averaged.
func ProcessFromSet(set *cgats.Set, grid ProcessGrid) (*Process, error) {
	samples, err := samplesOf(set)
	if err != nil {
		return nil, err
	}
	levels, err := gridLevels(samples, grid)
	if err != nil {
		return nil, err
	}
	p, err := newProcess(samples, levels)
	if err != nil || grid != AllPatches {
		return p, err
	}
	switch n := p.learn(samples); {
	case n == 1:
		p.notes = append(p.notes, "One patch of the characterisation does not fit the others and was left out.")
	case n > 1:
		p.notes = append(p.notes, fmt.Sprintf("%d patches of the characterisation do not fit the others and were left out.", n))
	}
	return p, nil
}

// ProcessFromLab characterises the process set by asking for colours: lab gives absolute Lab (D50) of C, M, Y, K 0..1. It
// is asked for ramps of the inks and for a grid of nine tints of each, 6693 colours. A profile that is arithmetic between screen
// and inks, with a white of L* 100 and a black of 0, tells of no print and gives an error.
func ProcessFromLab(lab func([4]float64) press.Lab) (*Process, error) {
	bare, all := lab([4]float64{}), lab([4]float64{1, 1, 1, 1})
	if bare[0] > 99.5 && all[0] < 1 {
		return nil, errors.New("its white is L* 100 and its overprint of all inks L* 0, as no print has them")
	}
	var samples []sample
	var levels [4][]float64
	for i := range 4 {
		for k := range sampledRamp + 1 {
			var t [4]float64
			t[i] = float64(k) / sampledRamp
			samples = append(samples, sample{tints: t, lab: lab(t)})
		}
		levels[i] = sampledLevels
	}
	eachNode(levels, func(t [4]float64) { samples = append(samples, sample{tints: t, lab: lab(t)}) })
	for i := range samples {
		for _, v := range samples[i].lab {
			if math.IsNaN(v) || math.Abs(v) > 1000 {
				return nil, fmt.Errorf("it gives no colour for the tints %s", percents(samples[i].tints))
			}
		}
	}
	return newProcess(averaged(samples), levels)
}

// sampledLevels stand closer in light tints, where dots gain most. On the nodes of a profile's own table they would be
// worse: a profile is straight in Lab between its nodes, so its colours lie to one side of a smooth curve through them.
var sampledLevels = []float64{0, .067, .165, .279, .406, .543, .688, .841, 1}

const sampledRamp = 32

// eachNode calls f for the tints of each node, black running fastest.
func eachNode(levels [4][]float64, f func(t [4]float64)) {
	for _, c := range levels[0] {
		for _, m := range levels[1] {
			for _, y := range levels[2] {
				for _, k := range levels[3] {
					f([4]float64{c, m, y, k})
				}
			}
		}
	}
}

// tintKey tells tints apart to 0.01 %.
func tintKey(t [4]float64) (k [4]int) {
	for i, v := range t {
		k[i] = int(math.Round(v * 10000))
	}
	return k
}

func percents(t [4]float64) string {
	return fmt.Sprintf("C %.4g M %.4g Y %.4g K %.4g %%", 100*t[0], 100*t[1], 100*t[2], 100*t[3])
}

func samplesOf(set *cgats.Set) ([]sample, error) {
	switch {
	case set.PaperRelative:
		return nil, fmt.Errorf("its colours are relative to the white of the stock; measure them absolutely")
	case set.HasColour && len(set.Wavelengths) == 0 && set.Illuminant != "D50":
		return nil, fmt.Errorf("its colours hold under %s; they must be for D50", set.Illuminant)
	}
	var column [4]int
	for i, name := range colourant.ProcessNames {
		k, ok := set.Colourant(name)
		if !ok {
			return nil, fmt.Errorf("it has no tints of %s", name)
		}
		column[i] = k
	}
	if n := len(set.Wavelengths); n > 0 && (set.Wavelengths[0] > 440 || set.Wavelengths[n-1] < 660) {
		return nil, fmt.Errorf("its reflectances span %g to %g nm; 440 to 660 nm is the least", set.Wavelengths[0], set.Wavelengths[n-1])
	}
	var samples []sample
	for i := range set.Patches {
		p := &set.Patches[i]
		s := sample{lab: p.Lab, place: fmt.Sprintf("line %d", p.Line)}
		others := 0.0
		for _, v := range p.Tints {
			others += v
		}
		for i, k := range column {
			s.tints[i] = math.Round(p.Tints[k]*10000) / 10000 // as tintKey tells them apart
			others -= p.Tints[k]
		}
		if others > 1e-9 {
			continue
		}
		if len(set.Wavelengths) > 0 {
			s.r = atBands(set.Wavelengths, p.Spectrum)
			s.lab = s.r.lab()
		}
		samples = append(samples, s)
	}
	return averaged(samples), nil
}

// atBands reads a measured spectrum at the bands, straight between its wavelengths and level beyond them.
func atBands(nm, values []float64) (r spectrum) {
	for b, w := range wavelengths {
		i := 0
		for i < len(nm) && nm[i] < w {
			i++
		}
		switch {
		case i == len(nm):
			r[b] = values[i-1]
		case i == 0 || nm[i] == w:
			r[b] = values[i]
		default:
			f := (w - nm[i-1]) / (nm[i] - nm[i-1])
			r[b] = values[i-1] + float64(f*(values[i]-values[i-1]))
		}
		r[b] = max(r[b], 0.0005)
	}
	return r
}

// averaged merges samples of the same tints.
func averaged(samples []sample) (out []sample) {
	at := map[[4]int]int{}
	var counts []float64
	for _, s := range samples {
		k := tintKey(s.tints)
		i, ok := at[k]
		if !ok {
			at[k] = len(out)
			out, counts = append(out, s), append(counts, 1)
			continue
		}
		counts[i]++
		for c := range s.lab {
			out[i].lab[c] += s.lab[c]
		}
		for b := range s.r {
			out[i].r[b] += s.r[b]
		}
	}
	for i := range out {
		for c := range out[i].lab {
			out[i].lab[c] /= counts[i]
		}
		for b := range out[i].r {
			out[i].r[b] /= counts[i]
		}
	}
	return out
}

func newProcess(samples []sample, levels [4][]float64) (*Process, error) {
	p := &Process{levels: levels}
	known := map[[4]int]*sample{}
	for i := range samples {
		known[tintKey(samples[i].tints)] = &samples[i]
	}
	var nodes []*sample
	missing := ""
	eachNode(levels, func(t [4]float64) {
		s := known[tintKey(t)]
		if s == nil {
			missing = percents(t)
		}
		nodes = append(nodes, s)
	})
	if missing != "" {
		return nil, fmt.Errorf("the patch %s is missing", missing)
	}
	kept := liftAll(nodes)
	for _, s := range nodes {
		p.nodes = append(p.nodes, rooted(s.r))
	}
	p.white = known[[4]int{}].r
	for i := range 4 {
		if err := p.fitInk(i, samples); err != nil {
			return nil, err
		}
	}
	paled, least := 0, 1.0
	for _, k := range kept {
		if k < 1 {
			paled++
			least = min(least, k)
		}
	}
	switch {
	case paled == 1:
		p.notes = append(p.notes, fmt.Sprintf("One colour of the characterisation is more vivid than a surface can be; it is shown with %.0f %% of its chroma.", 100*least))
	case paled > 1:
		p.notes = append(p.notes, fmt.Sprintf("%d colours of the characterisation are more vivid than a surface can be; they are shown with %.0f %% of their chroma or more.", paled, 100*least))
	}
	return p, nil
}

// liftAll finds the spectra of samples that have none, on all processors; kept are the shares of chroma that remain.
func liftAll(samples []*sample) (kept []float64) {
	kept = make([]float64, len(samples))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(samples)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(samples); i = int(next.Add(1)) - 1 {
				kept[i] = 1
				if s := samples[i]; s.r == (spectrum{}) {
					s.r, kept[i] = lift(s.lab)
				}
			}
		})
	}
	wg.Wait()
	return kept
}

func rooted(r spectrum) spectrum {
	for b, v := range r {
		r[b] = math.Pow(max(v, 0), 1/processRoot)
	}
	return r
}

func unrooted(r spectrum) spectrum {
	for b, v := range r {
		r[b] = math.Pow(max(v, 0), processRoot)
	}
	return r
}

// reflectance at tints 0..1 on the stock it was measured on.
func (p *Process) reflectance(t [4]float64) spectrum {
	root := p.root(t)
	if p.rest != nil {
		u := p.place(t)
		x := p.rest.factors(&u)
		root = factored(root, &x)
	}
	return unrooted(root)
}

// root interpolates between the nodes.
func (p *Process) root(t [4]float64) spectrum {
	var along [4]steps
	for i := range along {
		along[i] = p.inks[i].steps(t[i])
	}
	var sum spectrum
	n := [4]int{len(p.levels[0]), len(p.levels[1]), len(p.levels[2]), len(p.levels[3])}
	for c := range along[0].n {
		for m := range along[1].n {
			for y := range along[2].n {
				row := (((along[0].from+c)*n[1]+along[1].from+m)*n[2] + along[2].from + y) * n[3]
				for b := range sum {
					v := 0.0
					for k := range along[3].n {
						v += float64(along[3].w[k][b] * p.nodes[row+along[3].from+k][b])
					}
					w := along[0].w[c][b] * along[1].w[m][b] * along[2].w[y][b]
					sum[b] += float64(w * v)
				}
			}
		}
	}
	return sum
}

// Lab is the colour at C, M, Y, K 0..1 on the stock it was measured on.
func (p *Process) Lab(tints [4]float64) press.Lab {
	for i, v := range tints {
		tints[i] = min(max(v, 0), 1)
	}
	r := p.reflectance(tints)
	return r.lab()
}

// White is the colour of the stock it was measured on.
func (p *Process) White() press.Lab { return p.white.lab() }

// Nodes is how many patches are reproduced exactly.
func (p *Process) Nodes() int { return len(p.nodes) }

// Levels are the tints of the nodes of each ink, 0..1.
func (p *Process) Levels() [4][]float64 { return p.levels }

// Notes say in words what could not be taken as given.
func (p *Process) Notes() []string { return p.notes }
