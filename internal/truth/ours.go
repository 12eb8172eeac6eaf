package truth

import (
	"context"
	"fmt"
	"os"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// OurPage is a page as we separate it, with what the judge needs to know of it.
type OurPage struct {
	Plates
	DPI      int // resolution to compare in
	Kind     map[string]PlateKind
	Findings []finding.Finding
	// Incomplete pages lack something that is said in a finding; they are compared but not judged.
	Incomplete bool
	list       *displist.List
}

// PlateKind is what decides the limits a plate is judged by.
type PlateKind struct {
	Special bool
	Text    bool // more than half of the items that paint it are text
	AnyText bool // some are
	// Converted is set for process plates of pages with RGB, Lab, CIE or ICC colour or blending in
	// such a space: interpreters convert these differently, so C, M, Y are compared together with K.
	Converted bool
}

// Ours separates a page without a press and with plain conversion.
func Ours(ctx context.Context, file string, page int) (*OurPage, error) {
	return oursAt(ctx, file, page, 0)
}

// oursAt is Ours in a resolution; 0 = by the size of the page.
func oursAt(ctx context.Context, file string, page, dpi int) (*OurPage, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	sink := &finding.Collector{}
	doc, err := pdf.Open(f, st.Size(), pdf.Options{Sink: sink})
	if err != nil {
		return nil, err
	}
	list, err := interp.NewReader(doc, sink).Page(ctx, page, interp.Options{Sink: sink})
	if err != nil {
		return nil, err
	}
	target := separate.NewTargetFromLists(colour.NewConverter(nil), sink, list)
	stack := &plate.Stack{}
	if dpi == 0 {
		dpi = dpiFor(paint.Size(list.Page.Crop, DPI))
	}
	job := paint.Job{List: list, Target: target, DPI: float64(dpi), Region: list.Page.Crop, Sink: sink}
	if w, h := paint.Size(job.Region, job.DPI); w*h*target.Set.Len() > 1<<30 {
		return nil, fmt.Errorf("page of %d x %d pixels is too large to compare", w, h)
	}
	if err := paint.Render(ctx, job, stack); err != nil {
		return nil, err
	}
	out := &OurPage{DPI: dpi, Plates: Plates{W: stack.Width, H: stack.Height, Plane: map[string][]byte{}}, Kind: map[string]PlateKind{},
		Findings: sink.Sorted(), Incomplete: list.Incomplete, list: list}
	for _, fd := range out.Findings {
		out.Incomplete = out.Incomplete || fd.Incomplete
	}
	converted := usesConversion(list)
	for i, c := range target.Set.All() {
		plane := stack.Plane(i)
		if plane == nil {
			plane = make([]byte, stack.Width*stack.Height)
		}
		out.Plane[c.Name] = plane
		special := i >= 4
		text, all := textOn(list, target, i)
		out.Kind[c.Name] = PlateKind{Special: special, Converted: !special && converted, Text: 2*text > all, AnyText: text > 0}
	}
	return out, nil
}

func usesConversion(list *displist.List) bool {
	device := func(s colour.Space) bool {
		for {
			switch v := s.(type) {
			case nil:
				return true
			case *colour.Indexed:
				s = v.Base
			case *colour.Separation:
				s = v.Alternate
			case *colour.DeviceN:
				s = v.Alternate
			case *colour.Pattern:
				s = v.Under
			default:
				f := s.Family()
				return f == colour.FamilyGray || f == colour.FamilyCMYK
			}
		}
	}
	if list.Group != nil && list.Group.Space != nil && !device(list.Group.Space) {
		return true
	}
	seen := map[*displist.Item]bool{} // first items of lists already looked at
	var items func([]displist.Item) bool
	items = func(all []displist.Item) bool {
		if len(all) == 0 || seen[&all[0]] {
			return false
		}
		seen[&all[0]] = true
		for i := range all {
			it := &all[i]
			for _, s := range []*displist.Shading{it.Shading, it.Paint.Shading} {
				if s != nil && !device(s.Space) {
					return true
				}
			}
			if it.Image != nil && !it.Image.Stencil && !device(it.Image.Space) || it.Paint.Space != nil && !device(it.Paint.Space) ||
				it.Group != nil && it.Group.Space != nil && !device(it.Group.Space) ||
				it.SoftMask != nil && items(it.SoftMask.Items) || it.Paint.Tiling != nil && items(it.Paint.Tiling.Items) {
				return true
			}
		}
		return false
	}
	return items(list.Items)
}

// textOn counts the items that paint plate i, and those of them that are text.
func textOn(list *displist.List, t *separate.Target, i int) (text, all int) {
	for _, step := range t.Plan(list) {
		it := &list.Items[step.Item]
		if step.Ink == nil {
			continue
		}
		process := len(step.Ink.Effects) - (t.Set.Len() - 4)
		c := i
		if i >= 4 {
			c = process + i - 4
		} else if process != 4 {
			continue
		}
		if step.Ink.Effects[c] != separate.Paint {
			continue
		}
		all++
		if it.Text != nil {
			text++
		}
	}
	return text, all
}
