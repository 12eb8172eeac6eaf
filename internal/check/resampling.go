package check

import (
	"math"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image"
)

// Traces of resampling. An image blown up by repeating samples has equal neighbours at even distances. One blown up by
// interpolation has second differences that are small between the old samples and large at them: along a row their
// size, averaged over rows, goes up and down with the factor as its period, and shows as a line in the spectrum
// (A. C. Gallagher, Detection of linear and cubic interpolation in JPEG compressed images, 2005). An image that is
// merely soft, out of focus say, has small second differences everywhere and no period.
//
// All sums are integers, so that results do not depend on the processor.

const (
	traceWindow = 1024 // samples of a row that are looked at, from its middle
	traceLines  = 96   // rows that are looked at
	traceLeast  = 96   // shorter sides tell nothing
	// Figures of our own, no source: in 52 images of public files, none known to be enlarged, no line stood out more than 4.1
	// times along rows and columns both, and 7 times along one of them.
	traceRatio = 6.0 // height of the line over the median of the spectrum near it
	traceDiff  = 40  // cap of a second difference, levels: edges of type must not drown the rest
)

// resampling is what traces tell of an image; the zero value is none.
type resampling struct {
	factor   float64 // the least enlargement that explains them, above 1
	repeated bool    // samples were repeated, not interpolated
}

// resampled looks for traces along the rows and along the columns of an image: both must tell the same.
func resampled(im *image.Image) resampling {
	if im.Bits < 8 || im.Width < traceLeast || im.Height < traceLeast {
		return resampling{}
	}
	across, down := linesOf(im, false), linesOf(im, true)
	if few(across) {
		return resampling{}
	}
	if x, y := repeats(across), repeats(down); x > 0 && alike(x, y) {
		return resampling{factor: x, repeated: true}
	}
	if _, palette := im.Space.(*colour.Indexed); palette {
		return resampling{} // samples are no tones
	}
	if x, y := straightRuns(across), straightRuns(down); x > 0 && x == y {
		return resampling{factor: float64(x)}
	}
	x, y := period(across), period(down)
	if x == 0 || math.Abs(x-y) > 2.5/traceLeast || math.Abs(x-y)*float64(len(across[0])) > 2 && math.Abs(x-y)*float64(len(down[0])) > 2 {
		return resampling{}
	}
	// A line at frequency v comes of a factor of 1/v or 1/(1-v): the smaller is sure.
	return resampling{factor: 1 / (1 - x)}
}

func alike(a, b float64) bool { return math.Abs(a-b) <= .02*a }

// linesOf reads lines of an image spread over it, the middle of each, as levels of 0 to 255: rows, or columns. A pixel of
// three or four components counts by its lightness: JPEG keeps colours at half the resolution, lightness whole.
func linesOf(im *image.Image, columns bool) [][]int {
	length, count := im.Width, im.Height
	if columns {
		length, count = count, length
	}
	n := min(length, traceWindow)
	start := (length - n) / 2
	lines := make([][]int, 0, traceLines)
	for i := range min(count, traceLines) {
		at := i * count / min(count, traceLines)
		// Lines at even distances may all lie alike in a pattern.
		at = min(count-1, at+i%3)
		line := make([]int, n)
		for k := range line {
			x, y := start+k, at
			if columns {
				x, y = y, x
			}
			line[k] = level(im, x, y)
		}
		lines = append(lines, line)
	}
	return lines
}

func level(im *image.Image, x, y int) int {
	n := im.Components()
	value := func(c int) int { return im.Sample(x, y, c) >> (im.Bits - 8) }
	switch n {
	case 1:
		return value(0)
	case 3:
		return (77*value(0) + 150*value(1) + 29*value(2) + 128) >> 8
	case 4:
		return min(255, (77*value(0)+150*value(1)+29*value(2)+128)>>8+value(3))
	}
	sum := 0
	for c := range n {
		sum += value(c)
	}
	return sum / n
}

// few reports whether lines hold fewer than 16 levels: drawings and codes to be scanned are made of squares.
func few(lines [][]int) bool {
	var met [256]bool
	n := 0
	for _, l := range lines {
		for _, v := range l {
			if !met[v] {
				met[v], n = true, n+1
			}
		}
	}
	return n < 16
}

// repeats is the factor by which samples are repeated along lines, 0 for none: neighbours that are equal in every line
// stand in runs of a length or, for factors that are no whole numbers, of two lengths one apart.
func repeats(lines [][]int) float64 {
	var steps []int // where some line changes
	bold := 0
	for x := 1; x < len(lines[0]); x++ {
		most := 0
		for _, l := range lines {
			most = max(most, abs(l[x]-l[x-1]))
		}
		if most > 0 {
			steps = append(steps, x)
		}
		if most >= 8 {
			bold++
		}
	}
	// Blends have runs by themselves, of steps of a level or two.
	if len(steps) < 24 || 10*bold < 9*len(steps) {
		return 0
	}
	runs := map[int]int{}
	for i := 1; i < len(steps); i++ {
		runs[steps[i]-steps[i-1]]++
	}
	n := len(steps) - 1
	mean := float64(steps[n]-steps[0]) / float64(n)
	short := int(mean)
	if float64(short+1)-mean < 1e-9 {
		short++
	}
	if mean < 1.2 || runs[short]+runs[short+1] < n {
		return 0
	}
	return mean
}

