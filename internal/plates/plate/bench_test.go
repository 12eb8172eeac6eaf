package plate

import (
	"path/filepath"
	"testing"
)

// BenchmarkSinks feeds 8 plates, one noisy, two flat in parts, the rest untouched.
func BenchmarkSinks(b *testing.B) {
	s := NewStack(testHeader(2000, 2000, "a", "b", "c", "d"))
	noisy := randomStack(2000, 2000, 1)
	s.SetPlane(1, noisy.Plane(1))
	s.SetPlane(4, noisy.Plane(4))
	s.SetPlane(5, noisy.Plane(4))
	for name, make := range map[string]func(dir string) Sink{
		"stack":   func(string) Sink { return &Stack{} },
		"stats":   func(string) Sink { return &Stats{AreaMM2: 25} },
		"png":     func(dir string) Sink { return &PNGWriter{Dir: dir} },
		"tiff":    func(dir string) Sink { return &TIFFWriter{Path: filepath.Join(dir, "a.tif")} },
		"deflate": func(dir string) Sink { return &TIFFWriter{Path: filepath.Join(dir, "a.tif"), Compress: true} },
	} {
		b.Run(name, func(b *testing.B) {
			dir := b.TempDir()
			b.SetBytes(int64(s.Width * s.Height))
			for b.Loop() {
				if err := s.Replay(make(dir), 128); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
