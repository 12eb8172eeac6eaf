package truth

import (
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/pdfbuild"
)

// groupCase lays C 50 % and White in full on columns 0 to 3 of a page of 8 x 1 pixels and a transparency group
// on columns 2 to 5, so that a row reads: the lower alone, the group on it, the group alone, bare stock.
type groupCase struct {
	name       string
	clause     string // what docs/imaging.md says, in short
	attributes string // of the Group dictionary
	outer      string // graphics state the group is shown in
	content    string
	page       string // more of the page's dictionary
	want       string
}

// More resources than the vectors have.
const groupResources = " /Half << /ca .5 /CA .5 >> /Screen << /BM /Screen >> /Luminosity << /BM /Luminosity >>"

func groupFile(c *groupCase) *pdfbuild.File {
	f := pdfbuild.New()
	tint := f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ pop 0 0 0 }")
	resources := vectorResources[:len(vectorResources)-len(" >>")] + groupResources + " >>"
	resources = "/ColorSpace << /Pair [ /DeviceN [/White /Silver] /DeviceCMYK " + pdfbuild.Ref(tint) + " ] /Mixed [ /DeviceN [/Cyan /White] /DeviceCMYK " +
		pdfbuild.Ref(tint) + " ] /Every [ /Separation /All /DeviceCMYK " + pdfbuild.Ref(f.Stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]", "{ dup dup dup }")) + " ]" +
		resources[len("/ColorSpace <<"):]
	inner := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 8 1] /Group << /S /Transparency >> /Resources << "+resources+" >>",
		"/On gs /Silver cs .6 scn"+onUpper)
	g := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 8 1] /Group << /S /Transparency "+c.attributes+" >> /Resources << "+resources+
		" /XObject << /Inner "+pdfbuild.Ref(inner)+" >> >>", c.content)
	f.Page(8, 1, resources+" /XObject << /G "+pdfbuild.Ref(g)+" >>", lower+"/Off gs "+c.outer+" /G Do", c.page)
	return f
}

const silverOver = "/On gs /Silver cs .6 scn" + onUpper

// Overprint inside transparency groups (docs/imaging.md, section 4). The tints are worked out by hand from
// the formulas named there: 80 = 50 %, 99 = 60 %, 4d = 30 %, 40 = 25 %.
func TestGroups_overprintInside(t *testing.T) {
	for _, c := range []groupCase{
		{name: "non-isolated", clause: "4.1: what a member leaves is the group's backdrop", content: silverOver, want: `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "isolated", clause: "4.2: an isolated group has no backdrop to leave; as a whole it paints over", attributes: "/I true", content: silverOver, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "isolated, on a member", clause: "4.2: inside, members are each other's backdrop", attributes: "/I true",
			content: "/White cs .4 scn 2 0 2 1 re f " + silverOver, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 66 66 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "knockout", clause: "4.3: in a knockout group every member meets the initial backdrop, not the members below", attributes: "/K true",
			content: "0 1 0 0 k" + onUpper + silverOver, want: `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "isolated knockout", clause: "4.3: which in an isolated one is nothing", attributes: "/K true /I true",
			content: "0 1 0 0 k" + onUpper + silverOver, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "non-isolated at half", clause: "4.4: what is left is the backdrop's at any alpha", outer: "/Half gs", content: silverOver, want: `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff 00 00 00 00
			Silver
			00 00 4d 4d 4d 4d 00 00`},
		{name: "isolated at half", clause: "4.4: an isolated group thins what it paints over", attributes: "/I true", outer: "/Half gs", content: silverOver, want: `
			Cyan
			80 80 40 40 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 7f 7f 00 00 00 00
			Silver
			00 00 4d 4d 4d 4d 00 00`},
		{name: "OPM 1", clause: "4.5: OPM 1 acts in groups whose space is CMYK", content: "/Mode1 gs 0 0 0 1 k" + onUpper, want: `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver -`},
		{name: "OPM 1, isolated CMYK", clause: "4.5 and 4.2: there too, on what the group holds", attributes: "/I true /CS /DeviceCMYK",
			content: ".2 0 0 0 k 2 0 2 1 re f /Mode1 gs 0 0 0 1 k" + onUpper, want: `
			Cyan
			80 80 33 33 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff 00 00 00 00 00 00
			Silver -`},
		{name: "OPM 1, isolated RGB", clause: "4.5: not in one whose space is RGB; spots are left all the same", attributes: "/I true /CS /DeviceRGB",
			content: ".2 0 0 0 k 2 0 2 1 re f /On gs /White cs .4 scn 2 0 2 1 re f /Mode1 gs 0 0 0 1 k" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff 66 66 00 00 00 00
			Silver -`},
		{name: "the group's own OP", clause: "4.6: OP in force at Do says nothing of the group as a whole; it goes into the group", outer: "/On gs",
			content: "/Silver cs .6 scn" + onUpper, attributes: "/I true", want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "nested", clause: "4.1: the backdrop reaches through non-isolated groups", content: "/Inner Do", want: `
			Cyan
			80 80 80 80 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "nested in an isolated one", clause: "4.2: and stops at isolated ones", attributes: "/I true", content: "0 .3 0 0 k 2 0 2 1 re f /Inner Do", want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta
			00 00 4d 4d 00 00 00 00
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		// White 1 under .7 multiplied stays 1, Silver 0 under .6 becomes .6; the group's Cyan is what was left, so that
		// 50 % lies on 50 %.
		{name: "with Multiply", clause: "4.7: overprint with a mode is a group of its own: it leaves first, then the group, what was left included, is multiplied",
			content: "/On gs /Multiply gs /Pair cs .7 .6 scn" + onUpper, want: `
			Cyan
			80 80 c0 c0 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff ff ff b3 b3 00 00
			Silver
			00 00 99 99 99 99 00 00`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Log(c.clause)
			sameGrid(t, vector(t, groupFile(&c), interp.Options{}, nil).Stack, c.want)
		})
	}
}

