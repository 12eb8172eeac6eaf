package app

import (
	"fmt"

	"pgregory.net/rapid"

	_ "laydown/internal/sameseed"
)

const (
	answerUnderlay = "wishes: {underlay: [{toner: White, under: [process], choke: 0.1mm}]}"
	answerClear    = "wishes: {clear: [{toner: Clear, over: [Picture]}]}"
	answerFits     = "finished: {width: 28.22mm, height: 28.22mm}\nbleed: 3.53mm" // together the 100 pt of the page
	answerBleed    = "finished: {width: 28.22mm, height: 28.22mm}\nbleed: 2mm"
)

// answers holds every pair of a rule and a remedy it names, in the order remedies are applied in.
var answers = []answer{
	{remedy: "rename-colourant", finding: "colourant-name-nearly-right", colourant: "white", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return pick(t, "/W cs 1 scn ", colourful(t)) + drawArea(t).fill() + "/w cs " + pick(t, ".5", "1") + " scn " + drawArea(t).fill()
		})
	}},
	{remedy: "merge-colourants", finding: "colourant-unknown", colourant: "Moon Dust", content: moonlit},
	{remedy: "merge-colourants", finding: "one-look-two-names", colourant: "Sterling", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return "/T cs " + pick(t, ".5", "1") + " scn " + drawArea(t).fill() + "/S cs " + pick(t, ".5", "1") + " scn " + drawArea(t).fill()
		})
	}},
	{remedy: "one-definition", finding: "colourant-definitions-differ", colourant: "Silver", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			first, second := "/S", "/S2"
			if rapid.Bool().Draw(t, "turned") {
				first, second = second, first
			}
			return first + " cs 1 scn " + drawArea(t).fill() + second + " cs .5 scn " + drawArea(t).fill()
		})
	}},
	{remedy: "to-toner", finding: "stand-in-in-process-colour", colourant: "Gold", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return colourful(t) + drawArea(t).fill() + ".2 .35 .8 .15 k .2 .35 .8 .15 K 2 w " + pick(t, a.fill(), a.line(), fmt.Sprintf("BT /F 20 Tf %d %d Td (Ag) Tj ET", a.x, a.y))
		})
	}},
	{remedy: "to-toner", finding: "process-on-toner-layer", colourant: "Silver", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return colourful(t) + drawArea(t).fill() + "/OC /Silver BDC " +
				pick(t, colourful(t)+a.fill(), "/S cs .5 scn "+a.fill()+".6 g "+drawArea(t).fill(), fmt.Sprintf("q %d 0 0 %d %d %d cm /Im Do Q ", a.w, a.h, a.x, a.y)) + " EMC"
		})
	}},
	{remedy: "to-process", finding: "colourant-unknown", colourant: "Moon Dust", content: moonlit},
	{remedy: "to-process", finding: "registration-colour-inside-trim", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return pick(t, "/S cs 1 scn ", colourful(t)) + drawArea(t).fill() + "/Every cs " + pick(t, ".5", "1") + " scn " + drawArea(t).fill()
		})
	}},
	{remedy: "to-process", finding: "mixture-names-missing-toner", colourant: "Moon Dust", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return "/Au cs 1 scn " + drawArea(t).fill() + fmt.Sprintf("/SM cs %s %s scn ", pick(t, ".5", "1"), pick(t, "0", ".8")) + drawArea(t).fill()
		})
	}},
	{remedy: "clip-tints", finding: "tint-outside-range", colourant: "Silver", content: func(t *rapid.T, _ *answerFile) string {
		first := "/S cs .1 scn " + drawArea(t).fill()
		return drawn(t, func() string {
			a := drawArea(t)
			return fmt.Sprintf("/%s gs /S cs %s scn %s /S CS %[2]s SCN 2 w ", pick(t, "On", "Off"), pick(t, ".05", ".1", ".25", ".5"), a.fill()) + a.line()
		}) + first
	}},
	{remedy: "lighten-pile", finding: "pile-over-limit", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return fmt.Sprintf("%s %s %s %s k ", pick(t, ".8", "1"), pick(t, ".7", ".9"), pick(t, ".7", "1"), pick(t, ".6", "1")) + drawArea(t).fill()
		})
	}},
	{remedy: "overprint-on", finding: "must-overprint-knocks-out", colourant: "Clear", content: func(t *rapid.T, _ *answerFile) string {
		a := drawArea(t)
		lower, upper := solid(t), []string{"/Off gs /C cs 1 scn ", "/Off gs /C cs .5 scn "}
		if rapid.Bool().Draw(t, "silver") {
			lower, upper = "/S cs 1 scn ", append(upper, "/On gs /CS cs 1 0 scn ")
		}
		return lower + a.fill() + drawn(t, func() string { return pick(t, upper...) + a.within(t).fill() })
	}},
	{remedy: "multiply-on", finding: "must-overprint-knocks-out", colourant: "Clear", content: func(t *rapid.T, f *answerFile) string {
		a := drawArea(t)
		return solid(t) + a.fill() + f.group("Norm", "/"+pick(t, "On", "Off")+" gs /C cs 1 scn "+drawn(t, func() string { return a.within(t).fill() }))
	}},
	{remedy: "spare-underlay", finding: "process-on-dark-stock", job: answerUnderlay, content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return "/On gs /W cs 1 scn " + a.fill() + "/Off gs " + colourful(t) + a.within(t).fill()
		})
	}},
	{remedy: "spare-underlay", finding: "special-knocked-out-by-later-object", job: answerUnderlay, content: func(t *rapid.T, _ *answerFile) string {
		a := drawArea(t)
		return "/W cs 1 scn " + a.fill() + drawn(t, func() string { return colourful(t) + a.within(t).fill() })
	}},
	{remedy: "laydown-overprint", finding: "underlay-knocks-out", job: answerUnderlay, content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return "/Off gs " + colourful(t) + a.fill() + "/W cs " + pick(t, ".5", "1") + " scn " + a.within(t).fill()
		})
	}},
	{remedy: "laydown-overprint", finding: "underlay-knocks-out", content: func(t *rapid.T, _ *answerFile) string {
		a := drawArea(t)
		return solid(t) + a.fill() + pick(t, "", "/S cs 1 scn "+drawArea(t).fill()) + "/OC /Step BDC /W cs 1 scn " + drawn(t, func() string { return a.within(t).fill() }) + " EMC"
	}},
	{remedy: "knock-out", finding: "covered-by-later-toner", content: func(t *rapid.T, f *answerFile) string {
		a := drawArea(t)
		return "/Au cs 1 scn " + a.fill() + laidOn(t, f, a, "/W cs 1 scn ")
	}},
	{remedy: "knock-out", finding: "drawn-order-differs-from-laydown", content: func(t *rapid.T, f *answerFile) string {
		a := drawArea(t)
		lower, upper := solid(t), "/S cs 1 scn "
		if rapid.Bool().Draw(t, "clear") {
			lower, upper = "/C cs 1 scn ", pick(t, "/W cs 1 scn ", "/Au cs 1 scn ", "/S cs .7 scn ")
		}
		// The dab of white makes the press lay its specials before the process toners.
		return "/W cs 1 scn 80 80 8 8 re f " + lower + a.fill() + laidOn(t, f, a, upper)
	}},
	{remedy: "knock-out", finding: "toners-never-on-each-other", never: "Silver, process", content: func(t *rapid.T, f *answerFile) string {
		a := drawArea(t)
		lower, upper := pick(t, "/S cs 1 scn ", colourful(t)), "/C cs 1 scn "
		if rapid.Bool().Draw(t, "turned") {
			lower, upper = upper, lower
		}
		return lower + a.fill() + laidOn(t, f, a, upper)
	}},
	{remedy: "thicken-lines", finding: "line-too-thin", dpi: 600, content: func(t *rapid.T, _ *answerFile) string {
		return fmt.Sprintf("%s %s w ", pick(t, "/S CS 1 SCN", "/S CS 1 SCN", "0 0 0 1 K"), pick(t, ".1", ".15", ".2")) + drawArea(t).line()
	}},
	{remedy: "thicken-lines", finding: "line-of-no-width", content: func(t *rapid.T, _ *answerFile) string {
		return "0 w " + drawn(t, func() string { return pick(t, "/S CS 1 SCN ", "/Au CS 1 SCN ", "1 0 0 0 K ") + drawArea(t).line() })
	}},
	{remedy: "choke-underlay", finding: "white-peeks-out", job: answerUnderlay, dpi: 300, content: func(t *rapid.T, _ *answerFile) string {
		a := drawArea(t)
		return "/W cs 1 scn " + a.fill() + "/On gs " + colourful(t) + a.fill()
	}},
	{remedy: "drop-hidden-layers", finding: "colourant-on-hidden-layers-only", colourant: "Silver", content: func(t *rapid.T, _ *answerFile) string { return hiddenOn(t, "/S cs 1 scn ", "Hidden", "Sketch") }},
	{remedy: "drop-hidden-layers", finding: "hidden-layers", content: func(t *rapid.T, _ *answerFile) string { return hiddenOn(t, colourful(t), "Hidden", "Sketch", "Viewer") }},
	{remedy: "drop-hidden-layers", finding: "layers-differ-in-viewer", content: func(t *rapid.T, _ *answerFile) string { return hiddenOn(t, colourful(t), "Viewer") }},
	{remedy: "set-boxes", finding: "finished-size-unclear", job: answerFits, boxes: "none", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string { return colourful(t) + drawArea(t).fill() })
	}},
	{remedy: "centre-boxes", finding: "finished-size-unclear", job: answerBleed, boxes: "none", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string { return colourful(t) + drawArea(t).fill() })
	}},
	{remedy: "embed-needed", finding: "font-not-embedded", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return colourful(t) + fmt.Sprintf("BT /%s %d Tf %d %d Td (%s) Tj ET", pick(t, "F", "T"), a.h, a.x, a.y, pick(t, "Ag", "x", "Yz 1"))
		})
	}},
	{remedy: "add-bleed", finding: "bleed-missing", job: answerBleed, content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			if rapid.Bool().Draw(t, "right") {
				a.w = 90 - a.x
			} else {
				a.h = 90 - a.y
			}
			return colourful(t) + a.fill()
		})
	}},
	{remedy: "make-underlay", finding: "process-on-dark-stock", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return "/" + pick(t, "On", "Off") + " gs " + colourful(t) + a.fill() + fmt.Sprintf("BT /F 20 Tf %d %d Td (Ag) Tj ET", a.x, a.y)
		})
	}},
	{remedy: "make-underlay", finding: "colour-on-bare-film", stock: "clear-film", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return "/" + pick(t, "On", "Off") + " gs " + colourful(t) + drawArea(t).fill()
		})
	}},
	{remedy: "make-underlay", finding: "toner-asked-for-unused", job: answerUnderlay, content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string { return colourful(t) + drawArea(t).fill() })
	}},
	{remedy: "make-underlay", finding: "white-too-thin", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			a := drawArea(t)
			return "/On gs /W cs " + pick(t, ".55", ".7") + " scn " + a.fill() + colourful(t) + a.within(t).fill()
		})
	}},
	{remedy: "make-underlay", finding: "fluorescent-without-white", press: "five-station", stock: "kraft", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return "/" + pick(t, "On", "Off") + " gs /P cs " + pick(t, ".5", "1") + " scn " + drawArea(t).fill() + "0 0 0 1 k " + drawArea(t).fill()
		})
	}},
	{remedy: "make-underlay", finding: "metal-on-bare-stock", colourant: "Silver", content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string { return "/S cs " + pick(t, ".7", "1") + " scn " + drawArea(t).fill() })
	}},
	{remedy: "make-clear", finding: "toner-asked-for-unused", job: answerClear, content: func(t *rapid.T, _ *answerFile) string {
		return drawn(t, func() string {
			return pick(t, "/S cs 1 scn ", "0 1 0 0 k ") + drawArea(t).fill() + "/OC /Picture BDC " + pick(t, "/S cs .5 scn ", colourful(t)) + drawArea(t).fill() + " EMC"
		})
	}},
}

// moonlit is a page with a colourant no press has.
func moonlit(t *rapid.T, _ *answerFile) string {
	return drawn(t, func() string {
		return pick(t, "/S cs 1 scn ", colourful(t)) + drawArea(t).fill() + "/M cs " + pick(t, ".5", "1") + " scn /M CS 1 SCN 3 w " + drawArea(t).fill() + drawArea(t).line()
	})
}

// laidOn draws objects in a colour within an area so that they leave what lies under them: overprinting, multiplied, or in a group.
func laidOn(t *rapid.T, f *answerFile, a area, colour string) string {
	objects := colour + drawn(t, func() string { return a.within(t).fill() })
	switch rapid.SampledFrom([]string{"overprint", "multiply", "group"}).Draw(t, "laid by") {
	case "multiply":
		return "/Mult gs " + objects
	case "group":
		return f.group("Mult", objects)
	}
	return "/On gs " + objects
}

// hiddenOn draws a page with objects in a colour on one or more of some hidden layers.
func hiddenOn(t *rapid.T, colour string, layers ...string) string {
	return drawn(t, func() string {
		return colourful(t) + drawArea(t).fill() + "/OC /" + pick(t, layers...) + " BDC " + colour + drawArea(t).fill() + " EMC"
	})
}
