package artwork

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/plates/separate"
)

// env is what surrounds an object.
type env struct {
	ctx separate.Context
	// shape is set where marks count that leave every plate as it is: in isolated and knockout groups, and under blend modes.
	shape bool
	// remapped is set where the resources have another space stand in for DeviceCMYK (8.6.5.6).
	remapped bool
}

// ink is what an object is painted with in the file of the pass.
type ink struct {
	omit bool       // it marks nothing
	raw  pdf.Object // colour space: a device space's name, or any space object
	text string     // operands of the colour
	over bool
	mode int // overprint mode; -1 = has no say
	// plain asks for overprint alone: images and shadings have colours of their own.
	plain bool
	key   string

	pattern pdf.Object // nil = a plain colour
}

func (k *ink) finish() ink {
	k.key = string(pdf.AppendObject(nil, k.raw)) + " " + k.text
	if k.pattern != nil {
		k.key += " " + string(pdf.AppendObject(nil, k.pattern))
	}
	return *k
}

// verdict is what becomes of all colours of a space.
type verdict uint8

const (
	kept    verdict = iota // as it was
	gone                   // marks nothing
	zeroed                 // clears the plates of the pass
	outline                // leaves them, but its shape counts
	partly                 // some components are painted
)

// judge decides on a space, or one colour of it, by its effects.
func (s *splitter) judge(space colour.Space, effects []separate.Effect, reasons []separate.Reason, nothing, over bool, e env) verdict {
	base := bare(space)
	if s.asWas(base, effects, reasons, e) {
		return kept
	}
	if nothing {
		return gone
	}
	switch {
	case s.paints(effects, e):
		return partly
	case !over:
		return zeroed
	case e.shape:
		return outline
	}
	return gone
}

// paints reports whether a component of the pass is painted.
func (s *splitter) paints(effects []separate.Effect, e env) bool {
	for i, x := range effects {
		if x == separate.Paint && s.inPass(i, e.ctx) {
			return true
		}
	}
	return false
}

// bare looks through Pattern and Indexed.
func bare(space colour.Space) colour.Space {
	if p, ok := space.(*colour.Pattern); ok && p.Under != nil {
		space = p.Under
	}
	if x, ok := space.(*colour.Indexed); ok {
		space = x.Base
	}
	return space
}

// asWas reports whether an object can stay as it is: all it paints is in the pass, under its own name. All and None stay.
func (s *splitter) asWas(base colour.Space, effects []separate.Effect, reasons []separate.Reason, e env) bool {
	var names, free []string
	switch x := base.(type) {
	case *colour.Separation:
		if x.Name == "All" || x.Name == "None" {
			return true
		}
		names = []string{x.Name}
	case *colour.DeviceN:
		if !slices.ContainsFunc(x.Names, func(n string) bool { return n != "None" }) {
			return true
		}
		names, free = x.Names, x.ProcessComponents
	default:
		// A process colour specifies all process toners, those it paints with nothing and those it leaves for being 0.
		for i := range e.ctx.Space.ProcessComponents() {
			if !s.inPass(i, e.ctx) && !(e.ctx.Space == separate.BlendCMYK && s.unmounted(i)) {
				return false
			}
		}
		return s.process
	}
	for i, x := range effects {
		if x == separate.Paint && !s.inPass(i, e.ctx) {
			return false
		}
		if reasons[i] == separate.ReasonAlternate || reasons[i] == separate.ReasonMix {
			return false
		}
	}
	for _, n := range names {
		if n == "None" || slices.Contains(free, n) {
			continue
		}
		i, own := s.target.Set.Lookup(n)
		if at, ok := s.target.Names[n]; !own || !ok || at != i {
			return false
		}
	}
	return true
}

func (s *splitter) unmounted(plate int) bool {
	return plate < len(s.target.Mounted) && !s.target.Mounted[plate]
}