// Spots through groups of other spaces than CMYK (docs/imaging.md, section 5).
func TestGroups_spotsBesideTheSpace(t *testing.T) {
	rgb := "/I true /CS /DeviceRGB"
	for _, c := range []groupCase{
		{name: "knocks out", clause: "5.1: a spot goes through unconverted; without overprint it takes the others away", attributes: rgb,
			content: "1 0 0 rg 2 0 2 1 re f /White cs .4 scn" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 66 66 66 66 00 00
			Silver -`},
		{name: "gray", clause: "5.1: beside gray as well", attributes: "/I true /CS /DeviceGray",
			content: ".4 g 2 0 4 1 re f /On gs /White cs .4 scn 2 0 2 1 re f", want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 99 99 99 99 00 00
			White
			ff ff 66 66 00 00 00 00
			Silver -`},
		{name: "Multiply", clause: "5.2: separable modes act on spots as tints, whatever the space", attributes: rgb,
			content: "/White cs .4 scn 2 0 2 1 re f /Multiply gs .7 scn" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff d1 d1 b3 b3 00 00
			Silver -`},
		{name: "Luminosity", clause: "5.2: other modes are Normal for spots", attributes: rgb,
			content: "/White cs .4 scn 2 0 2 1 re f /Luminosity gs .7 scn" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff b3 b3 b3 b3 00 00
			Silver -`},
		// .7 is 178.5 of 255; half has 16 bits and is a little more than half.
		{name: "at half", clause: "5.3: one alpha serves all components", attributes: rgb, outer: "/Half gs",
			content: "/On gs 1 0 0 rg" + onUpper + "/White cs .4 scn 2 0 2 1 re f", want: `
			Cyan
			80 80 40 40 00 00 00 00
			Magenta
			00 00 80 80 80 80 00 00
			Yellow
			00 00 80 80 80 80 00 00
			Black -
			White
			ff ff b2 b2 00 00 00 00
			Silver -`},
		{name: "nested", clause: "5.4: a group that is not isolated inherits the space; the spots of both meet", attributes: rgb,
			content: "1 0 0 rg" + onUpper + "/Inner Do", want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta
			00 00 ff ff ff ff 00 00
			Yellow
			00 00 ff ff ff ff 00 00
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		{name: "DeviceN of spots", clause: "5.1: all of its names have plates", attributes: rgb, content: "/Pair cs .4 .6 scn" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 66 66 66 66 00 00
			Silver
			00 00 99 99 99 99 00 00`},
		// The tint transform gives the Cyan of the space; its White goes with it.
		{name: "DeviceN with a process name", clause: "5.5: a process toner cannot be named where the space is not CMYK, so the space goes through its alternate",
			attributes: rgb, content: "/Mixed cs .4 .6 scn" + onUpper, want: `
			Cyan
			80 80 66 66 66 66 00 00
			Magenta -
			Yellow -
			Black -
			White
			ff ff 00 00 00 00 00 00
			Silver -`},
		// R, G and B are each 1 - .4: black alone when converted.
		{name: "All", clause: "5.6: All names the components of the group and all spots", attributes: rgb, content: "/Every cs .4 scn" + onUpper, want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 66 66 66 66 00 00
			White
			ff ff 66 66 66 66 00 00
			Silver
			00 00 66 66 66 66 00 00`},
		{name: "RGB page group", clause: "5.7: under a page group that blends overprint keeps spots, and OPM 1 asks for CMYK", page: "/Group << /S /Transparency /CS /DeviceRGB >>",
			attributes: "/I true /CS /DeviceCMYK", outer: "/Mode1 gs 0 0 0 1 k 2 0 4 1 re f /Multiply gs", content: "/Silver cs 1 scn 7 0 1 1 re f", want: `
			Cyan
			80 80 00 00 00 00 00 00
			Magenta -
			Yellow -
			Black
			00 00 ff ff ff ff 00 00
			White
			ff ff ff ff 00 00 00 00
			Silver
			00 00 00 00 00 00 00 ff`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Log(c.clause)
			sameGrid(t, vector(t, groupFile(&c), interp.Options{}, nil).Stack, c.want)
		})
	}
}
