package app

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"path/filepath"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/plates/plate"
)

// longestPicture bounds the sides of a plate in the pictures, in pixels: all plates of a page are drawn in one go.
const longestPicture = 1200

// sheetsDPI is the resolution of pictures of the printed sheets: a little larger than life on most screens.
const sheetsDPI = 150

// pictureMarginMM is shown round what differs.
const pictureMarginMM = 4

// boxesMM are pixel rectangles in millimetres.
func boxesMM(boxes []image.Rectangle, at func(x, y float64) PointMM) []finding.BoxMM {
	out := make([]finding.BoxMM, len(boxes))
	for i, r := range boxes {
		from, to := at(float64(r.Min.X), float64(r.Min.Y)), at(float64(r.Max.X), float64(r.Max.Y))
		out[i] = finding.BoxMM{X: from.X, Y: from.Y, W: round2(to.X - from.X), H: round2(to.Y - from.Y)}
	}
	return out
}

// pictures paints a page that differs once more and draws where.
func (d *differ) pictures(ctx context.Context, p *DiffPage, c *plate.Comparison, pair *sheetPair) error {
	margin := int(pictureMarginMM / 25.4 * d.req.DPI)
	pics := &plate.Pictures{Limit: d.limit, Longest: longestPicture}
	var which []int // plates of c shown
	for i := range c.Plates {
		q := &c.Plates[i]
		if q.Pixels == 0 {
			continue
		}
		var box image.Rectangle
		for _, r := range q.Boxes {
			box = box.Union(r)
		}
		pics.Plates = append(pics.Plates, plate.PlatePicture{IndexA: q.IndexA, IndexB: q.IndexB, Box: box.Inset(-margin)})
		which = append(which, i)
	}
	if err := pair.walk(ctx, pics, true); err != nil {
		return err
	}
	defer d.req.Timer.Start("write pictures")()
	p.Picture = fmt.Sprintf("page-%d.png", p.Page)
	if err := d.picture(p.Picture, pics.Page); err != nil {
		return err
	}
	if d.req.Sheets {
		p.Sheets = fmt.Sprintf("page-%d-sheets.png", p.Page)
		path := filepath.Join(d.req.Out, p.Sheets)
		if _, err := WriteLook(ctx, LookRequest{File: d.b.Path, Beside: d.a.Path, Setup: d.req.Setup, Page: p.Page, DPI: sheetsDPI, Box: BoxWork, Out: path}); err != nil {
			return err
		}
		d.results.add(path)
	}
	names := pictureNames(c.Plates)
	for k, i := range which {
		p.Plates[i].Picture = fmt.Sprintf("page-%d-%s.png", p.Page, names[i])
		if err := d.picture(p.Plates[i].Picture, pics.Plates[k].Image); err != nil {
			return err
		}
	}
	return nil
}

// pictureNames are parts of file names for the colourants of both pages.
func pictureNames(plates []plate.ComparedPlate) []string {
	var all []colourant.Colourant
	for i := range plates {
		all = append(all, colourant.Colourant{Name: plates[i].Name})
	}
	return plate.FileNames(colourant.NewSet(all...))
}

func (d *differ) picture(name string, img image.Image) error {
	path := filepath.Join(d.req.Out, name)
	if err := writeFile(path, func(w io.Writer) error { return png.Encode(w, img) }); err != nil {
		return err
	}
	d.results.add(path)
	return nil
}
