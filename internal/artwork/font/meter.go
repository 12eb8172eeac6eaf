package font

import (
	"sync/atomic"

	"laydown/internal/geom"
	"laydown/internal/limits"
)

// meter counts what the fonts of a document cost: work, of which every page allows some more, and bytes kept.
// It is the same for every number of goroutines as long as pages are read one after the other.
type meter struct {
	work atomic.Int64 // left
	kept atomic.Int64
}

// spend counts a glyph that was drawn: its steps, and its points, which stay in memory.
func (m *meter) spend(p *geom.Path, work int) {
	if p != nil {
		work += 4 * len(p.Points)
		m.kept.Add(int64(16*cap(p.Points) + cap(p.Verbs)))
	}
	m.work.Add(-int64(work + 20))
}

func (m *meter) spent() bool { return m.work.Load() < 0 }

// fontBytes is about what a font takes in memory without program and outlines.
const fontBytes = 32 << 10

// beginPage allows a page its share of work, once, and forgets the fonts of earlier pages when they take
// too much memory. The caller holds r.mu.
func (r *Reader) beginPage(page int) {
	if r.pages[page] {
		return
	}
	r.pages[page] = true
	r.meter.work.Store(max(r.meter.work.Load(), 0) + limits.MaxGlyphWork)
	if r.meter.kept.Load() > limits.FontCacheBytes {
		clear(r.fonts)
		clear(r.direct)
		clear(r.programs)
		clear(r.cmaps)
		clear(r.spans)
		r.meter.kept.Store(0)
	}
}
