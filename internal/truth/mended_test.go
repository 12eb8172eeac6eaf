package truth

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/go-fonts/liberation/liberationsansregular"
	"pgregory.net/rapid"

	"laydown/internal/app"
	"laydown/internal/artwork/displist"
	"laydown/internal/demo"
	"laydown/internal/geom"
	"laydown/internal/mend"
	"laydown/internal/pdfbuild"
	_ "laydown/internal/sameseed"
)

// TestMendedFilesAreSeparatedElsewhereAsPredicted mends the example ticket and holds our plates of it against those of two
// independent interpreters, by the limits of the corpus.
func TestMendedFilesAreSeparatedElsewhereAsPredicted(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a minute")
	}
	oracles(t)
	dir := t.TempDir()
	job, ticket := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "faulty.pdf")
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, true); err != nil {
		t.Fatal(err)
	}
	for file, data := range map[string][]byte{job: []byte(demo.JobYAML()), ticket: b.Bytes()} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	setup, err := app.NewSetup(app.SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.pdf")
	if err := os.WriteFile(other, pageOfForms(), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		file string
		safe bool
		uses []string
	}{
		"forms": {other, false, []string{"thicken-lines:toner=process,to=1mm", "drop-hidden-layers", "to-process:toner=Moon Dust", "laydown-overprint:toner=White",
			"overprint-on:toner=Clear", "multiply-on:toner=Clear", "spare-underlay:toner=White", "to-toner:toner=Gold,kind=text,tint=60%"}},
		"clean": {ticket, true, []string{"merge-colourants:from=Moon Dust,to=Silver", "to-toner:toner=Gold,colour=stand-in", "clip-tints:toner=Silver,to=advised",
			"lighten-pile:limit=260%", "knock-out:toner=White,over=Gold", "embed-needed", "add-bleed:edges=right"}},
		"made":     {ticket, false, []string{"make-underlay:toner=White,under=colours,choke=0.2mm", "make-clear:over=layer Picture,spread=0.3mm"}},
		"images":   {ticket, false, []string{"make-underlay:toner=White,as=image,tint=coverage,dpi=150,layer=tints", "make-clear:over=images,as=bitmap,dpi=300,free=150 20 30 30"}},
		"assigned": {ticket, false, []string{"to-toner:toner=Silver,kind=image,curve=0 10 40 80 100", "to-toner:toner=Silver 30% + Gold 40%,layer=Metals", "multiply-on:toner=Clear"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out := filepath.Join(dir, name+".pdf")
			req := app.MendRequest{File: c.file, Setup: setup, Out: out, DPI: 100, AllSafe: c.safe}
			for _, s := range c.uses {
				u, err := mend.Parse(s)
				if err != nil {
					t.Fatal(err)
				}
				req.Uses = append(req.Uses, u)
			}
			o, err := app.Mend(context.Background(), req)
			if err != nil || len(o.Refused) > 0 {
				t.Fatalf("%v %v", err, o)
			}
			t.Logf("%d plates compared", agree(t, name, out))
		})
	}
}

