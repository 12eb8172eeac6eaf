package pdfbuild

import (
	"fmt"
	"strings"

	"pgregory.net/rapid"
)

// inkSpaces are colour spaces by resource name, with how many components each has. Names are as in randomResources.
var inkSpaces = []struct {
	name string
	n    int
}{{"W", 1}, {"S", 1}, {"Au", 1}, {"C", 1}, {"U", 1}, {"All", 1}, {"None", 1}, {"WS", 2}, {"SK", 2}, {"CyAu", 2}, {"WxN", 2}, {"NC", 3}, {"DeviceCMYK", 4},
	{"DeviceRGB", 3}, {"DeviceGray", 1}, {"Lab", 3}, {"IxW", 1}, {"IxCMYK", 1}, {"Mi", 1}}

// inks makes pages of all that decides on plates.
type inks struct {
	t   *rapid.T
	f   *File
	res int // resource dictionary that all share
	x   []string
	n   map[string]int // streams, by category
	all map[string]string
}

func (k *inks) pick(label string, of ...string) string { return rapid.SampledFrom(of).Draw(k.t, label) }

func (k *inks) tint() string { return k.pick("tint", "0", "0", "1", ".5", ".3", ".75") }

func (k *inks) comps(n int) string {
	var out []string
	for range n {
		out = append(out, k.tint())
	}
	return strings.Join(out, " ")
}

func (k *inks) space() (name string, n int) {
	s := rapid.SampledFrom(inkSpaces).Draw(k.t, "space")
	return s.name, s.n
}

// colour sets a colour for filling or lines.
func (k *inks) colour(patterns bool) string {
	set, scn, under := "cs", "scn", ""
	if rapid.Bool().Draw(k.t, "stroke") {
		set, scn = "CS", "SCN"
	}
	if patterns && rapid.IntRange(0, 4).Draw(k.t, "pattern") == 0 {
		if rapid.Bool().Draw(k.t, "uncoloured") {
			under, n := k.space()
			_ = n
			sp := k.add("ColorSpace", "[/Pattern "+spaceOf(under)+"]")
			return fmt.Sprintf("/%s %s %s /%s %s", sp, set, k.comps(n), k.tiling(2), scn)
		}
		p := k.pick("kind", "cell", "shading")
		if p == "cell" {
			return fmt.Sprintf("/Pattern %s /%s %s", set, k.tiling(1), scn)
		}
		return fmt.Sprintf("/Pattern %s /%s %s", set, k.add("Pattern", fmt.Sprintf("<< /PatternType 2 /Shading %s >>", k.shading())), scn)
	}
	_ = under
	name, n := k.space()
	return fmt.Sprintf("/%s %s %s %s", name, set, k.comps(n), scn)
}

// spaceOf writes a space in full.
func spaceOf(name string) string {
	if strings.HasPrefix(name, "Device") {
		return "/" + name
	}
	return inkSpaceTexts[name]
}

// four is the tint transform of n tints into four, which every plate the press has makes needless.
func four(n int) string {
	body := "{" + strings.Repeat(" pop", n-1) + " dup .2 mul exch dup .3 mul exch dup .1 mul exch .4 mul }"
	dom := strings.TrimSpace(strings.Repeat("0 1 ", n))
	return fmt.Sprintf("<< /FunctionType 4 /Domain [%s] /Range [0 1 0 1 0 1 0 1] /Length %d >>\nstream\n%s\nendstream", dom, len(body), body)
}

var inkSpaceTexts = map[string]string{}

