package app

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"path/filepath"
	"runtime"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/instrument"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// LookRequest says which pictures to make of one page. Each file left empty is not made; at least one is wanted.
type LookRequest struct {
	File  string
	Setup *Setup
	Page  int
	DPI   float64
	Box   Box
	Part  *finding.BoxMM // from the trim; nil = the whole box
	View  LookView

	Out     string // the sheet, PNG
	Bits    int    // 8 or 16 a channel; 0 = 8
	Strip   string // the part held at several angles, PNG
	Glint   string // the sheet turned under a lamp: .png (animated) or .gif
	Amounts string // how much toner lies where, PNG
	Maps    string // surfaces for relighting
	Beside  string // another state of the artwork: Out shows this page of it and of File
	Timer   *instrument.Timer
}

// LookPicture is a file that was made.
type LookPicture struct {
	Kind   string   `json:"kind"` // sheet, strip, glint, amounts, maps or beside
	File   string   `json:"file"`
	Width  int      `json:"width"`
	Height int      `json:"height"`
	Notes  []string `json:"notes,omitempty"`
}

// LookResult tells what the pictures show.
type LookResult struct {
	Page     int               `json:"page"`
	Stock    string            `json:"stock"`
	DPI      float64           `json:"dpi"`
	Laydown  []string          `json:"laydown"` // first laid first
	Pictures []LookPicture     `json:"pictures"`
	Toners   []TonerLook       `json:"toners"`
	Notes    []string          `json:"notes,omitempty"`
	Findings []finding.Finding `json:"findings"`
}

// WriteLook makes pictures of one page. When one cannot be made, none is left behind.
func WriteLook(ctx context.Context, req LookRequest) (res *LookResult, err error) {
	for _, out := range []string{req.Out, req.Strip, req.Glint, req.Amounts, req.Maps} {
		for _, in := range []string{req.File, req.Beside} {
			if out != "" && in != "" {
				if err := singleOutput(in, out); err != nil {
					return nil, err
				}
			}
		}
	}
	v, err := req.Setup.view(ctx, req.File, req.Page, req.Timer)
	if err != nil {
		return nil, err
	}
	defer v.Close()
	p := &lookPictures{req: req, viewed: v}
	if p.model, p.layers, err = v.model(req.View); err != nil {
		return nil, err
	}
	if p.area, err = v.region(req.Part, req.Box); err != nil {
		return nil, err
	}
	p.req.DPI = v.laid.sheet.pictureDPI(p.area, req.DPI)
	defer func() {
		if err != nil {
			p.results.undo()
		}
	}()
	for _, make := range []func(context.Context) error{p.sheet, p.beside, p.strip, p.glint, p.amounts, p.maps} {
		if err := make(ctx); err != nil {
			return nil, err
		}
	}
	res = &LookResult{Page: req.Page, Stock: v.stock.Title, DPI: p.req.DPI, Laydown: p.laydown(), Pictures: p.made,
		Toners: tonerLooks(v.stock, req.View.side(req.Page), p.model, p.layers), Notes: p.model.Notes(), Findings: v.laid.sheet.allFindings(v.art)}
	return res, nil
}

// laydown is the toners shown, first laid first.
func (p *lookPictures) laydown() []string {
	names := []string{}
	for _, l := range p.layers {
		names = append(names, l.Toner.Name)
	}
	return names
}

// lookPictures makes the pictures of one request.
type lookPictures struct {
	*viewed
	req     LookRequest
	model   *look.Model
	layers  []look.Layer
	area    geom.Rect
	parts   *plate.Stack // painted when first asked for
	results results
	made    []LookPicture
}

func (p *lookPictures) add(kind, file string, w, h int, notes ...string) {
	p.results.add(file)
	made := LookPicture{Kind: kind, File: file, Width: w, Height: h}
	for _, n := range notes {
		if n != "" {
			made.Notes = append(made.Notes, n)
		}
	}
	p.made = append(p.made, made)
}

// notes travel with a picture.
func (p *lookPictures) notes() []look.Note {
	sh := p.laid.sheet
	return []look.Note{
		{Key: "Title", Text: fmt.Sprintf("%s, page %d on %s", filepath.Base(p.req.File), sh.Number, p.stock.Title)},
		{Key: "Comment", Text: "A calculated picture, no contract proof."},
		{Key: "Software", Text: "laydown"},
	}
}

// longer side of the area in millimetres.
func (p *lookPictures) longer() float64 { return max(p.area.W(), p.area.H()) / geom.PointsPerMM }

