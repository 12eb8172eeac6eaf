package app

import (
	"bytes"
	"context"
	"errors"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"laydown/internal/mend"
)

// Do the figures of a point tell the tints of the plates tiles are made of?
func TestFiguresOfAPointAreThoseOfItsPixel(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	ctx := context.Background()
	p := page(t, b, 1)
	sh := b.known(1)
	r := rand.New(rand.NewPCG(1, 2))
	l := p.Levels[pointLevel]
	marked := 0
	for range 60 {
		x, y := r.IntN(l.Width), r.IntN(l.Height)
		mm := 25.4 / l.DPI
		at, err := b.At(ctx, 1, PointMM{p.Region.X + (float64(x)+.5)*mm, p.Region.Y + (float64(y)+.5)*mm}, LookView{}, -1)
		if err != nil {
			t.Fatal(err)
		}
		bx, by, place := blockAt(x, y, 1024)
		st, err := b.block(ctx, &sh.canvas, pointLevel, bx, by)
		if err != nil {
			t.Fatal(err)
		}
		pile := 0.0
		for i, c := range st.Set.All() {
			v := float64(st.At(i, x-place.X, y-place.Y)) / 2.55
			pile += v
			if math.Abs(at.Tints[c.Name]-v) > 0.005+1e-9 { // two decimals
				t.Fatalf("pixel %d,%d: %s %g %%, the plate has %g", x, y, c.Name, at.Tints[c.Name], v)
			}
		}
		if math.Abs(at.Pile-pile) > 0.005+1e-9 {
			t.Errorf("pixel %d,%d: pile %g, want %g", x, y, at.Pile, pile)
		}
		if pile > 0 && at.Item < 0 {
			t.Errorf("pixel %d,%d: %g %% of toner and no item", x, y, pile)
		}
		if at.Item >= 0 {
			marked++
		}
	}
	if marked < 10 {
		t.Errorf("items lie at %d of 60 points only", marked)
	}
	var c *CannotError
	if _, err := b.At(ctx, 1, PointMM{p.Region.X - 1, 0}, LookView{}, -1); !errors.As(err, &c) {
		t.Errorf("off the page: %v", err)
	}
}

// Does a row with a step for every pixel hold the pixels of the plates?
func TestRowHoldsThePixelsOfPlates(t *testing.T) {
	const level, y = 4, 300
	b := openDemo(t, t.TempDir(), nil)
	p := page(t, b, 1)
	sh := b.known(1)
	l := p.Levels[level]
	mm := 25.4 / l.DPI
	row, err := b.Row(context.Background(), 1, p.Region.Y+(y+.5)*mm, p.Region.X, p.Region.X+float64(l.Width)*mm, l.Width)
	if err != nil {
		t.Fatal(err)
	}
	if row.DPI != l.DPI {
		t.Fatalf("row of %g dpi, want %g", row.DPI, l.DPI)
	}
	st := wholePage(t, b, &sh.canvas, level)
	toner := false
	for _, layer := range sh.layers {
		for x, v := range row.Tints[layer.Toner.Name] {
			if want := st.At(layer.Plate, x, y); v != want {
				t.Fatalf("%s at pixel %d: %d, want %d", layer.Toner.Name, x, v, want)
			}
			toner = toner || v > 0
		}
	}
	if !toner {
		t.Error("no toner on the row")
	}
}

// Are steps of a row means over their width, the parts of pixels at their ends included, and nothing off the page?
func TestStepsOfARowAreMeans(t *testing.T) {
	pixels := []byte{100, 200, 40}
	for _, c := range []struct {
		from, width float64
		want        []byte
	}{
		{0, 1, []byte{100, 200, 40, 0}},
		{0, 1.5, []byte{133, 93, 0}}, // (100 + 200/2) / 1.5; (200/2 + 40) / 1.5
		{-1, 2, []byte{50, 120}},
		{0.25, 0.5, []byte{100, 150}},
	} {
		got := make([]byte, len(c.want))
		means(got, pixels, c.from, c.width)
		if !slices.Equal(got, c.want) {
			t.Errorf("from %g steps of %g: %v, want %v", c.from, c.width, got, c.want)
		}
	}
}

