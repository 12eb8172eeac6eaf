package colour

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

func TestSpacesAreReadAsWritten(t *testing.T) {
	tests := []struct {
		text, want string
		comps      int
		initial    []float64
	}{
		{"/DeviceGray", "DeviceGray", 1, []float64{0}},
		{"[/DeviceCMYK]", "DeviceCMYK", 4, []float64{0, 0, 0, 1}},
		{"[/CalGray << /WhitePoint [.95 1 1.09] /Gamma 2.2 >>]", "CalGray", 1, []float64{0}},
		{"[/CalRGB << /WhitePoint [.95 1 1.09] >>]", "CalRGB", 3, []float64{0, 0, 0}},
		{"[/Lab << /WhitePoint [.95 1 1.09] /Range [-128 127 5 127] >>]", "Lab", 3, []float64{0, 0, 5}},
		{"[/Indexed /DeviceRGB 1 <000000FFFFFF>]", "Indexed DeviceRGB", 1, []float64{0}},
		{"[/Separation /Dull#20Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 .2 .8 .1] >>]", "Separation Dull Gold", 1, []float64{1}},
		{"[/DeviceN [/Cyan /White /None] /DeviceGray 4 0 R]", "DeviceN Cyan,White,None", 3, []float64{1, 1, 1}},
		{"[/Indexed [/Separation /White /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>] 1 <00FF>]", "Indexed Separation White", 1, []float64{0}},
		{"/Pattern", "Pattern", 0, nil},
		{"[/Pattern /DeviceCMYK]", "Pattern DeviceCMYK", 4, []float64{0, 0, 0, 1}},
	}
	three := object{"/FunctionType 4 /Domain [0 1 0 1 0 1] /Range [0 1]", []byte("{add add 1 exch sub}")}
	for _, tt := range tests {
		s := mustSpace(t, object{text: tt.text}, three)
		if s.String() != tt.want || s.Components() != tt.comps || !near(s.Initial(), tt.initial, 0) {
			t.Errorf("%s: %v, %d components, initial %v", tt.text, s, s.Components(), s.Initial())
		}
	}
}

func TestSpacesThatCannotBeAreRefused(t *testing.T) {
	for _, text := range []string{"7", "null", "[]", "[/Nonsense 1]", "/Missing", "[/Indexed /DeviceRGB 1]", "[/Indexed /Pattern 1 <00>]",
		"[/Indexed [/Indexed /DeviceRGB 0 <000000>] 0 <00>]", "[/Indexed /DeviceRGB -1 <00>]", "[/Separation]", "[/Separation 7 /DeviceGray 8]",
		"[/DeviceN [] /DeviceGray 7]", "[/ICCBased 7]", "[/Pattern [/Pattern /DeviceRGB]]", "[/Pattern 3 0 R]", "[/Indexed 3 0 R 1 <00>]", "3 0 R",
		"[/DeviceN [" + strings.Repeat("/X ", 70) + "] /DeviceGray 7]"} {
		if s, err := newFixture(t, object{text: text}).Space(pdf.Ref{Num: 3}, nil); err == nil {
			t.Errorf("%s gave %v", text, s)
		}
	}
}

func TestSelfReferenceInAnAlternateIsReported(t *testing.T) {
	fx := newFixture(t, object{text: "[/Separation /White 3 0 R << /FunctionType 2 /Domain [0 1] /N 1 >>]"})
	s, err := fx.Space(pdf.Ref{Num: 3}, nil)
	if err != nil || s.String() != "Separation White" || !fx.has("alternate-space-damaged") {
		t.Fatalf("%v, %v, %v", s, err, fx.sink.Sorted())
	}
}

func TestSpotWithoutTintTransformStaysASpot(t *testing.T) {
	for _, text := range []string{"[/Separation /White /DeviceCMYK]", "[/Separation /White /DeviceCMYK 9 0 R]", "[/Separation /White /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 >>]",
		"[/Separation /White]", "[/Separation /White [/Indexed /DeviceRGB 0 <000000>] 9 0 R]"} {
		fx := newFixture(t, object{text: text})
		s, err := fx.Space(pdf.Ref{Num: 3}, nil)
		if err != nil || s.String() != "Separation White" {
			t.Fatalf("%s: %v %v", text, s, err)
		}
		if !fx.has("tint-transform-damaged") && !fx.has("alternate-space-damaged") {
			t.Errorf("%s: no finding", text)
		}
		if got := NewConverter(nil).CMYK(s, []float64{.5}, 0); !near(got[:], []float64{0, 0, 0, .5}, 0) {
			t.Errorf("%s: stand-in %v", text, got)
		}
	}
}

