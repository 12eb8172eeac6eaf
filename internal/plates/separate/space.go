package separate

import (
	"slices"

	"laydown/internal/artwork/colour"
	"laydown/internal/colourant"
)

// SpaceInk is what all colours of one space do where overprint mode 1 does not act: the effects are
// those of the space, only the tints depend on the colour. Immutable and safe for concurrent use.
type SpaceInk struct {
	Effects []Effect
	Reasons []Reason
	Nothing bool  // marks and clears nothing at all (None)
	Painted []int // components whose Effect is Paint, ascending

	target *Target
	intent colour.Intent
	ctx    Context
	space  colour.Space // of the comps Tints gets
	base   colour.Space // after Indexed and Pattern; whose components the rest speaks of
	index  *colour.Indexed

	// The sources of tints; more than one may reach a component: tints of one plate add up, to at
	// most full tint.
	terms      []term       // components that are tints of a plate
	process    colour.Space // converted to the process components; nil = none
	gather     []int        // base component of each component of process; -1 = no toner; nil = all in order
	alternates []alternate  // Separation spaces standing in for unmounted names of an NChannel space
}

// term adds scale x base component from, or scale x (1 - component) when that is additive, to
// component to of the ink.
type term struct {
	from, to int
	scale    float64
	additive bool
}

type alternate struct {
	from int
	sep  *colour.Separation
}

// Space separates a colour space: the truth table (Table 146) where OPM does not act.
//
//	painted space     process                 named spots   other spots
//	process spaces    paint                   -             clear; overprint: leave
//	Separation,       named: paint            paint         clear; overprint: leave
//	DeviceN           others as other spots
//	All               paint                   paint         paint
//	None              leave                   leave         leave
//
// Process components that a Separation or DeviceN space names are specified by it and painted
// (11.7.4.3 over the table's shorter wording). A name that is not mounted turns a Separation or
// plain DeviceN space as a whole into its alternate, a process space; of an NChannel space only the
// component that is not mounted (8.6.6.5).
func (t *Target) Space(s colour.Space, overprint bool, intent colour.Intent, ctx Context) *SpaceInk {
	n := t.Components(ctx)
	k := &SpaceInk{Effects: make([]Effect, n), Reasons: make([]Reason, n), target: t, intent: intent, ctx: ctx, space: s, base: s}
	for i := range n {
		if overprint {
			k.Effects[i], k.Reasons[i] = Leave, ReasonOverprint
		} else {
			k.Effects[i], k.Reasons[i] = Clear, ReasonKnockout
		}
	}
	k.unwrap()
	switch base := k.base.(type) {
	case nil:
		k.nothing()
	case *colour.Pattern:
		k.nothing()
	case *colour.Separation:
		k.separation(base)
	case *colour.DeviceN:
		k.deviceN(base)
	default:
		k.processSpace(base, ReasonNamed)
	}
	for i, e := range k.Effects {
		if e != Paint {
			continue
		}
		k.Painted = append(k.Painted, i)
		if ctx.Space == BlendCMYK && i < len(colourant.ProcessNames) && !t.mounted(i) {
			k.Reasons[i] = ReasonUnmounted
		}
	}
	return k
}

// unwrap finds the space the colour is specified in: of an uncoloured pattern the underlying one,
// of Indexed the base (8.6.6.3).
func (k *SpaceInk) unwrap() {
	if p, ok := k.base.(*colour.Pattern); ok && p.Under != nil {
		k.base = p.Under
	}
	if x, ok := k.base.(*colour.Indexed); ok {
		k.base, k.index = x.Base, x
	}
}

// nothing: neither painted nor cleared.
func (k *SpaceInk) nothing() {
	k.Nothing = true
	for i := range k.Effects {
		k.Effects[i], k.Reasons[i] = Leave, ReasonNone
	}
}

func (k *SpaceInk) paint(component int, why Reason) {
	k.Effects[component], k.Reasons[component] = Paint, why
}

// processSpace paints all process components with colours of s, which are the base components.
func (k *SpaceInk) processSpace(s colour.Space, why Reason) {
	for i := range k.ctx.Space.ProcessComponents() {
		k.paint(i, why)
	}
	if k.target.impliesCMYK(s) {
		s = colour.CMYK
	}
	switch x := s.(type) {
	case *colour.DeviceCMYK:
		if k.ctx.Space == BlendCMYK {
			for i := range colourant.ProcessNames {
				k.terms = append(k.terms, term{from: i, to: i, scale: 1})
			}
			return
		}
	case *colour.DeviceGray: // black alone (10.4.2.3), or each additive component alike
		if k.ctx.Space == BlendCMYK {
			k.terms = append(k.terms, term{from: 0, to: black, scale: 1, additive: true})
			return
		}
		for i := range k.ctx.Space.ProcessComponents() {
			k.terms = append(k.terms, term{from: 0, to: i, scale: 1, additive: true})
		}
		return
	case *colour.DeviceRGB:
		if k.additiveTerms() {
			return
		}
	case *colour.ICCBased:
		if x.SRGB && x.N == 3 && k.additiveTerms() {
			return
		}
	}
	k.process = s
}

