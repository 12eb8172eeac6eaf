package truth

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/demo"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover/sheets"
	"laydown/internal/pdfbuild"
	"laydown/internal/plan/sheet"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// sheetDPI has five pixels a millimetre, so that pieces on whole fifths of one begin with pixels.
const sheetDPI = 127

// blendingPage of sheetPages has a page group in which something blends: process colours alone, mode and alpha apart, since
// MuPDF composites a mode over special plates, or with an alpha, by another way than Ghostscript, on the page alone as on a sheet.
const blendingPage = 4

// Size of the pieces of the cases, mm.
const pieceW, pieceH, pieceBleed = 30.0, 20.0, 3.0

// boxes writes the boxes of a page whose trim begins at x, y (mm) of its user space, a unit of which is unit points.
func boxes(x, y, w, h, unit float64) string {
	box := func(by float64) string {
		f := geom.PointsPerMM / unit
		return fmt.Sprintf("[%g %g %g %g]", (x-by)*f, (y-by)*f, (x+w+by)*f, (y+h+by)*f)
	}
	return fmt.Sprintf("/MediaBox %s /CropBox %s /TrimBox %s /BleedBox %s", box(8), box(7), box(0), box(pieceBleed))
}

// sheetPages are pages with whatever a page on a sheet may lose: its turn, its unit, its group, its layers, its annotations.
func sheetPages() []byte {
	f := pdfbuild.New()
	spot := func(name string, k float64) string { return pdfbuild.Ref(f.Add(pdfbuild.Spot(name, .2, .1, .3, k))) }
	on, off := f.Add("<< /Type /OCG /Name (Shown) >>"), f.Add("<< /Type /OCG /Name (Hidden) >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%s %s] /D << /BaseState /ON /OFF [%s] >> >>", pdfbuild.Ref(on), pdfbuild.Ref(off), pdfbuild.Ref(off)))
	res := "/ColorSpace << /White " + spot("White", 0) + " /Silver " + spot("Silver", .3) + " >> /ExtGState << /On << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> /Multiply << /BM /Multiply >> " +
		"/Half << /ca .5 /BM /Normal >> >> /Properties << /S " + pdfbuild.Ref(on) + " /H " + pdfbuild.Ref(off) + " >>"
	// Shapes in mm from the corner of the trim, beyond the bleed on one side.
	shapes := func(more string) string {
		return "/White cs 1 scn -6 -6 20 18 re f /On gs 0 .6 .2 0 k 2 3 31 9 re f /Silver cs .5 scn 20 1 m 28 17 l 11 14 l f .1 w 0 0 0 1 K 1.3 1.7 m 27.9 18.1 l S " + more
	}
	mm := fmt.Sprintf("q %g 0 0 %g 0 0 cm ", geom.PointsPerMM, geom.PointsPerMM)
	at := func(x, y float64, content string) string {
		return mm + fmt.Sprintf("1 0 0 1 %g %g cm ", x, y) + content + " Q"
	}

	first := pdfbuild.Ref(f.Stream("", at(8, 8, shapes(""))[:60]))
	rest := pdfbuild.Ref(f.Stream("", at(8, 8, shapes(""))[60:]))
	if c := at(8, 8, shapes("")); c[59] != ' ' && c[60] != ' ' {
		// Streams are joined with a line end: they are cut between words.
		k := strings.LastIndexByte(c[:60], ' ')
		first, rest = pdfbuild.Ref(f.Stream("", c[:k])), pdfbuild.Ref(f.Stream("", c[k:]))
	}
	f.PageWith(100, 100, res, "["+first+" "+rest+"]", boxes(8, 8, pieceW, pieceH, 1))
	// Turned by a quarter: 20 x 30 in user space, 30 x 20 as viewed.
	turned := "/White cs 1 scn -6 -6 18 20 re f /On gs 0 .6 .2 0 k 3 2 9 31 re f /Silver cs .5 scn 1 20 m 17 28 l 14 11 l f"
	f.Page(100, 100, res, at(-5, 12, turned), boxes(-5, 12, pieceH, pieceW, 1)+" /Rotate 90")
	f.Page(100, 100, res, fmt.Sprintf("q .5 0 0 .5 0 0 cm %s Q", at(8, 8, shapes(""))), boxes(8, 8, pieceW, pieceH, 2)+" /UserUnit 2")
	f.Page(100, 100, res, at(8, 8, "/White cs 1 scn -6 -6 7 18 re f 0 .6 .2 0 k 2 3 31 9 re f /Multiply gs .5 0 .4 .1 k 6 -5 8 30 re f /Half gs 0 0 .9 0 k 12 5 12 12 re f"), boxes(8, 8, pieceW, pieceH, 1)+
		" /Group << /S /Transparency /CS /DeviceCMYK >>")
	note := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 10 5] /Matrix [0 1 -1 0 0 0] /Resources << >>", "0 1 1 0 k 0 0 10 5 re f 0 0 0 1 k 1 1 2 2 re f")
	bare := f.Stream("/BBox [0 0 4 4]", "/Silver cs 1 scn 0 0 4 4 re f")
	annot := func(flags int, ap int, x float64, more string) string {
		p := geom.PointsPerMM
		return fmt.Sprintf("<< /Type /Annot /Subtype /Stamp /F %d /Rect [%g %g %g %g] /AP << /N %s >> %s >>", flags, (8+x)*p, 14*p, (8+x+4)*p, 22*p, pdfbuild.Ref(ap), more)
	}
	f.Page(100, 100, res, at(8, 8, shapes("/OC /H BDC 0 1 0 0 k 5 5 20 10 re f EMC /OC /S BDC 1 0 0 0 k 15 12 9 6 re f EMC")+" q q"), boxes(8, 8, pieceW, pieceH, 1)+
		" /Annots ["+annot(4, note, 3, "")+annot(0, note, 9, "")+annot(4, bare, 16, "/BM /Multiply")+annot(4, note, 23, "/OC "+pdfbuild.Ref(off))+"]")
	f.Page(100, 100, res, at(8, 8, shapes("")), boxes(8, 8, pieceW, pieceH, 1)+" /Group << /S /Transparency /CS /DeviceRGB >>")
	return f.Bytes()
}

