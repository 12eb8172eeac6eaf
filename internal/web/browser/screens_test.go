package browser

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

var screens = flag.String("screens", "", "write pictures of the page into this folder")

// screen is a state of the page that is pictured.
type screen struct {
	name, words string
	narrow      bool // in a narrow window too
	show        func(p *tab)
}

// until the trial that a part of the page asked for lies on the bench.
const tried = `document.querySelector('#trial [data-key="keep"]:enabled') && !document.querySelector("#foldline").hidden`

// addressed tells that the address names the artwork that is open: it is written a little after that is shown.
const addressed = `/^#\w/.test(location.hash)`

// to leads the page to an address, in the artwork that is open.
func (p *tab) to(rest string) {
	p.t.Helper()
	p.until(addressed)
	p.eval(`const id = location.hash.slice(1).split("/")[0]
		history.pushState(null, "", "#" + id + `+quote(rest)+`)
		dispatchEvent(new PopStateEvent("popstate"))`, nil)
	p.until(`document.querySelector("#where")`)
}

// openPart opens one of the doings of the section "Change" by its words.
func (p *tab) openPart(words string) {
	p.t.Helper()
	p.click(`[data-key="way-change"]`)
	p.eval(`const d = [...document.querySelectorAll("details.doing")].find(d => d.querySelector("summary").textContent === `+quote(words)+`)
		if (!d.open) d.querySelector("summary").click()`, nil)
	p.until(`[...document.querySelectorAll("details.doing[open]")].some(d => d.querySelector("summary").textContent === ` + quote(words) + `)`)
}

var allScreens = []screen{
	{"welcome", "the welcome: a file is chosen or dropped, or an example opened", true, func(p *tab) {}},
	{"press-and-stock", "press and stock are chosen for a file that came without a job", true, func(p *tab) {
		p.drop(map[string][]byte{"ticket.pdf": ticketPDF(p.t, false)})
		p.until(`document.body?.dataset.state === "laying"`)
		p.click(`[data-key$="-two-set"]`)
		p.click(`[data-key$="-midnight-blue-board"]`)
	}},
	{"lit", "the sheet on the bench under the lamp, with the numbers of what was found", true, func(p *tab) {
		p.eval(`location.hash = ""; dispatchEvent(new PopStateEvent("popstate"))`, nil)
		p.click(`#welcome [data-key="faulty"]`)
		p.until(checked)
	}},
	{"tilted", "the same sheet tilted: metals shine", false, func(p *tab) { p.to("/1?at=118,22&lamp=66,-40,12,-4") }},
	{"cut-edge", "the probe on gold over white, its layers, and the cut edge of its row", false, func(p *tab) {
		p.to("/1?at=118,22&view=122,22,14&lamp=66,-40,12,0")
		p.until(`[...document.querySelectorAll(".layers .layer-tint")].some(e => e.textContent === "70 %")`)
		p.eval(`document.querySelector(".pile").scrollIntoView()`, nil)
	}},
	{"found", "what was found, one of it chosen, with its mends", true, func(p *tab) {
		p.to("/1?see=found&finding=3")
		p.until(`document.querySelector(".finding.open .do")`)
	}},
	{"another-toner", "objects pointed at are given another toner and tint, looked at before it is kept", true, func(p *tab) {
		p.to("/1?see=change&at=105,22")
		p.openPart("Give objects another toner")
		p.click(`[data-key="take-here"]`)
		p.until(`document.querySelector('.chosen input[value="Silver"]')`)
		p.click(`.chosen input[value="Silver"]`)
		p.until(tried)
	}},
	{"white-underneath", "white is put under the gold, its edge 0.10 mm inside, looked at before it is kept", false, func(p *tab) {
		p.openPart("Put white underneath")
		p.until(`document.querySelector('#trial').hidden`)
		p.click(`.covers input[value="Gold"]`)
		p.click(`.covers input[value="process"]`)
		p.until(tried)
		p.to("/1?see=change&at=112,22&view=118,22,14&fold=0.5")
	}},
	{"take-along", "how the job goes through the press, and what can be taken along", true, func(p *tab) {
		p.to("/1?see=take")
		p.until(`document.querySelector('[data-key="plan-passes"]')`)
		p.until(`document.querySelector('[data-key="make-package"]')?.checkVisibility()`)
	}},
	{"copy-of-a-press", "a copy of a press is changed, by form and as text", false, func(p *tab) {
		p.to("/1")
		p.click(`[data-key="on"]`)
		p.click(`dialog [aria-label="Change a copy of Two-set press"]`)
		p.until(`document.querySelector("dialog.draft .field input")`)
	}},
	{"keys", "all of it by keys", false, func(p *tab) {
		p.eval(`for (const d of document.querySelectorAll("dialog")) d.remove()`, nil)
		p.click(`[data-key="keys"]`)
		p.until(`document.querySelector("dialog.keys[open]")`)
	}},
	{"mended", "after mending: before and after meet at the fold, and the proof beside it", true, func(p *tab) {
		p.eval(`for (const d of document.querySelectorAll("dialog")) d.close()`, nil)
		p.to("/1?see=found")
		p.click(`[data-key="all-safe"]`)
		p.until(`document.querySelector(".numbers") && document.querySelector(".count")`)
		p.until(`!document.querySelector("#foldline").hidden`)
	}},
}

