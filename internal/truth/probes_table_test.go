package truth

import "strings"

// probe is a page that asks one question of separating. Its unit is one pixel of the page of 100 x 100
// pixels, y up.
type probe struct {
	name    string
	content string
	// streams become objects that gs, xobjects and so on refer to as {name}.
	streams []probeStream
	// gs, xobjects, ... are further entries of the dictionaries of resources.
	gs, xobjects, fonts, patterns, shadings, spaces string
	// page is more of the page's dictionary.
	page string
	// loose judges by the limit of text: for shapes with edges that are not on pixels.
	loose bool
	// clause decides where the interpreters differ from each other; want is what it asks for, a line a
	// point: "x y: C 50 Frost 100", colourants not named having no toner. Tints in percent.
	clause, want string
	// undrawn is the finding that may tell that we do not draw it; it is not judged then.
	undrawn string
}

type probeStream struct{ name, dict, data string }

// group is a transparency group with the page's resources; attributes are of its Group dictionary.
func group(name, attributes, content string) probeStream {
	return probeStream{name, "/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Resources {resources} /Group << /S /Transparency " + attributes + " >>", content}
}

func form(name, dict, content string) probeStream {
	return probeStream{name, "/Type /XObject /Subtype /Form /Resources {resources} " + dict, content}
}

func picture(name, dict, data string) probeStream {
	return probeStream{name, "/Type /XObject /Subtype /Image " + dict, data}
}

// stripes lays, from the top, process toners, process and Frost, Frost, and nothing, a quarter each.
const stripes = ".5 0 .2 .1 k 0 50 100 50 re f /On gs /Frost cs .6 scn 0 25 100 50 re f /Off gs "

// threeWays paints three columns on the stripes: overprint off, on, and on with OPM 1. % in what is the column's
// left edge.
func threeWays(what string) string {
	return stripes + "/Off gs " + strings.ReplaceAll(what, "%", "5") + " /On gs " + strings.ReplaceAll(what, "%", "40") +
		" /Mode1 gs " + strings.ReplaceAll(what, "%", "75")
}

const column = " % 5 20 90 re f"

