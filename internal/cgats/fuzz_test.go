package cgats

import (
	"bytes"
	"math"
	"reflect"
	"testing"
)

// What parses can be written and reads back the same; sets have numbers within their bounds.
func FuzzTablesComeBackTheSame(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte(small + small))
	f.Add([]byte(table("T X", "CMYK_C XYZ_X XYZ_Y XYZ_Z SPECTRAL_NM SPECTRAL_PCT SPECTRAL_NM SPECTRAL_PCT", "0 80 84 70 400 80 500 90", "100 10 12 40 400 10 500 20")))
	f.Add([]byte(table(`MEASUREMENT_SOURCE "Illumination=D65 WhiteBase=Paper"`, "GOLD nm400 nm380", "0 1 2", "1 .1 .2")))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Parse(data)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := file.Write(&b); err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, err := Parse(b.Bytes())
		if err != nil {
			t.Fatalf("what was written cannot be read: %v\n%q", err, b.String())
		}
		for i := range file.Tables {
			s, err := file.Tables[i].Set()
			r, errAgain := again.Tables[i].Set()
			if (err == nil) != (errAgain == nil) {
				t.Fatalf("set: %v, again %v", err, errAgain)
			}
			if err == nil {
				bounds(t, s)
				if len(r.Patches) != len(s.Patches) || !reflect.DeepEqual(r.Colourants, s.Colourants) {
					t.Fatalf("%s, again %s", s.Describe(), r.Describe())
				}
			}
		}
		dropLines(file)
		dropLines(again)
		if !reflect.DeepEqual(file, again) {
			t.Fatalf("%+v\nagain %+v", file, again)
		}
	})
}

func bounds(t *testing.T, s *Set) {
	for _, p := range s.Patches {
		if len(p.Tints) != len(s.Colourants) || len(p.Spectrum) != len(s.Wavelengths) {
			t.Fatalf("%d tints of %d, %d reflectances of %d", len(p.Tints), len(s.Colourants), len(p.Spectrum), len(s.Wavelengths))
		}
		for _, v := range p.Tints {
			if !(v >= 0 && v <= 1) {
				t.Fatalf("tint %v", v)
			}
		}
		for _, v := range p.Lab {
			if !(math.Abs(v) < 1e9) {
				t.Fatalf("Lab %v", p.Lab)
			}
		}
	}
	for i := 1; i < len(s.Wavelengths); i++ {
		if !(s.Wavelengths[i-1] < s.Wavelengths[i]) {
			t.Fatalf("wavelengths %v", s.Wavelengths)
		}
	}
}
