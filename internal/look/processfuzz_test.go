package look

import (
	"math"
	"testing"

	"laydown/internal/press"
)

// Whatever colours a table holds, a process set is refused or gives colours a surface can have, on its stock and in a model.
func FuzzProcessSetStaysInRange(f *testing.F) {
	f.Add([]byte{200, 128, 128, 90, 100, 150}, uint8(0), uint8(9))
	f.Add([]byte{250, 120, 130, 10, 128, 128, 40, 200, 90, 60, 30, 220, 128}, uint8(3), uint8(77))
	f.Add([]byte("the quick brown fox jumps over the lazy dog"), uint8(1), uint8(255))
	f.Fuzz(func(t *testing.T, data []byte, extra, tint uint8) {
		if len(data) < 3 {
			return
		}
		at := 0
		next := func() float64 {
			v := data[at%len(data)] ^ byte(at/len(data)*31)
			at++
			return float64(v)
		}
		levels := []float64{0, 1}
		if extra&1 != 0 {
			levels = []float64{0, .4, 1}
		}
		tints := factorial(levels, levels, levels, levels)
		for range extra % 32 {
			tints = append(tints, [4]float64{next() / 255, next() / 255, next() / 255, next() / 255})
			tints = append(tints, [4]float64{3: next() / 255})
		}
		set := labSet(tints, func([4]float64) [3]float64 { return [3]float64{next()*.45 - 3, next() - 128, next() - 128} })
		p, err := ProcessFromSet(set, AllPatches)
		if err != nil {
			return
		}
		check := func(where string, l press.Lab) {
			for _, v := range l {
				if math.IsNaN(v) || math.Abs(v) > 1000 {
					t.Fatalf("%s: %v", where, l)
				}
			}
		}
		x := float64(tint) / 255
		check("process", p.Lab([4]float64{x, 1 - x, x * x, x / 2}))
		m := characterised(t, p, stockOfLab(press.Lab{60, 8, 24}), "White", "Cyan", "Magenta", "Yellow", "Black")
		check("model", m.Lab([]uint8{tint, 255 - tint, tint, 10, tint / 2}))
	})
}
