// Package demo draws the shipped example: the folded ticket of an evening at a planetarium, on
// midnight-blue board, once sound and once with planted faults, and the job that goes with it.
package demo

import (
	"fmt"
	"math"

	"laydown/internal/press"
)

// The job of the demo.
const (
	PressName = "two-set"
	StockName = "midnight-blue-board"
)

// Sizes in millimetres.
const (
	trimW, trimH = 210.0, 99.0
	bleed        = 3.0
	slug         = 10.0 // MediaBox beyond the trim
	choke        = 0.1  // white smaller than the picture it lies under
)

// Fault is one planted fault: the finding that must name it and where it sits.
type Fault struct {
	Page int
	ID   string // finding ID
	What string
}

// Faults lists what is wrong with the faulty ticket.
var Faults = []Fault{
	{1, "colourant-name-nearly-right", "the small type is painted in \"white\""},
	{1, "colourant-unknown", "the comet heads are painted in \"Moon Dust\""},
	{1, "must-overprint-knocks-out", "a clear tail without overprint crosses the picture"},
	{1, "covered-by-later-toner", "a white star is drawn above the gold sun"},
	{1, "bleed-missing", "the picture stops at the trim"},
	{2, "colourant-definitions-differ", "Silver has two stand-in colours"},
	{2, "stand-in-in-process-colour", "the sun is painted in gold's stand-in colour"},
	{2, "process-on-dark-stock", "the planets knock out their white"},
	{2, "tint-outside-range", "a band of 10 % silver"},
	{2, "pile-over-limit", "a rich dark panel over white"},
	{2, "finished-size-unclear", "the page has no TrimBox"},
	{2, "font-not-embedded", "one line of type has no font program"},
}

// JobYAML is the job file that lies beside the artwork folder.
func JobYAML() string {
	return fmt.Sprintf(`# An evening at the planetarium: a folded ticket.
artwork: artwork/ticket.pdf
press: %s
stock: %s
finished: {width: %gmm, height: %gmm}
bleed: %gmm
quantity: 250
price_breaks: [250, 500, 1000]
sides: 2
wishes:
  underlay:
    - {toner: White, under: [process], choke: %gmm}
  clear:
    - {toner: Clear, over: [Picture]}
# Three passes are meant: white under the picture, clear over it.
checks:
  passes-needed: {passes: 3}
`, PressName, StockName, trimW, trimH, bleed, choke)
}

// words are all the lines of type, so that the font can be reduced to their letters.
var words = []string{
	"An evening at", "the planetarium", "Saturday, eight o'clock, in the hall of stars",
	"Doors open at seven. Admit one. Row K, seat 21.", "Please be seated before the lights go out.",
	"The evening", "Twilight: the first stars come out", "Silver: how to find your way by constellations",
	"Gold: a year of the sun in six minutes", "Interval, with moon cakes", "Comets: guests from far away",
	"Home: the pale blue planet at dawn",
}

// outside draws page 1.
func outside(faulty bool) string {
	c := &canvas{margin: slug, height: trimH + 2*slug}
	right := trimW + bleed
	if faulty {
		right = trimW
	}
	const left = 118.0
	// White first, a little smaller than the picture where its edge is seen, then the picture over it.
	c.layer("White", func() {
		c.overprint(false)
		c.spot("White", 1)
		c.rect(left+choke, -bleed, right-left-choke, trimH+2*bleed)
		c.op("f")
	})
	c.layer("Picture", func() {
		c.overprint(true)
		c.image("Nebula", left, -bleed, right-left, trimH+2*bleed)
	})
	c.layer("Metals", func() {
		c.overprint(false)
		c.constellation()
		c.spot("Gold", .7)
		c.circle(left, 22, 9)
		c.op("f")
		for i := range 16 {
			a := 2 * math.Pi * float64(i) / 16
			s, co := math.Sin(a), math.Cos(a)
			c.polygon([2]float64{left + 10.2*s + .9*co, 22 - 10.2*co + .9*s}, [2]float64{left + 14.5*s, 22 - 14.5*co}, [2]float64{left + 10.2*s - .9*co, 22 - 10.2*co - .9*s})
			c.op("f")
		}
		c.spot("PaleGold", 1)
		c.crescent(26, 27, 12)
		c.op("f")
		if faulty {
			c.overprint(true)
			c.spot("White", 1)
			c.star(left, 22, 1.6, 4, 5)
			c.op("f")
		}
	})
	c.layer("Clear", func() {
		c.overprint(true)
		c.spot("Clear", 1)
		c.comet(78, 60, 1.8, -34, 14)
		c.op("f")
		c.comet(92, 14, 1.3, -24, 9)
		c.op("f")
		// One crosses the picture.
		c.overprint(!faulty)
		c.comet(186, 18, 2, -42, 22)
		c.op("f")
	})
	c.layer("Type", func() {
		c.overprint(false)
		if faulty {
			c.spot("MoonDust", 1)
		} else {
			c.spot("Silver", 1)
		}
		c.circle(78.6, 59.6, 1.5)
		c.op("f")
		c.circle(92.5, 13.7, 1.1)
		c.op("f")
		c.spot("White", 1)
		c.text(126, 74, 21, words[0])
		c.text(126, 83, 21, words[1])
		c.text(126, 91, 9, words[2])
		if faulty {
			c.spot("WrongWhite", 1)
		}
		c.text(10, 86, 7.5, words[3])
		c.text(10, 91, 7.5, words[4])
	})
	return c.b.String()
}

