package truth

import "maps"

// linear is an exponential function of exponent 1.
func linear(c0, c1 string) string {
	return "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [" + c0 + "] /C1 [" + c1 + "] >>"
}

// tile is a tiling pattern in the unit of probes; changes to the matrix come last.
func tile(name, kind, box, steps, matrix, content string) probeStream {
	return probeStream{name, "/Type /Pattern /PatternType 1 /TilingType 1 /PaintType " + kind + " /BBox [" + box + "] " + steps +
		" /Matrix [" + matrix + "] /Resources {resources}", content}
}

const probeMatrix = ".48 0 0 .48 0 0"

// meshBytes are a square of two triangles (type 4): flag, x, y in 8 bits over 0 to 102, then a colour.
func meshData(colours ...string) string {
	corners := []string{"00 1919", "00 cd19", "00 19cd", "01 cdcd"} // 10 to 82
	out := ""
	for i, c := range corners {
		out += c + colours[i]
	}
	return out + ">"
}

// patchData is one patch over the same square (type 6) with straight sides.
func patchData(c1, c2, c3, c4 string) string {
	return "00 1919 1955 1991 19cd 55cd 91cd cdcd cd91 cd55 cd19 9119 5519" + c1 + c2 + c3 + c4 + ">"
}

// patterns asks of shadings and tilings.
func patterns() []probe {
	var out []probe
	fill := stripes + "/Pattern cs /P scn 10 10 80 80 re f"
	shading := func(name, dict, content string, more ...probeStream) {
		out = append(out, probe{name: "shading: " + name, content: content, streams: more,
			patterns: "/P << /PatternType 2 /Matrix [" + probeMatrix + "] /Shading " + dict + " >>", shadings: "/S " + dict})
	}
	axial := func(space, c0, c1, more string) string {
		return "<< /ShadingType 2 /ColorSpace " + space + " /Coords [10 0 90 0] " + more + " /Function " + linear(c0, c1) + " >>"
	}
	both := "/Extend [true true]"
	shading("gray, overprint", axial("/DeviceGray", "0", "1", both), threeWays("/Pattern cs /P scn"+column))
	shading("DeviceN, overprint", axial("{mixed}", "1 0 .2", "0 .5 1", both), threeWays("/Pattern cs /P scn"+column))
	shading("in a stroke", axial("{flash}", "0", "1", both), stripes+"/Pattern CS /P SCN 20 w 10 50 m 90 50 l S")
	shading("in a stencil", axial("/DeviceCMYK", "0 1 0 0", "1 0 0 .5", both), stripes+"/Pattern cs /P scn q 80 0 0 80 10 10 cm BI /W 2 /H 2 /IM true /F /AHx ID 4080> EI Q")
	shading("at half alpha", axial("{flash}", "0", "1", both), stripes+"/Half gs /Pattern cs /P scn 10 10 80 80 re f")
	shading("at half alpha, overprint", axial("{flash}", "0", "1", both), stripes+"/On gs /Half gs /Pattern cs /P scn 10 10 80 80 re f")
	shading("in Multiply", axial("/DeviceCMYK", "0 1 0 0", "1 0 0 .5", both), stripes+"/Multiply gs /Pattern cs /P scn 10 10 80 80 re f")
	shading("not extended", axial("{flash}", ".5", "1", ""), stripes+"q 0 10 100 80 re W n /S sh Q")
	shading("background", axial("{flash}", ".5", "1", "/Background [.2]"), stripes+"/Pattern cs /P scn 0 10 100 80 re f")
	shading("background and box", axial("{flash}", ".5", "1", "/Background [.2] /BBox [30 30 70 70]"), fill)
	shading("box", axial("{flash}", ".5", "1", "/BBox [30 30 70 70]"), fill)
	shading("sh leaves the background out", axial("{flash}", ".5", "1", "/Background [.2]"), stripes+"q 0 10 100 80 re W n /S sh Q")
	shading("stitched with a jump", "<< /ShadingType 2 /ColorSpace {flash} /Coords [10 0 90 0] /Function << /FunctionType 3 /Domain [0 1] /Bounds [.5] /Encode [0 1 0 1] /Functions ["+linear("0", ".5")+linear("1", ".5")+"] >> >>", fill)
	shading("a circle to a circle beside it", "<< /ShadingType 3 /ColorSpace {flash} /Coords [25 50 5 70 50 20] /Extend [true true] /Function "+linear(".2", "1")+" >>", fill)
	shading("circles of one size", "<< /ShadingType 3 /ColorSpace {flash} /Coords [25 50 15 70 50 15] /Extend [false true] /Function "+linear(".2", "1")+" >>", fill)
	shading("a large circle to a small one", "<< /ShadingType 3 /ColorSpace /DeviceCMYK /Coords [50 50 45 60 50 5] /Extend [false true] /Function "+linear("0 0 0 0", "0 1 0 .5")+" >>", fill)
	shading("function of two values", "<< /ShadingType 1 /ColorSpace /DeviceCMYK /Matrix [80 0 0 80 10 10] /Function {f} >>", fill,
		probeStream{"f", "/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ 2 copy mul 0 }"})
	shading("function of two values in a spot", "<< /ShadingType 1 /ColorSpace {flash} /Matrix [80 0 0 80 10 10] /Function {f} >>", fill,
		probeStream{"f", "/FunctionType 4 /Domain [0 1 0 1] /Range [0 1]", "{ mul }"})
	mesh := func(name, kind, space, decode, data, function string) {
		dict := "/ShadingType " + kind + " /ColorSpace " + space + " /BitsPerCoordinate 8 /BitsPerComponent 8 /BitsPerFlag 8 /Decode [0 102 0 102 " + decode + "] /Filter /ASCIIHexDecode" + function
		out = append(out, probe{name: "shading: " + name, loose: true, content: fill, streams: []probeStream{{"s", dict, data}},
			patterns: "/P << /PatternType 2 /Matrix [" + probeMatrix + "] /Shading {s} >>"})
	}
	mesh("triangles", "4", "/DeviceCMYK", "0 1 0 1 0 1 0 1", meshData("ff000000", "00ff0000", "0000ff00", "000000ff"), "")
	mesh("triangles in a spot", "4", "{flash}", "0 1", meshData("00", "ff", "ff", "80"), "")
	mesh("triangles with a function", "4", "{flash}", "0 1", meshData("00", "ff", "ff", "80"), " /Function "+linear("1", ".1"))
	mesh("patch", "6", "/DeviceCMYK", "0 1 0 1 0 1 0 1", patchData("ff000000", "00ff0000", "0000ff00", "000000ff"), "")
	mesh("patch in a spot", "6", "{flash}", "0 1", patchData("00", "ff", "80", "ff"), "")

	tiles := func(name, content string, streams ...probeStream) {
		out = append(out, probe{name: "tiles: " + name, loose: true, content: content, patterns: "/P {p} /Q {q}", streams: append(streams, tile("q", "1", "0 0 10 10", "/XStep 20 /YStep 20", probeMatrix, "0 0 0 1 k 0 0 10 10 re f"))})
	}
	const every20 = "/XStep 20 /YStep 20"
	two := "/Flash cs 1 scn 0 0 10 10 re f 0 .5 0 0 k 5 5 10 10 re f"
	tiles("two objects", fill, tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("overprint inside", fill, tile("p", "1", "0 0 20 20", every20, probeMatrix, "/On gs "+two))
	tiles("overprint mode 1 inside", fill, tile("p", "1", "0 0 20 20", every20, probeMatrix, "/Mode1 gs "+two))
	tiles("overprint where they are used", stripes+"/On gs /Pattern cs /P scn 10 10 80 80 re f", tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("alpha inside", fill, tile("p", "1", "0 0 20 20", every20, probeMatrix, "/Half gs "+two))
	tiles("at half alpha", stripes+"/Half gs /Pattern cs /P scn 10 10 80 80 re f", tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("Multiply inside", fill, tile("p", "1", "0 0 20 20", every20, probeMatrix, "/Multiply gs "+two))
	tiles("in Multiply", stripes+"/Multiply gs /Pattern cs /P scn 10 10 80 80 re f", tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("mirrored and scaled", fill, tile("p", "1", "0 0 20 20", every20, "-.24 0 0 .96 0 0", two))
	tiles("turned a quarter", fill, tile("p", "1", "0 0 20 20", every20, "0 .48 -.48 0 4.8 0", two))
	tiles("cells that touch", fill, tile("p", "1", "0 0 10 10", "/XStep 10 /YStep 10", probeMatrix, "/Flash cs .6 scn 0 0 10 10 re f"))
	tiles("clipped to the box", fill, tile("p", "1", "5 5 15 15", every20, probeMatrix, two))
	tiles("negative steps", fill, tile("p", "1", "0 0 20 20", "/XStep -20 /YStep -20", probeMatrix, two))
	tiles("in a stroke", stripes+"/Pattern CS /P SCN 20 w 10 50 m 90 50 l S", tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("in a stencil", stripes+"/Pattern cs /P scn q 80 0 0 80 10 10 cm BI /W 2 /H 2 /IM true /F /AHx ID 4080> EI Q", tile("p", "1", "0 0 20 20", every20, probeMatrix, two))
	tiles("in tiles", fill, tile("p", "1", "0 0 40 40", "/XStep 40 /YStep 40", probeMatrix, "/Pattern cs /Q scn 0 0 25 25 re f /Flash cs 1 scn 30 30 10 10 re f"))
	tiles("a shading inside", fill, tile("p", "1", "0 0 40 40", "/XStep 40 /YStep 40", probeMatrix, "q 0 0 20 40 re W n /S sh Q"))
	out[len(out)-1].shadings = "/S << /ShadingType 2 /ColorSpace {flash} /Coords [0 0 0 40] /Function " + linear("0", "1") + " >>"
	plain := tile("p", "2", "0 0 10 10", every20, probeMatrix, "0 0 10 10 re f")
	for _, c := range [][2]string{{"CMYK", "/PatC cs 0 .5 0 .2 /P scn"}, {"a spot", "/PatF cs .7 /P scn"}} {
		p := probe{name: "tiles: uncoloured in " + c[0] + ", overprint", loose: true, content: threeWays(c[1] + column), patterns: "/P {p}", streams: []probeStream{plain}}
		p.spaces = "/PatC [/Pattern /DeviceCMYK] /PatF [/Pattern {flash}]"
		out = append(out, p)
	}
	return out
}

// The clauses that decide probes of patterns (see decided). Tiles have Flash from 0 to 10 and half magenta from 5 to 15,
// in every 20 pixels.
var decidedPatterns = map[string][2]string{
	"shading: gray, overprint": {"Table 146: gray specifies the process components as a whole, and none of the spots", `
		50 62: K 49.4 Frost 60
		50 88: K 49.4
		8 62: K 100`},
	"shading: sh leaves the background out": {"Table 77: the background applies to shading patterns, not to sh", `
		95 88: C 50 Y 20 K 10
		50 88: Flash 75.3`},
	"shading: background and box": {"11.6.7: the pattern is filled with the background before sh is invoked, and sh alone is clipped by BBox", `
		15 62: Flash 20
		50 50: Flash 75.3`},
	"shading: function of two values in a spot": {"8.7.4.4: tints are found in the shading's space, and the spot has its plate", `
		50 50: Flash 25.6`},
	"shading: triangles in a spot": {"8.7.4.4: tints are found in the shading's space, and the spot has its plate", `
		30 30: Flash 56.9`},
	"shading: patch in a spot": {"8.7.4.4: tints are found in the shading's space, and the spot has its plate", `
		30 30: Flash 44.8`},
	"shading: at half alpha, overprint": {"11.7.4.3: what overprint leaves is the backdrop's at any alpha, of shadings too (Table 146)", `
		50 62: C 50 Y 20 K 10 Frost 60 Flash 25.3
		50 37: Frost 60 Flash 25.3`},
	"tiles: overprint inside": {"11.6.7: a cell is a non-isolated group, so that overprint in it keeps what lies below the pattern (11.7.4.3)", `
		22 67: C 50 Y 20 K 10 Frost 60 Flash 100
		27 67: M 50 Frost 60 Flash 100
		38 38: Frost 60`},
	"tiles: overprint mode 1 inside": {"11.6.7: a cell is a non-isolated group, so that overprint in it keeps what lies below the pattern (11.7.4.3)", `
		22 67: C 50 Y 20 K 10 Frost 60 Flash 100
		27 67: C 50 M 50 Y 20 K 10 Frost 60 Flash 100`},
	"tiles: overprint where they are used": {"11.6.7: a cell does not inherit the graphics state it is used in; as a whole it is painted like a group (Table 146)", `
		27 27: M 50
		22 27: Flash 100
		38 38: Frost 60`},
	"tiles: at half alpha": {"11.6.7: all tiles are one group, whose colour and opacity are those of the object", `
		27 67: C 25 M 25 Y 10 K 5 Frost 30
		22 27: Frost 30 Flash 50
		38 38: Frost 60`},
	"tiles: Multiply inside": {"11.6.7: a cell is a non-isolated group: its objects blend with what lies below the pattern", `
		27 67: C 50 M 50 Y 20 K 10 Frost 60 Flash 100
		22 27: Frost 60 Flash 100`},
	"tiles: in Multiply": {"11.6.7: all tiles are one group, which blends as a whole", `
		27 67: C 50 M 50 Y 20 K 10 Frost 60
		22 27: Frost 60 Flash 100`},
	"tiles: uncoloured in CMYK, overprint": {"8.7.3.3: an uncoloured cell is a stencil for the current colour, to which overprint applies (8.6.7)", `
		8 68: M 50 K 20
		45 68: M 50 K 20 Frost 60
		85 68: C 50 M 50 Y 20 K 20 Frost 60
		55 68: C 50 Y 20 K 10 Frost 60`},
	"tiles: uncoloured in a spot, overprint": {"8.7.3.3: an uncoloured cell is a stencil for the current colour, to which overprint applies (8.6.7)", `
		8 68: Flash 70
		45 68: C 50 Y 20 K 10 Frost 60 Flash 70
		55 68: C 50 Y 20 K 10 Frost 60`},
}

// againstBothPatterns: both interpreters clip a background to the box, do without overprint where a
// shading or what is in a cell is transparent or in a group.
var againstBothPatterns = map[string][]string{
	"shading: at half alpha, overprint": {"Black", "Cyan", "Frost", "Yellow"},
	"shading: background and box":       {"Black", "Cyan", "Flash", "Frost", "Yellow"},
	"tiles: overprint inside":           {"Black", "Cyan", "Frost", "Yellow"},
	"tiles: overprint mode 1 inside":    {"Black", "Cyan", "Frost", "Yellow"},
}

func init() {
	maps.Copy(decided, decidedPatterns)
	for name, plates := range againstBothPatterns {
		for _, plate := range plates {
			againstBoth[[2]string{name, plate}] = true
		}
	}
}
