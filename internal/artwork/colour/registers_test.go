package colour

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// words of random programs; conditionals come by themselves.
var calculatorWords = strings.Fields("0 1 2 3 0.5 -1.5 0.25 dup dup exch pop add sub mul mul div abs neg floor ceiling round truncate cvi cvr " +
	"sqrt sin cos atan exp ln log eq ne gt ge lt le true false and or xor not bitshift idiv mod 2 1 copy index 3 1 roll 3 -1 roll 1 index")

func randomProgram(t *rapid.T, depth int) string {
	var b strings.Builder
	for range rapid.IntRange(0, 9).Draw(t, "words") {
		switch k := rapid.IntRange(0, 11).Draw(t, "kind"); {
		case k == 0 && depth > 0:
			b.WriteString(" 0.4 gt {" + randomProgram(t, depth-1) + "} if ")
		case k == 1 && depth > 0:
			b.WriteString(" dup 0.3 lt {" + randomProgram(t, depth-1) + "} {" + randomProgram(t, depth-1) + "} ifelse ")
		default:
			b.WriteString(" " + rapid.SampledFrom(calculatorWords).Draw(t, "word"))
		}
	}
	return b.String()
}

// A soundWord needs so many numbers on the stack and changes their count by delta.
type soundWord struct {
	text        string
	need, delta int
}

var soundWords = []soundWord{
	{"0.25", 0, 1}, {"-1.5", 0, 1}, {"2", 0, 1}, {"dup", 1, 1}, {"exch", 2, 0}, {"pop", 1, -1}, {"add", 2, -1}, {"sub", 2, -1},
	{"mul", 2, -1}, {"neg", 1, 0}, {"abs", 1, 0}, {"floor", 1, 0}, {"sqrt", 1, 0}, {"sin", 1, 0}, {"1 index", 2, 1}, {"2 copy", 2, 2},
	{"3 1 roll", 3, 0}, {"3 -1 roll", 3, 0},
}

// soundProgram never takes more numbers than there are, and both arms of its conditions leave the same count.
func soundProgram(t *rapid.T, have, leave, depth int) string {
	var b strings.Builder
	for range rapid.IntRange(0, 9).Draw(t, "words") {
		if depth > 0 && have > 0 && rapid.IntRange(0, 5).Draw(t, "branch") == 0 {
			b.WriteString(" dup 0.3 lt {" + soundProgram(t, have, have, depth-1) + "} {" + soundProgram(t, have, have, depth-1) + "} ifelse")
			continue
		}
		if w := rapid.SampledFrom(soundWords).Draw(t, "word"); w.need <= have && have+w.delta <= 16 {
			b.WriteString(" " + w.text)
			have += w.delta
		}
	}
	for ; have > leave; have-- {
		b.WriteString(" pop")
	}
	for ; have < leave; have++ {
		b.WriteString(" 0.5")
	}
	return b.String()
}

// compareRegisters evaluates a program of three inputs both ways and tells whether registers took it.
func compareRegisters(t *rapid.T, program string, outputs int) bool {
	steps, err := compileCalculator([]byte("{" + program + "}"))
	if err != nil {
		t.Fatalf("%s: %v", program, err)
	}
	f := &calculator{domain: limits2{0, 1, -1, 1, -9, 9}, steps: steps}
	for range outputs {
		f.rng = append(f.rng, -7, 7)
	}
	in := []float64{rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(-1, 1).Draw(t, "b"), rapid.SampledFrom([]float64{0, 1, 2, 5, -3, .5}).Draw(t, "c")}
	want, got := make([]float64, outputs), make([]float64, outputs)
	f.Eval(want, in)
	f.code = compileRegisters(steps, 3, outputs)
	f.Eval(got, in)
	if !near(got, want, 0) {
		t.Fatalf("%s of %v: stack %v, registers %v", program, in, want, got)
	}
	return f.code != nil
}

func TestRegistersGiveWhatTheStackGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outputs := rapid.IntRange(1, 5).Draw(t, "outputs")
		program := "neg" + soundProgram(t, 3, outputs, 3)
		if !compareRegisters(t, program, outputs) {
			t.Fatalf("%s was not compiled", program)
		}
	})
}

// Most of these programs have errors in them, which the stack tells as it runs.
func TestRegistersLeaveUnsoundProgramsToTheStack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		compareRegisters(t, randomProgram(t, 3), rapid.IntRange(1, 5).Draw(t, "outputs"))
	})
}

// What artwork has is compiled; what is not known beforehand is left to the stack.
func TestWhichProgramsRunOnRegisters(t *testing.T) {
	for _, tt := range []struct {
		program         string
		inputs, outputs int
		want            bool
	}{
		{"dup 0.1 mul exch dup 0.85 mul exch dup 0.3 mul exch 0.05 mul", 1, 4, true},
		{"dup 0.5 gt {1 exch sub} if", 1, 1, true},
		{"dup 0.5 gt {pop 1} {2 mul} ifelse", 1, 1, true},
		{"dup 0.5 gt {} {2 mul} ifelse", 1, 1, true},
		{"dup 0.5 gt {dup 0.7 gt {pop 1} {} ifelse} if", 1, 1, true},
		{"3 1 roll exch 2 index add", 3, 3, true},
		{"1 index .6 mul 1 index .2 mul add dup 1 gt {pop 1} if 3 1 roll 1 index .9 mul 1 index .4 mul add dup 1 gt {pop 1} if 3 1 roll pop pop 0 0", 2, 4, true},
		{"true {0.5 add} {pop pop} ifelse", 1, 1, true},
		{"dup 0.5 gt {dup} if", 1, 1, false},
		{"dup cvi index", 2, 2, false},
		{"0.5 gt", 1, 1, false},
		{"dup 0.5 gt {0.5 gt} {} ifelse 1", 1, 2, false},
	} {
		steps, err := compileCalculator([]byte("{" + tt.program + "}"))
		if err != nil {
			t.Fatal(err)
		}
		if got := compileRegisters(steps, tt.inputs, tt.outputs) != nil; got != tt.want {
			t.Errorf("%s: compiled %v", tt.program, got)
		}
	}
}
