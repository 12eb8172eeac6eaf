package plate

import (
	"fmt"
	"image"
	"math"
	"strings"
	"text/tabwriter"

	"laydown/internal/colourant"
)

// Stats is a Sink that measures plates. Set AreaMM2 before Begin; read the rest after End.
type Stats struct {
	AreaMM2 float64 // of the square the total is averaged over; 0 = one pixel

	Header Header
	Plates []PlateStats
	Total  *Pile // of all plates

	progress progress
}

// PlateStats are the measures of one plate.
type PlateStats struct {
	Name      string          `json:"name"`
	Kind      colourant.Kind  `json:"kind"`
	Mean      float64         `json:"mean_percent"`    // tint averaged over the page
	Covered   float64         `json:"covered_percent"` // share of the page with any toner
	Max       int             `json:"max"`             // 0..255
	Box       image.Rectangle `json:"box"`             // pixels, of all toner; empty when there is none
	Histogram [256]int64      `json:"-"`               // pixels by tint
}

// Untouched reports whether the plate has no toner.
func (p *PlateStats) Untouched() bool { return p.Max == 0 }

// Begin implements Sink.
func (s *Stats) Begin(h Header) error {
	if err := s.progress.begin(h); err != nil {
		return err
	}
	s.Header, s.Plates = h, make([]PlateStats, h.Set.Len())
	for i, c := range h.Set.All() {
		s.Plates[i].Name, s.Plates[i].Kind = c.Name, c.Kind
	}
	s.Total = &Pile{AreaMM2: s.AreaMM2}
	return s.Total.Begin(h)
}

// Band implements Sink.
func (s *Stats) Band(b *Band) error {
	if err := s.progress.band(b); err != nil {
		return err
	}
	eachPlate(len(b.Planes), func(i int) {
		if plane := b.Planes[i]; plane == nil {
			s.Plates[i].Histogram[0] += int64(b.Rows * s.Header.Width)
		} else {
			s.Plates[i].add(plane, s.Header.Width, b.Y0)
		}
	})
	return s.Total.Band(b)
}

func (p *PlateStats) add(plane []byte, width, y0 int) {
	// Four counters apart, as neighbouring pixels are mostly alike and would wait for each other.
	var counts [4][256]uint32
	for i, v := range plane {
		counts[i&3][v]++
	}
	for v := range p.Histogram {
		p.Histogram[v] += int64(counts[0][v]) + int64(counts[1][v]) + int64(counts[2][v]) + int64(counts[3][v])
	}
	for y := 0; len(plane) > 0; y, plane = y+1, plane[width:] {
		row := plane[:width]
		if blank(row) {
			continue
		}
		x0, x1 := 0, width
		for row[x0] == 0 {
			x0++
		}
		for row[x1-1] == 0 {
			x1--
		}
		p.Box = p.Box.Union(image.Rect(x0, y0+y, x1, y0+y+1))
	}
}

// End implements Sink.
func (s *Stats) End() error {
	if err := s.progress.end(); err != nil {
		return err
	}
	pixels := float64(s.Header.Width) * float64(s.Header.Height)
	for i := range s.Plates {
		p := &s.Plates[i]
		var sum int64
		for v, n := range p.Histogram {
			sum += int64(v) * n
			if n > 0 {
				p.Max = v
			}
		}
		p.Mean = float64(sum) / 255 * 100 / pixels
		p.Covered = (pixels - float64(p.Histogram[0])) * 100 / pixels
	}
	return s.Total.End()
}

// CoverageTable writes the measures as a table for people, one line a plate and one for the total.
func (s *Stats) CoverageTable() string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "plate\tmean\tcovered\thighest\t")
	for i := range s.Plates {
		p := &s.Plates[i]
		if p.Untouched() {
			fmt.Fprintf(w, "%s\t-\t-\t-\t\n", p.Name)
			continue
		}
		fmt.Fprintf(w, "%s\t%.2f %%\t%.2f %%\t%.0f %%\t\n", p.Name, p.Mean, p.Covered, float64(p.Max)*100/255)
	}
	fmt.Fprintf(w, "all\t%.2f %%\t%.2f %%\t%.0f %%\t\n", s.Total.Mean, s.Total.Covered, s.Total.Max)
	w.Flush()
	if s.Total.Side > 1 {
		fmt.Fprintf(&b, "highest pile averaged over %d x %d pixels: %.0f %%\n", s.Total.Side, s.Total.Side, s.Total.AreaMax)
	}
	return b.String()
}

