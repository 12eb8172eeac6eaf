package colour

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"sync"

	"github.com/kovidgoyal/imaging/prism/meta/icc"

	"laydown/internal/limits"
)

// Errors of this package, always wrapped.
var (
	errOverLimit   = errors.New("over a limit")
	errUnsupported = errors.New("not supported")
)

// Profile is a parsed ICC profile. It is safe for concurrent use.
type Profile struct {
	profile *icc.Profile
	n       int
	sum     [sha256.Size]byte
	srgb    bool
	labPCS  bool
	toPCS   [4]pipeline
	toDev   [4]pipeline
}

// pipeline is one direction of a profile for one intent, made when first used.
type pipeline struct {
	once sync.Once
	p    *icc.Pipeline
}

// ParseProfile reads an ICC profile of 1, 3 or 4 channels (gray, RGB, CMYK). Other device spaces,
// device links and profiles without a usable transform to the connection space are errors.
func ParseProfile(data []byte) (p *Profile, err error) {
	defer func() {
		if r := recover(); r != nil {
			p, err = nil, fmt.Errorf("the ICC profile is damaged: %v", r)
		}
	}()
	if len(data) > limits.MaxProfileBytes {
		return nil, fmt.Errorf("an ICC profile of %d bytes is %w", len(data), errOverLimit)
	}
	if len(data) < 132 {
		return nil, errors.New("the ICC profile is cut short")
	}
	ip, err := icc.DecodeProfile(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the ICC profile is damaged: %w", err)
	}
	p = &Profile{profile: ip, sum: sha256.Sum256(data), labPCS: ip.Header.ProfileConnectionSpace == icc.ColorSpaceLab}
	if p.n = profileChannels(data); p.n == 0 {
		return nil, fmt.Errorf("an ICC profile for the colour space %q is %w", data[16:20], errUnsupported)
	}
	switch c := ip.Header.DeviceClass; c {
	case icc.DeviceClassInput, icc.DeviceClassDisplay, icc.DeviceClassOutput, icc.DeviceClassColorSpace:
	default:
		return nil, fmt.Errorf("an ICC profile of class %q is %w", data[12:16], errUnsupported)
	}
	if p.pcs(RelativeColorimetric) == nil {
		return nil, errors.New("the ICC profile has no usable transform")
	}
	p.srgb = p.n == 3 && ip.IsSRGB()
	return p, nil
}

// profileChannels is the number of device channels by the header's colour space signature, 0 for
// those that no ICCBased space of this package can have.
func profileChannels(data []byte) int {
	if len(data) < 20 {
		return 0
	}
	switch string(data[16:20]) {
	case "GRAY":
		return 1
	case "RGB ":
		return 3
	case "CMYK":
		return 4
	}
	return 0
}

// Components is the number of device channels: 1, 3 or 4.
func (p *Profile) Components() int { return p.n }

// IsSRGB reports whether the profile describes sRGB.
func (p *Profile) IsSRGB() bool { return p.srgb }

// Description is the profile's own name, "" when it has none.
func (p *Profile) Description() (name string) {
	defer func() {
		if recover() != nil {
			name = ""
		}
	}()
	name, err := p.profile.Description()
	if err != nil {
		return ""
	}
	return name
}

func (p *Profile) equal(o *Profile) bool {
	if p == nil || o == nil {
		return p == o
	}
	return p.sum == o.sum
}

var iccIntents = [4]icc.RenderingIntent{
	RelativeColorimetric: icc.RelativeColorimetricRenderingIntent,
	AbsoluteColorimetric: icc.AbsoluteColorimetricRenderingIntent,
	Perceptual:           icc.PerceptualRenderingIntent,
	Saturation:           icc.SaturationRenderingIntent,
}

func (p *Profile) pcs(intent Intent) *icc.Pipeline {
	s := &p.toPCS[intent&3]
	s.once.Do(func() {
		defer func() { _ = recover() }() // a profile that breaks the library counts as having no transform
		if t, err := p.profile.CreateTransformerToPCS(iccIntents[intent&3], p.n, true); err == nil {
			s.p = t
		}
	})
	return s.p
}

func (p *Profile) device(intent Intent) *icc.Pipeline {
	s := &p.toDev[intent&3]
	s.once.Do(func() {
		defer func() { _ = recover() }()
		if t, err := p.profile.CreateTransformerToDevice(iccIntents[intent&3], false, true); err == nil {
			s.p = t
		}
	})
	return s.p
}

// CanPrint reports whether the profile also converts from the connection space to the device, as a
// destination must.
func (p *Profile) CanPrint() bool { return p.device(RelativeColorimetric) != nil }

// XYZ converts device values 0..1 to the connection space: X, Y, Z relative to D50, Y of white = 1.
func (p *Profile) XYZ(comps []float64, intent Intent) (xyz [3]float64) {
	v, ok := p.run(p.pcs(intent), comps)
	if !ok {
		return d50
	}
	if p.labPCS {
		return xyzFromLab([3]float64{v[0], v[1], v[2]}, d50)
	}
	return [3]float64{settle(v[0]), settle(v[1]), settle(v[2])}
}

// Device converts X, Y, Z relative to D50 to device values 0..1, without black point compensation.
func (p *Profile) Device(xyz [3]float64, intent Intent) (comps [4]float64) {
	in := xyz
	if p.labPCS {
		in = labFromXYZ(xyz, d50)
	}
	v, ok := p.run(p.device(intent), in[:])
	if !ok {
		return comps
	}
	for i := range p.n {
		comps[i] = clamp(settle(v[i]), 0, 1)
	}
	return comps
}

// run calls the library on copies; it may write to its input.
func (p *Profile) run(t *icc.Pipeline, in []float64) (v [4]float64, ok bool) {
	if t == nil {
		return v, false
	}
	defer func() {
		if recover() != nil {
			ok = false
		}
	}()
	var a, b [16]float64
	copy(a[:], in)
	t.TransformGeneral(b[:], a[:])
	copy(v[:], a[:4]) // the last result is copied back into the input
	for i := range v {
		v[i] = finite(v[i])
	}
	return v, true
}