func TestDefaultSpacesReplaceDeviceSpacesOnce(t *testing.T) {
	fx := newFixture(t,
		object{text: "[/CalRGB << /WhitePoint [.95 1 1.09] >>]"},
		object{text: "[/Separation /White /DeviceRGB << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1 1 1] /C1 [.5 .5 .5] >>]"},
		object{text: "[/Indexed /DeviceRGB 0 <102030>]"},
		object{text: "/DeviceRGB"},
		object{text: "[/Indexed /DeviceRGB 0 <102030>]"},
	)
	names := func(def string) pdf.Dict {
		return pdf.Dict{"ColorSpace": pdf.Dict{"DefaultRGB": pdf.Ref{Num: map[string]int{"cal": 3, "itself": 6, "indexed": 7}[def]}}}
	}
	read := func(o pdf.Object, def string) Space {
		t.Helper()
		s, err := fx.Space(o, names(def))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if s := read(pdf.Name("DeviceRGB"), "cal"); s.Family() != FamilyCalRGB {
		t.Errorf("device space became %v", s)
	}
	if s := read(pdf.Name("DeviceGray"), "cal"); s != Space(Gray) {
		t.Errorf("gray became %v", s)
	}
	if s := read(pdf.Ref{Num: 4}, "cal").(*Separation).Alternate; s.Family() != FamilyCalRGB {
		t.Errorf("alternate became %v", s)
	}
	if s := read(pdf.Ref{Num: 5}, "cal").(*Indexed).Base; s.Family() != FamilyCalRGB {
		t.Errorf("base became %v", s)
	}
	if s := read(pdf.Name("DeviceRGB"), "itself"); s != Space(RGB) {
		t.Errorf("a default of itself became %v", s)
	}
	if s := read(pdf.Name("DeviceRGB"), "indexed"); s != Space(RGB) || !fx.has("default-colour-space-unusable") {
		t.Errorf("an indexed default became %v", s)
	}
	if s, err := fx.Space(pdf.Ref{Num: 5}, nil); err != nil || s.(*Indexed).Base != Space(RGB) {
		t.Errorf("without defaults the base is %v", s)
	}
}

// The resource names G, RGB and CMYK are names like any other outside inline images.
func TestResourceNamedLikeAnAbbreviationIsTheResource(t *testing.T) {
	fx := newFixture(t, object{text: "[/Separation /White /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>]"})
	res := pdf.Dict{"ColorSpace": pdf.Dict{"RGB": pdf.Ref{Num: 3}}}
	if s, err := fx.Space(pdf.Name("RGB"), res); err != nil || s.Family() != FamilySeparation {
		t.Errorf("%v %v", s, err)
	}
	if s, err := fx.Space(pdf.Name("CMYK"), res); err != nil || s != Space(CMYK) {
		t.Errorf("%v %v", s, err)
	}
}

func TestSpacesAreCached(t *testing.T) {
	fx := newFixture(t, object{text: "[/Separation /White /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>]"})
	direct, _ := fx.doc.Array(pdf.Ref{Num: 3})
	res := pdf.Dict{"ColorSpace": pdf.Dict{"A": pdf.Ref{Num: 3}, "B": direct}}
	for _, o := range []pdf.Object{pdf.Name("A"), pdf.Name("B")} {
		a, _ := fx.Space(o, res)
		b, _ := fx.Space(o, res)
		if a == nil || a != b {
			t.Errorf("%v was read twice", o)
		}
	}
}

func TestProfileThatDoesNotFitIsReplacedAndReported(t *testing.T) {
	rgb, err := os.ReadFile("/usr/share/color/icc/ghostscript/srgb.icc")
	if err != nil {
		t.Skip(err)
	}
	tests := []struct {
		dict    string
		data    []byte
		want    string
		finding finding.ID
	}{
		{"/N 3", rgb, "", ""},
		{"/N 4", rgb, "DeviceCMYK", "colour-profile-unusable"},
		{"/N 3 /Alternate [/CalRGB << /WhitePoint [.9 1 .9] >>]", []byte("damaged"), "CalRGB", "colour-profile-unusable"},
		{"/N 3 /Alternate /DeviceCMYK", []byte("damaged"), "DeviceRGB", "colour-profile-unusable"},
		{"/N 3", labProfile(rgb), "Lab", ""},
	}
	for _, tt := range tests {
		fx := newFixture(t, object{text: "[/ICCBased 4 0 R]"}, object{tt.dict, tt.data})
		s, err := fx.Space(pdf.Ref{Num: 3}, nil)
		if err != nil {
			t.Fatal(err)
		}
		icc := s.(*ICCBased)
		if (icc.Profile != nil) != (tt.want == "") || tt.want != "" && icc.Alternate.String() != tt.want {
			t.Errorf("%s: profile %v, alternate %v", tt.dict, icc.Profile != nil, icc.Alternate)
		}
		if got := len(fx.sink.Sorted()) > 0; got != (tt.finding != "") || got && !fx.has(tt.finding) {
			t.Errorf("%s: findings %v", tt.dict, fx.sink.Sorted())
		}
	}
	fx := newFixture(t, object{text: "[/ICCBased 4 0 R]"}, object{"/N 2", rgb})
	if _, err := fx.Space(pdf.Ref{Num: 3}, nil); err == nil {
		t.Error("two components were accepted")
	}
}

func labProfile(rgb []byte) []byte {
	p := append([]byte(nil), rgb...)
	copy(p[16:], "Lab ")
	return p
}

func TestNChannelAttributesAreRead(t *testing.T) {
	s := mustSpace(t, object{text: `[/DeviceN [/Cyan /Black /Silver] /DeviceCMYK 4 0 R << /Subtype /NChannel
		/Colorants << /Silver [/Separation /Silver /DeviceGray << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [.4] >>] >>
		/Process << /ColorSpace /DeviceCMYK /Components [/Cyan /Magenta /Yellow /Black] >>
		/MixingHints << /Solidities << /Silver .9 /Default .1 >> /PrintingOrder [/Silver /Cyan /Black]
			/DotGain << /Silver << /FunctionType 2 /Domain [0 1] /N .8 >> >> >> >>]`},
		object{"/FunctionType 4 /Domain [0 1 0 1 0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{pop 0 exch 0 exch}")}).(*DeviceN)
	if !s.NChannel || s.Process != Space(CMYK) || len(s.ProcessComponents) != 4 || s.Colorants["Silver"] == nil {
		t.Errorf("%+v", s)
	}
	h := s.Hints
	if h == nil || h.Solidities["Silver"] != .9 || h.Solidities["Default"] != .1 || fmt.Sprint(h.PrintingOrder) != "[Silver Cyan Black]" || h.DotGain["Silver"] == nil {
		t.Errorf("hints %+v", h)
	}
}

