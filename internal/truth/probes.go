package truth

import (
	"bytes"
	"context"
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// painted is a page brought through the whole pipeline, with what it was made of.
type painted struct {
	List  *displist.List
	Job   paint.Job
	Stack *plate.Stack
	Sink  *finding.Collector
	// Undrawn pages lack something that a finding tells.
	Undrawn bool
}

// paintPage reads, separates and paints a page. A nil target gives every name of the page a plate.
func paintPage(ctx context.Context, file []byte, page int, dpi float64, opt interp.Options, target *separate.Target) (*painted, error) {
	p := &painted{Sink: &finding.Collector{}, Stack: &plate.Stack{}}
	doc, err := pdf.Open(bytes.NewReader(file), int64(len(file)), pdf.Options{Sink: p.Sink})
	if err != nil {
		return nil, err
	}
	opt.Sink = p.Sink
	if p.List, err = interp.NewReader(doc, p.Sink).Page(ctx, page, opt); err != nil {
		return nil, err
	}
	if target == nil {
		target = separate.NewTargetFromLists(colour.NewConverter(nil), p.Sink, p.List)
	}
	p.Job = paint.Job{List: p.List, Target: target, DPI: dpi, Region: p.List.Page.Crop, Sink: p.Sink}
	if err := paint.Render(ctx, p.Job, p.Stack); err != nil {
		return nil, fmt.Errorf("page %d: %w", page, err)
	}
	return p, nil
}
