package proof

import (
	"fmt"
	"math"

	"laydown/internal/finding"
	"laydown/internal/handover/pdfpage"
)

// Small is a page of a long document seen from afar.
type Small struct {
	Number            int
	Picture           []byte // JPEG; nil = it could not be painted
	Pixels            [2]int
	WidthMM, HeightMM float64       // of what the picture shows
	TrimMM            finding.BoxMM // in it
	Findings          []finding.Finding
}

// Pictures beside each other on a sheet of small pages, and of very many.
const (
	smallAcross       = 5
	smallAcrossOfMany = 8
	manySmall         = 240
)

// small draws every page of a long document, with the places of its findings.
func (w *Writer) small(pages []Small) {
	if len(pages) == 0 {
		return
	}
	f := w.doc.NewFlow(sectionSmall)
	f.Heading(1, "All pages, small", 40)
	f.Text(pdfpage.Style{Size: 9}, "Frames stand where findings lie.")
	f.Space(2)
	across := smallAcross
	if len(pages) > manySmall {
		across = smallAcrossOfMany
	}
	const gap = 3.0
	box := (f.Width() - gap*float64(across-1)) / float64(across)
	st := pdfpage.Style{Size: 6.5}
	for len(pages) > 0 {
		row := pages[:min(across, len(pages))]
		pages = pages[len(row):]
		high := 0.0
		labels := make([][]string, len(row))
		lines := 1
		for i := range row {
			_, h := row[i].fitted(box)
			high = math.Max(high, h)
			label := fmt.Sprintf("Page %d", row[i].Number)
			if words := finding.Counts(row[i].Findings); words != "" {
				label += ": " + words
			}
			labels[i] = w.doc.Wrap(st, label, box)
			lines = max(lines, len(labels[i]))
		}
		below := 1.2 + float64(lines)*2.9
		f.Need(high + below)
		for i := range row {
			w.smallPage(f, f.Margin+float64(i)*(box+gap), high, box, &row[i], labels[i])
		}
		f.Y += high + below + 1.5
	}
	f.Break()
}

// fitted is the size of a small page in a column.
func (s *Small) fitted(box float64) (w, h float64) {
	if s.Picture == nil || s.WidthMM <= 0 || s.HeightMM <= 0 {
		return box, box / 2
	}
	return fitted(s.WidthMM, s.HeightMM, box, box*1.3)
}

func (w *Writer) smallPage(f *pdfpage.Flow, x, high, box float64, s *Small, label []string) {
	width, height := s.fitted(box)
	y := f.Y + high - height
	st := pdfpage.Style{Size: 6.5}
	alt := fmt.Sprintf("Page %d from afar", s.Number)
	if s.Picture == nil {
		alt = fmt.Sprintf("Page %d could not be painted", s.Number)
	}
	f.Page.Figure(alt, x, y, width, height, func() {
		if s.Picture == nil {
			f.Page.Frame(x, y, width, height, .5, .25)
			f.Page.Text(x+1, y+height/2, st, w.doc.Shorten(st, "not painted", width-2))
			return
		}
		f.Page.JPEG(x, y, width, height, s.Picture, s.Pixels[0], s.Pixels[1])
		scale := width / s.WidthMM
		for _, v := range s.Findings {
			if b := v.Place.Box; b != nil {
				x0, y0 := x+(b.X+s.TrimMM.X)*scale, y+(b.Y+s.TrimMM.Y)*scale
				// At least a millimetre, so that it is seen, and within the picture.
				bw, bh := math.Max(b.W*scale, 1), math.Max(b.H*scale, 1)
				x0, y0 = math.Min(math.Max(x0, x), x+width-bw), math.Min(math.Max(y0, y), y+height-bh)
				f.Page.Frame(x0, y0, bw, bh, 1, .9)
				f.Page.Frame(x0, y0, bw, bh, 0, .4)
			}
		}
	}, func() {
		for i, l := range label {
			f.Page.Text(x, f.Y+high+3+float64(i)*2.9, st, l)
		}
	})
	f.Page.Artifact(func() { f.Page.Frame(x, y, width, height, .6, .2) })
}
