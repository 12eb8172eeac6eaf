package artwork

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// feature is a page of one kind of content. Streams are objects as in cases, named X1, X2 … in XObject, Pattern and Font alike, and
// {1}, {2} … are references to them; {res} is the resources of the page, for forms.
type feature struct {
	name, resources, content string
	streams                  []string
	page, catalog            string
	layers                   map[string]bool
	refused                  string // part of why a pass is refused; "" = none is
}

// featureSpaces are colour spaces every feature may use.
func featureSpaces(f *pdfbuild.File) string {
	spot := func(n string, c, m, y, k float64) string { return pdfbuild.Ref(f.Add(pdfbuild.Spot(n, c, m, y, k))) }
	fn := pdfbuild.Ref(f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ 0 0 0 4 3 roll pop pop 0 }"))
	wk := pdfbuild.Ref(f.Add("[/DeviceN [/White /Black] /DeviceCMYK " + fn + "]"))
	ws := pdfbuild.Ref(f.Add("[/DeviceN [/White /Silver] /DeviceCMYK " + fn + "]"))
	nc := pdfbuild.Ref(f.Add("[/DeviceN [/White /Unheard] /DeviceCMYK " + fn + " << /Subtype /NChannel /Colorants << /White " +
		spot("White", .2, 0, .1, 0) + " /Unheard " + spot("Unheard", .5, .3, 0, 0) + " >> >>]"))
	return "/W " + spot("White", .2, 0, .1, 0) + " /S " + spot("Silver", 0, 0, 0, .4) + " /Cl " + spot("Clear", 0, 0, .2, 0) + " /K " + spot("Black", 0, 0, 0, 1) +
		" /U " + spot("Unheard", .5, .3, 0, 0) + " /P " + spot("Pale#20Gold", 0, .1, .4, .1) + " /All " + spot("All", 1, 1, 1, 1) + " /WK " + wk + " /WS " + ws + " /NC " + nc +
		" /Lab [/Lab << /WhitePoint [.9642 1 .8249] /Range [-100 100 -100 100] >>] /PW [/Pattern " + spot("White", .2, 0, .1, 0) + "] /PC [/Pattern /DeviceCMYK]" +
		" /IxW [/Indexed " + spot("White", .2, 0, .1, 0) + " 1 <00ff>] /IxWK [/Indexed " + wk + " 1 <00ff80ff>] /IxC [/Indexed /DeviceCMYK 1 <00ff00ff10203040>]"
}

const featureStates = " /On << /OP true /op true /OPM 0 >> /On1 << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> /Mul << /BM /Multiply >> /Scr << /BM /Screen >>" +
	" /Dif << /BM /Difference >> /Hue << /BM /Hue >> /Lum << /BM /Luminosity >> /Half << /ca .5 /CA .5 >> /Full << /ca 1 /CA 1 >> /Ais << /AIS true >> /Tk << /TK false >>"

func (c *feature) bytes() []byte {
	f := pdfbuild.New()
	res := f.Add("null")
	var refs []string
	for range c.streams {
		refs = append(refs, pdfbuild.Ref(f.Add("null")))
	}
	spaces := featureSpaces(f)
	pairs := []string{"{res}", pdfbuild.Ref(res)}
	named := ""
	for i, r := range refs {
		pairs = append(pairs, fmt.Sprintf("{%d}", i+1), r)
		named += fmt.Sprintf(" /X%d %s", i+1, r)
	}
	fill := strings.NewReplacer(pairs...)
	for i, s := range c.streams {
		dict, data, stream := strings.Cut(fill.Replace(s), " | ")
		n := 0
		fmt.Sscanf(refs[i], "%d", &n)
		if stream {
			f.Set(n, fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data))
		} else {
			f.Set(n, dict)
		}
	}
	text := "/ColorSpace << " + spaces + " >> /ExtGState << " + featureStates + " " + fill.Replace(c.resources) + " >> /XObject <<" + named + " >> /Pattern <<" + named + " >> /Shading <<" + named + " >>" +
		" /Properties <<" + named + " >> /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>" + named + " >>"
	f.Set(res, "<< "+text+" >>")
	f.Page(60, 60, text, c.content, fill.Replace(c.page))
	f.Catalog(fill.Replace(c.catalog))
	return f.Bytes()
}

// featurePasses are passes that part White from the process toners in several ways.
var featurePasses = [][]string{{"White"}, {"Cyan", "Magenta", "Yellow", "Black"}, {"Silver", "Gold"}, {"White", "Cyan", "Magenta", "Yellow", "Black"}, {"Clear"}}

func (c *feature) read(t *testing.T, data []byte, layers map[string]bool, viewer bool) (*pdf.Document, *displist.List) {
	t.Helper()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	sink := &finding.Collector{}
	list, err := interp.NewReader(doc, sink).Page(context.Background(), 1, interp.Options{Sink: sink, Layers: layers, AsViewer: viewer})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range sink.Sorted() {
		if f.Incomplete {
			t.Logf("%s: %s", f.ID, f.What)
		}
	}
	return doc, list
}

