package artwork

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
)

// pattern decides on a pattern: its cell or shading is written anew.
func (w *walker) pattern(src *source, over, two bool) (ink, error) {
	s, p := w.s, src.pattern
	d, ok := s.doc.Dict(p.entry)
	if !ok {
		return ink{omit: true}, nil
	}
	kind, _ := s.doc.Int(d["PatternType"])
	if kind == 2 {
		return w.shadingPattern(src, d, over)
	}
	st, ok := s.doc.Stream(p.entry)
	if !ok || kind != 1 {
		return ink{omit: true}, nil
	}
	if paint, _ := s.doc.Int(d["PaintType"]); paint == 2 {
		return w.uncoloured(src, over, two)
	}
	begin, e := *p.begin, w.env
	begin.group()
	e.shape = e.shape || w.at.now.blend != displist.Normal
	o, err := s.copied("cell", st, p.res, begin, afresh(), e, w.depth+1)
	if err != nil || o == nil {
		return ink{omit: true}, err
	}
	k := ink{raw: pdf.Name("Pattern"), over: over, mode: -1, pattern: o}
	return k.finish(), nil
}

// uncoloured is a cell as a shape in a colour, which alone changes.
func (w *walker) uncoloured(src *source, over, two bool) (ink, error) {
	p, ok := src.space.(*colour.Pattern)
	if !ok || p.Under == nil || len(src.comps) != p.Under.Components() {
		return ink{omit: true}, nil
	}
	k, err := w.s.colour(src, over, &w.at.now, two, w.env)
	if err != nil || k.omit {
		return k, err
	}
	k.pattern = src.pattern.entry
	if string(pdf.AppendObject(nil, k.raw)) != string(pdf.AppendObject(nil, src.raw)) {
		k.raw = w.s.add(pdf.Array{pdf.Name("Pattern"), k.raw})
	}
	return k.finish(), nil
}

// patternText is the operands of a colour, with a space after them.
func (w *walker) patternText(k *ink) string {
	text := k.text
	if k.pattern != nil {
		text = strings.TrimSpace(text + " " + nameText(w.name("Pattern", k.pattern)))
	}
	if text == "" {
		return ""
	}
	return text + " "
}

// shadingPattern writes a shading pattern anew.
func (w *walker) shadingPattern(src *source, d pdf.Dict, over bool) (ink, error) {
	sh, o, over, err := w.shading(d["Shading"], src.pattern.res, over)
	if err != nil || sh == gone {
		return ink{omit: true}, err
	}
	k := ink{raw: pdf.Name("Pattern"), over: over, mode: -1, pattern: src.pattern.entry}
	if sh != kept {
		n := pdf.Dict{}
		for key, v := range d {
			n[key] = v
		}
		n["Shading"] = o
		k.pattern = w.s.add(n)
	}
	return k.finish(), nil
}

// sh paints a shading.
func (w *walker) sh(name pdf.Name) error {
	d, _ := w.s.doc.Dict(w.res["Shading"])
	if d[name] == nil || w.hides() {
		return nil
	}
	v, o, over, err := w.shading(d[name], w.res, w.at.now.overFill)
	if err != nil || v == gone {
		return err
	}
	if v == kept {
		o = d[name]
	}
	w.set(ink{over: over, mode: -1, plain: true}, ink{omit: true})
	w.emit("%s sh", nameText(w.name("Shading", o)))
	return nil
}

