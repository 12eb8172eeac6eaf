package pdf

import (
	"io"
	"sync"
)

// source gives byte ranges of the file. Of small files the blocks that were asked for are kept; of large ones nothing is, so
// that a photo book of gigabytes does not sit in memory. Data of streams is never kept here.
type source struct {
	r     io.ReaderAt
	size  int64
	small bool

	mu     sync.Mutex
	blocks [][]byte // of a small file, nil where it was not read yet; short where reading fails
}

// sourceBlock is what is read of a small file at once: a page may need little of its file.
const sourceBlock = 16 << 10

// newSource reads r; files up to limit are small. The file may end before size.
func newSource(r io.ReaderAt, size, limit int64) (*source, error) {
	s := &source{r: r, size: size, small: size <= limit}
	if !s.small {
		return s, nil
	}
	var last [1]byte
	if n, err := r.ReadAt(last[:], max(size-1, 0)); n == 0 {
		if err == io.EOF {
			s.size, err = io.Copy(io.Discard, io.NewSectionReader(r, 0, size))
		}
		if err != nil {
			return nil, err
		}
	}
	s.blocks = make([][]byte, (s.size+sourceBlock-1)/sourceBlock)
	return s, nil
}

// bytes gives up to n bytes from off; fewer at the end of the file or when reading fails. The
// result must not be changed.
func (s *source) bytes(off, n int64) []byte {
	if off < 0 || off >= s.size || n <= 0 {
		return nil
	}
	n = min(n, s.size-off)
	if !s.small || n > sourceBlock {
		buf := make([]byte, n)
		m, _ := s.r.ReadAt(buf, off)
		return buf[:m:m]
	}
	first := s.block(off / sourceBlock)
	first = first[min(off%sourceBlock, int64(len(first))):]
	if m := int64(len(first)); m >= n || off/sourceBlock == (off+n-1)/sourceBlock {
		m = min(m, n)
		return first[:m:m]
	}
	buf := append(make([]byte, 0, n), first...)
	if (off+int64(len(buf)))%sourceBlock != 0 { // reading failed before the next block
		return buf
	}
	next := s.block(off/sourceBlock + 1)
	return append(buf, next[:min(n-int64(len(buf)), int64(len(next)))]...)
}

func (s *source) block(i int64) []byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.blocks[i] == nil {
		buf := make([]byte, min(sourceBlock, s.size-i*sourceBlock))
		n, _ := s.r.ReadAt(buf, i*sourceBlock)
		s.blocks[i] = buf[:n:n]
	}
	return s.blocks[i]
}

// reader reads n bytes from off.
func (s *source) reader(off, n int64) io.Reader { return io.NewSectionReader(s.r, off, n) }

// windows calls try with growing windows from off until it says it is content or the window reaches
// the end of the file.
func (s *source) windows(off int64, try func(b []byte, last bool) (done bool)) {
	if off < 0 || off >= s.size {
		return
	}
	n := int64(4 << 10)
	if rest := sourceBlock - off%sourceBlock; s.small && rest > n/4 {
		n = rest // no copy
	}
	for ; ; n *= 8 {
		last := off+n >= s.size
		if try(s.bytes(off, n), last) || last {
			return
		}
	}
}
