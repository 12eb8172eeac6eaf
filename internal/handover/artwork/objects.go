package artwork

import (
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/content"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/plates/separate"
)

// intent follows ri.
func (w *walker) intent(n pdf.Name) {
	i, _ := colour.IntentFromName(string(n))
	w.at.now.intent = w.at.now.intent.WithBase(i)
}

func bareIsPattern(src *source) bool { return src.space.Family() == colour.FamilyPattern }

// do draws an XObject.
func (w *walker) do(name pdf.Name) error {
	d, _ := w.s.doc.Dict(w.res["XObject"])
	st, ok := w.s.doc.Stream(d[name])
	if !ok || w.hides() || w.s.shows(st.Dict["OC"]) == hidden {
		return nil
	}
	kind, _ := w.s.doc.Name(st.Dict["Subtype"])
	switch kind {
	case "Form":
		o, err := w.form(st)
		if err != nil || o == nil {
			return err
		}
		w.emit("%s Do", nameText(w.name("XObject", o)))
		return nil
	case "Image":
		return w.drawImage(d[name], st)
	}
	return nil // PostScript: nothing of it is on a plate
}

// form is a form rewritten for the state it is drawn in; nil when it draws itself.
func (w *walker) form(st *pdf.Stream) (pdf.Object, error) {
	begin, e := w.at.now, w.env
	if g, ok := w.s.doc.Dict(st.Dict["Group"]); ok {
		if kind, _ := w.s.doc.Name(g["S"]); kind == "Transparency" || kind == "" {
			e = w.s.within(e, g, w.res, st)
			e.shape = e.shape || begin.blend != displist.Normal
			begin.group()
		}
	}
	return w.s.copied("form", st, w.res, begin, w.handDown(), e, w.depth+1)
}

// within is what surrounds the members of a group.
func (s *splitter) within(e env, g, res pdf.Dict, st *pdf.Stream) env {
	if own, ok := s.doc.Dict(st.Dict["Resources"]); ok {
		res = own
	}
	dg := &displist.Group{}
	dg.Isolated, _ = s.doc.Bool(g["I"])
	dg.Knockout, _ = s.doc.Bool(g["K"])
	if s.doc.Resolve(g["CS"]) != nil && dg.Isolated {
		if sp, err := s.spaces.Space(g["CS"], res); err == nil {
			switch sp.Family() {
			case colour.FamilyLab, colour.FamilyIndexed, colour.FamilyPattern, colour.FamilySeparation, colour.FamilyDeviceN:
			default:
				dg.Space = sp
			}
		}
	}
	return env{ctx: e.ctx.Within(dg), shape: e.shape || dg.Isolated || dg.Knockout}
}

// copied is a stream of content written anew for the state it begins with, with the rest of its dictionary. res are the
// resources when it has none of its own.
func (s *splitter) copied(kind string, st *pdf.Stream, res pdf.Dict, begin state, out written, e env, depth int) (pdf.Object, error) {
	id := s.idOf(st)
	if s.running[id] || depth > limits.MaxFormDepth {
		return nil, nil
	}
	own, ok := s.doc.Dict(st.Dict["Resources"])
	key := fmt.Sprintf("%s %s %v %s %v", kind, id, e, begin.key(), out)
	if !ok {
		own = res
		key += " " + string(pdf.AppendObject(nil, res))
	}
	if o, ok := s.done[key]; ok {
		return o, nil
	}
	data, err := s.doc.Data(st)
	if s.shows(st.Dict["OC"]) == hidden {
		data, err = nil, nil
	}
	if err != nil && len(data) == 0 {
		return nil, cannot("Export the artwork again from the program that made it.", "a part of the content cannot be read")
	}
	s.running[id] = true
	defer delete(s.running, id)
	content, need, err := s.rewrite(data, own, begin, out, e, depth)
	if err != nil {
		return nil, err
	}
	dict := pdf.Dict{}
	for k, v := range st.Dict {
		switch k {
		case "Filter", "DecodeParms", "F", "FFilter", "FDecodeParms", "Length", "DL", "PieceInfo":
		case "OC":
			if s.shows(v) != always {
				dict[k] = v
			}
		default:
			dict[k] = v
		}
	}
	dict["Resources"] = need
	r := s.stream(dict, content)
	s.done[key] = r
	return r, nil
}

