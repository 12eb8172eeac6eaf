package colour

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// systemProfile reads a profile that the machine's interpreters came with.
func systemProfile(t testing.TB, name string) (*Profile, string) {
	t.Helper()
	p, err := readSystemProfile(name)
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("no profile on this machine: ", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return p, filepath.Join(systemProfiles, name)
}

const systemProfiles = "/usr/share/color/icc/ghostscript"

func readSystemProfile(name string) (*Profile, error) {
	data, err := os.ReadFile(filepath.Join(systemProfiles, name))
	if err != nil {
		return nil, err
	}
	return ParseProfile(data)
}

// transicc converts rows of numbers with the independent colour engine.
func transicc(t *testing.T, rows [][]float64, args ...string) [][]float64 {
	t.Helper()
	program, err := exec.LookPath("transicc")
	if err != nil {
		t.Skip("transicc is not installed")
	}
	var in bytes.Buffer
	for _, r := range rows {
		for _, v := range r {
			fmt.Fprintf(&in, "%.6f ", v)
		}
		in.WriteByte('\n')
	}
	cmd := exec.Command(program, append(args, "-n", "-c0")...)
	cmd.Stdin = &in
	text, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		var row []float64
		for _, w := range strings.Fields(line) {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatalf("%q: %v", line, err)
			}
			row = append(row, v)
		}
		out = append(out, row)
	}
	if len(out) != len(rows) {
		t.Fatalf("%d rows came back for %d", len(out), len(rows))
	}
	return out
}

// grid is n^k points of 0..1.
func grid(n, k int) [][]float64 {
	rows := [][]float64{nil}
	for range k {
		var next [][]float64
		for _, r := range rows {
			for i := range n {
				next = append(next, append(append([]float64(nil), r...), float64(i)/float64(n-1)))
			}
		}
		rows = next
	}
	return rows
}

func scaled(rows [][]float64, by float64) [][]float64 {
	out := make([][]float64, len(rows))
	for i, r := range rows {
		for _, v := range r {
			out[i] = append(out[i], v*by)
		}
	}
	return out
}

// Device values to Lab must equal the independent engine within 0.05 in each of L*, a*, b* (its own
// output is rounded to 0.0001, its tables to 16 bits). The version 2 Lab keeps it from compensating the
// black point unasked.
func TestProfilesAgreeWithIndependentEngineOnLab(t *testing.T) {
	for _, tt := range []struct {
		file  string
		n     int
		scale float64
	}{{"default_cmyk.icc", 4, 100}, {"srgb.icc", 3, 255}, {"a98.icc", 3, 255}, {"default_gray.icc", 1, 255}, {"ps_cmyk.icc", 4, 100}} {
		p, path := systemProfile(t, tt.file)
		rows := grid(4, tt.n)
		for intent, number := range map[Intent]string{RelativeColorimetric: "1", Perceptual: "0", Saturation: "2", AbsoluteColorimetric: "3"} {
			want := transicc(t, scaled(rows, tt.scale), "-i", path, "-o", "*Lab2", "-t"+number)
			worst := 0.0
			for i, r := range rows {
				lab := labFromXYZ(p.XYZ(r, intent), d50)
				if intent == AbsoluteColorimetric {
					lab = p.AbsoluteLab(r)
				}
				for k := range lab {
					worst = max(worst, math.Abs(lab[k]-want[i][k]))
				}
			}
			t.Logf("%s intent %d: worst %.4f", tt.file, intent, worst)
			if worst > .05 {
				t.Errorf("%s intent %d is off by %.3f", tt.file, intent, worst)
			}
		}
	}
}

func TestBadProfilesAreErrors(t *testing.T) {
	good, _ := os.ReadFile("/usr/share/color/icc/ghostscript/default_cmyk.icc")
	for n := 0; n < len(good); n += 1 + len(good)/97 {
		p, err := ParseProfile(good[:n])
		if err == nil {
			p.XYZ([]float64{.1, .2, .3, .4}, RelativeColorimetric) // must not panic
		}
	}
	for _, data := range []string{"", "x", strings.Repeat("\x00", 200), strings.Repeat("\xff", 4096)} {
		if _, err := ParseProfile([]byte(data)); err == nil {
			t.Errorf("%.10q was accepted", data)
		}
	}
}

func TestProfileConversionIsTheSameFromManyGoroutines(t *testing.T) {
	p, _ := systemProfile(t, "default_cmyk.icc")
	c := NewConverter(p)
	rows := grid(5, 3)
	want := make([][4]float64, len(rows))
	for i, r := range rows {
		want[i] = c.CMYK(RGB, r, Perceptual)
	}
	fresh, _ := systemProfile(t, "default_cmyk.icc")
	c = NewConverter(fresh)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for i, r := range rows {
				if got := c.CMYK(RGB, r, Perceptual); got != want[i] {
					t.Errorf("%v: %v, want %v", r, got, want[i])
					return
				}
			}
		})
	}
	wg.Wait()
}
