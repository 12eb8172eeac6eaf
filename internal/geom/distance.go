package geom

import "math"

// Distance returns for each pixel of a w x h mask, row by row, the Euclidean distance in pixels from its
// centre to the centre of the nearest pixel where mask is not 0: 0 on the set pixels themselves, +Inf
// everywhere when none is set. The squares of the distances are exact integers.
//
// It works in two passes: down and up the columns for the distance within the column, then along
// each row over the lower envelope of the parabolas (x-i)^2 + column(i)^2. Time is proportional to w*h.
func Distance(mask []byte, w, h int) []float32 {
	out := make([]float32, w*h)
	if w == 0 || h == 0 {
		return out
	}
	// Column distances; none stands for no set pixel in the column.
	const none = math.MaxInt32
	column := make([]int32, w*h)
	for y := range h {
		row, m := column[y*w:(y+1)*w], mask[y*w:(y+1)*w]
		for x := range row {
			switch {
			case m[x] != 0:
				row[x] = 0
			case y > 0 && column[(y-1)*w+x] != none:
				row[x] = column[(y-1)*w+x] + 1
			default:
				row[x] = none
			}
		}
	}
	for y := h - 2; y >= 0; y-- {
		row, below := column[y*w:(y+1)*w], column[(y+1)*w:(y+2)*w]
		for x := range row {
			if below[x] < row[x] { // below none at most, so +1 does not overflow
				row[x] = below[x] + 1
			}
		}
	}

	// The envelope of a row: parabola at[k] is lowest from from[k] on.
	at, from := make([]int, w), make([]int, w)
	for y := range h {
		row := column[y*w : (y+1)*w]
		n := 0
		for x, g := range row {
			if g == none {
				continue
			}
			start := 0
			for n > 0 {
				// The first column where the new parabola is lower than the last one.
				start = crossing(at[n-1], int64(row[at[n-1]]), x, int64(g))
				if start > from[n-1] {
					break
				}
				n--
				start = 0
			}
			if start < w {
				at[n], from[n] = x, start
				n++
			}
		}
		dst := out[y*w : (y+1)*w]
		if n == 0 {
			for x := range dst {
				dst[x] = float32(math.Inf(1))
			}
			continue
		}
		k := 0
		for x := range dst {
			for k+1 < n && from[k+1] <= x {
				k++
			}
			d, g := int64(x-at[k]), int64(row[at[k]])
			dst[x] = float32(math.Sqrt(float64(d*d + g*g)))
		}
	}
	return out
}

// crossing returns the least x >= 0 with (x-j)^2 + b^2 < (x-i)^2 + a^2, where i < j.
func crossing(i int, a int64, j int, b int64) int {
	num := int64(j)*int64(j) - int64(i)*int64(i) + b*b - a*a
	if num < 0 {
		return 0
	}
	return int(num/(2*int64(j-i))) + 1
}
