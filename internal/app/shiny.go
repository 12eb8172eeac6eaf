package app

import (
	"image"
	"runtime"

	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/look"
)

// The part of a page shown at several angles: upright, so that five of them stand side by side.
const (
	shinyWidth  = 36.0 // mm
	shinyHeight = 48.0
	shinySteps  = 6 // a part is looked for in steps of its size by so many
	shinyPixels = 300
)

// shinyPart finds the part of a page with the most metal, clear and fluorescent toner, in pixels; ok is false where there
// is none.
func shinyPart(page *check.Page, layers []look.Layer) (part image.Rectangle, ok bool) {
	st := page.Plates
	x0, y0, x1, y1 := page.PixelRect(page.List.Page.Trim)
	px := st.DPI / 25.4
	w, h := min(int(shinyWidth*px), x1-x0), min(int(shinyHeight*px), y1-y0)
	if w < shinySteps || h < shinySteps {
		return part, false
	}
	cellW, cellH := w/shinySteps, h/shinySteps
	cols, rows := (x1-x0)/cellW, (y1-y0)/cellH
	sums := make([]int, cols*rows)
	for _, l := range layers {
		switch l.Toner.Kind {
		case colourant.Metallic, colourant.Clear, colourant.Fluorescent:
		default:
			continue
		}
		plane := st.Plane(l.Plate)
		if plane == nil {
			continue
		}
		for y := range rows * cellH {
			row := plane[(y0+y)*st.Width+x0:]
			for x := range cols * cellW {
				sums[y/cellH*cols+x/cellW] += int(row[x])
			}
		}
	}
	most := 0
	for r := 0; r+shinySteps <= rows; r++ {
		for c := 0; c+shinySteps <= cols; c++ {
			sum := 0
			for i := range shinySteps * shinySteps {
				sum += sums[(r+i/shinySteps)*cols+c+i%shinySteps]
			}
			if sum > most {
				most = sum
				at := image.Pt(x0+c*cellW, y0+r*cellH)
				part = image.Rectangle{at, at.Add(image.Pt(w, h))}
			}
		}
	}
	return part, most > 0
}

// shinyStrip shows that part at the angles metals are measured at; nil where nothing shines.
func shinyStrip(page *check.Page, m *look.Model, layers []look.Layer) (image.Image, error) {
	part, ok := shinyPart(page, layers)
	if !ok {
		return nil, nil
	}
	st := page.Plates.Crop(part.Min.X, part.Min.Y, part.Max.X, part.Max.Y)
	s, err := m.TiltStrip(st, look.StripLight(), look.StripTilts, reduction(st, shinyPixels), runtime.GOMAXPROCS(0))
	if err != nil {
		return nil, err
	}
	return s.Image, nil
}
