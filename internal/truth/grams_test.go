package truth

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/app"
	"laydown/internal/demo"
	"laydown/internal/press"
)

// TestTruth_grams: the grams of the plan are those of an independent count on the example ticket: Ghostscript's plates, summed
// pixel by pixel inside the bleed, times area, times the mass of the toner at full tint.
func TestTruth_grams(t *testing.T) {
	if testing.Short() {
		t.Skip("runs Ghostscript")
	}
	program(t, "gs")
	dir := t.TempDir()
	job, in := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "ticket.pdf")
	var ticket bytes.Buffer
	if err := demo.WriteTicket(&ticket, false); err != nil {
		t.Fatal(err)
	}
	for file, data := range map[string][]byte{job: []byte(demo.JobYAML()), in: ticket.Bytes()} {
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	ctx := context.Background()
	s, err := app.NewSetup(app.SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	o, err := app.Plan(ctx, app.PlanRequest{File: in, Setup: s})
	if err != nil {
		t.Fatal(err)
	}
	// Ghostscript paints every pixel that a shape touches, so that thin lines come out too thick by about a pixel: silver lines of
	// 0.26 mm by 7 % at 1200 dpi. The error is in proportion to the pixel: half the resolution has twice as much of it.
	fine, half := counted(t, s, in, 300), counted(t, s, in, 150)
	count := map[string]float64{}
	for name, g := range fine {
		count[name] = 2*g - half[name]
	}
	if len(o.Plans) == 0 || len(o.Plans[0].Reckoning.Toner) != 8 {
		t.Fatalf("the ticket has eight toners: %+v", o.Plans)
	}
	const most = 0.01
	for _, f := range o.Plans[0].Reckoning.Toner {
		ours, theirs := *f.Piece.Value, count[f.Toner]
		t.Logf("%-8s %.5f g, counted %.5f g (%+.2f %%)", f.Toner, ours, theirs, 100*(ours/theirs-1))
		if theirs == 0 || math.Abs(ours/theirs-1) > most {
			t.Errorf("%s: the plan has %.5f g, the count %.5f g", f.Toner, ours, theirs)
		}
	}
}

// counted is the grams of each toner on a piece by Ghostscript's plates.
func counted(t *testing.T, s *app.Setup, file string, dpi int) map[string]float64 {
	t.Helper()
	pages, err := GhostscriptAll(context.Background(), file, dpi)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]float64{}
	for n, p := range pages {
		box := bleedOf(t, s, file, n+1, dpi)
		for name, plane := range p.Plane {
			sum := 0
			for y := box.y0; y < box.y1; y++ {
				for _, v := range plane[y*p.W+box.x0 : y*p.W+box.x1] {
					sum += int(v)
				}
			}
			m2 := math.Pow(25.4e-3/float64(dpi), 2)
			for toner, share := range partsOf(s.Press, name) {
				if mounted, ok := s.Press.Toner(toner); ok {
					count[toner] += float64(sum) / 255 * share * m2 * float64(mounted.Mass)
				}
			}
		}
	}
	return count
}

type pixels struct{ x0, y0, x1, y1 int }

// bleedOf is the bleed box in pixels of the crop box, which Ghostscript paints.
func bleedOf(t *testing.T, s *app.Setup, file string, page, dpi int) pixels {
	t.Helper()
	art, err := s.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	sh, err := art.Read(context.Background(), s, page, app.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	p := sh.List.Page
	at := func(v, from float64) int { return int(math.Round((v - from) * float64(dpi) / 72)) }
	return pixels{at(p.Bleed.X0, p.Crop.X0), at(p.Bleed.Y0, p.Crop.Y0), at(p.Bleed.X1, p.Crop.X0), at(p.Bleed.Y1, p.Crop.Y0)}
}

// partsOf is what a plate of an interpreter is laid as: itself, or the toners of a mix.
func partsOf(p *press.Press, plate string) map[string]float64 {
	out := map[string]float64{}
	if m, ok := p.Mix(plate); ok {
		for _, part := range m.Parts {
			out[part.Toner] = float64(part.Tint) / 100
		}
		return out
	}
	if slices.ContainsFunc(p.Toners, func(t press.Toner) bool { return t.Name == plate }) {
		out[plate] = 1
	}
	return out
}
