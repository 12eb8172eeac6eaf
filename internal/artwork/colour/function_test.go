package colour

import (
	"encoding/binary"
	"math"
	"testing"

	"laydown/internal/artwork/pdf"
)

func mustFunction(t testing.TB, objects ...object) Function {
	t.Helper()
	fx := newFixture(t, objects...)
	f, err := fx.Function(pdf.Ref{Num: 3})
	if err != nil {
		t.Fatal(err)
	}
	if fs := fx.sink.Sorted(); len(fs) > 0 {
		t.Fatalf("findings: %v", fs)
	}
	return f
}

func TestFunctionsGiveHandNumbers(t *testing.T) {
	sampled := func(dict, data string) object { return object{"/FunctionType 0 " + dict, []byte(data)} }
	tests := []struct {
		name string
		fn   object
		in   []float64
		want []float64
	}{
		{"exponential default", object{text: "<< /FunctionType 2 /Domain [0 1] /N 1 >>"}, []float64{.3}, []float64{.3}},
		{"exponential squared", object{text: "<< /FunctionType 2 /Domain [0 1] /N 2 /C0 [1 0] /C1 [0 .5] >>"}, []float64{.5}, []float64{.75, .125}},
		{"exponential clips its input", object{text: "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [0] /C1 [10] /Range [0 4] >>"}, []float64{7}, []float64{4}},
		{"exponential of zero to a negative power", object{text: "<< /FunctionType 2 /Domain [0 1] /N -1 /Range [0 1] >>"}, []float64{0}, []float64{1}},
		{"sampled line of 8 bits", sampled("/Domain [0 1] /Range [0 1] /Size [3] /BitsPerSample 8", "\x00\xff\x80"), []float64{.25}, []float64{.5}},
		{"sampled at its end", sampled("/Domain [0 1] /Range [0 1] /Size [3] /BitsPerSample 8", "\x00\xff\x33"), []float64{1}, []float64{.2}},
		{"sampled beyond its domain", sampled("/Domain [0 1] /Range [0 1] /Size [2] /BitsPerSample 8", "\x33\xff"), []float64{-3}, []float64{.2}},
		{"sampled, one bit", sampled("/Domain [0 1] /Range [0 1] /Size [4] /BitsPerSample 1", "\x50"), []float64{1.0 / 3}, []float64{1}},
		{"sampled, two bits", sampled("/Domain [0 3] /Range [0 1] /Size [4] /BitsPerSample 2", "\x1b"), []float64{1}, []float64{1.0 / 3}},
		{"sampled, four bits", sampled("/Domain [0 1] /Range [0 15] /Size [2] /BitsPerSample 4", "\x3c"), []float64{1}, []float64{12}},
		{"sampled, twelve bits", sampled("/Domain [0 1] /Range [0 4095] /Size [2] /BitsPerSample 12", "\x12\x3a\xbc"), []float64{1}, []float64{0xabc}},
		{"sampled, sixteen bits", sampled("/Domain [0 1] /Range [0 65535] /Size [2] /BitsPerSample 16", "\x12\x34\xab\xcd"), []float64{1}, []float64{0xabcd}},
		{"sampled, twenty-four bits", sampled("/Domain [0 1] /Range [0 16777215] /Size [2] /BitsPerSample 24", "\x12\x34\x56\xab\xcd\xef"), []float64{1}, []float64{0xabcdef}},
		{"sampled, thirty-two bits", sampled("/Domain [0 1] /Range [0 4294967295] /Size [2] /BitsPerSample 32", "\x00\x00\x00\x00\xab\xcd\xef\x01"), []float64{1}, []float64{0xabcdef01}},
		{"sampled with Encode turned and Decode", sampled("/Domain [0 1] /Range [-1 1] /Size [2] /BitsPerSample 8 /Encode [1 0] /Decode [-1 1]", "\x00\xff"), []float64{.25}, []float64{.5}},
		// Nodes (0,0) 0, (1,0) 1, (0,1) 0.2, (1,1) 0.4: the first input varies fastest.
		{"sampled over two inputs", sampled("/Domain [0 1 0 1] /Range [0 1] /Size [2 2] /BitsPerSample 8", "\x00\xff\x33\x66"), []float64{.5, .25},
			[]float64{.75*.5 + .25*(.2+.4)/2}},
		{"sampled with two outputs", sampled("/Domain [0 1] /Range [0 1 0 1] /Size [2] /BitsPerSample 8", "\x00\xff\xff\x00"), []float64{.25}, []float64{.25, .75}},
		{"stitched, first part", stitchedExample, []float64{.1}, []float64{.2}},
		{"stitched, at the bound the next part", stitchedExample, []float64{.5}, []float64{1}},
		{"stitched, second part encoded backwards", stitchedExample, []float64{.75}, []float64{.5}},
		{"stitched, at the end of the domain", stitchedExample, []float64{1}, []float64{0}},
		{"joined from an array", object{text: "[<< /FunctionType 2 /Domain [0 1] /N 1 >> << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>]"}, []float64{.3}, []float64{.3, .7}},
		{"calculator", object{"/FunctionType 4 /Domain [0 1] /Range [0 1 0 1]", []byte("{dup 1 exch sub}")}, []float64{.3}, []float64{.3, .7}},
	}
	for _, tt := range tests {
		f := mustFunction(t, tt.fn)
		out := make([]float64, f.Outputs())
		f.Eval(out, tt.in)
		if !near(out, tt.want, 1e-9) {
			t.Errorf("%s: got %v, want %v", tt.name, out, tt.want)
		}
	}
}

