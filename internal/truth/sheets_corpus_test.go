package truth

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover/sheets"
	"laydown/internal/plan/sheet"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// TestTruth_sheetsOfTheCorpus: the first page of every file of the corpus, laid on a sheet, has the plates it has alone, and the
// file written is sound.
func TestTruth_sheetsOfTheCorpus(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes")
	}
	program(t, "qpdf")
	files := corpus(t)
	done := 0
	for _, f := range files {
		if placedAlike(t, f) {
			done++
		}
	}
	t.Logf("%d of %d files", done, len(files))
	if done*2 < len(files) {
		t.Errorf("only %d of %d files were compared", done, len(files))
	}
}

// qpdfFinds is what is wrong with a file.
func qpdfFinds(file string) error {
	if out, err := exec.Command("qpdf", "--check", file).CombinedOutput(); err != nil || bytes.Contains(out, []byte("WARNING")) {
		return fmt.Errorf("qpdf: %v\n%s", err, out)
	}
	return nil
}

// placedAlike lays the first page of a file on a sheet, 36 points from its corner, and compares at 72 dpi, so that pixels of both
// are the same. It reports whether there was something to compare.
func placedAlike(t *testing.T, file string) bool {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil || doc.NumPages() == 0 {
		return false
	}
	ctx := context.Background()
	list, err := interp.NewReader(doc, finding.Discard).Page(ctx, 1, interp.Options{})
	if err != nil {
		return false
	}
	const off, most = 36.0, 2000.0
	trim := list.Page.Trim.Intersect(list.Page.Bleed)
	if trim.Empty() || trim != list.Page.Trim || trim.W() > most || trim.H() > most || trim.W() < 2 || trim.H() < 2 {
		return false
	}
	mm := func(pt float64) float64 { return pt / geom.PointsPerMM }
	piece := sheet.Size{W: mm(trim.W()), H: mm(trim.H())}
	plan, err := sheet.New(sheet.Job{Request: sheet.Request{Piece: piece, Rotate: sheet.RotateNone,
		Sheets: []sheet.Stock{{Size: sheet.Size{W: piece.W + mm(2*off), H: piece.H + mm(2*off)}}}, Most: 1},
		Pieces: []sheet.Piece{{Front: sheet.OnePage(1, piece), Quantity: 1}}})
	if err != nil {
		t.Fatalf("%s: %v", idOf(t, file), err)
	}
	plan.Layout.Places[0].X, plan.Layout.Places[0].Y = mm(off), mm(off)
	var out bytes.Buffer
	told := &finding.Collector{}
	if _, err := sheets.Write(ctx, &out, sheets.Job{Doc: doc, Plan: plan, Blends: func(int) bool { return list.Blending }, Sink: told}); err != nil {
		t.Errorf("%s: %v", idOf(t, file), err)
		return false
	}
	imposed, err := pdf.Open(bytes.NewReader(out.Bytes()), int64(out.Len()), pdf.Options{})
	if err != nil || imposed.Repaired() {
		t.Errorf("%s: the imposed file is not sound: %v", idOf(t, file), err)
		return false
	}
	placed, err := interp.NewReader(imposed, finding.Discard).Page(ctx, 1, interp.Options{})
	if err != nil {
		t.Errorf("%s: %v", idOf(t, file), err)
		return false
	}
	if list.Incomplete != placed.Incomplete {
		t.Errorf("%s: incomplete alone %v, on the sheet %v", idOf(t, file), list.Incomplete, placed.Incomplete)
	}
	conv := colour.NewConverter(nil)
	render := func(l *displist.List, region geom.Rect) *plate.Stack {
		st := &plate.Stack{}
		job := paint.Job{List: l, Target: separate.NewTargetFromLists(conv, finding.Discard, l), DPI: 72, Region: region}
		if err := paint.Render(ctx, job, st); err != nil {
			t.Fatalf("%s: %v", idOf(t, file), err)
		}
		return st
	}
	a := render(list, trim)
	b := render(placed, placed.Page.Media)
	name := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(name, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	// Stream data is kept as stored: what is odd in a source stays so, and only then is the source asked about.
	if err := qpdfFinds(name); err != nil && qpdfFinds(file) == nil {
		t.Errorf("%s: %v", idOf(t, file), err)
	}
	if list.Incomplete {
		return false // a limit is met elsewhere
	}
	// A page that blends has 16 bits as a group and 8 alone, which is up to 3 of 255 apart. Hard edges of shadings that run through the
	// middle of pixels may fall to either side once their place is rounded: a pixel may be as one
	// beside it, and of a steep shading with a diagonal edge 18 of 10,000 are neither.
	const forgiven, share = 3, 0.002
	for i, c := range a.Set.All() {
		k, ok := b.Set.Lookup(c.Name)
		var pb []byte
		if ok {
			pb = b.Plane(k)
		}
		pa := a.Plane(i)
		n, worst := 0, 0
		for y := range a.Height - 1 { // the last row and column may lie half outside
			for x := range a.Width - 1 {
				v := int(at(pb, (y+int(off))*b.Width+x+int(off)))
				d := max(int(at(pa, y*a.Width+x))-v, v-int(at(pa, y*a.Width+x)))
				if worst = max(worst, d); d <= forgiven {
					continue
				}
				lo, hi := 255, 0
				for j := max(0, y-1); j <= y+1; j++ {
					for i := max(0, x-1); i <= x+1; i++ {
						w := int(at(pa, j*a.Width+i))
						lo, hi = min(lo, w), max(hi, w)
					}
				}
				if v < lo-forgiven || v > hi+forgiven {
					n++
				}
			}
		}
		if float64(n) > share*float64(a.Width*a.Height)+2 {
			t.Errorf("%s: %s: %d of %d pixels differ, by up to %d", idOf(t, file), c.Kind, n, a.Width*a.Height, worst)
		}
	}
	return true
}