func plates(t *testing.T, list *displist.List, target *separate.Target) *plate.Stack {
	t.Helper()
	st := &plate.Stack{}
	if err := paint.Render(context.Background(), paint.Job{List: list, Target: target, DPI: 72, Region: list.Page.Media, Sink: finding.Discard}, st); err != nil {
		t.Fatal(err)
	}
	return st
}

// TestFeatures_passesMakeTheWhole: each kind of content is split into passes. Read as anyone reads it who knows nothing of the job, a
// file has on the plates of its pass what the whole has as the job prints it, and nothing on others.
func TestFeatures_passesMakeTheWhole(t *testing.T) {
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range features {
		t.Run(c.name, func(t *testing.T) {
			target, err := separate.NewTarget(p, nil, colour.NewConverter(nil))
			if err != nil {
				t.Fatal(err)
			}
			doc, list := c.read(t, c.bytes(), c.layers, false)
			whole := plates(t, list, target)
			read := func(context.Context, int) (*Page, error) { return &Page{List: list, Target: target}, nil }
			files, err := Split(context.Background(), doc, read, featurePasses)
			if err != nil {
				t.Fatal(err)
			}
			refused := ""
			marked := 0
			for i := range whole.Set.All() {
				for _, v := range whole.Plane(i) {
					if v > 0 {
						marked++
					}
				}
			}
			if marked == 0 {
				t.Error("nothing is marked")
			}
			for k, f := range files {
				if len(f.Refused) > 0 {
					refused += f.Refused[0].What
					continue
				}
				var b bytes.Buffer
				if _, err := f.Update.WriteFull(&b); err != nil {
					t.Fatal(err)
				}
				// As anyone reads it, without the job.
				_, is := c.read(t, b.Bytes(), nil, true)
				mine := plates(t, is, target)
				for i, n := range whole.Set.All() {
					off, worst := 0, 0
					for at := range whole.Width * whole.Height {
						w := 0
						if slices.Contains(featurePasses[k], n.Name) && whole.Plane(i) != nil {
							w = int(whole.Plane(i)[at])
						}
						m := 0
						if mine.Plane(i) != nil {
							m = int(mine.Plane(i)[at])
						}
						if d := w - m; d > 1 || d < -1 {
							off++
							worst = max(worst, d, -d)
						}
					}
					if off > 0 && !inAllColours(list.Items) {
						t.Errorf("pass %v, plate %s: %d pixels differ, by up to %d", featurePasses[k], n.Name, off, worst)
					}
				}
			}
			if (refused == "") != (c.refused == "") || !strings.Contains(refused, c.refused) {
				t.Errorf("refused: %q, want %q", refused, c.refused)
			}
		})
	}
}

func inAllColours(items []displist.Item) bool {
	for i := range items {
		space, _, cell := items[i].Colours()
		if sep, ok := space.(*colour.Separation); ok && sep.Name == "All" || cell != nil && inAllColours(cell.Items) {
			return true
		}
	}
	return false
}

// TestSplit_leavesNothingToBeMadeUp: what other programs would draw of themselves, and what an editor has put by of the whole, is not
// in the file of a pass.
func TestSplit_leavesNothingToBeMadeUp(t *testing.T) {
	c := feature{content: under, streams: []string{form + " | /W cs .2 scn 0 0 20 20 re f"},
		catalog: "/PieceInfo << /Some << /Private (all of it) >> >> /AcroForm << /Fields [] /NeedAppearances true >>",
		page:    "/PieceInfo << /Some << /Private (page) >> >> /Annots [<< /Type /Annot /Subtype /Square /F 4 /C [1 0 0] /Rect [10 10 30 30] >> << /Type /Annot /Subtype /Stamp /F 4 /Rect [10 10 30 30] /AP << /N {1} >> >>]"}
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	target, err := separate.NewTarget(p, nil, colour.NewConverter(nil))
	if err != nil {
		t.Fatal(err)
	}
	doc, list := c.read(t, c.bytes(), nil, false)
	files, err := Split(context.Background(), doc, func(context.Context, int) (*Page, error) { return &Page{List: list, Target: target}, nil }, featurePasses[:1])
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := files[0].Update.WriteFull(&b); err != nil {
		t.Fatal(err)
	}
	is, _ := c.read(t, b.Bytes(), nil, true)
	pg, err := is.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	form, _ := is.Dict(is.Catalog()["AcroForm"])
	if again, _ := is.Bool(form["NeedAppearances"]); again || is.Catalog()["PieceInfo"] != nil || pg.Dict["PieceInfo"] != nil {
		t.Errorf("catalogue %v, page %v", is.Catalog(), pg.Dict)
	}
	annots, _ := is.Array(pg.Dict["Annots"])
	for i, want := range []int{annotationPrint | annotationHidden, annotationPrint} {
		d, _ := is.Dict(annots[i])
		if flags, _ := is.Int(d["F"]); flags != want {
			t.Errorf("annotation %d has the flags %d, want %d", i+1, flags, want)
		}
	}
}
