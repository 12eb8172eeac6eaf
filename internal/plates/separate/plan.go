package separate

import (
	"fmt"
	"strings"

	"laydown/internal/artwork/displist"
)

// Step is one item of a display list with what it does to the plates.
type Step struct {
	Item    int
	Depth   int     // of the groups round it
	Context Context // of the group it is painted in
	// Ink is nil for groups, hidden items and coloured tilings. Images and shadings have no single
	// tint: Sampled is set and Values are 0.
	Ink     *Ink
	Sampled bool
}

// Plan replays a list: every item in paint order with its effects.
func (t *Target) Plan(list *displist.List) []Step {
	inker := t.NewInker()
	steps := make([]Step, 0, len(list.Items))
	type level struct {
		end int
		ctx Context
	}
	groups := []level{{len(list.Items), PageContext(list)}}
	for i := range list.Items {
		for len(groups) > 1 && i >= groups[len(groups)-1].end {
			groups = groups[:len(groups)-1]
		}
		ctx := groups[len(groups)-1].ctx
		item := &list.Items[i]
		step := Step{Item: i, Depth: len(groups) - 1, Context: ctx}
		if item.Kind == displist.BeginGroup && item.Group != nil {
			groups = append(groups, level{item.Group.End, ctx.Within(item.Group)})
		} else if !item.Hidden {
			step.Ink, step.Sampled = inker.item(item, ctx)
		}
		steps = append(steps, step)
	}
	return steps
}

// item separates what one item paints with; sampled tells that the ink holds effects only.
func (k *Inker) item(item *displist.Item, ctx Context) (ink *Ink, sampled bool) {
	var space *SpaceInk
	switch p := &item.Paint; {
	case item.Kind == displist.Shade && item.Shading != nil:
		space = k.Space(item.Shading.Space, item.Overprint, item.Intent, ctx)
	case item.Kind == displist.Image && item.Image != nil && !item.Image.Stencil:
		space = k.Space(item.Image.Space, item.Overprint, item.Intent, ctx)
	case p.Shading != nil:
		space = k.Space(p.Shading.Space, item.Overprint, item.Intent, ctx)
	case p.Tiling != nil && p.Tiling.Coloured:
		return nil, false
	default:
		return k.Colour(*p, item.Overprint, item.OverprintMode, false, item.Intent, ctx), false
	}
	return &Ink{Effects: space.Effects, Reasons: space.Reasons, Values: make([]uint16, len(space.Effects)), Nothing: space.Nothing}, true
}

// Describe writes an ink in one line, "paints White 50 %; clears Silver; leaves Cyan, Magenta": components
// with the same effect together. sampled leaves the tints out. names are those of Target.ComponentNames.
func (ink *Ink) Describe(names []string, sampled bool) string {
	if ink.Nothing {
		return "marks nothing"
	}
	var painted, cleared, left []string
	for i, e := range ink.Effects {
		switch {
		case e == Clear:
			cleared = append(cleared, names[i])
		case e == Leave:
			left = append(left, names[i])
		case sampled:
			painted = append(painted, names[i])
		default:
			painted = append(painted, fmt.Sprintf("%s %.4g %%", names[i], float64(ink.Values[i])*100/fullTint))
		}
	}
	var parts []string
	for _, p := range []struct {
		word  string
		names []string
	}{{"paints", painted}, {"clears", cleared}, {"leaves", left}} {
		if len(p.names) > 0 {
			parts = append(parts, p.word+" "+strings.Join(p.names, ", "))
		}
	}
	return strings.Join(parts, "; ")
}
