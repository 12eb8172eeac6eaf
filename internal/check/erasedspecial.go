package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var erasedSpecial = Rule{
	ID:    "special-knocked-out-by-later-object",
	Group: Laydown,
	Measures: "special toner missing under later objects that were not meant to knock it out, against the page painted without them: objects set to overprint that erase " +
		"all the same (a mixture that names the toner with 0 %, a group that knocks out as a whole); process colours over a toner that must overprint; and process colours " +
		"other than black over a white that lies under them, on a stock darker than the figure or by the job's wish",
	Figures: append(areaFigure(.5),
		Figure{Key: "lightness", Unit: "", Default: 75, What: "L* of the stock below which a white is taken for an underlay", Source: CommonPractice}),
	Source:     "ISO 32000-2, 8.6.7 and 11.7.3: what an object does not overprint, it erases; " + CommonPractice,
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"spare-underlay"},
	Page: func(ctx context.Context, c *Case) error {
		if c.Press == nil {
			return nil
		}
		for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
			if err := c.erasedBy(ctx, b); err != nil {
				return err
			}
		}
		return nil
	},
}

// erasedBy reports what later objects take off plate b.
func (c *Case) erasedBy(ctx context.Context, b int) error {
	suspects := c.eraseSuspects(b)
	lost, _, err := c.heavierWithout(ctx, suspects, c.List.Page.Bleed, func(k int) bool { return k == b })
	if err != nil || lost == nil {
		return err
	}
	c.thickOnly(lost, .16)
	area := c.areaMM2(lost)
	if area < c.figure("area") {
		return nil
	}
	name, kind := c.Plates.Set.At(b).Name, c.Plates.Set.At(b).Kind
	items := c.touchingOf(suspects, lost)
	f := finding.Finding{
		Severity: finding.Warning,
		What:     fmt.Sprintf("%s is knocked out by objects drawn above it, on %s.", name, areaText(area)),
		Why:      fmt.Sprintf("An object that is not set to overprint, or names %s with 0 %%, cuts its own shape out of the plate.", name),
		Remedy:   eraseRemedy(name, c.Page, items),
		Place:    c.place(c.bounds(lost), items, name),
		Figures:  map[string]float64{"area_mm2": round2(area)},
	}
	switch {
	case kind == colourant.OpaqueWhite:
		f.Why += " White that was drawn as an underlay is then missing just where the colours need it."
	case kind == colourant.Clear:
		f.Why += " A clear lies on top of everything; with holes in it the gloss is patchy."
	}
	c.Add(f)
	return nil
}

// eraseSuspects lists the items without toner on plate b that are drawn above some with it and were not meant to
// take it off.
func (c *Case) eraseSuspects(b int) (out []int) {
	toner, ok := c.tonerOf(c.Page, b)
	if !ok {
		return nil
	}
	white := toner.Kind == colourant.OpaqueWhite && c.underlayWanted(toner.Name, c.figure("lightness"))
	var lower geom.Rect
	for i := range c.List.Items {
		it := &c.List.Items[i]
		on := c.itemToner(i)
		switch {
		case it.Kind == displist.BeginGroup || it.Hidden:
		case on.has(b):
			lower = lower.Union(it.Bounds)
		case it.Bounds.Intersect(lower).Empty() || on == 0:
		case toner.MustOverprint && on&^processPlates == 0, it.Overprint, white && on&chromaticPlates != 0:
			out = append(out, i)
		}
	}
	return out
}

// chromaticPlates are cyan, magenta and yellow: black needs no white under it.
const chromaticPlates plateBits = 1<<processBlack - 1

// underlayWanted reports whether a white is there to lie under the process colours: by the job, or since the stock is dark.
func (in *Input) underlayWanted(name string, lightness float64) bool {
	if in.Job != nil {
		for _, w := range in.Job.Wishes.Underlay {
			if w.Toner == name {
				return true
			}
		}
	}
	return in.Stock != nil && in.Stock.Front[0] < lightness
}

func eraseRemedy(name string, p *Page, items []int) string {
	said := 0
	for _, i := range items {
		if p.List.Items[i].Overprint {
			said++
		}
	}
	var say []string
	if said < len(items) {
		say = append(say, fmt.Sprintf("Set the objects above %s to overprint, or draw %s last, set to overprint.", name, name))
	}
	if said > 0 {
		say = append(say, fmt.Sprintf("Objects that are set to overprint and erase %s all the same name it with 0 %% in a mixture, or stand in a transparency group: paint them in single colourants, or take them out of the group.", name))
	}
	return strings.Join(say, " ")
}
