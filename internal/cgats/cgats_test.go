package cgats

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"laydown/internal/limits"
)

const small = `CGATS.17
ORIGINATOR "Our ""own"" lab"   # a comment
CREATED	2 March 2026
KEYWORD "STATION"
STATION ""
NUMBER_OF_FIELDS 5
BEGIN_DATA_FORMAT
SAMPLE_ID CMYK_K
"Deep Red" LAB_L LAB_A
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
"A #1" 0 50 1.5 -2,5

B#2 100
  0 3 4 # the rest of the row
END_DATA
`

func parse(t *testing.T, text string) *File {
	t.Helper()
	f, err := Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestTableIsReadAsWritten(t *testing.T) {
	f := parse(t, small)
	if len(f.Tables) != 1 {
		t.Fatalf("%d tables", len(f.Tables))
	}
	got := f.Tables[0]
	want := Table{
		Identifier: "CGATS.17",
		Keywords:   []Keyword{{"ORIGINATOR", `Our "own" lab`, 2}, {"CREATED", "2 March 2026", 3}, {"KEYWORD", "STATION", 4}, {"STATION", "", 5}},
		Fields:     []string{"SAMPLE_ID", "CMYK_K", "Deep Red", "LAB_L", "LAB_A"},
		Rows:       []Row{{[]string{"A #1", "0", "50", "1.5", "-2,5"}, 13}, {[]string{"B#2", "100", "0", "3", "4"}, 15}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if v, err := got.Number(0, 4); v != -2.5 || err != nil {
		t.Errorf("a decimal comma gives %v, %v", v, err)
	}
	if v, ok := got.Keyword("originator"); !ok || v != `Our "own" lab` {
		t.Errorf("the keyword is %q, %v", v, ok)
	}
	if i, ok := got.Field("deep red"); !ok || i != 2 {
		t.Errorf("the field is %d, %v", i, ok)
	}
}

func TestLineEndsAndCharacterSetsDoNotMatter(t *testing.T) {
	text := strings.Replace(small, "lab", "läb “x”", 1)
	want := parse(t, text)
	utf16 := func(order func(b []byte, v uint16) []byte, mark uint16) []byte {
		b := order(nil, mark)
		for _, r := range text {
			b = order(b, uint16(r))
		}
		return b
	}
	for name, data := range map[string][]byte{
		"CRLF":         []byte(strings.ReplaceAll(text, "\n", "\r\n")),
		"CR":           []byte(strings.ReplaceAll(text, "\n", "\r")),
		"mark":         []byte("\ufeff" + text),
		"windows-1252": []byte(strings.NewReplacer("ä", "\xe4", "“", "\x93", "”", "\x94").Replace(text)),
		"little":       utf16(func(b []byte, v uint16) []byte { return append(b, byte(v), byte(v>>8)) }, 0xfeff),
		"big":          utf16(func(b []byte, v uint16) []byte { return append(b, byte(v>>8), byte(v)) }, 0xfeff),
	} {
		if got, err := Parse(data); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
}

func TestTablesFollowEachOther(t *testing.T) {
	f := parse(t, small+"\n"+strings.Replace(small, "CGATS.17", "CTI3", 1)+"# the end\nNOTE after\n")
	if len(f.Tables) != 2 || f.Tables[1].Identifier != "CTI3" || len(f.Tables[1].Rows) != 2 {
		t.Errorf("%+v", f)
	}
}

func TestFaultsNameTheLine(t *testing.T) {
	edit := func(old, new string) string {
		if !strings.Contains(small, old) {
			t.Fatalf("no %q in the table", old)
		}
		return strings.Replace(small, old, new, 1)
	}
	for _, c := range []struct {
		text, want string
	}{
		{"", "no table"},
		{"hello world", "no table"},
		{"a\nb\x00", "line 2: this is no text"},
		{edit(`lab"`, "lab"), `line 2: a quotation mark is not closed`},
		{edit("FIELDS 5", "FIELDS 6"), "line 7: there are 5 fields, NUMBER_OF_FIELDS says 6"},
		{edit("SETS 2", "SETS 3"), "line 12: there are 2 rows, NUMBER_OF_SETS says 3"},
		{edit("SETS 2", "SETS many"), `line 11: NUMBER_OF_SETS is "many"`},
		{edit("SETS 2", "SETS 2 3"), "line 11: NUMBER_OF_SETS wants one number"},
		{edit("100\n", "\n"), "line 15: the row has 4 values, the table has 5 fields"},
		{edit("1.5 -2,5", "1.5"), "line 15: the row has more than the 5 values"},
		{edit("0 3 4", "0 3 4 5"), "line 16: the row has more than the 5 values"},
		{edit("END_DATA\n", ""), "line 12: BEGIN_DATA has no END_DATA"},
		{edit("END_DATA_FORMAT\n", ""), "line 11: END_DATA_FORMAT is missing before BEGIN_DATA"},
		{"BEGIN_DATA_FORMAT\nA", "line 1: BEGIN_DATA_FORMAT has no END_DATA_FORMAT"},
		{"BEGIN_DATA_FORMAT A END_DATA_FORMAT\n", "line 1: the table that has its fields here has no BEGIN_DATA"},
		{"BEGIN_DATA_FORMAT END_DATA_FORMAT\n", "line 1: the table has no fields"},
		{"X Y\nBEGIN_DATA", "line 2: the data have no fields"},
		{"X Y\nEND_DATA", "line 2: END_DATA ends what was not begun"},
		{"X Y\n\"Z\" 1", `line 2: "Z" stands where a keyword should`},
		{edit("END_DATA\n", "END_DATA 7\n"), `line 17: "7" follows END_DATA`},
		{"A " + strings.Repeat("b ", limits.MaxTableFields), "line 1: the line has more than 1024 values"},
	} {
		_, err := Parse([]byte(c.text))
		var e *Error
		if err == nil || !strings.Contains(err.Error(), c.want) || !errors.As(err, &e) {
			t.Errorf("%.60q: %v, want %q", c.text, err, c.want)
		}
	}
}

func TestRowsOverTheLimitAreRefused(t *testing.T) {
	wide := strings.Repeat("F ", limits.MaxTableFields)
	rows := limits.MaxTableValues/limits.MaxTableFields + 1
	text := "BEGIN_DATA_FORMAT\n" + wide + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + strings.Repeat(strings.Repeat("1 ", limits.MaxTableFields)+"\n", rows) + "END_DATA\n"
	if _, err := Parse([]byte(text)); err == nil || !strings.Contains(err.Error(), "more than 4194304 values") {
		t.Errorf("%v", err)
	}
	if _, err := Read(strings.NewReader(strings.Repeat("A B\n", limits.MaxTableBytes/4+1))); err == nil || !strings.Contains(err.Error(), "more than 32 MB") {
		t.Errorf("%v", err)
	}
}

func setOf(t *testing.T, text string) *Set {
	t.Helper()
	s, err := parse(t, text).Tables[0].Set()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// table writes a table of these fields and rows.
func table(head, fields string, rows ...string) string {
	return head + "\nBEGIN_DATA_FORMAT\n" + fields + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + strings.Join(rows, "\n") + "\nEND_DATA\n"
}

func TestSetFindsTintsAndColours(t *testing.T) {
	s := setOf(t, table("T X", `SAMPLE_ID SAMPLE_NAME CMYK_C CMYK_M CMYK_Y CMYK_K "Deep Red" LAB_L LAB_A LAB_B D_RED PAGE_NO`,
		"7 one 0 0 0 0 0 95 0 -2 .1 900", "8 two 100 25 0 10 50 40 1 2 .2 901"))
	if want := []string{"Cyan", "Magenta", "Yellow", "Black", "Deep Red"}; !reflect.DeepEqual(s.Colourants, want) {
		t.Errorf("colourants %q", s.Colourants)
	}
	p := s.Patches[1]
	if p.ID != "8" || p.Line != 7 || p.Lab != [3]float64{40, 1, 2} || !reflect.DeepEqual(p.Tints, []float64{1, .25, 0, .1, .5}) {
		t.Errorf("%+v", p)
	}
	if s.PaperRelative || s.Illuminant != "D50" || !s.HasColour {
		t.Errorf("%+v", s)
	}
	if i, ok := s.Colourant("deep_red"); !ok || i != 4 {
		t.Errorf("deep_red is %d, %v", i, ok)
	}
}

// The same data on the scales in use give the same set.
func TestScalesAreToldApart(t *testing.T) {
	want := setOf(t, table("T X", "CMYK_C XYZ_X XYZ_Y XYZ_Z nm400 nm500", "0 80 84 70 .8 .9", "100 10 12 40 .1 .2"))
	if got := want.Patches[0].Lab; math.Abs(got[0]-93.4505) > .0005 {
		t.Errorf("Y 84 is L* %.4f, want 93.4505 by ISO/CIE 11664-4", got[0])
	}
	for name, text := range map[string]string{
		"factors":  table("T X", "CYAN XYZ_X XYZ_Y XYZ_Z SPEC_400 SPEC_500", "0 .8 .84 .7 .8 .9", "1 .1 .12 .4 .1 .2"),
		"percent":  table("T X", "C XYZ_X XYZ_Y XYZ_Z SPECTRAL_NM_400 SPECTRAL_NM_500", "0 80 84 70 80 90", "100 10 12 40 10 20"),
		"turned":   table("T X", "CMYK_C XYZ_X XYZ_Y XYZ_Z SPECTRAL_PCT_NM500 SPECTRAL_PCT_NM400", "0 80 84 70 90 80", "100 10 12 40 20 10"),
		"row wise": table("T X", "CMYK_C XYZ_X XYZ_Y XYZ_Z SPECTRAL_NM SPECTRAL_PCT SPECTRAL_NM SPECTRAL_PCT", "0 80 84 70 400 80 500 90", "100 10 12 40 400 10 500 20"),
	} {
		got := setOf(t, text)
		if !reflect.DeepEqual(got.Wavelengths, want.Wavelengths) || !reflect.DeepEqual(got.Colourants, want.Colourants) {
			t.Errorf("%s: %v %q", name, got.Wavelengths, got.Colourants)
		}
		for i := range want.Patches {
			p, q := got.Patches[i], want.Patches[i]
			for k := range q.Spectrum {
				if math.Abs(p.Spectrum[k]-q.Spectrum[k]) > 1e-12 {
					t.Errorf("%s, patch %d: spectrum %v, want %v", name, i, p.Spectrum, q.Spectrum)
				}
			}
			for k := range 3 {
				if math.Abs(p.Lab[k]-q.Lab[k]) > 1e-9 {
					t.Errorf("%s, patch %d: Lab %v, want %v", name, i, p.Lab, q.Lab)
				}
			}
			if p.Tints[0] != q.Tints[0] {
				t.Errorf("%s, patch %d: tint %v", name, i, p.Tints)
			}
		}
	}
}

func TestWhiteOfTheStockIsNoticed(t *testing.T) {
	for _, c := range []struct {
		text     string
		relative bool
		light    string
	}{
		{table(`MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Abs Filter=M1"`, "CMYK_K LAB_L LAB_A LAB_B", "0 95 0 -2", "100 16 0 0"), false, "D50"},
		{table(`MEASUREMENT_SOURCE "Illumination=D65 WhiteBase=Paper"`, "CMYK_K LAB_L LAB_A LAB_B", "0 95 0 -2", "100 16 0 0"), true, "D65"},
		{table(`ILLUMINANT A`, "CMYK_K LAB_L LAB_A LAB_B", "0 100 0 0", "100 16 0 0"), true, "A"},
	} {
		if s := setOf(t, c.text); s.PaperRelative != c.relative || s.Illuminant != c.light {
			t.Errorf("%.60q: relative %v, illuminant %s", c.text, s.PaperRelative, s.Illuminant)
		}
	}
}

func TestSetsThatMeanNothingAreRefused(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B", ""), "has no rows"},
		{table("T X", "LAB_L LAB_A LAB_B", "1 2 3"), "no fields of tints"},
		{table("T X", "CMYK_C LAB_L LAB_A", "1 2 3"), "no measurements"},
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B", "0 1 2 3", "x 1 2 3"), `line 7: CMYK_C is "x", which is no number`},
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B", "0 1 2 3", "101 1 2 3"), "line 7: the tint CMYK_C is 101"},
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B", "0 1 0x2 3"), `line 6: LAB_A is "0x2"`},
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B", "0 1 2 1e9"), "line 6: LAB_B is 1e+09"},
		{table("T X", "CMYK_C LAB_L LAB_A LAB_B lab_b", "0 1 2 3 4"), `field "lab_b" twice`},
		{table("T X", "CMYK_C nm400 NM_400", "0 1 2"), "wavelength 400 nm twice"},
		{table("T X", "CMYK_C CYAN nm400", "0 1 2"), `tints of "Cyan" twice`},
		{table("T X", "CMYK_C nm400", "0 -5"), "line 6: the reflectance nm400 is -5"},
	} {
		if _, err := parse(t, c.text).Tables[0].Set(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.60q: %v, want %q", c.text, err, c.want)
		}
	}
}

func TestWrittenTablesReadTheSame(t *testing.T) {
	f := &File{Tables: []Table{{
		Identifier: "CGATS.17",
		Keywords:   []Keyword{{Name: "ORIGINATOR", Value: `a "b" # c`}, {Name: "EMPTY"}},
		Fields:     []string{"SAMPLE_ID", "Deep Red", "LAB_L"},
		Rows:       []Row{{Values: []string{"", "#1", "3"}}, {Values: []string{"END_DATA", `x"y`, "ä"}}},
	}, {Fields: []string{"A"}}}}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	got := parse(t, b.String())
	dropLines(got)
	f.Tables[1].Rows = nil
	if !reflect.DeepEqual(got, f) {
		t.Errorf("%s\ngot  %+v\nwant %+v", b.String(), got, f)
	}
	for _, bad := range []Table{
		{Fields: []string{"A"}, Rows: []Row{{Values: []string{"1", "2"}}}},
		{Fields: []string{"A\nB"}},
		{Identifier: "two words", Fields: []string{"A"}},
		{Keywords: []Keyword{{Name: "BEGIN_DATA"}}, Fields: []string{"A"}},
		{},
	} {
		if err := (&File{Tables: []Table{bad}}).Write(&b); err == nil {
			t.Errorf("%+v is written", bad)
		}
	}
}

func dropLines(f *File) {
	for i := range f.Tables {
		for k := range f.Tables[i].Keywords {
			f.Tables[i].Keywords[k].Line = 0
		}
		for k := range f.Tables[i].Rows {
			f.Tables[i].Rows[k].Line = 0
		}
	}
}

// The published sets of the package icc-profiles-free, which differ in their headers and line ends.
func TestPublishedSetsAreRead(t *testing.T) {
	const dir = "/usr/share/color/icc"
	for name, patches := range map[string]int{"FOGRA28L": 1485, "FOGRA29L": 1485, "FOGRA30L": 1485, "FOGRA39L": 1617, "FOGRA40L": 1617,
		"TR002": 928, "TR003": 1617, "TR005": 1617, "TR006": 1617} {
		data, err := os.ReadFile(filepath.Join(dir, name+".ti3"))
		if errors.Is(err, os.ErrNotExist) {
			if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
				t.Fatalf("the package icc-profiles-free is required and not installed: %v", err)
			}
			t.Skip("icc-profiles-free is not installed")
		}
		if err != nil {
			t.Fatal(err)
		}
		f, err := Parse(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s, err := f.Tables[0].Set()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(s.Patches) != patches || !reflect.DeepEqual(s.Colourants, []string{"Cyan", "Magenta", "Yellow", "Black"}) || s.PaperRelative {
			t.Errorf("%s: %s, relative %v", name, s.Describe(), s.PaperRelative)
		}
	}
}

// A toner of its own with reflectances by wavelength, and a field of words.
func TestSpectraOfASpecialTonerAreRead(t *testing.T) {
	s := setOf(t, table(`MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Abs Filter=M1"
SAMPLE_BACKING "black"
KEYWORD "TINT"`, "SAMPLE_ID STRING TINT SPECTRAL_DEC_NM400 SPECTRAL_DEC_NM500 SPECTRAL_DEC_NM600 SPECTRAL_DEC_NM700",
		`1 "White" 0    0.021 0.022 0.023 0.024`, `2 "White" 100  0.61 0.66 0.68 0.69`))
	if len(s.Patches) != 2 || !reflect.DeepEqual(s.Colourants, []string{"TINT"}) || len(s.Wavelengths) != 4 || s.Wavelengths[3] != 700 ||
		s.Patches[1].Tints[0] != 1 || s.Patches[1].Spectrum[3] != .69 || s.PaperRelative || s.HasColour {
		t.Errorf("%s: %+v", s.Describe(), s)
	}
}
