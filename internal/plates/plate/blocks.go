package plate

import "sync"

// blocks cuts bands anew into blocks of a fixed number of rows, so that what is written does not
// depend on how the painter cut its bands.
type blocks struct {
	header Header
	rows   int // of a block; the last one may be lower
	// emit takes a block: nil planes have no toner. It may change the planes but not keep them.
	emit func(y0, rows int, planes [][]byte) error

	planes  [][]byte
	touched []bool
	y0      int // of the block at hand
	filled  int // rows in it
}

// blockBytes is the size of a plane's block that files are written in.
const blockBytes = 1 << 20

func newBlocks(h Header, size int, emit func(y0, rows int, planes [][]byte) error) *blocks {
	n := h.Set.Len()
	return &blocks{header: h, rows: min(max(size/h.Width, 1), h.Height), emit: emit, planes: make([][]byte, n), touched: make([]bool, n)}
}

func (k *blocks) band(b *Band) error {
	w := k.header.Width
	for y := 0; y < b.Rows; {
		height := min(k.rows, k.header.Height-k.y0)
		n := min(b.Rows-y, height-k.filled)
		for i, plane := range b.Planes {
			if plane == nil {
				continue
			}
			if k.planes[i] == nil {
				k.planes[i] = make([]byte, k.rows*w)
			}
			copy(k.planes[i][k.filled*w:], plane[y*w:(y+n)*w])
			k.touched[i] = true
		}
		y += n
		k.filled += n
		if k.filled == height {
			if err := k.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// flush hands the block on and empties it.
func (k *blocks) flush() error {
	planes := make([][]byte, len(k.planes))
	for i, plane := range k.planes {
		if k.touched[i] && !blank(plane[:k.filled*k.header.Width]) {
			planes[i] = plane[:k.filled*k.header.Width]
		}
	}
	if err := k.emit(k.y0, k.filled, planes); err != nil {
		return err
	}
	for i := range k.planes {
		if k.touched[i] {
			clear(k.planes[i])
			k.touched[i] = false
		}
	}
	k.y0 += k.filled
	k.filled = 0
	return nil
}

// eachPlate calls do for 0 <= i < n, some at the same time.
func eachPlate(n int, do func(i int)) {
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { do(i) })
	}
	wg.Wait()
}
