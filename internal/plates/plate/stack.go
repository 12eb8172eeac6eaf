package plate

import "fmt"

// Stack holds the plates of a page in memory. As a Sink it collects what is painted; the zero value
// is ready for that.
type Stack struct {
	Header
	progress progress
	planes   [][]byte
}

// NewStack returns plates without toner.
func NewStack(h Header) *Stack { return &Stack{Header: h, planes: make([][]byte, h.Set.Len())} }

// Begin implements Sink; what the stack held is dropped.
func (s *Stack) Begin(h Header) error {
	if err := s.progress.begin(h); err != nil {
		return err
	}
	s.Header, s.planes = h, make([][]byte, h.Set.Len())
	return nil
}

// Band implements Sink.
func (s *Stack) Band(b *Band) error {
	if err := s.progress.band(b); err != nil {
		return err
	}
	for i, plane := range b.Planes {
		if plane != nil {
			copy(s.touch(i)[b.Y0*s.Width:], plane)
		}
	}
	return nil
}

// End implements Sink.
func (s *Stack) End() error { return s.progress.end() }

// touch returns plate i, made without toner where there was none.
func (s *Stack) touch(i int) []byte {
	if s.planes[i] == nil {
		s.planes[i] = make([]byte, s.Width*s.Height)
	}
	return s.planes[i]
}

// Plane returns plate i's Height x Width bytes, or nil when it is untouched.
func (s *Stack) Plane(i int) []byte { return s.planes[i] }

// SetPlane replaces plate i by Height x Width bytes, which the stack keeps; nil takes all toner off.
func (s *Stack) SetPlane(i int, plane []byte) {
	if plane != nil && len(plane) != s.Width*s.Height {
		panic(fmt.Sprintf("plate: %d bytes for %d x %d pixels", len(plane), s.Width, s.Height))
	}
	s.planes[i] = plane
}

// Lookup returns the plate of a colourant, nil when it is untouched; ok is false when there is no such colourant.
func (s *Stack) Lookup(name string) (plane []byte, ok bool) {
	i, ok := s.Set.Lookup(name)
	if !ok {
		return nil, false
	}
	return s.planes[i], true
}

// At returns the tint of plate i at a pixel; 0 outside the page.
func (s *Stack) At(i, x, y int) byte {
	if s.planes[i] == nil || x < 0 || y < 0 || x >= s.Width || y >= s.Height {
		return 0
	}
	return s.planes[i][y*s.Width+x]
}

// Crop returns a copy of the pixels x0 <= x < x1, y0 <= y < y1 that lie on the page. It has no
// pixels when none does.
func (s *Stack) Crop(x0, y0, x1, y1 int) *Stack {
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, s.Width), min(y1, s.Height)
	h := s.Header
	h.Width, h.Height = max(x1-x0, 0), max(y1-y0, 0)
	if s.DPI > 0 {
		h.OriginX += float64(x0) * 72 / s.DPI
		h.OriginY += float64(y0) * 72 / s.DPI
	}
	out := NewStack(h)
	for i, plane := range s.planes {
		if plane == nil || h.Width*h.Height == 0 {
			continue
		}
		dst := make([]byte, 0, h.Width*h.Height)
		for y := y0; y < y1; y++ {
			dst = append(dst, plane[y*s.Width+x0:y*s.Width+x1]...)
		}
		out.planes[i] = dst
	}
	return out
}

// Replay sends the stack to a sink in bands of at most rows rows. Bands of a plate that are blank
// are sent as untouched, as a painter does.
func (s *Stack) Replay(sink Sink, rows int) error {
	if err := sink.Begin(s.Header); err != nil {
		return err
	}
	for y := 0; y < s.Height; y += rows {
		b := Band{Y0: y, Rows: min(rows, s.Height-y), Planes: make([][]byte, len(s.planes))}
		for i, plane := range s.planes {
			if plane == nil {
				continue
			}
			if part := plane[y*s.Width : (y+b.Rows)*s.Width]; !blank(part) {
				b.Planes[i] = part
			}
		}
		if err := sink.Band(&b); err != nil {
			return err
		}
	}
	return sink.End()
}

// blank reports whether all bytes are 0.
func blank(b []byte) bool {
	for len(b) >= 8 {
		if b[0]|b[1]|b[2]|b[3]|b[4]|b[5]|b[6]|b[7] != 0 {
			return false
		}
		b = b[8:]
	}
	for _, v := range b {
		if v != 0 {
			return false
		}
	}
	return true
}

// Downscale returns the stack with n x n pixels averaged into one, rounded to nearest (halves up). A
// last column or row of fewer pixels is the average of those there are.
func (s *Stack) Downscale(n int) *Stack {
	h := s.Header
	h.Width, h.Height, h.DPI = (s.Width+n-1)/n, (s.Height+n-1)/n, s.DPI/float64(n)
	out := NewStack(h)
	for i, plane := range s.planes {
		if plane == nil {
			continue
		}
		dst := make([]byte, 0, h.Width*h.Height)
		for y := 0; y < s.Height; y += n {
			for x := 0; x < s.Width; x += n {
				xn, yn := min(n, s.Width-x), min(n, s.Height-y)
				sum := 0
				for dy := range yn {
					row := (y+dy)*s.Width + x
					for _, v := range plane[row : row+xn] {
						sum += int(v)
					}
				}
				dst = append(dst, byte((sum+xn*yn/2)/(xn*yn)))
			}
		}
		out.planes[i] = dst
	}
	return out
}
