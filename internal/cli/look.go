package cli

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/app"
	"laydown/internal/finding"
	"laydown/internal/press"
)

type lookCmd struct {
	artworkFlags
	Page int     `default:"1" help:"Page to show (${default}). Odd pages are fronts, even ones backs."`
	DPI  float64 `default:"150" help:"Resolution (${default}); of points, 600 unless given."`

	Out     string `group:"Pictures" placeholder:"FILE" help:"The sheet (PNG, sRGB)."`
	Depth   int    `group:"Pictures" enum:"8,16" default:"8" help:"Bits a channel of the sheet: 8 or 16 (${default})."`
	Beside  string `group:"Pictures" placeholder:"PDF" help:"Another state of the artwork: the sheet shows the page of both."`
	Strip   string `group:"Pictures" placeholder:"FILE" help:"The sheet held at five angles, as metals are measured (PNG)."`
	Glint   string `group:"Pictures" placeholder:"FILE" help:"The sheet turned under a lamp, small enough for mail (.png or .gif)."`
	Amounts string `group:"Pictures" placeholder:"FILE" help:"How much toner lies where, with a scale in percent (PNG); with --only of these toners."`
	Maps    string `group:"Pictures" placeholder:"FILE" help:"What every place is to a lamp, to be lit by other programs (docs/maps.md)."`

	At []string `group:"Figures" sep:"none" placeholder:"61mm,18.5mm" help:"Tell Lab and tints of a point, from the top left corner of the trim; twice: their difference too."`

	Box     string   `group:"What is shown" enum:"work,crop,media,trim,bleed" default:"work" help:"Page box to show; work is crop and bleed together."`
	Region  string   `group:"What is shown" placeholder:"X,Y,W,H" help:"Part to show: left, top, width and height from the top left corner of the trim."`
	Only    []string `group:"What is shown" sep:"none" placeholder:"TONER" help:"Show this toner alone on the stock; may be given several times."`
	Side    string   `group:"What is shown" enum:",front,back" default:"" help:"Side of the stock: front or back. Left out, odd pages are fronts."`
	Backing string   `group:"What is shown" placeholder:"COLOUR" help:"What lies behind film or thin stock: white, black or L,a,b."`
	Alone   bool     `group:"What is shown" help:"Leave out what shows through thin stock from the other side."`
	Through bool     `group:"What is shown" xor:"face" help:"A printed film seen from its other side, as is shown where the job says seen: through."`
	Face    bool     `group:"What is shown" xor:"face" help:"The printed face of a film, whatever the job says."`

	Lit  bool   `group:"Light" help:"Under a desk lamp. Left out: as an instrument sees it, lamp at 45 degrees."`
	Lamp string `group:"Light" placeholder:"UP,ROUND" help:"Where the lamp stands: degrees above the sheet, and round it clockwise from its top."`
	Tilt string `group:"Light" placeholder:"TOP,RIGHT" help:"Degrees by which the sheet faces its top edge and its right edge."`
}

// pointDPI is the resolution points are looked at, unless told otherwise.
const pointDPI = 600

func (c *lookCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	view, err := c.view(s)
	if err != nil {
		return err
	}
	wanted := c.Out != "" || c.Strip != "" || c.Glint != "" || c.Amounts != "" || c.Maps != ""
	switch {
	case wanted && len(c.At) > 0:
		return fmt.Errorf("--at asks for figures and the others for pictures: use the command twice")
	case len(c.At) > 0:
		return c.points(e, s, file, view)
	case !wanted:
		return fmt.Errorf("nothing to make: name a picture with --out, --strip, --glint, --amounts or --maps, or a point with --at")
	}
	req := app.LookRequest{File: file, Setup: s, Page: c.Page, DPI: c.DPI, Box: app.Box(c.Box), View: view, Out: c.Out, Bits: c.Depth,
		Strip: c.Strip, Glint: c.Glint, Amounts: c.Amounts, Maps: c.Maps, Beside: c.Beside, Timer: e.timer}
	if c.Region != "" {
		if req.Part, err = parseRegion(c.Region); err != nil {
			return err
		}
	}
	o, err := app.WriteLook(e.ctx, req)
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(o)
	}
	for _, p := range o.Pictures {
		fmt.Fprintf(e.out, "%s: page %d on %s, %d × %d pixels\n", p.File, o.Page, o.Stock, p.Width, p.Height)
		for _, n := range p.Notes {
			fmt.Fprintf(e.out, "  %s\n", n)
		}
	}
	e.sure(o.Toners, o.Notes)
	e.remarks(o.Findings)
	return nil
}

