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
// Milliseconds of the clock are the best and the median of many frames; of the best other programs count little. cpu-ms is the processor time
// of all of Chromium for a frame, on Linux. LAYDOWN_BUSY_CORES=1 lets that many other programs compute beside the page.

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

// frames times frames of a viewer in a window of 1280 x 800 pixels: of a lamp that moves, of a sheet that moves, and those drawn in full
// once both rest. Before they are timed, frames of either are drawn as in use, so that the viewer finds how coarse they must be.
func frames(b *testing.B, options, view string) {
	k := openTicket(b, nil)
	p := open(b, k.serve(b).URL, 1280, 800, 1)
	p.eval(`window.v = stand(`+options+`); window.s = await source(1); v.show(s); `+view+`; await v.idle()
		`+timing+`
		window.stop = Array.from({ length: `+number(busyCores())+` }, () => new Worker(URL.createObjectURL(new Blob(["for (;;) Math.sqrt(Math.random())"]))))`, nil)
	for b.Loop() {
		for _, m := range []struct{ name, before, frame string }{
			{"lamp", `await warm(lamp)`, `lamp, false`},
			{"view", `await warm(pan)`, `pan, false`},
			{"rest-lamp", `await v.idle()`, `still, false`},
			{"rest-view", ``, `still, true`},
		} {
			const n = 30
			var took struct{ Best, Median, Grain float64 }
			p.eval(m.before, nil)
			before := spent(p)
			p.eval(`return timed(`+number(n)+`, `+m.frame+`)`, &took)
			b.ReportMetric((spent(p)-before)/n, "cpu-ms/"+m.name)
			b.ReportMetric(took.Best, "ms/"+m.name)
			b.ReportMetric(took.Median, "median-ms/"+m.name)
			b.ReportMetric(took.Grain, "grain/"+m.name)
		}
	}
	p.eval(`stop.forEach(w => w.terminate())`, nil)
	b.ReportMetric(0, "ns/op")
}

// busyCores is how many other programs compute beside the page, as LAYDOWN_BUSY_CORES says.
func busyCores() int {
	n, _ := strconv.Atoi(os.Getenv("LAYDOWN_BUSY_CORES"))
	return n
}

// timing defines lamp, pan and still, which change what frames are timed of; warm, which does that in use until the grain stays; timed.
const timing = `window.lamp = i => { v.light = { round: 9 * i } }
		window.pan = i => v.panBy(i % 2 ? 40 : -40, 0)
		window.still = () => {}
		window.warm = async move => {
			let grain = 0
			for (let i = 0, same = 0; same < 9 && i < 90; i++) {
				move(i)
				await new Promise(done => requestAnimationFrame(() => setTimeout(done, 5)))
				same = v.stats.grain === grain ? same + 1 : 0
				grain = v.stats.grain
			}
		}
		window.timed = (n, move, gather) => {
			const all = []
			for (let i = 0; i < n; i++) {
				move(i)
				all.push(v.time(gather))
			}
			all.sort((a, b) => a - b)
			return { Best: all[0], Median: all[n >> 1], Grain: v.stats.grain }
		}`

// views are what the screen shows: most of it dull, and more and more metal.
var views = []struct{ name, set string }{
	{"whole", ``},
	{"texel-a-pixel", `v.set({ zoom: 150 / 25.4 })`},
	{"all-gold", `v.set({ x: 105, y: 21, zoom: 75 })`},
	{"flakes", `v.set({ x: 105, y: 21, zoom: 400 })`},
}

// BenchmarkGrain says how long frames take whose pixels are 1 to 6 of the screen wide.
func BenchmarkGrain(b *testing.B) {
	k := openTicket(b, nil)
	for _, c := range views {
		b.Run(c.name, func(b *testing.B) {
			p := open(b, k.serve(b).URL, 1280, 800, 1)
			p.eval(timing, nil)
			for b.Loop() {
				for _, grain := range []int{1, 2, 3, 4, 6} {
					var lamp, view struct{ Best, Median float64 }
					p.eval(`window.v?.close(); window.v = stand({ kind: "webgl2", grain: `+number(grain)+` }); v.show(await source(1)); `+c.set+`; await v.idle(); v.time()`, nil)
					p.eval(`return timed(30, lamp, false)`, &lamp)
					p.eval(`return timed(15, pan, false)`, &view)
					b.ReportMetric(lamp.Best, "ms/lamp-"+number(grain))
					b.ReportMetric(lamp.Median, "median-ms/lamp-"+number(grain))
					b.ReportMetric(view.Best, "ms/view-"+number(grain))
					b.ReportMetric(view.Median, "median-ms/view-"+number(grain))
				}
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

// BenchmarkFrame says how long frames take as in use.
func BenchmarkFrame(b *testing.B) {
	for _, c := range views {
		b.Run("webgl/"+c.name, func(b *testing.B) { frames(b, `{ kind: "webgl2" }`, c.set) })
	}
	b.Run("webgl/measured", func(b *testing.B) { frames(b, `{ kind: "webgl2" }`, `v.light = { lit: false }`) })
	b.Run("canvas/whole", func(b *testing.B) { frames(b, `{ kind: "canvas" }`, ``) })
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
