package check

import (
	"context"
	"fmt"
	"math"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

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
	ID:         "stand-in-in-process-colour",
	Group:      Names,
	Severities: []finding.Severity{finding.Warning, finding.Error},
	Remedies:   []string{"to-toner"},
	Measures:   "process colours equal to the stand-in colour of a toner or mix that is made of two inks or more; a warning for two inks, an error for more",
	Figures:    []Figure{{Key: "difference", Unit: press.UnitPercent, Default: .5, What: "largest difference of a component that counts as equal", Source: CommonPractice}},
	Source:     "common practice, no source",
	Page: func(_ context.Context, c *Case) error {
		in, p := c.Input, c.Page
		if in.Press == nil {
			return nil
		}
		all := standIns(in.Press)
		hits := make([][]int, len(all))
		within := c.figure("difference") / 100
		p.eachInk(func(i int, k ink) {
			if len(k.comps) != 4 || !isCMYK(k.space) {
				return
			}
			for s := range all {
				if near(k.comps, all[s].cmyk, within) {
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
			c.Add(finding.Finding{
				Severity: sev,
				What:     fmt.Sprintf("%s painted in process colour with exactly the stand-in colour of %q.", objects(len(items)), n),
				Why:      "It looks right on screen but holds no colourant name, so it prints in cyan, magenta, yellow and black, not in the toner.",
				Remedy:   fmt.Sprintf("If the toner is meant, paint these objects in the colourant %q; if the plain colour is meant, change it slightly.", n),
				Place:    p.place(p.boundsOf(items), items, n),
			})
		}
		return nil
	},
}

func near(comps []float64, c [4]float64, within float64) bool {
	for i, v := range c {
		if math.Abs(comps[i]-v) > within {
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
