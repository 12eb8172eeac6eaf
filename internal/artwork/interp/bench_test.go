package interp

import (
	"context"
	"fmt"
	"strings"
	"testing"
)

// A page of a hundred thousand operators: colours, rectangles, curves, strokes, nested states.
func BenchmarkPage100kOperators(b *testing.B) {
	var c strings.Builder
	for i := range 10_000 {
		x := i % 190
		fmt.Fprintf(&c, "q 0 .%d 1 0 k %d %d 5 5 re f 1 w %d 10 m %d 20 30 40 50 60 c S Q\n/White cs .%d scn\n", i%9, x, i%90, x, x, i%7)
	}
	r := reader(b, simple(c.String()))
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		if _, err := r.Page(context.Background(), 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
