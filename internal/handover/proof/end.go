package proof

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/handover/pdfpage"
)

// signed are what a person puts their name to.
var signed = []string{"Names, spelling, sizes and quantity", "Colours, special toners and where they lie", "Cutting, folding and other finishing", "Released for printing"}

// Close writes the cover, the findings and the lines to sign on, and ends the file.
func (w *Writer) Close(e *End) error {
	w.cover(e)
	w.small(e.Small)
	f := w.doc.NewFlow(sectionEnd)
	w.findings(f, e)
	if len(e.Cautions) > 0 {
		f.Heading(2, "Take care", 12)
		f.List(pdfpage.Style{Size: 9}, false, e.Cautions)
	}
	w.sign(f)
	f.Break()
	return w.doc.Close()
}

// maxCoverPasses are told page by page on the cover; the pages tell theirs all the same.
const maxCoverPasses = 12

func (w *Writer) cover(e *End) {
	f := w.doc.NewFlow(sectionCover)
	f.Heading(1, w.data.Title, 40)
	f.Text(pdfpage.Style{Size: 11, Bold: true}, "A calculated picture, no contract proof.")
	f.Text(pdfpage.Style{Size: 9}, "Colours on a screen or another printer differ from those of the press. Metal, clear and glowing toners change with the light, "+
		"which no picture shows. Where colour or effect decides, ask the print provider for a printed proof on the real stock.")
	if w.data.Note != "" {
		f.Text(pdfpage.Style{Size: 9}, w.data.Note)
	}
	for _, words := range e.Long {
		f.Text(pdfpage.Style{Size: 9}, words)
	}
	f.Space(4)
	f.Table(9.5, nil, func() { w.facts(f, e) })
	f.Break()
}

func (w *Writer) facts(f *pdfpage.Flow, e *End) {
	row := func(name, text string) {
		f.Row(pdfpage.Cell{Text: name, Width: 42, Heads: true}, pdfpage.Cell{Text: text, Width: f.Width() - 42})
	}
	for _, fact := range w.data.Facts {
		row(fact.Name, fact.Text)
	}
	for i, told := 0, 0; i < len(w.pages); told++ {
		if told == maxCoverPasses {
			row("Further pages", fmt.Sprintf("The passes of %d more pages in full stand with their plates.", len(w.pages)-i))
			break
		}
		same := []int{}
		for text := w.pages[i].text; i < len(w.pages) && w.pages[i].text == text; i++ {
			same = append(same, w.pages[i].page)
		}
		name := "Passes, page "
		if len(same) > 1 {
			name = "Passes, pages "
		}
		row(name+finding.PageList(same), w.pages[i-1].text)
	}
	verdict := "Nothing stands against printing"
	if !e.Clean {
		verdict = "Not ready to print"
	}
	row("Checked", fmt.Sprintf("%s: %s.", verdict, counts(e.Findings)))
}

func counts(fs []finding.Finding) string {
	if words := finding.Counts(fs); words != "" {
		return words
	}
	return "no findings"
}

// maxTold findings are written out one by one; a proof of hundreds of pages of them is read by nobody. The rest are told by kind.
const maxTold = 200

// findings lists what is left, page by page, with a key drawing of where it lies; on pages that are not shown in full, kind by kind.
func (w *Writer) findings(f *pdfpage.Flow, e *End) {
	f.Heading(1, "What is left to know", 20)
	if len(e.Findings) == 0 {
		f.Text(pdfpage.Style{Size: 9.5}, "The checks found nothing.")
		return
	}
	var told, rest []finding.Finding
	for _, v := range e.Findings {
		_, full := w.trims[v.Place.Page]
		if (full || v.Place.Page == 0 || len(e.Small) == 0) && len(told) < maxTold {
			told = append(told, v)
		} else {
			rest = append(rest, v)
		}
	}
	for i := 0; i < len(told); {
		n := i
		for n < len(told) && told[n].Place.Page == told[i].Place.Page {
			n++
		}
		page := told[i].Place.Page
		if page == 0 {
			f.Heading(2, "The whole file", 16)
		} else {
			f.Heading(2, fmt.Sprintf("Page %d", page), 16)
			w.key(f, page, told[i:n])
		}
		for k := i; k < n; k++ {
			w.finding(f, k-i+1, &told[k])
		}
		i = n
	}
	w.kinds(f, rest)
}

// kinds lists findings by what they are, each kind with its pages.
func (w *Writer) kinds(f *pdfpage.Flow, fs []finding.Finding) {
	if len(fs) == 0 {
		return
	}
	f.Heading(2, "Told by kind", 16)
	f.Text(pdfpage.Style{Size: 8.5}, "Each kind is told by its first finding; the check and findings.json hold every one.")
	for _, k := range finding.Kinds(fs) {
		v := k.First()
		var below []string
		if len(k.Pages) > 0 {
			below = append(below, fmt.Sprintf("%d in all, on %s %s", len(k.All), pagesWord(len(k.Pages)), finding.PageList(k.Pages)))
		}
		if v.Remedy != "" {
			below = append(below, "What to do: "+v.Remedy)
		}
		together(f, fmt.Sprintf("%s: %s", v.Severity, v.What), below)
	}
}

func pagesWord(n int) string {
	if n == 1 {
		return "page"
	}
	return fmt.Sprintf("%d pages:", n)
}

