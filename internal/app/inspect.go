package app

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/separate"
)

// InspectPage writes the facts of a page, as text or as one JSON object.
func InspectPage(ctx context.Context, file string, s *Setup, n int, asJSON bool, w io.Writer) ([]finding.Finding, error) {
	return inspect(ctx, file, s, n, func(sh *Sheet) error {
		if asJSON {
			return sh.List.WritePageJSON(w)
		}
		return sh.List.WritePage(w)
	})
}

// InspectList writes the display list of a page, as text or as one JSON object.
func InspectList(ctx context.Context, file string, s *Setup, n int, asJSON bool, w io.Writer) ([]finding.Finding, error) {
	return inspect(ctx, file, s, n, func(sh *Sheet) error {
		if asJSON {
			return sh.List.WriteJSON(w)
		}
		return sh.List.WriteText(w)
	})
}

// ListStep is one item of a display list with what it does to the plates.
type ListStep struct {
	Item   int    `json:"item"`
	Depth  int    `json:"depth"` // of the groups round it
	Kind   string `json:"kind"`
	Hidden bool   `json:"hidden,omitempty"`
	To     int    `json:"to,omitempty"` // last item of the group, for groups
	Object int    `json:"object"`
	Offset int64  `json:"offset"`
	Does   string `json:"does,omitempty"` // in words
	// Effects are empty for groups, hidden items and coloured tilings.
	Effects []StepEffect `json:"effects,omitempty"`
}

// StepEffect is what an item does to one component of the space it is painted in.
type StepEffect struct {
	Component string   `json:"component"`
	Effect    string   `json:"effect"`
	Why       string   `json:"why"`
	Tint      *float64 `json:"tint,omitempty"` // percent; absent when it is no single one, or nothing is painted
}

// InspectSteps tells what each item of a page does to each plate of the press.
func InspectSteps(ctx context.Context, file string, s *Setup, n int) (steps []ListStep, fs []finding.Finding, err error) {
	steps = []ListStep{}
	fs, err = inspect(ctx, file, s, n, func(sh *Sheet) error {
		for _, step := range sh.Target.Plan(sh.paintedList()) {
			steps = append(steps, sh.listStep(step))
		}
		return nil
	})
	return steps, fs, err
}

// paintedList is the list as the painter takes it: the space of the page group counts only where
// something blends.
func (sh *Sheet) paintedList() *displist.List {
	if sh.List.Blending {
		return sh.List
	}
	flat := *sh.List
	flat.Group = nil
	return &flat
}

func (sh *Sheet) listStep(step separate.Step) ListStep {
	it := &sh.List.Items[step.Item]
	out := ListStep{Item: step.Item, Depth: step.Depth, Kind: it.Kind.String(), Hidden: it.Hidden, Object: it.Origin.Object, Offset: it.Origin.Offset}
	switch {
	case it.Hidden:
		out.Does = "hidden, does not print"
		return out
	case it.Group != nil:
		out.To = it.Group.End - 1
		out.Does = fmt.Sprintf("to item %d", out.To)
		return out
	case step.Ink == nil:
		out.Does = "as the items of its pattern do"
		return out
	}
	names := sh.Target.ComponentNames(step.Context)
	out.Does = step.Ink.Describe(names, step.Sampled)
	for c, e := range step.Ink.Effects {
		effect := StepEffect{Component: names[c], Effect: e.String(), Why: step.Ink.Reasons[c].String()}
		if e == separate.Paint && !step.Sampled {
			tint := percent16(step.Ink.Values[c])
			effect.Tint = &tint
		}
		out.Effects = append(out.Effects, effect)
	}
	return out
}

func inspect(ctx context.Context, file string, s *Setup, n int, show func(*Sheet) error) ([]finding.Finding, error) {
	art, err := s.Open(file)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	sh, err := art.Read(ctx, s, n, ReadOptions{})
	if err != nil {
		return nil, err
	}
	if err := show(sh); err != nil {
		return nil, err
	}
	return sh.allFindings(art), nil
}

// allFindings are those of the page and of what its pages share; never nil.
func (sh *Sheet) allFindings(art *Artwork) []finding.Finding {
	return append(append([]finding.Finding{}, sh.Findings.Sorted()...), art.Findings.Sorted()...)
}

// PixelRequest asks what happened at a point.
type PixelRequest struct {
	File   string
	Setup  *Setup
	Page   int
	DPI    float64
	XMM    float64 // from the corner of the box named in From, y down
	YMM    float64
	From   Box // media, crop, trim or bleed
	Viewer bool
}

// PixelResult is the story of one pixel.
type PixelResult struct {
	Page    int          `json:"page"`
	DPI     float64      `json:"dpi"`
	X       int          `json:"x"` // pixel of the media box
	Y       int          `json:"y"`
	Touches []PixelTouch `json:"touches"`
	Plates  []PixelPlate `json:"plates"`
	Total   float64      `json:"total_area_coverage"` // percent
}

// PixelTouch is what one item did.
type PixelTouch struct {
	Item    int           `json:"item"`
	Kind    string        `json:"kind"`
	Depth   int           `json:"depth"`
	Object  int           `json:"object"`
	Offset  int64         `json:"offset"`
	Cover   float64       `json:"cover"`
	Effects []PixelEffect `json:"effects"`
}

// PixelEffect is what it did to one component of the space it was painted in.
type PixelEffect struct {
	Component string  `json:"component"`
	Effect    string  `json:"effect"`
	Why       string  `json:"why"`
	Tint      float64 `json:"tint"`   // painted, percent
	Before    float64 `json:"before"` // percent
	After     float64 `json:"after"`
}

// PixelPlate is a plate's final value.
type PixelPlate struct {
	Colourant string `json:"colourant"`
	Value     byte   `json:"value"` // 0..255
}

