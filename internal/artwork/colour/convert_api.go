package colour

import (
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// Profile is a parsed ICC profile.
type Profile struct{}

// ParseProfile reads an ICC profile of 1, 3 or 4 channels.
func ParseProfile(data []byte) (*Profile, error) { panic("unwritten") }

// Reader turns PDF objects into spaces and functions, caching by reference. Safe for concurrent use.
type Reader struct{}

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader { panic("unwritten") }

// Space reads a colour space: a name (device space, Pattern, or a key of res' ColorSpace
// dictionary) or an array. Default spaces of res (8.6.5.6) replace device spaces. A nil error is
// also returned for spaces that stand in for damaged ones (with a finding); the error is for "no
// space can be made of this".
func (r *Reader) Space(o pdf.Object, res pdf.Dict) (Space, error) { panic("unwritten") }

// Function reads a function of type 0, 2, 3 or 4, or an array of n functions joined into one.
func (r *Reader) Function(o pdf.Object) (Function, error) { panic("unwritten") }

// Converter converts process colours, resolving Separation/DeviceN through their alternates, to
// the process spaces of plates and groups. It is immutable after New and safe for concurrent use.
type Converter struct{}

// NewConverter converts to CMYK through dest, a CMYK output profile; with dest nil by the
// complement: C = 1-R-K, K = min(1-R, 1-G, 1-B) (10.4.2 with full UCR/BG); CIE and ICC colours
// first go to sRGB; ICCBased with 4 components passes as DeviceCMYK.
func NewConverter(dest *Profile) *Converter { panic("unwritten") }

// CMYK converts one colour of any space but Pattern to process tints 0..1, 1 = full. DeviceGray
// goes to K alone (10.4.2.3), DeviceCMYK passes unchanged.
func (c *Converter) CMYK(s Space, comps []float64, intent Intent) [4]float64 { panic("unwritten") }

// RGB converts to additive RGB 0..1 (for RGB blending spaces).
func (c *Converter) RGB(s Space, comps []float64, intent Intent) [3]float64 { panic("unwritten") }

// Gray converts to additive gray 0..1 (for gray blending spaces): .3R+.59G+.11B of device colours.
func (c *Converter) Gray(s Space, comps []float64, intent Intent) float64 { panic("unwritten") }

// Luminosity is the value a luminosity soft mask takes from a colour (11.5.3; STANDARDS 1.8.4).
func (c *Converter) Luminosity(s Space, comps []float64) float64 { panic("unwritten") }
