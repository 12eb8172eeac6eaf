package truth

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"laydown/internal/app"
	"laydown/internal/pdfbuild"
)

// Independent interpreters separate a starter to what it says of its patches: special toners over each other by overprint,
// mixes as their toners, and mixes by name to a plate of that name.
func TestStarter_is_separated_alike_by_others(t *testing.T) {
	out := filepath.Join(t.TempDir(), "starter.pdf")
	r, err := app.WriteStarter(app.StarterRequest{Press: "two-set", Out: out})
	if err != nil {
		t.Fatal(err)
	}
	const dpi = 50
	for program, separate := range map[string]func(context.Context, string, int, int) (*Plates, error){"gs": Ghostscript, "mutool": MuPDF} {
		t.Run(program, func(t *testing.T) {
			if _, err := exec.LookPath(program); err != nil {
				t.Skip(program + " is not on this machine")
			}
			for n := 1; n <= r.Pages; n++ {
				plates, err := separate(context.Background(), out, n, dpi)
				if err != nil {
					t.Fatal(err)
				}
				for _, p := range r.Patches {
					if p.Page != n {
						continue
					}
					want := p.Tints
					if p.Mix != "" {
						want = map[string]float64{p.Mix: p.Tint}
					}
					x, y := int((p.X+p.W/2)*dpi/25.4), int((p.Y+p.H/2)*dpi/25.4)
					for name := range want {
						if plates.Plane[name] == nil {
							t.Errorf("page %d has no plate %q", n, name)
						}
					}
					for name, plane := range plates.Plane {
						// One level of 255: the interpreters round tints their own way.
						if got, w := float64(plane[y*plates.W+x]), want[name]*2.55; math.Abs(got-w) > 1 {
							t.Errorf("page %d at %d, %d: %s has level %g, want %g (%+v)", n, x, y, name, got, w, p)
						}
					}
				}
			}
		})
	}
}

// Our own pages, text and pictures included, come out of independent interpreters as we separate them.
func TestHandover_pages_are_separated_alike_by_others(t *testing.T) {
	if testing.Short() {
		t.Skip("takes the interpreters half a minute")
	}
	for _, name := range []string{"gs", "mutool", "qpdf"} {
		program(t, name)
	}
	dir := t.TempDir()
	starter, sheet, proof := filepath.Join(dir, "starter.pdf"), filepath.Join(dir, "setup.pdf"), filepath.Join(dir, "proof.pdf")
	if _, err := app.WriteStarter(app.StarterRequest{Press: "two-set", Out: starter, Sheet: sheet}); err != nil {
		t.Fatal(err)
	}
	f := pdfbuild.New()
	f.Page(200, 120, "/ColorSpace << /G [/Separation /Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 .2 .8 .2] >>] >>",
		"/G cs .7 scn 20 20 60 80 re f 0 .5 .2 0 k 100 20 60 80 re f")
	art := filepath.Join(dir, "art.pdf")
	if err := os.WriteFile(art, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := app.NewSetup(app.SetupOptions{Press: "two-set", Stock: "kraft"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := app.WriteProof(context.Background(), app.ProofRequest{File: art, Setup: s, Out: proof, DPI: 72}); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{starter, sheet, proof} {
		wellMade(t, file)
		t.Logf("%s: %d plates compared", filepath.Base(file), agree(t, filepath.Base(file), file))
	}
}