func (k *inks) spaces() string {
	f2, f3 := Ref(k.f.Add(four(2))), Ref(k.f.Add(four(3)))
	inkSpaceTexts = map[string]string{
		"W": Spot("White", .25, 0, 0, .1), "S": Spot("Silver", 0, 0, 0, .45), "Au": Spot("Gold", .2, .35, .8, .15), "C": Spot("Clear", 0, .2, 0, 0),
		"U": Spot("Unheard", .1, .7, .2, 0), "All": Spot("All", 1, 1, 1, 1), "None": Spot("None", 0, 0, 0, 0), "Mi": Spot("Moonlight", 0, 0, .1, .3),
		"WS":   "[/DeviceN [/White /Silver] /DeviceCMYK " + f2 + "]",
		"SK":   "[/DeviceN [/Silver /Black] /DeviceCMYK " + f2 + "]",
		"CyAu": "[/DeviceN [/Cyan /Gold] /DeviceCMYK " + f2 + "]",
		"WxN":  "[/DeviceN [/None /White] /DeviceCMYK " + f2 + "]",
		"NC":   "[/DeviceN [/Magenta /Gold /Clear] /DeviceCMYK " + f3 + "]",
		"Lab":  "[/Lab << /WhitePoint [.9642 1 .8249] /Range [0 1 0 1] >>]",
		"IxW":  "[/Indexed " + Spot("White", .25, 0, 0, .1) + " 1 <40ff>]", "IxCMYK": "[/Indexed /DeviceCMYK 1 <00000000804000ff>]"}
	var b strings.Builder
	for _, s := range inkSpaces {
		if t := inkSpaceTexts[s.name]; t != "" {
			fmt.Fprintf(&b, "/%s %s ", s.name, t)
		}
	}
	return b.String()
}

// add names a resource.
func (k *inks) add(category, value string) string {
	k.n[category]++
	n := fmt.Sprintf("%c%d", category[0], k.n[category])
	k.all[category] += fmt.Sprintf("/%s %s ", n, value)
	return n
}

func (k *inks) own() string { return fmt.Sprintf("/Resources %d 0 R", k.res) }

func (k *inks) tiling(paint int) string {
	content := "2 2 7 7 re f"
	if paint == 1 {
		content = k.content("cell", 0)
	}
	n := k.f.Stream(fmt.Sprintf("/PatternType 1 /PaintType %d /TilingType 1 /BBox [0 0 60 60] /XStep 60 /YStep 55 /Matrix [.3 0 0 .3 3 2] %s", paint, k.own()), content)
	return k.add("Pattern", Ref(n))
}

// shading is a reference to one.
func (k *inks) shading() string {
	name, n := k.space()
	for strings.HasPrefix(name, "Ix") {
		name, n = k.space()
	}
	vals := func() string { return "[" + k.comps(n) + "]" }
	f := fmt.Sprintf("<< /FunctionType 2 /Domain [0 1] /N 1 /C0 %s /C1 %s >>", vals(), vals())
	back := ""
	if rapid.Bool().Draw(k.t, "background") {
		back = "/Background " + vals()
	}
	switch k.pick("shading", "axial", "radial", "mesh", "function") {
	case "axial":
		return Ref(k.f.Add(fmt.Sprintf("<< /ShadingType 2 /ColorSpace %s /Coords [10 10 80 70] /Function %s /Extend [true false] %s >>", spaceOf(name), f, back)))
	case "radial":
		return Ref(k.f.Add(fmt.Sprintf("<< /ShadingType 3 /ColorSpace %s /Coords [40 40 5 60 50 30] /Function %s %s >>", spaceOf(name), f, back)))
	case "function":
		g := four(2)
		g = strings.Replace(strings.Replace(g, "[0 1 0 1 0 1 0 1]", "["+strings.TrimSpace(strings.Repeat("0 1 ", n))+"]", 1), "{", "{", 1)
		body := "{ pop" + strings.Repeat(" dup .9 mul", n-1) + " }"
		g = fmt.Sprintf("<< /FunctionType 4 /Domain [0 1 0 1] /Range [%s] /Length %d >>\nstream\n%s\nendstream", strings.TrimSpace(strings.Repeat("0 1 ", n)), len(body), body)
		return Ref(k.f.Add(fmt.Sprintf("<< /ShadingType 1 /ColorSpace %s /Matrix [70 0 0 70 10 10] /Function %s %s >>", spaceOf(name), Ref(k.f.Add(g)), back)))
	}
	var data []byte
	for i, p := range [][2]byte{{10, 10}, {90, 20}, {40, 80}} {
		data = append(data, 0, p[0], p[1])
		for c := range n {
			data = append(data, byte(80*i+50*c))
		}
	}
	dec := "0 100 0 100" + strings.Repeat(" 0 1", n)
	return Ref(k.f.Stream(fmt.Sprintf("/ShadingType 4 /ColorSpace %s /BitsPerCoordinate 8 /BitsPerComponent 8 /BitsPerFlag 8 /Decode [%s] %s", spaceOf(name), dec, back), string(data)))
}

