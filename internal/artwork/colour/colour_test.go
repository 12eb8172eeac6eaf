package colour

import (
	"bytes"
	"math"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// fixture is a file with given objects, numbered from 3 in order, and a reader on it.
type fixture struct {
	*Reader
	sink finding.Collector
	doc  *pdf.Document
}

// object is the syntax of an object, or a stream when data is not nil.
type object struct {
	text string
	data []byte
}

func newFixture(t testing.TB, objects ...object) *fixture {
	t.Helper()
	b := pdfbuild.New()
	for _, o := range objects {
		if o.data != nil {
			b.Stream(o.text, string(o.data))
		} else {
			b.Add(o.text)
		}
	}
	b.Page(10, 10, "", "")
	data := b.Bytes()
	fx := &fixture{}
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &fx.sink})
	if err != nil {
		t.Fatal(err)
	}
	fx.doc, fx.Reader = doc, NewReader(doc, &fx.sink)
	return fx
}

func (fx *fixture) has(id finding.ID) bool {
	for _, f := range fx.sink.Sorted() {
		if f.ID == id {
			return true
		}
	}
	return false
}

func mustSpace(t testing.TB, objects ...object) Space {
	t.Helper()
	fx := newFixture(t, objects...)
	s, err := fx.Space(pdf.Ref{Num: 3}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if fs := fx.sink.Sorted(); len(fs) > 0 {
		t.Fatalf("findings: %v", fs)
	}
	return s
}

func near(a, b []float64, eps float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !(math.Abs(a[i]-b[i]) <= eps) {
			return false
		}
	}
	return true
}

func TestNaiveConversionToCMYK(t *testing.T) {
	spot := mustSpace(t, object{text: pdfbuild.Spot("White", .2, 0, 0, 0)})
	lab := mustSpace(t, object{text: "[/Lab << /WhitePoint [0.9642 1 0.8249] >>]"})
	indexed := mustSpace(t, object{text: "[/Indexed /DeviceRGB 1 <FF0000 00FF00>]"})
	tests := []struct {
		name  string
		space Space
		comps []float64
		want  []float64
	}{
		{"gray goes to black alone", Gray, []float64{.25}, []float64{0, 0, 0, .75}},
		{"RGB by complement with full black", RGB, []float64{.2, .5, .6}, []float64{.4, .1, 0, .4}},
		{"CMYK stays", CMYK, []float64{.1, .2, .3, .4}, []float64{.1, .2, .3, .4}},
		{"values beyond the range are clipped", CMYK, []float64{-1, 2, math.NaN(), .4}, []float64{0, 1, 0, .4}},
		{"missing components are zero", CMYK, []float64{.5}, []float64{.5, 0, 0, 0}},
		{"spot through its stand-in", spot, []float64{.5}, []float64{.1, 0, 0, 0}},
		{"Lab white", lab, []float64{100, 0, 0}, []float64{0, 0, 0, 0}},
		{"Lab black", lab, []float64{0, 0, 0}, []float64{0, 0, 0, 1}},
		{"index looked up", indexed, []float64{1}, []float64{1, 0, 1, 0}},
		{"pattern by what lies under it", &Pattern{Under: Gray}, []float64{0}, []float64{0, 0, 0, 1}},
	}
	c := NewConverter(nil)
	for _, tt := range tests {
		got := c.CMYK(tt.space, tt.comps, RelativeColorimetric)
		if !near(got[:], tt.want, 2e-3) {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestLuminosityOfCMYKIsPublishedValue(t *testing.T) {
	if got := NewConverter(nil).Luminosity(CMYK, []float64{.2, .5, 0, .1}); math.Abs(got-.5805) > 1e-12 {
		t.Errorf("got %v, want 0.5805", got)
	}
}
