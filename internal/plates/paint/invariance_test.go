package paint

import (
	"bytes"
	"context"
	"image"
	"math/rand/v2"
	"testing"

	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

func samePlates(a, b *plate.Stack) bool {
	for c := range a.Set.Len() {
		for y := range a.Height {
			for x := range a.Width {
				if a.At(c, x, y) != b.At(c, x, y) {
					return false
				}
			}
		}
	}
	return a.Width == b.Width && a.Height == b.Height
}

// rich draws lists with everything paint knows but images and text.
func rich(seed uint64, w, h int) *randomList {
	return &randomList{Rand: rand.New(rand.NewPCG(seed, 7)), w: w, h: h, groups: 3, blends: allModes, masks: true, clips: true,
		spaces: true, overline: true}
}

// Do the bytes depend on the number of workers or on the height of bands?
func TestSameBytesForAnyWorkersAndBands(t *testing.T) {
	for seed := range uint64(60) {
		j := jobOf(rich(seed, 23, 37).list(8))
		want := renderRows(t, j, 37)
		for _, rows := range []int{1, 5, 16} {
			for _, workers := range []int{1, 4} {
				j.Workers = workers
				if !samePlates(renderRows(t, j, rows), want) {
					t.Fatalf("seed %d: bands of %d rows and %d workers differ", seed, rows, workers)
				}
			}
		}
	}
}

// Is a crop of the page painted like the page?
func TestCropHasThePagesBytes(t *testing.T) {
	for seed := range uint64(60) {
		j := jobOf(rich(seed, 23, 17).list(8))
		j.DPI = 144
		page := render(t, j)
		j.Region = geom.Rect{X0: 3.5, Y0: 2, X1: 20, Y1: 11.5}
		crop := render(t, j)
		if !samePlates(crop, page.Crop(7, 4, 40, 23)) {
			t.Fatalf("seed %d: the crop differs", seed)
		}
	}
}

// Is a part of a page whose corner lies between pixels painted like the page?
func TestPartHasThePagesBytes(t *testing.T) {
	for seed := range uint64(60) {
		j := jobOf(rich(seed, 23, 17).list(8))
		j.DPI = 131
		j.Region = geom.Rect{X0: 0.37, Y0: -1.21, X1: 22.2, Y1: 17}
		page := render(t, j)
		for _, r := range []image.Rectangle{image.Rect(0, 0, 16, 16), image.Rect(16, 16, 32, 64), image.Rect(7, 11, 8, 12)} {
			j.Part = r
			part := render(t, j)
			if want := page.Crop(r.Min.X, r.Min.Y, r.Max.X, r.Max.Y); !samePlates(part, want) {
				t.Fatalf("seed %d: part %v differs", seed, r)
			}
		}
	}
}

// Does the explanation of a pixel end with the rendered tints, and does each row start where the last one in
// the same group ended?
func TestExplainEndsWithRenderedTints(t *testing.T) {
	for seed := range uint64(40) {
		r := rich(seed, 9, 7)
		j := jobOf(r.list(6))
		page := render(t, j)
		for range 12 {
			x, y := r.IntN(9), r.IntN(7)
			e, err := Explain(context.Background(), j, x, y)
			if err != nil {
				t.Fatal(err)
			}
			if want := tintsAt(page, x, y); !bytes.Equal(e.Final, want) {
				t.Fatalf("seed %d pixel %d,%d: explained %v, rendered %v", seed, x, y, e.Final, want)
			}
			var root []uint16
			for _, row := range e.Rows {
				if row.Depth > 0 {
					continue
				}
				if root != nil && !equal16(root, row.Before) {
					t.Fatalf("seed %d pixel %d,%d item %d: starts at %v, the item before ended at %v", seed, x, y, row.Item, row.Before, root)
				}
				root = row.After
			}
			for c, v := range root {
				if to8(v) != e.Final[c] {
					t.Fatalf("seed %d pixel %d,%d: last row ends at %v, final is %v", seed, x, y, root, e.Final)
				}
			}
		}
	}
}

func equal16(a, b []uint16) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}