var stitchedExample = object{text: `<< /FunctionType 3 /Domain [0 1] /Bounds [.5] /Encode [0 1 1 0] /Functions [
	<< /FunctionType 2 /Domain [0 1] /N 1 >> << /FunctionType 2 /Domain [0 1] /N 1 >> ] >>`}

func TestFunctionsThatCannotBeAreRefused(t *testing.T) {
	tests := []struct {
		name string
		fn   object
	}{
		{"no domain", object{text: "<< /FunctionType 2 /N 1 >>"}},
		{"unknown type", object{text: "<< /FunctionType 1 /Domain [0 1] >>"}},
		{"ends that differ in length", object{text: "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [0] /C1 [1 1] >>"}},
		{"a table without size", object{"/FunctionType 0 /Domain [0 1] /Range [0 1] /BitsPerSample 8", []byte("abc")}},
		{"a table of absurd size", object{"/FunctionType 0 /Domain [0 1 0 1] /Range [0 1] /BitsPerSample 8 /Size [100000 100000]", []byte("abc")}},
		{"a table of negative size", object{"/FunctionType 0 /Domain [0 1] /Range [0 1] /BitsPerSample 8 /Size [-3]", []byte("abc")}},
		{"no parts", object{text: "<< /FunctionType 3 /Domain [0 1] /Functions [] /Bounds [] /Encode [] >>"}},
		{"itself as a part", object{text: "<< /FunctionType 3 /Domain [0 1] /Functions [3 0 R] /Bounds [] /Encode [0 1] >>"}},
		{"itself in an array", object{text: "[3 0 R]"}},
		{"a program without range", object{"/FunctionType 4 /Domain [0 1]", []byte("{}")}},
		{"a number", object{text: "7"}},
	}
	for _, tt := range tests {
		if f, err := newFixture(t, tt.fn).Function(pdf.Ref{Num: 3}); err == nil {
			t.Errorf("%s gave %v", tt.name, f)
		}
	}
}

func TestShortTableIsPaddedAndReported(t *testing.T) {
	fx := newFixture(t, object{"/FunctionType 0 /Domain [0 1] /Range [0 1] /BitsPerSample 8 /Size [4]", []byte("\xff")})
	f, err := fx.Function(pdf.Ref{Num: 3})
	if err != nil {
		t.Fatal(err)
	}
	out := []float64{9}
	f.Eval(out, []float64{1})
	if out[0] != 0 || !fx.has("function-data-short") {
		t.Errorf("got %v, findings %v", out, fx.sink.Sorted())
	}
}

// Interpolation between the corners of a cube must be linear along each axis, for any number of inputs.
func TestSampledFunctionIsLinearInEachInput(t *testing.T) {
	for m := 1; m <= 8; m++ {
		f := &sampled{n: 1, bits: 16, scale: 65535, decode: limits2{0, 1}, rng: limits2{0, 1}}
		nodes := 1
		for range m {
			f.domain, f.encode = append(f.domain, 0, 1), append(f.encode, 0, 2)
			f.size, f.stride = append(f.size, 3), append(f.stride, nodes)
			nodes *= 3
		}
		for i := range nodes {
			f.data = binary.BigEndian.AppendUint16(f.data, uint16(i*40503))
		}
		at := make([]float64, m)
		for i := range at {
			at[i] = .1 + .05*float64(i)
		}
		out := make([]float64, 1)
		value := func(axis int, x float64) float64 {
			in := append([]float64(nil), at...)
			in[axis] = x
			f.Eval(out, in)
			return out[0]
		}
		for axis := range m {
			a, b, mid := value(axis, .5), value(axis, 1), value(axis, .75)
			if math.Abs((a+b)/2-mid) > 1e-12 {
				t.Errorf("%d inputs, axis %d: %v between %v and %v", m, axis, mid, a, b)
			}
		}
	}
}
