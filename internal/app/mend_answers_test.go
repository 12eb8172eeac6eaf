package app

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// answerPage makes a page of 100 x 100 pt with a trim of 80 x 80 pt in its middle.
func answerPage(content string) []byte {
	f := pdfbuild.New()
	res := caseSpaces + pdfbuild.Spot("White", .25, 0, 0, .1) + " /S " + pdfbuild.Spot("Silver", 0, 0, 0, .45) + " /G " + pdfbuild.Spot("Gold", .2, .35, .8, .15) +
		" /C " + pdfbuild.Spot("Clear", 0, .2, 0, 0) + " >> /ExtGState << /On << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> >>" +
		" /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"
	f.Page(100, 100, res, content, "/TrimBox [10 10 90 90] /BleedBox [0 0 100 100]")
	return f.Bytes()
}

// area is a box inside the trim, 15 pt or more either way.
type area struct{ x, y, w, h int }

func drawArea(t *rapid.T) area {
	at, size := rapid.IntRange(15, 45), rapid.IntRange(15, 40)
	return area{at.Draw(t, "x"), at.Draw(t, "y"), size.Draw(t, "w"), size.Draw(t, "h")}
}

// within is a box inside another, 4 pt or more from its edges.
func (a area) within(t *rapid.T) area {
	in := rapid.IntRange(4, 5)
	l, b, r, u := in.Draw(t, "left"), in.Draw(t, "bottom"), in.Draw(t, "right"), in.Draw(t, "top")
	return area{a.x + l, a.y + b, a.w - l - r, a.h - b - u}
}

func (a area) fill() string { return fmt.Sprintf("%d %d %d %d re f ", a.x, a.y, a.w, a.h) }

// drawn says a line once or a few times, each anew.
func drawn(t *rapid.T, line func() string) string {
	var b strings.Builder
	for range rapid.IntRange(1, 4).Draw(t, "objects") {
		b.WriteString(line() + "\n")
	}
	return b.String()
}

// colourful is a plain process colour that is seen.
func colourful(t *rapid.T) string {
	return fmt.Sprintf("%s %s 0 0 k ", pick(t, ".3", ".6", "1"), pick(t, "0", ".4", "1"))
}

func pick(t *rapid.T, from ...string) string { return rapid.SampledFrom(from).Draw(t, "one of") }

const (
	answerUnderlay = "wishes: {underlay: [{toner: White, under: [process], choke: 0.1mm}]}"
	answerClear    = "wishes: {clear: [{toner: Clear, over: [Picture]}]}"
	answerBleed    = "finished: {width: 28.22mm, height: 28.22mm}\nbleed: 2mm"
)