// black is the plate of Black.
const black = 3

// additiveTerms takes RGB as it is where the blending space is RGB.
func (k *SpaceInk) additiveTerms() bool {
	if k.ctx.Space != BlendRGB {
		return false
	}
	for i := range BlendRGB.ProcessComponents() {
		k.terms = append(k.terms, term{from: i, to: i, scale: 1, additive: true})
	}
	return true
}

func (k *SpaceInk) separation(s *colour.Separation) {
	switch s.Name {
	case nameNone:
		k.nothing()
	case nameAll:
		for i := range k.Effects {
			k.paint(i, ReasonAll)
			k.terms = append(k.terms, term{from: 0, to: i, scale: 1})
		}
	default:
		if !k.direct(0, s.Name) {
			k.processSpace(k.base, ReasonAlternate)
		}
	}
}

// direct lets base component from, called name, paint its plate or the plates of its mix. It
// reports false and changes nothing when the name does not reach plates in this context.
func (k *SpaceInk) direct(from int, name string) bool {
	if plate, ok := k.target.Names[name]; ok {
		c, ok := k.target.component(plate, k.ctx)
		if ok {
			k.paint(c, ReasonNamed)
			k.terms = append(k.terms, term{from: from, to: c, scale: 1})
		}
		return ok
	}
	parts, ok := k.target.Mixes[name]
	for _, p := range parts {
		if _, reached := k.target.component(p.Plate, k.ctx); !reached {
			return false
		}
	}
	for _, p := range parts {
		c, _ := k.target.component(p.Plate, k.ctx)
		if k.Effects[c] != Paint {
			k.paint(c, ReasonMix)
		}
		k.terms = append(k.terms, term{from: from, to: c, scale: p.Tint})
	}
	return ok
}

func (k *SpaceInk) deviceN(s *colour.DeviceN) {
	if !slices.ContainsFunc(s.Names, func(n string) bool { return n != nameNone }) {
		k.nothing()
		return
	}
	effects, reasons := slices.Clone(k.Effects), slices.Clone(k.Reasons)
	ok := false
	if s.NChannel {
		ok = k.nChannel(s)
	} else {
		ok = k.allDirect(s.Names)
	}
	if !ok { // undo what was found before the component that is missing
		k.Effects, k.Reasons = effects, reasons
		k.terms, k.process, k.gather, k.alternates = nil, nil, nil, nil
		k.processSpace(k.base, ReasonAlternate)
	}
}

// allDirect reports whether every name but None reaches plates.
func (k *SpaceInk) allDirect(names []string) bool {
	for i, name := range names {
		if name != nameNone && !k.direct(i, name) {
			return false
		}
	}
	return true
}

// nChannel decides component by component (8.6.6.5): components of the process dictionary are
// colours of its space, mounted names go to their plates, the rest through their own entry in
// Colorants. It reports false when one component has no such way, or when none but stand-ins is
// left, where the tint transform of the whole space mixes them better.
func (k *SpaceInk) nChannel(s *colour.DeviceN) bool {
	own := false
	var process []int // base component of each process component
	if s.Process != nil {
		process = make([]int, s.Process.Components())
		for i := range process {
			process[i] = -1
		}
	}
	for i, name := range s.Names {
		if name == nameNone {
			continue
		}
		if j := slices.Index(s.ProcessComponents, name); j >= 0 && j < len(process) {
			process[j], own = i, true
			continue
		}
		if k.direct(i, name) {
			own = true
			continue
		}
		sep := s.Colorants[name]
		if sep == nil {
			return false
		}
		k.alternates = append(k.alternates, alternate{i, sep})
	}
	k.processDictionary(s.Process, process)
	if len(k.alternates) > 0 {
		for i := range k.ctx.Space.ProcessComponents() {
			if k.Effects[i] != Paint {
				k.paint(i, ReasonAlternate)
			}
		}
	}
	return own
}

// processDictionary paints the process components of an NChannel space. Those of DeviceCMYK are
// named one by one; any other space specifies the process components as a whole.
func (k *SpaceInk) processDictionary(s colour.Space, from []int) {
	if !slices.ContainsFunc(from, func(i int) bool { return i >= 0 }) {
		return
	}
	cmyk := s == colour.Space(colour.CMYK) || k.target.impliesCMYK(s)
	if cmyk && k.ctx.Space == BlendCMYK {
		for c, i := range from {
			if i >= 0 {
				k.paint(c, ReasonNamed)
				k.terms = append(k.terms, term{from: i, to: c, scale: 1})
			}
		}
		return
	}
	k.process, k.gather = s, from
	for i := range k.ctx.Space.ProcessComponents() {
		k.paint(i, ReasonNamed)
	}
}

// impliesCMYK reports whether s is an ICCBased CMYK space equal to the destination (8.6.5.7).
func (t *Target) impliesCMYK(s colour.Space) bool {
	icc, ok := s.(*colour.ICCBased)
	return ok && icc.N == 4 && icc.Profile != nil && colour.SameProfile(icc.Profile, t.Converter.Output())
}
