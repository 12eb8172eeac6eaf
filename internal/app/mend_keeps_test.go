package app

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/mend"
	"laydown/internal/pdfbuild"
)

// refusal applies one remedy and gives the error, for those that must be refused.
func refusal(t *testing.T, s *Setup, data []byte, use string) error {
	t.Helper()
	dir := t.TempDir()
	in := filepath.Join(dir, "in.pdf")
	if err := os.WriteFile(in, data, 0o644); err != nil {
		t.Fatal(err)
	}
	u, err := mend.Parse(use)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Mend(context.Background(), MendRequest{File: in, Setup: s, Out: filepath.Join(dir, "out.pdf"), DPI: 72, Uses: []mend.Use{u}})
	return err
}

// layeredPage has an object on a layer that is off and one on the cutting lines.
func layeredPage() []byte {
	f := pdfbuild.New()
	off := f.Add("<< /Type /OCG /Name (Notes) >>")
	cut := f.Add("<< /Type /OCG /Name (Die) /GTS_Metadata << /GTS_ProcStepsGroup /Structural /GTS_ProcStepsType /Cutting >> >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%d 0 R %d 0 R] /D << /OFF [%[1]d 0 R] >> >>", off, cut))
	f.Page(100, 100, fmt.Sprintf("/Properties << /Off %d 0 R /Cut %d 0 R >>", off, cut),
		"/OC /Off BDC 0 0 20 20 re f EMC /OC /Cut BDC 10 10 80 80 re S EMC 0 1 0 0 k 30 30 20 20 re f")
	return f.Bytes()
}

func TestDroppingHiddenLayersKeepsProcessingSteps(t *testing.T) {
	for use, want := range map[string]string{"drop-hidden-layers": "Die", "drop-hidden-layers:layer=Die": "Notes"} {
		dir, s := t.TempDir(), twoSet(t)
		mended(t, dir, s, layeredPage(), use)
		_, l := listOf(t, s, dir)
		var left []string
		for i := range l.Items {
			if l.Items[i].Layer != nil {
				left = append(left, l.Items[i].Layer.Name)
			}
		}
		if got := strings.Join(left, ", "); got != want {
			t.Errorf("%s leaves objects on %q; want %q", use, got, want)
		}
	}
}

func TestSeveralHiddenLayersGoTogether(t *testing.T) {
	f := pdfbuild.New()
	a, b := f.Add("<< /Type /OCG /Name (A) >>"), f.Add("<< /Type /OCG /Name (B) >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%d 0 R %d 0 R] /D << /OFF [%[1]d 0 R %[2]d 0 R] >> >>", a, b))
	f.Page(100, 100, fmt.Sprintf("/Properties << /A %d 0 R /B %d 0 R >>", a, b), "/OC /A BDC 0 0 20 20 re f EMC /OC /B BDC 30 0 20 20 re f EMC 0 60 9 9 re f")
	dir, s := t.TempDir(), twoSet(t)
	o, _ := mended(t, dir, s, f.Bytes(), "one-definition")
	for _, g := range o.Before.Findings {
		if g.ID == "hidden-layers" && !slices.Equal(g.Mends, []string{"drop-hidden-layers"}) {
			t.Fatalf("two hidden layers are answered by %v", g.Mends)
		}
	}
	if o, _ := mended(t, dir, s, f.Bytes(), "drop-hidden-layers"); len(told(o.After, finding.Note, "hidden-layers", "")) > 0 {
		t.Fatal("a layer is still there")
	}
}

func TestEmbeddedFontsKeepEveryCode(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding << /Type /Encoding /Differences [1 /A /B] >> >> >>",
		"BT /F 40 Tf 10 30 Td (\x01\x02) Tj ET")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "embed-needed")
	_, l := listOf(t, s, dir)
	if len(l.Items) != 1 || !l.Items[0].Text.Embedded || len(l.Items[0].Shape.Glyphs) != 2 {
		t.Fatalf("letters are lost: %+v", l.Items)
	}
	for i, g := range l.Items[0].Shape.Glyphs {
		if g.Outline == nil || g.Outline.Empty() {
			t.Errorf("letter %d has no outline", i)
		}
	}
	if a, b := l.Items[0].Shape.Glyphs[0].M.E, l.Items[0].Shape.Glyphs[1].M.E; b-a < 20 {
		t.Errorf("the first letter is %.1f pt wide; 26.7 in the file", b-a)
	}
}

