package app

import (
	"fmt"
	"strings"

	"pgregory.net/rapid"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// answer is a finding, a remedy that it offers, and random pages with the fault.
type answer struct {
	remedy    string
	finding   finding.ID
	colourant string // that the finding is about; "" = any
	press     string // shipped; "" = two-set
	never     string // toners that Clear must not lie on, on a press of its own
	stock     string // shipped; "" = midnight-blue-board
	job       string // more of the job
	dpi       float64
	boxes     string // "none" = no trim
	content   func(t *rapid.T, f *answerFile) string
}

func (c *answer) name() string { return c.remedy + " " + string(c.finding) }

// answerFile takes what a page needs beside its content.
type answerFile struct {
	*pdfbuild.File
	resources string // of the page, without forms
	forms     string
	layers    map[string]string // references by name
}

// group makes an isolated transparency group, and gives what paints it.
func (f *answerFile) group(state, content string) string {
	name := fmt.Sprintf("X%d", strings.Count(f.forms, "/X"))
	f.forms += fmt.Sprintf("/%s %s ", name, pdfbuild.Ref(f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Group << /S /Transparency /I true >> /Resources << "+f.resources+" >>", content)))
	return "q /" + state + " gs /" + name + " Do Q\n"
}

// answerLayers are the layers of a page, by their names in the resources.
var answerLayers = map[string]string{
	"Hidden": "/Name (hidden)", "Sketch": "/Name (sketch)", "Silver": "/Name (silver 1)", "Picture": "/Name (Picture)",
	"Viewer": "/Name (viewer) /Usage << /Print << /PrintState /ON >> >>",
	"Step":   "/Name (underlay) /GTS_Metadata << /GTS_ProcStepsGroup /White /GTS_ProcStepsType /White >>",
}

// drawAnswerPage makes a page of 100 x 100 pt with a trim of 80 x 80 pt in its middle.
func drawAnswerPage(t *rapid.T, c *answer) []byte {
	f := &answerFile{File: pdfbuild.New(), layers: map[string]string{}}
	properties, all := "", ""
	for _, n := range []string{"Hidden", "Sketch", "Silver", "Picture", "Viewer", "Step"} {
		f.layers[n] = pdfbuild.Ref(f.Add("<< /Type /OCG " + answerLayers[n] + " >>"))
		properties += "/" + n + " " + f.layers[n] + " "
		all += f.layers[n] + " "
	}
	off := f.layers["Hidden"] + " " + f.layers["Sketch"] + " " + f.layers["Viewer"]
	f.Catalog("/OCProperties << /OCGs [" + all + "] /D << /OFF [" + off + "] /AS [<< /Event /Print /Category [/Print] /OCGs [" + f.layers["Viewer"] + "] >>] >> >>")
	image := f.Stream("/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray", "\x00\x40\x80\xc0")
	tint := f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch pop 0 exch 0 exch 0 }")
	moon := pdfbuild.Spot("Moon#20Dust", 0, .1, .4, .3)
	mixture := func(a, b string) string { return fmt.Sprintf("[/DeviceN [%s %s] /DeviceCMYK %d 0 R]", a, b, tint) }
	f.resources = caseSpaces + pdfbuild.Spot("White", .25, 0, 0, .1) + " /S " + pdfbuild.Spot("Silver", 0, 0, 0, .45) + " /Au " + pdfbuild.Spot("Gold", .2, .35, .8, .15) +
		" /C " + pdfbuild.Spot("Clear", 0, .2, 0, 0) + " /w " + pdfbuild.Spot("white", .3, 0, 0, .1) + " /S2 " + pdfbuild.Spot("Silver", .3, .1, .1, .3) + " /M " + moon +
		" /T " + pdfbuild.Spot("Sterling", 0, 0, 0, .45) + " /P " + pdfbuild.Spot("Fluorescent#20Pink", 0, .8, 0, 0) + " /Every " + pdfbuild.Spot("All", 0, 0, 0, 1) +
		" /SM " + mixture("/Silver", "/Moon#20Dust") + " /CS " + mixture("/Clear", "/Silver") +
		" >> /ExtGState << /On << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> /Mult << /BM /Multiply >> /Norm << /BM /Normal >> >>" +
		" /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> /T << /Type /Font /Subtype /Type1 /BaseFont /Times-Roman >> >> /Properties << " + properties + " >>"
	objects := fmt.Sprintf("/Im %d 0 R ", image)
	content := c.content(t, f)
	boxes := "/TrimBox [10 10 90 90] /BleedBox [0 0 100 100]"
	if c.boxes == "none" {
		boxes = ""
	}
	f.Page(100, 100, f.resources+" /XObject << "+objects+f.forms+" >>", content, boxes)
	return f.Bytes()
}

// answerPage is such a page with this content.
func answerPage(content string) []byte {
	return drawAnswerPage(nil, &answer{content: func(*rapid.T, *answerFile) string { return content }})
}

// area is a box inside the trim, 15 pt or more either way.
type area struct{ x, y, w, h int }

func drawArea(t *rapid.T) area {
	at, size := rapid.IntRange(15, 45), rapid.IntRange(15, 40)
	return area{at.Draw(t, "x"), at.Draw(t, "y"), size.Draw(t, "w"), size.Draw(t, "h")}
}

// within is a box inside another, 4 pt or more from its edges.
func (a area) within(t *rapid.T) area {
	in := rapid.IntRange(4, 5)
	l, b, r, u := in.Draw(t, "left"), in.Draw(t, "bottom"), in.Draw(t, "right"), in.Draw(t, "top")
	return area{a.x + l, a.y + b, a.w - l - r, a.h - b - u}
}

func (a area) fill() string { return fmt.Sprintf("%d %d %d %d re f ", a.x, a.y, a.w, a.h) }

func (a area) line() string { return fmt.Sprintf("%d %d m %d %d l S ", a.x, a.y, a.x+a.w, a.y+a.h) }

// drawn says a line once or a few times, each anew.
func drawn(t *rapid.T, line func() string) string {
	var b strings.Builder
	for range rapid.IntRange(1, 4).Draw(t, "objects") {
		b.WriteString(line() + "\n")
	}
	return b.String()
}

// colourful is a plain process colour that is seen.
func colourful(t *rapid.T) string {
	return fmt.Sprintf("%s %s 0 0 k ", pick(t, ".3", ".6", "1"), pick(t, "0", ".4", "1"))
}

// solid is a process colour of which something is half solid at least.
func solid(t *rapid.T) string {
	return fmt.Sprintf("%s %s 0 0 k ", pick(t, ".6", "1"), pick(t, "0", ".4", "1"))
}

func pick(t *rapid.T, from ...string) string { return rapid.SampledFrom(from).Draw(t, "one of") }
