package app

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"runtime"

	"laydown/internal/artwork/colour"
	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/limits"
	"laydown/internal/look"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// plainStock is what artwork is shown on when no stock was named.
const plainStock = "white-matt"

func (s *Setup) stock() (*press.Stock, error) {
	if s.Stock != nil {
		return s.Stock, nil
	}
	return press.FindStock(plainStock)
}

// model builds the appearance of a page: the toners of its passes in laydown order, then what no
// pass prints. Without a press, process toners lie first and each spot is shown as its stand-in colour.
func (s *Setup) model(p *check.Page) (*look.Model, []look.Layer, error) {
	stock, err := s.stock()
	if err != nil {
		return nil, nil, err
	}
	var layers []look.Layer
	if s.Press != nil && len(p.Passes) > 0 {
		layers, _ = look.LayersFromPasses(s.Press, p.Passes, p.Plates.Set)
	} else {
		layers, err = s.guessedLayers(p)
		if err != nil {
			return nil, nil, err
		}
	}
	if len(layers) > limits.MaxLookToners {
		layers = layers[:limits.MaxLookToners]
	}
	side := press.Front
	if p.List.Page.Number%2 == 0 {
		side = press.Back
	}
	m, err := look.NewModel(stock, side, layers)
	return m, layers, err
}

// guessedLayers are the plates with toner in plate order, with the press's toner of that name, or the
// trade's process toner, or a toner looking like the stand-in colour.
func (s *Setup) guessedLayers(p *check.Page) ([]look.Layer, error) {
	known := s.Press
	if known == nil {
		var err error
		if known, err = press.FindPress(press.PressNames()[0]); err != nil {
			return nil, err
		}
	}
	var layers []look.Layer
	for i, c := range p.Plates.Set.All() {
		if !hasToner(p.Plates.Plane(i)) {
			continue
		}
		t, ok := known.Toner(c.Name)
		if !ok || s.Press == nil && c.Kind != colourant.Process {
			t = standInToner(p, s.conv, c.Name)
		}
		layers = append(layers, look.Layer{Toner: t, Plate: i})
	}
	return layers, nil
}

// standInToner makes a toner that looks as the artwork's alternate colour says.
func standInToner(p *check.Page, conv *colour.Converter, name string) *press.Toner {
	t := &press.Toner{Name: name, Kind: colourant.Spot}
	for _, n := range p.List.Names {
		if n.Name != name {
			continue
		}
		for _, sp := range n.Spaces {
			if sep, ok := sp.(*colour.Separation); ok && sep.Components() == 1 {
				c := conv.CMYK(sep, []float64{1}, colour.RelativeColorimetric)
				for k := range c {
					t.StandIn[k] = press.Percent(c[k] * 100)
				}
				return t
			}
		}
	}
	t.StandIn = [4]press.Percent{0, 0, 0, 50}
	return t
}

// picture shows a page's plates on its stock, reduced by a whole factor.
func picture(m *look.Model, st *plate.Stack, reduce int) (*image.RGBA, error) {
	sink := look.NewPictureSink(m, runtime.GOMAXPROCS(0))
	sink.Reduce = reduce
	if err := st.Replay(sink, 128); err != nil {
		return nil, err
	}
	return sink.Image(), nil
}

// LookRequest says which picture to make.
type LookRequest struct {
	File  string
	Setup *Setup
	Out   string
	Page  int
	DPI   float64
	Box   Box
	Timer *instrument.Timer
}

// LookResult tells what the picture shows.
type LookResult struct {
	File     string            `json:"file"`
	Page     int               `json:"page"`
	Stock    string            `json:"stock"`
	DPI      float64           `json:"dpi"`
	Width    int               `json:"width"`
	Height   int               `json:"height"`
	Laydown  []string          `json:"laydown"` // first laid first
	Findings []finding.Finding `json:"findings"`
}

// WriteLook writes the picture of one page.
func WriteLook(ctx context.Context, req LookRequest) (*LookResult, error) {
	if err := singleOutput(req.File, req.Out); err != nil {
		return nil, err
	}
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	sh, err := art.Read(ctx, req.Setup, req.Page, ReadOptions{Timer: req.Timer})
	if err != nil {
		return nil, err
	}
	region := req.Box.Region(&sh.List.Page)
	st, err := sh.stack(ctx, region, req.DPI, req.Timer)
	if err != nil {
		return nil, err
	}
	page := sh.checkPage(req.Setup, st, region)
	m, layers, err := req.Setup.model(page)
	if err != nil {
		return nil, cannot(err, "name another stock or press", "the look of page %d cannot be made: %v", req.Page, err)
	}
	end := req.Timer.Start("look")
	img, err := picture(m, st, 1)
	end()
	if err != nil {
		return nil, err
	}
	if err := writeFile(req.Out, func(w io.Writer) error { return png.Encode(w, img) }); err != nil {
		return nil, err
	}
	stock, err := req.Setup.stock()
	if err != nil {
		return nil, err
	}
	res := &LookResult{File: req.Out, Page: req.Page, Stock: stock.Title, DPI: st.DPI, Width: st.Width, Height: st.Height,
		Laydown: []string{}, Findings: sh.allFindings(art)}
	for _, l := range layers {
		res.Laydown = append(res.Laydown, l.Toner.Name)
	}
	return res, nil
}

// css writes an sRGB colour.
func css(c [3]uint8) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }
