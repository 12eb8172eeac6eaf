// Package check holds the rules, from display lists, plates and the job's definitions to findings in
// a designer's words. A rule reads; it never changes anything.
//
// Rules take time in proportion to pixels plus items, and beside the plates hold a mask or two of a
// byte a pixel: a page of 40 million pixels is looked at in a few hundred megabytes.
package check

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"slices"
	"sort"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// Input is what all pages of a document are held to, and what rules remember from page to page. Pages
// are checked one after the other.
type Input struct {
	Press *press.Press // nil: rules that need a press stay quiet
	Stock *press.Stock // nil: rules that need a stock stay quiet
	Job   *press.Job   // nil: a job with no wishes
	// Settings are what the definitions say of rules, by ID; see Settle.
	Settings map[string]press.CheckSetting

	// Doc is the file itself; nil: rules that read its dictionaries stay quiet.
	Doc *pdf.Document

	looks     map[string][]look // definitions met so far, by colourant name
	pages     []pageFacts       // looked at so far
	fontsTold map[string]bool   // see fontWhole
}

// Page is one page of the artwork.
type Page struct {
	List   *displist.List
	Target *separate.Target
	Plates *plate.Stack // of Region, in the resolution the checks run at
	Region geom.Rect    // list space
	Passes []press.Pass // the lay of the passes for what this page uses; nil when impossible
	// PassError says why no passes could be found.
	PassError error

	cells  map[*displist.Tiling][]ink // colours of tilings already looked through
	naming map[string][]int           // items by the colourants their colours name; nil = not yet gathered
	steps  []separate.Step            // see plan
	works  map[plateBits]*lineWork    // see shapes
	gray   int                        // see grayIsBlack: 0 = not yet known, 1 = yes, 2 = no
}

// Rules lists every rule, in the order a press room would ask: names, then laydown, then load, then document, and at last
// what readers tell.
var Rules = slices.Concat([]Rule{
	unknownColourant,
	nearlyRightName,
	definitionsDiffer,
	standInAsProcess,
	convertedLook,
	oneLookTwoNames,
	lostInMixture,
	hiddenName,
	wishedTonerUnused,
	assignedNameMissing,
	registrationInsideTrim,
	vanishingWhite,
	passesNeeded,
	clearKnocksOut,
	coveredByLaterToner,
	drawnOrderDiffers,
	underlayKnocksOut,
	erasedSpecial,
	blackTypeKnocksOut,
	neverOn,
	passOnPass,
	darkStockWithoutWhite,
	bareFilm,
	whiteBeforeFilmPrint,
	whiteTooThin,
	fluorescentWithoutWhite,
	metalOnBareStock,
	whitePeeksOut,
	whiteUnderBlackType,
	lineTooThin,
	hairline,
	gapFillsIn,
	speckLost,
	typeTooSmall,
	tintOutsideRange,
	tintTooLight,
	blendSteps,
	pileOverLimit,
	heavyAtLeadEdge,
	heavyAcrossFold,
	tonerInGlueZone,
	clearInWritingZone,
	tonerAtPerforation,
	oneSidedCurl,
	resolutionLow,
	resolutionWasted,
	resolutionRound,
	imageResampled,
	lossyImage,
	processOnTonerLayer,
	rgbOnPage,
	trimBoxMissing,
	finishedSizeDiffers,
	boxesOdd,
	pageSizesDiffer,
	bleedMissing,
	insideSafeMargin,
	typeAtFold,
	pageEmpty,
	hiddenLayers,
	viewerLayersDiffer,
	processingSteps,
	annotationPrints,
	blendSpaceNotCMYK,
	fontWhole,
	outputIntentMissing,
	pdfxBroken,
	pdfxIdentityDiffers,
	pdfxIntentUnfit,
	deviceColourUndefined,
	profileOverprint,
	layersByEvent,
	trappedUnclear,
	pageIncomplete,
}, readingRules)

// Run applies every rule of pages to a page. A rule that fails or panics becomes a finding of its own, so
// that the others still speak; only the end of ctx is returned.
func Run(ctx context.Context, in *Input, p *Page, out finding.Sink) error {
	in.note(p)
	return run(ctx, in, p, out, func(r *Rule) func(context.Context, *Case) error { return r.Page })
}

// RunFile applies the rules of the whole file, once its pages have been looked at by Run.
func RunFile(ctx context.Context, in *Input, out finding.Sink) error {
	return run(ctx, in, nil, out, func(r *Rule) func(context.Context, *Case) error { return r.File })
}

func run(ctx context.Context, in *Input, p *Page, out finding.Sink, part func(*Rule) func(context.Context, *Case) error) error {
	for i := range Rules {
		r := &Rules[i]
		look := part(r)
		if look == nil || in.off(r) {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		err := runOne(ctx, look, &Case{Input: in, Page: p, rule: r, out: out})
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			out.Add(ruleFailed(r, p, err))
		}
	}
	return nil
}

// fault is a panic of a rule.
type fault struct {
	value any
	stack []byte
}

func (f *fault) Error() string { return fmt.Sprintf("internal fault (%v)", f.value) }

func runOne(ctx context.Context, look func(context.Context, *Case) error, c *Case) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &fault{v, debug.Stack()}
		}
	}()
	return look(ctx, c)
}

func ruleFailed(r *Rule, p *Page, err error) finding.Finding {
	where, page := "in this file", 0
	if p != nil {
		where, page = "on this page", p.List.Page.Number
	}
	f := finding.Finding{
		ID: "rule-failed", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
		What:   fmt.Sprintf("The check %q could not be made %s: %v.", r.ID, where, err),
		Why:    "Faults of this kind may be there without being named.",
		Remedy: "Look at this point by eye and report the file to the maintainers.",
		Place:  finding.Place{Page: page},
	}
	var fa *fault
	if errors.As(err, &fa) {
		f.Notes = []string{string(fa.stack)}
	}
	return f
}

// place makes a place on the page with a box given in list space, clipped to the region painted.
func (p *Page) place(box geom.Rect, items []int, colourants ...string) finding.Place {
	pl := finding.Place{Page: p.List.Page.Number, Items: capped(items), Colourants: colourants}
	if box = box.Intersect(p.Region); !box.Empty() {
		pl.Box = p.boxMM(box)
	}
	if len(items) > 0 {
		it := &p.List.Items[items[0]]
		pl.Object, pl.Offset = it.Origin.Object, it.Origin.Offset
		if it.Layer != nil {
			pl.Layer = it.Layer.Name
		}
	}
	return pl
}

// boxMM is a list space box in millimetres from the trim's top left.
func (p *Page) boxMM(box geom.Rect) *finding.BoxMM {
	t := p.List.Page.Trim
	return &finding.BoxMM{
		X: round2((box.X0 - t.X0) / geom.PointsPerMM), Y: round2((box.Y0 - t.Y0) / geom.PointsPerMM),
		W: round2(box.W() / geom.PointsPerMM), H: round2(box.H() / geom.PointsPerMM),
	}
}

// round2 rounds to two decimals and never gives a negative zero.
func round2(v float64) float64 { return math.Round(v*100)/100 + 0 }

// capped keeps the first hundred items: a place is for looking, not for listing a whole page.
func capped(items []int) []int {
	sort.Ints(items)
	if len(items) > 100 {
		items = items[:100]
	}
	return items
}

// px is the side of a pixel of the plates in millimetres.
func (p *Page) px() float64 { return 25.4 / p.Plates.Header.DPI }

// listRect maps a pixel rectangle to list space.
func (p *Page) listRect(x0, y0, x1, y1 int) geom.Rect {
	s := 72 / p.Plates.Header.DPI
	return geom.Rect{
		X0: p.Region.X0 + float64(x0)*s, Y0: p.Region.Y0 + float64(y0)*s,
		X1: p.Region.X0 + float64(x1)*s, Y1: p.Region.Y0 + float64(y1)*s,
	}
}

// PixelRect maps a list space box to the pixels of the plates, clipped to them.
func (p *Page) PixelRect(r geom.Rect) (x0, y0, x1, y1 int) {
	s := p.Plates.Header.DPI / 72
	f := func(v float64, limit int) int { return max(0, min(limit, int(v+.5))) }
	w, h := p.Plates.Header.Width, p.Plates.Header.Height
	return f((r.X0-p.Region.X0)*s, w), f((r.Y0-p.Region.Y0)*s, h), f((r.X1-p.Region.X0)*s, w), f((r.Y1-p.Region.Y0)*s, h)
}

// tonerOf finds the press's toner of plate i; ok is false without a press or for plates it does not carry.
func (in *Input) tonerOf(p *Page, i int) (*press.Toner, bool) {
	if in.Press == nil {
		return nil, false
	}
	name := p.Plates.Header.Set.At(i).Name
	for k := range in.Press.Toners {
		if in.Press.Toners[k].Name == name {
			return &in.Press.Toners[k], true
		}
	}
	return nil, false
}
