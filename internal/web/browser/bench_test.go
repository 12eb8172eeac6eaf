package browser

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// Measurements for docs/performance.md:
//
//	go test ./internal/web/browser -run '^$' -bench . -benchtime 1x
//
// Milliseconds of the clock are the best of many frames, so that other programs count little; cpu-ms is the processor time of all of
// Chromium for a frame, on Linux.

// spent is the processor time of Chromium and its processes so far, ms; 0 where it cannot be known.
func spent(p *tab) float64 {
	root := chromedp.FromContext(p.ctx).Browser.Process()
	if root == nil {
		return 0
	}
	stats, _ := filepath.Glob("/proc/[0-9]*/stat")
	parent, ticks := map[int]int{}, map[int]float64{}
	for _, file := range stats {
		b, err := os.ReadFile(file)
		if err != nil {
			continue // it ended
		}
		// Fields after the name, which may hold anything: 4 parent, 14 and 15 time of user and system in hundredths of a second.
		f := strings.Fields(string(b[bytes.LastIndexByte(b, ')')+1:]))
		pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		parent[pid], _ = strconv.Atoi(f[1])
		user, _ := strconv.ParseFloat(f[11], 64)
		system, _ := strconv.ParseFloat(f[12], 64)
		ticks[pid] = 10 * (user + system)
	}
	sum := 0.0
	for pid, t := range ticks {
		for up := pid; up > 1; up = parent[up] {
			if up == root.Pid {
				sum += t
				break
			}
		}
	}
	return sum
}

// frames times frames of a viewer in a window of 1280 x 800 pixels.
func frames(b *testing.B, options, view string) {
	k := openTicket(b, nil)
	p := open(b, k.serve(b).URL, 1280, 800, 1)
	p.eval(`window.v = stand(`+options+`); window.s = await source(1); v.show(s); `+view+`; await v.idle()`, nil)
	for b.Loop() {
		var lamp, view float64
		t0 := spent(p)
		p.eval(`const all = []; for (let i = 0; i < 40; i++) { v.light = { round: 9 * i }; all.push(v.time()) } return Math.min(...all)`, &lamp)
		t1 := spent(p)
		p.eval(`const all = []; for (let i = 0; i < 20; i++) all.push(v.time(true)); return Math.min(...all)`, &view)
		t2 := spent(p)
		b.ReportMetric(lamp, "ms/lamp")
		b.ReportMetric((t1-t0)/40, "cpu-ms/lamp")
		b.ReportMetric(view, "ms/view")
		b.ReportMetric((t2-t1)/20, "cpu-ms/view")
	}
	b.ReportMetric(0, "ns/op")
}

// BenchmarkFrame says how long a frame takes that only the lamp changed (ms/lamp) and one whose view changed (ms/view).
func BenchmarkFrame(b *testing.B) {
	for _, c := range []struct{ name, options, view string }{
		{"webgl/whole", `{ kind: "webgl2" }`, ``},
		{"webgl/texel-a-pixel", `{ kind: "webgl2" }`, `v.set({ zoom: 150 / 25.4 })`},
		{"webgl/all-gold", `{ kind: "webgl2" }`, `v.set({ x: 105, y: 21, zoom: 75 })`},
		{"webgl/flakes", `{ kind: "webgl2" }`, `v.set({ x: 105, y: 21, zoom: 400 })`},
		{"webgl/measured", `{ kind: "webgl2" }`, `v.light = { lit: false }`},
		{"canvas/whole", `{ kind: "canvas" }`, ``}, // its lamp moves with fewer pixels, as few as it takes
	} {
		b.Run(c.name, func(b *testing.B) { frames(b, c.options, c.view) })
	}
}

// BenchmarkFirstPicture says how long after a page was laid out its first picture is there, and all of it: a whole page in a window of
// 1280 x 800 pixels, nothing painted before.
func BenchmarkFirstPicture(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		k, err := newTicket(b.TempDir(), nil)
		if err != nil {
			b.Fatal(err)
		}
		p := open(b, k.serve(b).URL, 1280, 800, 1)
		p.eval(`window.s = await source(1)`, nil)
		b.StartTimer()
		t0 := spent(p)
		var m struct{ First, Whole, Tiles float64 }
		p.eval(`const began = performance.now(); let first = 0
			window.v = stand()
			v.onframe = () => { if (!first && v.stats.tiles > 0) first = performance.now() - began }
			v.show(s); await v.idle()
			return { First: first, Whole: performance.now() - began, Tiles: v.stats.tiles }`, &m)
		b.ReportMetric(m.First, "ms/first")
		b.ReportMetric(m.Whole, "ms/whole")
		b.ReportMetric(m.Tiles, "tiles")
		b.ReportMetric(spent(p)-t0, "cpu-ms/whole")
		k.bench.Close()
	}
	b.ReportMetric(0, "ns/op")
}
