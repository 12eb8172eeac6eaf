// The line at the top: which file, which page, what it is printed on, and what is being done.

import * as api from "../api"
import * as st from "../state"
import { byId, button, fill, h } from "./dom"
import { openLaying } from "./laying"
import { attempt } from "./say"
import { effect } from "./signal"
import { jobWords } from "./words"
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
  effect(() => {
    const d = st.doc()
    const running = d ? runningOf(d.id) : []
    fill(byId("work"), running.map(bar))
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

function bar(j: api.Job): HTMLElement {
  const words = jobWords(j.kind, j.what)
  const p = h("progress", { max: Math.max(1, j.total), "aria-label": words })
  if (j.total > 0) p.value = j.done
  return h("div", { class: "job" }, h("span", null, j.total > 1 ? `${words} ${Math.min(j.done + 1, j.total)} of ${j.total}` : words), p,
    button("Stop", () => attempt(() => api.stopJob(j.id)), { class: "quiet", "data-key": `stop-${j.id}`, "aria-label": `Stop: ${words}` }))
}
