package pdf

import (
	"bytes"
	"io"
)

// source gives byte ranges of the file. Small files are held whole; of large ones only windows are
// read, so that a photo book of gigabytes does not sit in memory.
type source struct {
	r    io.ReaderAt
	size int64
	mem  []byte // the whole file, nil when it is large
}

func newSource(r io.ReaderAt, size, inMemory int64) (*source, error) {
	s := &source{r: r, size: size}
	if size > inMemory {
		return s, nil
	}
	buf := make([]byte, size)
	n, err := r.ReadAt(buf, 0)
	if err != nil && err != io.EOF {
		return nil, err
	}
	s.mem, s.size = buf[:n:n], int64(n)
	return s, nil
}

// bytes gives up to n bytes from off; fewer at the end of the file or when reading fails. The
// result must not be changed.
func (s *source) bytes(off, n int64) []byte {
	if off < 0 || off >= s.size || n <= 0 {
		return nil
	}
	n = min(n, s.size-off)
	if s.mem != nil {
		return s.mem[off : off+n : off+n]
	}
	buf := make([]byte, n)
	m, _ := s.r.ReadAt(buf, off)
	return buf[:m:m]
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
	if s.mem != nil {
		try(s.mem[off:], true)
		return
	}
	for n := int64(4 << 10); ; n *= 8 {
		last := off+n >= s.size
		if try(s.bytes(off, n), last) || last {
			return
		}
	}
}
