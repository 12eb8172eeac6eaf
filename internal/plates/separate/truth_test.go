package separate

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/press"
)

// Which plate receives what: the tables of 8.6.6, 8.6.7 and 11.7.4.3 (Table 146), one line a case.
//
// Plates: C M Y K White Silver Gold. Columns are overprint off; on with OPM 0; on with OPM 1. Per
// plate: a number is a painted tint in %, x cleared, - left. "nothing" = the item does nothing.
//
// The test press mounts White, Silver and Gold; "pale" is a mix of 60 % Gold and 20 % Silver.
// Stand-ins: Missing = 30 % C, 10 % K at full tint; Missing2 = 50 % Y.
const truthTable = `
# process spaces specify all process components and no special one
DeviceCMYK .1 .2 .3 .4       | 10 20 30 40 x x x | 10 20 30 40 - - - | 10 20 30 40 - - -
DeviceCMYK 0 0 0 1           | 0 0 0 100 x x x   | 0 0 0 100 - - -   | - - - 100 - - -
DeviceCMYK 0 .5 0 0          | 0 50 0 0 x x x    | 0 50 0 0 - - -    | - 50 - - - - -
DeviceCMYK 0 0 0 0           | 0 0 0 0 x x x     | 0 0 0 0 - - -     | nothing
DeviceGray .5                | 0 0 0 50 x x x    | 0 0 0 50 - - -    | 0 0 0 50 - - -
DeviceGray 1                 | 0 0 0 0 x x x     | 0 0 0 0 - - -     | 0 0 0 0 - - -
DeviceRGB 1 0 0              | 0 100 100 0 x x x | 0 100 100 0 - - - | 0 100 100 0 - - -
DeviceRGB 0 0 0              | 0 0 0 100 x x x   | 0 0 0 100 - - -   | 0 0 0 100 - - -
ICC4 0 0 0 1                 | 0 0 0 100 x x x   | 0 0 0 100 - - -   | 0 0 0 100 - - -
Indexed:CMYK 1               | 0 0 0 100 x x x   | 0 0 0 100 - - -   | 0 0 0 100 - - -
Pattern:CMYK 0 .5 0 0        | 0 50 0 0 x x x    | 0 50 0 0 - - -    | - 50 - - - - -

# Separation: named is painted, 0 included; the rest is cleared or left; OPM does not matter
Separation:White 1           | x x x x 100 x x   | - - - - 100 - -   | - - - - 100 - -
Separation:White 0           | x x x x 0 x x     | - - - - 0 - -     | - - - - 0 - -
Separation:Black .5          | x x x 50 x x x    | - - - 50 - - -    | - - - 50 - - -
Separation:Cyan 0            | 0 x x x x x x     | 0 - - - - - -     | 0 - - - - - -
Separation:All .3            | 30 30 30 30 30 30 30 | 30 30 30 30 30 30 30 | 30 30 30 30 30 30 30
Separation:None 1            | nothing           | nothing           | nothing
Separation:Missing 1         | 30 0 0 10 x x x   | 30 0 0 10 - - -   | 30 0 0 10 - - -
Separation:white 1           | 30 0 0 10 x x x   | 30 0 0 10 - - -   | 30 0 0 10 - - -
Separation:pale .5           | x x x x x 10 30   | - - - - - 10 30   | - - - - - 10 30
Separation:oro .5            | x x x x x x 50    | - - - - - - 50    | - - - - - - 50
Indexed:White 1              | x x x x 100 x x   | - - - - 100 - -   | - - - - 100 - -

# DeviceN: every name has its plate
DeviceN:White,Silver .2 0        | x x x x 20 0 x    | - - - - 20 0 -    | - - - - 20 0 -
DeviceN:Black,Silver .2 .4       | x x x 20 x 40 x   | - - - 20 - 40 -   | - - - 20 - 40 -
DeviceN:None,White .9 .4         | x x x x 40 x x    | - - - - 40 - -    | - - - - 40 - -
DeviceN:None,None .9 .4          | nothing           | nothing           | nothing
DeviceN:pale,Gold 1 .3           | x x x x x 20 90   | - - - - - 20 90   | - - - - - 20 90
DeviceN:pale,Gold 1 .8           | x x x x x 20 100  | - - - - - 20 100  | - - - - - 20 100

# DeviceN: one name is missing, so the whole space goes through its tint transform (None included)
DeviceN:White,Missing .2 .4      | 20 40 0 0 x x x   | 20 40 0 0 - - -   | 20 40 0 0 - - -
DeviceN:None,White,Missing 1 0 0 | 100 0 0 0 x x x   | 100 0 0 0 - - -   | 100 0 0 0 - - -

# NChannel: component by component; the missing one alone through its own stand-in
NChannel:White,Missing .2 1      | 30 0 0 10 20 x x  | 30 0 0 10 20 - -  | 30 0 0 10 20 - -
NChannel:Cyan,White,Missing .5 .2 1 | 80 0 0 10 20 x x | 80 0 0 10 20 - - | 80 0 0 10 20 - -
NChannel:Cyan,White .5 .2        | 50 x x x 20 x x   | 50 - - - 20 - -   | 50 - - - 20 - -
NChannel:Red,Green,Blue,White 1 0 0 .2 | 0 100 100 0 20 x x | 0 100 100 0 20 - - | 0 100 100 0 20 - -
NChannel:Missing,Missing2 .2 .4  | 20 40 0 0 x x x   | 20 40 0 0 - - -   | 20 40 0 0 - - -
NChannel:White,Unknown .2 .4     | 20 40 0 0 x x x   | 20 40 0 0 - - -   | 20 40 0 0 - - -
`

