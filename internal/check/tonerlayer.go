package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
)

var processOnTonerLayer = Rule{
	ID:    "process-on-toner-layer",
	Group: Images,
	Measures: "images and objects on a layer that has the name of a special toner or mix of the press, or one of its usual other names, capitals aside, which put toner on " +
		"the sheet but none of that one",
	Source:     CommonPractice + ": a plate was expected and a picture in RGB or process colours came",
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"to-toner"},
	Page: func(_ context.Context, c *Case) error {
		if c.Press == nil {
			return nil
		}
		toners := c.tonersByLayerName()
		found := map[string][]int{}
		images := map[string]bool{}
		for i := range c.List.Items {
			it := &c.List.Items[i]
			if it.Hidden || it.Layer == nil {
				continue
			}
			name, ok := toners[strings.ToLower(strings.TrimSpace(it.Layer.Name))]
			on := c.itemToner(i)
			if ok && on != 0 && on&c.platesNamed(name) == 0 {
				found[name] = append(found[name], i)
				images[name] = images[name] || it.Kind == displist.Image
			}
		}
		for _, name := range sortedKeys(found) {
			items := found[name]
			what := objects(len(items)) + " on the layer of %s but hold nothing of that toner."
			if len(items) == 1 {
				what = "1 object is on the layer of %s but holds nothing of that toner."
			}
			f := finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf(what, name),
				Why:      "A layer's name makes no plate: what lies there is printed in the colours it is painted in.",
				Remedy:   fmt.Sprintf("Paint these objects in the colourant %q, or move them to another layer.", name),
				Place:    c.place(c.boundsOf(items), items, name),
			}
			if images[name] {
				f.Remedy += fmt.Sprintf(" Save images for it as a gray image in the single colourant %q.", name)
			}
			c.Add(f)
		}
		return nil
	},
}

// tonersByLayerName maps names a layer may have, in small letters, to those of special toners and mixes.
func (in *Input) tonersByLayerName() map[string]string {
	out := map[string]string{}
	for i := range in.Press.Toners {
		if t := &in.Press.Toners[i]; t.Kind != colourant.Process {
			for _, n := range append(slices.Clone(t.Aliases), t.Name) {
				out[strings.ToLower(n)] = t.Name
			}
		}
	}
	for i := range in.Press.Mixes {
		m := &in.Press.Mixes[i]
		for _, n := range append(slices.Clone(m.Aliases), m.Name) {
			out[strings.ToLower(n)] = m.Name
		}
	}
	return out
}

// platesNamed is the set of plates a colourant name reaches.
func (p *Page) platesNamed(name string) (b plateBits) {
	if k, ok := p.Target.Names[name]; ok {
		return 1 << k
	}
	for _, part := range p.Target.Mixes[name] {
		b |= 1 << part.Plate
	}
	return b
}
