package app

import (
	"bytes"
	"context"
	"fmt"
	"image"

	"laydown/internal/look"
	"laydown/internal/plates/paint"
)

// Sides of thumbnails, pixels.
const (
	leastThumb = 16
	mostThumb  = 2048
)

// Thumbnail is a picture of a page as a 45/0 instrument sees it, PNG of 8 bits, its longer side of so many pixels (16 to 2048) or one less.
func (b *Bench) Thumbnail(ctx context.Context, page, pixels int) ([]byte, error) {
	return onBench(ctx, b, func(ctx context.Context) ([]byte, error) {
		if pixels < leastThumb || pixels > mostThumb {
			return nil, cannot(nil, fmt.Sprintf("take %d to %d pixels", leastThumb, mostThumb), "a thumbnail of %d pixels cannot be made", pixels)
		}
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		view := LookView{}
		m, err := sh.model(b.setup, view)
		if err != nil {
			return nil, err
		}
		dpi := float64(pixels) * 72 / max(sh.canvas.region.W(), sh.canvas.region.H())
		if w, h := paint.Size(sh.canvas.region, dpi); w < 1 || h < 1 {
			return nil, cannot(nil, "take more pixels", "page %d is too narrow for a thumbnail of %d pixels", page, pixels)
		}
		sink := look.NewPictureSink(m.model, 1)
		if sink.Behind, err = b.behindWhole(ctx, sh, dpi); err != nil {
			return nil, err
		}
		if err := paint.Render(ctx, sh.canvas.whole(dpi), sink); err != nil {
			return nil, stopped(ctx, err)
		}
		var out bytes.Buffer
		err = look.EncodePNG(&out, sink.Image(), dpi, nil, 1)
		return out.Bytes(), err
	})
}

// whole paints all of a canvas.
func (c *canvas) whole(dpi float64) paint.Job {
	j := c.job(0, image.Rectangle{}, 1)
	j.DPI = dpi
	return j
}

// behindWhole is what shows through a whole page; nil where nothing does.
func (b *Bench) behindWhole(ctx context.Context, sh *benchSheet, dpi float64) (*look.Behind, error) {
	back, of, err := b.otherSide(ctx, sh)
	if back == nil || err != nil {
		return nil, err
	}
	w, h := paint.Size(sh.canvas.region, dpi)
	if backW, backH := paint.Size(back.region, dpi); backW != w || backH != h {
		return nil, nil // rounded apart by a pixel
	}
	sink, err := b.behindSink(of, LookView{})
	if err != nil {
		return nil, err
	}
	if err := paint.Render(ctx, back.whole(dpi), sink); err != nil {
		return nil, stopped(ctx, err)
	}
	return sink.Behind(), nil
}
