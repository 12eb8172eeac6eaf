package pdfpage

import "strings"

// Flow sets text, tables and pictures one below the other and begins pages as they fill up.
type Flow struct {
	Doc     *Document
	Section int
	Margin  float64     // mm on all sides
	Ink     string      // operator that selects the colour of text and rules; "" = black and gray
	Each    func(*Page) // called with every page begun
	Page    *Page
	Y       float64 // where the next thing begins

	w, h float64
}

// NewFlow starts a section of A4 pages with margins of 15 mm.
func (d *Document) NewFlow(section int) *Flow {
	f := &Flow{Doc: d, Section: section, Margin: 15, w: A4Width, h: A4Height}
	return f
}

// Width between the margins.
func (f *Flow) Width() float64 { return f.w - 2*f.Margin }

// Bottom is where a page is full; the foot lies below.
func (f *Flow) Bottom() float64 { return f.h - f.Margin - 4 }

// Break ends the page; the next begins when something is set.
func (f *Flow) Break() {
	if f.Page != nil {
		f.Page.End()
	}
	f.Page = nil
}

// Need makes sure that so many millimetres are free, on a new page if need be.
func (f *Flow) Need(h float64) {
	if f.Page != nil && (f.Y+h <= f.Bottom() || f.Y == f.Margin) {
		return
	}
	f.Break()
	f.Page = f.Doc.Page(f.Section, f.w, f.h)
	f.Y = f.Margin
	if f.Each != nil {
		f.Each(f.Page)
	}
}

// Space leaves so many millimetres, but none at the top of a page.
func (f *Flow) Space(mm float64) {
	if f.Page != nil && f.Y > f.Margin {
		f.Y += mm
	}
}

// lineHeight in millimetres of text of a size in points.
func lineHeight(size float64) float64 { return size * 1.3 / pointsPerMM }

func (f *Flow) style(st Style) Style {
	if st.Colour == "" {
		st.Colour = f.Ink
	}
	return st
}

// Heading sets a heading of level 1 to 3 and keeps what follows, so many millimetres, on its page.
func (f *Flow) Heading(level int, text string, keep float64) {
	size := []float64{18, 13, 10.5}[level-1]
	st := Style{Size: size, Bold: true}
	lines := f.Doc.Wrap(st, text, f.Width())
	f.Space(size * .35)
	f.Need(float64(len(lines))*lineHeight(size) + 1.5 + keep)
	f.lines("H"+string(rune('0'+level)), st, lines, f.Margin)
	f.Y += 1.5
}

// Text sets a paragraph.
func (f *Flow) Text(st Style, text string) {
	lines := f.Doc.Wrap(st, text, f.Width())
	for len(lines) > 0 {
		f.Need(lineHeight(st.Size))
		n := min(len(lines), max(1, int((f.Bottom()-f.Y)/lineHeight(st.Size)+1e-9)))
		f.lines("P", st, lines[:n], f.Margin)
		lines = lines[n:]
	}
	f.Y += st.Size * .12
}

func (f *Flow) lines(kind string, st Style, lines []string, x float64) {
	st = f.style(st) // the page is there now, and its ink with it
	f.Page.Tag(kind, "", func() {
		for _, l := range lines {
			f.Page.Text(x, f.Y+st.Size/pointsPerMM, st, l)
			f.Y += lineHeight(st.Size)
		}
	})
}

// Cell is a cell of a row.
type Cell struct {
	Text  string
	Width float64 // mm
	Right bool    // set to the right
	Bold  bool
	Chip  *RGB // a square of a colour before the text
}

// Row sets the cells of a row beside each other, each wrapped, with a rule below.
func (f *Flow) Row(size float64, cells ...Cell) {
	lines := make([][]string, len(cells))
	most := 1
	const gap = 2.0
	for i, c := range cells {
		lines[i] = f.Doc.Wrap(Style{Size: size, Bold: c.Bold}, c.Text, c.Width-gap-chipWidth(c, size))
		most = max(most, len(lines[i]))
	}
	lh := lineHeight(size)
	most = min(most, max(1, int((f.h-2*f.Margin-8)/lh)))
	f.Need(float64(most)*lh + 1.4)
	x := f.Margin
	for i, c := range cells {
		if c.Chip != nil {
			f.Page.Artifact(func() {
				s := size * .85 / pointsPerMM
				f.Page.Fill(x, f.Y+.5, s, s, *c.Chip)
				f.Page.Frame(x, f.Y+.5, s, s, 0, .25)
			})
		}
		if c.Text != "" {
			f.Page.Tag("P", "", func() {
				for k, l := range lines[i] {
					if k >= most {
						break
					}
					st := f.style(Style{Size: size, Bold: c.Bold})
					at := x + chipWidth(c, size)
					if c.Right {
						at = x + c.Width - gap - f.Doc.Width(st, l)
					}
					f.Page.Text(at, f.Y+.3+float64(k)*lh+size/pointsPerMM, st, l)
				}
			})
		}
		x += c.Width
	}
	f.Y += float64(most)*lh + 1
	f.Rule()
	f.Y += .4
}

func chipWidth(c Cell, size float64) float64 {
	if c.Chip == nil {
		return 0
	}
	return size * 1.3 / pointsPerMM
}

// Rule draws a thin line across.
func (f *Flow) Rule() {
	f.Page.Artifact(func() {
		if f.Ink != "" {
			f.Page.Op("q %s 0.25 w %s m %s l S Q", strokes(f.Ink), f.Page.At(f.Margin, f.Y), f.Page.At(f.w-f.Margin, f.Y))
			return
		}
		f.Page.Line(f.Margin, f.Y, f.w-f.Margin, f.Y, .6, .25)
	})
}

// strokes is the operator for lines of the colour that an operator selects for areas (ISO 32000-2, Table 73).
func strokes(fill string) string {
	words := strings.Fields(fill)
	for i, w := range words {
		switch w {
		case "g", "rg", "k", "cs", "sc", "scn":
			words[i] = strings.ToUpper(w)
		}
	}
	return strings.Join(words, " ")
}
