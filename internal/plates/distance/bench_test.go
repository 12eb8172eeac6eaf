package distance

import (
	"fmt"
	"testing"

	"laydown/internal/geom"
)

// page draws an A4 page of strokes as text has them: 60 lines of 80 letters.
func page(dpi float64) Plane {
	w, h := int(210/25.4*dpi), int(297/25.4*dpi)
	path := &geom.Path{}
	mm := dpi / 25.4
	for row := range 60 {
		for col := range 80 {
			x, y := (15+float64(col)*2.25)*mm, (15+float64(row)*4.5)*mm
			bar(path, x, y, 2.2*mm, 0.3*mm, float64(row*80+col))
			bar(path, x+mm, y, 2.2*mm, 0.25*mm, float64(row+col))
		}
	}
	return drawn(path, w, h, dpi)
}

func BenchmarkChoke(b *testing.B) {
	for _, dpi := range []float64{300, 600} {
		p := page(dpi)
		photo := newTones(3, 40, 1).plane(p.W, p.H, dpi)
		for _, mm := range []float64{0.1, 0.5} {
			b.Run(fmt.Sprintf("text-%vdpi-%vmm", dpi, mm), func(b *testing.B) {
				b.SetBytes(int64(len(p.Pix)))
				b.ReportAllocs()
				for b.Loop() {
					must(Choke(p, mm, Options{}))
				}
			})
			b.Run(fmt.Sprintf("photo-%vdpi-%vmm", dpi, mm), func(b *testing.B) {
				b.SetBytes(int64(len(p.Pix)))
				b.ReportAllocs()
				for b.Loop() {
					must(Choke(photo, mm, Options{Threshold: 110}))
				}
			})
		}
	}
}

func BenchmarkDistances(b *testing.B) {
	p := page(300)
	b.SetBytes(int64(len(p.Pix)))
	for b.Loop() {
		if _, err := Distances(p, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkThin(b *testing.B) {
	for _, dpi := range []float64{300, 600} {
		p := page(dpi)
		photo := newTones(3, 40, 1).plane(p.W, p.H, dpi)
		b.Run(fmt.Sprintf("text-%vdpi", dpi), func(b *testing.B) {
			b.SetBytes(int64(len(p.Pix)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Thin(p, 0.2, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("photo-%vdpi", dpi), func(b *testing.B) {
			b.SetBytes(int64(len(p.Pix)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Thin(photo, 0.2, Options{Threshold: 110}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkSpecks(b *testing.B) {
	p := newTones(3, 40, 1).plane(2480, 3508, 300)
	b.SetBytes(int64(len(p.Pix)))
	for b.Loop() {
		if _, err := Specks(p, 0.1, Options{Threshold: 110}); err != nil {
			b.Fatal(err)
		}
		if _, err := FillHoles(p, 0.1, Options{Threshold: 110}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkChokeKeeping(b *testing.B) {
	p := page(300)
	b.SetBytes(int64(len(p.Pix)))
	b.ReportAllocs()
	for b.Loop() {
		must(ChokeKeeping(p, 0.1, 0.1, Options{}))
	}
}
