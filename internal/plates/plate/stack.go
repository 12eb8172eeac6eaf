package plate

// Stack holds the plates of a page in memory. As a Sink it collects what is painted. A nil plane is
// a plate without toner.
type Stack struct {
	Header
	planes [][]byte
}

// Begin implements Sink.
func (s *Stack) Begin(h Header) error { panic("unwritten") }

// Band implements Sink.
func (s *Stack) Band(b *Band) error { panic("unwritten") }

// End implements Sink.
func (s *Stack) End() error { panic("unwritten") }

// Plane returns plate i's Height x Width bytes, or nil when it has no toner.
func (s *Stack) Plane(i int) []byte { return s.planes[i] }

// At returns the tint of plate i at a pixel; 0 outside.
func (s *Stack) At(i, x, y int) byte { panic("unwritten") }

// Crop returns a copy of x0 <= x < x1, y0 <= y < y1, clipped to the stack.
func (s *Stack) Crop(x0, y0, x1, y1 int) *Stack { panic("unwritten") }

// Aborter is a Sink that has something to throw away when painting fails before End.
type Aborter interface{ Abort() }

// Abort tells a sink that no more bands come. It does nothing after a successful End, so it may be deferred.
func Abort(s Sink) {
	if a, ok := s.(Aborter); ok {
		a.Abort()
	}
}

// Tee passes everything to several sinks.
func Tee(sinks ...Sink) Sink { panic("unwritten") }

// TextGrid draws tiny plates as digits 0 to 9, one block per colourant with toner, for tests.
func TextGrid(s *Stack) string { panic("unwritten") }

// HexGrid is TextGrid with two hexadecimal digits a pixel.
func HexGrid(s *Stack) string { panic("unwritten") }