func TestRegistrationMarksBeyondTheTrimStay(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, caseSpaces+"[/Separation /All /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [1 1 1 1] >>] >>",
		"/W cs 1 scn 2 50 5 1 re f 40 40 20 20 re f 93 50 5 1 re f", "/TrimBox [10 10 90 90]")
	dir, s := t.TempDir(), twoSet(t)
	o, _ := mended(t, dir, s, f.Bytes(), "one-definition")
	var offered []string
	for _, g := range o.Before.Findings {
		if g.ID == "registration-colour-inside-trim" {
			offered = g.Mends
		}
	}
	if len(offered) != 1 {
		t.Fatalf("offered: %v", offered)
	}
	mended(t, dir, s, f.Bytes(), offered[0])
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Separation All, DeviceCMYK, Separation All"; got != want {
		t.Fatalf("%s leaves %s; want %s", offered[0], got, want)
	}
}

// A remedy with options of its own answers what the same remedy is offered for.
func TestFindingsLeftAreToldWhateverTheOptions(t *testing.T) {
	dir := t.TempDir()
	s := answerSetup(t, dir, "")
	for _, c := range []struct {
		use, content string
		left         bool
	}{
		// The thin square stays bare, as the choke is wider than it.
		{"make-underlay:toner=White,choke=5mm,keep=0mm", "1 0 0 0 k 20 20 60 60 re f", true},
		{"make-underlay:toner=White,choke=0.1mm", "1 0 0 0 k 20 20 60 60 re f", false},
		{"clip-tints:toner=Silver,to=100%", "/S cs .05 scn 20 20 40 40 re f", false},
	} {
		o, out := mendedAt(t, 150, dir, s, answerPage(c.content), c.use)
		if out == nil {
			t.Fatalf("%s changes nothing", c.use)
		}
		if left := len(o.Steps[0].Left) > 0; left != c.left || o.Answered == c.left {
			t.Errorf("%s: left %v, answered %v", c.use, o.Steps[0].Left, o.Answered)
		}
	}
}

func TestUndoRefusesFilesWrittenAnew(t *testing.T) {
	if _, err := exec.LookPath("qpdf"); err != nil {
		t.Skip("qpdf is not here")
	}
	f := pdfbuild.New()
	f.Page(100, 100, caseSpaces+pdfbuild.Spot("white", .2, 0, 0, 0)+" >>", "/W cs 1 scn 0 0 50 50 re f "+strings.Repeat("% a long line\n", 200))
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "rename-colourant:from=white,to=White")
	for _, how := range []string{"--qdf", "--linearize", "--object-streams=generate"} {
		anew, back := filepath.Join(dir, "anew.pdf"), filepath.Join(dir, "back.pdf")
		if out, err := exec.Command("qpdf", how, "--stream-data=uncompress", filepath.Join(dir, "out.pdf"), anew).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		if _, err := Unmend(s, anew, back); err == nil {
			data, _ := os.ReadFile(back)
			t.Errorf("%s: a file another program wrote anew was cut to %d bytes", how, len(data))
		}
	}
}

func TestNamesNobodyKnowsAreRefused(t *testing.T) {
	page := answerPage("0 1 0 0 k 20 20 40 40 re f")
	for _, use := range []string{"make-clear:over=Sliver,dpi=100", "make-clear:over=process|Sliver,dpi=100", "make-underlay:toner=White,under=Sliver,dpi=100"} {
		if err := refusal(t, twoSet(t), page, use); err == nil || !strings.Contains(err.Error(), "Sliver") {
			t.Errorf("%s: %v", use, err)
		}
	}
}

func TestClearOverTonersTakesBlanksRoundNames(t *testing.T) {
	dir, s := t.TempDir(), twoSet(t)
	o, out := mended(t, dir, s, answerPage("/S cs 1 scn 20 20 10 10 re f /Au cs 1 scn 50 20 10 10 re f"), `make-clear:over=Silver | Gold,dpi=100`)
	if out == nil || len(o.Steps[0].Plates) != 1 || o.Steps[0].Plates[0].Plates[0].Colourant != "Clear" {
		t.Fatalf("%+v", o.Steps)
	}
}

func TestTrimIsTakenFromAnArtBoxOfTheFinishedSize(t *testing.T) {
	f := pdfbuild.New()
	f.Page(200, 200, "", "0 0 200 200 re f", "/ArtBox [20 30 120 130]")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "set-boxes:width=100pt,height=100pt,bleed=3mm")
	_, l := listOf(t, s, dir)
	if tr := l.Page.Trim; tr.X0 != 20 || tr.Y0 != 70 || l.Page.HasArt {
		t.Fatalf("the trim became %+v", tr)
	}
}