// TestRemediesAnswerOnRandomPages draws pages with a fault and asserts that it is found, and gone after the remedy, with nothing left to do.
// 150 dpi at least: lines of 2 pt are too few pixels wide at 72 for the rules to tell their rims from tints.
func TestRemediesAnswerOnRandomPages(t *testing.T) {
	few(t, "10")
	for _, c := range []struct {
		use       string
		answers   finding.ID
		colourant string
		job       string
		dpi       float64
		content   func(t *rapid.T) string
	}{
		{use: "clip-tints:toner=Silver", answers: "tint-outside-range", colourant: "Silver", content: func(t *rapid.T) string {
			first := "/S cs .1 scn " + drawArea(t).fill()
			return drawn(t, func() string {
				a := drawArea(t)
				return fmt.Sprintf("/%s gs /S cs %s scn %s /S CS %[2]s SCN 2 w %[4]d %d m %d %d l S", pick(t, "On", "Off"), pick(t, ".05", ".1", ".25", ".5"), a.fill(),
					a.x, a.y, a.x+a.w, a.y+a.h)
			}) + first
		}},
		{use: "clip-tints:toner=Gold,to=advised", answers: "tint-outside-range", colourant: "Gold", content: func(t *rapid.T) string {
			return drawn(t, func() string { return "/G cs " + pick(t, ".1", ".2") + " scn " + drawArea(t).fill() })
		}},
		{use: "lighten-pile:limit=260%", answers: "pile-over-limit", content: func(t *rapid.T) string {
			return drawn(t, func() string {
				return fmt.Sprintf("%s %s %s %s k ", pick(t, ".8", "1"), pick(t, ".7", ".9"), pick(t, ".7", "1"), pick(t, ".6", "1")) + drawArea(t).fill()
			})
		}},
		{use: "spare-underlay:toner=White,under=process", answers: "process-on-dark-stock", job: answerUnderlay, content: func(t *rapid.T) string {
			return drawn(t, func() string {
				a := drawArea(t)
				return "/On gs /W cs 1 scn " + a.fill() + "/Off gs " + colourful(t) + a.within(t).fill()
			})
		}},
		{use: "spare-underlay:toner=White,under=process", answers: "special-knocked-out-by-later-object", job: answerUnderlay, content: func(t *rapid.T) string {
			a := drawArea(t)
			return "/W cs 1 scn " + a.fill() + drawn(t, func() string { return colourful(t) + a.within(t).fill() })
		}},
		{use: "knock-out:toner=White,over=Gold", answers: "covered-by-later-toner", content: func(t *rapid.T) string {
			a := drawArea(t)
			return "/G cs 1 scn " + a.fill() + "/On gs /W cs 1 scn " + drawn(t, func() string { return a.within(t).fill() })
		}},
		{use: "thicken-lines:toner=Silver,to=1pt", answers: "line-too-thin", colourant: "Silver", dpi: 600, content: func(t *rapid.T) string {
			a := drawArea(t)
			return fmt.Sprintf("/S CS 1 SCN %s w %d %d m %d %[3]d l %[4]d %d l S", pick(t, ".15", ".25", ".35"), a.x, a.y, a.x+a.w, a.y+a.h)
		}},
		{use: "thicken-lines:toner=Silver,to=1pt", answers: "line-of-no-width", content: func(t *rapid.T) string {
			return "/S CS 1 SCN 0 w " + drawn(t, func() string {
				a := drawArea(t)
				return fmt.Sprintf("%d %d m %d %d l S", a.x, a.y, a.x+a.w, a.y+a.h)
			})
		}},
		{use: "choke-underlay:toner=White", answers: "white-peeks-out", job: answerUnderlay, dpi: 300, content: func(t *rapid.T) string {
			a := drawArea(t)
			return "/W cs 1 scn " + a.fill() + "/On gs " + colourful(t) + a.fill()
		}},
		{use: "add-bleed", answers: "bleed-missing", job: answerBleed, content: func(t *rapid.T) string {
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
		{use: "make-underlay:toner=White", answers: "process-on-dark-stock", content: func(t *rapid.T) string {
			return drawn(t, func() string {
				a := drawArea(t)
				return "/" + pick(t, "On", "Off") + " gs " + colourful(t) + a.fill() + fmt.Sprintf("BT /F 20 Tf %d %d Td (Ag) Tj ET", a.x, a.y)
			})
		}},
		{use: "make-underlay:toner=White,under=Silver,layer=White under Silver", answers: "metal-on-bare-stock", colourant: "Silver", content: func(t *rapid.T) string {
			return drawn(t, func() string { return "/S cs " + pick(t, ".7", "1") + " scn " + drawArea(t).fill() })
		}},
		{use: "make-underlay:toner=White", answers: "toner-asked-for-unused", job: answerUnderlay, content: func(t *rapid.T) string {
			return drawn(t, func() string { return colourful(t) + drawArea(t).fill() })
		}},
		{use: "make-clear:toner=Clear,over=flood", answers: "toner-asked-for-unused", job: answerClear, content: func(t *rapid.T) string {
			return drawn(t, func() string { return pick(t, "/S cs 1 scn ", "0 1 0 0 k ") + drawArea(t).fill() })
		}},
	} {
		t.Run(strings.SplitN(c.use, ":", 2)[0]+" "+string(c.answers), func(t *testing.T) {
			dir := t.TempDir()
			setup := answerSetup(t, dir, c.job)
			dpi, n := max(150, c.dpi), 0
			rapid.Check(t, func(t *rapid.T) {
				data := answerPage(c.content(t))
				o, once := mendedAt(t, dpi, dir, setup, data, c.use)
				if len(told(o.Before, finding.Note, c.answers, c.colourant)) == 0 {
					t.Fatal("the page has no such fault")
				}
				if once == nil {
					t.Fatalf("nothing was changed: %+v", o.Steps)
				}
				if left := told(o.After, finding.Note, c.answers, c.colourant); len(left) > 0 {
					t.Fatalf("still there: %v", left)
				}
				if n++; n%5 == 1 {
					sound(t, filepath.Join(dir, "out.pdf"))
				}
				if o, twice := mendedAt(t, dpi, dir, setup, once, c.use); twice != nil {
					t.Fatalf("mending twice changes something: %+v", o.Steps)
				}
			})
		})
	}
}

// answerSetup is the shipped press and a dark stock with the wishes of a job.
func answerSetup(t *testing.T, dir, job string) *Setup {
	t.Helper()
	file := filepath.Join(dir, "job.yaml")
	if err := os.WriteFile(file, []byte("artwork: in.pdf\npress: two-set\nstock: midnight-blue-board\n"+job+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Job: file})
	if err != nil {
		t.Fatal(err)
	}
	return s
}
