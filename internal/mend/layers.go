package mend

import (
	"context"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
)

var dropHiddenLayers = &Remedy{
	ID:      "drop-hidden-layers",
	Title:   "Take out what lies on layers that do not print. Technical processing steps, such as cutting, stay unless named.",
	Answers: []finding.ID{"colourant-on-hidden-layers-only", "hidden-layers", "layers-differ-in-viewer"},
	Options: []Option{{"layer", "only what is on the layer of this name", false}},
	Offer: func(f *finding.Finding, _ *Input) []Options {
		if f.Place.Layer != "" {
			return []Options{{"layer": f.Place.Layer}}
		}
		return []Options{{}}
	},
	Apply: func(ctx context.Context, e *Edit, o Options) error {
		return e.Each(ctx, func(p *Page) error {
			for i := range p.List.Items {
				it := &p.List.Items[i]
				if !it.Hidden || it.Kind == displist.BeginGroup || !wantsLayer(it, o["layer"]) {
					continue
				}
				// An operator whose other items print keeps painting them.
				shown := false
				for _, k := range p.siblings(i) {
					shown = shown || !p.List.Items[k].Hidden
				}
				if shown {
					continue
				}
				if err := e.Change(p, i, Change{Hide: true}); err == errUnreachable {
					e.Note("Page %d: something hidden is %v, and was left.", p.List.Page.Number, err)
				} else if err != nil {
					return err
				}
			}
			return nil
		})
	},
}

// wantsLayer reports whether an item lies on the layer named; without a name, on any that does not describe the piece: the
// finisher needs the lines of these.
func wantsLayer(it *displist.Item, name string) bool {
	if name == "" {
		return !it.StepOf().Technical()
	}
	return onLayer(it.Layer, name)
}
