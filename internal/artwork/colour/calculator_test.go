package colour

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// run compiles a program and runs it on in; the results are clipped to +-1000.
func run(t testing.TB, program string, outputs int, in ...float64) []float64 {
	t.Helper()
	steps, err := compileCalculator([]byte("{" + program + "}"))
	if err != nil {
		t.Fatalf("%s: %v", program, err)
	}
	f := &calculator{steps: steps}
	for range in {
		f.domain = append(f.domain, -1000, 1000)
	}
	for range outputs {
		f.rng = append(f.rng, -1000, 1000)
	}
	out := make([]float64, outputs)
	f.Eval(out, in)
	f.code = compileRegisters(steps, len(in), outputs)
	registers := make([]float64, outputs)
	if f.Eval(registers, in); !near(registers, out, 0) {
		t.Errorf("%v %s: %v on the stack, %v on registers", in, program, out, registers)
	}
	return out
}

func TestCalculatorOperators(t *testing.T) {
	tests := []struct {
		program string
		in      []float64
		want    []float64
	}{
		{"abs", []float64{-4.5}, []float64{4.5}},
		{"add", []float64{3, 4.5}, []float64{7.5}},
		{"sub", []float64{3, 4.5}, []float64{-1.5}},
		{"mul", []float64{3, 4.5}, []float64{13.5}},
		{"div", []float64{3, 2}, []float64{1.5}},
		{"7 3 idiv", nil, []float64{2}},
		{"-7 3 idiv", nil, []float64{-2}},
		{"5 3 mod", nil, []float64{2}},
		{"-5 3 mod", nil, []float64{-2}},
		{"neg", []float64{4.5}, []float64{-4.5}},
		{"ceiling", []float64{3.2}, []float64{4}},
		{"ceiling", []float64{-4.8}, []float64{-4}},
		{"floor", []float64{-4.8}, []float64{-5}},
		{"round", []float64{6.5}, []float64{7}},
		{"round", []float64{-6.5}, []float64{-6}},
		{"truncate", []float64{-4.8}, []float64{-4}},
		{"sqrt", []float64{6.25}, []float64{2.5}},
		{"sin", []float64{30}, []float64{.5}},
		{"sin", []float64{-90}, []float64{-1}},
		{"cos", []float64{90}, []float64{0}},
		{"cos", []float64{60}, []float64{.5}},
		{"0 1 atan", nil, []float64{0}},
		{"1 0 atan", nil, []float64{90}},
		{"-100 0 atan", nil, []float64{270}},
		{"4 4 atan", nil, []float64{45}},
		{"9 0.5 exp", nil, []float64{3}},
		{"-9 -1 exp", nil, []float64{-1.0 / 9}},
		{"10 ln", nil, []float64{2.302585}},
		{"100 log", nil, []float64{2}},
		{"cvi", []float64{-47.8}, []float64{-47}},
		{"cvi cvr 2 div", []float64{5.9}, []float64{2.5}},
		{"eq {1} {2} ifelse", []float64{4, 4}, []float64{1}},
		{"ne {1} {2} ifelse", []float64{4, 4}, []float64{2}},
		{"gt {1} {2} ifelse", []float64{4.5, 4}, []float64{1}},
		{"ge {1} {2} ifelse", []float64{4, 4}, []float64{1}},
		{"lt {1} {2} ifelse", []float64{4, 4}, []float64{2}},
		{"le {1} {2} ifelse", []float64{4, 4}, []float64{1}},
		{"true false and {1} {2} ifelse", nil, []float64{2}},
		{"true false or {1} {2} ifelse", nil, []float64{1}},
		{"true true xor {1} {2} ifelse", nil, []float64{2}},
		{"false not {1} {2} ifelse", nil, []float64{1}},
		{"true 1 eq {1} {2} ifelse", nil, []float64{2}},
		{"99 1 and 52 7 and", nil, []float64{1, 4}},
		{"17 5 or", nil, []float64{21}},
		{"7 3 xor", nil, []float64{4}},
		{"52 not", nil, []float64{-53}},
		{"7 3 bitshift", nil, []float64{56}},
		{"142 -3 bitshift", nil, []float64{17}},
		{"1 40 bitshift", nil, []float64{0}},
		{"pop", []float64{1, 2}, []float64{1}},
		{"exch", []float64{1, 2}, []float64{2, 1}},
		{"dup", []float64{3}, []float64{3, 3}},
		{"2 copy", []float64{1, 2}, []float64{1, 2, 1, 2}},
		{"0 copy", []float64{1}, []float64{1}},
		{"1 index", []float64{1, 2}, []float64{1, 2, 1}},
		{"3 -1 roll", []float64{1, 2, 3}, []float64{2, 3, 1}},
		{"3 1 roll", []float64{1, 2, 3}, []float64{3, 1, 2}},
		{"3 0 roll", []float64{1, 2, 3}, []float64{1, 2, 3}},
		{"2 7 roll", []float64{1, 2, 3}, []float64{1, 3, 2}},
		{"0.5 gt {1 exch sub} if", []float64{.25, .5}, []float64{.25}},
		{"dup 0.5 gt { dup 0.75 gt {pop 3} {pop 2} ifelse } {pop 1} ifelse", []float64{.6}, []float64{2}},
		{"1.5e1 .5 add +2 add -.5 add % a comment } here\n", nil, []float64{17}},
	}
	for _, tt := range tests {
		if got := run(t, tt.program, len(tt.want), tt.in...); !near(got, tt.want, 1e-6) {
			t.Errorf("%v %s: got %v, want %v", tt.in, tt.program, got, tt.want)
		}
	}
}