// view reads how the sheet is looked at.
func (c *lookCmd) view(s *app.Setup) (v app.LookView, err error) {
	v = app.LookView{Only: c.Only, Side: c.Side, Through: c.Through || s.SeenThrough() && !c.Face, Alone: c.Alone, Lit: c.Lit || c.Lamp != "" || c.Tilt != ""}
	if c.Backing != "" {
		if v.Backing, err = parseBacking(c.Backing); err != nil {
			return v, err
		}
	}
	if c.Lamp != "" {
		n, err := parseNumbers(c.Lamp, 2)
		if err != nil {
			return v, fmt.Errorf("--lamp %q cannot be understood; write it as 40,315: degrees above the sheet, and round it", c.Lamp)
		}
		v.Lamp = &app.LampPlace{Up: n[0], Round: n[1]}
	}
	if c.Tilt != "" {
		n, err := parseNumbers(c.Tilt, 2)
		if err != nil {
			return v, fmt.Errorf("--tilt %q cannot be understood; write it as 10,-5: degrees towards the top and the right edge", c.Tilt)
		}
		v.TiltTop, v.TiltRight = n[0], n[1]
	}
	return v, nil
}

func (c *lookCmd) points(e *env, s *app.Setup, file string, view app.LookView) error {
	req := app.LookAtRequest{File: file, Setup: s, Page: c.Page, DPI: pointDPI, View: view, Timer: e.timer}
	if c.DPI != 150 {
		req.DPI = c.DPI
	}
	for _, at := range c.At {
		x, y, err := parsePoint(at)
		if err != nil {
			return err
		}
		req.Points = append(req.Points, app.PointMM{X: x, Y: y})
	}
	r, err := app.LookAtPoints(e.ctx, req)
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(r)
	}
	fmt.Fprintf(e.out, "page %d on %s\n", r.Page, r.Stock)
	e.point(r.LookPoint)
	for i, p := range r.More {
		e.point(p)
		fmt.Fprintf(e.out, "  ΔE00 to the first: %.2f\n", r.Differences[i])
	}
	e.sure(r.Toners, r.Notes)
	e.remarks(r.Findings)
	return nil
}

func (e *env) point(p app.LookPoint) {
	fmt.Fprintf(e.out, "%g mm, %g mm: L* %.2f a* %.2f b* %.2f, on a screen %s\n", p.XMM, p.YMM, p.Lab[0], p.Lab[1], p.Lab[2], p.SRGB)
	if len(p.Plates) == 0 {
		fmt.Fprintln(e.out, "  bare stock")
	}
	for _, name := range slices.Sorted(maps.Keys(p.Plates)) {
		fmt.Fprintf(e.out, "  %-20s %6.2f %%\n", printable(name), p.Plates[name])
	}
	fmt.Fprintf(e.out, "  pile %.0f %%\n", p.Pile)
}

// sure tells how well the toners are known, those known alike together, and their figures.
func (e *env) sure(toners []app.TonerLook, notes []string) {
	for i := 0; i < len(toners); {
		t := toners[i]
		names := []string{printable(t.Toner)}
		for i++; i < len(toners) && len(t.Figures()) == 0 && toners[i].Words == t.Words && toners[i].Expected == t.Expected; i++ {
			names = append(names, printable(toners[i].Toner))
		}
		fmt.Fprintf(e.out, "%s: %s", strings.Join(names, ", "), t.Words)
		if t.Expected > 0 {
			fmt.Fprintf(e.out, " Expect %.1f ΔE00, seldom more than %.1f.", t.Expected, t.Worst)
		}
		fmt.Fprintln(e.out)
		for _, f := range t.Figures() {
			fmt.Fprintf(e.out, "  %s\n", f)
		}
	}
	for _, n := range notes {
		fmt.Fprintln(e.out, n)
	}
}

// parseRegion reads "10mm,20mm,60mm,30mm": left, top, width, height.
func parseRegion(s string) (*finding.BoxMM, error) {
	parts := strings.Split(s, ",")
	var v [4]float64
	ok := len(parts) == 4
	for i := 0; ok && i < 4; i++ {
		var err error
		v[i], err = parseLength(parts[i])
		ok = err == nil && !math.IsNaN(v[i]) && math.Abs(v[i]) < 1e5
	}
	if !ok || v[2] <= 0 || v[3] <= 0 {
		return nil, fmt.Errorf("--region %q cannot be understood; write it as 10mm,20mm,60mm,30mm: left, top, width, height", s)
	}
	return &finding.BoxMM{X: v[0], Y: v[1], W: v[2], H: v[3]}, nil
}

// parseBacking reads white, black or L,a,b.
func parseBacking(s string) (*press.Lab, error) {
	switch s {
	case "white":
		return &press.Lab{95, 0, -2}, nil
	case "black":
		return &press.Lab{17, 0, 1}, nil
	}
	n, err := parseNumbers(s, 3)
	if err != nil || n[0] < 0 || n[0] > 100 || math.Abs(n[1]) > 128 || math.Abs(n[2]) > 128 {
		return nil, fmt.Errorf("--backing %q cannot be understood; write white, black or L,a,b", s)
	}
	return &press.Lab{n[0], n[1], n[2]}, nil
}

func parseNumbers(s string, n int) ([]float64, error) {
	parts := strings.Split(s, ",")
	if len(parts) != n {
		return nil, fmt.Errorf("%d numbers are wanted", n)
	}
	var out []float64
	for _, p := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%q is no number", p)
		}
		out = append(out, v)
	}
	return out, nil
}
