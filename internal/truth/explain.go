package truth

import "fmt"

// Public test files are named by the first eight digits of their SHA-256: their names are other people's.

// notCompared are files no fair comparison can be made of, each with the reason.
var notCompared = map[string]string{
	"670ee4b1": "runs past every limit in all three programs",
}

// daily are the files the ordinary test run compares, chosen for what they hold: spots in images, DeviceN,
// overprint, soft masks, groups, fonts; `make truth` takes all.
var daily = map[string]bool{
	"5837f0d5": true,
	"09aa6fe6": true,
	"3d7a8df1": true,
	"e8058656": true,
	"b86cc154": true,
	"e9cfc712": true,
	"6d684558": true,
	"964e15a6": true,
	"5482d758": true,
	"798d141c": true,
	"ff110a12": true,
	"affe6555": true,
	"d084c973": true,
}

// explained tells, by file and plate ("" = all plates), which clause decides a difference.
var explained = map[[2]string]string{
	{"947e0397", "Black"}: "a page of nothing but small type: 10.7.4 lets a device paint every pixel a glyph touches, " +
		"which both interpreters do at 600 dpi; ours is the exact area, a quarter pixel thinner all round at 150 dpi",
	{"21f9536a", ""}:    "the text is in an ICCBased space whose profile is a Lab one (Tables 65 to 67); the mutool compared with has no ICC and takes L*, a*, b* for R, G, B",
	{"82f80aa1", ""}:    "11.4.7 with 11.7.2: a group without a colour space of its own blends in the process space of the page, here CMYK; that mutool blends these RGB objects before converting them is deduced from its output, not confirmed",
	{"8ac40dc4", ""}:    "9.3.3: word spacing applies to every single-byte code 32, in Type 3 fonts too",
	{"c04be73c", ""}:    "8.11.3: the images are in layers that are off by the default configuration; gs shows them",
	{"d3047229", ""}:    "8.6.6.5: the named colourant has a plate; mutool paints it in process colours",
	{"c691fb32", ""}:    "11.6.5.2: outside the mask group's BBox the mask is the transfer function of the backdrop's luminosity",
	{"672c3765", ""}:    "11.3.5.3: what non-separable modes do to black is told for CMYK; that gs differs there is deduced from the modes the page uses, not traced",
	{"1c780335", ""}:    "gs gives no picture of this damaged file",
	{"5a5f76a9", ""}:    "gs gives no picture of this file",
	{"c4fad25c", ""}:    "8.6.6.4 and 8.7.3.3: an uncoloured tiling in a named colourant goes to that colourant's plate; mutool paints it in process colours",
	{"2cabb96f", ""}:    "8.7.3.1: tiles stand where the pattern's matrix puts them from the page's own space, in every shape painted; gs shows them elsewhere and leaves some out. Its lines are as wide as whole pixels of its own (10.7.4)",
	{"00018271", "C+K"}: "11.4.8: a group's result is its own colour without the backdrop; in gs the boxes of groups show as rectangles a few steps off what lies round them",
	{"4041c1e3", ""}:    "a page of nothing but small type: 10.7.4 lets a device paint every pixel a glyph touches, which gs does at 600 dpi; ours is the exact area",
	{"473f369f", ""}:    "a photograph with as many samples as pixels: which samples a pixel takes is the device's affair (8.9.5.3, 10.7.4), and each of the three does it its own way; ours is the mean of what lies under the pixel",
	{"da0deb27", ""}:    "11.5.3: the mask's luminosity has 16 bits here; mutool's plate of many small masked parts is off gs and ours alike",
	{"13f2728f", ""}:    "a Lab image: each converts Lab its own way (8.6.5.4 with 10.4 leaves the device's part open)",
}

// explain finds the reason of a row: of its page and plate, its file and plate, its page, its file.
func explain(r *Row) string {
	page := fmt.Sprintf("%s/%d", r.File, r.Page)
	for _, key := range [][2]string{{page, r.Plate}, {r.File, r.Plate}} {
		if s, ok := explained[key]; ok {
			return s
		}
	}
	if r.Verdict() == "both" {
		return ""
	}
	if s, ok := explained[[2]string{page, ""}]; ok {
		return s
	}
	return explained[[2]string{r.File, ""}]
}
