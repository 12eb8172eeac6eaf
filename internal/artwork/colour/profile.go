package colour

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"sync"
)

// Errors of this package, always wrapped.
var (
	errOverLimit   = errors.New("over a limit")
	errUnsupported = errors.New("not supported")
)

// Profile is a parsed ICC profile (ICC.1, versions 2 and 4) of 1, 3 or 4 device channels. It is
// immutable and safe for concurrent use.
//
// Which of its tables serves an intent (ICC.1, 9.2): perceptual A2B0 and B2A0, relative colorimetric
// A2B1 and B2A1, saturation A2B2 and B2A2; absolute colorimetric is relative colorimetric scaled by the
// media white. A table that is absent or damaged is replaced by that of the perceptual intent, then by
// any there is, then by matrix and curves.
type Profile struct {
	file    *iccFile
	n       int
	sum     [sha256.Size]byte
	srgb    bool
	lab     bool // connection space
	toPCS   [4]iccDirection
	toDev   [4]iccDirection
	white   [3]float64
	sources [4]blackResult
	targets [4]blackResult
}

// iccDirection is one direction of a profile for one intent, made when first used.
type iccDirection struct {
	once sync.Once
	p    *iccPipeline // nil = there is none
	err  error
}

// ParseProfile reads an ICC profile of 1, 3 or 4 channels (gray, RGB, CMYK) of class input, display,
// output or colour space. Other device spaces and classes, and profiles without a usable transform to
// the connection space, are errors.
func ParseProfile(data []byte) (*Profile, error) {
	f, err := openICC(data)
	if err != nil {
		return nil, err
	}
	p := &Profile{file: f, sum: sha256.Sum256(data)}
	if p.n = profileChannels(data); p.n == 0 {
		return nil, fmt.Errorf("an ICC profile for the colour space %q is %w", f.device(), errUnsupported)
	}
	switch f.class() {
	case "scnr", "mntr", "prtr", "spac":
	default:
		return nil, fmt.Errorf("an ICC profile of class %q is %w", f.class(), errUnsupported)
	}
	switch f.pcs() {
	case "XYZ ":
	case "Lab ":
		p.lab = true
	default:
		return nil, fmt.Errorf("an ICC profile with the connection space %q is %w", f.pcs(), errUnsupported)
	}
	if p.pcs(RelativeColorimetric) == nil {
		err := p.toPCS[RelativeColorimetric].err
		if err == nil {
			err = errors.New("there is none")
		}
		return nil, fmt.Errorf("the ICC profile has no usable transform: %w", err)
	}
	p.white = p.readMediaWhite()
	p.srgb = p.looksLikeSRGB()
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
func (p *Profile) Description() string { return p.file.text("desc") }

// Version is the major version of the profile's format, 2 or 4.
func (p *Profile) Version() int { return p.file.version() }

// SameProfile reports whether a and b are the same profile byte for byte; nil is the same as nil only.
func SameProfile(a, b *Profile) bool { return a.equal(b) }

func (p *Profile) equal(o *Profile) bool {
	if p == nil || o == nil {
		return p == o
	}
	return p == o || p.sum == o.sum
}

// tables names the tables of a direction in the order they are tried for an intent.
func tables(direction string, intent Intent) [3]string {
	order := [3]string{"0", "1", "2"}
	switch intent.Base() {
	case RelativeColorimetric, AbsoluteColorimetric:
		order = [3]string{"1", "0", "2"}
	case Saturation:
		order = [3]string{"2", "0", "1"}
	}
	for i := range order {
		order[i] = direction + order[i]
	}
	return order
}

// pcs is the pipeline from the device, nil when there is none.
func (p *Profile) pcs(intent Intent) *iccPipeline {
	d := &p.toPCS[intent.Base()]
	d.once.Do(func() {
		if d.p, d.err = p.table("A2B", intent, true); d.p == nil {
			d.p = p.matrixAndCurves()
		}
	})
	return d.p
}

// device is the pipeline to the device, nil when there is none.
func (p *Profile) device(intent Intent) *iccPipeline {
	if p.file == nil {
		return nil
	}
	d := &p.toDev[intent.Base()]
	d.once.Do(func() { d.p, d.err = p.table("B2A", intent, false) })
	return d.p
}

func (p *Profile) table(direction string, intent Intent, toPCS bool) (*iccPipeline, error) {
	var first error
	for _, name := range tables(direction, intent) {
		d, ok := p.file.tags[name]
		if !ok {
			continue
		}
		pipe, err := readICCTable(d, toPCS, p.n, p.lab)
		if err == nil {
			return pipe, nil
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

// matrixAndCurves are the models without tables (ICC.1, F.2 and F.3): gray by one curve, RGB by three
// curves and a matrix.
func (p *Profile) matrixAndCurves() *iccPipeline {
	switch {
	case p.n == 1:
		c, _, err := readICCCurve(p.file.tags["kTRC"])
		if err != nil {
			return nil
		}
		pipe := &iccPipeline{pcs: pcsXYZ, stages: []iccStage{{curves: []*iccCurve{c}}}}
		m := [12]float64{d50[0] / xyzUnit, 0, 0, 1 / xyzUnit, 0, 0, d50[2] / xyzUnit}
		if p.lab { // the curve is L*
			pipe.pcs = pcsLab
			m = [12]float64{1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 128.0 / 255, 128.0 / 255}
		}
		pipe.stages = append(pipe.stages, iccStage{matrix: &m})
		return pipe
	case p.n == 3 && !p.lab:
		var curves []*iccCurve
		var m [12]float64
		for i, colour := range [3]string{"r", "g", "b"} {
			c, _, err := readICCCurve(p.file.tags[colour+"TRC"])
			xyz, ok := p.file.xyz(colour + "XYZ")
			if err != nil || !ok {
				return nil
			}
			curves = append(curves, c)
			for k, v := range xyz {
				m[3*k+i] = v / xyzUnit
			}
		}
		return &iccPipeline{pcs: pcsXYZ, stages: []iccStage{{curves: curves}, {matrix: &m}}}
	}
	return nil
}

// usesTables reports whether the device's colours are told by tables and not by matrix and curves.
func (p *Profile) usesTables() bool {
	pipe := p.pcs(RelativeColorimetric)
	return pipe != nil && len(pipe.stages) != 2
}

// looksLikeSRGB compares a matrix profile with sRGB at a few colours, so that any profile of it is found
// whatever its name.
func (p *Profile) looksLikeSRGB() bool {
	if p.n != 3 || p.usesTables() {
		return false
	}
	for _, rgb := range [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {.5, .5, .5}, {.2, .2, .2}, {.05, .05, .05}, {.8, .8, .8}, {.02, .02, .02}} {
		want := xyzFromLinear.mul([3]float64{linearSRGB(rgb[0]), linearSRGB(rgb[1]), linearSRGB(rgb[2])})
		for i, v := range p.XYZ(rgb[:], RelativeColorimetric) {
			if math.Abs(v-want[i]) > .002 {
				return false
			}
		}
	}
	return true
}

// CanPrint reports whether the profile also converts from the connection space to the device, as a
// destination must.
func (p *Profile) CanPrint() bool { return p.device(RelativeColorimetric) != nil }

// MediaWhite is the white of the medium: X, Y, Z relative to the perfect diffuser under D50.
func (p *Profile) MediaWhite() [3]float64 { return p.white }

// readMediaWhite reads the tag wtpt. Display profiles of version 2 wrote the white of the screen there,
// to which an eye is adapted: it counts as D50 (ICC.1, 9.2.34 tells so of version 4).
func (p *Profile) readMediaWhite() [3]float64 {
	if p.file.version() < 4 && p.file.class() == "mntr" {
		return d50
	}
	w, ok := p.file.xyz("wtpt")
	for _, v := range w {
		if !(v > .05 && v < 2) {
			ok = false
		}
	}
	if !ok {
		return d50
	}
	return w
}

// XYZ converts device values 0..1 to the connection space: X, Y, Z relative to D50, the medium's own
// white = D50. The intent chooses the table; absolute is as relative.
func (p *Profile) XYZ(comps []float64, intent Intent) [3]float64 {
	v, lab := p.connect(comps, intent)
	if lab {
		return xyzFromLab(v, d50)
	}
	return v
}

// AbsoluteLab converts device values 0..1 to CIELAB relative to the perfect diffuser under D50 (ICC.1, 6.3.2.2: relative
// colorimetric, times the white of the medium): what an instrument reads on the print.
func (p *Profile) AbsoluteLab(comps []float64) [3]float64 {
	xyz := p.XYZ(comps, RelativeColorimetric)
	for i := range xyz {
		xyz[i] *= p.white[i] / d50[i]
	}
	return labFromXYZ(xyz, d50)
}

// connect is XYZ in the connection space's own numbers; lab tells which.
func (p *Profile) connect(comps []float64, intent Intent) (c [3]float64, lab bool) {
	pipe := p.pcs(intent)
	if pipe == nil {
		return d50, false
	}
	var v [4]float64
	copy(v[:p.n], comps)
	pipe.run(&v)
	for i := range v {
		v[i] = sane(v[i])
	}
	return pipe.pcs.decode(&v), pipe.pcs != pcsXYZ
}

// Device converts X, Y, Z relative to D50 and the medium's white to device values 0..1, without black
// point compensation.
func (p *Profile) Device(xyz [3]float64, intent Intent) (comps [4]float64) {
	pipe := p.device(intent)
	if pipe == nil {
		return comps
	}
	if pipe.pcs != pcsXYZ {
		xyz = labFromXYZ(xyz, d50)
	}
	return p.disconnect(pipe, xyz)
}

// sane bounds an encoded number of the connection space: 0..1 in a sound profile, a little more in
// formulas, anything in a hostile one.
func sane(v float64) float64 { return clamp(finite(v), -16, 16) }

// disconnect is Device with numbers of the connection space.
func (p *Profile) disconnect(pipe *iccPipeline, c [3]float64) (comps [4]float64) {
	pipe.print(&comps, c)
	clear(comps[p.n:])
	return comps
}

// isLabProfile reports whether data begins as a profile of Lab values does, which is no device space.
func isLabProfile(data []byte) bool {
	return len(data) >= 20 && bytes.Equal(data[16:20], []byte("Lab "))
}
