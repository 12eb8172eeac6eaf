package check

import (
	"context"
	"fmt"
	"math"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var convertedLook = Rule{
	ID:    "toner-look-in-blend-or-image",
	Group: Names,
	Measures: "blends and images in process colour or RGB that hold the stand-in colour of a toner of the press or of a colourant of the page, made of two " +
		"inks or more: at an end of the blend, or on a share of the image's pixels",
	Figures: []Figure{
		{Key: "difference", Unit: press.UnitPercent, Default: .5, What: "largest difference of a component that counts as equal", Source: CommonPractice},
		{Key: "share", Unit: press.UnitPercent, Default: 5, What: "least share of an image's pixels", Source: CommonPractice},
	},
	Source:     CommonPractice + ": programs turn special toners into process colours where they make a blend or an image",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		looks := c.convertedLooks()
		if len(looks) == 0 {
			return nil
		}
		within, share := c.figure("difference")/100, c.figure("share")/100
		hits := make([][]int, len(looks))
		pictures := map[*image.Image][]bool{}
		for i := range c.List.Items {
			it := &c.List.Items[i]
			if it.Hidden {
				continue
			}
			var found []bool
			switch {
			case it.Kind == displist.Image && it.Image != nil && !it.Image.Stencil:
				pic := it.Image.Image
				if _, known := pictures[pic]; !known {
					pictures[pic] = looksInImage(pic, looks, within, share)
				}
				found = pictures[pic]
			case it.Kind == displist.Shade && it.Shading != nil:
				found = looksInBlend(it.Shading, looks, within)
			case it.Paint.Shading != nil:
				found = looksInBlend(it.Paint.Shading, looks, within)
			}
			for l, yes := range found {
				if yes {
					hits[l] = append(hits[l], i)
				}
			}
		}
		byName := map[string][]int{} // one name may have two looks: the press's and the artwork's
		for l, items := range hits {
			if len(items) > 0 {
				byName[looks[l].name] = append(byName[looks[l].name], items...)
			}
		}
		for _, n := range sortedKeys(byName) {
			items := byName[n]
			slices.Sort(items)
			items = slices.Compact(items)
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s painted with the stand-in colour of %q in process colour or RGB.", blends(len(items)), n),
				Why:      "It looks as if it held the toner, but the name was lost when the blend or image was made: it prints in cyan, magenta, yellow and black.",
				Remedy:   fmt.Sprintf("Make the blend between tints of %q itself, or export images as a plate of that name; if the plain colour is meant, change it slightly.", n),
				Place:    c.place(c.boundsOf(items), items, n),
			})
		}
		return nil
	},
}

func blends(n int) string {
	if n == 1 {
		return "1 blend or image is"
	}
	return fmt.Sprintf("%d blends or images are", n)
}

// namedLook is a stand-in colour at full tint in a family of colour spaces.
type namedLook struct {
	name  string
	comps []float64 // 4 = CMYK, 3 = RGB
}

// convertedLooks lists the stand-in colours of special toners that can be told from real ones: of the press, and of
// the definitions on the page.
func (c *Case) convertedLooks() (all []namedLook) {
	if c.Press != nil {
		for _, s := range standIns(c.Press) {
			all = append(all, namedLook{s.name, s.cmyk[:]})
		}
	}
	for _, n := range c.List.Names {
		if !c.isSpecialName(n.Name) {
			continue
		}
		for _, s := range n.Spaces {
			sep, ok := s.(*colour.Separation)
			if !ok || sep.Tint == nil || sep.Alternate == nil {
				continue
			}
			cmyk := isCMYK(sep.Alternate)
			if !cmyk && !isRGB(sep.Alternate) {
				continue
			}
			out := make([]float64, sep.Alternate.Components())
			sep.Tint.Eval(out, []float64{1})
			inks := 0
			for _, v := range out {
				if cmyk && v > 0 || !cmyk && v < 1 {
					inks++
				}
			}
			if gray := !cmyk && out[0] == out[1] && out[1] == out[2]; inks >= 2 && !gray {
				all = append(all, namedLook{n.Name, out})
			}
		}
	}
	return all
}

func isRGB(s colour.Space) bool {
	if icc, ok := s.(*colour.ICCBased); ok {
		return icc.N == 3
	}
	_, cal := s.(*colour.CalRGB)
	return cal || s == colour.Space(colour.RGB)
}

func (l *namedLook) is(comps []float64, within float64) bool {
	if len(comps) != len(l.comps) {
		return false
	}
	for i, v := range comps {
		if math.Abs(v-l.comps[i]) > within {
			return false
		}
	}
	return true
}

// looksInBlend compares the colours at both ends of an axial or radial blend, and those of a mesh's corners.
func looksInBlend(s *displist.Shading, looks []namedLook, within float64) []bool {
	if s.Space == nil || !isCMYK(s.Space) && !isRGB(s.Space) {
		return nil
	}
	found := make([]bool, len(looks))
	look := func(comps []float64) {
		for l := range looks {
			found[l] = found[l] || looks[l].is(comps, within)
		}
	}
	switch {
	case s.Function != nil && s.Function.Inputs() == 1 && len(s.Domain) >= 2:
		out := make([]float64, s.Space.Components())
		for _, t := range s.Domain[:2] {
			s.Function.Eval(out, []float64{t})
			look(out)
		}
	case s.Function == nil && s.Mesh != nil:
		for _, comps := range s.Mesh.Comps {
			look(comps)
		}
		for i := range s.Mesh.Patches {
			for _, comps := range s.Mesh.Patches[i].C {
				look(comps)
			}
		}
	}
	return found
}

// maxLookedAt pixels of an image are compared; of a larger one only every n-th row and column.
const maxLookedAt = 1 << 19

func looksInImage(pic *image.Image, looks []namedLook, within, share float64) []bool {
	space := pic.Space
	ix, indexed := space.(*colour.Indexed)
	if indexed {
		space = ix.Base
	}
	if space == nil || !isCMYK(space) && !isRGB(space) || pic.Width*pic.Height == 0 {
		return nil
	}
	step := 1
	for pic.Width/step*(pic.Height/step) > maxLookedAt {
		step++
	}
	counts := make([]int, len(looks))
	n := 0
	most := float64(int(1)<<pic.Bits - 1)
	comps, raw := make([]float64, space.Components()), make([]float64, pic.Components())
	for y := 0; y < pic.Height; y += step {
		for x := 0; x < pic.Width; x += step {
			for i := range raw {
				lo, hi := pic.Decode[2*i], pic.Decode[2*i+1]
				raw[i] = lo + float64(float64(pic.Sample(x, y, i))/most*(hi-lo))
			}
			if indexed {
				ix.Lookup(comps, raw[0])
			} else {
				comps = raw
			}
			n++
			for l := range looks {
				if looks[l].is(comps, within) {
					counts[l]++
				}
			}
		}
	}
	found := make([]bool, len(looks))
	for l, count := range counts {
		found[l] = float64(count) >= share*float64(n)
	}
	return found
}