// shading is what a shading becomes, and whether it overprints.
func (w *walker) shading(entry pdf.Object, res pdf.Dict, over bool) (verdict, pdf.Object, bool, error) {
	s, now := w.s, &w.at.now
	d, ok := s.doc.Dict(entry)
	if !ok {
		return gone, nil, false, nil
	}
	space, err := s.spaces.Space(d["ColorSpace"], res)
	if err != nil {
		return gone, nil, false, cannot("Export the artwork again from the program that made it.", "the colour space of a shading cannot be read")
	}
	e := w.env
	e.shape = e.shape || now.blend != displist.Normal
	k := s.inker.Space(space, over, now.intent, e.ctx)
	v := s.judge(space, k.Effects, k.Reasons, k.Nothing, over, e)
	switch v {
	case kept, gone:
		return v, nil, over, nil
	case zeroed, outline:
		var name string
		if v == outline {
			over = true
			if name, err = s.leftName(); err != nil {
				return v, nil, false, err
			}
		} else if name = s.zeroName(e); name == "" {
			// Named where the group does not blend in CMYK, it goes through its alternate space and clears all process toners (11.7.2).
			name = colourant.ProcessNames[max(slices.Index(s.plates, true), 0)]
		}
		o, err := s.constant(entry, d, space.Components(), name)
		return v, o, over, err
	}
	raw := d["ColorSpace"]
	if n, ok := raw.(pdf.Name); ok {
		inner := walker{s: s, res: res}
		raw = inner.object(n)
	}
	if o, ok := s.reduced(space, raw, e); ok {
		return v, s.reshaded(entry, d, pdf.Dict{"ColorSpace": o}), over, nil
	}
	o, err := s.mixed(entry, d, space, e)
	var r *refusal
	if errors.As(err, &r) {
		if sampled := s.sampled(entry, d, k, e); sampled != nil {
			return v, sampled, over, nil
		}
	}
	return v, o, over, err
}

// rampSamples is how finely the tints of a shading are tabled: several for every pixel of the press along a page.
const rampSamples = 4096

// sampled is a shading over a function of one value, as a table of the tints it has on the plates of the pass; nil where there is no
// such table. The proof tells whether it is fine enough.
func (s *splitter) sampled(entry pdf.Object, d pdf.Dict, k *separate.SpaceInk, e env) pdf.Object {
	ref, _ := entry.(pdf.Ref)
	sh := s.shadings[ref]
	if ref.Num == 0 || sh == nil || sh.Type == 1 || sh.Function == nil || sh.Function.Inputs() != 1 || len(sh.Domain) != 2 || !(sh.Domain[0] < sh.Domain[1]) {
		return nil
	}
	names, from, ok := s.nameable(k.Painted, e)
	if !ok {
		return nil
	}
	n := sh.Space.Components()
	out, tints := make([]float64, max(sh.Function.Outputs(), n)), make([]uint16, len(k.Painted))
	look := func(comps []float64) {
		for c := range comps {
			lo, hi := sh.Space.Range(c)
			comps[c] = min(max(comps[c], lo), hi)
		}
		k.Tints(tints, comps)
	}
	var data []byte
	for i := range rampSamples {
		x := sh.Domain[0] + float64(float64(i)*(sh.Domain[1]-sh.Domain[0]))/(rampSamples-1)
		sh.Function.Eval(out, []float64{x})
		look(out[:n])
		for _, f := range from {
			data = append(data, byte(tints[f]>>8), byte(tints[f]))
		}
	}
	limits := pdf.Array{}
	for range names {
		limits = append(limits, pdf.Integer(0), pdf.Integer(1))
	}
	domain := pdf.Array{pdf.Real(sh.Domain[0]), pdf.Real(sh.Domain[1])}
	with := pdf.Dict{"ColorSpace": s.named(names), "Function": s.stream(pdf.Dict{"FunctionType": pdf.Integer(0), "Domain": domain, "Range": limits,
		"Size": pdf.Array{pdf.Integer(rampSamples)}, "BitsPerSample": pdf.Integer(16)}, data)}
	if back, ok := s.doc.Nums(d["Background"]); ok && len(back) == n {
		look(back)
		b := pdf.Array{}
		for _, f := range from {
			b = append(b, pdf.Real(float64(tints[f])/65535))
		}
		with["Background"] = b
	}
	return s.reshaded(entry, d, with)
}

// gather notes the shadings of a page, as they were read.
func (s *splitter) gather(items []displist.Item) {
	for i := range items {
		it := &items[i]
		for _, sh := range []*displist.Shading{it.Shading, it.Paint.Shading} {
			if sh != nil && sh.Ref.Num != 0 {
				s.shadings[sh.Ref] = sh
			}
		}
		if t := it.Paint.Tiling; t != nil {
			s.gather(t.Items)
		}
	}
}

