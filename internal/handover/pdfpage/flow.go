package pdfpage

import (
	"fmt"
	"strings"

	"laydown/internal/artwork/pdf"
)

// Flow sets text, tables and pictures one below the other and begins pages as they fill up.
type Flow struct {
	Doc     *Document
	Section int
	Margin  float64     // mm on all sides
	Ink     string      // operator that selects the colour of text and rules; "" = black and gray
	Each    func(*Page) // called with every page begun
	Page    *Page
	Y       float64    // where the next thing begins
	Sizes   [3]float64 // of headings by level, points

	w, h  float64
	table *table // being set
}

// table is what a page that continues a table begins with.
type table struct {
	size float64
	head []Cell
}

// NewFlow starts a section of A4 pages with margins of 15 mm.
func (d *Document) NewFlow(section int) *Flow {
	f := &Flow{Doc: d, Section: section, Margin: 15, Sizes: [3]float64{18, 13, 10.5}, w: A4Width, h: A4Height}
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
	size := f.Sizes[level-1]
	st := Style{Size: size, Bold: true}
	lines := f.Doc.Wrap(st, text, f.Width())
	f.Space(size * .35)
	f.Need(float64(len(lines))*lineHeight(size) + 1.5 + keep)
	f.Page.Tag("H"+string(rune('0'+level)), "", func() { f.lines(st, lines, f.Margin) })
	f.Y += 1.5
}

// Text sets a paragraph.
func (f *Flow) Text(st Style, text string) {
	f.Doc.Group("P", "", func() { f.set(st, text, 0) })
	f.Y += st.Size * .12
}

// Height that a paragraph takes, on one page.
func (f *Flow) Height(st Style, text string) float64 {
	return float64(len(f.Doc.Wrap(st, text, f.Width())))*lineHeight(st.Size) + st.Size*.12
}

// set sets text, so many millimetres from the margin, as part of the innermost group.
func (f *Flow) set(st Style, text string, indent float64) {
	lines := f.Doc.Wrap(st, text, f.Width()-indent)
	for len(lines) > 0 {
		f.Need(lineHeight(st.Size))
		n := min(len(lines), max(1, int((f.Bottom()-f.Y)/lineHeight(st.Size)+1e-9)))
		f.Page.Mark(func() { f.lines(st, lines[:n], f.Margin+indent) })
		lines = lines[n:]
	}
}

// List sets points of a list, numbered or not.
func (f *Flow) List(st Style, numbered bool, points []string) {
	f.Doc.Group("L", "", func() {
		for i, p := range points {
			mark := "•"
			if numbered {
				mark = fmt.Sprintf("%d.", i+1)
			}
			f.item(st, mark, p)
		}
	})
}

func (f *Flow) item(st Style, mark, text string) {
	f.Doc.Group("LI", "", func() {
		f.Need(lineHeight(st.Size))
		f.Page.Tag("Lbl", "", func() { f.Page.Text(f.Margin, f.Y+st.Size/pointsPerMM, f.style(st), mark) })
		f.Doc.Group("LBody", "", func() { f.set(st, text, f.Doc.Width(st, mark+"  ")) })
	})
	f.Y += st.Size * .12
}

func (f *Flow) lines(st Style, lines []string, x float64) {
	st = f.style(st) // the page is there now, and its ink with it
	for _, l := range lines {
		f.Page.Text(x, f.Y+st.Size/pointsPerMM, st, l)
		f.Y += lineHeight(st.Size)
	}
}

// Cell is a cell of a row.
type Cell struct {
	Text  string
	Width float64 // mm
	Right bool    // set to the right
	Heads bool    // it tells what the row is about
	Chip  *RGB    // a square of a colour before the text
}

// Table sets a table of rows of a type size. Its head, where it has one, stands at the top of every page.
func (f *Flow) Table(size float64, head []Cell, rows func()) {
	f.Doc.Group("Table", "", func() {
		f.table = &table{size: size}
		if head != nil {
			f.row(head, "Column")
			f.table.head = head
		}
		rows()
		f.table = nil
	})
}

// Row sets the cells of a row of a table beside each other, each wrapped, with a rule below.
func (f *Flow) Row(cells ...Cell) { f.row(cells, "") }

// row sets a row; heads of columns are of the scope Column.
func (f *Flow) row(cells []Cell, scope string) {
	lines, most := f.wrapped(cells, scope != "")
	was := f.Page
	f.Need(float64(most)*lineHeight(f.table.size) + 1.4)
	if head := f.table.head; head != nil && f.Page != was {
		l, n := f.wrapped(head, true)
		f.Page.Artifact(func() { f.cells(head, l, n, true, func(_ Cell, draw func()) { draw() }) })
	}
	f.Doc.Group("TR", "", func() {
		f.cells(cells, lines, most, scope != "", func(c Cell, draw func()) {
			kind, attr := "TD", pdf.Dict(nil)
			switch {
			case scope != "":
				kind, attr = "TH", scoped(scope)
			case c.Heads:
				kind, attr = "TH", scoped("Row")
			}
			if c.Text == "" {
				f.Page.empty(kind, attr)
				return
			}
			f.Page.tag(kind, "", attr, draw)
		})
	})
	f.Rule()
	f.Y += .4
}

// scoped says which cells a head is of (ISO 32000-2, Table 384).
func scoped(scope string) pdf.Dict { return pdf.Dict{"O": pdf.Name("Table"), "Scope": pdf.Name(scope)} }

const cellGap = 2.0

// wrapped breaks the texts of cells into lines, and tells how many the row has: at most what a page holds.
func (f *Flow) wrapped(cells []Cell, bold bool) (lines [][]string, most int) {
	size := f.table.size
	most = 1
	for _, c := range cells {
		l := f.Doc.Wrap(Style{Size: size, Bold: bold || c.Heads}, c.Text, c.Width-cellGap-chipWidth(c, size))
		lines = append(lines, l)
		most = max(most, len(l))
	}
	return lines, min(most, max(1, int((f.h-2*f.Margin-8)/lineHeight(size))))
}

// cells draws a row; each is handed the cell and what draws its text.
func (f *Flow) cells(cells []Cell, lines [][]string, most int, bold bool, each func(c Cell, draw func())) {
	size := f.table.size
	lh := lineHeight(size)
	x := f.Margin
	for i, c := range cells {
		if c.Chip != nil {
			f.Page.Artifact(func() {
				s := size * .85 / pointsPerMM
				f.Page.Fill(x, f.Y+.5, s, s, *c.Chip)
				f.Page.Frame(x, f.Y+.5, s, s, 0, .25)
			})
		}
		each(c, func() {
			for k, l := range lines[i][:min(most, len(lines[i]))] {
				st := f.style(Style{Size: size, Bold: bold || c.Heads})
				at := x + chipWidth(c, size)
				if c.Right {
					at = x + c.Width - cellGap - f.Doc.Width(st, l)
				}
				f.Page.Text(at, f.Y+.3+float64(k)*lh+size/pointsPerMM, st, l)
			}
		})
		x += c.Width
	}
	f.Y += float64(most)*lh + 1
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
