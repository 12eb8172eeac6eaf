package stress

import (
	"bytes"
	"fmt"
	"strings"

	"laydown/internal/pdfbuild"
)

// Case is a file that asks for more than anybody may have.
type Case struct {
	Name string
	// File makes the file.
	File func() []byte
	// Args are flags of the commands it is run with, beside the file and the output.
	Args []string
	// Heavy files are painted and not checked, which would take long and tell nothing new.
	Heavy bool
}

// Cases are all hostile files.
func Cases() []Case {
	return []Case{
		{Name: "ten million items in forms", File: itemsInForms, Heavy: true},
		{Name: "ten million items in a row", File: itemsInARow, Heavy: true},
		{Name: "forms within themselves", File: formsInThemselves},
		{Name: "a tiling pattern within its cell", File: patternInItself},
		{Name: "a soft mask within its group", File: maskInItself},
		{Name: "Type 3 glyphs within themselves", File: glyphsInThemselves},
		{Name: "forms doubling 28 times", File: func() []byte { return nestedForms(27, 2) }, Heavy: true},
		{Name: "forms tenfold nine times", File: func() []byte { return nestedForms(9, 10) }, Heavy: true},
		{Name: "transparent forms doubling", File: nestedGroups, Heavy: true, Args: []string{"--dpi", "72"}},
		{Name: "tilings of tilings", File: nestedTilings},
		{Name: "a tiling of a million cells", File: tinyTiling},
		{Name: "soft masks of soft masks", File: nestedMasks},
		{Name: "a page of 35 metres", File: hugePage},
		{Name: "a page of 35 metres, coarsely", File: hugePage, Args: []string{"--dpi", "10"}},
		{Name: "ten thousand Separations", File: func() []byte { return manySeparations(10_000) }},
		{Name: "a DeviceN space of ten thousand", File: func() []byte { return manyInOne(10_000) }},
		{Name: "DeviceN spaces of 32, ten thousand names", File: manyDeviceN},
	}
}

func itemsInForms() []byte {
	f := pdfbuild.New()
	var b bytes.Buffer
	for i := range 10_000 {
		fmt.Fprintf(&b, "%d %d 1 1 re f\n", i%100*2, i/100*2)
	}
	form := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 200 200]", b.String())
	f.Page(200, 200, "/XObject << /F "+pdfbuild.Ref(form)+" >>", strings.Repeat("/F Do\n", 1000))
	return f.Bytes()
}

func itemsInARow() []byte {
	f := pdfbuild.New()
	var b bytes.Buffer
	r := noise(3)
	for range 10_000_000 {
		fmt.Fprintf(&b, "%d %d 1 1 re f\n", r.next(200), r.next(200))
	}
	f.PageWith(200, 200, "", pdfbuild.Ref(flate(f, "", b.Bytes())))
	return f.Bytes()
}

// formsInThemselves has a form that draws itself, and two that draw each other.
func formsInThemselves() []byte {
	f := pdfbuild.New()
	form := func(self int, draws ...int) {
		res, content := "", ""
		for i, d := range draws {
			res += fmt.Sprintf(" /F%d %s", i, pdfbuild.Ref(d))
			content += fmt.Sprintf("q 0.99 0 0 0.99 1 1 cm /F%d Do Q ", i)
		}
		f.Set(self, fmt.Sprintf("<< /Type /XObject /Subtype /Form /BBox [0 0 200 200] /Resources << /XObject << %s >> >> /Length %d >>\nstream\n%s0 0 5 5 re f\nendstream",
			res, len(content)+len("0 0 5 5 re f"), content))
	}
	a, b, c := f.Add(""), f.Add(""), f.Add("")
	form(a, a, a)
	form(b, c, c)
	form(c, b, a)
	f.Page(200, 200, fmt.Sprintf("/XObject << /A %s /B %s >>", pdfbuild.Ref(a), pdfbuild.Ref(b)), "/A Do /B Do")
	return f.Bytes()
}