// straightRuns is a whole factor of 2 to 8 of linear interpolation along lines, 0 for none: but at one of so many samples,
// or at two next to each other where the old samples lie between new ones, second differences are those of rounding.
func straightRuns(lines [][]int) int {
	size := meanBends(lines, traceDiff)
	for k := 2; k <= 8; k++ {
		mean := make([]float64, k)
		for i := range mean {
			sum, count := 0, 0
			for j := i; j < len(size); j += k {
				sum, count = sum+size[j], count+1
			}
			mean[i] = float64(sum) / float64(count*len(lines))
		}
		at := 0
		for i, v := range mean {
			if v > mean[at] {
				at = i
			}
		}
		beside := (at + 1) % k
		if before := (at + k - 1) % k; mean[before] > mean[beside] {
			beside = before
		}
		straight := mean[at] > 4
		for i, v := range mean {
			// Rounding of three samples to whole levels bends a straight line by less than a level on average.
			straight = straight && (i == at || i == beside && k > 2 || v < .8)
		}
		if straight {
			return k
		}
	}
	return 0
}

// meanBends sums the size of the second differences over lines, each up to a cap.
func meanBends(lines [][]int, most int) []int {
	sum := make([]int, len(lines[0])-2)
	for _, l := range lines {
		for i := range sum {
			sum[i] += min(most, abs(l[i]-2*l[i+1]+l[i+2]))
		}
	}
	return sum
}

// period is the frequency, in parts of the sampling rate, of the periodicity of second differences along lines; 0 = none.
func period(lines [][]int) float64 {
	size := meanBends(lines, traceDiff)
	signed := make([]int, len(size))
	total := 0
	for _, l := range lines {
		for i := range signed {
			signed[i] += max(-traceDiff, min(traceDiff, l[i]-2*l[i+1]+l[i+2]))
		}
	}
	for _, v := range size {
		total += v
	}
	n := len(size)
	if total < n*len(lines) { // less than a level: there is no detail
		return 0
	}
	power, own := spectrum(size), spectrum(signed)
	best, at := 0.0, 0
	for i := n / 16; i < len(power); i++ {
		if eighth(i, n) {
			continue
		}
		if r := standsOut(power, i); r > best {
			best, at = r, i
		}
	}
	// A texture or screen of this period has the line in the differences themselves.
	if best < traceRatio || standsOut(own, at) > best/2 || patterned(lines) {
		return 0
	}
	return float64(at) / float64(n)
}

// patterned reports whether the second differences of lines, each by itself, have a line in their spectrum, as those of
// screens and woven textures do wherever they begin: interpolation takes frequencies away and adds none.
func patterned(lines [][]int) bool {
	var power []float64
	bends := make([]int, len(lines[0])-2)
	for _, l := range lines {
		for i := range bends {
			bends[i] = max(-traceDiff, min(traceDiff, l[i]-2*l[i+1]+l[i+2]))
		}
		s := spectrum(bends)
		if power == nil {
			power = make([]float64, len(s))
		}
		for i, v := range s {
			power[i] += float64(v * v)
		}
	}
	for i := 8; i < len(power); i++ {
		if standsOut(power, i) > traceRatio {
			return true
		}
	}
	return false
}

// eighth reports whether frequency i of n lies by a multiple of an eighth, where the blocks of JPEG show, or at a half,
// where the colour filters of cameras do.
func eighth(i, n int) bool {
	r := (8*i + n/2) / n
	return abs(8*i-r*n) <= 8*3
}

// standsOut is how far a line stands out of the median of the spectrum within 24 frequencies of it.
func standsOut(s []float64, i int) float64 {
	part := slices.Clone(s[max(1, i-24):min(len(s), i+25)])
	slices.Sort(part)
	if m := part[len(part)/2]; m > 0 {
		return s[i] / m
	}
	return 0
}

// spectrum is the size of the discrete Fourier transform of values without their mean, up to half the sampling rate.
func spectrum(values []int) []float64 {
	n := len(values)
	cosine := make([]int, n)
	for i := range cosine {
		cosine[i] = int(math.Round(4096 * math.Cos(2*math.Pi*float64(i)/float64(n))))
	}
	sine := make([]int, n)
	for i := range sine {
		sine[i] = int(math.Round(4096 * math.Sin(2*math.Pi*float64(i)/float64(n))))
	}
	sum := 0
	for _, v := range values {
		sum += v
	}
	out := make([]float64, n/2)
	for k := 1; k < len(out); k++ {
		re, im, at := 0, 0, 0
		for _, v := range values {
			re += (v*n - sum) / 16 * cosine[at]
			im += (v*n - sum) / 16 * sine[at]
			if at += k; at >= n {
				at -= n
			}
		}
		out[k] = math.Sqrt(float64(float64(re)*float64(re)) + float64(float64(im)*float64(im)))
	}
	return out
}

func abs(v int) int { return max(v, -v) }
