package look

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/press"
	_ "laydown/internal/sameseed"
)

// colordTable reads a table of Debian's colord-data: values every 5 nm from the start told.
func colordTable(t *testing.T, name string) (start float64, rows [][]float64) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("/usr/share/colord", name))
	if err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("the package colord-data is required and not installed: %v", err)
		}
		t.Skip("colord-data is not installed")
	}
	text := string(data)
	m := regexp.MustCompile(`SPECTRAL_START_NM\s+"?([\d.]+)`).FindStringSubmatch(text)
	if m == nil {
		t.Fatal("no start")
	}
	start, _ = strconv.ParseFloat(m[1], 64)
	_, body, _ := strings.Cut(text, "BEGIN_DATA\n")
	body, _, _ = strings.Cut(body, "END_DATA")
	for _, line := range strings.Split(strings.TrimSpace(body), "\n") {
		var row []float64
		for _, f := range strings.Fields(line) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	return start, rows
}

// The tables carried are those of the observer and of daylight, to the digits written.
func TestWeightsAreThoseOfTheObserverUnderD50(t *testing.T) {
	from, observer := colordTable(t, "cmf/CIE1931-2deg-XYZ.cmf")
	dayFrom, s := colordTable(t, "ref/CIE-1986-daylight-SPD.cmf")
	// Correlated temperature of D50 by the second radiation constant of 1968 and now; daylight locus above 4000 K, its
	// factors rounded to three digits, as CIE 15 says (from memory).
	temperature := 5000 * 1.4388 / 1.4380
	x := -4.6070e9/math.Pow(temperature, 3) + 2.9678e6/math.Pow(temperature, 2) + 0.09911e3/temperature + 0.244063
	y := -3*x*x + 2.87*x - 0.275
	m := 0.0241 + 0.2562*x - 0.7341*y
	m1 := math.Round(1000*(-1.3515-1.7703*x+5.9114*y)/m) / 1000
	m2 := math.Round(1000*(0.03-31.4424*x+30.0717*y)/m) / 1000
	power := func(nm float64) float64 {
		i := int((nm - dayFrom) / 5)
		return s[0][i] + m1*s[1][i] + m2*s[2][i]
	}
	var want [3]spectrum
	y = 0
	for nm := 380.0; nm <= 780; nm += 5 {
		at := min((nm-firstNM)/stepNM, bands-1)
		b := min(int(at), bands-2)
		for c := range want {
			v := observer[c][int((nm-from)/5)] * power(nm)
			want[c][b] += v * (1 - (at - float64(b)))
			want[c][b+1] += v * (at - float64(b))
			if c == 1 {
				y += v
			}
		}
	}
	for c := range want {
		for b := range want[c] {
			near(t, "weight", bandWeights[c][b], want[c][b]/y, 6e-9)
		}
	}
	for b, nm := range wavelengths {
		near(t, "daylight", daylight[b], power(nm), 6e-4)
	}
}

// CIE 15 gives 96.42, 100, 82.49 (to 10 nm and other tables; from memory).
func TestPerfectDiffuserHasTheWhitePoint(t *testing.T) {
	for c, want := range [3]float64{.9642, 1, .8249} {
		near(t, "white point", white[c], want, 5e-4)
	}
	if got := unhindered.lab(); math.Abs(got[0]-100) > 1e-9 || math.Hypot(got[1], got[2]) > 1e-9 {
		t.Errorf("a reflectance of 1 is %v", got)
	}
}

func TestSampledReflectanceKeepsItsColour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := press.Lab{rapid.Float64Range(15, 95).Draw(t, "L"), rapid.Float64Range(-60, 60).Draw(t, "a"), rapid.Float64Range(-60, 60).Draw(t, "b")}
		r, kept := lift(c)
		if kept < 1 {
			return // at the rim of what surfaces have, all light in one or two bands
		}
		s := r.sampled()
		limit := 1e-6
		if slices.Min(s[:]) <= 0 {
			limit = .5 // a band that would go below 0 is held there: the most vivid darks
		}
		if d := Difference(s.lab(), r.lab()); d > limit {
			t.Errorf("%v is off by %g at twelve bands", c, d)
		}
	})
}

// Random stacks of the default toners: one to five of nine on each of the shipped stocks, half the tints full. All 36
// bands are mixed by the same rule.
func TestTwelveBandsMixLikeThirtySix(t *testing.T) {
	const limit = .3 // a fifth of what an eye might see in a picture
	r := rand.New(rand.NewPCG(12, 36))
	list := toners(t, "White", "Silver", "Gold", "Clear", "Fluorescent Pink", "Cyan", "Magenta", "Yellow", "Black")
	names := press.StockNames()
	var d []float64
	for range 1200 {
		var laid []*press.Toner
		var tints []uint8
		for _, i := range r.Perm(len(list))[:1+r.IntN(5)] {
			laid = append(laid, list[i])
			tint := uint8(255)
			if r.IntN(2) == 0 {
				tint = uint8(r.IntN(256))
			}
			tints = append(tints, tint)
		}
		m := model(t, stockOf(t, names[r.IntN(len(names))]), laid...)
		e := newEvaluator(m)
		w, numbers := e.weigh(e.load(tints))
		var fine spectrum
		for j, n := range numbers {
			p := m.primary(n)
			for b, v := range p.r {
				fine[b] += float64(w[j]) * math.Sqrt(v)
			}
		}
		for b, v := range fine {
			fine[b] = v * v
		}
		d = append(d, Difference(fine.lab(), m.Lab(tints)))
	}
	slices.Sort(d)
	t.Logf("19 of 20 within %.3f, all within %.3f", d[len(d)*95/100], d[len(d)-1])
	if worst := d[len(d)-1]; worst > limit {
		t.Errorf("off by up to %.3f, want %.1f at most", worst, limit)
	}
	if p95 := d[len(d)*95/100]; p95 > .08 {
		t.Errorf("19 of 20 are off by less than %.3f, want 0.08", p95)
	}
}
