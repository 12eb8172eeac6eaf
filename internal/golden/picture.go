package golden

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

// Picture compares got with testdata/<name>, a PNG, whose pixels may differ by so many of 255 in the mean of all primaries. A missing
// file fails unless -update is given. A failing picture is kept among the test's artifacts: expected, difference (times 8), got.
func Picture(t *testing.T, name string, got image.Image, tolerance float64) {
	t.Helper()
	file := filepath.Join("testdata", filepath.FromSlash(name))
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		writePicture(t, file, got)
		return
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("no golden picture for this question (run with -update to make it): %v", err)
	}
	decoded, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	w, h := decoded.Bounds().Dx(), decoded.Bounds().Dy()
	if got.Bounds().Dx() != w || got.Bounds().Dy() != h {
		t.Errorf("%s has %d x %d pixels, got %v", file, w, h, got.Bounds().Size())
		return
	}
	// Three pictures side by side.
	all := image.NewNRGBA(image.Rect(0, 0, 3*w, h))
	draw.Draw(all, image.Rect(0, 0, w, h), decoded, decoded.Bounds().Min, draw.Src)
	draw.Draw(all, image.Rect(2*w, 0, 3*w, h), got, got.Bounds().Min, draw.Src)
	sum, worst := 0, 0
	for y := range h {
		for x := range w {
			i, j, k := all.PixOffset(x, y), all.PixOffset(w+x, y), all.PixOffset(2*w+x, y)
			for c := range 3 {
				d := int(all.Pix[i+c]) - int(all.Pix[k+c])
				d = max(d, -d)
				sum, worst = sum+d, max(worst, d)
				all.Pix[j+c] = uint8(min(255, 8*d))
			}
			all.Pix[j+3] = 255
		}
	}
	if mean := float64(sum) / float64(3*w*h); mean > tolerance {
		kept := filepath.Join(t.ArtifactDir(), filepath.Base(name))
		writePicture(t, kept, all)
		t.Errorf("%s differs by %.3f of 255 in the mean, %d at worst; at most %g (%s)", file, mean, worst, tolerance, kept)
	}
}

func writePicture(t *testing.T, file string, img image.Image) {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