// render paints the area band by band into a sink.
func (p *lookPictures) render(ctx context.Context, sink plate.Sink) error {
	if err := checkSize(p.area, p.req.DPI); err != nil {
		return err
	}
	if p.req.View.Through {
		sink = &mirrored{to: sink}
	}
	return paint.Render(ctx, p.laid.sheet.paintJob(p.area, p.req.DPI, p.req.Timer), sink)
}

// part is the area in memory, in a lower resolution when it would not fit.
func (p *lookPictures) part(ctx context.Context) (*plate.Stack, error) {
	if p.parts != nil {
		return p.parts, nil
	}
	st, err := p.laid.sheet.stack(ctx, p.area, p.req.DPI, p.req.Timer)
	if err != nil {
		return nil, err
	}
	if p.req.View.Through {
		turned := &plate.Stack{}
		if err := st.Replay(&mirrored{to: turned}, 128); err != nil {
			return nil, err
		}
		st = turned
	}
	p.parts = st
	return st, nil
}

func (p *lookPictures) sheet(ctx context.Context) error {
	if p.req.Out == "" || p.req.Beside != "" {
		return nil
	}
	bits := p.req.Bits
	if bits == 0 {
		bits = 8
	}
	var behind *look.Behind
	notes := p.notes()
	through := ""
	if !p.req.View.Alone {
		var err error
		if behind, err = p.art.behind(ctx, p.req.Setup, p.laid, p.area, p.req.DPI, p.req.View.Backing); err != nil {
			return err
		}
		if behind != nil {
			through = showsThrough
			notes = append(notes, look.Note{Key: "Description", Text: through})
		}
	}
	var sink *look.LitSink
	err := writeFile(p.req.Out, func(w io.Writer) (err error) {
		if sink, err = look.NewLitPNG(p.model, p.req.View.light(p.longer()), w, bits, notes, runtime.GOMAXPROCS(0)); err != nil {
			return cannot(err, "choose another --lamp or --tilt", "the sheet cannot be lit: %v", err)
		}
		sink.Behind = behind
		return p.render(ctx, sink)
	})
	if err != nil {
		return stopped(ctx, err)
	}
	w, h := paint.Size(p.area, p.req.DPI)
	p.add("sheet", p.req.Out, w, h, sink.Gamut().Sentence(), through)
	return nil
}

// showsThrough is a note of pictures.
const showsThrough = "What is printed on the other side shows through the stock."

func (p *lookPictures) strip(ctx context.Context) error {
	if p.req.Strip == "" {
		return nil
	}
	st, err := p.part(ctx)
	if err != nil {
		return err
	}
	s, err := p.model.TiltStrip(st, look.StripLight(), look.StripTilts, reduction(st, stripPixels), runtime.GOMAXPROCS(0))
	if err != nil {
		return cannot(err, "choose a smaller --region or a lower --dpi", "the strip cannot be made: %v", err)
	}
	return p.image("strip", p.req.Strip, s.Image, s.Gamut.Sentence())
}

// Bounds on the longer side of a part, in pixels.
const (
	stripPixels  = 1200
	glintPixels  = 640
	amountPixels = 2400
)

func (p *lookPictures) glint(ctx context.Context) error {
	if p.req.Glint == "" {
		return nil
	}
	st, err := p.part(ctx)
	if err != nil {
		return err
	}
	a := look.MailAnimation(p.req.View.lamp(p.longer()))
	a.Reduce = reduction(st, glintPixels)
	var made *look.Animated
	switch strings.ToLower(filepath.Ext(p.req.Glint)) {
	case ".png", ".apng":
		made, err = p.model.APNG(st, a, p.notes(), runtime.GOMAXPROCS(0))
	case ".gif":
		made, err = p.model.GIF(st, a, runtime.GOMAXPROCS(0))
	default:
		return cannot(nil, "let the name end in .png or .gif", "%s is no name for an animation", p.req.Glint)
	}
	if err != nil {
		return cannot(err, "choose a smaller --region or a lower --dpi", "the animation cannot be made: %v", err)
	}
	if err := writeFile(p.req.Glint, func(w io.Writer) error { _, err := w.Write(made.Data); return err }); err != nil {
		return err
	}
	p.add("glint", p.req.Glint, made.Width, made.Height, made.Gamut.Sentence())
	return nil
}

