package pdf

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"sync"
	"testing"
)

// watched notes what is read of a file, and fails behind end.
type watched struct {
	data []byte
	end  int64
	mu   sync.Mutex
	read int64
}

func (w *watched) ReadAt(b []byte, off int64) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if off >= w.end {
		return 0, errors.New("a bad sector")
	}
	n := copy(b, w.data[off:w.end])
	w.read += int64(n)
	if n < len(b) {
		return n, errors.New("a bad sector")
	}
	return n, nil
}

func noise(n int) []byte {
	data := make([]byte, n)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range data {
		data[i] = byte(r.Uint32())
	}
	return data
}

// Whatever ranges are asked for, in any order and by many at once, they are those of the file, and no block is read twice.
func TestSmallFileIsReadWhereItIsAskedFor(t *testing.T) {
	data := noise(10*sourceBlock + 77)
	w := &watched{data: data, end: int64(len(data))}
	s, err := newSource(w, int64(len(data)), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	w.read = 0
	if got := s.bytes(3*sourceBlock-5, 10); !bytes.Equal(got, data[3*sourceBlock-5:][:10]) || w.read != 2*sourceBlock {
		t.Errorf("ten bytes are right: %v, for which %d were read", bytes.Equal(got, data[3*sourceBlock-5:][:10]), w.read)
	}
	var wg sync.WaitGroup
	for g := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(3, uint64(g)))
			for range 300 {
				off, n := r.Int64N(int64(len(data))), r.Int64N(sourceBlock+1)
				if got, want := s.bytes(off, n), data[off:min(off+n, int64(len(data)))]; !bytes.Equal(got, want) {
					t.Errorf("%d bytes from %d are others", n, off)
				}
			}
		})
	}
	wg.Wait()
	if w.read != s.size {
		t.Errorf("%d bytes were read of %d", w.read, s.size)
	}
	if got := s.bytes(5, 3*sourceBlock); !bytes.Equal(got, data[5:][:3*sourceBlock]) {
		t.Error("many blocks at once are others")
	}
}

func TestSmallFileIsReadAsFarAsItGoes(t *testing.T) {
	data := noise(5 * sourceBlock)
	const end = 2*sourceBlock + 100
	s, err := newSource(bytes.NewReader(data[:end]), int64(len(data)), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.bytes(end-50, 100); s.size != end || !bytes.Equal(got, data[end-50:end]) {
		t.Errorf("cut short: %d bytes of a file of %d", len(got), s.size)
	}
	if _, err := newSource(&watched{data: data, end: end}, int64(len(data)), 1<<20); err == nil {
		t.Error("a file that cannot be read to its end was opened")
	}
	// A file that fails after it was opened.
	w := &watched{data: data, end: int64(len(data))}
	if s, err = newSource(w, int64(len(data)), 1<<20); err != nil {
		t.Fatal(err)
	}
	w.end = end
	if got := s.bytes(0, s.size); !bytes.Equal(got, data[:end]) {
		t.Errorf("%d bytes of %d", len(got), end)
	}
	if got := s.bytes(3*sourceBlock, 9); len(got) != 0 {
		t.Errorf("%d bytes behind what can be read", len(got))
	}
	if got := s.bytes(end-9, 50); !bytes.Equal(got, data[end-9:end]) {
		t.Errorf("%d bytes before the end", len(got))
	}
}
