package stress

import (
	"flag"
	"fmt"
	"path/filepath"
	"testing"
)

var heavy = flag.Bool("heavy", false, "run the benchmarks, which take minutes")

// BenchmarkPoster says how processor time and memory grow with the resolution of one busy A3 page.
//
//	go test ./internal/stress -run '^$' -bench . -benchtime 1x -heavy
func BenchmarkPoster(b *testing.B) {
	laydown := measured(b)
	path := file(b, "poster")
	for _, dpi := range []int{150, 300, 600} {
		b.Run(fmt.Sprintf("%ddpi", dpi), func(b *testing.B) {
			spend(b, laydown, "plates", path, "--dpi", fmt.Sprint(dpi), "--format", "tiff", "--compress", "--out", filepath.Join(b.TempDir(), "plates"))
		})
	}
}

// BenchmarkBooklet says how processor time and memory grow with the number of pages.
func BenchmarkBooklet(b *testing.B) {
	laydown := measured(b)
	path := file(b, "booklet of 500")
	for _, pages := range []int{10, 100, 500} {
		b.Run(fmt.Sprintf("%dpages", pages), func(b *testing.B) {
			spend(b, laydown, "plates", path, "--pages", fmt.Sprintf("1-%d", pages), "--dpi", "72", "--format", "tiff", "--compress",
				"--out", filepath.Join(b.TempDir(), "plates"))
		})
	}
}

func measured(b *testing.B) string {
	b.Helper()
	if !*heavy {
		b.Skip("takes minutes: run with -heavy")
	}
	return program(b)
}

// spend runs the program and reports what it cost.
func spend(b *testing.B, laydown string, args ...string) {
	var seconds, memory float64
	for b.Loop() {
		r := start(b, laydown, args...)
		if r.code > 1 {
			b.Fatalf("exit code %d: %s", r.code, r.stderr)
		}
		seconds += r.time.Seconds()
		memory = max(memory, float64(r.memory>>20))
	}
	b.ReportMetric(seconds/float64(b.N), "cpu-s/op")
	b.ReportMetric(memory, "MB")
}
