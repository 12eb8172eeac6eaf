package app

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"laydown/internal/artwork/displist"
	"laydown/internal/look"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/press"
)

// BenchPoint is what lies at a point of the sheet, how it looks and how it came there.
type BenchPoint struct {
	X     float64            `json:"x"` // mm from the trim
	Y     float64            `json:"y"`
	DPI   float64            `json:"dpi"`   // of the pixel told of
	Lab   press.Lab          `json:"lab"`   // D50, 2 degrees, 45/0
	SRGB  string             `json:"srgb"`  // CSS
	Tints map[string]float64 `json:"tints"` // percent; those without toner are left out
	Pile  float64            `json:"pile"`  // sum of tints, percent
	Stack []BenchDeposit     `json:"stack"` // first laid first
	Item  int                `json:"item"`  // the topmost that marks the point; -1 = none
	Why   []BenchTouch       `json:"why"`   // in the order of painting
	// Knowledge tells how far the look of the toners at the point can be trusted.
	Knowledge []look.Knowledge `json:"knowledge"`
}

// BenchDeposit is a toner that lies at a point.
type BenchDeposit struct {
	Name string  `json:"name"`
	Tint float64 `json:"tint"` // percent
	UM   float64 `json:"um"`   // thickness of the solid by the tint: a mean over the halftone
}

// BenchTouch is an item that covers a point.
type BenchTouch struct {
	Item    int           `json:"item"`
	Kind    string        `json:"kind"`
	Does    string        `json:"does"`  // in plain words
	Depth   int           `json:"depth"` // of groups round it
	Cover   float64       `json:"cover"` // of the pixel, 0..1
	Object  int           `json:"object"`
	Offset  int64         `json:"offset"`
	Layer   string        `json:"layer,omitempty"`
	Effects []PixelEffect `json:"effects"`
}

// At tells of the pixel under a point of a page, in the resolution of a level; below 0 = that of 300 dpi. What shows through
// from the other side is not in the figures. A point off the region of the page is a *CannotError.
func (b *Bench) At(ctx context.Context, page int, at PointMM, view LookView, level int) (*BenchPoint, error) {
	return onBench(ctx, b, func(ctx context.Context) (*BenchPoint, error) {
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		if level < 0 {
			level = min(pointLevel, len(sh.page.Levels)-1)
		}
		bounds, err := sh.bounds(level)
		if err != nil {
			return nil, err
		}
		m, err := sh.model(b.setup, view)
		if err != nil {
			return nil, err
		}
		dpi := levelDPI(level)
		px := image.Pt(floorInt((at.X-sh.page.Region.X)*dpi/25.4), floorInt((at.Y-sh.page.Region.Y)*dpi/25.4))
		if !px.In(bounds) {
			return nil, cannot(nil, fmt.Sprintf("the page is %.1f × %.1f mm", sh.page.Region.W, sh.page.Region.H), "the point %g,%g mm lies outside page %d", at.X, at.Y, page)
		}
		e, err := paint.Explain(ctx, sh.canvas.job(level, image.Rectangle{Min: px, Max: px.Add(image.Pt(1, 1))}, 1), px.X, px.Y)
		if err != nil {
			return nil, stopped(ctx, err)
		}
		return sh.tell(e, at, dpi, m), nil
	})
}

func floorInt(v float64) int { return int(math.Floor(min(max(v, -1e9), 1e9))) }

// tell writes an explanation out.
func (sh *benchSheet) tell(e *paint.Explanation, at PointMM, dpi float64, m *benchModel) *BenchPoint {
	set := sh.sheet.Target.Set
	out := &BenchPoint{X: at.X, Y: at.Y, DPI: dpi, Lab: rounded(m.model.Lab(e.Final)), SRGB: css(m.model.SRGB(e.Final)), Tints: map[string]float64{},
		Stack: []BenchDeposit{}, Item: -1, Why: []BenchTouch{}, Knowledge: []look.Knowledge{}}
	for i, v := range e.Final {
		if v > 0 {
			out.Tints[set.At(i).Name] = round2(float64(v) / 2.55)
			out.Pile += float64(v) / 2.55
		}
	}
	out.Pile = round2(out.Pile)
	for _, l := range sh.layers {
		if v := e.Final[l.Plate]; v > 0 {
			out.Stack = append(out.Stack, BenchDeposit{l.Toner.Name, round2(float64(v) / 2.55), round2(TonerThickness(l.Toner) * float64(v) / 255)})
		}
	}
	for i, k := range m.model.Knowledge() {
		known := slices.ContainsFunc(out.Knowledge, func(o look.Knowledge) bool { return o.Toner == k.Toner })
		if e.Final[m.model.Layers()[i].Plate] > 0 && !known {
			out.Knowledge = append(out.Knowledge, k)
		}
	}
	for i, t := range sh.sheet.touches(e) {
		it := &sh.sheet.List.Items[t.Item]
		touch := BenchTouch{Item: t.Item, Kind: kindWord(it), Does: doesWords(it, &t), Depth: t.Depth, Cover: round2(t.Cover), Object: t.Object, Offset: t.Offset,
			Layer: layerName(it), Effects: t.Effects}
		out.Why = append(out.Why, touch)
		if it.Kind != displist.BeginGroup && marks(&e.Rows[i]) {
			out.Item = t.Item
		}
	}
	return out
}

