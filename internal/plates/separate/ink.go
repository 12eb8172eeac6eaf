package separate

import (
	"math"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/colourant"
)

// fullTint is the tint of a solid in an Ink.
const fullTint = math.MaxUint16

// Tints sets dst[i] to the tint (0..65535) of component Painted[i] for a colour of the space. Safe
// for concurrent use.
func (k *SpaceInk) Tints(dst []uint16, comps []float64) {
	var buf [16]float64
	base := comps
	if k.index != nil {
		base = sized(buf[:], k.base.Components())
		var at float64
		if len(comps) > 0 {
			at = comps[0]
		}
		k.index.Lookup(base, at)
	} else if n := k.base.Components(); len(comps) < n {
		base = sized(buf[:], n)
		copy(base, comps)
	}
	k.baseTints(dst, base)
}

// baseTints is Tints for a colour of the base space.
func (k *SpaceInk) baseTints(dst []uint16, comps []float64) {
	var buf [16]float64
	sum := sized(buf[:], len(k.Effects))
	for _, t := range k.terms {
		v := unit(comps[t.from])
		if t.additive {
			v = 1 - v
		}
		sum[t.to] += float64(t.scale * v)
	}
	if k.process != nil {
		k.add(sum, k.process, k.gathered(comps))
	}
	for _, a := range k.alternates {
		k.add(sum, a.sep, comps[a.from:a.from+1])
	}
	for i, c := range k.Painted {
		dst[i] = uint16(math.Floor(float64(unit(sum[c])*fullTint) + 0.5))
	}
}

// gathered picks the components of the process dictionary out of those of the base space. A
// component the space does not name is without toner.
func (k *SpaceInk) gathered(comps []float64) []float64 {
	if k.gather == nil {
		return comps
	}
	v := make([]float64, len(k.gather))
	for i, from := range k.gather {
		lo, hi := k.process.Range(i)
		switch {
		case from >= 0:
			v[i] = lo + float64(unit(comps[from])*(hi-lo))
		case len(k.gather) == 4: // subtractive
			v[i] = lo
		default:
			v[i] = hi
		}
	}
	return v
}

// add converts a colour to the process components and adds its tints.
func (k *SpaceInk) add(sum []float64, s colour.Space, comps []float64) {
	conv := k.target.Converter
	switch k.ctx.Space {
	case BlendCMYK:
		for i, v := range conv.CMYK(s, comps, k.intent) {
			sum[i] += unit(v)
		}
	case BlendRGB:
		for i, v := range conv.RGB(s, comps, k.intent) {
			sum[i] += 1 - unit(v)
		}
	case BlendGray:
		sum[0] += 1 - unit(conv.Gray(s, comps, k.intent))
	}
}

// sized returns n zeroed entries, of buf where it is large enough.
func sized(buf []float64, n int) []float64 {
	if n > len(buf) {
		return make([]float64, n)
	}
	clear(buf[:n])
	return buf[:n]
}

// unit clips to 0..1; what is not a number is 0.
func unit(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	return min(v, 1)
}

// Colour separates one source colour. image is true for samples of images and other computed
// colours, where OPM 1 does not act (8.6.7). Inker.Colour is faster for many colours.
func (t *Target) Colour(p displist.Paint, overprint bool, mode int, image bool, intent colour.Intent, ctx Context) Ink {
	return *t.Space(p.Space, overprint, intent, ctx).ink(p, overprint && mode == 1 && !image)
}