func patternInItself() []byte {
	f := pdfbuild.New()
	n := f.Add("")
	content := "/Pattern cs /P scn 0 0 10 10 re f /P2 scn 0 0 5 5 re f"
	f.Set(n, fmt.Sprintf(`<< /Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 10 10] /XStep 10 /YStep 10
		/Resources << /Pattern << /P %s /P2 %s >> >> /Length %d >>
stream
%s
endstream`, pdfbuild.Ref(n), pdfbuild.Ref(n), len(content), content))
	f.Page(200, 200, "/Pattern << /P "+pdfbuild.Ref(n)+" >>", "/Pattern cs /P scn 0 0 200 200 re f")
	return f.Bytes()
}

func maskInItself() []byte {
	f := pdfbuild.New()
	n := f.Add("")
	content := "/M gs 1 g 0 0 100 100 re f /G Do"
	f.Set(n, fmt.Sprintf(`<< /Type /XObject /Subtype /Form /BBox [0 0 200 200] /Group << /S /Transparency /CS /DeviceGray >>
		/Resources << /ExtGState << /M << /SMask << /S /Luminosity /G %s >> >> >> /XObject << /G %s >> >> /Length %d >>
stream
%s
endstream`, pdfbuild.Ref(n), pdfbuild.Ref(n), len(content), content))
	f.Page(200, 200, fmt.Sprintf("/ExtGState << /M << /SMask << /S /Luminosity /G %s >> >> >>", pdfbuild.Ref(n)), "/M gs 0 0 0 1 k 0 0 200 200 re f")
	return f.Bytes()
}

func glyphsInThemselves() []byte {
	f := pdfbuild.New()
	font := f.Add("")
	proc := f.Stream("", "1000 0 d0 BT /F 1 Tf (ab) Tj ET 0 0 500 500 re f")
	f.Set(font, fmt.Sprintf(`<< /Type /Font /Subtype /Type3 /FontBBox [0 0 1000 1000] /FontMatrix [0.001 0 0 0.001 0 0] /FirstChar 97 /LastChar 98
		/Widths [1000 1000] /Encoding << /Type /Encoding /Differences [97 /a /b] >> /CharProcs << /a %s /b %s >>
		/Resources << /Font << /F %s >> >> >>`, pdfbuild.Ref(proc), pdfbuild.Ref(proc), pdfbuild.Ref(font)))
	f.Page(200, 200, "/Font << /F "+pdfbuild.Ref(font)+" >>", "BT /F 20 Tf 10 100 Td (abab) Tj ET")
	return f.Bytes()
}

// nestedForms draws each form so many times in the next.
func nestedForms(levels, times int) []byte {
	f := pdfbuild.New()
	inner := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 200 200]", "0 0 3 3 re f")
	for range levels {
		inner = f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 200 200] /Resources << /XObject << /F "+pdfbuild.Ref(inner)+" >> >>",
			strings.Repeat("q 0.98 0 0 0.98 2 1 cm /F Do Q ", times))
	}
	f.Page(200, 200, "/XObject << /F "+pdfbuild.Ref(inner)+" >>", "/F Do")
	return f.Bytes()
}

// nestedGroups doubles translucent groups of the size of the page, twenty deep.
func nestedGroups() []byte {
	f := pdfbuild.New()
	const attributes = "/Type /XObject /Subtype /Form /BBox [0 0 600 600] /Group << /S /Transparency /K true >>"
	inner := f.Stream(attributes, "0 0 0 1 k 0 0 600 600 re f")
	for range 20 {
		inner = f.Stream(attributes+" /Resources << /ExtGState << /T << /ca 0.5 /BM /Multiply >> >> /XObject << /F "+pdfbuild.Ref(inner)+" >> >>",
			"/T gs /F Do /F Do")
	}
	f.Page(600, 600, "/XObject << /F "+pdfbuild.Ref(inner)+" >>", "/F Do", "/Group << /S /Transparency /CS /DeviceRGB >>")
	return f.Bytes()
}

// nestedTilings fills the cell of each pattern with a finer one.
func nestedTilings() []byte {
	f := pdfbuild.New()
	inner := 0
	for level := range 8 {
		resources, content := "", "0 0 0 1 k 0 0 1 1 re f"
		if inner > 0 {
			resources = "/Resources << /Pattern << /P " + pdfbuild.Ref(inner) + " >> >>"
			content = "/Pattern cs /P scn 0 0 600 600 re f"
		}
		step := 2 + level
		inner = f.Stream(fmt.Sprintf("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 %d %d] /XStep %d /YStep %d %s", step, step, step, step, resources),
			content)
	}
	f.Page(600, 600, "/Pattern << /P "+pdfbuild.Ref(inner)+" >>", "/Pattern cs /P scn 0 0 600 600 re f")
	return f.Bytes()
}

