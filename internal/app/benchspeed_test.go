package app

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// writePoster writes a page of so many millimetres: solid white, over it a photograph in process toners, 300 samples an inch, whose
// neighbours all differ, and two thousand letters of a spot.
func writePoster(t testing.TB, dir string, w, h float64) string {
	t.Helper()
	const pt = 72 / 25.4
	f := pdfbuild.New()
	nx, ny := int(w*300/25.4), int(h*300/25.4)
	samples := make([]byte, 4*nx*ny)
	v := uint32(1)
	for i := range samples {
		v = v*1664525 + 1013904223
		samples[i] = byte(40 + 20*(i%4) + i/4%nx*100/nx + int(v>>28))
	}
	im := f.Stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceCMYK /BitsPerComponent 8", nx, ny), string(samples))
	var c strings.Builder
	fmt.Fprintf(&c, "/W cs 1 scn 0 0 %g %g re f q %g 0 0 %g 0 0 cm /O gs /I Do Q /S cs 1 scn\n", w*pt, h*pt, w*pt, h*pt)
	for i := range 2000 {
		x, y := float64(i%50)/50*w*pt, float64(i/50)/40*h*pt
		fmt.Fprintf(&c, "%g %g m %g %g %g %g %g %g c h f\n", x, y, x+8, y, x+8, y+9, x, y+5)
	}
	f.Page(w*pt, h*pt, fmt.Sprintf("/XObject << /I %s >> /ColorSpace << /W %s /S %s >> /ExtGState << /O << /op true /OP true /OPM 0 >> >>",
		pdfbuild.Ref(im), pdfbuild.Spot("White", 0, 0, 0, 0), pdfbuild.Spot("Silver", 0, 0, 0, .4)), c.String())
	file := filepath.Join(dir, "poster.pdf")
	if err := os.WriteFile(file, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// speedCase is an artwork to be looked at.
type speedCase struct {
	name string
	open func(b testing.TB, cache *BenchCache) *Bench
}

func speedCases(b testing.TB, dir string) []speedCase {
	poster := writePoster(b, dir, 210, 297)
	return []speedCase{
		{"ticket", func(b testing.TB, cache *BenchCache) *Bench {
			bench, err := OpenBench(writeTicket(b, dir, true), demoSetup(b, dir), cache)
			if err != nil {
				b.Fatal(err)
			}
			return bench
		}},
		{"thin", func(b testing.TB, cache *BenchCache) *Bench {
			s := demoSetup(b, dir)
			thin := *s.Stock
			thin.Opacity, thin.Surface, thin.Back = 90, press.SurfaceUncoated, nil
			s.Stock = &thin
			bench, err := OpenBench(writeTicket(b, dir, false), s, cache)
			if err != nil {
				b.Fatal(err)
			}
			return bench
		}},
		{"photo", func(b testing.TB, cache *BenchCache) *Bench {
			s, err := NewSetup(SetupOptions{Press: "five-station", Stock: "midnight-blue-board"})
			if err != nil {
				b.Fatal(err)
			}
			bench, err := OpenBench(poster, s, cache)
			if err != nil {
				b.Fatal(err)
			}
			return bench
		}},
	}
}

// BenchmarkFirstTile opens an artwork, lays its first page and makes one tile of 75 dpi.
func BenchmarkFirstTile(b *testing.B) {
	dir := b.TempDir()
	for _, c := range speedCases(b, dir) {
		b.Run(c.name, func(b *testing.B) {
			c.open(b, NewBenchCache(0)).Close()
			before, n := processorTime(), 0
			defer func() { b.ReportMetric(1000*(processorTime()-before).Seconds()/float64(n), "cpu-ms/op") }()
			for b.Loop() {
				n++
				bench := c.open(b, NewBenchCache(0))
				if _, err := bench.Tile(context.Background(), 1, LookView{}, 3, 0, 0); err != nil {
					b.Fatal(err)
				}
				bench.Close()
			}
		})
	}
}

// BenchmarkTiles makes tiles of a level, eight asked for at a time as a browser does, of plates that are not yet painted.
func BenchmarkTiles(b *testing.B) {
	dir := b.TempDir()
	for _, c := range speedCases(b, dir) {
		for level := 3; level <= 8; level++ {
			b.Run(fmt.Sprintf("%s/level%d", c.name, level), func(b *testing.B) {
				bench := c.open(b, NewBenchCache(0))
				defer bench.Close()
				p := page(b, bench, 1)
				tiles, spent, used := 0, time.Duration(0), time.Duration(0)
				for b.Loop() {
					bench.cache.forget(bench.id)
					begun, before := time.Now(), processorTime()
					tiles += lookAtTiles(b, bench, p, level, 96)
					spent += time.Since(begun)
					used += processorTime() - before
				}
				b.ReportMetric(float64(tiles)/spent.Seconds(), "tiles/s")
				b.ReportMetric(1000*used.Seconds()/float64(tiles), "cpu-ms/tile")
			})
		}
	}
}

// processorTime is what the process has used, all cores together: the machine may be busy with other things.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// lookAtTiles asks for the tiles of a level, at most so many, from the top.
func lookAtTiles(b testing.TB, bench *Bench, p *BenchPage, level, most int) int {
	l := p.Levels[level]
	across, down := (l.Width+p.Tile-1)/p.Tile, (l.Height+p.Tile-1)/p.Tile
	n := min(most, across*down)
	wide := min(across, 16)
	ask := make(chan int)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for i := range ask {
				if _, err := bench.Tile(context.Background(), 1, LookView{}, level, i%wide, i/wide%down); err != nil {
					b.Error(err)
				}
			}
		})
	}
	for i := range n {
		ask <- i
	}
	close(ask)
	wg.Wait()
	return n
}

// Does panning over a large page stay within the cache and what painting takes?
func TestPanningStaysWithinTheCache(t *testing.T) {
	const limit = 24 << 20
	// Beside the cache what lives after a tile: the block handed out, which may have left the cache, and the tables of a coder. 2 MB
	// were measured; a block has 5.
	const beside = 8 << 20
	dir := t.TempDir()
	s, err := NewSetup(SetupOptions{Press: "five-station", Stock: "midnight-blue-board"})
	if err != nil {
		t.Fatal(err)
	}
	b, err := OpenBench(writePoster(t, dir, 297, 420), s, NewBenchCache(limit))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	p := page(t, b, 1)
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before, most := int64(m.HeapAlloc), int64(0)
	l := p.Levels[5]
	for y := 0; y < l.Height/p.Tile; y += blockTiles {
		for x := 0; x < l.Width/p.Tile; x += blockTiles {
			if _, err := b.Tile(context.Background(), 1, LookView{}, 5, x, y); err != nil {
				t.Fatal(err)
			}
		}
		runtime.GC()
		runtime.ReadMemStats(&m)
		most = max(most, int64(m.HeapAlloc)-before)
	}
	t.Logf("%d MB beyond the page itself (%d MB), with a cache of %d MB that holds %d MB", most>>20, before>>20, int64(limit)>>20, b.cache.Use().Bytes>>20)
	if most > limit+beside {
		t.Errorf("%d MB beyond the page, at most %d are wanted", most>>20, (int64(limit)+beside)>>20)
	}
}
