package check

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/press"
)

const (
	visibleTint = 26 // 10 %: below it a toner neither hides nor shows enough to matter
	solidTint   = 128
)

var passesNeeded = Rule{
	ID:         "passes-needed",
	Group:      Laydown,
	Severities: []finding.Severity{finding.Note, finding.Warning, finding.Error},
	Measures:   "the toners the page uses against the sets the press can carry at one time, and the passes of both sides of a sheet against those the stock stands",
	Figures:    []Figure{{Key: "passes", Unit: press.UnitNumber, Default: 2, What: "passes above which the finding is a warning", Source: CommonPractice}},
	Source:     "press definition; common practice, no source: special set and process set need two passes",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Press == nil {
			return nil
		}
		used := p.Used()
		if p.PassError != nil {
			c.Add(p.noPasses(used))
			return nil
		}
		if len(p.Passes) < 2 {
			return nil
		}
		var steps []string
		for i, pass := range p.Passes {
			steps = append(steps, fmt.Sprintf("pass %d with the set %s: %s", i+1, pass.Set.Name, strings.Join(pass.Toners, ", ")))
		}
		f := finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("The sheet goes through the press %d times: %s.", len(p.Passes), strings.Join(steps, "; ")),
			Why: fmt.Sprintf("Plates of two passes may be off each other by %.2g mm (within one pass %.2g mm), the sheet is heated again, and each set change costs time.",
				float64(in.Press.Register.Between), float64(in.Press.Register.Within)),
			Remedy:  "Nothing to do if this is meant; otherwise use fewer special toners, or a press that carries them in one set.",
			Place:   p.place(geom.Rect{}, nil, used...),
			Figures: map[string]float64{"passes": float64(len(p.Passes))},
		}
		switch {
		case in.Stock != nil && in.Stock.Hits > 0 && len(p.Passes) > in.Stock.Hits:
			f.Severity = finding.Error
			f.Why += fmt.Sprintf(" The stock %s may go through at most %d times.", in.Stock.Title, in.Stock.Hits)
			f.Remedy = "Use fewer special toners, another stock, or a press that carries them in one set."
		case float64(len(p.Passes)) > c.figure("passes"):
			f.Severity = finding.Warning
		}
		c.Add(f)
		return nil
	},
	File: func(_ context.Context, c *Case) error {
		if c.Press == nil || c.Stock == nil || c.Stock.Hits == 0 {
			return nil
		}
		most, first := c.Stock.Hits, map[int]pageFacts{}
		for _, p := range c.pages {
			leaf := (p.number - 1) / 2
			if c.Job != nil && c.Job.Sides == 1 {
				leaf = p.number
			}
			q, ok := first[leaf]
			if !ok {
				first[leaf] = p
				continue
			}
			// A side that is too much alone has been told of.
			if n := p.passes + q.passes; n > most && p.passes <= most && q.passes <= most {
				c.Add(finding.Finding{Severity: finding.Error,
					What:    fmt.Sprintf("The sheet of pages %d and %d goes through the press %d times, and the stock %s may go through at most %d times.", q.number, p.number, n, c.Stock.Title, most),
					Why:     "The whole sheet is heated in every pass, whichever side is printed.",
					Remedy:  "Use fewer special toners, another stock, or a press that carries them in one set; `laydown plan` tells the least to give up.",
					Figures: map[string]float64{"passes": float64(n)}})
			}
		}
		return nil
	},
}

// noPasses is the finding for a page no passes can lay down.
func (p *Page) noPasses(used []string) finding.Finding {
	f := finding.Finding{
		Severity: finding.Error,
		What:     fmt.Sprintf("The page cannot be printed on this press as it is: %v.", p.PassError),
		Why:      "A toner that no set of the press carries, or that no order of the sets lays where it is wanted, is not printed in however many passes.",
		Remedy:   "Choose another press, or leave out one of the toners.",
		Place:    p.place(geom.Rect{}, nil, used...),
	}
	var pe *press.PassError
	if errors.As(p.PassError, &pe) {
		f.What = fmt.Sprintf("The page cannot be printed on this press as it is: %s.", pe.What)
		f.Remedy += fmt.Sprintf(" From the press's side: %s.", pe.Remedy)
	}
	return f
}

// Used lists the colourants with toner inside the bleed, in plate order: register marks in the slug lie
// on every plate and call for none.
func (p *Page) Used() []string {
	x0, y0, x1, y1 := p.PixelRect(p.List.Page.Bleed)
	w := p.Plates.Width
	var used plateBits
	for k := range p.Plates.Set.Len() {
		plane := p.Plates.Plane(k)
		for y := y0; y < y1 && plane != nil && !used.has(k) && x0 < x1; y++ {
			if slices.ContainsFunc(plane[y*w+x0:y*w+x1], func(v byte) bool { return v != 0 }) {
				used |= 1 << k
			}
		}
	}
	return p.plateNames(used)
}

// rank is the place of each plate in the laydown, 0 first; -1 for plates not in any pass.
func (p *Page) rank() []int {
	rank := make([]int, p.Plates.Set.Len())
	for i := range rank {
		rank[i] = -1
	}
	n := 0
	for _, pass := range p.Passes {
		for _, t := range pass.Toners {
			if i, ok := p.Plates.Set.Lookup(t); ok && rank[i] < 0 {
				rank[i] = n
			}
			n++
		}
	}
	return rank
}