func TestWhichPlateReceivesWhat(t *testing.T) {
	target := testTarget(t)
	eachCase(t, truthTable, func(t *testing.T, p displist.Paint, wants []string) {
		for i, setting := range []struct {
			overprint bool
			mode      int
		}{{false, 0}, {true, 0}, {true, 1}} {
			ink := target.Colour(p, setting.overprint, setting.mode, false, colour.RelativeColorimetric, Context{})
			if got := inkText(ink); got != wants[i] {
				t.Errorf("overprint %v, mode %d: got %q, want %q", setting.overprint, setting.mode, got, wants[i])
			}
		}
		off := target.Colour(p, false, 1, false, colour.RelativeColorimetric, Context{})
		if got := inkText(off); got != wants[0] {
			t.Errorf("mode 1 with overprint off: got %q, want %q", got, wants[0])
		}
	})
}

// In groups with an RGB or gray blending space the process components are that space's (as 1 minus
// additive); special plates travel beside it (11.7.3). OPM 1 does not act (11.7.4.3) and the process plates
// are out of reach. Columns: RGB off, on with OPM 1; gray off.
const groupTable = `
DeviceRGB 1 .5 0             | 0 50 100 x x x    | 0 50 100 - - -    | 41 x x x
DeviceGray .4                | 60 60 60 x x x    | 60 60 60 - - -    | 60 x x x
DeviceCMYK 0 .5 0 0          | 0 50 0 x x x      | 0 50 0 - - -      | 30 x x x
Separation:White 1           | x x x 100 x x     | - - - 100 - -     | x 100 x x
Separation:Black 1           | 30 0 0 x x x      | 30 0 0 - - -      | 9 x x x
DeviceN:White,Silver .2 0    | x x x 20 0 x      | - - - 20 0 -      | x 20 0 x
DeviceN:Black,Silver .2 .4   | 20 40 0 x x x     | 20 40 0 - - -     | 30 x x x
Separation:All .3            | 30 30 30 30 30 30 | 30 30 30 30 30 30 | 30 30 30 30
Separation:None 1            | nothing           | nothing           | nothing
NChannel:Red,Green,Blue,White 1 0 0 .2 | 0 100 100 20 x x | 0 100 100 20 - - | 70 20 x x
NChannel:White,Missing .2 1  | 40 10 10 20 x x   | 40 10 10 20 - -   | 19 20 x x
`

func TestWhatGroupsInOtherSpacesReceive(t *testing.T) {
	target := testTarget(t)
	eachCase(t, groupTable, func(t *testing.T, p displist.Paint, wants []string) {
		for i, setting := range []struct {
			space     BlendSpace
			overprint bool
		}{{BlendRGB, false}, {BlendRGB, true}, {BlendGray, false}} {
			ink := target.Colour(p, setting.overprint, 1, false, colour.RelativeColorimetric, Context{setting.space})
			if got := inkText(ink); got != wants[i] {
				t.Errorf("%v, overprint %v: got %q, want %q", setting.space, setting.overprint, got, wants[i])
			}
		}
	})
}

// OPM 1 acts on a colour given directly in DeviceCMYK, not on samples of an image (8.6.7).
func TestModeOneSparesNothingUnderImageSamples(t *testing.T) {
	p := displist.Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}
	ink := testTarget(t).Colour(p, true, 1, true, colour.RelativeColorimetric, Context{})
	if got, want := inkText(ink), "0 0 0 100 - - -"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// An ICCBased CMYK space with the target's own profile is taken as DeviceCMYK, so that OPM 1 acts
