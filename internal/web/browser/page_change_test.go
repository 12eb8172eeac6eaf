package browser

import (
	"bytes"
	"context"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// The sheet as the tests of changes look at it: the sun in the middle, 8 CSS pixels to the millimetre, the probe out of sight.
const (
	sunX, sunY = 118, 22
	nearness   = 8
	overTheSun = "/1?see=change&at=20,90&view=118,22,8"
)

// openTicketToChange lays the sound ticket on the bench, with the section "Change" beside it.
func openTicketToChange(t *testing.T) *tab {
	t.Helper()
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="sound"]`)
	p.until(checked)
	p.to(overTheSun)
	p.until(`document.querySelector("#where")?.textContent === "20.0 mm, 90.0 mm"`)
	for end := time.Now().Add(longWait); ; time.Sleep(100 * time.Millisecond) {
		if c := p.colour(sunX, 18); c[0] > c[2]+20 { // gold: neither bench nor board are yellowish
			return p
		}
		if time.Now().After(end) {
			t.Fatal("the sun does not come")
		}
	}
}

// inWindow tells where a point of the sheet lies in the window.
func (p *tab) inWindow(x, y float64) (px, py float64) {
	p.t.Helper()
	var middle struct{ X, Y float64 }
	p.eval(`const r = document.querySelector("#sheet").getBoundingClientRect()
		return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }`, &middle)
	return middle.X + (x-sunX)*nearness, middle.Y + (y-sunY)*nearness
}

// point clicks on a point of the sheet.
func (p *tab) point(x, y float64) {
	p.t.Helper()
	px, py := p.inWindow(x, y)
	p.do(mouse(input.DispatchMouseEventTypeMousePressed, px, py, chromedp.ButtonLeft), mouse(input.DispatchMouseEventTypeMouseReleased, px, py, chromedp.ButtonLeft))
}

// tintsAt asks the server what lies at a point of page 1, on the trial where one is being looked at, on the version otherwise: percent.
func (p *tab) tintsAt(x, y float64) map[string]float64 {
	p.t.Helper()
	var tints map[string]float64
	p.eval(`const at = "/api/artworks/" + location.hash.slice(1).split("/")[0]
		const a = await (await fetch(at)).json()
		return (await (await fetch(at + "/pages/1/at?rev=" + (a.trial?.rev ?? a.rev) + "&x=`+number(x)+`&y=`+number(y)+`")).json()).tints`, &tints)
	return tints
}

// colour is what the window shows at a point of the sheet.
func (p *tab) colour(x, y float64) [3]float64 {
	p.t.Helper()
	px, py := p.inWindow(x, y)
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	b, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		p.t.Fatal(err)
	}
	// The mean of 9 × 9 pixels: of metal single ones glint.
	var sum [3]float64
	for dy := -4; dy <= 4; dy++ {
		for dx := -4; dx <= 4; dx++ {
			r, g, b, _ := img.At(int(px)+dx, int(py)+dy).RGBA()
			for i, v := range []uint32{r, g, b} {
				sum[i] += float64(v>>8) / 81
			}
		}
	}
	return sum
}

// showsAnother folds the sheet as it was away to its left edge and waits until a point of it looks other than before: by 8 of 255 in a component, more
// than nearer tiles change the mean of a plain tint.
func (p *tab) showsAnother(x, y float64, was [3]float64) {
	p.t.Helper()
	p.eval(`document.querySelector("#foldline").focus()`, nil)
	p.do(chromedp.KeyEvent(kb.Home))
	for end := time.Now().Add(longWait); ; time.Sleep(100 * time.Millisecond) {
		now := p.colour(x, y)
		for i := range now {
			if math.Abs(now[i]-was[i]) >= 8 {
				return
			}
		}
		if time.Now().After(end) {
			p.t.Fatalf("the sheet still shows %.0f", now)
		}
	}
}

// slide moves a slider of the part that is open, found by its words.
func (p *tab) slide(words string, value float64) {
	p.t.Helper()
	p.eval(`const s = [...document.querySelectorAll("details.doing[open] .slide")].find(s => s.querySelector("label").textContent === `+quote(words)+`).querySelector("input")
		s.value = `+number(value)+`
		s.dispatchEvent(new Event("input", { bubbles: true }))`, nil)
}

// tries waits until a change is looked at that is told of in these words.
func (p *tab) tries(words string) {
	p.t.Helper()
	p.until(`document.querySelector('#trial [data-key="keep"]:enabled') && document.querySelector("#trial").textContent.includes(` + quote(words) + `) && !document.querySelector("#foldline").hidden`)
}

// keeps keeps what is tried and holds the plates its proof names as changed against those that were to change.
func (p *tab) keeps(plates ...string) {
	p.t.Helper()
	p.click(`#trial [data-key="keep"]`)
	p.until(`document.querySelector(".numbers")?.checkVisibility()`)
	p.proves(plates...)
}

func (p *tab) proves(plates ...string) {
	p.t.Helper()
	var got []string
	p.eval(`return [...new Set([...document.querySelectorAll(".numbers tbody th")].map(e => e.textContent))].sort()`, &got)
	if strings.Join(got, " ") != strings.Join(plates, " ") {
		p.t.Errorf("the proof tells of changes on %v, want %v", got, plates)
	}
}