// overprints are colours and kinds of objects over the stripes.
func overprints() []probe {
	var out []probe
	for _, c := range [][2]string{
		{"black", "0 0 0 1 k"}, {"magenta", "0 .5 0 0 k"}, {"four toners", ".1 .2 .3 .4 k"}, {"no toner", "0 0 0 0 k"}, {"gray", ".5 g"}, {"white gray", "1 g"},
		{"red", "1 0 0 rg"}, {"same spot", "/Frost cs 1 scn"}, {"same spot at 0", "/Frost cs 0 scn"}, {"other spot", "/Flash cs .7 scn"},
		{"Separation Black", "/Kay cs .5 scn"}, {"Separation Cyan at 0", "/Cee cs 0 scn"}, {"All", "/Every cs .3 scn"},
		{"DeviceN of spots", "/Pair cs .2 0 scn"}, {"DeviceN with process names", "/Mixed cs 0 .4 .3 scn"}, {"DeviceN with None", "/Part cs .9 .4 scn"},
		{"Indexed spot", "/Steps cs 1 scn"},
	} {
		out = append(out, probe{name: "overprint: " + c[0], content: threeWays(c[1] + column)})
	}
	cols := func(name, what string, streams []probeStream, x string) {
		out = append(out, probe{name: "overprint: " + name, content: threeWays(what), streams: streams, xobjects: x})
	}
	place := "q 20 0 0 90 % 5 cm /Im Do Q"
	cols("stencil in black", "0 0 0 1 k q 20 0 0 90 % 5 cm BI /W 2 /H 1 /IM true /F /AHx ID 40> EI Q", nil, "")
	cols("stencil in a spot", "/Flash cs 1 scn q 20 0 0 90 % 5 cm BI /W 2 /H 1 /IM true /F /AHx ID 40> EI Q", nil, "")
	im := func(space string, hex string) []probeStream {
		return []probeStream{picture("im", "/Width 1 /Height 2 /BitsPerComponent 8 /Filter /ASCIIHexDecode /ColorSpace "+space, hex+">")}
	}
	cols("CMYK image", place, im("/DeviceCMYK", "000000ff00800000"), "/Im {im}")
	cols("gray image", place, im("/DeviceGray", "80ff"), "/Im {im}")
	cols("spot image", place, im("{frost}", "00cc"), "/Im {im}")
	cols("DeviceN image", place, im("{mixed}", "004080800000"), "/Im {im}")
	out = append(out,
		probe{name: "overprint: None", content: threeWays("/Nothing cs 1 scn" + column)},
		probe{name: "overprint: OP for strokes only", gs: "/Stroke << /OP true /op false >>",
			content: stripes + "/Stroke gs /Flash cs 1 scn 10 5 30 90 re f /Flash CS 1 SCN 20 w 70 0 m 70 100 l S"},
		probe{name: "overprint: op for fills only", gs: "/Filled << /OP false /op true >>",
			content: stripes + "/Filled gs /Flash cs 1 scn 10 5 30 90 re f /Flash CS 1 SCN 20 w 70 0 m 70 100 l S"},
		probe{name: "overprint: OP without op sets both", content: stripes + "/Both gs /Flash cs 1 scn 10 5 30 90 re f /Flash CS 1 SCN 20 w 70 0 m 70 100 l S",
			gs: "/Both << /OP true >>"},
		probe{name: "overprint: state of q and Q", content: stripes + "q /On gs Q /Flash cs 1 scn 10 5 30 90 re f q /Off gs Q /On gs 60 5 30 90 re f"},
		probe{name: "overprint: fill and stroke", content: stripes + "/On gs /Flash cs 1 scn 0 0 0 1 K 10 w 20 20 60 60 re B"},
		probe{name: "overprint: CMYK shading with OPM 1", content: threeWays("q % 5 20 90 re W n /Ramp sh Q"),
			shadings: "/Ramp << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [0 0 0 100] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 1] /C1 [0 1 0 0] >> >>"},
		probe{name: "overprint: spot shading", content: threeWays("q % 5 20 90 re W n /Ramp sh Q"),
			shadings: "/Ramp << /ShadingType 2 /ColorSpace {flash} /Coords [0 0 0 100] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0] /C1 [1] >> >>"},
	)
	return out
}

var blendNames = strings.Fields("Normal Multiply Screen Overlay Darken Lighten ColorDodge ColorBurn HardLight SoftLight Difference Exclusion Hue Saturation Color Luminosity")

// blends has spot on spot, process on process, both ways across, on bare stock, and the same with overprint.
func blends() []probe {
	var out []probe
	for _, mode := range blendNames {
		out = append(out, probe{name: "blend: " + mode, content: "/Frost cs .4 scn 0 60 18 40 re f 60 60 18 40 re f .2 .3 .4 .1 k 20 60 38 40 re f" +
			" /" + mode + " gs /Frost cs .7 scn 0 50 18 40 re f .5 .1 .6 .2 k 20 50 18 40 re f /Flash cs .7 scn 40 50 18 40 re f .5 .1 .6 .2 k 60 50 18 40 re f /Flash cs .5 scn 80 60 18 40 re f"},
			probe{name: "blend and overprint: " + mode, content: "/Frost cs .4 scn 0 60 40 40 re f .2 .3 .4 .1 k 50 60 50 40 re f" +
				" /On gs /" + mode + " gs /Flash cs .7 scn 0 50 18 40 re f .5 .1 .6 .2 k 20 50 18 40 re f /Frost cs .7 scn 50 50 23 40 re f /Mode1 gs 0 .6 0 0 k 75 50 25 40 re f"})
	}
	return out
}

