package mend

import (
	"errors"
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
)

// giveImage gives an image to a toner. Where a pixel is one sample of at most 8 bits the data stays and only what its values
// mean changes; else a new image of one sample a pixel is made.
func (e *Edit) giveImage(p *Page, i int, g *gift) error {
	im := p.List.Items[i].Image.Image
	if len(g.names) == 1 {
		if s, ok := im.Space.(*colour.Separation); ok && s.Name == g.names[0] {
			return nil
		}
	}
	if ix, ok := im.Space.(*colour.Indexed); ok {
		if ns := colour.Names(ix.Base); slices.Equal(ns, g.names) {
			return nil
		}
	}
	st, err := e.imageFor(im, g)
	if err != nil {
		e.Note("Page %d: an image was left as it is: %v.", p.List.Page.Number, err)
		return nil
	}
	key := "image " + string(pdf.AppendObject(nil, st.Dict))
	if raw, err := e.Doc.RawData(st); err == nil {
		key += string(raw)
	}
	ref, ok := e.copies[key]
	if !ok {
		ref = e.up.Add(st)
		e.copies[key] = ref
	}
	var o pdf.Object = ref
	return e.try(p, i, Change{XObject: &o})
}

// imageFor makes the image in the toner.
func (e *Edit) imageFor(im *image.Image, g *gift) (*pdf.Stream, error) {
	src, ok := e.Doc.Stream(im.Ref)
	if g.mask {
		if !ok {
			return nil, errors.New("it has no soft mask")
		}
		m, ok := e.Doc.Stream(src.Dict["SMask"])
		if !ok || im.SoftMask == nil {
			return nil, errors.New("it has no soft mask")
		}
		if im.SoftMask.Bits > 8 {
			return nil, errors.New("its soft mask has 16 bits")
		}
		// A mask is full where it lets through: light is much.
		return m.WithDict(e.oneSample(m.Dict, im.SoftMask, g, func(v []float64) float64 { return v[0] })), nil
	}
	dark := func(v []float64) float64 { return darkness(im.Space, v) }
	if ix, is := im.Space.(*colour.Indexed); is {
		base := make([]float64, ix.Base.Components())
		dark = func(v []float64) float64 {
			ix.Lookup(base, v[0])
			return darkness(ix.Base, base)
		}
	}
	if ok && im.Components() == 1 && im.Bits <= 8 {
		return src.WithDict(e.oneSample(src.Dict, im, g, dark)), nil
	}
	if im.ColourKey != nil {
		return nil, errors.New("some of its colours are transparent, which one plate cannot tell")
	}
	if im.Matte != nil {
		return nil, errors.New("its colours are mixed with a matte beforehand")
	}
	if im.SoftMask != nil && (!ok || src.Dict["SMask"] == nil) {
		return nil, errors.New("its transparency lies within its data")
	}
	data := make([]byte, 0, im.Width*im.Height*len(g.parts))
	n := im.Components()
	v := make([]float64, n)
	top := float64(int(1)<<im.Bits - 1)
	for y := range im.Height {
		for x := range im.Width {
			for c := range n {
				lo, hi := im.Decode[2*c], im.Decode[2*c+1]
				v[c] = lo + float64(float64(float64(im.Sample(x, y, c))/top)*(hi-lo))
			}
			t := g.curve[byte(float64(dark(v)*255)+.5)]
			for _, part := range g.parts {
				data = append(data, byte(float64(float64(t)*part)+.5))
			}
		}
	}
	d := pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(im.Width), "Height": pdf.Integer(im.Height),
		"BitsPerComponent": pdf.Integer(8), "ColorSpace": g.space}
	if ok {
		for _, k := range []pdf.Name{"SMask", "Mask", "OC", "Interpolate", "Metadata"} {
			if src.Dict[k] != nil {
				d[k] = src.Dict[k]
			}
		}
	}
	return pdf.NewStream(d, data, true), nil
}

// oneSample is the dictionary of an image of one sample a pixel whose values mean tints of the toner.
func (e *Edit) oneSample(dict pdf.Dict, im *image.Image, g *gift, dark func([]float64) float64) pdf.Dict {
	top := 1<<im.Bits - 1
	table := make([]byte, 0, (top+1)*len(g.parts))
	for s := range top + 1 {
		lo, hi := im.Decode[0], im.Decode[1]
		v := lo + float64(float64(float64(s)/float64(top))*(hi-lo))
		t := g.curve[byte(float64(clamp01(dark([]float64{v}))*255)+.5)]
		for _, part := range g.parts {
			table = append(table, byte(float64(float64(t)*part)+.5))
		}
	}
	d := copyOf(dict)
	for _, k := range []pdf.Name{"Decode", "Alternates", "Intent", "Matte", "Length", "OPI"} {
		delete(d, k)
	}
	d["Type"], d["Subtype"] = pdf.Name("XObject"), pdf.Name("Image")
	d["ColorSpace"] = pdf.Array{pdf.Name("Indexed"), g.space, pdf.Integer(top), pdf.String(table)}
	return d
}