func (p *lookPictures) amounts(ctx context.Context) error {
	if p.req.Amounts == "" {
		return nil
	}
	w, h := paint.Size(p.area, p.req.DPI)
	heat := &look.HeatSink{Reduce: (max(w, h) + amountPixels - 1) / amountPixels, Title: "all toners"}
	if p.req.Setup.Press != nil {
		heat.Limit = float64(p.req.Setup.Press.Pile.Sum)
	}
	if names := p.req.View.Only; names != nil {
		heat.Title = strings.Join(names, ", ")
		for _, n := range names {
			if i, ok := p.laid.page.Plates.Set.Lookup(n); ok {
				heat.Plates = append(heat.Plates, i)
			}
		}
		heat.Limit = 0
	}
	if err := p.render(ctx, heat); err != nil {
		return stopped(ctx, err)
	}
	note := fmt.Sprintf("at most %.0f %%", heat.Most)
	if heat.Limit > 0 {
		note += fmt.Sprintf("; %.2f %% of the area above %.0f %%", 100*heat.Over, heat.Limit)
	}
	return p.image("amounts", p.req.Amounts, heat.Image, note)
}

func (p *lookPictures) beside(ctx context.Context) error {
	if p.req.Beside == "" {
		return nil
	}
	if p.req.Out == "" {
		return cannot(nil, "name it with --out", "there is no file for the two pictures")
	}
	other, err := p.req.Setup.view(ctx, p.req.Beside, p.req.Page, p.req.Timer)
	if err != nil {
		return err
	}
	defer other.Close()
	q := &lookPictures{req: p.req, viewed: other}
	if q.model, q.layers, err = other.model(p.req.View); err != nil {
		return err
	}
	if q.area, err = other.region(p.req.Part, p.req.Box); err != nil {
		return err
	}
	var pictures [2]*image.RGBA
	var sentence string
	for i, side := range []*lookPictures{q, p} {
		sink, err := look.NewLitSink(side.model, p.req.View.light(p.longer()), runtime.GOMAXPROCS(0))
		if err != nil {
			return cannot(err, "choose another --lamp or --tilt", "the sheet cannot be lit: %v", err)
		}
		if err := side.render(ctx, sink); err != nil {
			return stopped(ctx, err)
		}
		if pictures[i] = sink.Image(); sentence == "" {
			sentence = sink.Gamut().Sentence()
		}
	}
	both, err := look.SideBySide(pictures[0], pictures[1], filepath.Base(p.req.Beside), filepath.Base(p.req.File))
	if err != nil {
		return cannot(err, "name a --region that both pages have", "the two pages cannot be set side by side: %v", err)
	}
	return p.image("beside", p.req.Out, both, sentence)
}

func (p *lookPictures) maps(ctx context.Context) error {
	if p.req.Maps == "" {
		return nil
	}
	g := look.DefaultGlint()
	info := look.MapHeader{Stock: p.stock.Name, Laydown: p.laydown(), Notes: p.model.Notes(),
		Glint: look.MapGlint{Flake: g.Flake, Spread: g.Spread, Seed: g.Seed}}
	err := writeFile(p.req.Maps, func(w io.Writer) error {
		return p.render(ctx, look.NewMapSink(p.model, w, info, runtime.GOMAXPROCS(0)))
	})
	if err != nil {
		return stopped(ctx, err)
	}
	w, h := paint.Size(p.area, p.req.DPI)
	p.add("maps", p.req.Maps, w, h)
	return nil
}

// image writes a picture held in memory.
func (p *lookPictures) image(kind, file string, img image.Image, notes ...string) error {
	if err := writeFile(file, func(w io.Writer) error { return png.Encode(w, img) }); err != nil {
		return err
	}
	p.add(kind, file, img.Bounds().Dx(), img.Bounds().Dy(), notes...)
	return nil
}

// stopped is the end of ctx where that was the reason.
func stopped(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// mirrored is a sink that hands bands on with left and right exchanged.
type mirrored struct {
	to    plate.Sink
	width int
}

func (m *mirrored) Begin(h plate.Header) error { m.width = h.Width; return m.to.Begin(h) }

func (m *mirrored) Band(b *plate.Band) error {
	turned := *b
	turned.Planes = make([][]byte, len(b.Planes))
	for i, p := range b.Planes {
		if p == nil {
			continue
		}
		q := make([]byte, b.Rows*m.width)
		for y := range b.Rows {
			from, to := p[y*m.width:(y+1)*m.width], q[y*m.width:(y+1)*m.width]
			for x, v := range from {
				to[m.width-1-x] = v
			}
		}
		turned.Planes[i] = q
	}
	return m.to.Band(&turned)
}

func (m *mirrored) End() error { return m.to.End() }