// opened is a file in memory with what it takes to paint its pages.
type opened struct {
	doc    *pdf.Document
	reader *interp.Reader
}

func openBytes(t *testing.T, data []byte) *opened {
	t.Helper()
	sink := &finding.Collector{}
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: sink})
	if err != nil {
		t.Fatal(err)
	}
	if doc.Repaired() || len(sink.Sorted()) > 0 {
		t.Fatalf("the file is not sound: %v", sink.Sorted())
	}
	return &opened{doc, interp.NewReader(doc, sink)}
}

// painted paints a part of a page: grow mm around its trim, or its MediaBox when grow is negative.
func (o *opened) painted(t *testing.T, page int, grow float64) *plate.Stack {
	t.Helper()
	list, err := o.reader.Page(context.Background(), page, interp.Options{})
	if err != nil || list.Incomplete {
		t.Fatalf("page %d: %v", page, err)
	}
	region := list.Page.Media
	if grow >= 0 {
		region = list.Page.Trim.Grow(grow * geom.PointsPerMM)
	}
	target := separate.NewTargetFromLists(colour.NewConverter(nil), finding.Discard, list)
	st := &plate.Stack{}
	if err := paint.Render(context.Background(), paint.Job{List: list, Target: target, DPI: sheetDPI, Region: region}, st); err != nil {
		t.Fatal(err)
	}
	return st
}

