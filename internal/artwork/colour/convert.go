package colour

import (
	"sync"
	"sync/atomic"

	"laydown/internal/limits"
)

// Intent is a rendering intent (8.6.5.8) and the use of black point compensation (8.6.5.9): one of the
// four intents, to which CompensateBlack or KeepBlack may be added.
type Intent uint8

// Rendering intents; RelativeColorimetric is the default and the zero value.
const (
	RelativeColorimetric Intent = iota
	AbsoluteColorimetric
	Perceptual
	Saturation

	// CompensateBlack and KeepBlack are UseBlackPtComp ON and OFF; neither is Default.
	CompensateBlack Intent = 1 << 2
	KeepBlack       Intent = 1 << 3
)

// Base is the rendering intent alone.
func (i Intent) Base() Intent { return i & 3 }

// WithBase is the rendering intent base with i's use of black point compensation.
func (i Intent) WithBase(base Intent) Intent { return i&^3 | base.Base() }

// WithBlackPoint is i with UseBlackPtComp of the given name: ON, OFF, or Default, as which any other
// name counts (Table 57).
func (i Intent) WithBlackPoint(name string) Intent {
	switch i = i.Base(); name {
	case "ON":
		return i | CompensateBlack
	case "OFF":
		return i | KeepBlack
	}
	return i
}

var intentNames = [4]string{"RelativeColorimetric", "AbsoluteColorimetric", "Perceptual", "Saturation"}

// String is the PDF name, with UseBlackPtComp where it is not Default.
func (i Intent) String() string {
	s := intentNames[i.Base()]
	switch {
	case i&CompensateBlack != 0:
		s += ", UseBlackPtComp ON"
	case i&KeepBlack != 0:
		s += ", UseBlackPtComp OFF"
	}
	return s
}

// IntentFromName finds an intent by its PDF name; unknown ones are RelativeColorimetric.
func IntentFromName(name string) (intent Intent, known bool) {
	for i, n := range intentNames {
		if n == name {
			return Intent(i), true
		}
	}
	return RelativeColorimetric, false
}

// Converter converts process colours, resolving Separation/DeviceN through their alternates, to
// the process spaces of plates and groups. It is safe for concurrent use; what it gives depends on its
// arguments alone.
type Converter struct {
	find func() Printing
	once sync.Once
	by   Printing // what find gave, after once, with profiles that serve no purpose left out

	mu    sync.Mutex // of storing links
	links atomic.Pointer[[]linkEntry]
}

// Printing is what process colours are converted by.
type Printing struct {
	// Output is the CMYK output profile: of the press, or the artwork's own output intent where the press
	// has none. nil = naive conversion.
	Output *Profile
	// RGB is what DeviceRGB means: the RGB output intent of the artwork; nil = sRGB.
	RGB *Profile
	// KeepBlack lets the Default of UseBlackPtComp mean OFF.
	KeepBlack bool
}

// NewConverter is NewConverterFor with dest, nil = naive, and defaults.
func NewConverter(dest *Profile) *Converter { return NewConverterFor(Printing{Output: dest}) }

// NewConverterFor converts to CMYK through p.Output, or, where that is nil or has no transform to four
// channels, naively. Both resolve Indexed through its table and Separation and DeviceN (All and None alike)
// through tint transform and alternate, and clip components to their ranges.
//
//	                naive                               with an output profile
//	DeviceGray      K = 1-g                             the same (10.4.2.3)
//	DeviceCMYK      as it is                            as it is
//	DeviceRGB       K = min(1-R, 1-G, 1-B), C = 1-R-K   taken as p.RGB or sRGB, through the profile
//	                (10.4.2 with full UCR and BG)
//	CalGray         as DeviceGray                       X, Y, Z through the profile
//	CalRGB          as DeviceRGB                        X, Y, Z through the profile
//	Lab             X, Y, Z, Bradford to D50, sRGB,     X, Y, Z through the profile
//	                then as DeviceRGB
//	ICCBased 1      as DeviceGray, profile not used     through both profiles
//	ICCBased 3      as DeviceRGB, profile not used;     through both profiles
//	                a profile of Lab values as Lab
//	ICCBased 4      as DeviceCMYK, profile not used     as it is when its profile is the output profile,
//	                                                    byte for byte (8.6.5.7), else through both
//
// An ICCBased space without a usable profile is its Alternate.
//
// Intents (8.6.5.8) choose the tables of both profiles. Absolute colorimetric prints the colour of the
// source's medium too; device and Cal spaces and Lab have none but their diffuse white.
//
// Black points are compensated (8.6.5.9, ISO 18619) as UseBlackPtComp says, never for absolute
// colorimetric. Its Default is ours to choose: ON for relative colorimetric, because shadows of a photo
// that all print as one black are a fault in any press room, and for the perceptual and saturation
// intents where one of the profiles is of version 4, whose connection space has a black of its own there;
// tables of version 2 already hold what their maker thought right.
func NewConverterFor(p Printing) *Converter {
	return NewConverterLater(func() Printing { return p })
}