// marks reports whether a touch lays toner or takes some off.
func marks(t *paint.Touch) bool {
	return t.Alpha > 0 && (slices.ContainsFunc(t.Values, func(v uint16) bool { return v > 0 }) || !slices.Equal(t.Before, t.After))
}

// doesWords says what an item does at a pixel: what it lays, takes off and leaves.
func doesWords(it *displist.Item, t *PixelTouch) string {
	var lays, off, leaves, changes []string
	for _, e := range t.Effects {
		was, is := e.Before > 0, e.After > 0
		switch {
		case it.Kind == displist.BeginGroup:
			if e.Before != e.After {
				changes = append(changes, e.Component+" to "+percentWord(e.After))
			}
		case e.Effect == "leave":
			if was {
				leaves = append(leaves, e.Component)
			}
		case e.Effect == "clear" || e.Tint == 0:
			if was {
				off = append(off, e.Component)
			}
		case e.Tint > 0 || is:
			lays = append(lays, e.Component+" "+percentWord(e.Tint))
		}
	}
	var parts []string
	for _, p := range []struct {
		word  string
		names []string
	}{{"lays", lays}, {"takes off", off}, {"leaves", leaves}, {"as a whole brings", changes}} {
		if len(p.names) > 0 {
			parts = append(parts, p.word+" "+strings.Join(p.names, ", "))
		}
	}
	if len(parts) == 0 {
		return "changes nothing here"
	}
	return strings.Join(parts, "; ")
}

// BenchRow are amounts of toner along a line from left to right.
type BenchRow struct {
	Y      float64      `json:"y"` // mm from the trim
	X0     float64      `json:"x0"`
	X1     float64      `json:"x1"`
	DPI    float64      `json:"dpi"`    // of the pixels averaged
	Toners []BenchToner `json:"toners"` // first laid first; one laid twice counts twice
	// Tints are n bytes by toner: 0 none, 255 solid, means over each step; 0 off the page.
	Tints map[string][]byte `json:"tints"`
}

// BenchToner is a toner and how thick its solid lies.
type BenchToner struct {
	Name      string  `json:"name"`
	Thickness float64 `json:"thickness_um"` // see TonerThickness
}

// MaxRowSteps is how many steps a row may have.
const MaxRowSteps = 4096

// Row tells how much toner lies along the row of pixels at y from x0 to x1, millimetres from the trim, in n steps of equal width. The
// resolution is the least that has a pixel for every step, or the finest there is.
func (b *Bench) Row(ctx context.Context, page int, y, x0, x1 float64, n int) (*BenchRow, error) {
	return onBench(ctx, b, func(ctx context.Context) (*BenchRow, error) {
		if n < 1 || n > MaxRowSteps || !(x1 > x0) || math.IsInf(x1-x0, 0) || math.IsNaN(y) {
			return nil, cannot(nil, fmt.Sprintf("take 1 to %d steps from left to right", MaxRowSteps), "a row of %d steps from %g to %g mm at %g mm cannot be made", n, x0, x1, y)
		}
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		level := 0
		for level < len(sh.page.Levels)-1 && levelDPI(level) < 25.4*float64(n)/(x1-x0) {
			level++
		}
		row := &BenchRow{Y: y, X0: x0, X1: x1, DPI: levelDPI(level), Toners: []BenchToner{}, Tints: map[string][]byte{}}
		for _, l := range sh.layers {
			row.Toners = append(row.Toners, BenchToner{l.Toner.Name, TonerThickness(l.Toner)})
			row.Tints[l.Toner.Name] = make([]byte, n)
		}
		bounds, _ := sh.bounds(level)
		perMM := row.DPI / 25.4
		left, right := (x0-sh.page.Region.X)*perMM, (x1-sh.page.Region.X)*perMM
		at := floorInt((y - sh.page.Region.Y) * perMM)
		part := image.Rect(floorInt(left), at, floorInt(right)+1, at+1).Intersect(bounds)
		if part.Empty() {
			return row, nil
		}
		st := &plate.Stack{}
		if err := paint.Render(ctx, sh.canvas.job(level, part, 1), st); err != nil {
			return nil, stopped(ctx, err)
		}
		for _, l := range sh.layers {
			if p := st.Plane(l.Plate); p != nil {
				means(row.Tints[l.Toner.Name], p, left-float64(part.Min.X), (right-left)/float64(n))
			}
		}
		return row, nil
	})
}

// means averages pixels over steps of a width in pixels, the first of which begins at from; there is nothing off their ends.
func means(to, pixels []byte, from, width float64) {
	for i := range to {
		a, z := from+float64(width*float64(i)), from+float64(width*float64(i+1))
		sum := 0.0
		for x := max(floorInt(a), 0); x < len(pixels) && float64(x) < z; x++ {
			part := min(z, float64(x+1)) - max(a, float64(x))
			sum += float64(part * float64(pixels[x]))
		}
		to[i] = byte(min(max(sum/width, 0), 255) + 0.5)
	}
}

// ItemAt is the topmost item that marks the pixel of 300 dpi under a point; -1 where none does.
func (b *Bench) ItemAt(ctx context.Context, page int, at PointMM) (int, error) {
	p, err := b.At(ctx, page, at, LookView{}, -1)
	if err != nil {
		return -1, err
	}
	return p.Item, nil
}
