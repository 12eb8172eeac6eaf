// Package colour reads colour spaces and functions (ISO 32000-2, 7.10 and 8.6) and converts source
// colours of the process model. It does not know plates: which colourant a named colour lands on is
// decided in plates/separate.
package colour

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Family is the kind of a colour space.
type Family uint8

// The families of Table 61.
const (
	FamilyGray Family = iota // DeviceGray
	FamilyRGB                // DeviceRGB
	FamilyCMYK               // DeviceCMYK
	FamilyCalGray
	FamilyCalRGB
	FamilyLab
	FamilyICC
	FamilyIndexed
	FamilySeparation
	FamilyDeviceN
	FamilyPattern
)

// Space is a colour space: one of the struct types of this package, always used by pointer and
// compared by pointer or with Equal. Spaces are immutable.
type Space interface {
	Family() Family
	// Components is the number of numbers a colour has; 0 for a Pattern without underlying space.
	Components() int
	// Initial is the colour after cs/CS (8.6.5.1 ff, Table 73).
	Initial() []float64
	// Range is the legal interval of component i.
	Range(i int) (lo, hi float64)
	// String is a short name for dumps, e.g. "Separation White" or "ICCBased 4".
	String() string
}

// The device spaces.
type (
	DeviceGray struct{}
	DeviceRGB  struct{}
	DeviceCMYK struct{}
)

// Shared instances: device spaces are always these pointers.
var (
	Gray = &DeviceGray{}
	RGB  = &DeviceRGB{}
	CMYK = &DeviceCMYK{}
)

// CalGray is CIE-based gray (8.6.5.2).
type CalGray struct {
	White, BlackPoint [3]float64
	Gamma             float64
}

// CalRGB is CIE-based RGB (8.6.5.3).
type CalRGB struct {
	White, BlackPoint, Gamma [3]float64
	Matrix                   [9]float64 // XA YA ZA XB YB ZB XC YC ZC
}

// Lab is CIE 1976 L*a*b* (8.6.5.4).
type Lab struct {
	White, BlackPoint [3]float64
	Limits            [4]float64 // amin amax bmin bmax
}

// ICCBased is a space given by a profile (8.6.5.5).
type ICCBased struct {
	N         int       // 1, 3 or 4
	Profile   *Profile  // nil when the profile could not be used: Alternate or the device space of N stands in
	Alternate Space     // never nil; has N components
	Limits    []float64 // 2 per component
	SRGB      bool      // the profile is an sRGB one
}

// Indexed is a table over a base space (8.6.6.3).
type Indexed struct {
	Base  Space
	HiVal int
	Table []byte // (HiVal+1) x Base.Components() bytes, padded with zeros when short
}

// Separation is one named colourant (8.6.6.4). Name is exact bytes; All and None are kept as names.
type Separation struct {
	Name      string
	Alternate Space
	Tint      Function
}

// Names are the colourants a Separation or DeviceN space names, None and All among them; nil for other spaces.
func Names(s Space) []string {
	switch s := s.(type) {
	case *Separation:
		return []string{s.Name}
	case *DeviceN:
		return s.Names
	}
	return nil
}

// DeviceN is several named colourants (8.6.6.5). With NChannel, Colorants and Process are those of
// the attributes dictionary; Process names the components that address the process space.
type DeviceN struct {
	Names             []string
	Alternate         Space
	Tint              Function
	NChannel          bool
	Colorants         map[string]*Separation
	Process           Space // nil when absent
	ProcessComponents []string
	Hints             *MixingHints // nil when absent
}

// MixingHints is the advice of Table 72.
type MixingHints struct {
	Solidities    map[string]float64
	PrintingOrder []string
	DotGain       map[string]Function
}

// Pattern is the pattern space (8.7.3.1), with the space of uncoloured tilings.
type Pattern struct{ Under Space }

// Family tells the kind of space.
func (*DeviceGray) Family() Family { return FamilyGray }

// Family tells the kind of space.
func (*DeviceRGB) Family() Family { return FamilyRGB }

// Family tells the kind of space.
func (*DeviceCMYK) Family() Family { return FamilyCMYK }

// Family tells the kind of space.
func (*CalGray) Family() Family { return FamilyCalGray }

// Family tells the kind of space.
func (*CalRGB) Family() Family { return FamilyCalRGB }

// Family tells the kind of space.
func (*Lab) Family() Family { return FamilyLab }

// Family tells the kind of space.
func (*ICCBased) Family() Family { return FamilyICC }

// Family tells the kind of space.
func (*Indexed) Family() Family { return FamilyIndexed }

