package starter

import (
	"fmt"
	"io"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/handover/pdfpage"
	"laydown/internal/press"
)

// exported are the settings asked of an export: common practice, no source.
var exported = []string{
	"Export as PDF/X-4, or as PDF 1.6 or later with transparency left as it is, not flattened.",
	"No colour conversion: spot colours stay spot colours, numbers of process colours stay as they are.",
	"No down-sampling of pictures; lossless compression, 300 ppi and more at their size, line art 1200 ppi.",
	"Overprint as drawn: neither simulated nor discarded.",
	"All fonts embedded; layers kept with their names.",
	"Bleed of 3 mm on all sides and the trim box set to the finished size; no marks, bars or notes within the bleed.",
}

// drawn is how special toners are drawn: common practice, no source.
var drawn = []string{
	"A toner that lies under or over others (white below colours, clear above all) is an object of its own, on a layer of its own, and overprints.",
	"Draw white under colours a little smaller than they are, so that it does not show at their edges.",
	"What lies in several toners at once is set to overprint; what is to stay free of one is knocked out of it.",
	"Never draw in a stand-in colour: only the named colourant reaches its toner.",
}

// WriteSheet writes the set-up sheet for designers: names, stand-in colours, tints, smallest sizes, export settings.
func WriteSheet(w io.Writer, p *press.Press, intent *pdfpage.Intent) error {
	doc, err := pdfpage.New(w, pdfpage.Info{Title: "Setting up artwork for " + p.Title, Intent: intent})
	if err != nil {
		return err
	}
	f := doc.NewFlow(0)
	f.Margin = 13
	// The sheet is one page for up to some 25 toners; smaller type makes room for more.
	size := 8.5
	if n := len(p.Toners) + len(p.Mixes); n > 12 {
		size = max(5.5, 8.5-float64(n-12)*.25)
	}
	text := pdfpage.Style{Size: size}
	f.Heading(1, "Setting up artwork for "+p.Title, 30)
	f.Text(text, "Name each special colour as it stands here, letter for letter: capitals and blanks count. Give it the stand-in colour beside it as a spot colour, so that it shows on a screen. "+
		fmt.Sprintf("The press prints %g dpi on sheets of up to %g × %g mm.", float64(p.Resolution), float64(p.Sheet.Width), float64(p.Sheet.Height)))
	f.Space(1.5)
	widths := []float64{43, 24, 32, 37, 16, 16, 16}
	cells := func(texts ...string) []pdfpage.Cell {
		out := make([]pdfpage.Cell, len(widths))
		for i := range out {
			out[i] = pdfpage.Cell{Width: widths[i], Heads: i == 0}
			if i < len(texts) {
				out[i].Text = texts[i]
			}
		}
		return out
	}
	f.Table(size, cells("Name", "Kind", "Stand-in C M Y K", "Tints", "Line", "Gap", "Type"), func() { rows(f, p, cells) })
	f.Space(1)
	f.Text(pdfpage.Style{Size: size - 1}, "Line and gap: the thinnest printed and the thinnest left free; type: the smallest. Finer detail may be lost or close up. Lengths are those of the press definition, or usual ones of the kind.")
	f.Sizes[1] = 10.5
	list := func(title string, lines []string) {
		f.Heading(2, title, 10)
		f.List(text, false, lines)
	}
	list("Special toners", append(drawn[:len(drawn):len(drawn)], own(p)...))
	list("Amount of toner", []string{fmt.Sprintf("At most %g %% in one place in a pass and %g %% in all, averaged over %g mm².", float64(p.Pile.PerPass), float64(p.Pile.Sum), float64(p.Pile.Area)),
		fmt.Sprintf("Toners of one pass lie within %g mm of each other, those of two passes within %g mm: keep outlines that meet apart or overlapping by more.", float64(p.Register.Within), float64(p.Register.Between))})
	list("Export", exported)
	f.Text(pdfpage.Style{Size: size - 1}, "Settings and advice without another source are common practice of the trade. The print provider, the press maker and the data sheets have the last word.")
	f.Break()
	return doc.Close()
}

// rows has a row of the table for each toner and mix.
func rows(f *pdfpage.Flow, p *press.Press, cells func(...string) []pdfpage.Cell) {
	for i := range p.Toners {
		t := &p.Toners[i]
		held := t.FinestHeld()
		f.Row(cells(t.Name, t.Kind.String(), inks(t.StandIn), tints(t), size2(held.Line), size2(held.Reversed), points(held.Type))...)
	}
	for i := range p.Mixes {
		m := &p.Mixes[i]
		var parts []string
		for _, x := range m.Parts {
			parts = append(parts, fmt.Sprintf("%s %g %%", x.Toner, float64(x.Tint)))
		}
		f.Row(cells(m.Name, "mix", inks(m.StandIn), "of "+strings.Join(parts, ", "))...)
	}
}

// own is what the definition itself asks of its toners.
func own(p *press.Press) (out []string) {
	var over []string
	for i := range p.Toners {
		t := &p.Toners[i]
		if t.MustOverprint {
			over = append(over, t.Name)
		}
		if len(t.NeverOn) > 0 {
			out = append(out, fmt.Sprintf("%s never lies on or under %s.", t.Name, strings.Join(t.NeverOn, ", ")))
		}
		if t.Kind != colourant.Process {
			for _, c := range t.Cautions {
				out = append(out, t.Name+": "+c)
			}
		}
	}
	if over != nil {
		out = append([]string{"Always overprints: " + strings.Join(over, ", ") + "."}, out...)
	}
	return out
}

func inks(c [4]press.Percent) string {
	return fmt.Sprintf("%g / %g / %g / %g", float64(c[0]), float64(c[1]), float64(c[2]), float64(c[3]))
}

func tints(t *press.Toner) string {
	least, most, advised := t.Tint.Held()
	if !t.Tint.Tints() {
		return "solid only"
	}
	s := fmt.Sprintf("%g to %g %%", float64(least), float64(most))
	if advised > 0 {
		s += fmt.Sprintf(", best %g %%", float64(advised))
	}
	return s
}

func size2(l press.Length) string { return fmt.Sprintf("%.2f mm", float64(l)) }

func points(l press.Length) string { return fmt.Sprintf("%.1f pt", float64(l)*72/25.4) }