// The place of the trim is certain, and all-safe sets it, only where the file tells it: page boxes it fits, alone or with the bleed of
// 2 mm, or another page. A page with room round it tells nothing.
func TestTrimIsSetUnaskedOnlyWhereTheFileTellsItsPlace(t *testing.T) {
	const content = "0 1 0 0 k 30 30 20 20 re f"
	const bleed = 5.67 // pt, 2 mm
	size := 80 + 2*bleed
	for _, c := range []struct {
		name          string
		width, height float64 // of the MediaBox, pt
		boxes         string
		other         string  // page before, of the same size, with a trim there
		x, y          float64 // of the trim from the top left, pt; -1 = it is not set
	}{
		{"finished", 80, 80, "", "", 0, 0},
		{"finished and bleed", size, size, "", "", bleed, bleed},
		{"wider than high", size + 10, size, "", "", -1, -1},
		{"room for marks", 100, 100, "", "", -1, -1},
		{"other page", 100, 100, "", "/TrimBox [10 10 90 90]", 10, 10},
		{"other page off the middle", 100, 100, "", "/TrimBox [2 10 82 90]", -1, -1},
		{"other page of another size", 100, 100, "", "/TrimBox [20 20 60 60]", -1, -1},
		{"bleed box", 120, 110, "/BleedBox [4 6 94 96]", "", 9, 19},
		{"crop box", 120, 110, "/CropBox [4 6 84 86]", "", 4, 24},
		{"art box", 120, 110, "/ArtBox [4 6 84 86]", "", 4, 24},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, page := pdfbuild.New(), 1
			if c.other != "" {
				f.Page(c.width, c.height, "", content, c.other)
				page = 2
			}
			f.Page(c.width, c.height, "", content, c.boxes)
			dir := t.TempDir()
			s := answerSetup(t, dir, answerBleed)
			o, out := allSafe(t, dir, s, f.Bytes())
			if out == nil {
				if c.x >= 0 {
					t.Fatalf("nothing was set: %+v", o.Steps)
				}
				if len(o.Steps) == 0 || len(o.Steps[0].Notes) == 0 {
					t.Fatal("nobody is told that the place is unknown")
				}
				return
			}
			a, err := s.Open(filepath.Join(dir, "out.pdf"))
			if err != nil {
				t.Fatal(err)
			}
			defer a.Close()
			sh, err := a.Read(context.Background(), s, page, ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			const near = .01 // pt: answerBleed rounds 80 pt to 28.22 mm
			if tr := sh.List.Page.Trim; !sh.List.Page.HasTrim != (c.x < 0) || c.x >= 0 && max(math.Abs(tr.X0-c.x), math.Abs(tr.Y0-c.y)) > near {
				t.Fatalf("the trim became %+v", tr)
			}
		})
	}
}

// allSafe applies what is safe to a file given as bytes; nil when nothing was changed.
func allSafe(t *testing.T, dir string, s *Setup, data []byte) (*MendOutcome, []byte) {
	t.Helper()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(in, data, 0o644); err != nil {
		t.Fatal(err)
	}
	o, err := Mend(context.Background(), MendRequest{File: in, Setup: s, Out: out, DPI: 72, AllSafe: true})
	if err != nil {
		t.Fatal(err)
	}
	if o.Out == "" {
		return o, nil
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return o, b
}

func TestNegativeLengthsAreRefused(t *testing.T) {
	page := answerPage("0 1 0 0 k 20 20 40 40 re f")
	for _, use := range []string{"set-boxes:width=10mm,height=10mm,bleed=-1mm,replace=yes", "make-underlay:keep=-1mm", "make-clear:spread=-1mm,over=process"} {
		if err := refusal(t, twoSet(t), page, use); err == nil {
			t.Errorf("%s was applied", use)
		}
	}
}

func TestPathsThatEndInACommentAreChanged(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, "", "0 1 0 0 k 10 10 30 30 re W % a clip\nf 1 0 0 0 k 0 0 100 100 re f")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "to-toner:toner=Gold,item=0,page=1")
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Separation Gold, DeviceCMYK"; got != want || l.Items[1].Clip == nil || l.Items[1].Clip.Bounds.W() != 30 {
		t.Fatalf("painted in %s, clipped to %+v", got, l.Items[len(l.Items)-1].Clip)
	}
}

