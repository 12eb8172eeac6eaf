package check

import (
	"context"
	"image"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/paint"
	"laydown/internal/press"
)

// Zones are places on the piece where toner may be in the way: those the job names, and what lies on
// processing-step layers of the artwork.

// zoneTypes maps the types of the step group Structural to the words of jobs.
var zoneTypes = map[string]string{
	"Folding": press.ZoneFold, "Creasing": press.ZoneFold, "ReverseCreasing": press.ZoneFold, "CuttingCreasing": press.ZoneFold,
	"ReverseCuttingCreasing": press.ZoneFold, "PartialCuttingCreasing": press.ZoneFold, "ReversePartialCuttingCreasing": press.ZoneFold,
	"Gluing": press.ZoneGlue, "InkFree": press.ZoneGlue, "InkVarnishFree": press.ZoneGlue, "VarnishFree": press.ZoneWriteOn,
	"Perforating": press.ZonePerforation,
}

// line reports whether zones of the kind are lines, which have a width of their own.
func lineZone(kind string) bool { return kind == press.ZoneFold || kind == press.ZonePerforation }

// zone marks the zones of a kind; those that are lines reach mm to either side. The mask is nil when the page has
// none.
func (c *Case) zone(ctx context.Context, kind string, mm float64) (mask, error) {
	list := &displist.List{Page: c.List.Page}
	reach := press.Length(mm).Points()
	if c.Job != nil {
		for i := range c.Job.Zones {
			z := &c.Job.Zones[i]
			if z.Kind != kind || z.Page != 0 && z.Page != c.List.Page.Number {
				continue
			}
			t := c.List.Page.Trim
			x, y := t.X0+z.Left.Points(), t.Y0+z.Top.Points()
			r := geom.RectOf(x, y, x+z.Width.Points(), y+z.Height.Points())
			if lineZone(kind) {
				r = r.Grow(reach)
			}
			path := &geom.Path{}
			path.Rect(r)
			list.Items = append(list.Items, zoneItem(path, nil))
		}
	}
	for i := range c.List.Items {
		it := &c.List.Items[i]
		if s := it.StepOf(); s.Group != "Structural" || zoneTypes[s.Type] != kind || it.Shape.Path == nil {
			continue
		}
		var pen *displist.Pen
		if lineZone(kind) {
			pen = &displist.Pen{Style: geom.StrokeStyle{Width: 2 * reach, MiterLimit: 10}, M: geom.Identity}
		}
		list.Items = append(list.Items, zoneItem(it.Shape.Path, pen))
	}
	if len(list.Items) == 0 {
		return nil, nil
	}
	m := c.newMask()
	job := paint.Job{List: list, Target: c.Target, DPI: c.Plates.DPI, Region: c.listRect(0, 0, c.Plates.Width, c.Plates.Height), Sink: finding.Discard}
	err := paint.Render(ctx, job, &rowSink{row: func(k, y int, tints []byte) {
		if k == processBlack {
			for x, v := range tints {
				m[y*c.Plates.Width+x] = bit(v >= solidTint)
			}
		}
	}})
	c.within(m, c.List.Page.Bleed)
	return m, err
}

// zoneItem paints a path in black, filled or stroked.
func zoneItem(path *geom.Path, pen *displist.Pen) displist.Item {
	it := displist.Item{Kind: displist.Fill, Alpha: 1, Shape: displist.Shape{Path: path}, Pen: pen, Bounds: path.Bounds(),
		Paint: displist.Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}}
	if pen != nil {
		it.Kind = displist.Stroke
		it.Bounds = it.Bounds.Grow(pen.Style.Width * 10)
	}
	return it
}

// keepWhere empties the mask where the tints of the planes do not add up to least percent.
func (p *Page) keepWhere(m mask, plates plateBits, least float64) {
	var planes [][]byte
	for k := range p.Plates.Set.Len() {
		if plates.has(k) && p.Plates.Plane(k) != nil {
			planes = append(planes, p.Plates.Plane(k))
		}
	}
	limit := int(least * 2.55)
	for i, v := range m {
		if v == 0 {
			continue
		}
		sum := 0
		for _, plane := range planes {
			sum += int(plane[i])
		}
		m[i] = bit(sum >= limit)
	}
}

// allPlates is the set of the page's plates.
func (p *Page) allPlates() plateBits { return 1<<p.Plates.Set.Len() - 1 }

// strip is a band of pixels along an edge of the trim, deep mm inwards.
func (p *Page) strip(edge string, deep float64) image.Rectangle {
	t := p.List.Page.Trim
	d := press.Length(deep).Points()
	switch edge {
	case press.EdgeLeft:
		t.X1 = min(t.X1, t.X0+d)
	case press.EdgeRight:
		t.X0 = max(t.X0, t.X1-d)
	case press.EdgeTop:
		t.Y1 = min(t.Y1, t.Y0+d)
	case press.EdgeBottom:
		t.Y0 = max(t.Y0, t.Y1-d)
	}
	return image.Rect(p.PixelRect(t))
}
