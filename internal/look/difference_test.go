package look

import (
	"math"
	"testing"

	"laydown/internal/press"
)

// publishedPairs are all 34 of Table 1 in Sharma, Wu and Dalal, The CIEDE2000 color-difference formula, Color Res. Appl.
// 30(1), 21-30, 2005.
var publishedPairs = [34]struct {
	p, q press.Lab
	want float64
}{
	{press.Lab{50, 2.6772, -79.7751}, press.Lab{50, 0, -82.7485}, 2.0425},
	{press.Lab{50, 3.1571, -77.2803}, press.Lab{50, 0, -82.7485}, 2.8615},
	{press.Lab{50, 2.8361, -74.02}, press.Lab{50, 0, -82.7485}, 3.4412},
	{press.Lab{50, -1.3802, -84.2814}, press.Lab{50, 0, -82.7485}, 1},
	{press.Lab{50, -1.1848, -84.8006}, press.Lab{50, 0, -82.7485}, 1},
	{press.Lab{50, -0.9009, -85.5211}, press.Lab{50, 0, -82.7485}, 1},
	{press.Lab{50, 0, 0}, press.Lab{50, -1, 2}, 2.3669},
	{press.Lab{50, -1, 2}, press.Lab{50, 0, 0}, 2.3669},
	{press.Lab{50, 2.49, -0.001}, press.Lab{50, -2.49, 0.0009}, 7.1792},
	{press.Lab{50, 2.49, -0.001}, press.Lab{50, -2.49, 0.001}, 7.1792},
	{press.Lab{50, 2.49, -0.001}, press.Lab{50, -2.49, 0.0011}, 7.2195},
	{press.Lab{50, 2.49, -0.001}, press.Lab{50, -2.49, 0.0012}, 7.2195},
	{press.Lab{50, -0.001, 2.49}, press.Lab{50, 0.0009, -2.49}, 4.8045},
	{press.Lab{50, -0.001, 2.49}, press.Lab{50, 0.001, -2.49}, 4.8045},
	{press.Lab{50, -0.001, 2.49}, press.Lab{50, 0.0011, -2.49}, 4.7461},
	{press.Lab{50, 2.5, 0}, press.Lab{50, 0, -2.5}, 4.3065},
	{press.Lab{50, 2.5, 0}, press.Lab{73, 25, -18}, 27.1492},
	{press.Lab{50, 2.5, 0}, press.Lab{61, -5, 29}, 22.8977},
	{press.Lab{50, 2.5, 0}, press.Lab{56, -27, -3}, 31.903},
	{press.Lab{50, 2.5, 0}, press.Lab{58, 24, 15}, 19.4535},
	{press.Lab{50, 2.5, 0}, press.Lab{50, 3.1736, 0.5854}, 1},
	{press.Lab{50, 2.5, 0}, press.Lab{50, 3.2972, 0}, 1},
	{press.Lab{50, 2.5, 0}, press.Lab{50, 1.8634, 0.5757}, 1},
	{press.Lab{50, 2.5, 0}, press.Lab{50, 3.2592, 0.335}, 1},
	{press.Lab{60.2574, -34.0099, 36.2677}, press.Lab{60.4626, -34.1751, 39.4387}, 1.2644},
	{press.Lab{63.0109, -31.0961, -5.8663}, press.Lab{62.8187, -29.7946, -4.0864}, 1.263},
	{press.Lab{61.2901, 3.7196, -5.3901}, press.Lab{61.4292, 2.248, -4.962}, 1.8731},
	{press.Lab{35.0831, -44.1164, 3.7933}, press.Lab{35.0232, -40.0716, 1.5901}, 1.8645},
	{press.Lab{22.7233, 20.0904, -46.694}, press.Lab{23.0331, 14.973, -42.5619}, 2.0373},
	{press.Lab{36.4612, 47.858, 18.3852}, press.Lab{36.2715, 50.5065, 21.2231}, 1.4146},
	{press.Lab{90.8027, -2.0831, 1.441}, press.Lab{91.1528, -1.6435, 0.0447}, 1.4441},
	{press.Lab{90.9257, -0.5406, -0.9208}, press.Lab{88.6381, -0.8985, -0.7239}, 1.5381},
	{press.Lab{6.7747, -0.2908, -2.4247}, press.Lab{5.8714, -0.0985, -2.2286}, 0.6377},
	{press.Lab{2.0776, 0.0795, -1.135}, press.Lab{0.9033, -0.0636, -0.5514}, 0.9082},
}

// Rounded to four decimals in the table.
func TestDifferenceOfPublishedPairs(t *testing.T) {
	for _, c := range publishedPairs {
		checkDifference(t, c.p, c.q, c.want)
	}
}

func checkDifference(t *testing.T, p, q press.Lab, want float64) {
	t.Helper()
	if d := Difference(p, q); math.Abs(d-want) > 5e-5 {
		t.Errorf("%v to %v: %.5f, want %.4f", p, q, d, want)
	}
	if d := Difference(q, p); math.Abs(d-want) > 5e-5 {
		t.Errorf("%v to %v: %.5f, want %.4f", q, p, d, want)
	}
}
