package check

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// look is one definition of a colourant: its text and the page it was first painted on.
type look struct {
	text string
	page int
}

var definitionsDiffer = Rule{
	ID:       "colourant-definitions-differ",
	Measures: "the stand-in colours (alternate space and tint transform) given to one colourant name, over all pages looked at",
	Source:   "ISO 19005-4, 6.2.4.4 and PDF/X-6 by the same reading: one name, one definition",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
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
			out.Add(finding.Finding{
				ID: "colourant-definitions-differ", Severity: finding.Warning,
				What: fmt.Sprintf("The colourant %q is defined with %d different stand-in colours: %s.", name, len(known), strings.Join(texts, "; ")),
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
	percent := func(v float64) string { return fmt.Sprintf("%.0f", v*100) }
	form := "%s"
	switch {
	case isCMYK(s.Alternate):
		form = "CMYK %s"
	case s.Alternate.Family() == colour.FamilyLab:
		form, percent = "Lab %s", func(v float64) string { return fmt.Sprintf("%.0f", v) }
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

// standIn is a stand-in colour that can be told from a real one.
type standIn struct {
	name string
	cmyk [4]float64 // 0..1
	inks int        // components above 0
}

// standIns lists the stand-in colours of toners and mixes made of two inks or more: those of one ink
// (a tint of magenta for a clear, say) are too usual as real colours to accuse anybody.
func standIns(pr *press.Press) []standIn {
	var all []standIn
	add := func(name string, c [4]press.Percent) {
		s := standIn{name: name}
		for i, v := range c {
			s.cmyk[i] = float64(v) / 100
			if v > 0 {
				s.inks++
			}
		}
		if s.inks >= 2 {
			all = append(all, s)
		}
	}
	for _, t := range pr.Toners {
		if t.Kind != colourant.Process {
			add(t.Name, t.StandIn)
		}
	}
	for _, m := range pr.Mixes {
		add(m.Name, m.StandIn)
	}
	return all
}

var standInAsProcess = Rule{
	ID:       "stand-in-in-process-colour",
	Measures: "process colours equal to the stand-in colour of a toner or mix that is made of two inks or more; a warning for two inks, an error for more",
	Figure:   "0.5 % per component",
	Source:   "common practice, no source",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		all := standIns(in.Press)
		hits := make([][]int, len(all))
		p.eachInk(func(i int, k ink) {
			if len(k.comps) != 4 || !isCMYK(k.space) {
				return
			}
			for s := range all {
				if near(k.comps, all[s].cmyk) {
					hits[s] = appendItem(hits[s], i)
				}
			}
		})
		for s, items := range hits {
			if len(items) == 0 {
				continue
			}
			n, sev := all[s].name, finding.Error
			if all[s].inks == 2 {
				sev = finding.Warning
			}
			out.Add(finding.Finding{
				ID: "stand-in-in-process-colour", Severity: sev,
				What:   fmt.Sprintf("%s painted in process colour with exactly the stand-in colour of %q.", objects(len(items)), n),
				Why:    "It looks right on screen but holds no colourant name, so it prints in cyan, magenta, yellow and black, not in the toner.",
				Remedy: fmt.Sprintf("If the toner is meant, paint these objects in the colourant %q; if the plain colour is meant, change it slightly.", n),
				Place:  p.place(p.boundsOf(items), items, n),
			})
		}
		return nil
	},
}

func near(comps []float64, c [4]float64) bool {
	for i, v := range c {
		if math.Abs(comps[i]-v) > .005 {
			return false
		}
	}
	return true
}

func objects(n int) string {
	if n == 1 {
		return "1 object is"
	}
	return fmt.Sprintf("%d objects are", n)
}
