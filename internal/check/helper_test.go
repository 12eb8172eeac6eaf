package check

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// The pages of these tests: a trim of 60 x 40 mm with 3 mm bleed in a MediaBox 10 mm larger all round.
const (
	trimW, trimH = 60.0, 40.0
	slug         = 10.0
)

// artwork is a document to be checked. Content is written in mm from the lower left corner of the
// MediaBox; box writes rectangles from the trim's top left corner.
type artwork struct {
	pages      []string // content streams
	spaces     string   // more entries of the ColorSpace resources
	res        string   // more resources
	boxes      string   // instead of the usual TrimBox and BleedBox; "none" = no boxes
	press      string   // shipped name; "" = two-set, "none" = none
	defs       *press.Press
	stock      string // shipped name; "" = white-matt
	hits       int    // of the stock; 0 = as shipped
	job        *press.Job
	settings   map[string]press.CheckSetting
	dpi        float64                     // 0 = 127: a millimetre is 5 pixels
	alter      func(*Page)                 // the page before the rules see it
	build      func(*pdfbuild.File) string // objects to add; gives more entries of the ColorSpace resources
	group      string                      // content of an isolated transparency group, the form /G
	hidden     bool                        // adds a layer /Off that does not print
	extra      string                      // more entries of the page dictionaries
	catalog    func(*pdfbuild.File) string // more entries of the catalogue
	second     string                      // boxes of the second page, if others than those of the first
	annotation func(*pdfbuild.File) string // entries of the page dictionaries, for annotations
	shading    string                      // calculator function of an axial blend /B of 40 mm, from a parameter to CMYK
	layer      string                      // adds a layer /L of this name
	step       string                      // adds a layer /Step with this processing-step metadata
	picture    string                      // dictionary entries of an image /I
	samples    string                      // its data
}

// box is a rectangle in mm from the trim's top left corner.
func box(x, y, w, h float64) string {
	return fmt.Sprintf("%g %g %g %g re ", x+slug, slug+trimH-y-h, w, h)
}

// fill paints a box after some operators.
func fill(ops string, x, y, w, h float64) string { return ops + " " + box(x, y, w, h) + "f\n" }

// shown paints the image /I into a box.
func shown(ops string, x, y, w, h float64) string {
	return fmt.Sprintf("%s q %g 0 0 %g %g %g cm /I Do Q\n", ops, w, h, x+slug, slug+trimH-y-h)
}

// Operators that choose a colour at full tint and the overprint.
const (
	white    = "/White cs 1 scn"
	silver   = "/Silver cs 1 scn"
	gold     = "/Gold cs 1 scn"
	clearIn  = "/Clear cs 1 scn"
	over     = "/Over gs "
	knock    = "/Knock gs "
	multiply = "/Mult gs "
	normal   = "/Norm gs "
)

