package paint

import (
	"context"
	"testing"
	"time"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// heavy is a page of full-page groups side by side, each with a mask of its own, after one rectangle.
func heavy(groups int) *displist.List {
	const side = 400
	full := geom.Rect{X1: side, Y1: side}
	parts := []any{rect(0, 0, side, side, cmyk(.5, 0, 0, 0))}
	n := 1
	for range groups {
		mask := &displist.SoftMask{Bounds: full, Items: []displist.Item{rect(0, 0, side, side, paintOf(colour.Gray, 0))}}
		g := closed(group(displist.Group{Isolated: true}, []displist.Item{rect(0, 0, side, side, cmyk(0, .5, 0, 0))},
			func(it *displist.Item) { it.SoftMask = mask }), n)
		n += len(g)
		parts = append(parts, g)
	}
	return list(side, side, parts...)
}

// Is a page of a few hundred page-sized groups painted in full, and one of twenty thousand cut with one finding?
func TestWorkIsBounded(t *testing.T) {
	if l := heavy(90); affordable(l) != len(l.Items) {
		t.Errorf("of a page with 90 masked groups only %d of %d items are painted", affordable(l), len(l.Items))
	}
	l := heavy(20_000)
	var c finding.Collector
	j := jobOf(l)
	j.Sink, j.DPI, j.Workers = &c, 5, 2
	start := time.Now()
	s := render(t, j)
	if d := time.Since(start); d > 120*time.Second {
		t.Errorf("took %v", d)
	}
	if s.At(1, 5, 5) == 0 {
		t.Error("the groups before the limit are missing")
	}
	f := c.Sorted()
	if len(f) != 1 || f[0].ID != "page-too-heavy" || f[0].Class != finding.OverLimit || !f[0].Incomplete || f[0].Severity != finding.Error {
		t.Errorf("findings: %v", f)
	}
}

// Does what is left out depend on the resolution, a crop, or what is skipped?
func TestWorkIsCountedOnTheWholePage(t *testing.T) {
	l := heavy(20_000)
	at := affordable(l)
	if at == len(l.Items) {
		t.Fatal("the page is not heavy enough for this test")
	}
	last := len(l.Items) - 1
	l.Items[at] = rect(0, 0, 400, 400, paintOf(gold, 1)) // the first item left out
	l.Items[at-1] = rect(0, 0, 400, 400, paintOf(white, 1))
	cut := affordable(l)
	for name, change := range map[string]func(*Job){
		"page":       func(j *Job) {},
		"resolution": func(j *Job) { j.DPI = 30 },
		"crop":       func(j *Job) { j.Region = geom.Rect{X1: 30, Y1: 30} },
		"skip":       func(j *Job) { j.Skip = func(i int) bool { return i > 0 && i < cut-1 } },
	} {
		j := jobOf(l)
		j.DPI = 5
		change(&j)
		p, err := prepare(j)
		if err != nil {
			t.Fatal(err)
		}
		if len(p.root.items) != cut || cut >= last {
			t.Errorf("%s: %d items are painted, want %d", name, len(p.root.items), cut)
		}
	}
}

// Does a mask in a mask in a mask, each used twice with many others between, count what it costs to paint again?
func TestNestedMasksAreCounted(t *testing.T) {
	full := geom.Rect{X1: 100, Y1: 100}
	item := func(m *displist.SoftMask) displist.Item {
		return rect(0, 0, 100, 100, cmyk(0, 0, 0, 1), func(it *displist.Item) { it.SoftMask = m })
	}
	leaf := func() *displist.SoftMask {
		return &displist.SoftMask{Bounds: full, Items: []displist.Item{item(nil)}}
	}
	mask := leaf()
	for range 30 {
		outer := leaf()
		for range 2 {
			outer.Items = append(outer.Items, item(mask))
			for range maxMasks {
				outer.Items = append(outer.Items, item(leaf()))
			}
		}
		mask = outer
	}
	l := list(100, 100, item(nil), item(mask))
	if got := affordable(l); got != 1 {
		t.Errorf("%d items are painted, want 1", got)
	}
}

// Do the samples of images count, though these stand small?
func TestSamplesAreCounted(t *testing.T) {
	im := &image.Image{Width: 20_000, Height: 10_000, Bits: 8, Space: colour.Gray, Decode: []float64{0, 1}}
	var parts []any
	for range 20 {
		parts = append(parts, picture(im, upright(1, 1, 2, 2)))
	}
	if n := affordable(list(100, 100, parts...)); n < 1 || n >= 20 {
		t.Errorf("%d of 20 images of 200 million samples are painted", n)
	}
}

// Does painting end soon after its context, inside one band of a heavy page?
func TestCancelledWithinABand(t *testing.T) {
	l := heavy(300)
	j := jobOf(l)
	j.DPI, j.Workers = 300, 1
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	start := time.Now()
	var s plate.Stack
	if err := Render(ctx, j, &s); err != context.DeadlineExceeded {
		t.Fatalf("error is %v", err)
	}
	if d := time.Since(start); d > 60*time.Second {
		t.Errorf("ended after %v", d)
	}
}
