package jpx

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// lossy are samples of invented pictures in testdata, coded in ways that take something.
var lossy = []struct {
	name          string
	w, h, n, bits int
	args          string
}{
	{"lossy-fine", 96, 96, 1, 8, "-I -r 2"},
	{"lossy-coarse", 96, 96, 1, 8, "-I -r 12"},
	{"lossy-cut", 96, 96, 1, 8, "-r 6"},
	{"lossy-layers", 96, 96, 1, 12, "-n 3 -r 20,8 -b 16,16"},
	{"lossy-colours", 96, 96, 3, 8, "-I -r 10"},
	{"lossy-tiles", 96, 96, 3, 8, "-r 5 -t 50,40 -n 3"},
}

// The error that headers tell is within a factor of 2 of the true one: coefficients are not spread evenly over the steps
// they are known to, and near 0 less than a step is lost. No sample is further off than the worst case.
func TestLossIsToldByHeaders(t *testing.T) {
	for _, k := range lossy {
		want := invented(k.w, k.h, k.n, k.bits)
		if *remake {
			data := encode(t, want, k.w, k.h, k.bits, "j2k", strings.Fields(k.args)...)
			if err := os.WriteFile(filepath.Join("testdata", k.name+".j2k"), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		f, err := Parse(sample(t, k.name))
		if err != nil {
			t.Fatal(err)
		}
		l, err := f.Loss()
		if err != nil {
			t.Fatal(err)
		}
		_, got := decoded(t, sample(t, k.name), 1)
		full := float64(int(1)<<k.bits - 1)
		truth := 0.0
		for c := range want {
			sum := 0.0
			for i, v := range want[c] {
				d := float64(v - got[c][i])
				sum += d * d
			}
			truth = max(truth, math.Sqrt(sum/float64(len(want[c])))/full)
		}
		most, _ := worst(got, want)
		t.Logf("%s: error %.2f %% told, %.2f %% true; worst %.1f %% told, %.1f %% true; %d planes", k.name, 100*l.Error, 100*truth, 100*l.Worst, 100*float64(most)/full, l.Planes)
		if l.Lossless || l.Error < truth/2 || l.Error > 2*truth {
			t.Errorf("%s: error %.4f told, %.4f true", k.name, l.Error, truth)
		}
		if float64(most)/full > l.Worst {
			t.Errorf("%s: worst error %.4f told, %.4f true", k.name, l.Worst, float64(most)/full)
		}
	}
}

func TestWholeReversibleDataIsLossless(t *testing.T) {
	for _, name := range []string{"gray", "rgb-tiles", "layers", "twelve-bits-all-styles", "bypass", "one-bit"} {
		f, err := Parse(sample(t, name))
		if err != nil {
			t.Fatal(err)
		}
		if l, err := f.Loss(); err != nil || l != (Loss{Lossless: true}) {
			t.Errorf("%s: %+v, %v", name, l, err)
		}
	}
}

// The roots of the energies are those encoders weigh bands by: LL, HL and HH of the first levels, from memory of the tables in
// common use, to their three decimals; those of the high bands of 9-7 are halved here, as the standard's wavelet doubles them.
func TestEnergyOfSynthesisFunctions(t *testing.T) {
	for _, c := range []struct {
		reversible    bool
		orient, level int
		want          float64
	}{
		{true, 0, 1, 1.5}, {true, 0, 2, 2.75}, {true, 0, 3, 5.375}, {true, 1, 1, 1.038}, {true, 2, 2, 1.592}, {true, 3, 1, .7186}, {true, 3, 2, .9218},
		{false, 0, 1, 1.965}, {false, 0, 3, 8.403}, {false, 1, 1, 2.022 / 2}, {false, 3, 1, 2.080 / 4},
	} {
		// A hundredth: the tables are of transforms of finite length.
		if e, _ := synthesis(c.reversible, c.orient, c.level); math.Abs(math.Sqrt(e)/c.want-1) > .01 {
			t.Errorf("%+v: %.4f", c, math.Sqrt(e))
		}
	}
	e6, r6 := synthesis(false, 0, 6)
	if e, r := synthesis(false, 0, 8); math.Abs(e/e6-16) > 1e-9 || r != r6 {
		t.Errorf("two levels further: energy %g times, reach %g and %g", e/e6, r, r6)
	}
}

func TestLossOfDamagedDataIsNoPanic(t *testing.T) {
	data := sample(t, "lossy-cut")
	for n := range data {
		if f, err := Parse(data[:n]); err == nil {
			if l, err := f.Loss(); err == nil && (l.Error < 0 || math.IsNaN(l.Error)) {
				t.Errorf("%d bytes: %+v", n, l)
			}
		}
	}
}
