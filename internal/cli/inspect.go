package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"laydown/internal/app"
	"laydown/internal/finding"
)

type inspectCmd struct {
	Page   inspectPageCmd   `cmd:"" help:"Facts of a page: boxes, group, colourants."`
	List   inspectListCmd   `cmd:"" help:"The display list; with --press what each item does to each plate."`
	Pixel  inspectPixelCmd  `cmd:"" help:"Explain one pixel: which items touched it, what each did to each plate, and why."`
	Ops    inspectOpsCmd    `cmd:"" help:"Operators of a page's content with byte offsets."`
	Object inspectObjectCmd `cmd:"" help:"One PDF object by number or path, as 14 or pages.2.Resources."`
}

type pageFlag struct {
	Page int `default:"1" help:"Page (${default})."`
}

type inspectPageCmd struct {
	artworkFlags
	pageFlag
}

func (c *inspectPageCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	fs, err := app.InspectPage(e.ctx, file, s, c.Page, e.json, &b)
	if err == nil && e.json {
		return e.writeJSON(map[string]any{"page": json.RawMessage(b.Bytes()), "findings": fs})
	}
	return e.showText(&b, fs, err)
}

type inspectListCmd struct {
	artworkFlags
	pageFlag
}

func (c *inspectListCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if s.Press != nil {
		return c.steps(e, file, s)
	}
	fs, err := app.InspectList(e.ctx, file, s, c.Page, e.json, &b)
	if err == nil && e.json {
		return e.writeJSON(map[string]any{"list": json.RawMessage(b.Bytes()), "findings": fs})
	}
	return e.showText(&b, fs, err)
}

// steps shows what each item does to each plate.
func (c *inspectListCmd) steps(e *env, file string, s *app.Setup) error {
	steps, fs, err := app.InspectSteps(e.ctx, file, s, c.Page)
	if err == nil && e.json {
		return e.writeJSON(map[string]any{"steps": steps, "findings": fs})
	}
	var b bytes.Buffer
	for _, st := range steps {
		fmt.Fprintf(&b, "%s%3d  %-6s  %s  (object %d byte %d)\n", strings.Repeat("  ", st.Depth), st.Item, st.Kind, printable(st.Does), st.Object, st.Offset)
	}
	return e.showText(&b, fs, err)
}

// showText writes a dump, or its lines as JSON, and what was met while reading.
func (e *env) showText(b *bytes.Buffer, fs []finding.Finding, err error) error {
	if err != nil {
		return err
	}
	if e.json {
		if fs == nil {
			fs = []finding.Finding{}
		}
		return e.writeJSON(map[string]any{"lines": strings.Split(strings.TrimRight(b.String(), "\n"), "\n"), "findings": fs})
	}
	if _, err := e.out.Write(b.Bytes()); err != nil {
		return err
	}
	for _, f := range fs {
		fmt.Fprintf(e.err, "%s: %s [%s]\n", f.Severity, f.What, f.ID)
	}
	return nil
}

type inspectPixelCmd struct {
	artworkFlags
	pageFlag
	At     string  `required:"" placeholder:"61mm,18.5mm" help:"The point, from the top left corner of the box named by --from."`
	From   string  `enum:"media,crop,trim,bleed" default:"media" help:"Box the point is measured from: media, crop, trim or bleed."`
	DPI    float64 `default:"600" help:"Resolution (${default})."`
	Viewer bool    `name:"as-viewer" help:"Show layers as a viewer that prints would."`
}

func (c *inspectPixelCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	x, y, err := parsePoint(c.At)
	if err != nil {
		return err
	}
	r, err := app.InspectPixel(e.ctx, app.PixelRequest{File: file, Setup: s, Page: c.Page, DPI: c.DPI, XMM: x, YMM: y, From: app.Box(c.From), Viewer: c.Viewer})
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(r)
	}
	fmt.Fprintf(e.out, "page %d, pixel %d,%d at %g dpi from the media box; touched by %s\n", r.Page, r.X, r.Y, r.DPI, plural(len(r.Touches), "item"))
	w := tabwriter.NewWriter(e.out, 2, 0, 2, ' ', 0)
	for _, t := range r.Touches {
		fmt.Fprintf(w, "\nitem %d\t%s, from object %d byte %d, covers %.0f %% of the pixel\n", t.Item, t.Kind, t.Object, t.Offset, t.Cover*100)
		for _, f := range t.Effects {
			did := f.Effect
			if f.Effect == "paint" {
				did = fmt.Sprintf("paint %.4g %%", f.Tint)
			}
			fmt.Fprintf(w, "  %s\t%s\t%.4g to %.4g %%\t%s\n", printable(f.Component), did, f.Before, f.After, f.Why)
		}
	}
	fmt.Fprintf(w, "\nfinal\n")
	for _, p := range r.Plates {
		fmt.Fprintf(w, "  %s\t%d\t%.4g %%\n", printable(p.Colourant), p.Value, float64(p.Value)/2.55)
	}
	fmt.Fprintf(w, "  total\t\t%.4g %%\n", r.Total)
	return w.Flush()
}

// parsePoint reads "61mm,18.5mm"; a number without a unit is in millimetres, pt and in are known.
func parsePoint(s string) (x, y float64, err error) {
	a, b, ok := strings.Cut(s, ",")
	if ok {
		if x, err = parseLength(a); err == nil {
			y, err = parseLength(b)
		}
	}
	if !ok || err != nil || math.IsInf(x+y, 0) || math.IsNaN(x+y) {
		return 0, 0, fmt.Errorf("--at %q cannot be understood; write it as 61mm,18.5mm", s)
	}
	return x, y, nil
}

func parseLength(s string) (float64, error) {
	s = strings.TrimSpace(s)
	for unit, mm := range map[string]float64{"mm": 1, "pt": 25.4 / 72, "in": 25.4, "cm": 10} {
		if n, ok := strings.CutSuffix(s, unit); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(n), 64)
			return v * mm, err
		}
	}
	return strconv.ParseFloat(s, 64)
}

type inspectOpsCmd struct {
	artworkFlags
	pageFlag
	Object int `placeholder:"N" help:"Show the operators of form object N instead of the page."`
}

func (c *inspectOpsCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	err = app.InspectOps(file, s, c.Page, c.Object, &b)
	return e.showText(&b, nil, err)
}

type inspectObjectCmd struct {
	passwordFlag
	File   string `arg:"" help:"PDF file."`
	Object string `arg:"" help:"Object number or path: 14, 14.Kids.0, trailer, catalog, pages.2.Resources."`
}

func (c *inspectObjectCmd) Run(e *env) error {
	var b bytes.Buffer
	err := app.InspectObject(c.File, &app.Setup{Password: c.Password}, c.Object, &b)
	return e.showText(&b, nil, err)
}