// (8.6.5.7); with any other it is an ordinary one.
func TestModeOneActsOnTheOutputProfileOnly(t *testing.T) {
	own := cmykProfile(t, 0)
	space := func(p *colour.Profile) colour.Space {
		return &colour.ICCBased{N: 4, Profile: p, Alternate: colour.CMYK, Limits: []float64{0, 1, 0, 1, 0, 1, 0, 1}}
	}
	for _, c := range []struct {
		question string
		space    colour.Space
		target   *colour.Profile
		want     string
	}{
		{"the output profile", space(own), own, "- - - 100 - - -"},
		{"a copy of it", space(cmykProfile(t, 0)), own, "- - - 100 - - -"},
		{"another one", space(cmykProfile(t, 7)), own, "0 0 0 0 - - -"},
		{"naive conversion", space(own), nil, "0 0 0 100 - - -"},
		{"no usable profile", space(nil), own, "0 0 0 100 - - -"},
	} {
		target := testTarget(t)
		target.Converter = colour.NewConverter(c.target)
		ink := target.Colour(displist.Paint{Space: c.space, Comps: []float64{0, 0, 0, 1}}, true, 1, false, 0, Context{})
		if got := inkText(ink); got != c.want {
			t.Errorf("%s: got %q, want %q", c.question, got, c.want)
		}
	}
}

// cmykProfile is a CMYK output profile (ICC.1, 7 and 10.11: two lut8Type tags of grids of two points a side) in which all numbers
// are fill.
func cmykProfile(t *testing.T, fill byte) *colour.Profile {
	t.Helper()
	table := func(in, out byte) []byte {
		d := make([]byte, 48+256*int(in)+int(out)<<in+256*int(out))
		for i := 48; i < len(d); i++ {
			d[i] = fill
		}
		copy(d, "mft1")
		d[8], d[9], d[10] = in, out, 2
		return d
	}
	const tables = 128 + 4 + 2*12
	forth, back := table(4, 3), table(3, 4)
	d := make([]byte, tables)
	copy(d[12:], "prtrCMYKLab ")
	copy(d[36:], "acsp")
	d[8] = 2
	copy(d[128:], "\x00\x00\x00\x02A2B0")
	binary.BigEndian.PutUint32(d[136:], tables)
	binary.BigEndian.PutUint32(d[140:], uint32(len(forth)))
	copy(d[144:], "B2A0")
	binary.BigEndian.PutUint32(d[148:], tables+uint32(len(forth)))
	binary.BigEndian.PutUint32(d[152:], uint32(len(back)))
	p, err := colour.ParseProfile(slices.Concat(d, forth, back))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestReasonsTellWhy(t *testing.T) {
	target := testTarget(t)
	target.Mounted[3] = false // the test press without black
	for _, c := range []struct {
		space     string
		comps     []float64
		overprint bool
		mode      int
		want      string
	}{
		{"DeviceCMYK", []float64{0, 1, 0, 0}, true, 1, "mode named mode mode overprint overprint overprint"},
		{"DeviceCMYK", []float64{0, 1, 0, 0}, false, 0, "named named named unmounted knockout knockout knockout"},
		{"Separation:White", []float64{1}, false, 0, "knockout knockout knockout knockout named knockout knockout"},
		{"Separation:pale", []float64{1}, true, 0, "overprint overprint overprint overprint overprint mix mix"},
		{"Separation:All", []float64{1}, true, 0, "all all all unmounted all all all"},
		{"Separation:None", []float64{1}, false, 0, "none none none none none none none"},
		{"Separation:Missing", []float64{1}, false, 0, "alternate alternate alternate unmounted knockout knockout knockout"},
		{"NChannel:Cyan,White,Missing", []float64{1, 1, 1}, true, 0, "named alternate alternate unmounted named overprint overprint"},
	} {
		ink := target.Colour(displist.Paint{Space: testSpace(t, c.space), Comps: c.comps}, c.overprint, c.mode, false, 0, Context{})
		var got []string
		for _, r := range ink.Reasons {
			got = append(got, [...]string{"named", "knockout", "overprint", "mode", "all", "none", "alternate", "mix", "unmounted"}[r])
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s overprint %v: got %q, want %q", c.space, c.overprint, s, c.want)
		}
	}
}

// eachCase runs a table of lines "space components | want | want".
func eachCase(t *testing.T, table string, check func(t *testing.T, p displist.Paint, wants []string)) {
	cases := 0
	for line := range strings.Lines(table) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		cols := strings.Split(line, "|")
		for i := range cols {
			cols[i] = strings.Join(strings.Fields(cols[i]), " ")
		}
		fields := strings.Fields(cols[0])
		p := displist.Paint{Space: testSpace(t, fields[0])}
		for _, f := range fields[1:] {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			p.Comps = append(p.Comps, v)
		}
		cases++
		t.Run(cols[0], func(t *testing.T) { check(t, p, cols[1:]) })
	}
	if cases < 5 {
		t.Fatal("the table was not read")
	}
}