// tinyTiling asks for cells far smaller than a pixel.
func tinyTiling() []byte {
	f := pdfbuild.New()
	p := f.Stream("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 0.001 0.001] /XStep 0.0005 /YStep 0.0005 /Resources << >>",
		"0 0 0 1 k 0 0 0.0005 0.001 re f")
	f.Page(600, 600, "/Pattern << /P "+pdfbuild.Ref(p)+" >>", "/Pattern cs /P scn 0 0 600 600 re f 0 0 300 300 re S")
	return f.Bytes()
}

// nestedMasks masks each mask's group by the one before, twice.
func nestedMasks() []byte {
	f := pdfbuild.New()
	const attributes = "/Type /XObject /Subtype /Form /BBox [0 0 600 600] /Group << /S /Transparency /CS /DeviceGray >>"
	inner := f.Stream(attributes, "0.5 g 0 0 600 600 re f")
	for range 20 {
		inner = f.Stream(attributes+" /Resources << /ExtGState << /M << /SMask << /S /Luminosity /G "+pdfbuild.Ref(inner)+
			" >> >> /N << /SMask << /S /Alpha /G "+pdfbuild.Ref(inner)+" >> >> >> >>",
			"/M gs 1 g 0 0 600 300 re f /N gs 0.5 g 0 300 600 300 re f")
	}
	f.Page(600, 600, "/ExtGState << /M << /SMask << /S /Luminosity /G "+pdfbuild.Ref(inner)+" >> >> >>", "/M gs 0 0 0 1 k 0 0 600 600 re f")
	return f.Bytes()
}

func hugePage() []byte {
	f := pdfbuild.New()
	f.Page(100_000, 100_000, spots(1), "0 0 0 1 k 10 10 80000 80000 re f /S0 cs 1 scn 500 500 m 90000 700 40000 90000 100 100 c h f 5 w 0 0 m 100000 100000 l S")
	return f.Bytes()
}

func manySeparations(n int) []byte {
	f := pdfbuild.New()
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "/S%d cs 1 scn %d %d 1 1 re f\n", i, i%100*2, i/100*2)
	}
	f.Page(200, 200, spots(n), b.String())
	return f.Bytes()
}

// deviceNSpace is a DeviceN space of n colourants, the first of them Toner from.
func deviceNSpace(f *pdfbuild.File, from, n int) string {
	var names strings.Builder
	for i := range n {
		fmt.Fprintf(&names, "/Toner#20%d ", from+i)
	}
	function := f.Stream(fmt.Sprintf("/FunctionType 4 /Domain [ %s] /Range [0 1 0 1 0 1 0 1]", strings.Repeat("0 1 ", n)),
		"{ "+strings.Repeat("pop ", n-1)+"dup dup dup }")
	return fmt.Sprintf("[ /DeviceN [ %s] /DeviceCMYK %s ]", names.String(), pdfbuild.Ref(function))
}

func manyInOne(n int) []byte {
	f := pdfbuild.New()
	f.Page(200, 200, "/ColorSpace << /N "+deviceNSpace(f, 0, n)+" >>", "/N cs "+strings.Repeat("1 ", n)+"scn 10 10 100 100 re f 0 0 0 1 k 50 50 100 100 re f")
	return f.Bytes()
}

func manyDeviceN() []byte {
	f := pdfbuild.New()
	var spaces, content strings.Builder
	const each = 32
	for i := 0; i < 10_000; i += each {
		fmt.Fprintf(&spaces, " /N%d %s", i, deviceNSpace(f, i, each))
		fmt.Fprintf(&content, "/N%d cs %s scn %d %d 1 1 re f\n", i, strings.Repeat("0.5 ", each), i%100*2, i/100*2)
	}
	f.Page(200, 200, "/ColorSpace <<"+spaces.String()+" >>", content.String())
	return f.Bytes()
}