func TestColoursWithCommentsAreSetBack(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>", "0 1 0 0 % pink\nk BT /F 12 Tf 5 50 Td (a) Tj (b) Tj ET")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "to-toner:toner=Gold,item=0,page=1")
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Separation Gold, DeviceCMYK"; got != want || l.Items[1].Paint.Comps[1] != 1 {
		t.Fatalf("painted in %s; want %s", got, want)
	}
}

// Content that leaves a layer open must not take what is made in with it.
func TestWhatIsMadeLiesOnNoOtherLayer(t *testing.T) {
	f := pdfbuild.New()
	off := f.Add("<< /Type /OCG /Name (Notes) >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%d 0 R] /D << /OFF [%[1]d 0 R] >> >>", off))
	f.Page(100, 100, fmt.Sprintf("/Properties << /Off %d 0 R >>", off), "0 1 0 0 k 20 20 40 40 re f /OC /Off BDC 0 0 20 20 re f")
	dir, s := t.TempDir(), twoSet(t)
	mended(t, dir, s, f.Bytes(), "make-clear:over=flood")
	_, l := listOf(t, s, dir)
	if last := &l.Items[len(l.Items)-1]; last.Hidden || last.Layer == nil || last.Layer.Name != "Clear flood" {
		t.Fatalf("the clear lies on %+v", last.Layer)
	}
}

// What is asked for and not done is told or refused.
func TestMendsTellWhatTheyLeave(t *testing.T) {
	dir, s := t.TempDir(), twoSet(t)
	page := answerPage("0 1 0 0 k 20 20 40 40 re f")
	_, once := mended(t, dir, s, page, "make-underlay:dpi=100")
	o, again := mended(t, dir, s, once, "make-underlay:dpi=100,choke=1mm")
	if again != nil || !strings.Contains(strings.Join(o.Steps[0].Notes, " "), "White underlay") {
		t.Errorf("a second underlay on the same layer: %+v", o.Steps)
	}
	for _, use := range []string{"make-clear:as=image", "make-clear:over=flood,dpi=100", "make-clear:threshold=20%", "set-boxes:width=10mm,height=10mm,x=1mm"} {
		if err := refusal(t, s, page, use); err == nil {
			t.Errorf("%s was applied", use)
		}
	}
	f := pdfbuild.New()
	f.Page(100, 100, "/ColorSpace << /P "+pdfbuild.Spot("Pale#20Gold", .1, .2, .4, .1)+" >>", "/P cs .1 scn 20 20 40 40 re f")
	if o, _ := mended(t, dir, s, f.Bytes(), "clip-tints:toner=Silver"); !strings.Contains(strings.Join(o.Steps[0].Notes, " "), "Pale Gold") {
		t.Errorf("a mix with a tint outside the range of its toner: %+v", o.Steps)
	}
	mended(t, dir, s, answerPage("0 1 0 0 k 20 20 40 40 re f"), "make-clear:spread=1mm")
	_, l := listOf(t, s, dir)
	if last := &l.Items[len(l.Items)-1]; last.Bounds != l.Page.Media { // the bleed is the page
		t.Errorf("the flood is %+v", last.Bounds)
	}
}