// colour decides on one colour of a source. two is set where fill and stroke of one operator are composited together.
func (s *splitter) colour(src *source, over bool, st *state, two bool, e env) (ink, error) {
	e.shape = e.shape || st.blend != displist.Normal || two && st.soft
	i := s.inker.Colour(displist.Paint{Space: src.space, Comps: src.comps}, over, st.mode, false, st.intent, e.ctx)
	v := s.judge(src.space, i.Effects, i.Reasons, i.Nothing, over, e)
	if slices.Contains(i.Reasons, separate.ReasonMode) {
		// Overprint mode 1 is written out: an interpreter is known that heeds it only where special toners are about.
		if v = partly; i.Nothing || !s.paints(i.Effects, e) {
			v = gone
		}
		if v == gone && e.shape && !i.Nothing {
			v = outline
		}
	}
	switch v {
	case kept:
		k := ink{raw: src.raw, text: src.text(), over: over, mode: st.mode}
		return k.finish(), nil
	case gone:
		return ink{omit: true}, nil
	case zeroed:
		return s.zero(e)
	case outline:
		return s.leaving(e)
	}
	return s.some(src, i, over, st.intent, e)
}

// some names what is painted of a colour.
func (s *splitter) some(src *source, i *separate.Ink, over bool, intent colour.Intent, e env) (ink, error) {
	var names, tints []string
	process := e.ctx.Space.ProcessComponents()
	for c, x := range i.Effects {
		if x != separate.Paint || !s.inPass(c, e.ctx) {
			continue
		}
		if c < process && e.ctx.Space != separate.BlendCMYK {
			return s.alternate(src, i, over, e)
		}
		names = append(names, s.component(c, e.ctx))
		tints = append(tints, tintText(i.Values[c]))
	}
	k := ink{text: strings.Join(tints, " "), over: over, mode: -1}
	if !over && !e.remapped && slices.Equal(names, colourant.ProcessNames[:]) {
		k.raw = pdf.Name("DeviceCMYK")
	} else {
		k.raw = s.named(names)
	}
	return k.finish(), nil
}

// nameable are the names of those of the components painted that are in the pass, and which these are; ok is false where one of them is
// of a group that does not blend in CMYK, whose process components have no names.
func (s *splitter) nameable(painted []int, e env) (names []string, from []int, ok bool) {
	for i, c := range painted {
		if !s.inPass(c, e.ctx) {
			continue
		}
		if c < e.ctx.Space.ProcessComponents() && e.ctx.Space != separate.BlendCMYK {
			return nil, nil, false
		}
		names, from = append(names, s.component(c, e.ctx)), append(from, i)
	}
	return names, from, true
}

// component names the plate of a component.
func (s *splitter) component(i int, ctx separate.Context) string {
	if n := ctx.Space.ProcessComponents(); i >= n {
		i += len(colourant.ProcessNames) - n
	}
	return s.target.Set.At(i).Name
}

// alternate is a colour in the alternate space of its own: in a group that blends in RGB or gray, process toners cannot be named.
func (s *splitter) alternate(src *source, i *separate.Ink, over bool, e env) (ink, error) {
	hard := cannot("Give the group a CMYK blending space, or paint the object in the special toner alone.",
		"in a group that blends in %v an object paints special toners together with process colours", e.ctx.Space)
	for c, x := range i.Effects {
		if x == separate.Paint && c >= e.ctx.Space.ProcessComponents() {
			return ink{}, hard
		}
	}
	comps, space, raw := src.comps, src.space, src.raw
	if p, ok := space.(*colour.Pattern); ok && p.Under != nil {
		a, _ := s.doc.Array(raw)
		if len(a) < 2 {
			return ink{}, hard
		}
		space, raw = p.Under, a[1]
	}
	if x, ok := space.(*colour.Indexed); ok {
		a, _ := s.doc.Array(raw)
		if len(a) < 2 || len(comps) < 1 {
			return ink{}, hard
		}
		v := make([]float64, x.Base.Components())
		x.Lookup(v, comps[0])
		space, comps, raw = x.Base, v, a[1]
	}
	a, _ := s.doc.Array(raw)
	if len(a) < 4 {
		return ink{}, hard
	}
	var alt colour.Space
	var f colour.Function
	switch x := space.(type) {
	case *colour.Separation:
		alt, f = x.Alternate, x.Tint
	case *colour.DeviceN:
		alt, f = x.Alternate, x.Tint
	default:
		return ink{}, hard
	}
	out := make([]float64, f.Outputs())
	f.Eval(out, comps)
	for c := range alt.Components() {
		lo, hi := alt.Range(c)
		out[c] = min(max(out[c], lo), hi)
	}
	k := ink{raw: a[2], text: numbers(out[:alt.Components()]), over: over, mode: -1}
	if over && (alt == colour.Space(colour.CMYK)) {
		k.mode = 0
	}
	return k.finish(), nil
}

