package mend

import (
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"slices"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// Alters is what of its objects a remedy changes. All else of them stays as it is, object by object: where all plates may differ in a
// box, they alone would not tell that something is missing there.
type Alters uint8

// What remedies alter.
const (
	AltersColours Alters = 1 << iota // the colours of the objects named in Change, and the data of their images
	AltersWidths                     // the pens of the strokes named in Change, which get no thinner
	AltersLetters                    // the letters of fonts that are not in the file, which may be stretched along the line
)

// Keep says that nothing but this is altered; Lost holds the pages against it.
func (e *Edit) Keep(but Alters) { e.keeps, e.alters = true, but }

// place is an operator on a page, the same whenever the page is read.
type place struct {
	page, object, annotation int
	offset                   int64
	forms                    string
}

func placeOf(o *displist.Origin) place {
	p := place{page: o.Page, object: o.Object, annotation: o.Annotation, offset: o.Offset}
	if o.Forms != nil {
		var b []byte
		for f := o.Forms; f != nil; f = f.Parent {
			b = binary.AppendVarint(binary.AppendVarint(b, int64(f.Object)), f.Offset)
		}
		p.forms = string(b)
	}
	return p
}

// Loss is an object that would not stay as it is.
type Loss struct {
	Where geom.Rect // list space
	What  string
}

// mostLosses of a page are told.
const mostLosses = 8

// Lost tells which objects of a page differ in more than the remedy alters.
func (e *Edit) Lost(before, after *displist.List) (out []Loss) {
	if !e.keeps {
		return nil
	}
	if a, b := len(before.Items), len(after.Items); a != b {
		return []Loss{{before.Page.Media, fmt.Sprintf("its %d objects would become %d", a, b)}}
	}
	k := &keeper{e: e, clips: map[[2]*displist.Clip]bool{}, cells: map[[2]*displist.Tiling]bool{}}
	for i := range before.Items {
		if what := k.item(&before.Items[i], &after.Items[i], false); what != "" {
			out = append(out, Loss{before.Items[i].Bounds, fmt.Sprintf("object %d would differ in %s", i, what)})
			if len(out) == mostLosses {
				break
			}
		}
	}
	return out
}

// keeper compares two lists. What several items share is compared once.
type keeper struct {
	e     *Edit
	clips map[[2]*displist.Clip]bool
	cells map[[2]*displist.Tiling]bool
}

// item names what differs of an item though it must not, "" = nothing. What is painted in masks and cells of patterns is named
// in no Change.
func (k *keeper) item(a, b *displist.Item, inner bool) string {
	var c Change
	if !inner {
		c = k.e.asked[placeOf(&a.Origin)]
	}
	letters := k.e.alters&AltersLetters != 0 && a.Text != nil && !a.Text.Embedded
	widths := k.e.alters&AltersWidths != 0 && c.Width != 0 && a.Kind == displist.Stroke
	switch {
	case a.Kind != b.Kind || a.Hidden != b.Hidden || a.Blend != b.Blend || a.Alpha != b.Alpha || a.AlphaIsShape != b.AlphaIsShape || !sameLayer(a.Layer, b.Layer):
		return "its kind, its transparency or its layer"
	case a.Overprint != b.Overprint || a.OverprintMode != b.OverprintMode:
		return "its overprint"
	case (a.Text == nil) != (b.Text == nil) || a.Text != nil && (a.Text.String != b.Text.String || a.Text.Mode != b.Text.Mode || a.Text.Size != b.Text.Size):
		return "its text"
	case !k.clip(a.Clip, b.Clip):
		return "its clip"
	case !sameGroup(a.Group, b.Group) || !k.mask(a.SoftMask, b.SoftMask):
		return "its group or its mask"
	case !k.shape(&a.Shape, &b.Shape, letters):
		return "its shape"
	case !letters && !widths && a.Kind != displist.BeginGroup && a.Bounds != b.Bounds: // a group's are those of what is in it
		return "its place"
	case !samePen(a.Pen, b.Pen, widths):
		return "its line"
	case !k.picture(a.Image, b.Image, k.e.alters&AltersColours != 0 && c.XObject != nil):
		return "its image"
	}
	return k.paint(a, b, c, inner)
}

func sameLayer(a, b *displist.Layer) bool {
	return (a == nil) == (b == nil) && (a == nil || a.Name == b.Name && a.Visible == b.Visible && a.Step == b.Step)
}

func sameGroup(a, b *displist.Group) bool {
	return (a == nil) == (b == nil) && (a == nil || a.End == b.End && a.Isolated == b.Isolated && a.Knockout == b.Knockout && a.Implicit == b.Implicit)
}

func (k *keeper) items(a, b []displist.Item) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if k.item(&a[i], &b[i], true) != "" {
			return false
		}
	}
	return true
}

