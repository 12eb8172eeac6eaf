package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var underlayKnocksOut = Rule{
	ID:    "underlay-knocks-out",
	Group: Laydown,
	Measures: "toner missing under an underlay that is drawn above it, against the page painted without these objects: what is in nothing but a toner the job wishes under others (a note), " +
		"or on a layer that stands for the processing step White (a warning), where the press lays that toner down first",
	Figures:    areaFigure(.5),
	Source:     "ISO 32000-2, 8.6.7: what an object does not overprint, it erases; ISO 19593-1: the processing step White; job definition",
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Remedies:   []string{"laydown-overprint"},
	Page: func(ctx context.Context, c *Case) error {
		rank := c.rank()
		for a := len(colourant.ProcessNames); a < c.Plates.Set.Len(); a++ {
			if rank[a] < 0 || c.Plates.Plane(a) == nil {
				continue
			}
			var above plateBits // laid down after it
			for k := range c.Plates.Set.Len() {
				if k != a && (rank[k] < 0 || rank[k] > rank[a]) { // what is knocked out as a whole has no place in the order
					above |= 1 << k
				}
			}
			if err := c.underlayEats(ctx, a, above); err != nil {
				return err
			}
		}
		return nil
	},
}

// underlayEats reports what underlays in plate a take off those of above.
func (c *Case) underlayEats(ctx context.Context, a int, above plateBits) error {
	eaten := c.wishedOver(a) & above
	wished := eaten != 0
	var items []int
	for _, i := range c.knockoutSuspects(a) {
		step := c.stepOfWhite(i)
		if step {
			eaten = above
		}
		if wished || step {
			items = append(items, i)
		}
	}
	lost, plates, err := c.heavierWithout(ctx, items, c.List.Page.Bleed, func(k int) bool { return eaten.has(k) })
	if err != nil || lost == nil {
		return err
	}
	c.within(lost, c.List.Page.Bleed)
	c.thickOnly(lost, .16)
	area := c.areaMM2(lost)
	if area < c.figure("area") {
		return nil
	}
	name, under := c.Plates.Set.At(a).Name, c.plateNames(plates)
	items = c.touchingOf(items, lost)
	f := finding.Finding{
		Severity: finding.Note,
		What:     fmt.Sprintf("%s is to lie under other toners, but is drawn above %s and knocks out what is there, on %s.", name, strings.Join(under, ", "), areaText(area)),
		Why:      "An underlay belongs under the whole of what lies on it. As drawn, its own shape is cut out of that: on the sheet there is nothing but the underlay.",
		Remedy:   fmt.Sprintf("Set the underlay to overprint, or draw it first; nothing to do where %s is meant to be seen.", name),
		Place:    c.place(c.bounds(lost), items, append([]string{name}, under...)...),
		Figures:  map[string]float64{"area_mm2": round2(area)},
	}
	reached := false
	groups := c.groups()
	for _, i := range items {
		reached = reached || groups[i] < 0
		if c.stepOfWhite(i) {
			f.Severity = finding.Warning
		}
	}
	if !reached {
		f.Remedies = []string{}
		f.Remedy = "Take the underlay out of its transparency group and set it to overprint, or draw it first."
	}
	c.Add(f)
	return nil
}

// stepOfWhite reports whether an item is an underlay by its own word, wherever it is drawn.
func (p *Page) stepOfWhite(i int) bool { return p.List.Items[i].StepOf().Group == "White" }

// wishedOver are the plates the job wishes the toner of a plate under.
func (c *Case) wishedOver(plate int) (b plateBits) {
	if c.Job == nil {
		return 0
	}
	for _, w := range c.Job.Wishes.Underlay {
		if w.Toner != c.Plates.Set.At(plate).Name {
			continue
		}
		for _, n := range w.Under {
			if n == press.UnderProcess {
				b |= processPlates
			} else {
				b |= c.platesNamed(n)
			}
		}
	}
	return b &^ (1 << plate)
}
