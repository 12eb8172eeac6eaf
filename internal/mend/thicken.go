package mend

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var thickenLines = &Remedy{
	ID:      "thicken-lines",
	Title:   "Draw the lines of a toner that are thinner than it holds as wide as it holds.",
	Answers: []finding.ID{"line-too-thin", "line-of-no-width"},
	Options: []Option{{"toner", "its name, or process; several with | between", true}, {"to", "the width, such as 0.5pt (the finest line of the toner on this press)", false}},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		var toners []string
		for _, n := range f.Place.Colourants {
			if n = processOr(n); !slices.Contains(toners, n) {
				toners = append(toners, n)
			}
		}
		if len(toners) == 0 {
			return nil
		}
		return []Options{{"toner": strings.Join(toners, "|")}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		toners := o.list("toner")
		want := make([]float64, len(toners)) // points
		for k, n := range toners {
			least, err := o.mm("to", e.In.finestLine(n))
			if err != nil {
				return err
			}
			if !(least > 0 && least <= 5) {
				return fmt.Errorf("say how wide the lines are to be, up to 5 mm, with to=")
			}
			want[k] = least * geom.PointsPerMM
		}
		e.Keep(AltersWidths)
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				most := 0.0
				for k, n := range toners {
					if holds(&p.List.Items[i], processOr(n)) {
						most = max(most, want[k])
					}
				}
				if err := e.thicken(p, i, most); err != nil {
					return err
				}
			}
			return nil
		})
	},
}

// finestLine is the width in mm of the finest line the press holds in a toner or in process colours; 0 when nobody knows.
func (in *Input) finestLine(name string) float64 {
	if name == underProcess {
		name = "Black"
	}
	if in.Press != nil {
		if t, ok := in.Press.Toner(name); ok {
			return float64(t.FinestHeld().Line)
		}
	}
	return 0
}

// thicken draws item i, if it is a thinner line, as wide as want in points.
func (e *Edit) thicken(p *Page, i int, want float64) error {
	it := &p.List.Items[i]
	if it.Hidden || it.Kind != displist.Stroke || it.Pen == nil {
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
