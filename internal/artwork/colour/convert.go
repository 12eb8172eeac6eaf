package colour

import (
	"sync"

	"laydown/internal/limits"
)

// Intent is a rendering intent (8.6.5.8).
type Intent uint8

// Rendering intents; RelativeColorimetric is the default and the zero value.
const (
	RelativeColorimetric Intent = iota
	AbsoluteColorimetric
	Perceptual
	Saturation
)

// IntentFromName finds an intent by its PDF name; unknown ones are RelativeColorimetric.
func IntentFromName(name string) (intent Intent, known bool) {
	switch name {
	case "RelativeColorimetric":
		return RelativeColorimetric, true
	case "AbsoluteColorimetric":
		return AbsoluteColorimetric, true
	case "Perceptual":
		return Perceptual, true
	case "Saturation":
		return Saturation, true
	}
	return RelativeColorimetric, false
}

// Converter converts process colours, resolving Separation/DeviceN through their alternates, to
// the process spaces of plates and groups. It is immutable after New and safe for concurrent use.
type Converter struct {
	dest *Profile
}

// NewConverter converts to CMYK through dest, a CMYK output profile, or, with dest nil or without a
// transform to its device, naively. Both resolve Indexed through its table and Separation and
// DeviceN (All and None alike) through tint transform and alternate, and clip components to their ranges.
//
//	                naive (dest nil)                    with dest
//	DeviceGray      K = 1-g                             the same (10.4.2.3)
//	DeviceCMYK      as it is                            as it is
//	DeviceRGB       K = min(1-R, 1-G, 1-B), C = 1-R-K   taken as sRGB, through dest
//	                (10.4.2 with full UCR and BG)
//	CalGray         as DeviceGray                       X, Y, Z through dest
//	CalRGB          as DeviceRGB                        X, Y, Z through dest
//	Lab             X, Y, Z, Bradford to D50, sRGB,     X, Y, Z through dest
//	                then as DeviceRGB
//	ICCBased 1      as DeviceGray, profile not used     through its profile and dest
//	ICCBased 3      as DeviceRGB, profile not used;     through its profile and dest
//	                a profile of Lab values as Lab
//	ICCBased 4      as DeviceCMYK, profile not used     as it is when its profile is dest, byte for
//	                                                    byte (8.6.5.7), else through both
//
// An ICCBased space without a usable profile is its Alternate. Profiles are used without black
// point compensation.
func NewConverter(dest *Profile) *Converter {
	if dest != nil && (dest.n != 4 || !dest.CanPrint()) {
		dest = nil
	}
	return &Converter{dest: dest}
}

// Naive reports whether the converter uses no profiles.
func (c *Converter) Naive() bool { return c.dest == nil }

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
				return s, in[:x.N]
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
	if c.dest == nil {
		return naiveCMYK(s, v)
	}
	switch x := s.(type) {
	case *DeviceGray:
		return [4]float64{0, 0, 0, 1 - v[0]}
	case *DeviceCMYK:
		return [4]float64{v[0], v[1], v[2], v[3]}
	case *ICCBased:
		if x.N == 4 && x.Profile.equal(c.dest) {
			return [4]float64{v[0], v[1], v[2], v[3]}
		}
	}
	return c.dest.Device(xyzOf(s, v, intent), intent)
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

// xyzOf is the colour relative to D50. Device RGB and gray count as sRGB; device CMYK as its complement.
func xyzOf(s Space, v []float64, intent Intent) [3]float64 {
	switch x := s.(type) {
	case *CalGray:
		return x.xyz(v[0])
	case *CalRGB:
		return x.xyz([3]float64{v[0], v[1], v[2]})
	case *Lab:
		return x.xyz([3]float64{v[0], v[1], v[2]})
	case *ICCBased:
		return x.Profile.XYZ(x.unit(v), intent)
	}
	return xyzFromSRGB(naiveRGB(s, v))
}

// unit maps components from the ranges of the space to 0..1 of the profile. Ranges of 0..1, the only
// ones that gray, RGB and CMYK profiles have use for, stay untouched.
func (s *ICCBased) unit(v []float64) []float64 {
	for i := range v {
		v[i] = clamp(v[i], 0, 1)
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
	if c.dest == nil {
		return naiveRGB(s, v)
	}
	switch x := s.(type) {
	case *DeviceGray, *DeviceRGB:
		return naiveRGB(s, v)
	case *DeviceCMYK:
		return srgbFromXYZ(c.dest.XYZ(v, intent))
	case *ICCBased:
		if x.SRGB {
			return naiveRGB(s, v)
		}
	}
	return srgbFromXYZ(xyzOf(s, v, intent))
}

// Gray converts to additive gray 0..1 (for gray blending spaces): .3R+.59G+.11B of device colours;
// CMYK by 1 - min(1, .3C+.59M+.11Y+K) (10.4.2).
func (c *Converter) Gray(s Space, comps []float64, intent Intent) float64 {
	w := scratches.Get().(*scratch)
	defer scratches.Put(w)
	s, v := basic(w, s, comps)
	if len(v) == 4 && (c.dest == nil || s.Family() == FamilyCMYK) {
		return 1 - min(1, float64(.3*v[0])+float64(.59*v[1])+float64(.11*v[2])+v[3])
	}
	if len(v) == 1 && (c.dest == nil || s.Family() == FamilyGray) {
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
		return clamp(xyzOf(s, v, RelativeColorimetric)[1], 0, 1)
	default:
		if c.dest != nil {
			return clamp(xyzOf(s, v, RelativeColorimetric)[1], 0, 1)
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
