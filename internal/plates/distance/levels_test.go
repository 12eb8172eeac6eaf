package distance

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"testing"

	"laydown/internal/geom"
)

// crossed draws bars whose corners are whole numbers of 1/256 pixel, so that the plane has the same bytes everywhere.
func crossed() Plane {
	path := &geom.Path{}
	n := 7
	for i := range 40 {
		n = n * 1103 % 9973
		x, y, dx, dy, w := float64(n%240), float64(n*7%230), float64(n%61-30), float64(n%47-20), float64(n%300+40)/256
		path.Move(geom.Point{X: x, Y: y})
		path.Line(geom.Point{X: x + dx, Y: y + dy})
		path.Line(geom.Point{X: x + dx + w, Y: y + dy + float64(i)/64})
		path.Line(geom.Point{X: x + w, Y: y + float64(i)/64})
		path.ClosePath()
	}
	path.Rect(geom.Rect{X0: 252.25, Y0: 1.5, X1: 255, Y1: 24})
	path.Rect(geom.Rect{X0: 232.5, Y0: 2.25, X1: 250.25, Y1: 30})
	return drawn(path, 260, 250, 600)
}

// The same bits on every machine level: built for x86-64-v1 and -v3 this gives one number.
func TestResultsAreTheSameOnEveryMachineLevel(t *testing.T) {
	p := crossed()
	h := fnv.New64a()
	h.Write(p.Pix)
	h.Write(must(Choke(p, 0.05, Options{})).Pix)
	h.Write(must(Spread(p, 0.21, Options{Threshold: 60})).Pix)
	h.Write(must(ChokeKeeping(p, 0.05, 0.06, Options{})).Pix)
	h.Write(must(Shape(p, 40, Options{})).Pix)
	d, err := Distances(p, 2, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range d {
		binary.Write(h, binary.LittleEndian, math.Float32bits(v))
	}
	for i, find := range []func(Plane, float64, Options) ([]Region, error){Thin, Gaps, Specks} {
		r, err := find(p, 0.3, Options{Faint: 30})
		if err != nil || len(r) == 0 {
			t.Fatalf("%d: %d regions, %v", i, len(r), err)
		}
		fmt.Fprint(h, r)
	}
	const want uint64 = 0xc0356d071424d51b
	if got := h.Sum64(); got != want {
		t.Errorf("results have the checksum %#x, want %#x", got, want)
	}
}
