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