// inkText writes an ink as the tables do.
func inkText(ink Ink) string {
	if ink.Nothing {
		for _, e := range ink.Effects {
			if e != Leave {
				return "nothing, but not all left"
			}
		}
		return "nothing"
	}
	var b []string
	for i, e := range ink.Effects {
		switch e {
		case Clear:
			b = append(b, "x")
		case Leave:
			b = append(b, "-")
		case Paint:
			b = append(b, fmt.Sprint((int(ink.Values[i])*100+fullTint/2)/fullTint))
		}
		if e != Paint && ink.Values[i] != 0 {
			b = append(b, "value without paint")
		}
	}
	return strings.Join(b, " ")
}

// testPress mounts the process toners, White, Silver and Gold.
func testPress() *press.Press {
	return &press.Press{Name: "bench",
		Toners: []press.Toner{
			{Name: "White", Kind: colourant.OpaqueWhite, Aliases: []string{"white"}}, {Name: "Silver", Kind: colourant.Metallic},
			{Name: "Gold", Kind: colourant.Metallic}, {Name: "Clear", Kind: colourant.Clear},
			{Name: "Cyan", Kind: colourant.Process}, {Name: "Magenta", Kind: colourant.Process},
			{Name: "Yellow", Kind: colourant.Process}, {Name: "Black", Kind: colourant.Process},
		},
		Mixes: []press.Mix{
			{Name: "pale", Parts: []press.MixPart{{Toner: "Gold", Tint: 60}, {Toner: "Silver", Tint: 20}}},
			{Name: "frost", Parts: []press.MixPart{{Toner: "Clear", Tint: 60}, {Toner: "Silver", Tint: 20}}},
		},
		Sets: []press.Set{{Name: "one", Stations: []string{"White", "Cyan", "Magenta", "Yellow", "Black", "Silver", "Gold"}}},
	}
}

func testTarget(t *testing.T) *Target {
	t.Helper()
	target, err := NewTarget(testPress(), map[string]string{"oro": "Gold"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return target
}

// linear is a tint transform: output j is the sum of inputs i times w[i][j].
type linear struct{ w [][4]float64 }

func (f linear) Inputs() int  { return len(f.w) }
func (f linear) Outputs() int { return 4 }
func (f linear) Eval(out, in []float64) {
	clear(out[:4])
	for i, w := range f.w {
		for j := range 4 {
			out[j] = min(1, out[j]+float64(w[j]*in[i]))
		}
	}
}

func testSeparation(name string) *colour.Separation {
	w := [4]float64{.3, 0, 0, .1}
	if name == "Missing2" {
		w = [4]float64{0, 0, .5, 0}
	}
	if name == "Black" {
		w = [4]float64{.3, 0, 0, 0} // unlike black, to show whether it is used
	}
	return &colour.Separation{Name: name, Alternate: colour.CMYK, Tint: linear{[][4]float64{w}}}
}

// testSpace makes the spaces of the tables. The tint transform of DeviceN takes its inputs in order
// as C, M, Y, K.
func testSpace(t *testing.T, text string) colour.Space {
	t.Helper()
	kind, arg, _ := strings.Cut(text, ":")
	switch kind {
	case "DeviceGray":
		return colour.Gray
	case "DeviceRGB":
		return colour.RGB
	case "DeviceCMYK":
		return colour.CMYK
	case "ICC4":
		return &colour.ICCBased{N: 4, Alternate: colour.CMYK, Limits: []float64{0, 1, 0, 1, 0, 1, 0, 1}}
	case "Indexed":
		if arg == "CMYK" {
			return &colour.Indexed{Base: colour.CMYK, HiVal: 1, Table: []byte{255, 0, 0, 0, 0, 0, 0, 255}}
		}
		return &colour.Indexed{Base: testSeparation(arg), HiVal: 1, Table: []byte{0, 255}}
	case "Pattern":
		return &colour.Pattern{Under: colour.CMYK}
	case "Separation":
		return testSeparation(arg)
	case "DeviceN", "NChannel":
		s := &colour.DeviceN{Names: strings.Split(arg, ","), Alternate: colour.CMYK, NChannel: kind == "NChannel"}
		w := make([][4]float64, len(s.Names))
		for i := range w {
			w[i][min(i, 3)] = 1
		}
		s.Tint = linear{w}
		if !s.NChannel {
			return s
		}
		s.Colorants = map[string]*colour.Separation{}
		for _, n := range s.Names {
			switch n {
			case "White", "Missing", "Missing2":
				s.Colorants[n] = testSeparation(n)
			case "Cyan":
				s.Process, s.ProcessComponents = colour.CMYK, []string{"Cyan", "Magenta", "Yellow", "Black"}
			case "Red":
				s.Process, s.ProcessComponents = colour.RGB, []string{"Red", "Green", "Blue"}
			}
		}
		return s
	}
	t.Fatalf("no test space %q", text)
	return nil
}