// NewConverterLater is NewConverterFor with what find gives. It is called once, when first something depends on it: most
// pages of a print shop have device CMYK and colourants alone, and the output profile of their file need not be read.
func NewConverterLater(find func() Printing) *Converter { return &Converter{find: find} }

// printing is what the converter converts by.
func (c *Converter) printing() *Printing {
	c.once.Do(func() {
		p := c.find()
		if p.Output != nil && (p.Output.n != 4 || !p.Output.CanPrint()) {
			p.Output = nil
		}
		if p.RGB != nil && (p.RGB.n != 3 || p.RGB.srgb) {
			p.RGB = nil
		}
		c.by, c.find = p, nil
	})
	return &c.by
}

// dest is the profile process colours are converted to, nil = naive.
func (c *Converter) dest() *Profile { return c.printing().Output }

// Output is the output profile the converter converts through, nil in the naive conversion.
func (c *Converter) Output() *Profile { return c.dest() }

// Naive reports whether the converter uses no profiles.
func (c *Converter) Naive() bool { return c.dest() == nil }

// scratch holds the components between the steps of one conversion.
type scratch struct{ in, mid, out [limits.MaxComponents]float64 }

var scratches = sync.Pool{New: func() any { return new(scratch) }}

// basic resolves a colour to one of a device or CIE space: Indexed, Separation, DeviceN and Pattern
// are looked through. The result lies in w and is clipped to the space's ranges.
func basic(w *scratch, s Space, comps []float64) (Space, []float64) {
	in := w.in[:]
	n := s.Components()
	for i := range n {
		v := 0.0
		if i < len(comps) {
			v = finite(comps[i])
		}
		lo, hi := s.Range(i)
		in[i] = clamp(v, lo, hi)
	}
	for range 4 { // Pattern over Indexed over DeviceN over its alternate is the longest chain there is
		switch x := s.(type) {
		case *Pattern:
			if x.Under == nil {
				return Gray, append(in[:0], 1)
			}
			s = x.Under
		case *Indexed:
			x.Lookup(w.mid[:x.Base.Components()], in[0])
			copy(in, w.mid[:x.Base.Components()])
			s = x.Base
		case *Separation:
			in = evalTint(w, in, x.Tint, x.Alternate)
			s = x.Alternate
		case *DeviceN:
			in = evalTint(w, in, x.Tint, x.Alternate)
			s = x.Alternate
		case *ICCBased:
			if x.Profile != nil {
				return s, x.unit(in[:x.N])
			}
			s = x.Alternate
			clipRange(s, in)
		default:
			return s, in[:s.Components()]
		}
	}
	return Gray, append(in[:0], 1)
}

func evalTint(w *scratch, in []float64, f Function, alternate Space) []float64 {
	f.Eval(w.out[:f.Outputs()], in[:f.Inputs()])
	copy(in, w.out[:f.Outputs()])
	clipRange(alternate, in)
	return in
}

func clipRange(s Space, v []float64) {
	for i := range s.Components() {
		lo, hi := s.Range(i)
		v[i] = clamp(finite(v[i]), lo, hi)
	}
}

// complement is 10.4.2.4 with full black generation and undercolour removal.
func complement(rgb [3]float64) [4]float64 {
	c, m, y := 1-rgb[0], 1-rgb[1], 1-rgb[2]
	k := min(c, m, y)
	return [4]float64{c - k, m - k, y - k, k}
}

// CMYK converts one colour of any space but Pattern to process tints 0..1, 1 = full. DeviceGray
// goes to K alone (10.4.2.3), DeviceCMYK passes unchanged.
func (c *Converter) CMYK(s Space, comps []float64, intent Intent) [4]float64 {
	w := scratches.Get().(*scratch)
	defer scratches.Put(w)
	return c.cmyk(w, s, comps, intent)
}

