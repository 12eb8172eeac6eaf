package jpx

// The filters of the inverse wavelet (Annex F), along a row and down columns. A row comes as its low
// half and its high half; columns come interleaved. odd is that of the first sample on the reference grid.

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
