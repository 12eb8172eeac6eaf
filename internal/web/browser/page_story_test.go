package browser

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"laydown/internal/demo"
	"laydown/internal/finding"
)

// A designer drops the faulty ticket and its job, looks at a fault, mends it, sees before and after, mends the rest and takes the file along.
func TestPage_mends_a_dropped_file(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.drop(map[string][]byte{"ticket-faulty.pdf": ticketPDF(t, true), "job.yaml": []byte(demo.JobYAML())})
	p.until(checked)
	p.until(`document.querySelector("#tags .tag.error")`)
	p.until(`document.querySelector("#where")?.textContent.includes("mm")`)

	// The name with a small letter is chosen by its number on the sheet.
	p.eval(`[...document.querySelectorAll("#tags .tag")].find(b => b.getAttribute("aria-label").includes("white")).click()`, nil)
	p.until(`document.querySelector(".finding.open .do")`)
	if got := p.text(".finding.open .do"); !strings.Contains(got, "Rename “white” to “White”") {
		t.Fatalf("the remedy offered reads %q", got)
	}
	p.click(".finding.open .do")
	p.until(`document.querySelector("#download")`)
	p.until(`!document.querySelector("#foldline").hidden`)
	if got := p.text(".numbers"); !strings.Contains(got, "White") || !strings.Contains(got, "The same in every pixel: ") {
		t.Errorf("the proof reads %q", got)
	}

	// The fold line is moved by keys, and the address tells where it is.
	p.until(`location.hash.includes("fold=") && location.hash.includes("version=2")`)
	p.eval(`globalThis.foldOf = () => Number(new URLSearchParams(location.hash.split("?")[1]).get("fold"))
		globalThis.foldBefore = foldOf()
		document.querySelector("#foldline").focus()`, nil)
	p.do(chromedp.KeyEvent(kb.ArrowRight))
	p.until(`foldOf() > foldBefore`)
	// What is told of the probe, and the cut edge, are of the state that shows there.
	p.do(chromedp.KeyEvent(kb.Home))
	p.until(`!document.querySelector("#core .where").textContent.includes("before")`)
	p.eval(`const a = await (await fetch("/api/artworks/" + location.hash.slice(1).split("/")[0])).json()
		globalThis.was = encodeURIComponent(a.versions[0].rev)
		globalThis.askedOf = (what, rev) => performance.getEntriesByType("resource").some(e => e.name.includes("/" + what + "?") && e.name.includes("rev=" + rev))
		performance.clearResourceTimings()
		document.querySelector("#foldline").focus()`, nil)
	p.do(chromedp.KeyEvent(kb.End))
	p.until(`document.querySelector("#core .where").textContent.endsWith(", before") && askedOf("at", was) && askedOf("row", was)`)

	p.click(`[data-key="all-safe"]`)
	p.until(`document.querySelector('[data-key="version-3"]')`)
	// What is left are choices. They are asked for together, as each by itself would be painted and proved alone.
	p.eval(`const at = "/api/artworks/" + location.hash.slice(1).split("/")[0]
		await fetch(at + "/mend", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ title: "the choices", do: [
			"add-bleed:edges=right", "merge-colourants:from=Moon Dust,to=White", "knock-out:toner=White,over=Gold", "embed-needed", "lighten-pile:limit=260%",
			"to-toner:toner=Gold,colour=stand-in", "clip-tints:toner=Silver,to=advised"], all_safe: true }) })`, nil)
	p.until(`document.querySelector('[data-key="version-4"]')`)
	p.until(`document.querySelector(".count") && document.querySelector(".found-head h2").textContent.startsWith("Nothing")`)
	if got := p.text(".found-head h2"); !strings.HasPrefix(got, "Nothing will print wrong") {
		t.Errorf("after all mends the page says %q", got)
	}
	o := checkTicket(t, p.fetched("#download"))
	for _, f := range o.Findings {
		if f.Severity >= finding.Warning {
			t.Errorf("the file taken along still has: %s", f.What)
		}
	}
}