// Pile is a Sink that sums the tints of some plates where they lie on each other. Set Plates and
// AreaMM2 before Begin; read the rest after End. Percents are of full tint, so that two solids are 200.
type Pile struct {
	Plates  []int   // which; nil = all
	AreaMM2 float64 // of the square the sum is averaged over; 0 = one pixel

	Mean    float64     // percent, over the page
	Covered float64     // percent of the page with any toner
	Max     float64     // percent, highest of one pixel
	MaxAt   image.Point // its first place, by rows
	Side    int         // pixels of the square's side; clipped to the page
	AreaMax float64     // percent, highest mean of a square that lies on the page
	AreaBox image.Rectangle

	progress progress
	ring     [][]uint16 // the last rows of sums, as many as the square is high
	columns  []uint64   // sums of the ring's rows
	sums     []uint16   // of the row at hand
	sum      uint64
	covered  int
	max      int
	areaMax  uint64
	w, h     int // of the square
}

// Begin implements Sink.
func (p *Pile) Begin(h Header) error {
	if err := p.progress.begin(h); err != nil {
		return err
	}
	*p = Pile{Plates: p.Plates, AreaMM2: p.AreaMM2, progress: p.progress}
	p.Side = 1
	if p.AreaMM2 > 0 && h.DPI > 0 {
		p.Side = int(math.Round(min(math.Sqrt(p.AreaMM2)*h.DPI/25.4, float64(max(h.Width, h.Height)))))
	}
	p.Side = max(p.Side, 1)
	p.w, p.h = min(p.Side, h.Width), min(p.Side, h.Height)
	p.columns = make([]uint64, h.Width)
	p.sums = make([]uint16, h.Width)
	for range p.h {
		p.ring = append(p.ring, make([]uint16, h.Width))
	}
	return nil
}

// Band implements Sink.
func (p *Pile) Band(b *Band) error {
	if err := p.progress.band(b); err != nil {
		return err
	}
	var planes [][]byte
	if p.Plates == nil {
		planes = b.Planes
	} else {
		for _, i := range p.Plates {
			planes = append(planes, b.Planes[i])
		}
	}
	w := p.progress.header.Width
	for y := range b.Rows {
		clear(p.sums)
		for _, plane := range planes {
			if plane == nil {
				continue
			}
			row := plane[y*w : (y+1)*w]
			sums := p.sums[:len(row)]
			for x, v := range row {
				sums[x] += uint16(v)
			}
		}
		p.row(b.Y0 + y)
	}
	return nil
}

// row takes the sums of row y.
func (p *Pile) row(y int) {
	old := p.ring[y%p.h]
	for x, v := range p.sums {
		n := int(v)
		p.sum += uint64(n)
		if n > 0 {
			p.covered++
		}
		if n > p.max {
			p.max, p.MaxAt = n, image.Pt(x, y)
		}
		p.columns[x] += uint64(v) - uint64(old[x])
	}
	copy(old, p.sums)
	if y < p.h-1 {
		return
	}
	var square uint64
	for x, v := range p.columns {
		square += v
		if x >= p.w {
			square -= p.columns[x-p.w]
		}
		if x >= p.w-1 && square > p.areaMax {
			p.areaMax = square
			p.AreaBox = image.Rect(x-p.w+1, y-p.h+1, x+1, y+1)
		}
	}
}

// End implements Sink.
func (p *Pile) End() error {
	if err := p.progress.end(); err != nil {
		return err
	}
	h := p.progress.header
	pixels := float64(h.Width) * float64(h.Height)
	p.Mean = float64(p.sum) / 255 * 100 / pixels
	p.Covered = float64(p.covered) * 100 / pixels
	p.Max = float64(p.max) / 255 * 100
	p.AreaMax = float64(p.areaMax) / 255 * 100 / float64(p.w*p.h)
	p.ring, p.columns, p.sums = nil, nil, nil
	return nil
}
