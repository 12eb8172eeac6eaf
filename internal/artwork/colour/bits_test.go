package colour

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/pdf"
)

// Conversions and functions give these very bits under GOAMD64=v1 and v3: continuous integration runs
// both. A change of arithmetic that is meant changes the sum.
func TestBitsAreTheSameOnEveryProcessor(t *testing.T) {
	const want = "67ab2411bafe603d"
	h := sha256.New()
	put := func(values ...float64) {
		for _, v := range values {
			h.Write(binary.LittleEndian.AppendUint64(nil, math.Float64bits(v)))
		}
	}
	random := rand.New(rand.NewPCG(1, 2))
	spaces := append(bulkSpaces(t), &ICCBased{N: 3, Profile: mustProfile(t, tinyICC()[2]), Alternate: RGB, Limits: []float64{0, 1, 0, 1, 0, 1}})
	for _, version := range []byte{2, 4} {
		c := NewConverter(mustProfile(t, madeCMYK(version)))
		for _, s := range spaces {
			for _, intent := range everyIntent {
				for range 50 {
					v := make([]float64, s.Components())
					for i := range v {
						lo, hi := s.Range(i)
						v[i] = lo + float64(random.Float64()*(hi-lo))
					}
					cmyk, rgb := c.CMYK(s, v, intent), c.RGB(s, v, intent)
					put(cmyk[:]...)
					put(rgb[:]...)
					put(c.Luminosity(s, v), c.Gray(s, v, intent))
				}
			}
		}
	}
	for _, f := range benchFunctions {
		fn, err := newFixture(t, f.fn).Function(pdf.Ref{Num: 3})
		if err != nil {
			t.Fatal(err)
		}
		in, out := make([]float64, fn.Inputs()), make([]float64, fn.Outputs())
		for range 300 {
			for i := range in {
				in[i] = random.Float64()
			}
			fn.Eval(out, in)
			put(out...)
		}
	}
	if got := fmt.Sprintf("%x", h.Sum(nil)[:8]); got != want {
		t.Errorf("the sum is %s, want %s", got, want)
	}
}
