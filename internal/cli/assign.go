package cli

import (
	"errors"
	"fmt"

	"laydown/internal/app"
	"laydown/internal/mend"
)

type assignCmd struct {
	artworkFlags
	failFlag
	To           string  `required:"" placeholder:"TONER" help:"Toner or mix of the press, or a mixture such as \"Silver 30% + Gold 40%\"."`
	Tint         string  `placeholder:"PERCENT" help:"Tint: a percentage, keep, or lightness (100%; images by lightness)."`
	Threshold    string  `placeholder:"PERCENT" help:"Images: darker than this becomes solid, the rest nothing."`
	Curve        string  `placeholder:"T0 T25 T50 T75 T100" help:"Images: toner at 0, 25, 50, 75 and 100 % of darkness."`
	FromSoftMask bool    `name:"from-soft-mask" help:"Images: their soft mask becomes the tint."`
	Colour       string  `placeholder:"COLOUR" help:"Objects in exactly this colour: \"cmyk 20 35 80 15\", \"rgb R G B\", \"gray G\" in percent, or stand-in for the toner's own."`
	Colourant    string  `placeholder:"NAME" help:"Objects in this colourant."`
	Layer        string  `placeholder:"NAME" help:"Objects on this layer."`
	Kind         string  `placeholder:"KIND" help:"fill, stroke, text, image or stencil."`
	Form         string  `placeholder:"NAME" help:"Objects drawn by the form of this resource name."`
	Region       string  `placeholder:"X Y W H" help:"Objects within this box, in mm from the top left corner of the trim."`
	Page         int     `placeholder:"N" help:"Objects on this page."`
	Item         []int   `placeholder:"N" help:"Objects of these numbers, as laydown inspect list shows them."`
	One          bool    `help:"Only the first object found."`
	Out          string  `required:"" placeholder:"FILE" help:"The PDF to write; never the artwork itself."`
	DPI          float64 `default:"300" help:"Resolution of checks and proof (${default})."`
	Pictures     string  `placeholder:"DIR" help:"Folder for pictures of what was changed: before, after, difference."`
}

func (c *assignCmd) Run(e *env) error {
	s, file, err := c.setup()
	if err != nil {
		return err
	}
	if err := checkDPI(c.DPI); err != nil {
		return err
	}
	u, err := c.use()
	if err != nil {
		return err
	}
	return e.mend(app.MendRequest{File: file, Setup: s, Out: c.Out, Uses: []mend.Use{u}, DPI: c.DPI, Pictures: c.Pictures, FailOn: c.severity(), Timer: e.timer})
}

// use writes the flags as options of the remedy that does the work.
func (c *assignCmd) use() (mend.Use, error) {
	r, ok := mend.Find("to-toner")
	if !ok {
		return mend.Use{}, errors.New("there is no remedy that gives objects to toners")
	}
	u := mend.Use{Remedy: r, Options: mend.Options{"toner": c.To}}
	for _, f := range []struct{ name, value string }{{"tint", c.Tint}, {"threshold", c.Threshold}, {"curve", c.Curve}, {"colour", c.Colour},
		{"colourant", c.Colourant}, {"layer", c.Layer}, {"kind", c.Kind}, {"form", c.Form}, {"region", c.Region}} {
		if f.value != "" {
			u.Options[f.name] = f.value
		}
	}
	if c.Page != 0 {
		u.Options["page"] = fmt.Sprint(c.Page)
	}
	for i, n := range c.Item {
		if i > 0 {
			u.Options["item"] += "|"
		}
		u.Options["item"] += fmt.Sprint(n)
	}
	if c.FromSoftMask {
		u.Options["from-soft-mask"] = "yes"
	}
	if c.One {
		u.Options["first"] = "yes"
	}
	return u, nil
}