// Family tells the kind of space.
func (*Separation) Family() Family { return FamilySeparation }

// Family tells the kind of space.
func (*DeviceN) Family() Family { return FamilyDeviceN }

// Family tells the kind of space.
func (*Pattern) Family() Family { return FamilyPattern }

// Components is 1.
func (*DeviceGray) Components() int { return 1 }

// Components is 3.
func (*DeviceRGB) Components() int { return 3 }

// Components is 4.
func (*DeviceCMYK) Components() int { return 4 }

// Components is 1.
func (*CalGray) Components() int { return 1 }

// Components is 3.
func (*CalRGB) Components() int { return 3 }

// Components is 3.
func (*Lab) Components() int { return 3 }

// Components is N.
func (s *ICCBased) Components() int { return s.N }

// Components is 1, the index.
func (*Indexed) Components() int { return 1 }

// Components is 1, the tint.
func (*Separation) Components() int { return 1 }

// Components is the number of names, None included.
func (s *DeviceN) Components() int { return len(s.Names) }

// Components is that of the underlying space, 0 without one.
func (s *Pattern) Components() int {
	if s.Under == nil {
		return 0
	}
	return s.Under.Components()
}

// Initial is black.
func (*DeviceGray) Initial() []float64 { return []float64{0} }

// Initial is black.
func (*DeviceRGB) Initial() []float64 { return []float64{0, 0, 0} }

// Initial is black: 0 0 0 1.
func (*DeviceCMYK) Initial() []float64 { return []float64{0, 0, 0, 1} }

// Initial is black.
func (*CalGray) Initial() []float64 { return []float64{0} }

// Initial is black.
func (*CalRGB) Initial() []float64 { return []float64{0, 0, 0} }

// Initial is 0 for each component, or the nearest legal value.
func (s *Lab) Initial() []float64 { return nearestZero(s) }

// Initial is 0 for each component, or the nearest legal value.
func (s *ICCBased) Initial() []float64 { return nearestZero(s) }

// Initial is index 0.
func (*Indexed) Initial() []float64 { return []float64{0} }

// Initial is full tint.
func (*Separation) Initial() []float64 { return []float64{1} }

// Initial is full tint of every component.
func (s *DeviceN) Initial() []float64 {
	v := make([]float64, len(s.Names))
	for i := range v {
		v[i] = 1
	}
	return v
}

// Initial is that of the underlying space: a pattern that paints nothing has no colour of its own.
func (s *Pattern) Initial() []float64 {
	if s.Under == nil {
		return nil
	}
	return s.Under.Initial()
}

func nearestZero(s Space) []float64 {
	v := make([]float64, s.Components())
	for i := range v {
		lo, hi := s.Range(i)
		v[i] = clamp(0, lo, hi)
	}
	return v
}

// Range is 0..1.
func (*DeviceGray) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..1.
func (*DeviceRGB) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..1.
func (*DeviceCMYK) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..1.
func (*CalGray) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..1.
func (*CalRGB) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..100 for L*, the limits for a* and b*.
func (s *Lab) Range(i int) (lo, hi float64) {
	switch i {
	case 1:
		return s.Limits[0], s.Limits[1]
	case 2:
		return s.Limits[2], s.Limits[3]
	}
	return 0, 100
}

// Range is that of the stream dictionary.
func (s *ICCBased) Range(i int) (lo, hi float64) {
	if i < 0 || 2*i+1 >= len(s.Limits) {
		return 0, 1
	}
	return s.Limits[2*i], s.Limits[2*i+1]
}

// Range is 0..HiVal.
func (s *Indexed) Range(int) (lo, hi float64) { return 0, float64(s.HiVal) }

// Range is 0..1.
func (*Separation) Range(int) (lo, hi float64) { return 0, 1 }

// Range is 0..1.
func (*DeviceN) Range(int) (lo, hi float64) { return 0, 1 }

// Range is that of the underlying space.
func (s *Pattern) Range(i int) (lo, hi float64) {
	if s.Under == nil {
		return 0, 1
	}
	return s.Under.Range(i)
}

// String is the PDF name.
func (*DeviceGray) String() string { return "DeviceGray" }

// String is the PDF name.
func (*DeviceRGB) String() string { return "DeviceRGB" }

// String is the PDF name.
func (*DeviceCMYK) String() string { return "DeviceCMYK" }

// String is the PDF name.
func (*CalGray) String() string { return "CalGray" }

// String is the PDF name.
func (*CalRGB) String() string { return "CalRGB" }