// Taking back and bringing again: the version and its findings change, the file that came in stays.
func TestPage_takes_a_mend_back(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="faulty"]`)
	p.until(checked)
	before := p.text(".count")
	p.click(`[data-key="way-found"]`)
	p.click(`[data-key="all-safe"]`)
	p.until(`document.querySelector(".numbers") && document.querySelector(".count")`)
	after := p.text(".count")
	if before == after {
		t.Errorf("%s things found before and after", before)
	}
	p.click(`[data-key="back"]`)
	p.until(`document.querySelector(".count")?.textContent === "` + before + `"`)
	p.click(`[data-key="again"]`)
	p.until(`document.querySelector(".count")?.textContent === "` + after + `"`)
}

// The address brings page, probe, view, lamp, layers left out and the finding chosen back in another tab.
func TestPage_address_brings_the_state_back(t *testing.T) {
	address := servePage(t)
	p := openPage(t, address, 1280, 800, false)
	p.click(`#welcome [data-key="faulty"]`)
	p.until(checked)
	p.until(addressed)
	var id string
	p.eval(`return location.hash.slice(1).split("/")[0]`, &id)
	// A name with a comma stays one name.
	want := "#" + id + "/2?see=found&finding=16&at=21.5,40.25&view=60,50,8&lamp=66,-40,12,-7&without=Silver,Clear,A%252CB"
	q := open(t, address+"/?key="+pageToken, 1280, 800, 1)
	q.until(`document.body?.dataset.state`)
	q.do(chromedp.Navigate(address + "/" + want))
	q.eval(`location.reload()`, nil)
	q.until(checked)
	q.until(`document.querySelector(".finding.open")`)
	q.until(`document.querySelector("#where")?.textContent === "21.5 mm, 40.3 mm"`)
	var got struct {
		Page, Hash string
		Off        []string
		Tilt       string
	}
	q.until(`document.querySelector("[data-key='on-Silver']")`)
	q.eval(`return { Page: document.querySelector(".page[aria-current]").innerText.trim(), Hash: location.hash,
		Off: [...document.querySelectorAll(".layer input:not(:checked)")].map(i => i.dataset.key), Tilt: document.querySelector("#tilt-top").value }`, &got)
	if got.Page != "Page 2" || got.Hash != want || strings.Join(got.Off, " ") != "on-Clear on-Silver" && strings.Join(got.Off, " ") != "on-Silver on-Clear" || got.Tilt != "12" {
		t.Errorf("brought back: %+v, wanted %s", got, want)
	}
}

// Without a pointer: the example is opened, the probe moved, the sheet neared, a finding chosen and mended, by keys alone.
func TestPage_works_by_keys_alone(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	key := func(keys ...string) {
		t.Helper()
		for _, k := range keys {
			p.do(chromedp.KeyEvent(k))
		}
	}
	// tabTo goes on by the tab key until what is wanted has the focus.
	tabTo := func(selector string) {
		t.Helper()
		for range 120 {
			key(kb.Tab)
			var there bool
			p.eval(`return document.activeElement?.matches(`+quote(selector)+`) ?? false`, &there)
			if there {
				var seen bool
				p.eval(`return getComputedStyle(document.activeElement).outlineStyle !== "none" || document.activeElement.id === "sheet"`, &seen)
				if !seen {
					t.Errorf("%s has the focus and nothing shows it", selector)
				}
				return
			}
		}
		t.Fatalf("the tab key does not lead to %s", selector)
	}
	tabTo(`[data-key="faulty"]`)
	key(kb.Enter)
	p.until(checked)
	tabTo("#sheet")
	at := p.text("#where")
	key(kb.ArrowRight, kb.ArrowRight, kb.ArrowDown)
	p.until(`document.querySelector("#where").textContent !== "` + at + `"`)
	key("+", "+")
	p.until(`location.hash.includes("view=")`)
	key("0")
	p.until(`!location.hash.includes("view=")`)
	p.until(`/millimetres/.test(document.querySelector("#spoken").textContent)`)
	key("?")
	p.until(`document.querySelector("dialog.keys[open]")`)
	key(kb.Escape)
	p.until(`!document.querySelector("dialog.keys")`)
	p.until(`document.activeElement.id === "sheet"`)
	key("n", "n", "n")
	p.until(`document.querySelector("#finding-2.open .do")`)
	tabTo(".finding.open .do")
	key(kb.Enter)
	p.until(`document.querySelector("#download")`)
}
