// Package proof writes proof.pdf: what a customer looks at, and signs, before a job is printed. It shows the look of each page
// at three angles, every plate, the layers as they are laid, the findings left and lines to sign on. Pages are written as
// they come, so that one lies in memory. The same data give the same bytes.
package proof

import (
	"fmt"
	"image"
	"io"
	"math"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/handover/pdfpage"
)

// Data is what the proof says of the whole job.
type Data struct {
	Title string // of the document
	Facts []Fact // job, press, stock, sizes …, in the order shown
	Note  string // what the pictures are made with and how far they can be trusted; "" = nothing to add

	StockColour pdfpage.RGB
	StockTitle  string
	StockUM     float64 // thickness, µm; 0 = not known
}

// Fact is a line of the cover.
type Fact struct{ Name, Text string }

// Look is a page at one angle.
type Look struct {
	Words   string // the angle
	Picture image.Image
}

// Page is one side of the sheet.
type Page struct {
	Number            int
	WidthMM, HeightMM float64       // of what the pictures show
	TrimMM            finding.BoxMM // in it, from its top left corner
	Looks             []Look
	LookNote          string
	Plates            []Plate
	Passes            []Pass
	PassNote          string // why there are none
}

// Plate is one toner's plate.
type Plate struct {
	Name     string
	Kind     string
	Coverage float64     // mean tint over the trim, percent
	Area     float64     // share of the trim with any toner, percent
	Most     float64     // largest tint, percent
	Picture  *image.Gray // black = full toner; nil = no toner
	Colour   pdfpage.RGB // its solid on the stock
}

// Pass is one trip through the press.
type Pass struct {
	Set    string
	Layers []Layer // first laid first
}

// Layer is a toner in a pass.
type Layer struct {
	Name     string
	Colour   pdfpage.RGB
	UM       float64 // thickness of its solid, µm
	Coverage float64 // mean tint over the trim, percent
}

// End is what is known when all pages have passed.
type End struct {
	Clean    bool
	Findings []finding.Finding
	Cautions []string
	Long     []string // what of a long document is shown in full, and why; nil = all pages are
	Small    []Small  // all pages of a long document
}

// Writer writes a proof.
type Writer struct {
	data  Data
	doc   *pdfpage.Document
	trims map[int]finding.BoxMM // by page
	pages []passes
}

type passes struct {
	page int
	text string
}

// The sections of the document, in order.
const (
	sectionCover = iota
	sectionPages
	sectionSmall
	sectionEnd
)

// New starts a proof.
func New(w io.Writer, data Data, info pdfpage.Info) (*Writer, error) {
	info.Title = data.Title
	doc, err := pdfpage.New(w, info)
	if err != nil {
		return nil, err
	}
	small := pdfpage.Style{Size: 7, Colour: "0.35 g"}
	doc.Foot(func(p *pdfpage.Page, n, of int) {
		words := fmt.Sprintf("%d of %d", n, of)
		p.Text(15, p.H-9, small, doc.Shorten(small, data.Title+" · a calculated picture, no contract proof", p.W-60))
		p.Text(p.W-15-doc.Width(small, words), p.H-9, small, words)
	})
	return &Writer{data: data, doc: doc, trims: map[int]finding.BoxMM{}}, nil
}

// Page writes what there is to see of one page.
func (w *Writer) Page(p *Page) {
	w.trims[p.Number] = p.TrimMM
	w.pages = append(w.pages, passes{p.Number, passText(p)})
	f := w.doc.NewFlow(sectionPages)
	w.looks(f, p)
	f.Break()
	w.plates(f, p)
	w.layers(f, p)
	f.Break()
}

func passText(p *Page) string {
	if len(p.Passes) == 0 {
		return p.PassNote
	}
	var out []string
	for i, pass := range p.Passes {
		var names []string
		for _, l := range pass.Layers {
			names = append(names, l.Name)
		}
		out = append(out, fmt.Sprintf("pass %d, %s: %s", i+1, pass.Set, strings.Join(names, ", ")))
	}
	return strings.Join(out, "; ")
}

// fitted is the largest size of a picture of w x h within a box.
func fitted(w, h, boxW, boxH float64) (float64, float64) {
	s := math.Min(boxW/w, boxH/h)
	return w * s, h * s
}

