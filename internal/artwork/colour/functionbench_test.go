package colour

import (
	"testing"

	"laydown/internal/artwork/pdf"
)

// benchFunctions are functions as artwork has them.
var benchFunctions = []struct {
	name string
	fn   object
	in   []float64
}{
	{"exponential", object{text: "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 .2 .8 .1] >>"}, []float64{.3}},
	{"exponential, root", object{text: "<< /FunctionType 2 /Domain [0 1] /N .6 /C0 [0 0 0 0] /C1 [0 .2 .8 .1] >>"}, []float64{.3}},
	{"sampled 1 to 4", object{"/FunctionType 0 /Domain [0 1] /Range [0 1 0 1 0 1 0 1] /Size [255] /BitsPerSample 8", make([]byte, 1020)}, []float64{.3}},
	{"sampled 1 to 3, 12 bits", object{"/FunctionType 0 /Domain [0 1] /Range [0 1 0 1 0 1] /Size [64] /BitsPerSample 12", make([]byte, 288)}, []float64{.3}},
	{"sampled 2 to 4", object{"/FunctionType 0 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1] /Size [16 16] /BitsPerSample 8", make([]byte, 1024)}, []float64{.3, .7}},
	{"sampled 4 to 3", object{"/FunctionType 0 /Domain [0 1 0 1 0 1 0 1] /Range [0 1 0 1 0 1] /Size [9 9 9 9] /BitsPerSample 8", make([]byte, 9*9*9*9*3)}, []float64{.3, .7, .1, .2}},
	{"stitched", stitchedExample, []float64{.7}},
	{"calculator, tint", object{"/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{dup 0.1 mul exch dup 0.85 mul exch dup 0.3 mul exch 0.05 mul}")}, []float64{.3}},
	{"calculator, two tints", object{"/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]",
		[]byte("{1 index .6 mul 1 index .2 mul add dup 1 gt {pop 1} if 3 1 roll 1 index .9 mul 1 index .4 mul add dup 1 gt {pop 1} if 3 1 roll pop pop 0 0}")}, []float64{.3, .8}},
}

func BenchmarkFunctions(b *testing.B) {
	for _, f := range benchFunctions {
		b.Run(f.name, func(b *testing.B) {
			fx := newFixture(b, f.fn)
			fn, err := fx.Function(pdf.Ref{Num: 3})
			if err != nil {
				b.Fatal(err)
			}
			out := make([]float64, fn.Outputs())
			b.ReportAllocs()
			for b.Loop() {
				fn.Eval(out, f.in)
			}
		})
		b.Run(f.name+", plainly", func(b *testing.B) {
			fn, err := newFixture(b, f.fn).Function(pdf.Ref{Num: 3})
			if err != nil {
				b.Fatal(err)
			}
			out := make([]float64, fn.Outputs())
			switch fn := fn.(type) {
			case *calculator:
				for b.Loop() {
					fn.evalOnStack(out, f.in)
				}
			case *sampled:
				fn.flat = nil
				for b.Loop() {
					fn.corners(out, f.in)
				}
			default:
				b.Skip("there is one way only")
			}
		})
	}
}
