package check

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/finding"
)

// look is one definition of a colourant: its text and the page it was first painted on.
type look struct {
	text string
	page int
}

var definitionsDiffer = Rule{
	ID:         "colourant-definitions-differ",
	Group:      Names,
	Severities: []finding.Severity{finding.Warning},
	Remedies:   []string{"one-definition"},
	Measures:   "the stand-in colours (alternate space and tint transform) given to one colourant name, over all pages looked at",
	Source:     "ISO 19005-4, 6.2.4.4 and PDF/X-6 by the same reading: one name, one definition",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.looks == nil {
			in.looks = map[string][]look{}
		}
		differs := map[string][]int{} // items with another definition than the first met
		texts := map[*colour.Separation]string{}
		p.eachInk(func(i int, k ink) {
			// A DeviceN gives a look to mixtures, not to one name.
			sep, ok := k.space.(*colour.Separation)
			if !ok || sep.Name == "All" || sep.Name == "None" {
				return
			}
			text, ok := texts[sep]
			if !ok {
				text = standInText(sep)
				texts[sep] = text
			}
			known := in.looks[sep.Name]
			if !slices.ContainsFunc(known, func(l look) bool { return l.text == text }) {
				known = append(known, look{text, p.List.Page.Number})
				in.looks[sep.Name] = known
			}
			if known[0].text != text {
				differs[sep.Name] = appendItem(differs[sep.Name], i)
			}
		})
		for _, name := range sortedKeys(differs) {
			known := in.looks[name]
			var texts []string
			for _, l := range known {
				texts = append(texts, fmt.Sprintf("%s (page %d)", l.text, l.page))
			}
			items := differs[name]
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("The colourant %q is defined with %d different stand-in colours: %s.", name, len(known), strings.Join(texts, "; ")),
				Why: "It makes one plate all the same, but the objects look different on screen, so what is seen is not one toner, " +
					"and programs that merge definitions may pick either.",
				Remedy: "Give the name one definition in the whole document.",
				Place:  p.place(p.boundsOf(items), items, name),
			})
		}
		return nil
	},
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}

// standInText names a definition by its colours at 100 and 50 %, so that equal looks compare equal
// however they are written.
func standInText(s *colour.Separation) string {
	return fmt.Sprintf("%s, at half tint %s", alternateText(s, 1), alternateText(s, .5))
}

func alternateText(s *colour.Separation, tint float64) string {
	out := make([]float64, s.Alternate.Components())
	if s.Tint != nil {
		s.Tint.Eval(out, []float64{tint})
	}
	percent := func(v float64) string { return fmt.Sprintf("%.0f", math.Round(v*100)+0) }
	form := "%s"
	switch {
	case isCMYK(s.Alternate):
		form = "CMYK %s"
	case s.Alternate.Family() == colour.FamilyLab:
		form, percent = "Lab %s", func(v float64) string { return fmt.Sprintf("%.0f", math.Round(v)+0) }
	case len(out) == 3:
		form = "RGB %s %%"
	case len(out) == 1:
		form = "gray %s %%"
	}
	words := make([]string, len(out))
	for i, v := range out {
		words[i] = percent(v)
	}
	return fmt.Sprintf(form, strings.Join(words, " "))
}