// transparency asks of constant alpha, groups and soft masks.
func transparency() []probe {
	inner := "/Frost cs .6 scn 10 10 50 50 re f 0 .8 0 .2 k 40 40 50 50 re f"
	var out []probe
	for _, g := range [][3]string{
		{"plain", "", inner}, {"isolated", "/I true", inner}, {"knockout", "/K true", inner}, {"isolated knockout", "/I true /K true", inner},
		{"isolated CMYK", "/I true /CS /DeviceCMYK", inner},
		{"with Multiply inside", "", "/Multiply gs " + inner}, {"isolated with Multiply inside", "/I true", "/Multiply gs " + inner},
		{"knockout with Multiply inside", "/K true", "/Multiply gs " + inner}, {"knockout with alpha inside", "/K true", "/Half gs " + inner},
		{"with overprint inside", "", "/On gs " + inner}, {"isolated with overprint inside", "/I true", "/On gs " + inner},
		{"isolated CMYK with OPM 1 inside", "/I true /CS /DeviceCMYK", "/Mode1 gs " + inner}, {"knockout with overprint inside", "/K true", "/On gs " + inner},
	} {
		out = append(out, probe{name: "group: " + g[0], content: stripes + "/G Do", xobjects: "/G {g}", streams: []probeStream{group("g", g[1], g[2])}},
			probe{name: "group at half: " + g[0], content: stripes + "/Half gs /G Do", xobjects: "/G {g}", streams: []probeStream{group("g", g[1], g[2])}})
	}
	out = append(out,
		probe{name: "alpha: spot", content: stripes + "/Half gs /Frost cs 1 scn 10 5 30 90 re f /Flash cs .8 scn 60 5 30 90 re f"},
		probe{name: "alpha: process", content: stripes + "/Half gs 0 1 0 0 k 10 5 30 90 re f .4 g 60 5 30 90 re f"},
		probe{name: "alpha: overprinting spot", content: stripes + "/On gs /Half gs /Frost cs 1 scn 10 5 30 90 re f /Flash cs .8 scn 60 5 30 90 re f"},
		probe{name: "alpha: OPM 1", content: stripes + "/Mode1 gs /Half gs 0 1 0 0 k 10 5 30 90 re f"},
		probe{name: "alpha: stroke", content: stripes + "/Half gs /Flash CS 1 SCN 20 w 50 0 m 50 100 l S"},
		probe{name: "alpha: fill and stroke", content: stripes + "/Half gs /Flash cs 1 scn 0 0 0 1 K 10 w 20 20 60 60 re B"},
		probe{name: "alpha: form without group", content: stripes + "/Half gs /F Do", xobjects: "/F {f}", streams: []probeStream{form("f", "/BBox [0 0 100 100]", inner)}},
		probe{name: "group: nested", content: stripes + "/Half gs /A Do", xobjects: "/A {a} /B {b}", streams: []probeStream{
			group("b", "/K true", "/Half gs "+inner), group("a", "/I true", "0 .3 0 0 k 0 0 50 100 re f /Multiply gs /B Do")}},
		probe{name: "group: alpha is shape in a knockout group", content: stripes + "/G Do", xobjects: "/G {g}", gs: "/Shape << /AIS true >>",
			streams: []probeStream{group("g", "/K true", "/Flash cs 1 scn 10 10 50 80 re f /Shape gs /Half gs 0 1 0 0 k 40 10 50 80 re f")}},
		probe{name: "group: spots on process in Screen", content: stripes + "/Screen gs /G Do", xobjects: "/G {g}", streams: []probeStream{group("g", "", inner)}},
		probe{name: "group: in Luminosity at half", content: stripes + "/Luminosity gs /Half gs /G Do", xobjects: "/G {g}", streams: []probeStream{group("g", "", inner)}},
		probe{name: "text: overlapping glyphs at half", loose: true, content: stripes + "/Half gs /Flash cs 1 scn BT /Sans 90 Tf -40 Tc 5 20 Td (OO) Tj ET"},
		probe{name: "text: fill and stroke at half", loose: true, content: stripes + "/Half gs /Flash cs 1 scn 0 0 0 1 K 8 w BT /Sans 90 Tf 2 Tr 15 20 Td (B) Tj ET"},
		probe{name: "group: isolated in Multiply", content: stripes + "/Multiply gs /G Do", xobjects: "/G {g}", streams: []probeStream{group("g", "/I true", inner)}},
		probe{name: "group: clipped by its box", content: stripes + "/G Do", xobjects: "/G {g}", streams: []probeStream{
			{"g", "/Type /XObject /Subtype /Form /BBox [20 20 60 80] /Matrix [1 0 0 1 10 0] /Resources {resources} /Group << /S /Transparency >>", "/Flash cs 1 scn 0 0 100 100 re f"}}},
	)
	out = append(out, probe{name: "group: isolated RGB", content: stripes + "/G Do", xobjects: "/G {g}", streams: []probeStream{
		group("g", "/I true /CS /DeviceRGB", "/Frost cs .6 scn 10 10 30 80 re f 1 0 0 rg 60 10 30 80 re f")}})
	for _, g := range [][3]string{
		{"isolated RGB with OPM 1 inside", "/I true /CS /DeviceRGB", "/Frost cs .6 scn 10 10 50 50 re f /Mode1 gs 0 .8 0 .2 k 40 40 50 50 re f"},
		{"isolated RGB with Multiply on spots", "/I true /CS /DeviceRGB", "/Frost cs .4 scn 10 10 50 50 re f /Multiply gs .7 scn 40 40 50 50 re f"},
		{"isolated RGB with Luminosity on spots", "/I true /CS /DeviceRGB", "/Frost cs .4 scn 10 10 50 50 re f /Luminosity gs .7 scn 40 40 50 50 re f"},
		{"isolated gray", "/I true /CS /DeviceGray", "/Frost cs .6 scn 10 10 50 50 re f /On gs .4 g 40 40 50 50 re f"},
		{"isolated RGB with DeviceN of process names", "/I true /CS /DeviceRGB", "/Mixed cs .4 0 .3 scn 10 10 50 80 re f"},
		{"isolated RGB with DeviceN of spots", "/I true /CS /DeviceRGB", "/Pair cs .4 .7 scn 10 10 50 80 re f"},
	} {
		out = append(out, probe{name: "group: " + g[0], content: stripes + "/G Do", xobjects: "/G {g}", streams: []probeStream{group("g", g[1], g[2])}},
			probe{name: "group at half: " + g[0], content: stripes + "/Half gs /G Do", xobjects: "/G {g}", streams: []probeStream{group("g", g[1], g[2])}})
	}
	for _, g := range [][2]string{{"CMYK", "/CS /DeviceCMYK"}, {"knockout", "/CS /DeviceCMYK /K true"}, {"isolated", "/I true"}} {
		out = append(out, probe{name: "page group: " + g[0], page: "/Group << /S /Transparency " + g[1] + " >>",
			content: stripes + "/Multiply gs /Flash cs .8 scn 10 5 30 90 re f /Half gs 0 .5 .5 0 k 60 5 30 90 re f /Mode1 gs /Normal gs 0 0 0 1 k 30 40 40 20 re f"})
	}
	out = append(out, probe{name: "page group: RGB", page: "/Group << /S /Transparency /CS /DeviceRGB >>",
		content: "/Frost cs .6 scn 0 0 60 100 re f /On gs 0 .5 0 0 k 40 0 60 50 re f /Off gs 0 .5 0 0 k 40 50 60 50 re f"})
	mask := func(name, dict, g, attributes string) probe {
		return probe{name: "soft mask: " + name, content: stripes + "/M gs /Flash cs 1 scn 10 5 30 90 re f 0 0 0 1 k 60 5 30 90 re f",
			gs: "/M << /SMask << /G {m} " + dict + " >> >>", streams: []probeStream{group("m", attributes, g)}}
	}
	gray := "0 g 0 0 100 100 re f .5 g 0 40 100 60 re f 1 g 0 70 100 30 re f"
	out = append(out,
		mask("alpha", "/S /Alpha", "/Half gs 0 g 0 40 100 60 re f /Opaque gs 0 70 100 30 re f", ""),
		mask("luminosity of gray", "/S /Luminosity", gray, "/CS /DeviceGray"),
		mask("luminosity of RGB", "/S /Luminosity", "1 0 0 rg 0 0 100 40 re f 0 1 0 rg 0 40 100 30 re f", "/CS /DeviceRGB"),
		mask("luminosity with backdrop", "/S /Luminosity /BC [.6]", "0 g 0 40 100 30 re f", "/CS /DeviceGray"),
		mask("luminosity with transfer", "/S /Luminosity /TR << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>", gray, "/CS /DeviceGray"),
		mask("alpha with transfer", "/S /Alpha /TR << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>", "0 g 0 40 100 30 re f", ""),
		probe{name: "soft mask: on a group", content: stripes + "/M gs /G Do", gs: "/M << /SMask << /S /Luminosity /G {m} >> >>", xobjects: "/G {g}",
			streams: []probeStream{group("m", "/CS /DeviceGray", gray), group("g", "", inner)}},
		probe{name: "soft mask: taken off", content: stripes + "/M gs /Flash cs 1 scn 10 5 30 90 re f /Bare gs 60 5 30 90 re f", gs: "/M << /SMask << /S /Luminosity /G {m} >> >> /Bare << /SMask /None >>",
			streams: []probeStream{group("m", "/CS /DeviceGray", gray)}},
	)
	return out
}

