package look

import (
	"image"
	"math/rand/v2"
	"syscall"
	"testing"
	"time"

	"laydown/internal/colourant"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// a4 is a page of 210 x 297 mm at 300 dpi.
const a4Width, a4Height = 2480, 3508

func benchmarkPlates(b *testing.B, m *Model, planes [][]byte) {
	b.Helper()
	h := plate.Header{Width: a4Width, Height: a4Height, DPI: 300}
	b.SetBytes(a4Width * a4Height)
	for b.Loop() {
		if _, err := m.Picture(h, planes, 2); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLookDemo is a page of flat areas, vignettes and type: nine pixels in ten repeat their neighbour.
func BenchmarkLookDemo(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	planes := make([][]byte, 7)
	for i := range planes {
		planes[i] = make([]byte, a4Width*a4Height)
		for y := range a4Height {
			row := planes[i][y*a4Width:][:a4Width]
			if y%16 != 0 {
				copy(row, planes[i][(y-1)*a4Width:])
				continue
			}
			v := byte(0)
			for x := range row {
				if r.IntN(120) == 0 {
					v = [...]byte{0, 0, 255, byte(r.IntN(256))}[r.IntN(4)]
				}
				if i > 3 && x > a4Width/2 && v != 0 && v != 255 {
					v++ // a vignette
				}
				row[x] = v
			}
		}
	}
	benchmarkPlates(b, testModelB(b), planes)
}

// BenchmarkLookPhoto is a photo in process toners over solid white on black board: all four change from pixel to pixel.
func BenchmarkLookPhoto(b *testing.B) { benchmarkPlates(b, testModelB(b), photoPlates(4)) }

func photoPlates(partial int) [][]byte {
	r := rand.New(rand.NewPCG(2, 2))
	planes := make([][]byte, 7)
	planes[0] = make([]byte, a4Width*a4Height)
	for i := range planes[0] {
		planes[0][i] = 255
	}
	for i := 3; i < 3+partial; i++ {
		planes[i] = make([]byte, a4Width*a4Height)
		v := 128.
		for x := range planes[i] {
			// Soft slopes with the grain of a photograph.
			v += r.NormFloat64() * 3
			v += (128 - v) / 400
			planes[i][x] = byte(min(max(v, 1), 254))
		}
	}
	return planes
}

// BenchmarkSurfacePhoto is what relighting asks for on such a page.
func BenchmarkSurfacePhoto(b *testing.B) {
	m := testModelB(b)
	planes := photoPlates(4)
	e := newEvaluator(m)
	const n = 1 << 20
	b.SetBytes(n)
	for b.Loop() {
		for x := range n {
			var k key
			for i, p := range planes {
				if p != nil {
					k.set(i, p[x])
				}
			}
			e.surface(k)
		}
	}
}

// BenchmarkNewModel is what a page costs before its first pixel.
func BenchmarkNewModel(b *testing.B) {
	p, err := press.FindPress("five-station")
	if err != nil {
		b.Fatal(err)
	}
	var layers []Layer
	for i := range p.Toners {
		layers = append(layers, Layer{&p.Toners[i], i})
	}
	s, _ := press.FindStock("black-board")
	for b.Loop() {
		m, err := NewModel(s, press.Front, layers)
		if err != nil {
			b.Fatal(err)
		}
		m.SRGB([]uint8{9, 9, 9, 9, 9, 9, 9, 9, 9})
	}
}

// BenchmarkMapTile codes tiles of a photograph, whose pixels all differ, and of blank stock.
func BenchmarkMapTile(b *testing.B) {
	c := NewTileCoder(testModelB(b))
	for name, planes := range map[string][][]byte{"photo": photoPlates(4), "blank": make([][]byte, 7)} {
		b.Run(name, func(b *testing.B) {
			st := plate.NewStack(plate.Header{Width: a4Width, Height: a4Height, DPI: 300, Set: colourant.NewSet(colourant.Colourant{Name: "a"}, colourant.Colourant{Name: "b"}, colourant.Colourant{Name: "c"})})
			for i, p := range planes {
				st.SetPlane(i, p)
			}
			i := 0
			before := processorTime()
			defer func() {
				b.ReportMetric(1000*(processorTime()-before).Seconds()/float64(i), "cpu-ms/tile")
			}()
			for b.Loop() {
				at := image.Pt(i%9*256, i/9%13*256)
				if _, err := c.Tile(st, image.Rectangle{at, at.Add(image.Pt(256, 256))}, nil, image.Point{}); err != nil {
					b.Fatal(err)
				}
				i++
			}
		})
	}
}

// processorTime is what the process has used, all cores together: the machine may be busy with other things.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
