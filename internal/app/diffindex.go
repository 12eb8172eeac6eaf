package app

import (
	"fmt"
	"image/color"
	"io"
	"path/filepath"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plates/plate"
	"laydown/internal/report"
)

// diffIndex is the file that shows the pictures of what differs.
const diffIndex = "index.html"

// writeIndex writes the page that shows the pictures.
func (d *differ) writeIndex(res *DiffResult) error {
	hex := func(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
	page := &report.Diff{First: res.FileA, Second: res.FileB, Version: Version(), More: hex(plate.MoreColour), Less: hex(plate.LessColour)}
	for i := range res.Pages {
		if p := &res.Pages[i]; !p.Same {
			page.Pages = append(page.Pages, indexPage(p))
		}
	}
	page.Verdict = fmt.Sprintf("Pages compared: %d; pages that differ: %d.", len(res.Pages), len(page.Pages))
	path := filepath.Join(d.req.Out, diffIndex)
	if err := writeFile(path, func(w io.Writer) error { return report.WriteDiff(w, page) }); err != nil {
		return err
	}
	d.results.add(path)
	res.Index = diffIndex
	return nil
}

func indexPage(p *DiffPage) report.DiffPage {
	out := report.DiffPage{Number: p.Page, Picture: p.Picture, Sheets: p.Sheets}
	switch {
	case p.In == InA:
		out.Remarks = []string{"Only the first file has this page."}
	case p.In == InB:
		out.Remarks = []string{"Only the second file has this page."}
	case p.SizeA != p.SizeB:
		out.Remarks = []string{fmt.Sprintf("The sizes differ: first %.1f × %.1f mm, second %.1f × %.1f mm.", p.SizeA.W, p.SizeA.H, p.SizeB.W, p.SizeB.H)}
	case p.TrimA != p.TrimB:
		out.Remarks = []string{fmt.Sprintf("The trims differ: first %.1f × %.1f mm, second %.1f × %.1f mm, or elsewhere on the page.",
			p.TrimA.W, p.TrimA.H, p.TrimB.W, p.TrimB.H)}
	}
	for i := range p.Plates {
		if q := &p.Plates[i]; !q.Same {
			out.Plates = append(out.Plates, report.DiffPlate{Name: q.Colourant, Picture: q.Picture, Text: plateText(q)})
		}
	}
	return out
}

// plateText says by how much and where a plate differs.
func plateText(q *DiffPlate) string {
	text := fmt.Sprintf("Differs on %.3g %% of the page, by up to %.3g %%.", q.Share, q.Worst)
	switch q.In {
	case InA:
		text += " Only the first file has this colourant."
	case InB:
		text += " Only the second file has this colourant."
	}
	if q.Twin != "" {
		text += fmt.Sprintf(" The other file's %q has the very same plate: it may only have been renamed.", q.Twin)
	}
	var places []string
	for _, b := range q.Boxes {
		places = append(places, place(b))
	}
	return text + " Where: " + strings.Join(places, "; ") + "."
}

func place(b finding.BoxMM) string {
	return fmt.Sprintf("%.1f × %.1f mm, %.1f mm from the left and %.1f mm from the top", b.W, b.H, b.X, b.Y)
}