func (c *Converter) cmyk(w *scratch, s Space, comps []float64, intent Intent) [4]float64 {
	s, v := basic(w, s, comps)
	switch s.(type) {
	case *DeviceGray:
		return [4]float64{0, 0, 0, 1 - v[0]}
	case *DeviceCMYK:
		return [4]float64{v[0], v[1], v[2], v[3]}
	}
	dest := c.dest()
	if dest == nil {
		return naiveCMYK(s, v)
	}
	if x, ok := s.(*ICCBased); ok && x.N == 4 && x.Profile.equal(dest) {
		return [4]float64{v[0], v[1], v[2], v[3]}
	}
	var t [4]float64
	copy(t[:], v)
	c.link(s, intent).tints(&t)
	return t
}

// connect is the colour relative to its own medium under D50, in X, Y, Z or L*, a*, b*. Device gray
// counts as sRGB; device CMYK as its complement, or as the output profile says.
func (c *Converter) connect(s Space, v []float64, intent Intent) (pcs [3]float64, lab bool) {
	if p := c.profileOf(s); p != nil {
		return p.connect(v, intent)
	}
	switch x := s.(type) {
	case *CalGray:
		return x.xyz(v[0]), false
	case *CalRGB:
		return x.xyz([3]float64{v[0], v[1], v[2]}), false
	case *Lab:
		if x.White == d50 {
			return [3]float64{v[0], v[1], v[2]}, true
		}
		return x.xyz([3]float64{v[0], v[1], v[2]}), false
	}
	rgb := naiveRGB(s, v)
	for i, x := range rgb {
		rgb[i] = srgbCurve.at(x)
	}
	return xyzFromLinear.mul(rgb), false
}

// profileOf is the profile that tells what colours of s are, nil for CIE spaces and sRGB.
func (c *Converter) profileOf(s Space) *Profile {
	switch x := s.(type) {
	case *ICCBased:
		return x.Profile
	case *DeviceRGB:
		return c.printing().RGB
	case *DeviceCMYK:
		return c.dest()
	}
	return nil
}

// compensates reports whether black points are compensated between profiles; nil = not of version 4.
func (c *Converter) compensates(from, to *Profile, intent Intent) bool {
	switch {
	case intent.Base() == AbsoluteColorimetric || intent&KeepBlack != 0:
		return false
	case intent&CompensateBlack != 0:
		return true
	case c.printing().KeepBlack:
		return false
	case intent.Base() == RelativeColorimetric:
		return true
	}
	return from != nil && from.Version() >= 4 || to != nil && to.Version() >= 4
}

// stretch is what happens between the connection spaces of s and of the output profile, or of sRGB where
// print is false.
func (c *Converter) stretch(s Space, intent Intent, print bool) stretch {
	from := c.profileOf(s)
	var to *Profile
	if print {
		to = c.dest()
	}
	if intent.Base() == AbsoluteColorimetric {
		white, paper := d50, d50
		if from != nil {
			white = from.white
		}
		if to != nil {
			paper = to.white
		}
		return stretchWhite(white, paper)
	}
	if !c.compensates(from, to, intent) {
		return stretch{}
	}
	var black, darkest [3]float64
	if from != nil {
		black = from.sourceBlack(intent)
	}
	if to != nil {
		darkest = to.targetBlack(intent)
	}
	return stretchBlack(black, darkest)
}

// xyzOf is the colour in X, Y, Z as seen on a medium of white D50 and black 0, as sRGB has them.
func (c *Converter) xyzOf(s Space, v []float64, intent Intent) [3]float64 {
	xyz, lab := c.connect(s, v, intent)
	if lab {
		xyz = xyzFromLab(xyz, d50)
	}
	if st := c.stretch(s, intent, false); st.on {
		xyz = st.apply(xyz)
	}
	return xyz
}

func naiveCMYK(s Space, v []float64) [4]float64 {
	if s.Family() == FamilyLab {
		return complement(srgbFromXYZ(s.(*Lab).xyz([3]float64{v[0], v[1], v[2]})))
	}
	switch len(v) {
	case 1:
		return [4]float64{0, 0, 0, 1 - v[0]}
	case 3:
		return complement([3]float64{v[0], v[1], v[2]})
	}
	return [4]float64{v[0], v[1], v[2], v[3]}
}

