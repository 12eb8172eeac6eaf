package browser

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// violations runs the rules of axe-core, those of WCAG 2.2 A and AA and of good practice, and lists what breaks them.
func violations(p *tab, axe []byte, state string) {
	p.t.Helper()
	p.eval("if (!globalThis.axe) {"+string(axe)+"\n}", nil)
	var found []struct {
		ID, Help string
		Nodes    []string
	}
	p.eval(`const r = await axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] })
		return r.violations.map(v => ({ ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 4).map(n => n.target.join(" ") + ": " + n.failureSummary) }))`, &found)
	for _, f := range found {
		p.t.Errorf("%s: %s (%s): %s", state, f.ID, f.Help, strings.Join(f.Nodes, "; "))
	}
}

// overflow tells how far the page reaches beyond the window's width.
func overflow(p *tab, state string) {
	p.t.Helper()
	var over struct {
		By   int
		What string
	}
	p.eval(`const w = document.documentElement.clientWidth, by = document.documentElement.scrollWidth - w
		const far = [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > w + 1 && !e.closest(".unseen, .pages, #over, .skip"))
		return { By: by, What: far.slice(0, 3).map(e => e.tagName + "#" + e.id + "." + e.className).join(" ") }`, &over)
	if over.By > 0 {
		p.t.Errorf("%s: the page is %d pixels wider than its window (%s)", state, over.By, over.What)
	}
}

// small lists buttons and the like below 24 by 24 CSS pixels (WCAG 2.2, 2.5.8).
func small(p *tab, state string) {
	p.t.Helper()
	var list []string
	p.eval(`return [...document.querySelectorAll("button, .button, input:not([type=hidden]), select, summary")].filter(e => e.checkVisibility({ visibilityProperty: true })).filter(e => {
			const b = (e.matches("input[type=checkbox], input[type=radio]") && e.closest("label") || e).getBoundingClientRect()
			return b.width > 0 && (b.width < 23.9 || b.height < 23.9)
		}).map(e => e.outerHTML.slice(0, 90))`, &list)
	if len(list) > 0 {
		p.t.Errorf("%s: too small to be hit: %s", state, strings.Join(list, "; "))
	}
}

// The main states of the page keep to WCAG 2.2 AA, light and dark, wide and narrow, and never scroll sideways.
func TestPage_is_for_everybody(t *testing.T) {
	file := oracle(t, "axe-core/axe.min.js")
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	address := servePage(t)
	for _, w := range []struct {
		width, height int
		dark          bool
	}{{1280, 800, false}, {1280, 800, true}, {320, 640, false}, {320, 640, true}} {
		name := fmt.Sprintf("%d wide, dark %v", w.width, w.dark)
		p := openPage(t, address, w.width, w.height, w.dark)
		p.eval(`location.hash = ""`, nil)
		p.until(`document.body?.dataset.state === "welcome"`)
		look := func(state string) {
			t.Helper()
			violations(p, axe, name+", "+state)
			overflow(p, name+", "+state)
			small(p, name+", "+state)
		}
		look("welcome")
		p.drop(map[string][]byte{"sound.pdf": ticketPDF(t, false)})
		p.until(`document.body?.dataset.state === "laying"`)
		look("press and stock")
		p.eval(`location.hash = ""; dispatchEvent(new PopStateEvent("popstate"))`, nil)
		p.click(`#welcome [data-key="faulty"]`)
		p.until(checked)
		p.until(`document.querySelector(".layers .layer-tint")`)
		look("looking")
		p.click(`[data-key="way-found"]`)
		p.click(`[data-key="finding-2"]`)
		p.until(`document.querySelector(".finding.open")`)
		look("found")
		p.click(`[data-key="way-change"]`)
		look("changing")
		p.click(`[data-key="way-take"]`)
		look("taking along")
		p.click(`[data-key="on"]`)
		p.until(`document.querySelector("dialog[open]")`)
		look("another press")
		p.eval(`for (const d of document.querySelectorAll("dialog")) d.remove()`, nil)
	}
}

// From the smallest telephone to the largest screen nothing reaches beyond the window.
func TestPage_fits_every_window(t *testing.T) {
	address := servePage(t)
	for _, w := range [][2]int{{320, 568}, {768, 1024}, {1280, 800}, {3840, 2160}} {
		p := openPage(t, address, w[0], w[1], false)
		name := fmt.Sprintf("%d wide", w[0])
		overflow(p, name+", welcome")
		p.click(`#welcome [data-key="faulty"]`)
		p.until(checked)
		for _, s := range []string{"look", "found", "change", "take"} {
			p.click(`[data-key="way-` + s + `"]`)
			overflow(p, name+", "+s)
		}
	}
}