func (k *keeper) mask(a, b *displist.SoftMask) bool {
	return (a == nil) == (b == nil) && (a == nil || a.Luminosity == b.Luminosity && k.items(a.Items, b.Items))
}

func (k *keeper) clip(a, b *displist.Clip) bool {
	if a == nil || b == nil {
		return a == b
	}
	key := [2]*displist.Clip{a, b}
	same, known := k.clips[key]
	if !known {
		// A clip of letters that are put into the file is compared by its box.
		letters := k.e.alters&AltersLetters != 0 && a.Shape.Glyphs != nil
		same = k.clip(a.Parent, b.Parent) && (letters || a.Bounds == b.Bounds) && k.shape(&a.Shape, &b.Shape, letters)
		k.clips[key] = same
	}
	return same
}

func (k *keeper) shape(a, b *displist.Shape, letters bool) bool {
	if a.Rule != b.Rule || !samePath(a.Path, b.Path) || len(a.Glyphs) != len(b.Glyphs) {
		return false
	}
	for i := range a.Glyphs {
		if letters && !sameLetter(&a.Glyphs[i], &b.Glyphs[i]) || !letters && (a.Glyphs[i].M != b.Glyphs[i].M || !samePath(a.Glyphs[i].Outline, b.Glyphs[i].Outline)) {
			return false
		}
	}
	return true
}

func samePath(a, b *geom.Path) bool {
	if a == nil || b == nil {
		return a == b
	}
	return slices.Equal(a.Verbs, b.Verbs) && slices.Equal(a.Points, b.Points)
}

// sameLetter reports whether two letters stand at one place and are one outline, which may be stretched along the line.
func sameLetter(a, b *displist.Glyph) bool {
	bare := func(g *displist.Glyph) bool { return g.Outline == nil || len(g.Outline.Points) == 0 }
	if bare(a) || bare(b) {
		return bare(a) == bare(b)
	}
	// Both in the space of the first, where the em is 1.
	back, ok := a.M.Invert()
	if !ok {
		return true
	}
	m := b.M.Mul(back)
	if !slices.Equal(a.Outline.Verbs, b.Outline.Verbs) || len(a.Outline.Points) != len(b.Outline.Points) {
		return false
	}
	// em; widths and outlines are rounded to a thousandth or finer in the file.
	const near = .005
	ea, eb := a.Outline.Bounds(), m.Bounds(b.Outline.Bounds())
	stretch := 1.0
	if ea.W() > near {
		stretch = eb.W() / ea.W()
	}
	if o := m.Apply(geom.Point{}); math.Abs(o.X) > near || math.Abs(o.Y) > near {
		return false
	}
	for i, q := range b.Outline.Points {
		p := a.Outline.Points[i]
		q = m.Apply(q)
		if math.Abs(q.X-eb.X0-float64((p.X-ea.X0)*stretch)) > near || math.Abs(q.Y-p.Y) > near {
			return false
		}
	}
	return true
}

func samePen(a, b *displist.Pen, widths bool) bool {
	if a == nil || b == nil {
		return a == b
	}
	w := b.Style
	if widths && w.Width >= a.Style.Width {
		w.Width = a.Style.Width
	}
	return a.M == b.M && reflect.DeepEqual(a.Style, w)
}

func (k *keeper) picture(a, b *displist.Picture, changed bool) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.M == b.M && (changed || a.Stencil == b.Stencil && a.Width == b.Width && a.Height == b.Height && a.Bits == b.Bits && slices.Equal(a.Decode, b.Decode))
}

// paint holds the colours of flat paint against what was asked for, or what was.
func (k *keeper) paint(a, b *displist.Item, c Change, inner bool) string {
	if (a.Paint.Tiling == nil) != (b.Paint.Tiling == nil) || (a.Paint.Shading == nil) != (b.Paint.Shading == nil) || (a.Shading == nil) != (b.Shading == nil) {
		return "its blend or its pattern"
	}
	if ta, tb := a.Paint.Tiling, b.Paint.Tiling; ta != nil {
		key := [2]*displist.Tiling{ta, tb}
		same, known := k.cells[key]
		if !known {
			same = k.items(ta.Items, tb.Items)
			k.cells[key] = same
		}
		if !same {
			return "its pattern"
		}
	}
	to := c.Fill
	if a.Kind == displist.Stroke {
		to = c.Stroke
	}
	want := a.Paint.Comps
	switch {
	case k.e.alters&AltersColours == 0:
	case to != nil:
		want = to.Comps
	case a.Text != nil && !inner:
		return "" // letters drawn as pictures take the colour of their operator, which is not named as theirs
	}
	if len(want) != len(b.Paint.Comps) {
		return "its colour"
	}
	for i, v := range want {
		const near = 1e-4 // what numbers in content are rounded to
		if math.Abs(v-b.Paint.Comps[i]) > near {
			return "its colour"
		}
	}
	return ""
}
