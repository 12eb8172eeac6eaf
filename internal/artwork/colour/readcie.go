package colour

import (
	"errors"
	"fmt"

	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// cieSpace reads CalGray, CalRGB and Lab (8.6.5.2 to 8.6.5.4). Entries that cannot be used take
// their defaults, a missing white D50.
func (r *Reader) cieSpace(sc *spaceScope, family pdf.Name, o pdf.Object) Space {
	d, _ := r.doc.Dict(o)
	white, ok := r.triple(d["WhitePoint"])
	if !ok || white[0] <= 0 || white[1] <= 0 || white[2] <= 0 {
		r.damaged(sc, "colour-space-damaged", fmt.Sprintf("A %s colour space has no usable white point.", family),
			"Its colours are read with the white of daylight D50.")
		white = d50
	}
	black, _ := r.triple(d["BlackPoint"])
	switch family {
	case "CalGray":
		s := &CalGray{White: white, BlackPoint: black, Gamma: 1}
		if g, ok := r.doc.Num(d["Gamma"]); ok && g > 0 {
			s.Gamma = g
		}
		return s
	case "CalRGB":
		s := &CalRGB{White: white, BlackPoint: black, Gamma: [3]float64{1, 1, 1}, Matrix: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}}
		if g, ok := r.triple(d["Gamma"]); ok && g[0] > 0 && g[1] > 0 && g[2] > 0 {
			s.Gamma = g
		}
		if m, ok := r.doc.Nums(d["Matrix"]); ok && len(m) == 9 {
			copy(s.Matrix[:], m)
		}
		return s
	}
	s := &Lab{White: white, BlackPoint: black, Limits: [4]float64{-100, 100, -100, 100}}
	if v, ok := r.doc.Nums(d["Range"]); ok && len(v) == 4 && v[0] <= v[1] && v[2] <= v[3] {
		copy(s.Limits[:], v)
	}
	return s
}

func (r *Reader) triple(o pdf.Object) (v [3]float64, ok bool) {
	if o == nil {
		return v, false
	}
	n, ok := r.doc.Nums(o)
	if !ok || len(n) != 3 {
		return v, false
	}
	copy(v[:], n)
	return v, true
}

// iccSpace reads an ICCBased space (8.6.5.5).
func (r *Reader) iccSpace(sc *spaceScope, ref pdf.Ref, st *pdf.Stream) (Space, error) {
	profile, lab, profileErr := r.profile(ref, st)
	n, ok := r.doc.Int(st.Dict["N"])
	if !ok && profile != nil {
		n = profile.n
	}
	device, ok := map[int]Space{1: Gray, 3: RGB, 4: CMYK}[n]
	if !ok {
		return nil, fmt.Errorf("an ICC profile with %d components cannot be a colour space of artwork", n)
	}
	if profile != nil && profile.n != n {
		profileErr = fmt.Errorf("it is for %d components, the file says %d", profile.n, n)
		profile = nil
	}
	s := &ICCBased{N: n, Profile: profile, SRGB: profile != nil && profile.srgb}
	if lab && n == 3 {
		s.Alternate = &Lab{White: d50, Limits: [4]float64{-128, 127, -128, 127}}
		s.Limits = []float64{0, 100, -128, 127, -128, 127}
		profileErr = nil
	} else {
		for range n {
			s.Limits = append(s.Limits, 0, 1)
		}
	}
	if v, ok := r.doc.Nums(st.Dict["Range"]); ok && len(v) == 2*n && ascending(v) {
		s.Limits = v
	}
	if s.Alternate == nil {
		s.Alternate = device
		if o := st.Dict["Alternate"]; o != nil {
			inner := *sc
			inner.inDefault = true // the alternate stands for the profile, which no default space replaces
			if a, err := r.space(&inner, o); err == nil && a.Components() == n && usableAlternate(a) {
				s.Alternate = a
			}
		}
	}
	if profileErr != nil {
		inner := *sc
		if ref.Num != 0 {
			inner.object = ref.Num
		}
		r.unusable(&inner, "colour-profile-unusable", profileErr, fmt.Sprintf("A colour profile of %d components cannot be used: %v.", n, profileErr),
			fmt.Sprintf("Its colours are taken as %s, so they may print in other hues than the design program shows.", s.Alternate))
	}
	return s, nil
}

func ascending(pairs []float64) bool {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i] > pairs[i+1] {
			return false
		}
	}
	return true
}

// usableAlternate is the rule of 1.1.5 of the imaging rules: device and CIE-based spaces only.
func usableAlternate(s Space) bool {
	switch s.Family() {
	case FamilyPattern, FamilyIndexed, FamilySeparation, FamilyDeviceN:
		return false
	}
	return true
}

// maxProfiles remembered of one file; long collections of pages have some dozens.
const maxProfiles = 256

// profile parses the profile of a stream once; lab tells a profile of Lab values.
func (r *Reader) profile(ref pdf.Ref, st *pdf.Stream) (p *Profile, lab bool, err error) {
	if got, ok := r.profiles[ref]; ok && ref != (pdf.Ref{}) && got != nil {
		return got, false, nil
	}
	data, err := r.doc.Data(st)
	if err != nil && len(data) == 0 {
		return nil, false, err
	}
	if len(data) > limits.MaxProfileBytes {
		return nil, false, fmt.Errorf("it is larger than %d MB: %w", limits.MaxProfileBytes>>20, errOverLimit)
	}
	if isLabProfile(data) {
		return nil, true, nil
	}
	p, err = ParseProfile(data)
	if err != nil {
		return nil, false, err
	}
	if ref != (pdf.Ref{}) {
		if len(r.profiles) >= maxProfiles {
			clear(r.profiles)
		}
		r.profiles[ref] = p
	}
	return p, false, nil
}

// indexedSpace reads [/Indexed base hival lookup] (8.6.6.3).
func (r *Reader) indexedSpace(sc *spaceScope, a pdf.Array) (Space, error) {
	if len(a) < 4 {
		return nil, errors.New("the Indexed colour space is cut short")
	}
	base, err := r.space(sc, a[1])
	if err != nil {
		return nil, fmt.Errorf("the base of an Indexed colour space: %w", err)
	}
	if f := base.Family(); f == FamilyIndexed || f == FamilyPattern {
		return nil, fmt.Errorf("an Indexed colour space cannot be based on %s", base)
	}
	high, ok := r.doc.Num(a[2])
	if !ok || high < 0 {
		return nil, errors.New("the Indexed colour space has no highest index")
	}
	s := &Indexed{Base: base, HiVal: int(min(high, 255))}
	var table []byte
	switch o := r.doc.Resolve(a[3]).(type) {
	case pdf.String:
		table = []byte(o)
	case *pdf.Stream:
		if table, err = r.doc.Data(o); err != nil && len(table) == 0 {
			r.damaged(sc, "colour-table-damaged", fmt.Sprintf("The colour table of an Indexed colour space cannot be read: %v.", err),
				"What uses it prints in a single colour.")
		}
	}
	need := (s.HiVal + 1) * base.Components()
	s.Table = make([]byte, need)
	if copy(s.Table, table) < need && len(table) > 0 {
		r.damaged(sc, "colour-table-damaged", fmt.Sprintf("The colour table of an Indexed colour space has %d bytes instead of %d.", len(table), need),
			"Missing colours are taken as zero.")
	}
	return s, nil
}