// ink separates a colour of the space. mode1 asks for overprint mode 1, which acts on a colour
// specified directly in DeviceCMYK, painted where the process components are CMYK: those exactly 0
// leave what is there (Table 146, row 1).
func (k *SpaceInk) ink(p displist.Paint, mode1 bool) *Ink {
	ink := &Ink{Effects: k.Effects, Values: make([]uint16, len(k.Effects)), Reasons: k.Reasons, Nothing: k.Nothing}
	if k.Nothing {
		return ink
	}
	tints := make([]uint16, len(k.Painted))
	k.Tints(tints, p.Comps)
	for i, c := range k.Painted {
		ink.Values[c] = tints[i]
	}
	direct := k.index == nil && (k.base == colour.Space(colour.CMYK) || k.target.impliesCMYK(k.base))
	if !mode1 || !direct || k.ctx.Space != BlendCMYK {
		return ink
	}
	ink.Effects = append([]Effect(nil), k.Effects...)
	ink.Reasons = append([]Reason(nil), k.Reasons...)
	left := 0
	for i := range colourant.ProcessNames {
		if i < len(p.Comps) && p.Comps[i] == 0 {
			ink.Effects[i], ink.Reasons[i] = Leave, ReasonMode
			left++
		}
	}
	ink.Nothing = left == len(colourant.ProcessNames)
	return ink
}

// Inker separates colours with a memory of those already seen. It serves one goroutine; the inks it
// returns are shared and must not be changed.
type Inker struct {
	target *Target
	spaces map[spaceKey]*SpaceInk
	inks   map[inkKey]*Ink
	images map[imageKey]*ImageInk
}

type spaceKey struct {
	space     colour.Space
	overprint bool
	intent    colour.Intent
	ctx       Context
}

type inkKey struct {
	spaceKey
	mode1 bool
	n     int
	comps [4]float64
	more  string // components beyond the fourth
}

type imageKey struct {
	pic       *image.Image
	overprint bool
	intent    colour.Intent
	ctx       Context
}

// maxRemembered bounds an Inker's memory: colours past it are few per item and start it afresh.
const maxRemembered = 1 << 15

// NewInker returns an Inker for t.
func (t *Target) NewInker() *Inker {
	return &Inker{target: t, spaces: map[spaceKey]*SpaceInk{}, inks: map[inkKey]*Ink{}, images: map[imageKey]*ImageInk{}}
}

// Space is Target.Space, remembered.
func (k *Inker) Space(s colour.Space, overprint bool, intent colour.Intent, ctx Context) *SpaceInk {
	key := spaceKey{s, overprint, intent, ctx}
	if ink, ok := k.spaces[key]; ok {
		return ink
	}
	if len(k.spaces) >= maxRemembered {
		clear(k.spaces)
	}
	ink := k.target.Space(s, overprint, intent, ctx)
	k.spaces[key] = ink
	return ink
}

// Colour is Target.Colour, remembered.
func (k *Inker) Colour(p displist.Paint, overprint bool, mode int, image bool, intent colour.Intent, ctx Context) *Ink {
	key := inkKey{spaceKey: spaceKey{p.Space, overprint, intent, ctx}, mode1: overprint && mode == 1 && !image, n: len(p.Comps)}
	if copy(key.comps[:], p.Comps) < len(p.Comps) {
		key.more = packed(p.Comps[len(key.comps):])
	}
	if ink, ok := k.inks[key]; ok {
		return ink
	}
	if len(k.inks) >= maxRemembered {
		clear(k.inks)
	}
	ink := k.Space(p.Space, overprint, intent, ctx).ink(p, key.mode1)
	k.inks[key] = ink
	return ink
}

// Image is Target.Image, remembered.
func (k *Inker) Image(pic *image.Image, overprint bool, intent colour.Intent, ctx Context) *ImageInk {
	key := imageKey{pic, overprint, intent, ctx}
	if ink, ok := k.images[key]; ok {
		return ink
	}
	ink := k.target.Image(pic, overprint, intent, ctx)
	k.images[key] = ink
	return ink
}

// packed writes the bits of numbers as a string that can be part of a map key.
func packed(v []float64) string {
	var b strings.Builder
	for _, x := range v {
		u := math.Float64bits(x)
		for i := range 8 {
			b.WriteByte(byte(u >> (8 * i)))
		}
	}
	return b.String()
}
