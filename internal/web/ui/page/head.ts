// The line at the top: which file, which page, what it is printed on, and what is being done.

import * as api from "../api"
import * as st from "../state"
import { byId, button, fill, h } from "./dom"
import { openLaying } from "./laying"
import { progressLine } from "./progress"
import { derived, effect, untracked } from "./signal"
import { runningOf } from "./work"

export function startHead() {
  const head = byId("head")
  effect(() => {
    const d = st.doc()
    if (!d) {
      fill(head, h("p", { class: "maker" }, "laydown"))
      return
    }
    fill(head,
      button("All files", st.leave, { class: "quiet", "data-key": "all" }),
      h("h1", { id: "name" }, d.name),
      pages(d),
      st.ready() && button([laidOn(d)], openLaying, { class: "quiet on", "data-key": "on", "aria-haspopup": "dialog" }))
  })
  const running = derived(() => {
    const d = st.doc()
    return d ? runningOf(d.id).map(j => j.id).join(" ") : ""
  })
  effect(() => {
    const ids = running().split(" ").filter(id => id)
    // More than one line would move the sheet; the others are told where they were begun.
    untracked(() => fill(byId("work"), ids.slice(0, 1).map(id => progressLine(id, "stop")), ids.length > 1 && h("p", { class: "aside" }, `and ${ids.length - 1} more`)))
  })
}

function laidOn(d: api.Artwork): HTMLElement {
  const p = st.pressOf(st.doc())
  const k = st.stockOf(st.doc())
  return h("span", { class: "laid-on" }, h("span", { class: "chip", css: { background: k?.front ?? "transparent" } }),
    `${k?.title ?? d.setup.stock}, ${p?.title ?? d.setup.press}`)
}

/** Pages as small pictures to turn to. */
function pages(d: api.Artwork): HTMLElement {
  const most = 24 // beyond it a field takes the number
  if (d.pages > most) {
    const field = h("input", { type: "number", min: 1, max: d.pages, value: String(st.pageNo()), "data-key": "page", id: "page-field",
      onchange: () => { const n = Math.round(field.valueAsNumber); if (n >= 1 && n <= d.pages) st.turnTo(n) } })
    return h("div", { class: "pages" }, h("label", { for: "page-field" }, "Page"), field, h("span", null, `of ${d.pages}`))
  }
  const all: HTMLElement[] = []
  for (let n = 1; n <= d.pages; n++)
    all.push(button([st.laid(d) ? h("img", { src: api.thumbURL(d.id, n, d.rev), alt: "", loading: "lazy" }) : null, h("span", null, `Page ${n}`)],
      () => st.turnTo(n), { class: "page", "aria-current": n === st.pageNo() ? "page" : undefined, "data-key": `page-${n}` }))
  return h("nav", { class: "pages", "aria-label": "Pages" }, all)
}