// looks draws the page at each angle: wide pages one below the other, upright ones beside each other after the first.
func (w *Writer) looks(f *pdfpage.Flow, p *Page) {
	f.Heading(1, fmt.Sprintf("Page %d, as it will look", p.Number), 60)
	size := fmt.Sprintf("%s × %s mm finished", mm(p.TrimMM.W), mm(p.TrimMM.H))
	f.Text(pdfpage.Style{Size: 9}, strings.TrimSpace(size+", on "+w.data.StockTitle+". "+p.LookNote))
	if len(p.Looks) == 0 || p.WidthMM <= 0 || p.HeightMM <= 0 {
		return
	}
	f.Space(2)
	const words = 6.0
	boxes := make([][2]float64, len(p.Looks)) // sizes
	free := f.Bottom() - f.Y
	across := p.HeightMM > p.WidthMM
	for i := range boxes {
		switch n := float64(len(boxes)); {
		case !across:
			boxes[i] = [2]float64{f.Width(), free/n - words - 1}
		case i == 0 && len(boxes) > 1:
			boxes[i] = [2]float64{f.Width(), free*.6 - words}
		case len(boxes) > 1:
			boxes[i] = [2]float64{(f.Width() - 4*(n-2)) / (n - 1), free*.4 - words - 2}
		default:
			boxes[i] = [2]float64{f.Width(), free - words}
		}
	}
	x := f.Margin
	rowHeight := 0.0
	for i, l := range p.Looks {
		width, height := fitted(p.WidthMM, p.HeightMM, boxes[i][0], boxes[i][1])
		width, height = math.Min(width, p.WidthMM), math.Min(height, p.HeightMM) // no larger than it is
		scale := width / p.WidthMM
		f.Page.Figure(fmt.Sprintf("The look of page %d, %s", p.Number, l.Words), x, f.Y, width, height, func() {
			f.Page.Picture(x, f.Y, width, height, l.Picture)
		}, func() {
			st := pdfpage.Style{Size: 8}
			f.Page.Text(x, f.Y+height+3.6, st, w.doc.Shorten(st, fmt.Sprintf("%s, %.0f %% of its size", l.Words, scale*100), math.Max(boxes[i][0], 40)))
		})
		f.Page.Artifact(func() {
			f.Page.Op("q [2 2] 0 d")
			f.Page.Frame(x+p.TrimMM.X*scale, f.Y+p.TrimMM.Y*scale, p.TrimMM.W*scale, p.TrimMM.H*scale, .5, .3)
			f.Page.Op("Q")
		})
		rowHeight = math.Max(rowHeight, height+words)
		if across && i > 0 && i < len(p.Looks)-1 {
			x += boxes[i][0] + 4
			continue
		}
		f.Y += rowHeight
		x, rowHeight = f.Margin, 0
	}
}

// plates draws each plate with its name and how much of the page it covers, two or three beside each other.
func (w *Writer) plates(f *pdfpage.Flow, p *Page) {
	f.Heading(1, fmt.Sprintf("Page %d, plate by plate", p.Number), 40)
	if len(p.Plates) == 0 {
		f.Text(pdfpage.Style{Size: 9}, "No toner lies on this page.")
		return
	}
	words := "Black is full toner. Percentages are of the finished size."
	if len(p.Passes) == 0 {
		words += " " + p.PassNote
	}
	f.Text(pdfpage.Style{Size: 9}, words)
	cols := []float64{58, 34, 30, 30, 28}
	head := []pdfpage.Cell{{Text: "Toner", Width: cols[0]}, {Text: "Kind", Width: cols[1]}, {Text: "Mean tint", Width: cols[2], Right: true},
		{Text: "Area with toner", Width: cols[3], Right: true}, {Text: "Largest tint", Width: cols[4], Right: true}}
	f.Table(8.5, head, func() {
		for i := range p.Plates {
			l := &p.Plates[i]
			f.Row(pdfpage.Cell{Text: l.Name, Width: cols[0], Chip: &l.Colour}, pdfpage.Cell{Text: l.Kind, Width: cols[1]},
				pdfpage.Cell{Text: percent(l.Coverage), Width: cols[2], Right: true}, pdfpage.Cell{Text: percent(l.Area), Width: cols[3], Right: true},
				pdfpage.Cell{Text: percent(l.Most), Width: cols[4], Right: true})
		}
	})
	f.Space(4)
	n := 2
	if p.HeightMM > p.WidthMM || len(p.Plates) > 6 {
		n = 3
	}
	const gap = 5.0
	box := (f.Width() - gap*float64(n-1)) / float64(n)
	st := pdfpage.Style{Size: 8, Bold: true}
	captions := make([][]string, len(p.Plates))
	below := 7.0
	for i := range p.Plates {
		l := &p.Plates[i]
		if captions[i] = w.caption(st, l.Name, ", mean "+percent(l.Coverage), box); l.Picture != nil && len(captions[i]) > 1 {
			below = 10.3
		}
	}
	col := 0
	for i := range p.Plates {
		l := &p.Plates[i]
		if l.Picture == nil {
			continue
		}
		width, height := fitted(p.WidthMM, p.HeightMM, box, 80)
		if col == 0 {
			f.Need(height + below)
		}
		x := f.Margin + float64(col)*(box+gap)
		f.Page.Figure(fmt.Sprintf("Plate %s of page %d", l.Name, p.Number), x, f.Y, width, height, func() { f.Page.Picture(x, f.Y, width, height, l.Picture) }, func() {
			for k, line := range captions[i] {
				f.Page.Text(x, f.Y+height+3.6+float64(k)*3.3, st, line)
			}
		})
		f.Page.Artifact(func() { f.Page.Frame(x, f.Y, width, height, .5, .25) })
		if col++; col == n {
			col = 0
			f.Y += height + below
		}
	}
	if col > 0 {
		_, height := fitted(p.WidthMM, p.HeightMM, box, 80)
		f.Y += height + below
	}
}