// idOf tells streams apart.
func (s *splitter) idOf(st *pdf.Stream) string {
	if st.Ref.Num != 0 {
		return fmt.Sprint(st.Ref.Num)
	}
	id, ok := s.stood[st]
	if !ok {
		id = fmt.Sprintf("direct %d", len(s.stood))
		s.stood[st] = id
	}
	return id
}

// drawImage draws an image XObject.
func (w *walker) drawImage(entry pdf.Object, st *pdf.Stream) error {
	if mask, _ := w.s.doc.Bool(st.Dict["ImageMask"]); mask {
		f, k, err := w.inks(true, false)
		if err != nil || f.omit {
			return err
		}
		w.set(f, k)
		w.emit("%s Do", nameText(w.name("XObject", w.s.unlayered(entry, st))))
		return nil
	}
	o, over, err := w.image(entry, st)
	if err != nil || o == nil {
		return err
	}
	w.set(ink{over: over, mode: -1, plain: true}, ink{omit: true})
	w.emit("%s Do", nameText(w.name("XObject", o)))
	return nil
}

// inline draws an inline image; one that changes becomes an object of its own.
func (w *walker) inline(op *content.Op) error {
	st := w.s.doc.NewInlineStream(op.Inline.Dict, op.Inline.Data)
	if mask, _ := w.s.doc.Bool(st.Dict["ImageMask"]); mask {
		f, k, err := w.inks(true, false)
		if err != nil || f.omit {
			return err
		}
		w.set(f, k)
		w.copy(op)
		return nil
	}
	if w.hides() {
		return nil
	}
	o, over, err := w.image(st, st)
	if err != nil || o == nil {
		return err
	}
	w.set(ink{over: over, mode: -1, plain: true}, ink{omit: true})
	if o == pdf.Object(st) {
		if n, ok := st.Dict["ColorSpace"].(pdf.Name); ok {
			w.keeps[n] = true
		}
		w.copy(op)
		return nil
	}
	w.emit("%s Do", nameText(w.name("XObject", o)))
	return nil
}

// image is what a sampled image becomes, and whether it overprints: entry where it stays as it is, nil where it marks nothing.
func (w *walker) image(entry pdf.Object, st *pdf.Stream) (o pdf.Object, over bool, err error) {
	s, now := w.s, &w.at.now
	over = now.overFill
	space, err := s.spaces.Space(st.Dict["ColorSpace"], w.res)
	var im *image.Image
	decode := func() error {
		if im != nil {
			return nil
		}
		if im, err = s.images.Image(st, w.res, finding.Place{Page: s.number}); err != nil {
			return cannot("Place the image again, saved as an ordinary JPEG or with lossless compression.", "an image cannot be decoded")
		}
		return nil
	}
	if st.Dict["ColorSpace"] == nil || err != nil || st.Dict["Alternates"] != nil {
		if err := decode(); err != nil {
			return nil, false, err
		}
		space = im.Space
	}
	intent := now.intent
	if n, ok := s.doc.Name(st.Dict["Intent"]); ok {
		i, _ := colour.IntentFromName(string(n))
		intent = intent.WithBase(i)
	}
	e := w.env
	e.shape = e.shape || now.blend != displist.Normal
	k := s.inker.Space(space, over, intent, e.ctx)
	v := s.judge(space, k.Effects, k.Reasons, k.Nothing, over, e)
	switch v {
	case kept:
		return s.unlayered(entry, st), over, nil
	case gone:
		return nil, false, nil
	case zeroed:
		if err := decode(); err != nil {
			return nil, false, err
		}
		c, err := s.zero(e)
		if err != nil || c.omit {
			return nil, false, err
		}
		return s.flat(st, im, c.raw, c.text), false, nil
	case outline:
		if err := decode(); err != nil {
			return nil, false, err
		}
		c, err := s.leaving(e)
		if err != nil {
			return nil, false, err
		}
		return s.flat(st, im, c.raw, c.text), true, nil
	}
	if st.Dict["Alternates"] == nil && st.Dict["ColorSpace"] != nil {
		if n, ok := st.Dict["ColorSpace"].(pdf.Name); ok {
			if raw, ok := s.reduced(space, w.object(n), e); ok {
				return s.recoloured(st, raw), over, nil
			}
		} else if raw, ok := s.reduced(space, st.Dict["ColorSpace"], e); ok {
			return s.recoloured(st, raw), over, nil
		}
	}
	if err := decode(); err != nil {
		return nil, false, err
	}
	o, err = s.tints(st, im, over, intent, e)
	return o, over, err
}