// Two layers made in one edit both stay in the list of layers.
func TestLayersMadeTogetherAreBothListed(t *testing.T) {
	two := &mend.Remedy{ID: "two", Title: "Makes two clears.", Apply: func(ctx context.Context, e *mend.Edit, _ mend.Options) error {
		r, _ := mend.Find("make-clear")
		for _, layer := range []string{"One", "Two"} {
			if err := r.Apply(ctx, e, mend.Options{"layer": layer}); err != nil {
				return err
			}
		}
		return nil
	}}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(in, answerPage("0 1 0 0 k 20 20 40 40 re f"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Mend(context.Background(), MendRequest{File: in, Setup: twoSet(t), Out: out, DPI: 72, Uses: []mend.Use{{Remedy: two}}}); err != nil {
		t.Fatal(err)
	}
	listed := func(file string) int {
		a, err := Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		props, _ := a.Doc.Dict(a.Doc.Catalog()["OCProperties"])
		groups, _ := a.Doc.Array(props["OCGs"])
		return len(groups)
	}
	if before, after := listed(in), listed(out); after != before+2 {
		t.Fatalf("%d layers are listed after %d", after, before)
	}
}

func TestMixturesAreToldApartByAllTheirNames(t *testing.T) {
	g := pdfbuild.New()
	fn := g.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ pop pop 0 0 0 .5 }")
	pic := g.Stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace [/Indexed [/DeviceN [/Silver /White] /DeviceCMYK %d 0 R] 1 <00FFFF00>]", fn), "\x00\x01")
	g.Page(100, 100, fmt.Sprintf("/XObject << /P %d 0 R >>", pic), "100 0 0 100 0 0 cm /P Do")
	dir, s := t.TempDir(), twoSet(t)
	if _, out := mended(t, dir, s, g.Bytes(), "to-toner:toner=Silver 30% + Gold 40%,kind=image"); out == nil {
		t.Fatal("the picture was left in its mixture")
	}
	_, l := listOf(t, s, dir)
	if got := spaces(l); !strings.Contains(got, "Gold") {
		t.Fatalf("the picture is in %s", got)
	}
}

func TestPicturesCanBeGivenNoToner(t *testing.T) {
	f := pdfbuild.New()
	im := f.Stream("/Type /XObject /Subtype /Image /Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray", "\x00\x80")
	f.Page(100, 100, "/XObject << /P "+pdfbuild.Ref(im)+" >>", "100 0 0 100 0 0 cm /P Do")
	dir, s := t.TempDir(), twoSet(t)
	o, _ := mended(t, dir, s, f.Bytes(), "to-toner:toner=Silver,kind=image,tint=0%")
	for _, p := range o.Difference.Pages[0].Plates {
		if p.Colourant == "Silver" && !p.Same {
			t.Fatalf("a tint of 0 %% lays down toner: %+v", p)
		}
	}
}

// What a picture's transparency is mixed with before cannot be given to a toner with its colours.
func TestPremultipliedPicturesAreLeft(t *testing.T) {
	f := pdfbuild.New()
	mask := f.Stream("/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray /Matte [1 1 1]", "\x80")
	im := f.Stream("/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceRGB /SMask "+pdfbuild.Ref(mask), "\xff\x80\x80")
	f.Page(100, 100, "/XObject << /P "+pdfbuild.Ref(im)+" >>", "100 0 0 100 0 0 cm /P Do")
	dir, s := t.TempDir(), twoSet(t)
	if o, out := mended(t, dir, s, f.Bytes(), "to-toner:toner=Silver,kind=image"); out != nil || len(o.Steps[0].Notes) == 0 {
		t.Fatalf("changed to %d bytes, %+v", len(out), o.Steps)
	}
}

// Two definitions of a name with alternate spaces of different sizes: each object takes its own.
func TestStandInsComeFromTheObjectsOwnDefinition(t *testing.T) {
	f := pdfbuild.New()
	lab := "[/Separation /Moss [/Lab << /WhitePoint [.9642 1 .8249] >>] << /FunctionType 2 /Domain [0 1] /N 1 /C0 [100 0 0] /C1 [50 -30 20] >>]"
	cal := "[/Separation /Moss [/CalGray << /WhitePoint [.9642 1 .8249] >>] << /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [.4] >>]"
	f.Page(100, 100, "/ColorSpace << /A "+lab+" /B "+cal+" >>", "/A cs 1 scn 0 0 40 40 re f /B cs 1 scn 50 50 40 40 re f")
	dir, s := t.TempDir(), twoSet(t)
	o, _ := mended(t, dir, s, f.Bytes(), "to-process:toner=Moss")
	_, l := listOf(t, s, dir)
	if got, want := spaces(l), "Lab, CalGray"; got != want || len(o.After.Findings) == 0 {
		t.Fatalf("painted in %s; want %s (%+v)", got, want, o.Steps)
	}
}

func TestAskedForAndSafeIsAppliedOnce(t *testing.T) {
	f := pdfbuild.New()
	f.Page(100, 100, caseSpaces+pdfbuild.Spot("white", .2, 0, 0, 0)+" >>", "/W cs 1 scn 0 0 50 50 re f")
	dir := t.TempDir()
	in := filepath.Join(dir, "in.pdf")
	if err := os.WriteFile(in, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	u, err := mend.Parse("rename-colourant:from=white,to=White")
	if err != nil {
		t.Fatal(err)
	}
	o, err := Mend(context.Background(), MendRequest{File: in, Setup: twoSet(t), Out: filepath.Join(dir, "out.pdf"), DPI: 72, AllSafe: true, Uses: []mend.Use{u}})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, st := range o.Steps {
		if st.Use == u.String() {
			n++
		}
	}
	if n != 1 {
		t.Fatalf("%d steps: %+v", n, o.Steps)
	}
	data, _ := os.ReadFile(o.Out)
	if bytes.Count(data, []byte("LaydownMend")) != 1 {
		t.Fatal("not one mend in the file")
	}
}

// A sign the stand-in lacks is drawn with another font's; a font set with it has to stay as it is, and somebody be told.
func TestEmbeddedFontsLoseNoSigns(t *testing.T) {
	for _, sign := range []string{"universal", "checkmark", "aleph", "nosuchsign"} {
		f := pdfbuild.New()
		f.Page(100, 100, "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding << /Type /Encoding /Differences [65 /"+sign+"] >> >> >>",
			"BT /F 40 Tf 10 30 Td (AB) Tj ET")
		dir, s := t.TempDir(), twoSet(t)
		o, out := mended(t, dir, s, f.Bytes(), "embed-needed")
		if out == nil {
			if len(o.Steps[0].Notes) == 0 {
				t.Errorf("%s: nobody is told why the font was left", sign)
			}
			continue
		}
		_, l := listOf(t, s, dir)
		n := 0
		for _, g := range l.Items[0].Shape.Glyphs {
			if g.Outline != nil && !g.Outline.Empty() {
				n++
			}
		}
		if n != 2 {
			t.Errorf("%s: %d of 2 letters are left", sign, n)
		}
	}
	// A sign that is not shown keeps nothing from being embedded.
	f := pdfbuild.New()
	f.Page(100, 100, "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding << /Type /Encoding /Differences [65 /checkmark] >> >> >>",
		"BT /F 40 Tf 10 30 Td (B) Tj ET")
	if _, out := mended(t, t.TempDir(), twoSet(t), f.Bytes(), "embed-needed"); out == nil {
		t.Error("a sign that nothing shows kept the font from being embedded")
	}
}

// Type within a soft mask is type too: its plates may differ where the mask lets through.
func TestFontsInMasksAreEmbedded(t *testing.T) {
	f := pdfbuild.New()
	font := "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Widths [900] /FirstChar 65 /LastChar 65 >> >>"
	mask := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Group << /S /Transparency /CS /DeviceGray >> /Resources << "+font+" >>", "1 g BT /F 60 Tf 20 30 Td (A) Tj ET")
	f.Page(100, 100, "/ExtGState << /M << /SMask << /S /Luminosity /G "+pdfbuild.Ref(mask)+" >> >> >>", "/M gs 0 1 0 0 k 0 0 100 100 re f")
	if o, out := mended(t, t.TempDir(), twoSet(t), f.Bytes(), "embed-needed"); out == nil {
		t.Errorf("%+v", o.Steps)
	}
}

// Black type is seldom in a colourant of its own name: plain process black is black alone too.
func TestBlackTypeIsSetToOverprint(t *testing.T) {
	for _, black := range []string{"0 0 0 1 k", "0 g", "0 0 0 rg", "/On gs 0 g", "/Zero gs 0 0 0 1 k", "/K cs 1 scn"} {
		f := pdfbuild.New()
		f.Page(100, 100, caseSpaces+pdfbuild.Spot("Silver", 0, 0, 0, .45)+" /K "+pdfbuild.Spot("Black", 0, 0, 0, 1)+" >> /ExtGState << /On << /OP true /op true /OPM 1 >> /Zero << /OP true /op true /OPM 0 >> >> /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>",
			"/W cs 1 scn 0 0 100 100 re f .4 .5 0 0 k 0 0 100 100 re f "+black+" BT /F 10 Tf 10 50 Td (black type) Tj ET .5 .5 .5 .5 k 10 10 20 20 re f", "/TrimBox [0 0 100 100]")
		dir, s := t.TempDir(), twoSet(t)
		o, out := mendedAt(t, 300, dir, s, f.Bytes(), "overprint-on:toner=Black")
		if len(told(o.Before, finding.Warning, "black-type-knocks-out", "")) == 0 {
			t.Fatalf("%s: black type does not knock out", black)
		}
		if out == nil || len(told(o.After, finding.Warning, "black-type-knocks-out", "")) > 0 {
			t.Errorf("%s: the type still knocks out: %+v", black, o.Steps)
		}
		if _, twice := mendedAt(t, 300, dir, s, out, "overprint-on:toner=Black"); twice != nil {
			t.Errorf("%s: mending twice changes something", black)
		}
	}
}