func TestCalculatorFaultsGiveLowEndOfRange(t *testing.T) {
	for _, program := range []string{"1 0 div", "1 0 idiv", "-1 sqrt", "0 ln", "pop pop", "1.5 3 idiv", "true 1 add", "99 index", "5 copy", "0 0 atan", "-8 0.5 exp", "true"} {
		if got := run(t, program, 3); got[0] != -1000 {
			t.Errorf("%s: got %v", program, got)
		}
	}
	deep := strings.Repeat("1 ", calculatorStack+1)
	if got := run(t, deep, 1); got[0] != 1 {
		t.Errorf("overflow: got %v", got)
	}
}

func TestCalculatorRefusesBadPrograms(t *testing.T) {
	for _, src := range []string{"", "1 add", "{", "{1", "{1 {2} }", "{1 {2} {3} if}", "{true {2} ifelse}", "{def}", "{1 2 ad}", "{0x10}", "{inf}",
		strings.Repeat("{", 1000), "{" + strings.Repeat("1 ", 200_000) + "}"} {
		if _, err := compileCalculator([]byte(src)); err == nil {
			t.Errorf("%.20q was accepted", src)
		}
	}
}

// Results must be finite, inside the range, and the same on the stack and on registers, whatever the program.
func FuzzCalculatorStaysInRange(f *testing.F) {
	for _, s := range []string{"{dup mul}", "{1 exch sub dup 0.5 gt {2 mul} {pop 0} ifelse}", "{360 mul sin 2 div exch 3 1 roll}", "{2 copy 9 index 7 -3 bitshift}"} {
		f.Add([]byte(s), .3, .7)
	}
	f.Fuzz(func(t *testing.T, src []byte, a, b float64) {
		steps, err := compileCalculator(src)
		if err != nil {
			return
		}
		fn := &calculator{domain: limits2{0, 1, -5, 5}, rng: limits2{0, 1, -2, 3, .5, .5}, steps: steps}
		out := make([]float64, 3)
		fn.Eval(out, []float64{a, b})
		for i, v := range out {
			if !(v >= fn.rng[2*i] && v <= fn.rng[2*i+1]) {
				t.Fatalf("output %d is %v", i, v)
			}
		}
		again := make([]float64, 3)
		fn.code = compileRegisters(steps, 2, 3)
		fn.Eval(again, []float64{a, b})
		if fmt.Sprint(out) != fmt.Sprint(again) {
			t.Fatalf("stack and registers differ: %v %v", out, again)
		}
	})
}

func TestSettleKeepsRoundNumbers(t *testing.T) {
	for _, v := range []float64{0, .5, 1, 1.0 / 1024, -3, 255} {
		if got := settle(v); got != v {
			t.Errorf("settle(%v) = %v", v, got)
		}
		if got := settle(math.Nextafter(v, 9)); got != v {
			t.Errorf("settle of the neighbour of %v is %v", v, got)
		}
	}
}