// inside draws page 2.
func inside(faulty bool, gold press.Toner) string {
	c := &canvas{margin: slug, height: trimH + 2*slug}
	const x, y = 53.0, 49.5
	if faulty {
		c.overprint(false)
		c.spot("Silver", .1)
		c.polygon([2]float64{108, 88}, [2]float64{204, 82}, [2]float64{204, 92}, [2]float64{108, 95})
		c.op("f")
	}
	c.layer("Metals", func() {
		c.overprint(false)
		c.op("0.75 w")
		for i, r := range []float64{14, 23, 32, 41} {
			c.spot("Silver", 1)
			if faulty && i%2 == 1 {
				c.spot("OtherSilver", 1)
			}
			c.circle(x, y, r)
			c.op("S")
		}
		if faulty {
			look := gold.StandIn
			c.op("%g %g %g %g k", look[0]/100, look[1]/100, look[2]/100, look[3]/100)
		} else {
			c.spot("Gold", .7)
		}
		c.star(x, y, 5, 7.5, 12)
		c.op("f")
	})
	type planet struct {
		x, y, r     float64
		c, m, y2, k float64
	}
	planets := []planet{
		{x + 14*.8, y - 14*.6, 2.2, .1, .55, .85, .05}, {x - 23*.6, y - 23*.8, 3, .75, .3, .05, .05},
		{x - 32*.8, y + 32*.6, 4, .05, .7, .75, .1}, {x + 41*.96, y + 41*.28, 5.2, .25, .35, .7, .1},
	}
	c.layer("White", func() {
		c.overprint(false)
		c.spot("White", 1)
		for _, p := range planets {
			c.circle(p.x, p.y, p.r-choke)
			c.op("f")
		}
		if faulty {
			c.rect(120, 62, 60, 14)
			c.op("f")
		}
	})
	c.layer("Picture", func() {
		c.overprint(!faulty)
		for _, p := range planets {
			c.op("%g %g %g %g k", p.c, p.m, p.y2, p.k)
			c.circle(p.x, p.y, p.r)
			c.op("f")
		}
		if faulty {
			c.overprint(true)
			c.op("0.9 0.8 0.8 0.9 k")
			c.rect(120, 62, 60, 14)
			c.op("f")
		}
	})
	c.layer("Clear", func() {
		c.overprint(true)
		c.spot("Clear", 1)
		c.star(187, 20, 9, 11.5, 24)
		c.op("f")
	})
	c.layer("Type", func() {
		c.overprint(false)
		c.spot("White", 1)
		c.text(120, 20, 17, words[5])
		for i, w := range words[6:] {
			font := "F1"
			if faulty && i == 2 {
				font = "F2"
			}
			c.textIn(font, 120, 30+float64(i)*6, 9, w)
		}
	})
	return c.b.String()
}

// constellation draws an invented one: silver stars joined by silver lines.
func (c *canvas) constellation() {
	pts := [][2]float64{{46, 16}, {58, 24}, {66, 38}, {84, 36}, {97, 47}, {88, 58}, {70, 52}}
	c.spot("Silver", 1)
	c.op("0.75 w 1 J")
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		// Lines stop short of the stars.
		l := math.Hypot(b[0]-a[0], b[1]-a[1])
		ux, uy := (b[0]-a[0])/l*2.6, (b[1]-a[1])/l*2.6
		c.line(a[0]+ux, a[1]+uy, b[0]-ux, b[1]-uy)
		c.op("S")
	}
	for i, p := range pts {
		r := 1.5 + .35*float64(i%3)
		c.star(p[0], p[1], r*.42, r, 4+2*(i%2))
		c.op("f")
	}
}

// crescent adds a moon of radius r open to the right.
func (c *canvas) crescent(x, y, r float64) {
	const k = 0.5522847498
	c.op("%s m", c.pt(x+r*.35, y-r*.94))
	c.op("%s %s %s c", c.pt(x-r*.75, y-r*1.32), c.pt(x-r, y-r*k*.5), c.pt(x-r, y))
	c.op("%s %s %s c", c.pt(x-r, y+r*k*.5), c.pt(x-r*.75, y+r*1.32), c.pt(x+r*.35, y+r*.94))
	c.op("%s %s %s c", c.pt(x-r*.25, y+r*.7), c.pt(x-r*.45, y+r*.3), c.pt(x-r*.45, y))
	c.op("%s %s %s c h", c.pt(x-r*.45, y-r*.3), c.pt(x-r*.25, y-r*.7), c.pt(x+r*.35, y-r*.94))
}