// pageOfForms has a form drawn twice, in and out of a group, thin lines, a hidden layer, and type whose colour is set before it.
func pageOfForms() []byte {
	f := pdfbuild.New()
	hidden := f.Add("<< /Type /OCG /Name (hidden) >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%d 0 R] /D << /OFF [%[1]d 0 R] >> >>", hidden))
	ttf := liberationsansregular.TTF
	program := f.Stream(fmt.Sprintf("/Length1 %d", len(ttf)), string(ttf))
	descriptor := f.Add("<< /Type /FontDescriptor /FontName /ABCDEF+LiberationSans /Flags 32 /FontBBox [-500 -300 1300 1000] /ItalicAngle 0 /Ascent 905 /Descent -212 /CapHeight 729 /StemV 80 /FontFile2 " + pdfbuild.Ref(program) + " >>")
	resources := "/ColorSpace << /W " + pdfbuild.Spot("White", .25, 0, 0, .1) + " /C " + pdfbuild.Spot("Clear", 0, .2, 0, 0) + " /S " + pdfbuild.Spot("Silver", 0, 0, 0, .45) +
		" /M " + pdfbuild.Spot("Moon#20Dust", 0, .1, .4, .3) + " >> /ExtGState << /On << /OP true /op true /OPM 1 >> >> /Font << /F << /Type /Font /Subtype /TrueType /BaseFont /ABCDEF+LiberationSans " +
		"/FirstChar 65 /LastChar 90 /Widths [" + strings.Repeat("722 ", 26) + "] /Encoding /WinAnsiEncoding /FontDescriptor " + pdfbuild.Ref(descriptor) + " >> >> /Properties << /H " + pdfbuild.Ref(hidden) + " >>"
	content := "/C cs 1 scn 0 0 60 60 re f /M cs 1 scn 20 20 60 30 re f 0 .5 1 0 k BT /F 30 Tf 5 60 Td (MEND) Tj ET"
	plain := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Resources << "+resources+" >>", content)
	group := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 100 100] /Group << /S /Transparency >> /Resources << "+resources+" >>", "/C cs 1 scn 10 10 50 50 re f 30 30 60 60 re f")
	f.Page(400, 300, resources+fmt.Sprintf(" /XObject << /P %d 0 R /G %d 0 R >>", plain, group),
		"/W cs 1 scn 20 20 200 200 re f 1 .2 0 0 k 40 40 150 150 re f /S cs .6 scn 60 60 300 40 re f 0 0 0 .8 k 100 20 60 200 re f\n"+
			"q 1 0 0 1 30 100 cm /P Do Q q 1.5 0 0 1.5 220 120 cm /P Do Q q 1 0 0 1 150 50 cm /G Do Q\n"+
			"0 0 0 1 K .2 w 10 10 m 390 290 l S 0 w 10 290 m 390 10 l S /OC /H BDC 1 0 0 0 k 0 0 400 60 re f EMC /W cs 1 scn 300 200 60 60 re f")
	return f.Bytes()
}

// TestMendedRandomPagesAreSeparatedElsewhereAsPredicted mends random pages by each remedy: both interpreters have our plates of every
// page as it was and as it is then, but for where mutool shows samples that are many pixels large.
func TestMendedRandomPagesAreSeparatedElsewhereAsPredicted(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes")
	}
	oracles(t)
	setup, err := app.NewSetup(app.SetupOptions{Press: "two-set", Stock: "midnight-blue-board"})
	if err != nil {
		t.Fatal(err)
	}
	for i, use := range []string{"rename-colourant:from=white,to=White", "merge-colourants:from=Moon Dust|white,to=Silver", "overprint-on:toner=Clear", "multiply-on:toner=Clear",
		"to-toner:toner=Gold,colour=stand-in", "to-toner:toner=Silver 30% + Gold 40%,kind=image,curve=0 10 40 80 100", "to-process:toner=Moon Dust", "clip-tints:toner=Silver",
		"lighten-pile:limit=200%", "thicken-lines:toner=process,to=4pt", "drop-hidden-layers", "embed-needed", "add-bleed:bleed=3mm", "make-underlay:toner=White,choke=0.2mm",
		"make-clear:over=images,as=bitmap,dpi=100,free=5 5 10 10", "spare-underlay:toner=White", "choke-underlay:toner=White,choke=0.5mm",
		"laydown-overprint:toner=White", "knock-out:toner=White,over=Gold"} {
		t.Run(use, func(t *testing.T) {
			t.Parallel()
			u, err := mend.Parse(use)
			if err != nil {
				t.Fatal(err)
			}
			dir, files := t.TempDir(), rapid.Custom(pdfbuild.RandomFile)
			in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
			for seed := 100 * i; seed < 100*i+60; seed++ {
				if err := os.WriteFile(in, files.Example(seed), 0o600); err != nil {
					t.Fatal(err)
				}
				o, err := app.Mend(context.Background(), app.MendRequest{File: in, Setup: setup, Out: out, DPI: 72, Uses: []mend.Use{u}})
				if err != nil || len(o.Refused) > 0 {
					t.Fatalf("%v %+v", err, o)
				}
				if o.Out != "" {
					t.Logf("%d plates compared", agree(t, "as it was", in)+agree(t, "mended", out))
					return
				}
			}
			t.Error("nothing to do on 60 files")
		})
	}
}