// InspectPixel explains the pixel under a point by the same paint code that made the plates.
func InspectPixel(ctx context.Context, req PixelRequest) (*PixelResult, error) {
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	sh, err := art.Read(ctx, req.Setup, req.Page, ReadOptions{AsViewer: req.Viewer})
	if err != nil {
		return nil, err
	}
	return sh.pixel(ctx, req)
}

// pixel explains one pixel of a sheet.
func (sh *Sheet) pixel(ctx context.Context, req PixelRequest) (*PixelResult, error) {
	media := sh.List.Page.Media
	from := req.From.Region(&sh.List.Page)
	at := geom.Point{X: from.X0 + req.XMM*geom.PointsPerMM, Y: from.Y0 + req.YMM*geom.PointsPerMM}
	x, y := int((at.X-media.X0)*req.DPI/72), int((at.Y-media.Y0)*req.DPI/72)
	if w, h := paint.Size(media, req.DPI); !(at.X >= media.X0 && at.Y >= media.Y0 && at.X <= media.X1 && at.Y <= media.Y1) || x >= w || y >= h {
		return nil, cannot(nil, fmt.Sprintf("the page is %.1f × %.1f mm", media.W()/geom.PointsPerMM, media.H()/geom.PointsPerMM),
			"the point %g,%g mm lies outside page %d", req.XMM, req.YMM, req.Page)
	}
	e, err := paint.Explain(ctx, sh.paintJob(media, req.DPI, nil), x, y)
	if err != nil {
		return nil, err
	}
	res := &PixelResult{Page: req.Page, DPI: req.DPI, X: x, Y: y, Touches: sh.touches(e)}
	sum := 0
	for i, v := range e.Final {
		res.Plates = append(res.Plates, PixelPlate{sh.Target.Set.At(i).Name, v})
		sum += int(v)
	}
	res.Total = float64(sum) / 2.55
	return res, nil
}

// touches are the rows of an explanation.
func (sh *Sheet) touches(e *paint.Explanation) []PixelTouch {
	out := []PixelTouch{}
	for _, row := range e.Rows {
		it := &sh.List.Items[row.Item]
		t := PixelTouch{Item: row.Item, Kind: it.Kind.String(), Depth: row.Depth, Object: it.Origin.Object, Offset: it.Origin.Offset, Cover: row.Cover}
		names := sh.Target.ComponentNames(separate.Context{Space: row.Space})
		for c, effect := range row.Effects {
			t.Effects = append(t.Effects, PixelEffect{Component: names[c], Effect: effect.String(), Why: row.Reasons[c].String(),
				Tint: percent16(row.Values[c]), Before: percent16(row.Before[c]), After: percent16(row.After[c])})
		}
		out = append(out, t)
	}
	return out
}

func percent16(v uint16) float64 { return float64(v) / 655.35 }

// InspectObject writes one object, found by number or dotted path.
func InspectObject(file string, s *Setup, path string, w io.Writer) error {
	art, err := s.Open(file)
	if err != nil {
		return err
	}
	defer art.Close()
	o, _, err := art.Doc.Lookup(path)
	if err != nil {
		return cannot(err, "name a number as 14, or a path as pages.2.Resources; `laydown inspect object FILE trailer` shows where to begin", "%v", err)
	}
	_, err = io.WriteString(w, strings.TrimRight(art.Doc.Describe(o, maxObjectText), "\n")+"\n")
	return err
}

// maxObjectText bounds what one object may print.
const maxObjectText = 256 << 10

// InspectOps writes the operators of a page's content, or of a form named by its object number, one a
// line with byte offsets.
func InspectOps(file string, s *Setup, page, object int, w io.Writer) error {
	art, err := s.Open(file)
	if err != nil {
		return err
	}
	defer art.Close()
	data, err := art.contentOf(page, object)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	sc := content.NewScanner(data)
	sc.Problem = func(offset int64, what string) { fmt.Fprintf(b, "%8d  damaged: %s\n", offset, what) }
	for {
		op, ok := sc.Next()
		if !ok {
			return b.Flush()
		}
		fmt.Fprintf(b, "%8d ", op.Offset)
		for _, o := range op.Operands {
			b.WriteByte(' ')
			b.WriteString(strings.Join(strings.Fields(art.Doc.Describe(o, 2000)), " "))
		}
		b.WriteString(" " + op.Name)
		if op.Inline != nil {
			fmt.Fprintf(b, "  (inline image, %d bytes)", len(op.Inline.Data))
		}
		b.WriteByte('\n')
	}
}

func (a *Artwork) contentOf(page, object int) ([]byte, error) {
	read := func(what string, o pdf.Object) ([]byte, error) {
		s, ok := a.Doc.Stream(o)
		if !ok {
			return nil, cannot(nil, "name a form's object number with --object", "there is no content stream in %s", what)
		}
		data, err := a.Doc.Data(s)
		if err != nil && len(data) == 0 {
			return nil, cannot(err, "export the artwork again", "the content of %s cannot be read: %v", what, err)
		}
		return data, nil
	}
	if object > 0 {
		return read(fmt.Sprintf("object %d", object), pdf.Ref{Num: object})
	}
	pg, err := a.Doc.Page(page)
	if err != nil {
		return nil, noPage(page, a.Doc.NumPages())
	}
	parts, ok := a.Doc.Array(pg.Dict["Contents"])
	if !ok {
		if pg.Dict["Contents"] == nil {
			return nil, nil
		}
		parts = pdf.Array{pg.Dict["Contents"]}
	}
	var all []byte
	for _, o := range parts {
		data, err := read(fmt.Sprintf("page %d", page), o)
		if err != nil {
			return nil, err
		}
		all = append(append(all, data...), '\n')
	}
	return all, nil
}