// Does the remedy that is handed out choose what was shown as painted alike, and nothing else?
func TestAlikeIsWhatItsRemedyChooses(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	ctx := context.Background()
	page(t, b, 1)
	sh := b.known(1)
	asked, several := 0, 0
	for i := range sh.sheet.List.Items {
		a, err := b.Alike(ctx, 1, i)
		var c *CannotError
		if errors.As(err, &c) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		asked++
		u, err := mend.Parse(a.Use + ",toner=White")
		if err != nil {
			t.Fatalf("item %d: %v", i, err)
		}
		chosen := u.Options
		delete(chosen, "toner")
		got, err := b.Chosen(ctx, 1, chosen)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, a.Boxes) {
			t.Fatalf("item %d: %s chooses %v, shown were %v", i, a.Use, got, a.Boxes)
		}
		if !slices.ContainsFunc(a.Boxes, func(b ItemBox) bool { return b.Item == i }) {
			t.Fatalf("item %d is not like itself", i)
		}
		for name, v := range a.Options { // each by itself chooses the item
			by := map[string]string{name: v}
			if name == "item" {
				by["page"] = "1"
			}
			if got, err := b.Chosen(ctx, 1, by); err != nil || !slices.ContainsFunc(got, func(b ItemBox) bool { return b.Item == i }) {
				t.Fatalf("item %d is not chosen by %s=%s (%v)", i, name, v, err)
			}
		}
		if len(a.Boxes) > 1 {
			several++
		}
	}
	if asked == 0 || several == 0 {
		t.Errorf("%d items asked for, %d like others", asked, several)
	}
}

// Does a trial write a file that shows the change, says that it is unproven, and leave the artwork alone?
func TestTrialShowsAChangeUnproven(t *testing.T) {
	dir := t.TempDir()
	setup, file := demoSetup(t, dir), writeTicket(t, dir, true)
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	use, err := mend.Parse("to-toner:kind=text,toner=White")
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "try.pdf")
	ctx := context.Background()
	tried, err := TryMend(ctx, setup, file, []mend.Use{use}, 1, out)
	if err != nil {
		t.Fatal(err)
	}
	if !tried.Unproven || !tried.Changed || tried.Out != out || len(tried.Notes) == 0 {
		t.Fatalf("trial %+v", tried)
	}
	if after, err := os.ReadFile(file); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the artwork changed (%v)", err)
	}
	if left := filesIn(dir); len(left) != 3 {
		t.Errorf("files %v, want the artwork, the job and the trial", left)
	}
	cache := NewBenchCache(0)
	var tiles [2][]byte
	var onBench *Bench
	for i, f := range []string{file, out} {
		b, err := OpenBench(f, setup, cache)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		if tiles[i], err = b.Tile(ctx, 1, LookView{}, 2, 0, 0); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			onBench = b
		}
	}
	if bytes.Equal(tiles[0], tiles[1]) {
		t.Error("the trial looks as the artwork did")
	}
	again := filepath.Join(dir, "again.pdf")
	if _, err := onBench.Try(ctx, []mend.Use{use}, 1, again); err != nil {
		t.Fatal(err)
	}
	a, err1 := os.ReadFile(out)
	z, err2 := os.ReadFile(again)
	if err1 != nil || err2 != nil || !bytes.Equal(a, z) {
		t.Error("tried on the bench, the remedy makes another file")
	}
}

// Is the longer side of a thumbnail as asked for?
func TestThumbnailHasTheSizeAskedFor(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	for _, pixels := range []int{16, 97, 320} {
		data, err := b.Thumbnail(context.Background(), 1, pixels)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if s := img.Bounds().Size(); max(s.X, s.Y) != pixels {
			t.Errorf("%d pixels asked for, the picture has %v", pixels, s)
		}
	}
}

// Do cards of every shipped press and stock have colours for what they name?
func TestCardsHaveColours(t *testing.T) {
	presses, err := Presses()
	if err != nil {
		t.Fatal(err)
	}
	stocks, err := Stocks()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range stocks {
		if c := CardOfStock(s); len(c.Front) != 7 || len(c.Back) != 7 {
			t.Errorf("stock %s: colours %q and %q", s.Name, c.Front, c.Back)
		}
	}
	for _, p := range presses {
		c, err := CardOfPress(p, stocks[0])
		if err != nil {
			t.Fatal(err)
		}
		for _, toner := range c.Toners {
			if len(toner.OnWhite) != 7 || len(toner.OnStock) != 7 || toner.Thickness <= 0 || toner.Basis == "" {
				t.Errorf("press %s: %+v", p.Name, toner)
			}
		}
	}
}
