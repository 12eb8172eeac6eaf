// Package colour reads colour spaces and functions (ISO 32000-2, 7.10 and 8.6) and converts source
// colours of the process model. It does not know plates: which colourant a named colour lands on is
// decided in plates/separate.
package colour

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
	Matrix                   [9]float64
}

// Lab is CIE 1976 L*a*b* (8.6.5.4).
type Lab struct {
	White, BlackPoint [3]float64
	Limits            [4]float64 // amin amax bmin bmax
}

// ICCBased is a space given by a profile (8.6.5.5).
type ICCBased struct {
	N         int      // 1, 3 or 4
	Profile   *Profile // nil when the profile could not be used: Alternate or the device space of N stands in
	Alternate Space    // never nil
	Limits    []float64
	SRGB      bool // the profile is an sRGB one
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
}

// Pattern is the pattern space (8.7.3.1), with the space of uncoloured tilings.
type Pattern struct{ Under Space }

// Function is a PDF function (7.10). Eval clips inputs to Domain and outputs to Range. It is safe
// for concurrent use; len(in) = Inputs, len(out) = Outputs; out must not alias in.
type Function interface {
	Inputs() int
	Outputs() int
	Eval(out, in []float64)
}

// Intent is a rendering intent (8.6.5.8).
type Intent uint8

// Rendering intents; RelativeColorimetric is the default and the zero value.
const (
	RelativeColorimetric Intent = iota
	AbsoluteColorimetric
	Perceptual
	Saturation
)
