package check

import (
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// zoned is a job with one zone.
func zoned(kind string, page int, left, top, width, height press.Length) *press.Job {
	return &press.Job{Zones: []press.Zone{{Kind: kind, Page: page, Left: left, Top: top, Width: width, Height: height}}}
}

// onStep puts content on the processing-step layer of an artwork.
func onStep(content string) string { return "/OC /Step BDC " + content + " EMC " }

// structural is the metadata of a structural processing step.
func structural(kind string) string {
	return "/GTS_ProcStepsGroup /Structural /GTS_ProcStepsType /" + kind
}

func TestHeavyTonerAcrossAFold(t *testing.T) {
	const id = "heavy-toner-across-fold"
	fold := zoned("fold", 0, 30, 0, 0, 40)
	f := holds(t, id, finding.Warning, artwork{job: fold, pages: []string{fill("1 1 .02 0 k", 20, 10, 20, 10)}}, quiet{
		"under 200 %":  {job: fold, pages: []string{fill("1 .98 0 0 k", 20, 10, 20, 10)}},
		"beside":       {job: fold, pages: []string{fill("1 1 1 0 k", 31.8, 10, 20, 10)}},
		"other page":   {job: zoned("fold", 2, 30, 0, 0, 40), pages: []string{fill("1 1 1 0 k", 20, 10, 20, 10)}},
		"another zone": {job: zoned("glue", 0, 30, 0, 0, 40), pages: []string{fill("1 1 1 0 k", 20, 10, 20, 10)}},
		"no zone":      {pages: []string{fill("1 1 1 0 k", 20, 10, 20, 10)}},
	})
	wantArea(t, f, 30) // 10 mm of the fold, 3 mm wide
	// The fold drawn on a processing-step layer: a line from top to bottom, 30 mm from the trim's left.
	line := onStep("0 0 0 1 K .1 w 40 10 m 40 50 l S")
	f = one(t, artwork{step: structural("Folding"), pages: []string{fill("1 1 .02 0 k", 20, 10, 20, 10) + line}}, id)
	wantArea(t, f, 30)
	wantQuiet(t, artwork{step: structural("Cutting"), pages: []string{fill("1 1 .02 0 k", 20, 10, 20, 10) + line}}, id)
}

func TestTonerInAGlueZone(t *testing.T) {
	const id = "toner-in-glue-zone"
	glue := zoned("glue", 0, 50, 0, 10, 40)
	f := holds(t, id, finding.Error, artwork{job: glue, pages: []string{fill(".1 0 0 0 k", 40, 10, 20, 10)}}, quiet{
		"9 %":     {job: glue, pages: []string{fill(".09 0 0 0 k", 40, 10, 20, 10)}},
		"beside":  {job: glue, pages: []string{fill("1 0 0 0 k", 40, 10, 10, 10)}},
		"0.9 mm2": {dpi: 508, job: glue, pages: []string{fill("1 0 0 0 k", 52, 10, .9, 1)}},
	})
	wantArea(t, f, 100)
	wantBox(t, f, 50, 10, 10, 10)
	area := onStep("0 0 0 1 K .1 w " + box(50, 0, 10, 40) + "S")
	one(t, artwork{step: structural("Gluing"), pages: []string{fill("1 0 0 0 k", 40, 10, 20, 10) + area}}, id)
}

func TestClearInAWritingZone(t *testing.T) {
	const id = "clear-in-writing-zone"
	zone := zoned("write-on", 0, 5, 5, 20, 10)
	f := holds(t, id, finding.Error, artwork{job: zone, pages: []string{fill(clearIn, 5, 10, 20, 10)}}, quiet{
		"colour":       {job: zone, pages: []string{fill("1 1 0 0 k", 5, 10, 20, 10)}},
		"cut out":      {job: zone, pages: []string{fill(clearIn, 5, 15, 20, 10)}},
		"nearly 1 mm2": {dpi: 508, job: zone, pages: []string{fill(clearIn, 6, 6, .9, 1)}},
	})
	wantArea(t, f, 100)
	free := onStep("0 0 0 1 k " + box(5, 5, 20, 10) + "f")
	one(t, artwork{step: structural("VarnishFree"), pages: []string{fill(clearIn, 5, 10, 20, 10) + free}}, id)
}

func TestTonerAtAPerforation(t *testing.T) {
	const id = "toner-at-perforation"
	zone := zoned("perforation", 0, 30, 0, 0, 40)
	f := holds(t, id, finding.Warning, artwork{job: zone, pages: []string{fill(white, 31, 10, 10, 10)}}, quiet{
		"two millimetres off": {job: zone, pages: []string{fill(white, 32, 10, 10, 10)}},
		"process colour":      {job: zone, pages: []string{fill("1 1 0 0 k", 31, 10, 10, 10)}},
	})
	wantArea(t, f, 10)
}

func TestHeavyTonerAtTheLeadEdge(t *testing.T) {
	const id = "heavy-toner-at-lead-edge"
	top := &press.Job{Lead: "top"}
	// The strip is 60 x 10 mm; toner of 300 % on half of it is 150 %.
	f := holds(t, id, finding.Warning, artwork{job: top, pages: []string{fill("1 1 1 0 k", 0, 0, 31, 10)}}, quiet{
		"150 %":        {job: top, pages: []string{fill("1 1 1 0 k", 0, 0, 30, 10)}},
		"another edge": {job: &press.Job{Lead: "bottom"}, pages: []string{fill("1 1 1 0 k", 0, 0, 31, 10)}},
		"further in":   {job: top, pages: []string{fill("1 1 1 0 k", 0, 10, 60, 10)}},
		"nobody knows": {job: &press.Job{}, pages: []string{fill("1 1 1 0 k", 0, 0, 31, 10)}},
	})
	wantBox(t, f, 0, 0, 60, 10)
	for edge, at := range map[string][4]float64{"left": {0, 0, 10, 40}, "right": {50, 0, 10, 40}, "bottom": {0, 30, 60, 10}} {
		one(t, artwork{job: &press.Job{Lead: edge}, pages: []string{fill("1 1 0 0 k", at[0], at[1], at[2], at[3])}}, id)
	}
}

func TestOneSidedCurl(t *testing.T) {
	const id = "one-sided-curl"
	full := func(ops string) string { return fill(ops, 0, 0, trimW, trimH) }
	heavy, light := full("1 .52 0 0 k"), full("0 0 0 .1 k")
	// grey-board weighs 450 g/m², white-matt 250 or 300.
	f := holds(t, id, finding.Warning, artwork{stock: "grey-board", pages: []string{heavy}}, quiet{
		"middling stock":    {stock: "white-matt", pages: []string{heavy}},
		"150 %":             {stock: "grey-board", pages: []string{full("1 .5 0 0 k")}},
		"balanced":          {stock: "grey-board", pages: []string{heavy, light}},
		"one of many pages": {stock: "grey-board", pages: []string{heavy, "", ""}},
	})
	if f.Figures["difference_percent"] != 152 {
		t.Errorf("%v", f.Figures)
	}
	one(t, artwork{stock: "grey-board", pages: []string{heavy, ""}}, id)
	wantQuiet(t, artwork{stock: "grey-board", pages: []string{light, light, heavy, light}, job: &press.Job{Sides: 2}}, id)
	one(t, artwork{stock: "grey-board", pages: []string{light, light, heavy, ""}, job: &press.Job{Sides: 2}}, id)
	one(t, artwork{stock: "grey-board", pages: []string{light, heavy}, job: &press.Job{Sides: 1}}, id)
}

func TestProcessingStepLayers(t *testing.T) {
	const id = "processing-step-layers"
	die := "/Die " + pdfbuild.Spot("Die#20line", 0, 1, 0, 0)
	cut := onStep("/Die cs 1 scn " + box(5, 5, 10, 6) + "f")
	art := artwork{spaces: die, step: structural("Cutting"), pages: []string{cut + fill(cmyk, 30, 5, 3, 3)}}
	f := holds(t, id, finding.Note, art, quiet{"an ordinary layer": {spaces: die, step: "/X 1", pages: []string{cut}}})
	if !strings.Contains(f.What, "Structural Cutting") || !strings.Contains(f.What, "kept off the plates") {
		t.Error(f.What)
	}
	wantItems(t, f, 0)
	// The colourant of the die line is no fault: it is not printed.
	wantQuiet(t, art, "colourant-unknown")
	wantQuiet(t, art, "colourant-on-hidden-layers-only")
	p := art.page(t, art.input(t), art.open(t), 1)
	if p.Plates.At(1, 110, 95) != 0 {
		t.Error("the die line is on the plates")
	}
	for step, sev := range map[string]finding.Severity{
		"/GTS_ProcStepsGroup /White":      finding.Note,
		"/GTS_ProcStepsGroup /Structural": finding.Warning,
		"/GTS_ProcStepsGroup /Whatever":   finding.Warning,
		"/GTS_ProcStepsGroup /Dimensions": finding.Note,
	} {
		art.step = step
		if f := one(t, art, id); f.Severity != sev {
			t.Errorf("%s: %v %s", step, f.Severity, f.What)
		}
	}
}

func TestTypeAtAFold(t *testing.T) {
	const id = "type-at-fold"
	fold := zoned("fold", 0, 30, 0, 0, 40)
	at := func(x float64) artwork {
		return artwork{job: fold, dpi: 254, res: helvetica, pages: []string{typed("0 g", "l", 6, x, 20)}}
	}
	holds(t, id, finding.Warning, at(30), quiet{
		"beside":  at(32),
		"no fold": {dpi: 254, res: helvetica, pages: []string{typed("0 g", "l", 6, 30, 20)}},
		"a box":   {job: fold, pages: []string{fill("0 g", 29, 5, 3, 3)}},
	})
	one(t, at(31), id)
	line := onStep("0 0 0 1 K .1 w 40 10 m 40 50 l S")
	one(t, artwork{step: structural("Creasing"), dpi: 254, res: helvetica, pages: []string{typed("0 g", "l", 6, 30, 20) + line}}, id)
}
