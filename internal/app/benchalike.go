package app

import (
	"context"
	"fmt"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/mend"
)

// BenchAlike is an item and what of its page is painted alike.
type BenchAlike struct {
	Item   int    `json:"item"`
	Kind   string `json:"kind"`   // fill, stroke, text, image or stencil
	Paints string `json:"paints"` // what with, in words
	Font   string `json:"font,omitempty"`
	// Options are choices of the remedy to-toner that hold for the item, each by itself: colour, colourant, layer, kind,
	// form, page, item.
	Options map[string]string `json:"options"`
	// Use is the remedy with the choices that choose the items listed and nothing else of the page; the option toner is left to be added.
	// It counts on every page unless it names one. "" when they are too many to be named.
	Use   string    `json:"use"`
	Boxes []ItemBox `json:"boxes"`
	Count int       `json:"count"` // of the items; Boxes holds at most 5000
}

// ItemBox is where an item lies, in millimetres from the trim.
type ItemBox struct {
	Item int           `json:"item"`
	Box  finding.BoxMM `json:"box"`
}

// mostBoxes are told of: more are no longer told apart on a screen.
const mostBoxes = 5000

// Alike tells which items of a page are painted as one of them is. A number that is no item that paints is a *CannotError.
func (b *Bench) Alike(ctx context.Context, page, item int) (*BenchAlike, error) {
	return onBench(ctx, b, func(ctx context.Context) (*BenchAlike, error) {
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		p := sh.mendPage()
		like, ok := mend.Alike(p, *b.setup.mendInput(), item)
		if !ok {
			return nil, cannot(nil, "choose an object that prints", "item %d of page %d paints nothing", item, page)
		}
		out := &BenchAlike{Item: item, Kind: like.Kind, Paints: like.Paints, Options: like.Options, Boxes: boxesOf(p, like.Items), Count: len(like.Items)}
		if remedy, ok := mend.Find("to-toner"); ok && like.Choose != nil {
			out.Use = mend.Use{Remedy: remedy, Options: like.Choose}.String()
		}
		if t := sh.sheet.List.Items[item].Text; t != nil {
			out.Font = t.Font
		}
		return out, nil
	})
}

// Chosen lists the items of a page that options of the remedy to-toner choose: colour, colourant, layer, kind, form,
// region, page, item, first.
func (b *Bench) Chosen(ctx context.Context, page int, options map[string]string) ([]ItemBox, error) {
	return onBench(ctx, b, func(ctx context.Context) ([]ItemBox, error) {
		sh, err := b.sheet(ctx, page)
		if err != nil {
			return nil, err
		}
		p := sh.mendPage()
		items, err := mend.Select(p, *b.setup.mendInput(), options)
		if err != nil {
			return nil, cannot(err, "", "the choice cannot be understood: %v", err)
		}
		return boxesOf(p, items), nil
	})
}

func (sh *benchSheet) mendPage() *mend.Page {
	return &mend.Page{List: sh.sheet.List, Target: sh.sheet.Target}
}

func boxesOf(p *mend.Page, items []int) []ItemBox {
	out := []ItemBox{}
	for _, i := range items[:min(len(items), mostBoxes)] {
		out = append(out, ItemBox{i, boxFromTrim(&p.List.Page, p.Box(i))})
	}
	return out
}

// kindWord is an item's kind as a person says it.
func kindWord(it *displist.Item) string {
	switch {
	case it.Text != nil:
		return "text"
	case it.Kind == displist.BeginGroup:
		return "group"
	}
	return it.Kind.String()
}

// layerName is the layer an item lies on, "" = none.
func layerName(it *displist.Item) string {
	if it.Layer == nil {
		return ""
	}
	return it.Layer.Name
}

// percentWord writes a tint.
func percentWord(v float64) string { return fmt.Sprintf("%.0f %%", v) }
