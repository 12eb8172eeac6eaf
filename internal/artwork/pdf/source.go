package pdf

import (
	"bytes"
	"io"
	"sync"
)

// source gives byte ranges of the file. Of small files what was read is kept; of large ones only windows are
// read, so that a photo book of gigabytes does not sit in memory.
type source struct {
	r    io.ReaderAt
	size int64
	mem  []byte // room for the whole file, nil when it is large

	mu   sync.Mutex
	have []bool // by block of mem: whether it was read
	end  int64  // of what can be read: size, until reading fails
}

// sourceBlock is what is read of a small file at once: room that is not read into takes no memory, and a page may need little
// of its file.
const sourceBlock = 16 << 10

func newSource(r io.ReaderAt, size, inMemory int64) (*source, error) {
	s := &source{r: r, size: size}
	if size > inMemory {
		return s, nil
	}
	// The last byte tells that the file is as long as said.
	var last [1]byte
	if n, err := r.ReadAt(last[:], max(size-1, 0)); n == 0 && size > 0 {
		if err != io.EOF {
			return nil, err
		}
		return readWhole(r, size)
	}
	s.mem, s.have, s.end = make([]byte, size), make([]bool, (size+sourceBlock-1)/sourceBlock), size
	return s, nil
}

// readWhole is for a file that ends before size.
func readWhole(r io.ReaderAt, size int64) (*source, error) {
	buf := make([]byte, size)
	n, err := r.ReadAt(buf, 0)
	if err != nil && err != io.EOF {
		return nil, err
	}
	return &source{r: r, size: int64(n), mem: buf[:n:n], end: int64(n)}, nil
}

// bytes gives up to n bytes from off; fewer at the end of the file or when reading fails. The
// result must not be changed.
func (s *source) bytes(off, n int64) []byte {
	if off < 0 || off >= s.size || n <= 0 {
		return nil
	}
	n = min(n, s.size-off)
	if s.mem != nil {
		end := s.fill(off, off+n)
		return s.mem[off:end:end]
	}
	buf := make([]byte, n)
	m, _ := s.r.ReadAt(buf, off)
	return buf[:m:m]
}

// fill reads what is missing of mem[off:end], and tells where what could be read ends.
func (s *source) fill(off, end int64) int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	for b := off / sourceBlock; b < int64(len(s.have)) && b*sourceBlock < min(end, s.end); b++ {
		if s.have[b] {
			continue
		}
		from, to := b*sourceBlock, min((b+1)*sourceBlock, s.size)
		for s.have[b] = true; to < end && !s.have[to/sourceBlock]; to = min(to+sourceBlock, s.size) {
			s.have[to/sourceBlock] = true
		}
		if n, _ := s.r.ReadAt(s.mem[from:to:to], from); int64(n) < to-from {
			s.end = from + int64(n)
		}
	}
	return max(off, min(end, s.end))
}

// reader reads n bytes from off.
func (s *source) reader(off, n int64) io.Reader {
	if s.mem != nil {
		return bytes.NewReader(s.bytes(off, n))
	}
	return io.NewSectionReader(s.r, off, n)
}

// windows calls try with growing windows from off until it says it is content or the window reaches
// the end of the file.
func (s *source) windows(off int64, try func(b []byte, last bool) (done bool)) {
	if off < 0 || off >= s.size {
		return
	}
	first := int64(4 << 10)
	if s.mem != nil { // as far as a block goes costs nothing more
		first = (off+first+sourceBlock-1)/sourceBlock*sourceBlock - off
	}
	for n := first; ; n *= 8 {
		last := off+n >= s.size
		if try(s.bytes(off, n), last) || last {
			return
		}
	}
}
