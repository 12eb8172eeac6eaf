package look

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"laydown/internal/press"
)

func TestDifferenceOfPublishedPairs(t *testing.T) {
	for _, c := range []struct {
		p, q press.Lab
		want float64
	}{
		{press.Lab{50, 2.6772, -79.7751}, press.Lab{50, 0, -82.7485}, 2.0425},
		{press.Lab{50, -1, 2}, press.Lab{50, 0, 0}, 2.3669},
		{press.Lab{50, 2.49, -.001}, press.Lab{50, -2.49, .0009}, 7.1792},
		{press.Lab{50, 2.49, -.001}, press.Lab{50, -2.49, .0011}, 7.2195},
		{press.Lab{50, -.001, 2.49}, press.Lab{50, .001, -2.49}, 4.8045},
		{press.Lab{50, 2.5, 0}, press.Lab{73, 25, -18}, 27.1492},
		{press.Lab{2.0776, .0795, -1.135}, press.Lab{.9033, -.0636, -.5514}, .9082},
	} {
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

// The table of Sharma, Wu and Dalal lies beside the module on the developers' machines.
func TestDifferenceOfSharmaTable(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "sharma.csv"))
	if err != nil {
		t.Skip("the table is not here")
	}
	defer f.Close()
	n := 0
	for s := bufio.NewScanner(f); s.Scan(); n++ {
		var p, q press.Lab
		var want float64
		if _, err := fmt.Sscan(s.Text(), &p[0], &p[1], &p[2], &q[0], &q[1], &q[2], &want); err != nil {
			t.Fatal(err)
		}
		checkDifference(t, p, q, want)
	}
	if n != 34 {
		t.Errorf("%d pairs, want 34", n)
	}
}