// lies holds the tint of a toner at a point against what it is to be, within a step of 8 bits.
func (p *tab) lies(toner string, x, y, want float64) {
	p.t.Helper()
	if got := p.tintsAt(x, y)[toner]; math.Abs(got-want) > 0.5 {
		p.t.Errorf("at %g, %g lies %s %g %%, want %g %%", x, y, toner, got, want)
	}
}

// An object is pointed at, those painted alike light up, and they are given another toner at another tint: seen at once, proved when it
// is kept, and on the plates as it was asked for. What the proof told is still told after the page was loaded anew.
func TestPage_gives_objects_another_toner(t *testing.T) {
	p := openTicketToChange(t)
	p.lies("Gold", 113, 22, 70)
	was := p.colour(sunX, 18)
	p.point(113, 22)
	p.until(`document.querySelector(".chosen")?.textContent.includes("Gold 70 %")`)
	// Disc and 16 rays, each drawn twice: light on dark.
	p.until(`document.querySelectorAll("#over .alike").length === 2 * 17`)
	p.click(`.chosen input[value="Silver"]`)
	p.slide("How much", 40)
	p.tries("Silver 40 % for what was Gold 70 %")
	p.showsAnother(sunX, 18, was)
	p.lies("Silver", 113, 22, 40)
	p.lies("Gold", 113, 22, 0)
	p.keeps("Gold", "Silver")
	for _, x := range []float64{113, 125, 105.5} { // the disc twice, a ray
		p.lies("Silver", x, 22, 40)
		p.lies("Gold", x, 22, 0)
	}
	told := p.text(".numbers")
	p.eval(`document.querySelector(".numbers").remove()`, nil) // what is found next is of the page loaded anew
	p.eval(`location.reload()`, nil)
	p.until(`document.querySelector(".numbers")?.checkVisibility()`)
	if again := p.text(".numbers"); again != told {
		t.Errorf("loaded anew the page tells of the mend %q, before %q", again, told)
	}
}

// White is put under the gold: the slider moves its edge on the sheet, and what is kept is a version with its proof.
func TestPage_puts_white_underneath(t *testing.T) {
	p := openTicketToChange(t)
	was := p.colour(sunX, 18)
	p.openPart("Put white underneath")
	p.click(`details.doing[open] input[value="Gold"]`)
	p.click(`details.doing[open] input[value="process"]`)
	p.tries("Put White under Gold, its edge 0.1 mm inside")
	p.showsAnother(sunX, 18, was)
	// The rim of the disc lies at 109 mm on this row.
	p.lies("White", 109.3, sunY, 100)
	p.lies("White", 108.9, sunY, 0)
	p.slide("Its edge lies", -0.5)
	p.tries("Put White under Gold, its edge 0.5 mm inside")
	p.lies("White", 109.3, sunY, 0)
	p.lies("White", 109.7, sunY, 100)
	p.keeps("White")
	p.lies("White", 109.3, sunY, 0)
	p.lies("White", 109.7, sunY, 100)
}

// Clear is tried over the layer of what is pointed at, then put over the picture: the slider moves its edge, and it lies on the plates there and
// nowhere else.
func TestPage_puts_clear_over_pictures(t *testing.T) {
	p := openTicketToChange(t)
	p.openPart("Put clear over it")
	p.point(113, 22)
	p.tries("Put Clear over the layer “Metals”")
	p.lies("Clear", 113, 22, 100)
	p.lies("Clear", 150, 60, 0)
	p.click(`details.doing[open] input[value="images"]`)
	p.tries("Put Clear over the pictures")
	// The picture begins at 118 mm.
	p.lies("Clear", 118.3, 60, 100)
	p.slide("Its edge lies", -0.5)
	p.tries("Put Clear over the pictures, its edge 0.5 mm inside")
	p.lies("Clear", 118.3, 60, 0)
	p.lies("Clear", 118.7, 60, 100)
	p.keeps("Clear")
	p.lies("Clear", 118.3, 60, 0)
	p.lies("Clear", 118.7, 60, 100)
	p.lies("Clear", 50, 90, 0)
}

// Beside what can be taken along stands how the job goes through the press, for as many pieces as are asked for, and what to mind.
func TestPage_tells_the_passes(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="sound"]`)
	p.until(checked)
	p.click(`[data-key="way-take"]`)
	p.until(`document.querySelector(".plan-words")?.textContent.includes("for 250 pieces")`)
	if got := p.text(".plan-words"); !strings.Contains(got, "5 passes, 2 changes of the set") {
		t.Errorf("the plan is %q", got)
	}
	p.eval(`document.querySelector('[data-key="pieces"]').value = "1000"
		document.querySelector('[data-key="pieces"]').dispatchEvent(new Event("input"))`, nil)
	p.until(`document.querySelector(".plan-words").textContent.includes("for 1,000 pieces")`)
	for _, want := range []string{"touches food", "cut edges are blue", "No clear over glue areas"} {
		if got := p.text("#part-take .cautions"); !strings.Contains(got, want) {
			t.Errorf("nothing is said of %q: %q", want, got)
		}
	}
}
