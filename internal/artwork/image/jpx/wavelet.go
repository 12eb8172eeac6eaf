package jpx

// The inverse wavelet (Annex F). A component's buffer holds the bands of all resolutions: the low
// bands of each at the top left. Each step interleaves the four bands of a resolution into the next.

// Lifting constants of the 9-7 filter (Table F.4).
const (
	lift97a = -1.586134342059924
	lift97b = -0.052980118572961
	lift97c = 0.882911075530934
	lift97d = 0.443506852043971
	lift97k = 1.230174104914001
)

// strip is how many columns are turned back at a time: they share cache lines.
const strip = 32

// inverse turns the coefficients of tc into samples.
func (tc *tileComponent) inverse(workers int) {
	for r := 1; r < len(tc.res); r++ {
		if tc.coding.reversible {
			inverseLevel(tc.ints, tc.x1-tc.x0, &tc.res[r], workers, row53, columns53)
		} else {
			inverseLevel(tc.floats, tc.x1-tc.x0, &tc.res[r], workers, row97, columns97)
		}
	}
}

// inverseLevel makes resolution res out of its bands: first along rows, then down columns (F.3.2).
func inverseLevel[T int32 | float32](buf []T, stride int, res *resolution, workers int,
	row func(dst, src []T, odd int), columns func(a []T, n, odd int)) {
	w, h := res.x1-res.x0, res.y1-res.y0
	if w <= 0 || h <= 0 {
		return
	}
	const rows = 16
	scratch := make([][]T, workers)
	parallel(ceilDiv(h, rows), workers, func(worker, i int) {
		if len(scratch[worker]) < w {
			scratch[worker] = make([]T, w)
		}
		tmp := scratch[worker][:w]
		for y := i * rows; y < min(h, (i+1)*rows); y++ {
			line := buf[y*stride : y*stride+w]
			row(tmp, line, res.x0&1)
			copy(line, tmp)
		}
	})
	low := (h + 1 - res.y0&1) / 2
	clear(scratch)
	parallel(ceilDiv(w, strip), workers, func(worker, i int) {
		if scratch[worker] == nil {
			scratch[worker] = make([]T, strip*h)
		}
		tmp := scratch[worker]
		x0 := i * strip
		n := min(strip, w-x0)
		for y := range h {
			// Low rows come first; they are the even ones of the reference grid.
			to := 2*y + res.y0&1
			if y >= low {
				to = 2*(y-low) + 1 - res.y0&1
			}
			copy(tmp[to*strip:to*strip+n], buf[y*stride+x0:y*stride+x0+n])
		}
		columns(tmp[:strip*h], h, res.y0&1)
		for y := range h {
			copy(buf[y*stride+x0:y*stride+x0+n], tmp[y*strip:y*strip+n])
		}
	})
}

// interleave puts the low half of src at the even, the high half at the odd places of the reference grid.
func interleave[T int32 | float32](dst, src []T, odd int) {
	low := (len(src) + 1 - odd) / 2
	for i, v := range src[:low] {
		dst[2*i+odd] = v
	}
	for i, v := range src[low:] {
		dst[2*i+1-odd] = v
	}
}

// mirror is the index that stands for i outside 0 <= i < n, which is more than 1 (F.3.7).
func mirror(i, n int) int {
	if i < 0 {
		return -i
	}
	if i >= n {
		return 2*(n-1) - i
	}
	return i
}

func row53(dst, src []int32, odd int) {
	interleave(dst, src, odd)
	n := len(dst)
	if n == 1 {
		if odd == 1 {
			dst[0] >>= 1
		}
		return
	}
	for i := odd; i < n; i += 2 {
		if i > 0 && i+1 < n {
			dst[i] -= (dst[i-1] + dst[i+1] + 2) >> 2
		} else {
			dst[i] -= (dst[mirror(i-1, n)] + dst[mirror(i+1, n)] + 2) >> 2
		}
	}
	for i := 1 - odd; i < n; i += 2 {
		if i > 0 && i+1 < n {
			dst[i] += (dst[i-1] + dst[i+1]) >> 1
		} else {
			dst[i] += (dst[mirror(i-1, n)] + dst[mirror(i+1, n)]) >> 1
		}
	}
}

func columns53(a []int32, n, odd int) {
	if n == 1 {
		if odd == 1 {
			for i := range a {
				a[i] >>= 1
			}
		}
		return
	}
	line := func(i int) *[strip]int32 { return (*[strip]int32)(a[mirror(i, n)*strip:]) }
	for i := odd; i < n; i += 2 {
		d, p, q := line(i), line(i-1), line(i+1)
		for x := range d {
			d[x] -= (p[x] + q[x] + 2) >> 2
		}
	}
	for i := 1 - odd; i < n; i += 2 {
		d, p, q := line(i), line(i-1), line(i+1)
		for x := range d {
			d[x] += (p[x] + q[x]) >> 1
		}
	}
}

func row97(dst, src []float32, odd int) {
	interleave(dst, src, odd)
	n := len(dst)
	if n == 1 {
		if odd == 1 {
			dst[0] *= 0.5
		}
		return
	}
	for i := odd; i < n; i += 2 {
		dst[i] *= lift97k
	}
	for i := 1 - odd; i < n; i += 2 {
		dst[i] *= 1 / lift97k
	}
	lift97(dst, odd, lift97d)
	lift97(dst, 1-odd, lift97c)
	lift97(dst, odd, lift97b)
	lift97(dst, 1-odd, lift97a)
}

// lift97 takes k times both neighbours from every second sample.
func lift97(a []float32, from int, k float32) {
	n := len(a)
	i := from
	if i == 0 {
		a[0] -= float32(k * float32(a[1]+a[1]))
		i = 2
	}
	for ; i+1 < n; i += 2 {
		a[i] -= float32(k * float32(a[i-1]+a[i+1]))
	}
	if i < n {
		a[i] -= float32(k * float32(a[i-1]+a[i-1]))
	}
}

func columns97(a []float32, n, odd int) {
	if n == 1 {
		if odd == 1 {
			for i := range a {
				a[i] *= 0.5
			}
		}
		return
	}
	line := func(i int) *[strip]float32 { return (*[strip]float32)(a[mirror(i, n)*strip:]) }
	for i := range n {
		k := float32(lift97k)
		if i&1 != odd {
			k = 1 / lift97k
		}
		d := line(i)
		for x := range d {
			d[x] *= k
		}
	}
	for step, k := range [4]float32{lift97d, lift97c, lift97b, lift97a} {
		from := odd
		if step&1 == 1 {
			from = 1 - odd
		}
		for i := from; i < n; i += 2 {
			d, p, q := line(i), line(i-1), line(i+1)
			for x := range d {
				d[x] -= float32(k * float32(p[x]+q[x]))
			}
		}
	}
}