// recoloured is an image with its data in another space.
func (s *splitter) recoloured(st *pdf.Stream, raw pdf.Object) pdf.Object {
	d := pdf.Dict{}
	for k, v := range st.Dict {
		d[k] = v
	}
	if s.shows(d["OC"]) == always {
		delete(d, "OC")
	}
	d["Type"], d["Subtype"] = pdf.Name("XObject"), pdf.Name("Image")
	d["ColorSpace"] = raw
	delete(d, "Length")
	key := "image " + s.idOf(st) + " " + string(pdf.AppendObject(nil, raw))
	if r, ok := s.streams[key]; ok {
		return r
	}
	r := s.up.Add(st.WithDict(d))
	s.streams[key] = r
	return r
}

// flat is an image in one colour with the masks of another: the picture itself is none of the pass.
func (s *splitter) flat(st *pdf.Stream, im *image.Image, raw pdf.Object, text string) pdf.Object {
	n, v := 1, byte(0)
	switch raw {
	case pdf.Object(pdf.Name("DeviceRGB")):
		n, v = 3, 255
	case pdf.Object(pdf.Name("DeviceGray")):
		v = 255
	}
	data := make([]byte, n)
	for i := range data {
		data[i] = v
	}
	d := s.masks(st, im)
	d["Width"], d["Height"], d["BitsPerComponent"] = pdf.Integer(1), pdf.Integer(1), pdf.Integer(8)
	d["ColorSpace"] = raw
	return s.stream(d, data)
}

// masks is the dictionary of an image with what masks another, and what else is not of its samples.
func (s *splitter) masks(st *pdf.Stream, im *image.Image) pdf.Dict {
	d := pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image")}
	for _, k := range []pdf.Name{"OC", "Intent", "StructParent"} {
		if v := st.Dict[k]; v != nil && (k != "OC" || s.shows(v) != always) {
			d[k] = v
		}
	}
	mask, soft := im.Mask, im.SoftMask
	switch {
	case soft != nil:
		if m, ok := s.doc.Stream(st.Dict["SMask"]); ok && m.Dict["Matte"] == nil {
			d["SMask"] = st.Dict["SMask"]
			break
		}
		data := make([]byte, soft.Width*soft.Height)
		for y := range soft.Height {
			separate.AlphaRow(soft, y, 0, soft.Width, data[y*soft.Width:(y+1)*soft.Width])
		}
		d["SMask"] = s.stream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(soft.Width),
			"Height": pdf.Integer(soft.Height), "BitsPerComponent": pdf.Integer(8), "ColorSpace": pdf.Name("DeviceGray"),
			"Interpolate": pdf.Boolean(soft.Interpolate)}, data)
	case mask != nil:
		d["Mask"] = st.Dict["Mask"]
	case im.ColourKey != nil:
		row := make([]byte, im.Width)
		stride := (im.Width + 7) / 8
		data := make([]byte, stride*im.Height)
		for y := range im.Height {
			separate.KeyRow(im, y, 0, im.Width, row)
			for x, v := range row {
				if v == 0 { // masked out: 1
					data[y*stride+x/8] |= 0x80 >> (x % 8)
				}
			}
		}
		d["Mask"] = s.stream(pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(im.Width),
			"Height": pdf.Integer(im.Height), "BitsPerComponent": pdf.Integer(1), "ImageMask": pdf.Boolean(true)}, data)
	}
	return d
}

