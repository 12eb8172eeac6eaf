package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"laydown/internal/pdfbuild"
)

// TestDiffScripts runs the user stories of comparing two files.
func TestDiffScripts(t *testing.T) {
	files := diffFiles()
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "diff"),
		Setup: func(e *testscript.Env) error {
			for name, data := range files {
				if err := os.WriteFile(filepath.Join(e.WorkDir, name), data, 0o644); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "keys": keys, "png": isPNG},
	})
}

// diffFiles are variants of a card of 100 x 50 mm with a black bar and a gold square.
func diffFiles() map[string][]byte {
	const pt = 72 / 25.4
	page := func(f *pdfbuild.File, w, h float64, name string, tint, x float64) {
		f.Page(w*pt, h*pt, fmt.Sprintf("/ColorSpace << /Foil %s >>", pdfbuild.Spot(name, 0, .2, .6, .1)),
			fmt.Sprintf("%g 0 0 %g 0 0 cm 0 0 0 1 k 10 10 40 5 re f /Foil cs %g scn %g 20 20 20 re f", pt, pt, tint, x))
	}
	card := func(w, h float64, name string, tint, x float64) []byte {
		f := pdfbuild.New()
		page(f, w, h, name, tint, x)
		return f.Bytes()
	}
	two := pdfbuild.New()
	page(two, 100, 50, "Gold", 1, 60)
	page(two, 100, 50, "Gold", 1, 60)
	lame := pdfbuild.New()
	lame.Page(100*pt, 50*pt, "", fmt.Sprintf("%g 0 0 %g 0 0 cm 0 0 0 1 k 10 10 40 5 re f BT /None 12 Tf (x) Tj ET", pt, pt))
	again := pdfbuild.New()
	again.Version = "1.6"
	again.Page(100*pt, 50*pt, "", fmt.Sprintf("%g 0 0 %g 0 0 cm 0 0 0 1 k 10 10 40 5 re f BT /None 12 Tf (x) Tj ET", pt, pt))
	return map[string][]byte{
		"card.pdf":    card(100, 50, "Gold", 1, 60),
		"moved.pdf":   card(100, 50, "Gold", 1, 65),
		"tinted.pdf":  card(100, 50, "Gold", .9, 60),
		"larger.pdf":  card(110, 50, "Gold", 1, 60),
		"renamed.pdf": card(100, 50, "GoldLeaf", 1, 60),
		"two.pdf":     two.Bytes(),
		"lame.pdf":    lame.Bytes(),
		"again.pdf":   again.Bytes(),
	}
}