func (w *Writer) finding(f *pdfpage.Flow, n int, v *finding.Finding) {
	times := ""
	if v.Count > 1 {
		times = fmt.Sprintf(" (%d times)", v.Count)
	}
	var below []string
	if place := where(v.Place); place != "" {
		below = append(below, "Where: "+place)
	}
	if v.Remedy != "" {
		below = append(below, "What to do: "+v.Remedy)
	}
	together(f, fmt.Sprintf("%d · %s: %s%s", n, v.Severity, v.What, times), below)
}

// together sets a finding on one page, unless it is longer than half of one.
func together(f *pdfpage.Flow, head string, below []string) {
	bold, small := pdfpage.Style{Size: 9.5, Bold: true}, pdfpage.Style{Size: 8.5}
	high := f.Height(bold, head)
	for _, b := range below {
		high += f.Height(small, b)
	}
	f.Need(math.Min(high, (f.Bottom()-f.Margin)/2))
	f.Text(bold, head)
	for _, b := range below {
		f.Text(small, b)
	}
	f.Space(1.5)
}

func where(p finding.Place) string {
	var parts []string
	if b := p.Box; b != nil {
		parts = append(parts, fmt.Sprintf("%s mm from the left, %s mm from the top of the trim, %s × %s mm", mm(b.X), mm(b.Y), mm(b.W), mm(b.H)))
	}
	if p.Layer != "" {
		parts = append(parts, "layer “"+p.Layer+"”")
	}
	return strings.Join(parts, "; ")
}

// key draws the trim of a page with the places of its findings and their numbers.
func (w *Writer) key(f *pdfpage.Flow, page int, fs []finding.Finding) {
	trim, ok := w.trims[page]
	placed := false
	for _, v := range fs {
		placed = placed || v.Place.Box != nil
	}
	if !ok || !placed || trim.W <= 0 || trim.H <= 0 {
		return
	}
	width, height := fitted(trim.W, trim.H, 90, 60)
	f.Need(height + 8)
	scale := width / trim.W
	x0, y0 := f.Margin+3, f.Y+3
	f.Page.Tag("Figure", fmt.Sprintf("Where the findings of page %d lie on its trim", page), func() {
		f.Page.Frame(x0, y0, width, height, 0, .4)
		var labels []label
		for i, v := range fs {
			b := v.Place.Box
			if b == nil {
				continue
			}
			clamp := func(v, most float64) float64 { return math.Min(math.Max(v*scale, -3), most+3) }
			x1, y1, x2, y2 := clamp(b.X, width), clamp(b.Y, height), clamp(b.X+b.W, width), clamp(b.Y+b.H, height)
			f.Page.Frame(x0+x1, y0+y1, math.Max(x2-x1, .4), math.Max(y2-y1, .4), .35, .5)
			text := fmt.Sprint(i + 1)
			labels = append(labels, label{text, math.Min(x1+.4, width-2), math.Min(y1+.4, height), w.doc.Width(labelStyle, text) + .8})
		}
		for _, l := range spread(labels, width+3, height+3) {
			f.Page.Gray(x0+l.x, y0+l.y, l.wide, labelHeight, 1)
			f.Page.Text(x0+l.x+.4, y0+l.y+labelHeight-.3, labelStyle, l.text)
		}
	})
	f.Y += height + 8
}

// label is a number on a key drawing, by its top left corner in millimetres.
type label struct {
	text       string
	x, y, wide float64
}

const labelHeight = 2.4

var labelStyle = pdfpage.Style{Size: 6.5, Bold: true}

// spread moves labels to where none covers one before it, within a width and a height: right along their line, then down, then
// up from the bottom. Where there is no room left, they stay.
func spread(labels []label, width, height float64) []label {
	out := slices.Clone(labels)
	for i, l := range labels {
		free := func(x, y float64) bool {
			for _, o := range out[:i] {
				if x < o.x+o.wide && o.x < x+l.wide && y < o.y+labelHeight && o.y < y+labelHeight {
					return false
				}
			}
			out[i].x, out[i].y = x, y
			return true
		}
		found := free(l.x, l.y)
		for y := l.y; !found && y+labelHeight <= height; y += labelHeight / 2 {
			for x := l.x; !found && x+l.wide <= width; x += .5 {
				found = free(x, y)
			}
		}
		for y := height - labelHeight; !found && y >= 0; y -= labelHeight / 2 {
			for x := width - l.wide; !found && x >= 0; x -= .5 {
				found = free(x, y)
			}
		}
	}
	return out
}

// sign leaves lines to be signed.
func (w *Writer) sign(f *pdfpage.Flow) {
	const line = 13.0
	f.Heading(2, "Seen and released", 10+line*float64(len(signed))+12)
	f.Text(pdfpage.Style{Size: 9}, "Who signs has looked at every page of this document and knows that it is a calculated picture.")
	f.Space(2)
	for _, s := range signed {
		f.Need(line)
		f.Page.Tag("P", "", func() { f.Page.Text(f.Margin, f.Y+line-3, pdfpage.Style{Size: 9}, s) })
		f.Page.Artifact(func() {
			x := f.Margin + 75
			f.Page.Line(x, f.Y+line-2.5, f.Margin+f.Width(), f.Y+line-2.5, 0, .4)
		})
		f.Y += line
	}
	f.Page.Tag("P", "", func() {
		f.Page.Text(f.Margin+75, f.Y+1, pdfpage.Style{Size: 7}, "Date, name, signature")
	})
	f.Y += 5
}