// tints is an image of the tints of the pass, 16 bits deep, for colours that go to plates by conversion or mixing.
func (s *splitter) tints(st *pdf.Stream, im *image.Image, over bool, intent colour.Intent, e env) (pdf.Object, error) {
	k := s.inker.Image(im, over, intent, e.ctx)
	names, from, ok := s.nameable(k.Painted, e)
	if !ok {
		return s.alternates(st, im, e)
	}
	key := fmt.Sprintf("tints %s %v %t %d %v", s.idOf(st), names, over, intent, e)
	if o, ok := s.done[key]; ok {
		return o, nil
	}
	rows := k.Rows()
	dst := make([][]uint16, len(k.Painted))
	for i := range dst {
		dst[i] = make([]uint16, im.Width)
	}
	data := make([]byte, 0, 2*len(from)*im.Width*im.Height)
	for y := range im.Height {
		rows.Row16(y, 0, im.Width, dst)
		for x := range im.Width {
			for _, i := range from {
				v := dst[i][x]
				data = append(data, byte(v>>8), byte(v))
			}
		}
	}
	d := s.masks(st, im)
	d["Width"], d["Height"], d["BitsPerComponent"] = pdf.Integer(im.Width), pdf.Integer(im.Height), pdf.Integer(16)
	d["ColorSpace"] = s.named(names)
	if im.Interpolate {
		d["Interpolate"] = pdf.Boolean(true)
	}
	r := s.stream(d, data)
	s.done[key] = r
	return r, nil
}

// alternates is an image in the alternate space of its own, 16 bits deep: in a group that blends in RGB or gray the colour of a
// space that names process toners goes through it, special toners it names included (11.7.2).
func (s *splitter) alternates(st *pdf.Stream, im *image.Image, e env) (pdf.Object, error) {
	hard := cannot("Give the group a CMYK blending space.", "in a group that blends in %v an image paints special toners together with process colours", e.ctx.Space)
	a, _ := s.doc.Array(st.Dict["ColorSpace"])
	space := im.Space
	x, indexed := space.(*colour.Indexed)
	if indexed && len(a) > 1 {
		space = x.Base
		a, _ = s.doc.Array(a[1])
	}
	var alt colour.Space
	var f colour.Function
	switch b := space.(type) {
	case *colour.Separation:
		alt, f = b.Alternate, b.Tint
	case *colour.DeviceN:
		alt, f = b.Alternate, b.Tint
		if b.NChannel {
			return nil, hard
		}
	}
	if alt == nil || len(a) < 4 || im.Matte != nil {
		return nil, hard
	}
	n := alt.Components()
	data := make([]byte, 0, 2*n*im.Width*im.Height)
	in, base, out := make([]float64, im.Components()), make([]float64, space.Components()), make([]float64, f.Outputs())
	full := float64(uint32(1)<<im.Bits - 1)
	decode := pdf.Array{}
	for c := range n {
		lo, hi := alt.Range(c)
		decode = append(decode, pdf.Real(lo), pdf.Real(hi))
	}
	for y := range im.Height {
		for x0 := range im.Width {
			for c := range in {
				lo, hi := im.Decode[2*c], im.Decode[2*c+1]
				in[c] = lo + float64(im.Sample(x0, y, c))*(hi-lo)/full
			}
			if indexed {
				x.Lookup(base, in[0])
			} else {
				copy(base, in)
			}
			f.Eval(out, base)
			for c := range n {
				lo, hi := alt.Range(c)
				v := (min(max(out[c], lo), hi) - lo) / (hi - lo)
				t := uint16(float64(v*65535) + 0.5)
				data = append(data, byte(t>>8), byte(t))
			}
		}
	}
	d := s.masks(st, im)
	d["Width"], d["Height"], d["BitsPerComponent"] = pdf.Integer(im.Width), pdf.Integer(im.Height), pdf.Integer(16)
	d["ColorSpace"], d["Decode"] = a[2], decode
	if im.Interpolate {
		d["Interpolate"] = pdf.Boolean(true)
	}
	return s.stream(d, data), nil
}
