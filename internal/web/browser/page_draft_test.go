package browser

import (
	"strings"
	"testing"
)

// A copy of a press is changed by its form and as text: the form sets its places in the text, and a slip is told with its line.
func TestPage_changes_a_copy_of_a_press(t *testing.T) {
	p := openPage(t, servePage(t), 1280, 800, false)
	p.click(`#welcome [data-key="sound"]`)
	p.until(checked)
	p.click(`[data-key="on"]`)
	p.click(`dialog [aria-label="Change a copy of Two-set press"]`)
	p.until(`document.querySelector("dialog.draft .field input")`)
	p.eval(`globalThis.fieldOf = words => [...document.querySelectorAll("dialog.draft .field")].find(f => f.textContent === words).querySelector("input")
		globalThis.write = (el, text) => { el.value = text; el.dispatchEvent(new Event("input", { bubbles: true })) }
		globalThis.yaml = () => document.querySelector("dialog.draft textarea")
		write(fieldOf("In one pass"), "180%")
		document.querySelector('[data-key="down-Gold"]').click()`, nil)
	p.until(`document.querySelector("dialog.draft textarea").value.includes("per_pass: 180%")`)
	var text string
	p.eval(`return yaml().value`, &text)
	for _, want := range []string{"pile: {per_pass: 180%, sum: 400%, area: 1mm2}", "stations: [White, Gold, Silver, Clear]", "stations: [Yellow, Magenta, Cyan, Black]",
		"# The sum of tints in one place, averaged: toner beyond it does not fuse."} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q", want)
		}
	}
	p.until(`document.querySelector("dialog.draft .fault").textContent === ""`)
	p.eval(`write(yaml(), yaml().value.replace("resolution:", "resolutoin:"))`, nil)
	p.until(`/^Line \d+, column 1: /.test(document.querySelector("dialog.draft .fault").textContent)`)
	p.complaints() // the browser tells of the 422 that was asked for
}
