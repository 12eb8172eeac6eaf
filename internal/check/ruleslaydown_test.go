package check

import (
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

func TestDrawnOrderAgainstLaydown(t *testing.T) {
	const id = "drawn-order-differs-from-laydown"
	// The dab of white makes the press two-set lay its specials before the process toners.
	picture := dab(white, 9) + fill("1 .5 0 0 k", 5, 5, 20, 20)
	f := holds(t, id, finding.Warning, artwork{pages: []string{picture + fill(over+silver, 8, 8, 6, 4)}}, quiet{
		"laid last":         {pages: []string{fill("1 .5 0 0 k", 5, 5, 20, 20) + fill(over+silver, 8, 8, 6, 4)}},
		"knocking out":      {pages: []string{picture + fill(knock+silver, 8, 8, 6, 4)}},
		"drawn below":       {pages: []string{dab(white, 9) + fill(silver, 8, 8, 6, 4) + fill(over+"1 .5 0 0 k", 5, 5, 20, 20)}},
		"beside":            {pages: []string{picture + fill(over+silver, 30, 8, 6, 4)}},
		"over a light tint": {pages: []string{dab(white, 9) + fill(".4 0 0 0 k", 5, 5, 20, 20) + fill(over+silver, 8, 8, 6, 4)}},
		"0.95 mm2":          {dpi: 508, pages: []string{picture + fill(over+silver, 8, 8, .95, 1)}},
	})
	wantArea(t, f, 24)
	wantItems(t, f, 2)
	if !strings.Contains(f.What, "Silver is drawn above Cyan, Magenta") {
		t.Error(f.What)
	}
	one(t, artwork{dpi: 508, pages: []string{picture + fill(over+silver, 8, 8, 1.05, 1)}}, id)
	wish := &press.Job{Wishes: press.Wishes{Underlay: []press.UnderlayWish{{Toner: "White", Under: []string{"process"}}}}}
	holds(t, id, finding.Note, artwork{pages: []string{picture + fill(over+white, 8, 8, 6, 4)}}, quiet{
		"as the job wishes": {job: wish, pages: []string{picture + fill(over+white, 8, 8, 6, 4)}},
	})
	holds(t, id, finding.Note, artwork{pages: []string{fill(clearIn, 5, 5, 20, 20) + fill(over+white, 8, 8, 6, 4)}}, nil)
	holds(t, id, finding.Note, artwork{pages: []string{fill(clearIn, 5, 5, 20, 20) + fill(over+"0 0 0 1 k", 8, 8, 6, 4)}}, nil)
}

func TestSpecialTonerKnockedOutByLaterObjects(t *testing.T) {
	const id = "special-knocked-out-by-later-object"
	under := fill(white, 5, 5, 20, 20)
	dark := func(content string) artwork { return artwork{stock: "black-board", pages: []string{content}} }
	f := holds(t, id, finding.Warning, dark(under+fill("1 .5 0 0 k", 8, 8, 6, 4)), quiet{
		"overprinting":         dark(under + fill(over+"1 .5 0 0 k", 8, 8, 6, 4)),
		"white stock":          {pages: []string{under + fill("1 .5 0 0 k", 8, 8, 6, 4)}},
		"black alone":          dark(under + fill("0 0 0 1 k", 8, 8, 6, 4)),
		"drawn below":          dark(fill("1 .5 0 0 k", 8, 8, 6, 4) + under),
		"beside":               dark(under + fill("1 .5 0 0 k", 30, 8, 6, 4)),
		"a metal, on purpose":  dark(fill(gold, 5, 5, 20, 20) + fill("1 .5 0 0 k", 8, 8, 6, 4)),
		"a single colourant":   dark(under + fill(over+silver, 8, 8, 6, 4)),
		"less than half a mm2": {dpi: 508, stock: "black-board", pages: []string{under + fill("1 .5 0 0 k", 8, 8, .65, .7)}},
		"erased by more white": dark(under + fill("1 .5 0 0 k", 8, 8, 6, 4) + fill(over+white, 8, 8, 6, 4)),
	})
	wantArea(t, f, 24)
	wantItems(t, f, 1)
	wantBox(t, f, 8, 8, 6, 4)
	one(t, artwork{dpi: 508, stock: "black-board", pages: []string{under + fill("1 .5 0 0 k", 8, 8, .75, .7)}}, id)

	wish := &press.Job{Wishes: press.Wishes{Underlay: []press.UnderlayWish{{Toner: "White", Under: []string{"process"}}}}}
	one(t, artwork{job: wish, pages: []string{under + fill("1 .5 0 0 k", 8, 8, 6, 4)}}, id)

	seal := fill(over+clearIn, 5, 5, 20, 20)
	holds(t, id, finding.Warning, artwork{pages: []string{seal + fill(knock+"0 0 0 1 k", 8, 8, 6, 4)}}, quiet{
		"overprinting":                      {pages: []string{seal + fill(over+"0 0 0 1 k", 8, 8, 6, 4)}},
		"a metal with a surface of its own": {pages: []string{seal + fill(knock+silver, 8, 8, 6, 4)}},
	})

	said := artwork{build: mixture("/Cyan /Silver"), pages: []string{fill(silver, 5, 5, 20, 20) + fill(over+"/Mix cs 1 0 scn", 8, 8, 6, 4)}}
	if f := one(t, said, id); !strings.Contains(f.Remedy, "names it") && !strings.Contains(f.Remedy, "0 %") {
		t.Error(f.Remedy)
	}
	group := artwork{group: fill(over+"1 0 0 0 k", 8, 8, 6, 4), pages: []string{fill(silver, 5, 5, 20, 20) + "/G Do"}}
	one(t, group, id)
}

func TestUnderlayKnocksOutWhatIsToLieOnIt(t *testing.T) {
	const id = "underlay-knocks-out"
	wish := &press.Job{Wishes: press.Wishes{Underlay: []press.UnderlayWish{{Toner: "White", Under: []string{"process"}}}}}
	picture := fill("1 .5 0 0 k", 5, 5, 20, 20)
	above := picture + fill(knock+white, 8, 8, 6, 4)
	f := holds(t, id, finding.Note, artwork{job: wish, pages: []string{above}}, quiet{
		"no underlay":          {pages: []string{above}},
		"overprinting":         {job: wish, pages: []string{picture + fill(over+white, 8, 8, 6, 4)}},
		"drawn below":          {job: wish, pages: []string{fill(knock+white, 8, 8, 6, 4) + picture}},
		"beside":               {job: wish, pages: []string{picture + fill(knock+white, 30, 8, 6, 4)}},
		"another toner":        {job: wish, pages: []string{picture + fill(knock+silver, 8, 8, 6, 4)}},
		"not the toner wished": {job: wish, pages: []string{fill(silver, 5, 5, 20, 20) + fill(knock+white, 8, 8, 6, 4)}},
		"less than half a mm2": {job: wish, dpi: 508, pages: []string{picture + fill(knock+white, 8, 8, .65, .7)}},
	})
	wantArea(t, f, 24)
	wantItems(t, f, 1)
	wantBox(t, f, 8, 8, 6, 4)
	if !slices.Equal(f.Remedies, []string{"laydown-overprint"}) || !strings.Contains(f.What, "above Cyan, Magenta") {
		t.Error(f.Remedies, f.What)
	}
	one(t, artwork{job: wish, dpi: 508, pages: []string{picture + fill(knock+white, 8, 8, .75, .7)}}, id)
	// All of what it lies on is gone: nothing of it has a place in the order of the press.
	one(t, artwork{job: wish, pages: []string{fill("1 .5 0 0 k", 8, 8, 6, 4) + fill(knock+white, 8, 8, 6, 4)}}, id)

	step := "/GTS_ProcStepsGroup /White /GTS_ProcStepsType /White"
	stepped := func(state string) string { return fill(silver, 5, 5, 20, 20) + onStep(fill(state+white, 8, 8, 6, 4)) }
	if f := holds(t, id, finding.Warning, artwork{step: step, pages: []string{stepped(knock)}}, quiet{"overprinting": {step: step, pages: []string{stepped(over)}}}); f.Place.Layer != "Step" {
		t.Errorf("on the layer %q", f.Place.Layer)
	}

	if f := one(t, artwork{job: wish, group: fill(over+white, 8, 8, 6, 4), pages: []string{picture + "/G Do"}}, id); len(f.Remedies) > 0 || !strings.Contains(f.Remedy, "out of its transparency group") {
		t.Error(f.Remedies, f.Remedy)
	}
}

// never is the press two-set with one more key for a toner.
func never(t *testing.T, key string) *press.Press {
	text, _ := press.ShippedPress("two-set")
	return readPress(t, strings.Replace(string(text), "must_overprint: true", "must_overprint: true\n    "+key, 1))
}

func TestTonersNeverOnEachOther(t *testing.T) {
	const id = "toners-never-on-each-other"
	silvered := fill(silver, 5, 5, 20, 20)
	def := never(t, "never_on: [Silver]")
	f := holds(t, id, finding.Error, artwork{defs: def, pages: []string{silvered + fill(over+clearIn, 8, 8, 6, 4)}}, quiet{
		"allowed":      {pages: []string{silvered + fill(over+clearIn, 8, 8, 6, 4)}},
		"beside":       {defs: def, pages: []string{silvered + fill(over+clearIn, 30, 8, 6, 4)}},
		"on others":    {defs: def, pages: []string{fill(gold, 5, 5, 20, 20) + fill(over+clearIn, 8, 8, 6, 4)}},
		"touching":     {defs: def, pages: []string{silvered + fill(over+clearIn, 24.9, 8, 6, 4)}},
		"a light tint": {defs: def, pages: []string{fill("/Silver cs .09 scn", 5, 5, 20, 20) + fill(over+clearIn, 8, 8, 6, 4)}},
	})
	wantArea(t, f, 24)
	wantItems(t, f, 0, 1)
	for _, turned := range []bool{false, true} {
		lower, upper, name := silver, clearIn, "Clear"
		if turned {
			lower, upper, name = clearIn, silver, "Silver"
		}
		if f := one(t, artwork{defs: def, pages: []string{fill(lower, 5, 5, 20, 20) + fill(over+upper, 8, 8, 6, 4)}}, id); f.Place.Colourants[0] != name {
			t.Errorf("%s lies above; the finding names %v", name, f.Place.Colourants)
		}
	}
	mixed := artwork{defs: def, build: mixture("/Clear /Silver"), pages: []string{fill("/Mix cs 1 1 scn", 5, 5, 20, 20)}}
	if f := one(t, mixed, id); len(f.Remedies) > 0 || !strings.Contains(f.Remedy, "one of the two") {
		t.Error(f.Remedies, f.Remedy)
	}
	process := never(t, "never_on: [process]")
	one(t, artwork{defs: process, pages: []string{fill("1 0 0 0 k", 5, 5, 20, 20) + fill(over+clearIn, 8, 8, 6, 4)}}, id)
	wantQuiet(t, artwork{defs: process, pages: []string{silvered + fill(over+clearIn, 8, 8, 6, 4)}}, id)
}

func TestTonerOnEarlierPass(t *testing.T) {
	const id = "toner-on-earlier-pass"
	text, _ := press.ShippedPress("two-set")
	def := readPress(t, string(text)+"\npass_on_pass: false\n")
	both := fill(white, 5, 5, 20, 20) + fill(over+"1 0 0 0 k", 8, 8, 6, 4)
	f := holds(t, id, finding.Error, artwork{defs: def, pages: []string{both}}, quiet{
		"a press that may":     {pages: []string{both}},
		"knocking out":         {defs: def, pages: []string{fill(white, 5, 5, 20, 20) + fill("1 0 0 0 k", 8, 8, 6, 4)}},
		"within one pass":      {defs: def, pages: []string{fill(white, 5, 5, 20, 20) + fill(over+silver, 8, 8, 6, 4)}},
		"less than half a mm2": {defs: def, dpi: 508, pages: []string{fill(white, 5, 5, 20, 20) + fill(over+"1 0 0 0 k", 8, 8, .65, .7)}},
	})
	wantArea(t, f, 24)
	one(t, artwork{defs: def, dpi: 508, pages: []string{fill(white, 5, 5, 20, 20) + fill(over+"1 0 0 0 k", 8, 8, .75, .7)}}, id)
}

func TestWhiteTooThin(t *testing.T) {
	const id = "white-too-thin"
	on := func(stock, tint string) artwork {
		return artwork{stock: stock, pages: []string{fill("/White cs "+tint+" scn", 5, 5, 20, 20) + fill(over+"1 0 0 0 k", 8, 8, 6, 4)}}
	}
	f := holds(t, id, finding.Warning, on("black-board", ".79"), quiet{
		"at the least":                         on("black-board", ".8"),
		"solid":                                on("black-board", "1"),
		"white stock":                          on("white-matt", ".6"),
		"rich black":                           {stock: "black-board", pages: []string{fill("/White cs .6 scn", 5, 5, 20, 20) + fill(over+".6 0 0 .95 k", 8, 8, 6, 4)}},
		"nothing on it":                        {stock: "black-board", pages: []string{fill("/White cs .6 scn", 5, 5, 20, 20)}},
		"hardly any, which another rule tells": on("black-board", ".4"),
	})
	wantArea(t, f, 24)
	if f.Figures["tint_percent"] < 78.5 || f.Figures["tint_percent"] > 79.5 {
		t.Errorf("%v", f.Figures)
	}
}

func TestFluorescentWithoutWhite(t *testing.T) {
	const id = "fluorescent-without-white"
	pink := "/Pink " + pdfbuild.Spot("Fluorescent#20Pink", 0, .85, .05, 0)
	glow := over + "/Pink cs 1 scn"
	on := func(stock, below string) artwork {
		return artwork{press: "five-station", stock: stock, spaces: pink, pages: []string{below + fill(glow, 8, 8, 6, 4)}}
	}
	f := holds(t, id, finding.Warning, on("kraft", ""), quiet{
		"white stock": on("white-matt", ""),
		"on white":    on("kraft", fill(white, 5, 5, 20, 20)),
	})
	wantArea(t, f, 24)
	a := on("kraft", "")
	a.settings = setting(t, id, map[string]string{"lightness": "62"})
	wantQuiet(t, a, id)
}

func TestMetalOnBareStock(t *testing.T) {
	const id = "metal-on-bare-stock"
	on := func(stock, content string) artwork { return artwork{stock: stock, pages: []string{content}} }
	dab := fill(over+silver, 8, 8, 6, 4)
	silverFirst := shipped(t, "two-set", "[White, Silver, Gold, Clear]", "[Silver, White, Gold, Clear]")
	f := holds(t, id, finding.Note, on("white-uncoated", dab), quiet{
		"coated and light":          on("white-gloss", dab),
		"metallised":                on("silver-metallised-board", dab),
		"on white":                  on("white-uncoated", fill(white, 5, 5, 20, 20)+dab),
		"on half a white":           on("white-uncoated", fill("/White cs .51 scn", 5, 5, 20, 20)+dab),
		"on process toner":          {press: "five-station", stock: "white-uncoated", pages: []string{fill("1 0 0 0 k", 5, 5, 20, 20) + dab}},
		"a light tint":              on("white-uncoated", fill("/Silver cs .09 scn", 8, 8, 6, 4)),
		"a strip":                   on("white-uncoated", fill(silver, 8, 8, 20, .5)),
		"0.95 mm2":                  {dpi: 508, stock: "white-uncoated", pages: []string{fill(silver, 8, 8, .95, 1)}},
		"process toner":             on("white-uncoated", fill("1 0 0 0 k", 8, 8, 6, 4)),
		"a press without white":     {stock: "white-uncoated", press: "none", pages: []string{dab}},
		"a white laid on the metal": {stock: "white-uncoated", defs: silverFirst, pages: []string{dab}},
	})
	wantArea(t, f, 24)
	wantItems(t, f, 0)
	wantBox(t, f, 8, 8, 6, 4)
	one(t, on("white-uncoated", fill("/White cs .49 scn", 5, 5, 20, 20)+dab), id)
	one(t, artwork{dpi: 508, stock: "white-uncoated", pages: []string{fill(silver, 8, 8, 1.05, 1)}}, id)
	one(t, on("clear-film", dab), id)
	one(t, artwork{press: "five-station", stock: "white-uncoated", pages: []string{dab}}, id)

	// Coated board of L* 95 is dark only by another figure.
	for figure, want := range map[string]int{"94.9": 0, "95.1": 1} {
		a := on("white-gloss", dab)
		a.settings = setting(t, id, map[string]string{"lightness": figure})
		if got := len(with(a.check(t), id)); got != want {
			t.Errorf("%d findings where metals want a white below L* %s, want %d", got, figure, want)
		}
	}
}

// shipped is a shipped press with one piece of its text changed.
func shipped(t *testing.T, name, old, changed string) *press.Press {
	t.Helper()
	text, ok := press.ShippedPress(name)
	if !ok || !strings.Contains(string(text), old) {
		t.Fatalf("the press %s has no %q", name, old)
	}
	return readPress(t, strings.Replace(string(text), old, changed, 1))
}

// typed is type of one word in Helvetica, whose shapes stand in for a font that is not embedded.
func typed(ops, word string, size, x, y float64) string {
	return "BT /F1 " + num(size) + " Tf " + ops + " " + num(x+slug) + " " + num(slug+trimH-y) + " Td (" + word + ") Tj ET\n"
}

const helvetica = "/Font << /F1 << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"

func TestWhiteUnderBlackType(t *testing.T) {
	const id = "white-under-black-type"
	// The content is scaled to millimetres, the type too: 8 is 8 mm high.
	word := func(ops string) string { return typed(ops, "Night", 8, 5, 20) }
	art := func(content string) artwork { return artwork{res: helvetica, stock: "kraft", pages: []string{content}} }
	f := holds(t, id, finding.Note, art(word(white)+word(over+"0 0 0 1 k")), quiet{
		"on a white ground": art(fill(white, 2, 5, 40, 25) + word(over+"0 0 0 1 k")),
		"knocking out":      art(word(white) + word(knock+"0 0 0 1 k")),
		"coloured type":     art(word(white) + word(over+"1 0 0 1 k")),
		"a box":             art(fill(white, 5, 5, 10, 6) + fill(over+"0 0 0 1 k", 5, 5, 10, 6)),
	})
	wantItems(t, f, 1)
	holds(t, id, finding.Note, art(word(white)+word(over+"0 g")), nil)
}

func TestBlackTypeKnocksOut(t *testing.T) {
	const id = "black-type-knocks-out"
	ground := fill(white, 2, 5, 56, 25)
	line := func(below, ops string, pt float64) artwork {
		return artwork{dpi: 254, res: helvetica, stock: "kraft", pages: []string{below + typed(ops, "Night sky", points(pt), 5, 20)}}
	}
	f := holds(t, id, finding.Warning, line(ground, "0 0 0 1 k", 11), quiet{
		"overprinting":        line(ground, over+"0 0 0 1 k", 11),
		"dark DeviceGray":     line(ground, ".1 g", 11),
		"large":               line(ground, "0 0 0 1 k", 12.1),
		"on bare stock":       line("", "0 0 0 1 k", 11),
		"dark gray":           line(ground, "0 0 0 .9 k", 11),
		"several toners":      line(ground, "1 0 0 1 k", 11),
		"over a darker black": line(fill("0 0 0 .5 k", 2, 5, 56, 25), "0 0 0 1 k", 11),
	})
	if !strings.Contains(f.What, "White") {
		t.Error(f.What)
	}
	wantItems(t, f, 1)
	holds(t, id, finding.Warning, line(ground, "0 g", 11), nil)
	// Overprint does not keep gray from taking cyan, magenta and yellow off, nor CMYK in mode 0.
	colours := fill(".4 .5 0 0 k", 2, 5, 56, 25)
	holds(t, id, finding.Warning, line(colours, over+"0 g", 11), quiet{"mode 1": line(colours, over+"0 0 0 1 k", 11)})
	wantQuiet(t, line(ground, "0 g", 11), "special-knocked-out-by-later-object") // it speaks of colours other than black
}
