package app

import (
	"context"
	"fmt"
	"path/filepath"

	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// PlatesRequest says which plates to write.
type PlatesRequest struct {
	File     string
	Setup    *Setup
	Out      string // folder
	Pages    string
	DPI      float64
	TIFF     bool // one file of all plates a page, else one PNG a plate
	Compress bool // TIFF only
	Box      Box
	AsViewer bool
	Progress Progress
	Timer    *instrument.Timer
}

// PlatesIndex is plates.json.
type PlatesIndex struct {
	File     string            `json:"file"`
	Pages    []PlatesPage      `json:"pages"`
	Findings []finding.Finding `json:"findings"` // what reading and painting met
}

// PlatesPage are the plates of one page.
type PlatesPage struct {
	Page   int          `json:"page"`
	Width  int          `json:"width"`
	Height int          `json:"height"`
	DPI    float64      `json:"dpi"`
	Plates []PlateEntry `json:"plates"`
}

// PlateEntry is one plate. Coverage is its mean tint in percent over the whole box.
type PlateEntry struct {
	Colourant string  `json:"colourant"`
	Kind      string  `json:"kind"`
	File      string  `json:"file"` // relative to plates.json; "" when the plate has no toner and no file was made
	Coverage  float64 `json:"coverage"`
}

// WritePlates separates pages and writes plates and Out/plates.json.
func WritePlates(ctx context.Context, req PlatesRequest) (*PlatesIndex, error) {
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	pages, err := ParsePages(req.Pages, art.Doc.NumPages())
	if err != nil {
		return nil, err
	}
	w := &platesWriter{req: req, art: art}
	index, err := w.write(ctx, pages)
	if err != nil {
		w.results.undo()
		return nil, err
	}
	return index, nil
}

// platesWriter writes the pages of one request.
type platesWriter struct {
	req     PlatesRequest
	art     *Artwork
	results results
}

func (w *platesWriter) write(ctx context.Context, pages []int) (*PlatesIndex, error) {
	if err := w.results.folder(w.req.Out); err != nil {
		return nil, err
	}
	index := &PlatesIndex{File: w.art.Name(), Pages: []PlatesPage{}, Findings: []finding.Finding{}}
	for i, n := range pages {
		w.req.Progress.tell("page", i, len(pages))
		entry, fs, err := w.page(ctx, n)
		if err != nil {
			return nil, err
		}
		index.Pages = append(index.Pages, *entry)
		index.Findings = append(index.Findings, fs...)
	}
	w.req.Progress.tell("page", len(pages), len(pages))
	index.Findings = append(index.Findings, w.art.Findings.Sorted()...)
	finding.Sort(index.Findings)
	return index, writeJSON(filepath.Join(w.req.Out, "plates.json"), index)
}

func (w *platesWriter) page(ctx context.Context, n int) (*PlatesPage, []finding.Finding, error) {
	req := w.req
	sh, err := w.art.Read(ctx, req.Setup, n, ReadOptions{AsViewer: req.AsViewer, Timer: req.Timer})
	if err != nil {
		return nil, nil, err
	}
	region := req.Box.Region(&sh.List.Page)
	if err := checkSize(region, req.DPI); err != nil {
		return nil, nil, err
	}
	means := &plate.Means{}
	var sink plate.Sink
	var files func(i int) string // path of plate i
	if req.TIFF {
		path := filepath.Join(req.Out, fmt.Sprintf("page-%d.tif", n))
		sink = &plate.TIFFWriter{Path: path, Compress: req.Compress}
		files = func(int) string { return path }
	} else {
		png := &plate.PNGWriter{Dir: req.Out, Prefix: fmt.Sprintf("p%d-", n), Empty: true}
		sink = png
		files = func(i int) string { return png.Files[i] }
	}
	defer plate.Abort(sink)
	if err := paint.Render(ctx, sh.paintJob(region, req.DPI, req.Timer), plate.Tee(means, sink)); err != nil {
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		return nil, nil, unwritable(req.Out, err)
	}
	width, height := paint.Size(region, req.DPI)
	page := &PlatesPage{Page: n, Width: width, Height: height, DPI: req.DPI}
	for i, c := range sh.Target.Set.All() {
		path := files(i)
		w.results.add(path)
		page.Plates = append(page.Plates, PlateEntry{Colourant: c.Name, Kind: c.Kind.String(), File: filepath.Base(path), Coverage: means.Percent[i]})
	}
	return page, sh.Findings.Sorted(), nil
}

// writeStack writes the plates of a stack in memory as PNG files; prefix is put before their names in the index.
func (r *results) writeStack(st *plate.Stack, dir, prefix string, n int) (*PlatesPage, error) {
	means := &plate.Means{}
	w := &plate.PNGWriter{Dir: dir, Prefix: fmt.Sprintf("p%d-", n), Empty: false}
	defer plate.Abort(w)
	if err := st.Replay(plate.Tee(means, w), 128); err != nil {
		return nil, unwritable(dir, err)
	}
	page := &PlatesPage{Page: n, Width: st.Width, Height: st.Height, DPI: st.DPI}
	for i, c := range st.Set.All() {
		e := PlateEntry{Colourant: c.Name, Kind: c.Kind.String(), Coverage: means.Percent[i]}
		if path := w.Files[i]; path != "" {
			e.File = prefix + filepath.Base(path)
			r.add(path)
		}
		page.Plates = append(page.Plates, e)
	}
	return page, nil
}