// agree holds our plates of each page of a file against those of both interpreters, and counts them.
func agree(t *testing.T, what, file string) (compared int) {
	t.Helper()
	ctx := context.Background()
	var gs []*Plates
	dpi := 0
	for page := 1; page == 1 || page <= len(gs); page++ {
		ours, err := Ours(ctx, file, page)
		if err != nil {
			t.Fatal(err)
		}
		if ours.DPI != dpi {
			dpi = ours.DPI
			if gs, err = GhostscriptAll(ctx, file, dpi); err != nil {
				t.Fatal(err)
			}
		}
		mu, err := MuPDF(ctx, file, page, dpi)
		if err != nil {
			t.Fatal(err)
		}
		rows := Judge("", page, ours, gs[page-1], mu)
		compared += len(rows)
		if slices.ContainsFunc(rows, func(r Row) bool { return r.Verdict() == "gs" }) {
			if strips := steppedSamples(ours.list, dpi); len(strips) > 0 {
				t.Logf("%s, page %d: without what lies beside the edges of large samples", what, page)
				ours.blank(strips)
				mu.blank(strips)
				gs[page-1].blank(strips)
				rows = Judge("", page, ours, gs[page-1], mu)
			}
		}
		for _, r := range rows {
			if v := r.Verdict(); v != "both" {
				t.Errorf("%s, page %d, %s: gs %v, mutool %v; these two %v: %s", what, page, r.Plate, r.OursGS, r.OursMu, r.GSMu, v)
			}
		}
	}
	return compared
}

// steppedSamples are the strips of pixels between where the edges of an upright image's samples lie, which divide it into equal
// parts (ISO 32000-2, 8.9.5.1), and where mutool 1.21 shows them: it steps from pixel to pixel by a whole number of 16,384ths of a
// sample, so that two samples on 1566 pixels meet 36 pixels too late. Deduced from its plates, which the number foretells to a pixel.
func steppedSamples(list *displist.List, dpi int) (strips []image.Rectangle) {
	for i := range list.Items {
		it := &list.Items[i]
		if it.Kind != displist.Image || it.Image == nil || it.Image.M.B != 0 || it.Image.M.C != 0 {
			continue
		}
		box := it.Image.M.Bounds(geom.Rect{X1: 1, Y1: 1})
		scale := float64(dpi) / 72
		x, y := (box.X0-list.Page.Crop.X0)*scale, (box.Y0-list.Page.Crop.Y0)*scale
		w, h := box.W()*scale, box.H()*scale
		for _, e := range steppedEdges(it.Image.Width, w) {
			strips = append(strips, pixelsOf(x+e[0], y, x+e[1], y+h))
		}
		for _, e := range steppedEdges(it.Image.Height, h) {
			strips = append(strips, pixelsOf(x, y+e[0], x+w, y+e[1]))
		}
	}
	return strips
}

// steppedEdges are where each two of n samples on a length of pixels meet, and where mutool lets them.
func steppedEdges(n int, length float64) (edges [][2]float64) {
	const one = 1 << 14
	step := math.Floor(float64(n) * one / (length * shrink))
	for k := 1; k < n && step > 0; k++ {
		edges = append(edges, [2]float64{float64(k) * length / float64(n), min(float64(k)*one/step/shrink, length)})
	}
	return edges
}

// pixelsOf is a box grown to whole pixels and one more.
func pixelsOf(x0, y0, x1, y1 float64) image.Rectangle {
	return image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1))).Inset(-1)
}

// blank takes all toner off some pixels.
func (p *Plates) blank(strips []image.Rectangle) {
	for _, s := range strips {
		s = s.Intersect(image.Rect(0, 0, p.W, p.H))
		for _, plane := range p.Plane {
			for y := s.Min.Y; y < s.Max.Y; y++ {
				clear(plane[y*p.W+s.Min.X : y*p.W+s.Max.X])
			}
		}
	}
}