// unit maps components from the ranges of the space to 0..1 of the profile. Ranges of 0..1, the only
// ones that gray, RGB and CMYK profiles have use for, stay untouched.
func (s *ICCBased) unit(v []float64) []float64 {
	for i := range v {
		v[i] = unitOf(v[i])
	}
	return v
}

// naiveRGB converts without profiles; CMYK by R = 1 - min(1, C+K) (10.4.2.5).
func naiveRGB(s Space, v []float64) [3]float64 {
	if s.Family() == FamilyLab {
		return srgbFromXYZ(s.(*Lab).xyz([3]float64{v[0], v[1], v[2]}))
	}
	switch len(v) {
	case 1:
		return [3]float64{v[0], v[0], v[0]}
	case 3:
		return [3]float64{v[0], v[1], v[2]}
	}
	return [3]float64{1 - min(1, v[0]+v[3]), 1 - min(1, v[1]+v[3]), 1 - min(1, v[2]+v[3])}
}

// RGB converts to additive RGB 0..1 (for RGB blending spaces). With a destination, CIE and ICC
// colours go through X, Y, Z to sRGB, and DeviceCMYK through the destination's profile.
func (c *Converter) RGB(s Space, comps []float64, intent Intent) [3]float64 {
	w := scratches.Get().(*scratch)
	defer scratches.Put(w)
	s, v := basic(w, s, comps)
	if s.Family() == FamilyGray || c.dest() == nil {
		return naiveRGB(s, v)
	}
	switch x := s.(type) {
	case *DeviceRGB:
		if c.printing().RGB == nil {
			return naiveRGB(s, v)
		}
	case *ICCBased:
		if x.SRGB {
			return naiveRGB(s, v)
		}
	}
	return srgbFromXYZ(c.xyzOf(s, v, intent))
}

// Gray converts to additive gray 0..1 (for gray blending spaces): .3R+.59G+.11B of device colours;
// CMYK by 1 - min(1, .3C+.59M+.11Y+K) (10.4.2).
func (c *Converter) Gray(s Space, comps []float64, intent Intent) float64 {
	w := scratches.Get().(*scratch)
	defer scratches.Put(w)
	s, v := basic(w, s, comps)
	if len(v) == 4 && (s.Family() == FamilyCMYK || c.dest() == nil) {
		return 1 - min(1, float64(.3*v[0])+float64(.59*v[1])+float64(.11*v[2])+v[3])
	}
	if len(v) == 1 && (s.Family() == FamilyGray || c.dest() == nil) {
		return v[0]
	}
	return grayOfRGB(c.RGB(s, v, intent))
}

func grayOfRGB(rgb [3]float64) float64 {
	return float64(.3*rgb[0]) + float64(.59*rgb[1]) + float64(.11*rgb[2])
}

// Luminosity is the value a luminosity soft mask takes from a colour (11.5.3): the gray of device
// RGB, .3(1-C)(1-K)+.59(1-M)(1-K)+.11(1-Y)(1-K) of device CMYK, and Y of CIE-based colours. The
// naive converter reads ICCBased, CalGray and CalRGB as device colours here too.
func (c *Converter) Luminosity(s Space, comps []float64) float64 {
	w := scratches.Get().(*scratch)
	defer scratches.Put(w)
	s, v := basic(w, s, comps)
	switch s.Family() {
	case FamilyGray, FamilyRGB, FamilyCMYK:
	case FamilyLab:
		return unitOf(c.xyzOf(s, v, RelativeColorimetric)[1])
	default:
		if c.dest() != nil {
			return unitOf(c.xyzOf(s, v, RelativeColorimetric)[1])
		}
	}
	switch len(v) {
	case 1:
		return v[0]
	case 3:
		return grayOfRGB([3]float64{v[0], v[1], v[2]})
	}
	k := 1 - v[3]
	return float64(.3*float64((1-v[0])*k)) + float64(.59*float64((1-v[1])*k)) + float64(.11*float64((1-v[2])*k))
}

// CMYKer is CMYK with space and intent bound. The closure is safe for concurrent use.
func (c *Converter) CMYKer(s Space, intent Intent) func(comps []float64) [4]float64 {
	return func(comps []float64) [4]float64 { return c.CMYK(s, comps, intent) }
}

// StandIn is the colour a Separation is drawn in by programs that have no such colourant, as CMYK at
// a tint: what the designer sees in its place.
func (c *Converter) StandIn(s *Separation, tint float64) [4]float64 {
	return c.CMYK(s, []float64{tint}, RelativeColorimetric)
}
