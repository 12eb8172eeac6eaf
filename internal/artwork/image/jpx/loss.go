package jpx

import "math"

// What coding took from the samples can be told without decoding them. A coefficient of a band is known to a step: the
// quantisation step of the band (Annex E), doubled for each bit plane of its code-block that was left out, which packet
// headers tell. Spread evenly, its error has a twelfth of the square of the step; the wavelet turns that into errors of
// samples by the energy of its synthesis functions.

// Loss is what coding took from the samples of a picture.
type Loss struct {
	Lossless bool // a reversible wavelet, and every bit plane is there
	// Error is the expected root mean square error of a sample, in parts of its range, of the channel that lost most; right
	// where detail is rich, too much where there is little.
	Error float64
	// Worst is the error where all coefficients that reach a sample are off by a whole step the same way, in parts of the
	// range: no sample is further off.
	Worst  float64
	Planes int // bit planes left out, of the code-block that lost most
}

// maxLossTiles of a picture are looked at, spread evenly: they are coded alike.
const maxLossTiles = 64

// Loss tells what coding took. Code-blocks that hold nothing are taken for as fine as the rest.
func (f *File) Loss() (l Loss, err error) {
	defer caught(&err)
	cs := f.cs
	n := cs.tilesX * cs.tilesY
	var sum []float64
	area := 0.0
	l.Lossless = true
	for k := range min(n, maxLossTiles) {
		i := k * n / min(n, maxLossTiles)
		d := cs.tiles[i]
		if d == nil {
			continue
		}
		t, err := cs.newTile(i, d.par)
		if err != nil {
			return Loss{}, err
		}
		t.packets(cs, d)
		square, most := t.loss(cs, &l)
		if sum == nil {
			sum = make([]float64, len(square))
		}
		size := float64(t.X1-t.X0) * float64(t.Y1-t.Y0)
		area += size
		for c, v := range square {
			sum[c] += float64(v * size)
		}
		for _, v := range most {
			l.Worst = max(l.Worst, v)
		}
	}
	for _, v := range sum {
		l.Error = max(l.Error, math.Sqrt(v/area))
	}
	if l.Lossless {
		l.Error, l.Worst = 0, 0
	}
	return l, nil
}

// loss is the mean square error and the largest error of each component of a tile, in parts of its range; after the
// transform of components those of red, green and blue.
func (t *tile) loss(cs *codestream, l *Loss) (square, most []float64) {
	for c := range t.comps {
		tc := &t.comps[c]
		s, m := tc.loss(l)
		s += 1. / 12 // rounding to whole levels
		full := float64(int(1)<<cs.components[c].Precision - 1)
		square, most = append(square, s/(full*full)), append(most, m/full)
	}
	if t.par.transform != 1 || !t.alike() {
		return square, most
	}
	// Weights of the second and third component in each colour (Annex G): those of blue-ish and red-ish differences.
	weights := [3][2]float64{{0, 1.402}, {.344136, .714136}, {1.772, 0}}
	if t.comps[0].coding.reversible {
		weights = [3][2]float64{{.25, .75}, {.25, .25}, {.75, .25}}
	}
	var s, m [3]float64
	for i, w := range weights {
		s[i] = square[0] + float64(w[0]*w[0]*square[1]) + float64(w[1]*w[1]*square[2])
		m[i] = most[0] + float64(w[0]*most[1]) + float64(w[1]*most[2])
	}
	copy(square, s[:])
	copy(most, m[:])
	return square, most
}

// loss is the mean square error and the largest error of the samples of a component, in levels.
func (tc *tileComponent) loss(l *Loss) (square, most float64) {
	size := float64(tc.x1-tc.x0) * float64(tc.y1-tc.y0)
	if size == 0 {
		return 0, 0
	}
	if !tc.coding.reversible {
		l.Lossless = false
	}
	last := 0.0 // square of the step of the last band that held something, times its energy
	for r := range tc.res {
		res := &tc.res[r]
		level := len(tc.res) - max(r, 1)
		for i := range res.bands {
			b := &res.bands[i]
			energy, reach := synthesis(tc.coding.reversible, b.orient, level)
			step, coarsest, held := tc.steps(res, i, l)
			if held {
				last = float64(step * energy)
			} else {
				step = last / energy
				coarsest = math.Sqrt(step)
			}
			share := float64(b.x1-b.x0) * float64(b.y1-b.y0) / size
			square += float64(step / 12 * energy * share)
			most += float64(coarsest * reach)
		}
	}
	return square, most
}

