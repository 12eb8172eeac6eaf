package app

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"io"
	"path/filepath"

	"laydown/internal/look"
	"laydown/internal/press"
)

// LookBookRequest asks for a picture book of a press's toners.
type LookBookRequest struct {
	Press    string   // a shipped name or a file
	Stocks   []string // shipped names or files; nil = all shipped
	Out      string   // folder
	Progress Progress
}

// LookBook lists the pages of a picture book.
type LookBook struct {
	Press string         `json:"press"`
	Pages []LookBookPage `json:"pages"`
}

// LookBookPage shows all toners on one stock.
type LookBookPage struct {
	Stock string      `json:"stock"`
	File  string      `json:"file"`
	Note  string      `json:"note,omitempty"`
	Toner []TonerLook `json:"toners"`
}

// WriteLookBook writes a page for each stock, and README.md with the list of them and the figures of the toners.
func WriteLookBook(ctx context.Context, req LookBookRequest) (book *LookBook, err error) {
	p, err := FindPress(req.Press)
	if err != nil {
		return nil, err
	}
	names := req.Stocks
	if names == nil {
		names = press.StockNames()
	}
	var toners []*press.Toner
	var layers []look.Layer
	for i := range p.Toners {
		toners = append(toners, &p.Toners[i])
		layers = append(layers, look.Layer{Toner: &p.Toners[i], Plate: i})
	}
	var made results
	defer func() {
		if err != nil {
			made.undo()
		}
	}()
	if err := made.folder(req.Out); err != nil {
		return nil, err
	}
	book = &LookBook{Press: p.Title}
	for i, name := range names {
		req.Progress.tell("stock", i, len(names))
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		stock, err := FindStock(name)
		if err != nil {
			return nil, err
		}
		sw, err := look.DrawSwatches(stock, press.Front, toners)
		if err != nil {
			return nil, cannot(err, "", "the toners of %s cannot be shown on %s: %v", p.Title, stock.Title, err)
		}
		m, err := look.NewModel(stock, press.Front, layers)
		if err != nil {
			return nil, cannot(err, "", "the toners of %s cannot be shown on %s: %v", p.Title, stock.Title, err)
		}
		page := LookBookPage{Stock: stock.Title, File: stock.Name + ".png", Note: sw.Gamut.Sentence(), Toner: tonerLooks(stock, press.Front, m, layers)}
		path := filepath.Join(req.Out, page.File)
		if err := writeFile(path, func(w io.Writer) error {
			enc := png.Encoder{CompressionLevel: png.BestCompression}
			return enc.Encode(w, sw.Image)
		}); err != nil {
			return nil, err
		}
		made.add(path)
		book.Pages = append(book.Pages, page)
	}
	req.Progress.tell("stock", len(names), len(names))
	return book, writeFile(filepath.Join(req.Out, "README.md"), func(w io.Writer) error { _, err := w.Write(book.markdown()); return err })
}

// markdown is the list of pages with the figures.
func (b *LookBook) markdown() []byte {
	var w bytes.Buffer
	fmt.Fprintf(&w, "# Picture book: the toners of %s\n\n", b.Press)
	fmt.Fprintf(&w, "Calculated, not printed: a picture to judge by, no proof. A page for each stock shows every toner in tints and turned under a lamp, "+
		"and every pair: the toner of the row is laid first, the one of the column over it. Made by `laydown press book`.\n")
	for _, p := range b.Pages {
		fmt.Fprintf(&w, "\n## %s\n\n![Toners on %s](%s)\n\n", p.Stock, p.Stock, p.File)
		if p.Note != "" {
			fmt.Fprintf(&w, "Of the turned solids, %s.\n\n", p.Note)
		}
		fmt.Fprintf(&w, "| toner | known by | Lab of the solid | figures |\n|---|---|---|---|\n")
		for i := range p.Toner {
			t := &p.Toner[i]
			figures := ""
			for k, f := range t.Figures() {
				if k > 0 {
					figures += "; "
				}
				figures += f
			}
			fmt.Fprintf(&w, "| %s | %s | %.1f %.1f %.1f | %s |\n", t.Toner, t.Basis, t.OnStock[0], t.OnStock[1], t.OnStock[2], figures)
		}
	}
	return w.Bytes()
}