func (a *artwork) file() []byte {
	f := pdfbuild.New()
	spaces := "/White " + pdfbuild.Spot("White", .25, 0, 0, .1) + " /Silver " + pdfbuild.Spot("Silver", 0, 0, 0, .45) +
		" /Gold " + pdfbuild.Spot("Gold", .2, .35, .8, .15) + " /Clear " + pdfbuild.Spot("Clear", 0, .2, 0, 0) +
		" /Pale " + pdfbuild.Spot("Pale#20Gold", .1, .18, .45, .12) + " " + a.spaces
	if a.build != nil {
		spaces += " " + a.build(f)
	}
	states := "/Over << /OP true /op true /OPM 1 >> /Knock << /OP false /op false >> /Mult << /BM /Multiply >> /Norm << /BM /Normal >>"
	res := "/ColorSpace << " + spaces + " >> /ExtGState << " + states + " >> " + a.res
	objects := ""
	if a.picture != "" {
		objects = "/I " + pdfbuild.Ref(f.Stream("/Type /XObject /Subtype /Image "+a.picture, a.samples)) + " "
	}
	if a.group != "" {
		form := f.Stream("/Type /XObject /Subtype /Form /BBox [-100 -100 1000 1000] /Group << /S /Transparency /I true >> /Resources << "+res+" >>", a.group)
		objects += "/G " + pdfbuild.Ref(form)
	}
	if objects != "" {
		res += " /XObject << " + objects + " >>"
	}
	if a.hidden {
		layer := pdfbuild.Ref(f.Add("<< /Type /OCG /Name (Hidden) >>"))
		f.Catalog("/OCProperties << /OCGs [" + layer + "] /D << /OFF [" + layer + "] >> >>")
		res += " /Properties << /Off " + layer + " >>"
	}
	if a.shading != "" {
		fn := f.Stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]", a.shading)
		res += fmt.Sprintf(" /Shading << /B << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [%g 0 %g 0] /Function %s >> >>", 15.0, 55.0, pdfbuild.Ref(fn))
	}
	if a.layer != "" {
		layer := pdfbuild.Ref(f.Add("<< /Type /OCG /Name (" + a.layer + ") >>"))
		f.Catalog("/OCProperties << /OCGs [" + layer + "] /D << >> >>")
		res += " /Properties << /L " + layer + " >>"
	}
	if a.step != "" {
		layer := pdfbuild.Ref(f.Add("<< /Type /OCG /Name (Step) /GTS_Metadata << " + a.step + " >> >>"))
		f.Catalog("/OCProperties << /OCGs [" + layer + "] /D << >> >>")
		res += " /Properties << /Step " + layer + " >>"
	}
	const k = geom.PointsPerMM
	boxes := a.boxes
	switch boxes {
	case "":
		boxes = fmt.Sprintf("/TrimBox [%g %g %g %g] /BleedBox [%g %g %g %g]", slug*k, slug*k, (slug+trimW)*k, (slug+trimH)*k,
			(slug-3)*k, (slug-3)*k, (slug+trimW+3)*k, (slug+trimH+3)*k)
	case "none":
		boxes = ""
	}
	if a.catalog != nil {
		f.Catalog(a.catalog(f))
	}
	if a.annotation != nil {
		a.extra += a.annotation(f)
	}
	for i, c := range a.pages {
		if i == 1 && a.second != "" {
			boxes = a.second
		}
		f.Page((trimW+2*slug)*k, (trimH+2*slug)*k, res, fmt.Sprintf("%.9f 0 0 %.9f 0 0 cm\n", k, k)+c, boxes, a.extra)
	}
	return f.Bytes()
}

// check reads, paints and checks all pages.
func (a *artwork) check(t *testing.T) []finding.Finding {
	t.Helper()
	in := a.input(t)
	reader := a.open(t)
	in.Doc = reader.Doc
	var out finding.Collector
	for n := range a.pages {
		p := a.page(t, in, reader, n+1)
		if a.alter != nil {
			a.alter(p)
		}
		if err := Run(t.Context(), in, p, &out); err != nil {
			t.Fatal(err)
		}
	}
	if err := RunFile(t.Context(), in, &out); err != nil {
		t.Fatal(err)
	}
	return out.Sorted()
}

func (a *artwork) open(t *testing.T) *interp.Reader {
	t.Helper()
	data := a.file()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	return interp.NewReader(doc, finding.Discard)
}

func (a *artwork) input(t *testing.T) *Input {
	t.Helper()
	in := &Input{Press: a.defs, Job: a.job, Settings: a.settings}
	var err error
	if a.defs == nil && a.press != "none" {
		if in.Press, err = press.FindPress(cmpOr(a.press, "two-set")); err != nil {
			t.Fatal(err)
		}
	}
	if in.Stock, err = press.FindStock(cmpOr(a.stock, "white-matt")); err != nil {
		t.Fatal(err)
	}
	if a.hits > 0 {
		in.Stock.Hits = a.hits
	}
	return in
}