// String is the PDF name.
func (*Lab) String() string { return "Lab" }

// String is "ICCBased" and the number of components.
func (s *ICCBased) String() string { return fmt.Sprintf("ICCBased %d", s.N) }

// String is "Indexed" and the base.
func (s *Indexed) String() string { return "Indexed " + s.Base.String() }

// String is "Separation" and the name.
func (s *Separation) String() string { return "Separation " + s.Name }

// String is "DeviceN" and the names, comma between.
func (s *DeviceN) String() string {
	kind := "DeviceN "
	if s.NChannel {
		kind = "NChannel "
	}
	return kind + strings.Join(s.Names, ",")
}

// String is "Pattern" and the underlying space.
func (s *Pattern) String() string {
	if s.Under == nil {
		return "Pattern"
	}
	return "Pattern " + s.Under.String()
}

// Lookup writes the colour at an index, rounded and clipped to 0..HiVal, into out, which has
// Base.Components() entries (8.6.6.3: table bytes span the range of each base component).
func (s *Indexed) Lookup(out []float64, index float64) {
	n := s.Base.Components()
	i := int(math.Floor(clamp(finite(index), 0, float64(s.HiVal)) + 0.5))
	row := s.Table[i*n : (i+1)*n]
	for k, b := range row {
		lo, hi := s.Base.Range(k)
		out[k] = lo + float64(float64(b)*(hi-lo))/255
	}
}

// DefaultDecode is the Decode array of an image in s without one (Table 88), 2 numbers per component.
func DefaultDecode(s Space, bits int) []float64 {
	if s.Family() == FamilyIndexed {
		return []float64{0, float64(uint64(1)<<bits - 1)}
	}
	d := make([]float64, 0, 2*s.Components())
	for i := range s.Components() {
		lo, hi := s.Range(i)
		d = append(d, lo, hi)
	}
	return d
}

// Clip writes comps clipped to the ranges of s into a new slice of s.Components() entries. Missing
// and not finite numbers are 0 before clipping.
func Clip(s Space, comps []float64) []float64 {
	v := make([]float64, s.Components())
	copy(v, comps)
	for i := range v {
		lo, hi := s.Range(i)
		v[i] = clamp(finite(v[i]), lo, hi)
	}
	return v
}

// Equal reports whether two spaces mean the same: same family, names, alternate and tint transform.
// Functions are compared by definition, not by values.
func Equal(a, b Space) bool {
	if a == b {
		return true
	}
	if a == nil || b == nil || a.Family() != b.Family() {
		return false
	}
	switch x := a.(type) {
	case *CalGray:
		return *x == *b.(*CalGray)
	case *CalRGB:
		return *x == *b.(*CalRGB)
	case *Lab:
		return *x == *b.(*Lab)
	case *ICCBased:
		y := b.(*ICCBased)
		return x.N == y.N && x.Profile.equal(y.Profile) && slices.Equal(x.Limits, y.Limits) && Equal(x.Alternate, y.Alternate)
	case *Indexed:
		y := b.(*Indexed)
		return x.HiVal == y.HiVal && slices.Equal(x.Table, y.Table) && Equal(x.Base, y.Base)
	case *Separation:
		y := b.(*Separation)
		return x.Name == y.Name && Equal(x.Alternate, y.Alternate) && EqualFunctions(x.Tint, y.Tint)
	case *DeviceN:
		y := b.(*DeviceN)
		return x.equal(y)
	case *Pattern:
		return Equal(x.Under, b.(*Pattern).Under)
	}
	return true // device spaces carry no data
}

func (s *DeviceN) equal(o *DeviceN) bool {
	if s.NChannel != o.NChannel || !slices.Equal(s.Names, o.Names) || !slices.Equal(s.ProcessComponents, o.ProcessComponents) ||
		!Equal(s.Alternate, o.Alternate) || !Equal(s.Process, o.Process) || !EqualFunctions(s.Tint, o.Tint) || len(s.Colorants) != len(o.Colorants) {
		return false
	}
	for name, c := range s.Colorants {
		if d, ok := o.Colorants[name]; !ok || !Equal(c, d) {
			return false
		}
	}
	return true
}

func clamp(v, lo, hi float64) float64 {
	if v < lo {
		return lo
	}
	if v > hi {
		return hi
	}
	return v
}

// unitOf clips to 0..1; what is not a number is 0.
func unitOf(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	return min(v, 1)
}

// finite turns NaN and infinities into numbers that clamp handles.
func finite(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return clamp(v, -math.MaxFloat64, math.MaxFloat64)
}