// zeroName is a colourant of the pass that clears when it is painted with no toner; "" where none can be named.
func (s *splitter) zeroName(e env) string {
	for i := len(colourant.ProcessNames); i < len(s.plates); i++ {
		if s.plates[i] {
			return s.target.Set.At(i).Name
		}
	}
	if e.ctx.Space != separate.BlendCMYK {
		return ""
	}
	for i, in := range s.plates {
		if in {
			return s.target.Set.At(i).Name
		}
	}
	return ""
}

// zero clears every plate of the pass.
func (s *splitter) zero(e env) (ink, error) {
	k := ink{mode: -1}
	switch name := s.zeroName(e); {
	case name != "" && (e.ctx.Space == separate.BlendCMYK || !s.process):
		k.raw, k.text = s.named([]string{name}), "0"
	case e.ctx.Space == separate.BlendRGB:
		k.raw, k.text = pdf.Name("DeviceRGB"), "1 1 1"
	case e.ctx.Space == separate.BlendGray:
		k.raw, k.text = pdf.Name("DeviceGray"), "1"
	default:
		return ink{omit: true}, nil // a pass without plates
	}
	return k.finish(), nil
}

// leftName is a colourant outside the pass: what overprints with no toner of it leaves every plate of the pass, and its own empty.
// A process toner is taken where there is one, since every file has these plates.
func (s *splitter) leftName() (string, error) {
	for i, in := range s.plates {
		if !in && !(i < len(colourant.ProcessNames) && s.unmounted(i)) {
			return s.target.Set.At(i).Name, nil
		}
	}
	return "", cannot("Expand the transparency of the object in the design program.", "an object marks no plate, but its shape counts in a group")
}

func (s *splitter) leaving(e env) (ink, error) {
	k := ink{over: true, mode: -1}
	if !s.process && e.ctx.Space != separate.BlendCMYK { // white specifies the process components and leaves the special ones
		k.raw, k.text = pdf.Name("DeviceRGB"), "1 1 1"
		if e.ctx.Space == separate.BlendGray {
			k.raw, k.text = pdf.Name("DeviceGray"), "1"
		}
		return k.finish(), nil
	}
	name, err := s.leftName()
	if err != nil {
		return ink{}, err
	}
	k.raw, k.text = s.named([]string{name}), "0"
	return k.finish(), nil
}

// tintText is the shortest number that is read back as the same tint of 65535.
func tintText(v uint16) string {
	for digits := 0; digits < 7; digits++ {
		t := strconv.FormatFloat(float64(v)/65535, 'f', digits, 64)
		if x, err := strconv.ParseFloat(t, 64); err == nil && uint16(math.Floor(float64(x*65535)+0.5)) == v {
			return t
		}
	}
	return strconv.FormatFloat(float64(v)/65535, 'f', 7, 64)
}

// numbers writes components with as many decimals as a tint of 16 bits needs to be read back the same.
func numbers(v []float64) string {
	out := make([]string, len(v))
	for i, x := range v {
		t := strconv.FormatFloat(x, 'f', 7, 64)
		t = strings.TrimRight(strings.TrimRight(t, "0"), ".")
		if t == "" || t == "-0" {
			t = "0"
		}
		out[i] = t
	}
	return strings.Join(out, " ")
}