// blends is what Job.Blends asks for.
func (o *opened) blends(t *testing.T) func(int) bool {
	return func(n int) bool {
		list, err := o.reader.Page(context.Background(), n, interp.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return list.Blending
	}
}

func planOf(t *testing.T, rotate sheet.Rotation, scheme sheet.Scheme) *sheet.Plan {
	t.Helper()
	piece := sheet.Size{W: pieceW, H: pieceH}
	j := sheet.Job{Request: sheet.Request{Piece: piece, Bleed: pieceBleed, Gutter: 2 * pieceBleed, Rotate: rotate, Scheme: scheme,
		Margins: sheet.Margins{Lead: 4, Trail: 4, Side: 4}, Sheets: []sheet.Stock{{Size: sheet.Size{W: 130, H: 100}}}}}
	for n := 1; n <= 6; n++ {
		p := sheet.Piece{Name: fmt.Sprint(n), Front: sheet.OnePage(n, piece), Quantity: 1}
		if scheme != sheet.OneSided {
			p.Back = sheet.OnePage(7-n, piece)
		}
		j.Pieces = append(j.Pieces, p)
	}
	p, err := sheet.New(j)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func imposed(t *testing.T, o *opened, p *sheet.Plan) []byte {
	t.Helper()
	var b bytes.Buffer
	sink := &finding.Collector{}
	if _, err := sheets.Write(context.Background(), &b, sheets.Job{Doc: o.doc, Plan: p, Title: "cases", Blends: o.blends(t), Sink: sink}); err != nil {
		t.Fatal(err)
	}
	if fs := sink.Sorted(); len(fs) > 0 {
		t.Errorf("%v", fs)
	}
	return b.Bytes()
}

// turnedPixel is where pixel x, y of an upright w x h picture comes to when that is turned clockwise.
func turnedPixel(x, y, w, h, rotate int) (int, int) {
	switch rotate {
	case 90:
		return h - 1 - y, x
	case 180:
		return w - 1 - x, h - 1 - y
	case 270:
		return y, w - 1 - x
	}
	return x, y
}

// The plates of a sheet are those of its pages, each where it is placed and nothing beside, for every turn of the piece and
// on both sides. Tints may differ by 1: a turned outline is flattened from another end. Where a page blends they may
// differ by 2: alone its plates are rounded to 8 bits at every step, as a group's they have 16 (paint's depths).
func TestSheets_have_the_plates_of_their_pages(t *testing.T) {
	src := openBytes(t, sheetPages())
	for _, c := range []struct {
		rotate sheet.Rotation
		scheme sheet.Scheme
	}{{sheet.RotateNone, sheet.OneSided}, {sheet.RotateQuarter, sheet.SheetWise}, {sheet.RotateNone, sheet.WorkAndTumble}} {
		plan := planOf(t, c.rotate, c.scheme)
		out := openBytes(t, imposed(t, src, plan))
		page := 0
		for i := range plan.Count {
			s := plan.Sheet(i)
			for _, side := range []*sheet.Side{&s.Front, s.Back} {
				if side == nil {
					continue
				}
				page++
				comparePlaced(t, fmt.Sprintf("%s %s side %d", c.rotate, c.scheme, page), src, out.painted(t, page, -1), side)
			}
		}
		if page != out.doc.NumPages() {
			t.Errorf("%d pages, %d sides", out.doc.NumPages(), page)
		}
	}
}

func comparePlaced(t *testing.T, what string, src *opened, got *plate.Stack, side *sheet.Side) {
	t.Helper()
	const perMM, w, h = 5, int((pieceW + 2*pieceBleed) * 5), int((pieceH + 2*pieceBleed) * 5)
	covered := make([]bool, got.Width*got.Height)
	for _, p := range side.Placements {
		want := src.painted(t, p.Page, pieceBleed)
		x0, y0 := int((p.Clip.X*perMM)+.5), int((p.Clip.Y*perMM)+.5)
		worst, n := 0, 0
		for k, c := range want.Set.All() {
			a := want.Plane(k)
			i, ok := got.Set.Lookup(c.Name)
			var b []byte
			if ok {
				b = got.Plane(i)
			}
			for y := range h {
				for x := range w {
					tx, ty := turnedPixel(x, y, w, h, p.Rotate)
					q := (y0+ty)*got.Width + x0 + tx
					covered[q] = true
					if d := int(at(a, y*want.Width+x)) - int(at(b, q)); d != 0 {
						worst, n = max(worst, d, -d), n+1
					}
				}
			}
		}
		limit := 1
		if p.Page == blendingPage {
			limit = 2
		}
		if worst > limit {
			t.Errorf("%s: page %d, turned by %d: %d pixels differ, by up to %d", what, p.Page, p.Rotate, n, worst)
		}
	}
	for k, c := range got.Set.All() {
		plane := got.Plane(k)
		for q := range covered {
			if !covered[q] && at(plane, q) != 0 {
				t.Fatalf("%s: %s has toner outside the pieces, at %d, %d", what, c.Name, q%got.Width, q/got.Width)
			}
		}
	}
}

// sheetHolds asks both interpreters about every side of an imposed file, in a resolution; 0 = by its size.
func sheetHolds(t *testing.T, file string, dpi int) {
	t.Helper()
	ctx := context.Background()
	wellMade(t, file)
	first, err := oursAt(ctx, file, 1, dpi)
	if err != nil {
		t.Fatal(err)
	}
	gs, err := GhostscriptAll(ctx, file, first.DPI)
	if err != nil {
		t.Fatal(err)
	}
	for n := range gs {
		ours, err := oursAt(ctx, file, n+1, dpi)
		if err != nil {
			t.Fatal(err)
		}
		if ours.Incomplete {
			t.Errorf("side %d is incomplete: %v", n+1, ours.Findings)
		}
		mu, err := MuPDF(ctx, file, n+1, ours.DPI)
		if err != nil {
			t.Fatal(err)
		}
		rows := Judge(filepath.Base(file), n+1, ours, gs[n], mu)
		if len(rows) < 5 {
			t.Errorf("side %d: only %d plates", n+1, len(rows))
		}
		for _, r := range rows {
			t.Logf("side %d %-10s gs %v, mutool %v, each other %v", n+1, r.Plate, r.OursGS, r.OursMu, r.GSMu)
			if r.Verdict() != "both" {
				t.Errorf("side %d, %s: %s", n+1, r.Plate, r.Verdict())
			}
		}
	}
}

// TestTruth_sheets: imposed files are sound, and both interpreters separate them to our plates.
func TestTruth_sheets(t *testing.T) {
	if testing.Short() {
		t.Skip("runs three programs")
	}
	oracles(t)
	program(t, "qpdf")
	dir := t.TempDir()
	src := openBytes(t, sheetPages())
	file := filepath.Join(dir, "cases.pdf")
	if err := os.WriteFile(file, imposed(t, src, planOf(t, sheet.RotateQuarter, sheet.SheetWise)), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Run("cases", func(t *testing.T) { sheetHolds(t, file, 0) })
	t.Run("ticket", func(t *testing.T) {
		job, in, out := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "ticket.pdf"), filepath.Join(dir, "sheets.pdf")
		var ticket bytes.Buffer
		if err := demo.WriteTicket(&ticket, false); err != nil {
			t.Fatal(err)
		}
		for name, data := range map[string][]byte{job: []byte(strings.Replace(demo.JobYAML(), "quantity: 250", "quantity: 500", 1)), in: ticket.Bytes()} {
			if err := os.WriteFile(name, data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		s, err := app.NewSetup(app.SetupOptions{Job: job})
		if err != nil {
			t.Fatal(err)
		}
		o, err := app.Sheets(context.Background(), app.SheetsRequest{File: in, Setup: s, Out: out})
		if err != nil {
			t.Fatal(err)
		}
		if o.Yield.PerSheet != 4 || o.Yield.Sheets != 125 {
			t.Errorf("%+v", o.Yield)
		}
		// Half of the usual resolution takes a quarter of the time; the pages themselves are compared in the usual one elsewhere.
		sheetHolds(t, out, DPI/2)
	})
}