// caption is a name with words after it, in two lines at most. A longer name loses its middle: names of a job often differ by
// their ends.
func (w *Writer) caption(st pdfpage.Style, name, words string, width float64) []string {
	runes := []rune(name)
	if n := len(runes); n > 120 { // more than two lines of any column hold
		runes = append(runes[:60:60], runes[n-60:]...)
		name = string(runes[:60]) + "…" + string(runes[60:])
	}
	for cut := 0; ; cut += 2 {
		if cut > 0 {
			keep := max(len(runes)-cut, 0)
			name = string(runes[:(keep+1)/2]) + "…" + string(runes[len(runes)-keep/2:])
		}
		if lines := w.doc.Wrap(st, name+words, width); len(lines) <= 2 || cut >= len(runes) {
			return lines[:min(len(lines), 2)]
		}
	}
}

// layers draws the passes as stacks: what lies lowest is laid first.
func (w *Writer) layers(f *pdfpage.Flow, p *Page) {
	if len(p.Passes) == 0 {
		return
	}
	const row, across = 6.5, 2
	var tall []int // layers of the tallest stack, by row of stacks
	all := 8.0
	for i, pass := range p.Passes {
		if i%across == 0 {
			tall = append(tall, 0)
			all += 16
		}
		if more := len(pass.Layers) - tall[i/across]; more > 0 {
			tall[i/across] += more
			all += float64(more) * row
		}
	}
	f.Heading(2, fmt.Sprintf("Page %d, how it is laid", p.Number), math.Min(all, f.Bottom()-f.Margin-15))
	f.Text(pdfpage.Style{Size: 8}, "The lowest toner touches the sheet first. Thickness is that of a solid, by its mass and a usual density of its kind; heights are not to scale.")
	width := (f.Width() - 8) / across
	for i, pass := range p.Passes {
		most := tall[i/across]
		height := float64(most)*row + 16
		if i%across == 0 {
			f.Need(height)
		}
		x := f.Margin + float64(i%across)*(width+8)
		w.stack(f, x, width, most, i, pass)
		if i%across == across-1 || i == len(p.Passes)-1 {
			f.Y += height
		}
	}
}

func (w *Writer) stack(f *pdfpage.Flow, x, width float64, most, i int, pass Pass) {
	const row, bar = 6.5, 32.0
	st, head := pdfpage.Style{Size: 8}, pdfpage.Style{Size: 8.5, Bold: true}
	f.Page.Tag("P", "", func() {
		f.Page.Text(x, f.Y+3.5, head, w.doc.Shorten(head, fmt.Sprintf("Pass %d, %s", i+1, pass.Set), width))
	})
	base := f.Y + 6 + float64(most)*row
	for k := len(pass.Layers) - 1; k >= 0; k-- {
		l := pass.Layers[k]
		y := base - float64(k+1)*row
		f.Page.Artifact(func() {
			f.Page.Fill(x, y, bar, row, l.Colour)
			f.Page.Frame(x, y, bar, row, 0, .3)
		})
		f.Page.Tag("P", "", func() {
			words := fmt.Sprintf(", %.1f µm, mean %s", l.UM, percent(l.Coverage))
			f.Page.Text(x+bar+2, y+4.3, st, w.doc.Shorten(st, l.Name, width-bar-2-w.doc.Width(st, words))+words)
		})
	}
	ground := "the sheet after pass " + fmt.Sprint(i)
	if i == 0 {
		ground = w.data.StockTitle
		if w.data.StockUM > 0 {
			ground += fmt.Sprintf(", %.0f µm", w.data.StockUM)
		}
	}
	f.Page.Artifact(func() {
		f.Page.Fill(x, base, bar, row, w.data.StockColour)
		f.Page.Frame(x, base, bar, row, 0, .6)
	})
	f.Page.Tag("P", "", func() { f.Page.Text(x+bar+2, base+4.3, st, w.doc.Shorten(st, ground, width-bar-2)) })
}

func percent(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") + " %" }

func mm(v float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", math.Round(v*10)/10+0), ".0")
}