func TestEqualComparesDefinitions(t *testing.T) {
	spot := func(name string, alternate, tail string) Space {
		return mustSpace(t, object{text: fmt.Sprintf("[/Separation /%s %s << /FunctionType 2 /Domain [0 1] /N 1 %s >>]", name, alternate, tail)})
	}
	a := spot("White", "/DeviceGray", "/C0 [1] /C1 [.5]")
	if b := spot("White", "/DeviceGray", "/C0 [1] /C1 [.5]"); a == b || !Equal(a, b) {
		t.Error("the same definition twice is not equal")
	}
	for _, b := range []Space{spot("white", "/DeviceGray", "/C0 [1] /C1 [.5]"), spot("White", "/DeviceGray", "/C0 [1] /C1 [.4]"),
		spot("White", "[/CalGray << /WhitePoint [1 1 1] >>]", "/C0 [1] /C1 [.5]"), spot("White", "/DeviceGray", "/C0 [1] /C1 [.5] /Range [0 1]"), Gray, nil} {
		if Equal(a, b) || b != nil && Equal(b, a) {
			t.Errorf("%v equals %v", a, b)
		}
	}
	if !Equal(Gray, &DeviceGray{}) || Equal(Gray, RGB) || !Equal(nil, nil) {
		t.Error("device spaces")
	}
}

func TestIndexedTables(t *testing.T) {
	lab := mustSpace(t, object{text: "[/Indexed [/Lab << /WhitePoint [.95 1 1.09] /Range [-100 100 0 50] >>] 1 4 0 R]"}, object{"", []byte("\x00\x00\x00\xff\x80\xff")}).(*Indexed)
	out := make([]float64, 3)
	lab.Lookup(out, 1)
	if !near(out, []float64{100, -100 + 200*128.0/255, 50}, 1e-12) {
		t.Errorf("Lab entry %v", out)
	}
	lab.Lookup(out, 77)
	if out[0] != 100 {
		t.Errorf("an index beyond the table gives %v", out)
	}
	fx := newFixture(t, object{text: "[/Indexed /DeviceRGB 3 <FFFFFF>]"})
	s, err := fx.Space(pdf.Ref{Num: 3}, nil)
	if err != nil || !fx.has("colour-table-damaged") {
		t.Fatal(err, fx.sink.Sorted())
	}
	s.(*Indexed).Lookup(out, 3)
	if !near(out, []float64{0, 0, 0}, 0) {
		t.Errorf("a missing entry is %v", out)
	}
}

func TestErrorsTellTheirClass(t *testing.T) {
	if classOf(fmt.Errorf("x: %w", errOverLimit)) != finding.OverLimit || classOf(errors.New("x")) != finding.Malformed || classOf(errUnsupported) != finding.Unsupported {
		t.Error("classes")
	}
}
