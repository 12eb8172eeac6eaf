package app

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/pdfbuild"
)

// The list with a press names the components the painter really paints in: the space of the page
// group counts only where something blends.
func TestStepsAgreeWithPixels(t *testing.T) {
	const group = "/Group << /S /Transparency /CS /DeviceRGB >>"
	setup, err := NewSetup(SetupOptions{Press: "two-set"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, content, first string }{
		{"opaque", "0 0 0 1 k 0 0 72 72 re f", "Cyan"},
		{"blending", "/Half gs 0 0 0 1 k 0 0 72 72 re f", "R"},
	} {
		f := pdfbuild.New()
		f.Page(72, 72, "/ExtGState << /Half << /ca 0.5 >> >>", c.content, group)
		path := filepath.Join(t.TempDir(), "x.pdf")
		if err := os.WriteFile(path, f.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		steps, _, err := InspectSteps(context.Background(), path, setup, 1)
		if err != nil {
			t.Fatal(err)
		}
		pixel, err := InspectPixel(context.Background(), PixelRequest{File: path, Setup: setup, Page: 1, DPI: 72, XMM: 10, YMM: 10, From: BoxMedia})
		if err != nil {
			t.Fatal(err)
		}
		var listed, painted []string
		for _, e := range steps[0].Effects {
			listed = append(listed, e.Component+" "+e.Effect)
		}
		for _, touch := range pixel.Touches {
			if touch.Item != steps[0].Item {
				continue
			}
			for _, e := range touch.Effects {
				painted = append(painted, e.Component+" "+e.Effect)
			}
		}
		if len(listed) == 0 || steps[0].Effects[0].Component != c.first {
			t.Errorf("%s: the list has %v, the first component should be %s", c.name, listed, c.first)
		}
		if !slices.Equal(listed, painted) {
			t.Errorf("%s: the list has %v, the pixel %v", c.name, listed, painted)
		}
	}
}