func (k *inks) image() string {
	name, n := k.space()
	mask := ""
	switch k.pick("mask", "", "soft", "hard", "key") {
	case "soft":
		mask = "/SMask " + Ref(k.f.Stream("/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray", "\xff\x00\x80\xff"))
	case "hard":
		mask = "/Mask " + Ref(k.f.Stream("/Type /XObject /Subtype /Image /Width 4 /Height 1 /BitsPerComponent 1 /ImageMask true", "\x50"))
	case "key":
		mask = "/Mask [" + strings.TrimSpace(strings.Repeat("0 60 ", n)) + "]"
	}
	data := make([]byte, 9*n)
	for i := range data {
		data[i] = byte(rapid.IntRange(0, 5).Draw(k.t, "sample") * 51)
	}
	if strings.HasPrefix(name, "Ix") {
		for i := range data {
			data[i] &= 1
		}
	}
	return k.add("XObject", Ref(k.f.Stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width 3 /Height 3 /BitsPerComponent 8 /ColorSpace %s %s", spaceOf(name), mask), string(data))))
}

func (k *inks) form(depth int) string {
	group := ""
	if rapid.IntRange(0, 3).Draw(k.t, "group") > 0 {
		group = "/Group << /S /Transparency "
		if rapid.Bool().Draw(k.t, "isolated") {
			group += "/I true "
			group += k.pick("group space", "", "/CS /DeviceCMYK", "/CS /DeviceRGB", "/CS /DeviceGray")
		}
		if rapid.IntRange(0, 3).Draw(k.t, "knockout") == 0 {
			group += " /K true"
		}
		group += " >>"
	}
	own := k.own()
	if rapid.IntRange(0, 5).Draw(k.t, "own") == 0 {
		own = ""
	}
	content := k.content("form", depth-1)
	return k.add("XObject", Ref(k.f.Stream(fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 95 90] %s %s", own, group), content)))
}

// content draws objects on each other; forms are nested depth deep, and patterns used outside cells.
func (k *inks) content(label string, depth int) string {
	var b strings.Builder
	num := rapid.IntRange(0, 60)
	open := 0
	for range rapid.IntRange(1, 7).Draw(k.t, label) {
		if rapid.IntRange(0, 3).Draw(k.t, "colour") > 0 {
			b.WriteString(k.colour(depth > 0) + "\n")
		}
		switch k.pick("gs", "", "", "On", "On", "On1", "Off", "St", "Half", "Full", "Mul", "Lum", "Dif", "Nor", "Mask", "NoMask") {
		case "":
		case "On":
			b.WriteString("/On gs\n")
		case "On1":
			b.WriteString("/On1 gs\n")
		case "Off":
			b.WriteString("/Off gs\n")
		case "St":
			b.WriteString("/St gs\n")
		case "Half":
			b.WriteString("/Half gs\n")
		case "Full":
			b.WriteString("/Full gs\n")
		case "Mul":
			b.WriteString("/Mul gs\n")
		case "Lum":
			b.WriteString("/Lum gs\n")
		case "Dif":
			b.WriteString("/Dif gs\n")
		case "Nor":
			b.WriteString("/Nor gs\n")
		case "Mask":
			b.WriteString("/Mask gs\n")
		case "NoMask":
			b.WriteString("/NoMask gs\n")
		}
		x, y, w, h := num.Draw(k.t, "x"), num.Draw(k.t, "y"), num.Draw(k.t, "w")+5, num.Draw(k.t, "h")+5
		what := []string{"f", "S", "B", "clip", "text", "letters", "image", "stencil", "inline", "sh", "q", "Q"}
		if depth > 0 {
			what = append(what, "form", "form", "form")
		}
		switch k.pick("what", what...) {
		case "f":
			fmt.Fprintf(&b, "%d %d %d %d re f\n", x, y, w, h)
		case "S":
			fmt.Fprintf(&b, "3 w %d %d m %d %d l s\n", x, y, x+w, y+h)
		case "B":
			fmt.Fprintf(&b, "4 w %d %d %d %d re %s\n", x, y, w, h, k.pick("B", "B", "b*", "B*", "b"))
		case "clip":
			fmt.Fprintf(&b, "q %d %d %d %d re W f 0 0 100 100 re f Q\n", x, y, w, h)
		case "text":
			fmt.Fprintf(&b, "BT /F 30 Tf %d Tr %d %d Td (Ag) Tj %s (x) Tj ET\n", rapid.IntRange(0, 3).Draw(k.t, "Tr"), x, y, k.colour(false))
		case "letters":
			fmt.Fprintf(&b, "BT /T3 20 Tf %d %d Td (ab) Tj %s (ba) Tj ET\n", x, y, k.colour(false))
		case "image":
			fmt.Fprintf(&b, "q %d 0 0 %d %d %d cm /%s Do Q\n", w, h, x, y, k.image())
		case "stencil":
			fmt.Fprintf(&b, "q %d 0 0 %d %d %d cm /Bits Do Q\n", w, h, x, y)
		case "inline":
			fmt.Fprintf(&b, "q %d 0 0 %d %d %d cm BI /W 2 /H 1 /BPC 8 /CS /%s ID %s EI Q\n", w, h, x, y, k.pick("cs", "Au", "DeviceGray", "W"), "Ap")
		case "sh":
			fmt.Fprintf(&b, "q %d %d %d %d re W n /%s sh Q\n", x, y, w, h, k.add("Shading", k.shading()))
		case "form":
			fmt.Fprintf(&b, "q .9 0 0 .9 %d %d cm /%s Do Q\n", x/6, y/6, k.form(depth))
		case "q":
			b.WriteString("q\n")
			open++
		case "Q":
			if open > 0 {
				b.WriteString("Q\n")
				open--
			}
		}
	}
	return b.String() + strings.Repeat("Q ", open)
}

// RandomInks is a page of objects in every kind of colour, with overprint, transparency, groups, masks, patterns, shadings,
// letters drawn as pictures and an annotation that prints.
func RandomInks(t *rapid.T) []byte {
	k := &inks{t: t, f: New(), n: map[string]int{}, all: map[string]string{}}
	k.res = k.f.Add("")
	spaces := k.spaces()
	mask := k.f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Group << /S /Transparency /CS /DeviceGray >> "+k.own(), "0.6 g 0 0 100 100 re f /W cs .5 scn 20 20 40 40 re f")
	bits := k.f.Stream("/Type /XObject /Subtype /Image /Width 4 /Height 2 /BitsPerComponent 1 /ImageMask true", "\x50\xa0")
	own := k.f.Stream("", "500 0 d0 0 0 400 400 re f /S cs .5 scn 100 100 200 600 re f")
	shape := k.f.Stream("", "500 0 0 0 400 400 d1 0 0 300 400 re f")
	states := "/On << /OP true /op true /OPM 0 >> /On1 << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> /St << /OP true /op false >> " +
		"/Half << /ca .5 /CA .5 >> /Full << /ca 1 /CA 1 >> /Mul << /BM /Multiply >> /Lum << /BM /Luminosity >> /Dif << /BM /Difference >> /Nor << /BM /Normal >> " +
		fmt.Sprintf("/Mask << /SMask << /S /Luminosity /G %d 0 R >> >> /NoMask << /SMask /None >>", mask)
	page := k.content("page", 2)
	note := k.f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 30 30] "+k.own(), k.content("note", 0))
	k.all["XObject"] += fmt.Sprintf("/Bits %d 0 R ", bits)
	fonts := fmt.Sprintf("/F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> /T3 << /Type /Font /Subtype /Type3 /FontBBox [0 0 500 700] /FontMatrix [.001 0 0 .001 0 0] "+
		"/FirstChar 97 /LastChar 98 /Widths [500 500] /Encoding << /Differences [97 /own /shape] >> /CharProcs << /own %d 0 R /shape %d 0 R >> /Resources << /ColorSpace << /S %s >> >> >>",
		own, shape, inkSpaceTexts["S"])
	dict := fmt.Sprintf("/ColorSpace << %s %s >> /ExtGState << %s >> /XObject << %s >> /Pattern << %s >> /Shading << %s >> /Font << %s >>",
		spaces, k.all["ColorSpace"], states, k.all["XObject"], k.all["Pattern"], k.all["Shading"], fonts)
	k.f.Set(k.res, "<< "+dict+" >>")
	c := k.f.Stream("", page)
	extra := fmt.Sprintf("/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [60 60 95 95] /AP << /N %d 0 R >> >>]", note)
	group := k.pick("page group", "", "", "/Group << /S /Transparency /CS /DeviceCMYK /I true >>", "/Group << /S /Transparency /CS /DeviceRGB >>")
	k.f.PageWith(100, 100, dict, Ref(c), extra, group)
	return k.f.Bytes()
}
