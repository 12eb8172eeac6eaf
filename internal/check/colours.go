package check

import (
	"context"
	"fmt"
	"math"
	"sort"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// itemSpace is the colour space an item paints in, Indexed looked through; nil for none.
func itemSpace(it *displist.Item) colour.Space {
	var s colour.Space
	switch {
	case it.Kind == displist.Image && it.Image != nil && !it.Image.Stencil:
		s = it.Image.Space
	case it.Kind == displist.Shade && it.Shading != nil:
		s = it.Shading.Space
	case it.Paint.Shading != nil:
		s = it.Paint.Shading.Space
	default:
		s = it.Paint.Space
	}
	if ix, ok := s.(*colour.Indexed); ok {
		s = ix.Base
	}
	if p, ok := s.(*colour.Pattern); ok {
		s = p.Under
	}
	return s
}

// itemNames lists the colourant names of the space an item paints in.
func itemNames(it *displist.Item) []string {
	switch s := itemSpace(it).(type) {
	case *colour.Separation:
		return []string{s.Name}
	case *colour.DeviceN:
		return s.Names
	}
	return nil
}

var definitionsDiffer = Rule{
	ID:       "colourant-definitions-differ",
	Measures: "the stand-in colours (alternate space and tint transform) given to one colourant name",
	Source:   "ISO 19005-4, 6.2.4.4 and PDF/X-6 by the same reading: one name, one definition",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		for _, n := range p.List.Names {
			var looks []string
			for _, s := range n.Spaces {
				sep, ok := s.(*colour.Separation)
				if !ok {
					continue // a DeviceN gives a look to mixtures, not to one name
				}
				look := standInText(sep)
				known := false
				for _, l := range looks {
					known = known || l == look
				}
				if !known {
					looks = append(looks, look)
				}
			}
			if len(looks) < 2 {
				continue
			}
			items := p.itemsNaming(n.Name)
			out.Add(finding.Finding{
				ID: "colourant-definitions-differ", Severity: finding.Warning,
				What: fmt.Sprintf("The colourant %q is defined with %d different stand-in colours: %s.", n.Name, len(looks), strings.Join(looks, "; ")),
				Why: "It makes one plate all the same, but the objects look different on screen, so what is seen is not one toner, " +
					"and programs that merge definitions may pick either.",
				Remedy: "Give the name one definition in the whole document.",
				Place:  p.place(p.boundsOf(items), items, n.Name),
			})
		}
		return nil
	},
}

// standInText names a definition by its colours at 50 and 100 %, so that equal looks compare equal
// however they are written.
func standInText(s *colour.Separation) string {
	if s.Tint == nil || s.Tint.Inputs() != 1 {
		return s.Alternate.String()
	}
	one := func(t float64) string {
		comps := make([]float64, s.Tint.Outputs())
		s.Tint.Eval(comps, []float64{t})
		words := make([]string, len(comps))
		for i, c := range comps {
			words[i] = fmt.Sprintf("%.4g", math.Round(c*1000)/1000)
		}
		return strings.Join(words, " ")
	}
	return fmt.Sprintf("%s %s (half: %s)", s.Alternate, one(1), one(.5))
}

var standInAsProcess = Rule{
	ID:       "stand-in-in-process-colour",
	Measures: "process colours equal to the stand-in colour of a toner or mix, within half a percent per component",
	Figure:   "0.5 %",
	Source:   "common practice, no source",
	Page: func(_ context.Context, in *Input, p *Page, out finding.Sink) error {
		if in.Press == nil {
			return nil
		}
		type standIn struct {
			name string
			cmyk [4]float64
		}
		var all []standIn
		add := func(name string, c [4]press.Percent) {
			v := [4]float64{float64(c[0]) / 100, float64(c[1]) / 100, float64(c[2]) / 100, float64(c[3]) / 100}
			inks := 0
			for _, x := range v {
				if x > 0 {
					inks++
				}
			}
			// One-ink stand-ins (20 % cyan for white, say) are too usual as real colours to accuse anybody.
			if inks >= 2 {
				all = append(all, standIn{name, v})
			}
		}
		for _, t := range in.Press.Toners {
			add(t.Name, t.StandIn)
		}
		for _, m := range in.Press.Mixes {
			add(m.Name, m.StandIn)
		}
		hits := map[string][]int{}
		for i := range p.List.Items {
			it := &p.List.Items[i]
			if it.Hidden || it.Kind == displist.BeginGroup || it.Kind == displist.Image && it.Image != nil && !it.Image.Stencil {
				continue
			}
			if itemSpace(it) != colour.Space(colour.CMYK) || len(it.Paint.Comps) != 4 {
				continue
			}
			for _, s := range all {
				if near(it.Paint.Comps, s.cmyk) {
					hits[s.name] = append(hits[s.name], i)
				}
			}
		}
		names := make([]string, 0, len(hits))
		for n := range hits {
			names = append(names, n)
		}
		sort.Strings(names)
		for _, n := range names {
			out.Add(finding.Finding{
				ID: "stand-in-in-process-colour", Severity: finding.Error,
				What: fmt.Sprintf("%s painted in process colour with exactly the stand-in colour of %q.", objects(len(hits[n])), n),
				Why:  "It looks right on screen but holds no colourant name, so it prints in cyan, magenta, yellow and black, not in the toner.",
				Remedy: fmt.Sprintf("If the toner is meant, paint these objects in the colourant %q; if the plain colour is meant, change it slightly.",
					n),
				Place: p.place(p.boundsOf(hits[n]), hits[n], n),
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