// Pictures of the main states of the page, and the page that lists them, for docs/screens: make screens.
func TestScreens(t *testing.T) {
	if *screens == "" {
		t.Skip("needs a folder: -screens")
	}
	p := openPage(t, servePage(t), 1280, 800, false)
	p.eval(`const get = fetch
		globalThis.flying = 0
		globalThis.fetch = async (...of) => { flying++; try { return await get(...of) } finally { flying-- } }
		const calm = new CSSStyleSheet()
		calm.replaceSync("* { caret-color: transparent !important }")
		document.adoptedStyleSheets = [...document.adoptedStyleSheets, calm]`, nil)
	var list strings.Builder
	list.WriteString("# The page in pictures\n\nWritten by `make screens`, as Chromium shows the example. Each state is there in light and in dark, some in a narrow window too.\n\n")
	for i, s := range allScreens {
		s.show(p)
		name := fmt.Sprintf("%02d-%s", i+1, s.name)
		p.picture(name)
		p.wear(true)
		p.picture(name + "-dark")
		p.wear(false)
		fmt.Fprintf(&list, "- [%s](%s.png) ([dark](%s-dark.png)", s.words, name, name)
		if s.narrow {
			p.do(chromedp.EmulateViewport(320, 640, chromedp.EmulateScale(1)))
			p.eval(`const now = document.querySelector(".finding.open") ?? document.querySelector("#now > :not([hidden])")
				if (now?.checkVisibility()) now.scrollIntoView()`, nil)
			p.picture(name + "-narrow")
			p.do(chromedp.EmulateViewport(1280, 800, chromedp.EmulateScale(1)))
			p.eval(`scrollTo(0, 0)`, nil)
			fmt.Fprintf(&list, ", [narrow](%s-narrow.png)", name)
		}
		list.WriteString(")\n")
	}
	if err := os.WriteFile(filepath.Join(*screens, "README.md"), []byte(list.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// picture writes what the window shows, once nothing is asked for any more and it stays as it is.
func (p *tab) picture(name string) {
	p.t.Helper()
	var last []byte
	for end := time.Now().Add(longWait); ; {
		p.until(`flying === 0`)
		p.eval(`for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame)
			await new Promise(r => setTimeout(r, 200))`, nil)
		ctx, stop := context.WithTimeout(p.ctx, patience)
		now, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		stop()
		if err != nil {
			p.t.Fatal(err)
		}
		var flying int
		p.eval(`return flying`, &flying)
		if flying == 0 && bytes.Equal(now, last) {
			break
		}
		last = now
		if time.Now().After(end) {
			p.t.Fatalf("%s: what is shown does not come to rest", name)
		}
	}
	img, err := png.Decode(bytes.NewReader(last))
	if err != nil {
		p.t.Fatal(err)
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, fewColours(img)); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*screens, name+".png"), b.Bytes(), 0o644); err != nil {
		p.t.Fatal(err)
	}
	p.t.Logf("%s: %d bytes", name, b.Len())
}
