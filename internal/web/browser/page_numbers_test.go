package browser

import "testing"

// Findings that come while their list is open have their numbers beside their places, not one on the other.
func TestPage_numbers_stand_apart_when_findings_come(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="faulty"]`)
	p.click(`[data-key="way-found"]`)
	p.until(checked)
	p.until(`document.querySelector("#tags .tag")`)
	var lie struct{ Tags, Places, Unplaced int }
	p.eval(`const all = [...document.querySelectorAll("#tags .tag")]
		return { Tags: all.length, Places: new Set(all.map(b => { const r = b.getBoundingClientRect(); return r.left + " " + r.top })).size,
			Unplaced: all.filter(b => b.style.left === "").length }`, &lie)
	if lie.Tags < 2 || lie.Places != lie.Tags || lie.Unplaced > 0 {
		t.Errorf("%d numbers lie at %d places, %d of them nowhere", lie.Tags, lie.Places, lie.Unplaced)
	}
	// Another list and back: they are made anew and lie where they did.
	p.click(`[data-key="way-change"]`)
	p.until(`!document.querySelector("#tags .tag")`)
	p.click(`[data-key="way-found"]`)
	p.until(`document.querySelector("#tags .tag")`)
	var unplaced int
	p.eval(`return [...document.querySelectorAll("#tags .tag")].filter(b => b.style.left === "").length`, &unplaced)
	if unplaced > 0 {
		t.Errorf("%d numbers lie nowhere", unplaced)
	}
}

// What goes wrong in a window is told in that window: what lies under it can neither be seen nor heard.
func TestPage_tells_in_the_window_what_went_wrong_there(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="sound"]`)
	p.until(`document.body?.dataset.state === "bench"`)
	p.click(`[data-key="on"]`)
	p.click(`dialog[open] .stocks .card > button`)
	p.until(`document.querySelectorAll("dialog[open]").length === 2`)
	p.eval(`const b = [...document.querySelectorAll("dialog.draft button")].find(b => b.textContent === "Throw it away")
		globalThis.fetch = async () => new Response('{"error":{"what":"it cannot be","remedy":"leave it"}}', { status: 409 })
		b.click()`, nil)
	p.until(`document.querySelector("dialog.draft[open] #notes .slip")`)
	p.eval(`document.querySelector("dialog.draft").close()`, nil)
	p.until(`document.querySelector("body > #notes .slip")`)
}

// A password of any letters reaches the server as docs/api.md says.
func TestPage_sends_any_password(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.eval(`globalThis.sent = ""
		globalThis.XMLHttpRequest = class {
			upload = {}
			open() {}
			abort() {}
			setRequestHeader(k, v) { if (new Headers([[k, v]]).has("Artwork-Password")) sent = v }
			send() { setTimeout(() => { this.status = 422; this.response = { error: { what: "it asks for a password", code: "password" } }; this.onload() }) }
		}`, nil)
	p.drop(map[string][]byte{"locked.pdf": []byte("%PDF-1.7")})
	p.until(`document.querySelector("dialog[open] input[type=password]")`)
	p.eval(`document.querySelector("dialog[open] input[type=password]").value = "50 % für 3 €"
		document.querySelector("dialog[open] form").requestSubmit()`, nil)
	p.until(`decodeURIComponent(sent) === "50 % für 3 €" || document.querySelector("#notes .slip")`)
	if got := p.text("#notes"); got != "" {
		t.Errorf("the page says %s", got)
	}
}

// Of more findings than find room neighbours share a number that leads nearer, until each has its own again.
func TestPage_crowded_numbers_share_a_place(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	const many = 120
	p.eval(`const get = fetch
		globalThis.fetch = async (...of) => {
			const r = await get(...of)
			if (!String(of[0]).startsWith("/api/jobs/")) return r
			const j = await r.json()
			if (j.result?.findings) j.result.findings = [...Array(`+number(many)+`)].map((_, i) => ({ id: "x", severity: "warning", class: "artwork", what: "Thing " + i,
				place: { page: 1, box: { x: 2 + i * 1.7, y: 40 + i % 7, w: 1, h: 1 } } }))
			return new Response(JSON.stringify(j), { status: r.status })
		}`, nil)
	p.click(`#welcome [data-key="sound"]`)
	p.until(checked)
	// lie tells how many findings the numbers stand for, how many numbers share places, and how many lie one on the other.
	lie := func() (got struct{ Stand, Shared, Overlap int }) {
		t.Helper()
		p.eval(`for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame)
			const all = [...document.querySelectorAll("#tags .tag:not([hidden])")], at = all.map(b => b.getBoundingClientRect())
			let over = 0
			for (const [i, a] of at.entries()) for (const b of at.slice(i + 1))
				if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1) over++
			return { Stand: all.reduce((n, b) => n + (b.matches(".bundle") ? Number(b.textContent) : 1), 0), Shared: all.filter(b => b.matches(".bundle")).length, Overlap: over }`, &got)
		return got
	}
	p.until(`document.querySelector("#tags .bundle")`)
	if got := lie(); got.Stand != many || got.Shared == 0 || got.Overlap != 0 {
		t.Errorf("of %d findings stand there %+v", many, got)
	}
	p.eval(`[...document.querySelectorAll("#tags .bundle")][8].click()`, nil)
	p.until(`location.hash.includes("view=")`)
	p.until(`[...document.querySelectorAll("#tags .tag:not(.bundle):not([hidden])")].length >= 3`)
	if got := lie(); got.Stand != many || got.Overlap != 0 {
		t.Errorf("nearer, of %d findings stand there %+v", many, got)
	}
}