func cmpOr(s, usual string) string {
	if s == "" {
		return usual
	}
	return s
}

func (a *artwork) page(t *testing.T, in *Input, reader *interp.Reader, n int) *Page {
	t.Helper()
	list, err := reader.Page(context.Background(), n, interp.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	p := &Page{List: list, Region: list.Page.Crop.Union(list.Page.Bleed), Plates: &plate.Stack{}}
	if in.Press == nil {
		p.Target = separate.NewTargetFromLists(nil, finding.Discard, list)
	} else {
		var assign map[string]string
		if in.Job != nil {
			assign = in.Job.Assign
		}
		if p.Target, err = separate.NewTarget(in.Press, assign, nil); err != nil {
			t.Fatal(err)
		}
	}
	dpi := a.dpi
	if dpi == 0 {
		dpi = 127
	}
	job := paint.Job{List: list, Target: p.Target, DPI: dpi, Region: p.Region, Sink: finding.Discard}
	if err := paint.Render(context.Background(), job, p.Plates); err != nil {
		t.Fatal(err)
	}
	if in.Press != nil {
		p.Passes, p.PassError = in.Press.Passes(p.Used())
	}
	return p
}

// with keeps the findings of an ID.
func with(fs []finding.Finding, id finding.ID) []finding.Finding {
	return slices.DeleteFunc(slices.Clone(fs), func(f finding.Finding) bool { return f.ID != id })
}

// one is the only finding of an ID.
func one(t *testing.T, a artwork, id finding.ID) finding.Finding {
	t.Helper()
	fs := a.check(t)
	of := with(fs, id)
	if len(of) != 1 {
		t.Fatalf("%d findings %s, want one; all: %s", len(of), id, describe(fs))
	}
	return of[0]
}

// wantQuiet fails when there is a finding of the ID.
func wantQuiet(t *testing.T, a artwork, id finding.ID) {
	t.Helper()
	if of := with(a.check(t), id); len(of) > 0 {
		t.Fatalf("should stay quiet: %s", describe(of))
	}
}

func describe(fs []finding.Finding) string {
	var b strings.Builder
	for _, f := range fs {
		fmt.Fprintf(&b, "\n  %s %s: %s %v", f.Severity, f.ID, f.What, f.Place.Items)
	}
	return b.String()
}

// wantBox fails unless the finding's box is the one given, in mm from the trim, within 0.2 mm.
func wantBox(t *testing.T, f finding.Finding, x, y, w, h float64) {
	t.Helper()
	if f.Place.Box == nil {
		t.Fatalf("%s has no box", f.ID)
	}
	b := *f.Place.Box
	for i, d := range []float64{b.X - x, b.Y - y, b.W - w, b.H - h} {
		if d > .2 || d < -.2 {
			t.Fatalf("box %+v, want %g %g %g %g (number %d)", b, x, y, w, h, i)
		}
	}
}

func wantItems(t *testing.T, f finding.Finding, items ...int) {
	t.Helper()
	if !slices.Equal(f.Place.Items, items) {
		t.Fatalf("items %v, want %v", f.Place.Items, items)
	}
}

func readPress(t *testing.T, yaml string) *press.Press {
	t.Helper()
	p, err := press.ReadPress("press.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// mixture makes a DeviceN space /Mix of the names, its stand-in half a black.
func mixture(names string) func(*pdfbuild.File) string {
	n := strings.Count(names, "/")
	return func(f *pdfbuild.File) string {
		fn := f.Stream("/FunctionType 4 /Domain ["+strings.Repeat("0 1 ", n)+"] /Range [0 1 0 1 0 1 0 1]", "{ "+strings.Repeat("pop ", n)+"0 0 0 .5 }")
		return "/Mix [/DeviceN [" + names + "] /DeviceCMYK " + pdfbuild.Ref(fn) + "]"
	}
}

func num(v float64) string { return fmt.Sprintf("%g", v) }