// marks asks of text, strokes, clips, images, forms and patterns.
func marks() []probe {
	spot := "/Flash cs 1 scn /Frost CS 1 SCN "
	var out []probe
	for _, m := range []string{"0", "1", "2", "3"} {
		out = append(out, probe{name: "text: mode " + m, loose: true, content: stripes + spot + "3 w BT /Sans 90 Tf " + m + " Tr 15 20 Td (B) Tj ET"})
	}
	for _, m := range []string{"4", "5", "6", "7"} {
		out = append(out, probe{name: "text: mode " + m, loose: true, content: stripes + spot + "3 w BT /Sans 90 Tf " + m + " Tr 15 20 Td (B) Tj ET 0 0 0 1 k 0 40 100 20 re f"})
	}
	line := func(name, content string) {
		out = append(out, probe{name: "stroke: " + name, loose: true, content: spot + content})
	}
	line("caps", "16 w 0 J 20 80 m 80 80 l S 1 J 20 50 m 80 50 l S 2 J 20 20 m 80 20 l S")
	line("joins", "12 w 0 j 10 10 m 25 80 l 40 10 l S 1 j 40 10 m 55 80 l 70 10 l S 2 j 65 10 m 78 80 l 92 10 l S")
	line("miter limit", "10 w 2 M 10 20 m 50 80 l 90 20 l S 10 M 10 5 m 50 40 l 90 5 l S")
	line("dashes", "10 w [20 10] 0 d 0 80 m 100 80 l S [20 10] 15 d 0 50 m 100 50 l S 1 J [0 20] 0 d 0 20 m 100 20 l S")
	line("of no width", "0 w 0 10.5 m 100 10.5 l 0 30.5 m 100 30.5 l 0 50.5 m 100 50.5 l 0 70.5 m 100 70.5 l 0 90.5 m 100 90.5 l S")
	line("thin lines", "1 w 0 40.5 m 100 40.5 l S .5 w 0 60 m 100 60 l S 1 w 0 0 m 100 100 l S")
	line("uneven scale", "q 4 0 0 1 0 0 cm 6 w 3 10 19 80 re S Q")
	line("closed and degenerate", "12 w 1 J 20 20 m 20 20 l S 60 20 m 90 20 l 75 60 l h S 0 J 20 60 m 20 60 l S")
	for _, c := range [][2]string{
		{"nonzero", "10 10 80 80 re 30 30 40 40 re W n "}, {"even-odd", "10 10 80 80 re 30 30 40 40 re W* n "},
		{"two", "10 10 60 60 re W n 30 30 60 60 re W n "}, {"restored", "q 10 10 20 20 re W n Q "}, {"empty", "0 0 m W n "},
	} {
		out = append(out, probe{name: "clip: " + c[0], content: stripes + c[1] + spot + "0 0 100 100 re f"})
	}
	for _, r := range []string{"f", "f*"} {
		out = append(out, probe{name: "fill: rule " + r, content: spot + "10 10 80 80 re 30 30 40 40 re " + r, loose: false})
	}
	out = append(out, probe{name: "fill: curve", loose: true, content: spot + "10 10 m 10 90 90 90 90 10 c f"},
		probe{name: "clip: text", loose: true, content: stripes + "BT /Sans 100 Tf 7 Tr 10 20 Td (O) Tj ET " + spot + "0 0 100 100 re f"})
	image := func(name string, loose bool, m, dict, data string, more ...probeStream) {
		out = append(out, probe{name: "image: " + name, loose: loose, content: stripes + spot + "q " + m + " cm /Im Do Q", xobjects: "/Im {im}",
			streams: append(more, picture("im", "/Filter /ASCIIHexDecode "+dict, data+">"))})
	}
	whole := "80 0 0 80 10 10"
	gray4 := "/Width 4 /Height 4 /BitsPerComponent 8 /ColorSpace "
	ramp := "00112233445566778899aabbccddeeff"
	image("1 bit", false, whole, "/Width 8 /Height 8 /BitsPerComponent 1 /ColorSpace /DeviceGray", "aa55aa55f00f3cc3")
	image("1 bit in a spot", false, whole, "/Width 8 /Height 8 /BitsPerComponent 1 /ColorSpace {frost}", "aa55aa55f00f3cc3")
	image("2 bit", false, whole, "/Width 4 /Height 4 /BitsPerComponent 2 /ColorSpace /DeviceGray", "1b1be4e4")
	image("4 bit", false, whole, "/Width 4 /Height 4 /BitsPerComponent 4 /ColorSpace {flash}", "0123456789abcdef")
	image("16 bit", false, whole, "/Width 2 /Height 2 /BitsPerComponent 16 /ColorSpace /DeviceGray", "0000 8000 4000 ffff")
	image("8 bit", false, whole, gray4+"/DeviceGray", ramp)
	image("8 bit in a spot", false, whole, gray4+"{flash}", ramp)
	image("spot with Decode", false, whole, gray4+"{flash} /Decode [1 0]", ramp)
	image("Indexed CMYK", false, whole, "/Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace [/Indexed /DeviceCMYK 3 <ff0000000000ff00800080000000007f>]", "00010203")
	image("stencil", false, whole, "/Width 8 /Height 8 /ImageMask true", "aa55aa55f00f3cc3")
	image("stencil with Decode", false, whole, "/Width 8 /Height 8 /ImageMask true /Decode [1 0]", "aa55aa55f00f3cc3")
	image("colour key", false, whole, gray4+"/DeviceGray /Mask [64 200]", ramp)
	image("stencil mask", false, whole, gray4+"/DeviceGray /Mask {k}", ramp, picture("k", "/Width 2 /Height 2 /ImageMask true /Filter /ASCIIHexDecode", "4080>"))
	image("soft mask", false, whole, gray4+"{frost} /SMask {k}", ramp, picture("k", gray4+"/DeviceGray /Filter /ASCIIHexDecode", "ffffffff8080808000000000ff00ff00>"))
	image("soft mask of another size", false, whole, gray4+"/DeviceCMYK /SMask {k}", strings.Repeat("80ff0020", 16), picture("k", "/Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /ASCIIHexDecode", "ff804000>"))
	image("spot at half under overprint", false, whole+" cm /On gs /Half gs 1 0 0 1 0 0", gray4+"{flash}", ramp)
	image("stencil in Multiply", false, whole+" cm /Multiply gs 1 0 0 1 0 0", "/Width 8 /Height 8 /ImageMask true", "aa55aa55f00f3cc3")
	image("two kinds of mask", false, whole, gray4+"/DeviceGray /Mask [0 255] /SMask {k}", ramp, picture("k", "/Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /ASCIIHexDecode", "ff804000>"))
	image("turned a quarter", false, "0 80 -80 0 90 10", gray4+"{flash}", ramp)
	image("mirrored", false, "-80 0 0 -80 90 90", gray4+"{flash}", ramp)
	image("rotated", true, "50 30 -30 50 40 10", gray4+"/DeviceGray", ramp)
	image("sampled down", true, whole, "/Width 160 /Height 160 /BitsPerComponent 8 /ColorSpace {flash}", strings.Repeat(strings.Repeat("00ff", 40)+strings.Repeat("4080", 40), 160))
	out = append(out,
		probe{name: "form: box and matrix", content: stripes + "/F Do", xobjects: "/F {f}", streams: []probeStream{form("f", "/BBox [0 0 30 30] /Matrix [2 0 0 1 20 10]", spot+"0 0 100 100 re f")}},
		probe{name: "form: state goes in and not out", content: spot + "/On gs /F Do 60 0 40 100 re f", xobjects: "/F {f}", streams: []probeStream{form("f", "/BBox [0 0 100 100]", "0 0 50 50 re f /Off gs /Frost cs 1 scn 20 20 50 50 re f")}},
		probe{name: "pattern: coloured tiles", content: stripes + "/Pattern cs /P scn 10 10 80 80 re f", patterns: "/P {p}", streams: []probeStream{
			{"p", "/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 10 10] /XStep 20 /YStep 20 /Matrix [.48 0 0 .48 0 0] /Resources {resources}", "/Flash cs 1 scn 0 0 10 10 re f"}}},
		probe{name: "pattern: axial shading", content: stripes + "/Pattern cs /P scn 10 10 80 80 re f",
			patterns: "/P << /PatternType 2 /Matrix [.48 0 0 .48 0 0] /Shading << /ShadingType 2 /ColorSpace {flash} /Coords [20 0 80 0] /Extend [true false] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [.2] /C1 [1] >> >> >>"},
		probe{name: "pattern: radial shading", loose: true, content: "/Ball sh",
			shadings: "/Ball << /ShadingType 3 /ColorSpace /DeviceCMYK /Coords [50 50 10 50 50 40] /Extend [true false] /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1 0 0 0] /C1 [0 0 1 0] >> >>"},
		probe{name: "Type 3: glyph in the current colour", content: stripes + spot + "BT /T3 40 Tf 10 20 Td (aa) Tj ET", fonts: typeThree, streams: []probeStream{
			{"a", "", "1000 0 0 0 800 800 d1 0 0 800 800 re f"}}},
		probe{name: "Type 3: glyph in its own colour", content: stripes + spot + "BT /T3 40 Tf 10 20 Td (aa) Tj ET", fonts: typeThree, streams: []probeStream{
			{"a", "", "1000 0 d0 /Frost cs .5 scn 0 0 800 800 re f 0 0 0 1 k 200 200 400 400 re f"}}},
		probe{name: "Type 3: overprinting black", content: stripes + "/Mode1 gs 0 0 0 1 k BT /T3 40 Tf 10 20 Td (aa) Tj ET", fonts: typeThree, streams: []probeStream{
			{"a", "", "1000 0 0 0 800 800 d1 0 0 800 800 re f"}}},
	)
	return out
}

const typeThree = "/T3 << /Type /Font /Subtype /Type3 /FontBBox [0 0 1000 1000] /FontMatrix [.001 0 0 .001 0 0] /Resources {resources} /FirstChar 97 /LastChar 97 /Widths [1000]" +
	" /Encoding << /Type /Encoding /Differences [97 /a] >> /CharProcs << /a {a} >> >>"

// probes is the whole table.
func probes() []probe {
	var out []probe
	for _, part := range [][]probe{overprints(), blends(), transparency(), marks(), patterns()} {
		out = append(out, part...)
	}
	decide(out)
	return out
}
