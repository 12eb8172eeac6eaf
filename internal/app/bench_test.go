package app

import (
	"bytes"
	"context"
	"errors"
	"image"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/look"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// openDemo lays the example ticket on a bench.
func openDemo(t testing.TB, dir string, change func(*Setup)) *Bench {
	t.Helper()
	s := demoSetup(t, dir)
	if change != nil {
		change(s)
	}
	b, err := OpenBench(writeTicket(t, dir, false), s, NewBenchCache(0))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// openSmall lays a page of a few shapes on a bench: 200 x 200 mm, of which reading takes no time.
func openSmall(t testing.TB, dir string, cache *BenchCache) *Bench {
	t.Helper()
	f := pdfbuild.New()
	f.Page(567, 567, "/ColorSpace << /S "+pdfbuild.Spot("Silver", 0, 0, 0, .4)+" >>",
		"0 0 1 0 k 0 0 400 400 re f /S cs .5 scn 100 100 m 500 100 500 500 100 500 c f 1 0 0 0 K 9 w 50 50 m 550 500 l S")
	file := filepath.Join(dir, "small.pdf")
	if err := os.WriteFile(file, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Press: "two-set"})
	if err != nil {
		t.Fatal(err)
	}
	b, err := OpenBench(file, s, cache)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func page(t testing.TB, b *Bench, n int) *BenchPage {
	t.Helper()
	p, err := b.Page(context.Background(), n)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// wholePage paints a page as Tile's comment says: all of it in the resolution of a level.
func wholePage(t *testing.T, b *Bench, c *canvas, level int) *plate.Stack {
	t.Helper()
	st := &plate.Stack{}
	j := c.job(level, image.Rectangle{}, 0)
	if err := paint.Render(context.Background(), j, st); err != nil {
		t.Fatal(err)
	}
	return st
}

// Does a tile hold the bytes of a file of maps of the whole page?
func TestTilesAreThoseOfTheWholePagesMaps(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	ctx := context.Background()
	for n := 1; n <= 2; n++ {
		p := page(t, b, n)
		sh := b.known(n)
		for _, level := range [][]int{{0, 2, 5}, {4}}[n-1] {
			st := wholePage(t, b, &sh.canvas, level)
			m, err := sh.model(b.setup, LookView{})
			if err != nil {
				t.Fatal(err)
			}
			var file bytes.Buffer
			if err := st.Replay(look.NewMapSink(m.model, &file, look.MapHeader{}, 2), 100); err != nil {
				t.Fatal(err)
			}
			maps, err := look.OpenMap(bytes.NewReader(file.Bytes()), int64(file.Len()))
			if err != nil {
				t.Fatal(err)
			}
			across := (p.Levels[level].Width + look.MapTileSide - 1) / look.MapTileSide
			for i := range maps.Tiles {
				want, err := maps.Body(i)
				if err != nil {
					t.Fatal(err)
				}
				got, err := b.Tile(ctx, n, LookView{}, level, i%across, i/across)
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(got, want) {
					t.Fatalf("page %d level %d tile %d: %d bytes differ from the %d of the file of maps", n, level, i, len(got), len(want))
				}
			}
		}
	}
}

// Do tiles of thin stock show the other side as a picture of the whole page does?
func TestTilesShowTheOtherSideOfThinStock(t *testing.T) {
	const level = 4
	b := openDemo(t, t.TempDir(), func(s *Setup) {
		thin := *s.Stock
		thin.Opacity, thin.Surface, thin.Back = 80, press.SurfaceUncoated, nil
		s.Stock = &thin
	})
	ctx := context.Background()
	p := page(t, b, 1)
	if p.Behind != 2 {
		t.Fatalf("page %d shows through, want 2", p.Behind)
	}
	sh := b.known(1)
	m, err := sh.model(b.setup, LookView{})
	if err != nil {
		t.Fatal(err)
	}
	back, of, err := b.otherSide(ctx, sh)
	if err != nil || back == nil {
		t.Fatalf("other side %v, error %v", back, err)
	}
	sink, err := b.behindSink(of, LookView{})
	if err != nil {
		t.Fatal(err)
	}
	if err := wholePage(t, b, back, level).Replay(sink, 64); err != nil {
		t.Fatal(err)
	}
	whole := wholePage(t, b, &sh.canvas, level)
	differs := false
	for y := 0; y*look.MapTileSide < whole.Height; y++ {
		for x := 0; x*look.MapTileSide < whole.Width; x++ {
			part := image.Rect(x*256, y*256, x*256+256, y*256+256).Intersect(image.Rect(0, 0, whole.Width, whole.Height))
			want, err := m.coder.Tile(whole, part, sink.Behind(), image.Point{})
			if err != nil {
				t.Fatal(err)
			}
			got, err := b.Tile(ctx, 1, LookView{}, level, x, y)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Fatalf("tile %d,%d differs from the whole page's", x, y)
			}
			alone, err := b.Tile(ctx, 1, LookView{Alone: true}, level, x, y)
			if err != nil {
				t.Fatal(err)
			}
			differs = differs || !bytes.Equal(alone, got)
		}
	}
	if !differs {
		t.Error("nothing shows through")
	}
}

// Are tiles of a film seen through those of the mirrored page?
func TestTilesOfAFilmSeenThroughAreMirrored(t *testing.T) {
	const level = 3
	b := openDemo(t, t.TempDir(), func(s *Setup) { s.Stock = filmStock(t) })
	page(t, b, 1)
	sh := b.known(1)
	view := LookView{Through: true}
	m, err := sh.model(b.setup, view)
	if err != nil {
		t.Fatal(err)
	}
	turned := &plate.Stack{}
	if err := wholePage(t, b, &sh.canvas, level).Replay(&mirrored{to: turned}, 64); err != nil {
		t.Fatal(err)
	}
	for y := 0; y*256 < turned.Height; y++ {
		for x := 0; x*256 < turned.Width; x++ {
			part := image.Rect(x*256, y*256, x*256+256, y*256+256).Intersect(image.Rect(0, 0, turned.Width, turned.Height))
			want, err := m.coder.Tile(turned, part, nil, image.Point{})
			if err != nil {
				t.Fatal(err)
			}
			got, err := b.Tile(context.Background(), 1, view, level, x, y)
			if err != nil || !bytes.Equal(got, want) {
				t.Fatalf("tile %d,%d differs from the mirrored page's (%v)", x, y, err)
			}
		}
	}
}

func filmStock(t *testing.T) *press.Stock {
	t.Helper()
	stocks, err := Stocks()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(stocks, func(s *press.Stock) bool { return s.Surface == press.SurfaceFilm })
	if i < 0 {
		t.Fatal("no film among the shipped stocks")
	}
	return stocks[i]
}

// Is a block that several ask for at once painted once?
func TestParallelTilesPaintABlockOnce(t *testing.T) {
	b := openSmall(t, t.TempDir(), NewBenchCache(0))
	page(t, b, 1)
	var wg sync.WaitGroup
	for i := range 16 {
		wg.Go(func() {
			if _, err := b.Tile(context.Background(), 1, LookView{}, 5, i%4, i/4); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if n := b.cache.Use().Painted; n != 1 {
		t.Errorf("%d blocks painted, want 1", n)
	}
}

// Does a request that gives up leave the block to the others that wait for it?
func TestGivingUpLeavesABlockToOthers(t *testing.T) {
	c := NewBenchCache(0)
	begun, paintOn := make(chan bool), make(chan bool)
	paintIt := func(ctx context.Context, _ int) (*plate.Stack, error) {
		begun <- true
		select {
		case <-paintOn:
			return plate.NewStack(plate.Header{Width: 1, Height: 1, Set: colourant.NewSet()}), nil
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	impatient, leave := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	wg.Go(func() {
		if _, err := c.block(impatient, context.Background(), blockKey{}, paintIt); !errors.Is(err, context.Canceled) {
			t.Errorf("who gave up got %v", err)
		}
	})
	<-begun
	wg.Go(func() {
		if st, err := c.block(context.Background(), context.Background(), blockKey{}, paintIt); err != nil || st == nil {
			t.Errorf("who waited got %v, %v", st, err)
		}
	})
	for c.waiting(blockKey{}) < 2 {
		runtime.Gosched()
	}
	leave()
	for c.waiting(blockKey{}) > 1 {
		runtime.Gosched()
	}
	paintOn <- true
	wg.Wait()
}

// Does painting end when nobody waits for it any longer?
func TestPaintingEndsWhenNobodyWaits(t *testing.T) {
	c := NewBenchCache(0)
	ended := make(chan error)
	ctx, cancel := context.WithCancel(context.Background())
	go c.block(ctx, context.Background(), blockKey{}, func(ctx context.Context, _ int) (*plate.Stack, error) {
		cancel()
		<-ctx.Done()
		ended <- ctx.Err()
		return nil, ctx.Err()
	})
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// Does closing amid tiles end them without harm?
func TestClosingAmidTilesEndsThem(t *testing.T) {
	b := openSmall(t, t.TempDir(), NewBenchCache(0))
	page(t, b, 1)
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			body, err := b.Tile(context.Background(), 1, LookView{}, 6, i, 2)
			if err == nil && len(body) == 0 || err != nil && !errors.Is(err, ErrBenchClosed) {
				t.Errorf("%d bytes, error %v", len(body), err)
			}
		})
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	wg.Wait()
	if _, err := b.Tile(context.Background(), 1, LookView{}, 0, 0, 0); !errors.Is(err, ErrBenchClosed) {
		t.Errorf("after Close: %v, want %v", err, ErrBenchClosed)
	}
	if u := b.cache.Use(); u.Bytes != 0 || u.Blocks != 0 {
		t.Errorf("after Close the cache holds %+v", u)
	}
}

// Does the cache keep to its bytes?
func TestCacheKeepsToItsBytes(t *testing.T) {
	const limit = 3 << 20
	b := openSmall(t, t.TempDir(), NewBenchCache(limit))
	for i := range 4 {
		if _, err := b.Tile(context.Background(), 1, LookView{}, 6, 4*i, 8); err != nil {
			t.Fatal(err)
		}
		if u := b.cache.Use(); u.Bytes > limit || u.Blocks == 0 {
			t.Fatalf("after block %d the cache holds %+v, limit %d", i, u, limit)
		}
	}
}

// Do switched-off toners leave the tiles of the look without them?
func TestToneroffTilesAreThoseOfTheOtherToners(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	p := page(t, b, 1)
	last := p.Laydown[len(p.Laydown)-1].Name
	v := p.View([]string{last, "no such toner"})
	if slices.Contains(v.Only, last) || len(v.Only) == 0 {
		t.Fatalf("view shows %v, without %s", v.Only, last)
	}
	none := p.View([]string{})
	if none.Only != nil {
		t.Errorf("nothing off, yet the view shows %v", none.Only)
	}
	bare := []string{}
	for _, l := range p.Laydown {
		bare = append(bare, l.Name)
	}
	body, err := b.Tile(context.Background(), 1, p.View(bare), 3, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(body) != 24 {
		t.Errorf("a tile of bare stock has %d bytes, want 12 planes of 2", len(body))
	}
}

// Does what lies outside the page have no tile?
func TestNoTileOutsideThePage(t *testing.T) {
	b := openDemo(t, t.TempDir(), nil)
	for _, at := range [][2]int{{-1, 0}, {0, -1}, {1 << 40, 0}, {0, 1 << 62}, {1, 0}} {
		if body, err := b.Tile(context.Background(), 1, LookView{}, 0, at[0], at[1]); body != nil || err != nil {
			t.Errorf("tile %v: %d bytes, error %v", at, len(body), err)
		}
	}
	var c *CannotError
	if _, err := b.Tile(context.Background(), 1, LookView{}, 10, 0, 0); !errors.As(err, &c) {
		t.Errorf("level 10: %v", err)
	}
	if _, err := b.Page(context.Background(), 3); !errors.As(err, &c) {
		t.Errorf("page 3 of 2: %v", err)
	}
}

// Does looking leave the folder of the artwork as it was?
func TestLookingWritesNothing(t *testing.T) {
	dir := t.TempDir()
	b := openDemo(t, dir, nil)
	before := filesIn(dir)
	if _, err := b.Tile(context.Background(), 1, LookView{}, 4, 1, 1); err != nil {
		t.Fatal(err)
	}
	if after := filesIn(dir); !slices.Equal(before, after) {
		t.Errorf("files before %v, after %v", before, after)
	}
}

// Do files that are no sound artwork give errors?
func TestBenchTellsWhatItCannotOpen(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a.pdf")
	if err := os.WriteFile(file, []byte("%PDF-1.7\nnothing"), 0o644); err != nil {
		t.Fatal(err)
	}
	var c *CannotError
	if b, err := OpenBench(file, &Setup{}, NewBenchCache(0)); b != nil || !errors.As(err, &c) {
		t.Errorf("opened %v, error %v", b, err)
	}
}

// Does a page of a hundred metres end with the finest level that can be painted, and one without area with an error?
func TestOddPagesHaveBoundedLevels(t *testing.T) {
	dir := t.TempDir()
	open := func(w, h float64, extra string) *Bench {
		f := pdfbuild.New()
		f.Page(w, h, "", "0 0 1 0 k 0 0 14400 14400 re f", extra)
		file := filepath.Join(dir, "odd.pdf")
		if err := os.WriteFile(file, f.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		b, err := OpenBench(file, &Setup{}, NewBenchCache(0))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { b.Close() })
		return b
	}
	b := open(14400, 14400, "/UserUnit 20") // 102 m
	p := page(t, b, 1)
	last := len(p.Levels) - 1
	if l := p.Levels[last]; l.Width > paint.MaxSide || 2*l.Width <= paint.MaxSide {
		t.Fatalf("the finest of %d levels has %d pixels a side, at most %d can be painted", last+1, l.Width, paint.MaxSide)
	}
	at := (p.Levels[last].Width - 1) / p.Tile
	if body, err := b.Tile(context.Background(), 1, LookView{}, last, at, at); err != nil || len(body) == 0 {
		t.Errorf("the last tile has %d bytes, error %v", len(body), err)
	}
	if row, err := b.Row(context.Background(), 1, 1, 0, p.Trim.W, MaxRowSteps); err != nil || row.Tints["Magenta"] != nil && row.Tints["Magenta"][0] != 0 {
		t.Errorf("row %v, error %v", row != nil, err)
	}
	var c *CannotError
	if _, err := open(14400, 14400, "/UserUnit 75").Page(context.Background(), 1); !errors.As(err, &c) {
		t.Errorf("a page of 381 m: %v", err)
	}
	if _, err := open(0.001, 0.001, "").Page(context.Background(), 1); !errors.As(err, &c) {
		t.Errorf("a page without area: %v", err)
	}
}

// waiting is how many wait for a block.
func (c *BenchCache) waiting(key blockKey) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	if f := c.flights[key]; f != nil {
		return f.waiting
	}
	return 0
}

func TestPageTellsCautionsAndLayers(t *testing.T) {
	b := openDemo(t, t.TempDir(), func(s *Setup) { s.Job.Use = []string{press.UseFood} })
	p := page(t, b, 1)
	for _, word := range []string{"contact with food", "Clear: ", "have the last word"} {
		if !strings.Contains(strings.Join(p.Cautions, "\n"), word) {
			t.Errorf("the page does not say %q: %q", word, p.Cautions)
		}
	}
	if want := []string{"White", "Picture", "Metals", "Clear", "Type"}; !slices.Equal(p.OnLayers, want) {
		t.Errorf("something prints on %q, want %q", p.OnLayers, want)
	}
}