// reshaded is a shading with other entries.
func (s *splitter) reshaded(entry pdf.Object, d, with pdf.Dict) pdf.Object {
	n := pdf.Dict{}
	for k, v := range d {
		n[k] = v
	}
	for k, v := range with {
		n[k] = v
		if v == nil {
			delete(n, k)
		}
	}
	st, ok := s.doc.Stream(entry)
	if !ok {
		return s.add(n)
	}
	delete(n, "Length")
	key := "shading " + s.idOf(st) + " " + string(pdf.AppendObject(nil, with))
	if r, ok := s.streams[key]; ok {
		return r
	}
	r := s.up.Add(st.WithDict(n))
	s.streams[key] = r
	return r
}

// constant is a shading of no toner of one colourant.
func (s *splitter) constant(entry pdf.Object, d pdf.Dict, n int, name string) (pdf.Object, error) {
	zero := pdf.Integer(0)
	with := pdf.Dict{}
	kind, _ := s.doc.Int(d["ShadingType"])
	if f := s.doc.Resolve(d["Function"]); f != nil || kind <= 3 {
		with["ColorSpace"] = s.named([]string{name})
		if d["Background"] != nil {
			with["Background"] = pdf.Array{zero}
		}
		domain := d["Domain"]
		if domain == nil {
			domain = pdf.Array{zero, pdf.Integer(1)}
			if kind == 1 {
				domain = pdf.Array{zero, pdf.Integer(1), zero, pdf.Integer(1)}
			}
		}
		if kind == 1 {
			with["Function"] = s.stream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": domain, "Range": pdf.Array{zero, pdf.Integer(1)}}, []byte("{ pop pop 0 }"))
		} else {
			if kind > 3 { // the range of the parameter is that of Decode
				if v, ok := s.doc.Nums(d["Decode"]); ok && len(v) >= 6 {
					domain = pdf.Array{pdf.Real(v[4]), pdf.Real(v[5])}
				}
			} else if v, ok := s.doc.Nums(domain); ok && len(v) == 2 && v[0] > v[1] {
				domain = pdf.Array{pdf.Real(v[1]), pdf.Real(v[0])}
			}
			with["Function"] = s.add(pdf.Dict{"FunctionType": pdf.Integer(2), "Domain": domain, "N": pdf.Integer(1), "C0": pdf.Array{zero}, "C1": pdf.Array{zero}})
		}
		return s.reshaded(entry, d, with), nil
	}
	with["ColorSpace"] = s.padded(name, n)
	if d["Background"] != nil {
		b := pdf.Array{}
		for range n {
			b = append(b, zero)
		}
		with["Background"] = b
	}
	v, ok := s.doc.Nums(d["Decode"])
	if !ok || len(v) < 4+2*n {
		return nil, cannot("Export the artwork again from the program that made it.", "a shading does not say what its data mean")
	}
	dec := pdf.Array{}
	for i, x := range v {
		if i >= 4 {
			x = 0
		}
		dec = append(dec, pdf.Real(x))
	}
	with["Decode"] = dec
	return s.reshaded(entry, d, with), nil
}

// mixed is a shading in one name that is a mix of toners: each toner has its share of the function's tint.
func (s *splitter) mixed(entry pdf.Object, d pdf.Dict, space colour.Space, e env) (pdf.Object, error) {
	hard := cannot("Turn the shading into an image in the design program, or assign its colourants to single toners.",
		"a shading in %s goes to several plates by way of a mixture or a conversion", space)
	sep, ok := space.(*colour.Separation)
	if !ok || s.doc.Resolve(d["Function"]) == nil {
		return nil, hard
	}
	parts, ok := s.target.Mixes[sep.Name]
	if !ok {
		return nil, hard
	}
	f := d["Function"]
	if a, ok := s.doc.Array(f); ok {
		if len(a) != 1 {
			return nil, hard
		}
		f = a[0]
	}
	var names []string
	var functions, background pdf.Array
	back, _ := s.doc.Nums(d["Background"])
	for _, p := range parts {
		name := s.target.Set.At(p.Plate).Name
		if !s.plates[p.Plate] {
			continue
		}
		if slices.Contains(names, name) {
			return nil, hard
		}
		g, ok := s.scaled(f, p.Tint, 0)
		if !ok {
			return nil, hard
		}
		names, functions = append(names, name), append(functions, g)
		if len(back) == 1 {
			background = append(background, pdf.Real(back[0]*p.Tint))
		}
	}
	with := pdf.Dict{"ColorSpace": s.named(names), "Function": functions}
	if len(functions) == 1 {
		with["Function"] = functions[0]
	}
	if background != nil {
		with["Background"] = background
	}
	return s.reshaded(entry, d, with), nil
}

