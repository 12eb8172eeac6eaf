package mend

import (
	"context"
	"fmt"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var thickenLines = &Remedy{
	ID:      "thicken-lines",
	Title:   "Draw the lines of a toner that are thinner than it holds as wide as it holds.",
	Answers: []finding.ID{"line-too-thin", "line-of-no-width"},
	Options: []Option{{"toner", "its name, or process", true}, {"to", "the width, such as 0.5pt (the finest line of the toner on this press)", false}},
	Offer: func(f *finding.Finding, in *Input) []Options {
		o := tonerOffer(f, in)
		if len(o) > 0 && processName(o[0]["toner"]) {
			o[0]["toner"] = underProcess
		}
		return o
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		least := 0.0
		if e.In.Press != nil {
			name := o["toner"]
			if name == underProcess {
				name = "Black"
			}
			if t, ok := e.In.Press.Toner(name); ok {
				least = float64(t.FinestHeld().Line)
			}
		}
		least, err := o.mm("to", least)
		if err != nil {
			return err
		}
		if !(least > 0 && least <= 5) {
			return fmt.Errorf("say how wide the lines are to be, up to 5 mm, with to=")
		}
		want := least * geom.PointsPerMM
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				if err := e.thicken(p, i, o["toner"], want); err != nil {
					return err
				}
			}
			return nil
		})
	},
}

func (e *Edit) thicken(p *Page, i int, toner string, want float64) error {
	it := &p.List.Items[i]
	if it.Hidden || it.Kind != displist.Stroke || it.Pen == nil ||
		!((toner == underProcess || processName(toner)) && processColour(it) || namesAny(it, toner)) {
		return nil
	}
	scale := it.Pen.M.Expansion()
	if !(scale > 0) || it.Pen.Style.Width*scale >= want-1e-4 {
		return nil
	}
	if it.Text != nil {
		e.Note("Page %d: letters drawn as thin lines were left as they are.", p.List.Page.Number)
		return nil
	}
	if err := e.Change(p, i, Change{Width: want / scale}); err == errUnreachable {
		e.Note("Page %d: a line is %v, and was left as it is.", p.List.Page.Number, err)
		return nil
	} else if err != nil {
		return err
	}
	// Corners of lines reach as far as the mitre limit lets them.
	box := p.box(i).Grow(want / 2 * max(1.5, it.Pen.Style.MiterLimit))
	if it.Clip != nil {
		box = box.Intersect(it.Clip.Bounds)
	}
	e.allowed = append(e.allowed, Allowance{Page: p.List.Page.Number, Where: &box})
	return nil
}