// steps is the mean square and the largest of the steps coefficients of a band are known to, in levels; held tells whether
// there are any. A reversible band that is whole has no step.
func (tc *tileComponent) steps(res *resolution, band int, l *Loss) (square, coarsest float64, held bool) {
	b := &res.bands[band]
	area := 0.0
	for k := range res.precincts {
		if res.precincts[k].bands == nil {
			continue
		}
		for _, blk := range res.precincts[k].bands[band].blocks {
			if !blk.included || blk.passes == 0 {
				continue
			}
			// The first plane is one pass, each further one three (Annex D).
			missing := 3*(b.planes-int(blk.zeroPlanes)) - 2 - blk.passes
			step := 1.0
			switch {
			case missing <= 0 && tc.coding.reversible:
				step = 0
			case !tc.coding.reversible:
				step = float64(b.step)
			}
			if missing > 0 {
				l.Lossless = false
				l.Planes = max(l.Planes, (missing+2)/3)
				// 2^(1/3) and 2^(2/3) for planes of which some passes are there.
				step = math.Ldexp(step*[3]float64{1, 1.2599210498948732, 1.5874010519681994}[missing%3], missing/3)
			}
			n := float64(blk.w) * float64(blk.h)
			area += n
			square += float64(step * step * n)
			coarsest = max(coarsest, step)
		}
	}
	if area == 0 {
		return 0, 0, false
	}
	return square / area, coarsest, true
}

// maxSynthesis levels are worked out; the energy of a function quadruples and its reach stays from one level to the next.
const maxSynthesis = 6

// synthesis is the energy of the function that a coefficient of a band adds to the samples, and the sum of the sizes of
// all such functions in one place, at a level of decomposition from 1 (0: no wavelet).
func synthesis(reversible bool, orient, level int) (energy, reach float64) {
	if level == 0 {
		return 1, 1
	}
	n := min(level, maxSynthesis)
	e := [2]float64{}
	a := [2]float64{}
	for high := range e {
		for _, v := range function(reversible, high == 1, n) {
			e[high] += float64(v * v)
			a[high] += math.Abs(v)
		}
	}
	x, y := orient&1, orient>>1
	energy = math.Ldexp(e[x]*e[y], 2*(level-n))
	return energy, math.Ldexp(a[x]*a[y], -2*n)
}

// function is the synthesis function of one coefficient along a line: impulses taken through the wavelet.
func function(reversible, high bool, level int) []float64 {
	const taps = 16
	line := make([]float64, taps)
	line[taps/2] = 1
	for i := range level {
		n := 2 * len(line)
		src, dst := make([]float64, n), make([]float64, n)
		if i == 0 && high {
			copy(src[n/2:], line)
		} else {
			copy(src, line)
		}
		synthesise(dst, src, reversible)
		line = dst
	}
	return line
}

// synthesise is a step of the wavelet, without rounding.
func synthesise(dst, src []float64, reversible bool) {
	n := len(dst)
	if !reversible {
		a, b := make([]float32, n), make([]float32, n)
		for i, v := range src {
			b[i] = float32(v)
		}
		row97(a, b, 0)
		for i, v := range a {
			dst[i] = float64(v)
		}
		return
	}
	interleaved := func(i int) float64 { // mirrored at the ends
		if i < 0 {
			i = -i
		}
		if i >= n {
			i = 2*(n-1) - i
		}
		return dst[i]
	}
	for i := range n / 2 {
		dst[2*i], dst[2*i+1] = src[i], src[n/2+i]
	}
	for i := 0; i < n; i += 2 {
		dst[i] -= (interleaved(i-1) + interleaved(i+1)) / 4
	}
	for i := 1; i < n; i += 2 {
		dst[i] += (interleaved(i-1) + interleaved(i+1)) / 2
	}
}