// scaled is a function of one value times a factor.
func (s *splitter) scaled(o pdf.Object, by float64, depth int) (pdf.Object, bool) {
	d, ok := s.doc.Dict(o)
	if !ok || depth > 8 {
		return nil, false
	}
	n := pdf.Dict{}
	for k, v := range d {
		n[k] = v
	}
	times := func(key pdf.Name, def float64) bool {
		v := []float64{def}
		if s.doc.Resolve(d[key]) != nil {
			if v, ok = s.doc.Nums(d[key]); !ok {
				return false
			}
		}
		a := pdf.Array{}
		for _, x := range v {
			a = append(a, pdf.Real(x*by))
		}
		n[key] = a
		return true
	}
	switch kind, _ := s.doc.Int(d["FunctionType"]); kind {
	case 0:
		st, isStream := s.doc.Stream(o)
		key := pdf.Name("Decode")
		if s.doc.Resolve(d["Decode"]) == nil {
			n["Decode"], key = d["Range"], "Decode"
			v, ok := s.doc.Nums(d["Range"])
			if !ok || len(v) != 2 {
				return nil, false
			}
			n[key] = pdf.Array{pdf.Real(v[0] * by), pdf.Real(v[1] * by)}
		} else if !times(key, 0) {
			return nil, false
		}
		if v, ok := s.doc.Nums(d["Range"]); !isStream || !ok || len(v) != 2 || !times("Range", 1) {
			return nil, false
		}
		delete(n, "Length")
		key2 := fmt.Sprintf("scaled %s %v", s.idOf(st), by)
		if r, ok := s.streams[key2]; ok {
			return r, true
		}
		r := s.up.Add(st.WithDict(n))
		s.streams[key2] = r
		return r, true
	case 2:
		if !times("C0", 0) || !times("C1", 1) {
			return nil, false
		}
	case 3:
		parts, ok := s.doc.Array(d["Functions"])
		if !ok {
			return nil, false
		}
		out := pdf.Array{}
		for _, p := range parts {
			g, ok := s.scaled(p, by, depth+1)
			if !ok {
				return nil, false
			}
			out = append(out, g)
		}
		n["Functions"] = out
	case 4:
		st, ok := s.doc.Stream(o)
		if !ok {
			return nil, false
		}
		data, err := s.doc.Data(st)
		end := strings.LastIndexByte(string(data), '}')
		if err != nil || end < 0 {
			return nil, false
		}
		// What is outside the range is clipped before it is scaled.
		r, ok := s.doc.Nums(d["Range"])
		if !ok || len(r) != 2 {
			return nil, false
		}
		lo, hi := numbers(r[:1]), numbers(r[1:])
		code := fmt.Sprintf("%s dup %s lt {pop %s} if dup %s gt {pop %s} if %s mul }", data[:end], lo, lo, hi, hi, numbers([]float64{by}))
		return s.stream(pdf.Dict{"FunctionType": pdf.Integer(4), "Domain": d["Domain"],
			"Range": pdf.Array{pdf.Real(min(r[0]*by, 0)), pdf.Real(r[1] * by)}}, []byte(code)), true
	default:
		return nil, false
	}
	if _, ranged := d["Range"]; ranged && !times("Range", 1) {
		return nil, false
	}
	return s.add(n), true
}
