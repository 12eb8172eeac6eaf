// The layers edge-on: the last laid on top, the stock at the bottom, each as thick as it lies at the probe.

import type { Laid } from "../api"
import * as st from "../state"
import { amounts } from "./amounts"
import { button, fill, h, short } from "./dom"
import { kindClass } from "./pictures"
import { effect } from "./signal"

export function layers(): HTMLElement {
  const list = h("ul", { class: "layers", "aria-label": "Layers, the last laid first" })
  const all = h("div", { class: "row" })
  const trouble = h("p", { class: "fault" })
  effect(() => { trouble.textContent = st.sheet()?.pass_error ?? "" })
  effect(() => {
    const page = st.sheet()
    const a = amounts()
    const off = new Set(st.off())
    const k = st.stockOf(st.doc())
    if (!page) { fill(list); return }
    const laid = [...page.laydown].reverse()
    const thick = (l: Laid) => Math.max(0, a?.stack?.find(s => s.name === l.name)?.um ?? (a ? l.thickness_um * (a.tints[l.name] ?? 0) / 100 : 0))
    const rows: HTMLElement[] = []
    laid.forEach((l, i) => {
      if (page.laydown.some(x => x.pass !== l.pass) && laid[i - 1]?.pass !== l.pass)
        rows.push(h("li", { class: "pass" }, `Pass ${l.pass}`))
      rows.push(layer(l, a ? a.tints[l.name] ?? 0 : null, thick(l), off, laid))
    })
    rows.push(h("li", { class: "layer stock" },
      h("span", { class: "slab-edge", css: { "background-color": k?.front ?? "transparent", height: "10px" } }),
      h("span", { class: "layer-name" }, k?.title ?? "The stock"), h("span", { class: "layer-tint" }, "stock")))
    fill(list, rows)
    fill(all, off.size > 0 && button("Lay all of them again", () => st.off.set([]), { "data-key": "all-on" }))
  })
  return h("section", { class: "pile" }, h("h2", null, "Layer by layer"), trouble, list, all)
}

function layer(l: Laid, tint: number | null, um: number, off: ReadonlySet<string>, laid: readonly Laid[]): HTMLElement {
  const others = laid.map(x => x.name).filter(n => n !== l.name)
  const alone = !off.has(l.name) && others.length > 0 && others.every(n => off.has(n))
  const tick = h("input", { type: "checkbox", checked: !off.has(l.name), "data-key": `on-${l.name}`, onchange: () =>
    st.off.set(tick.checked ? st.off.peek().filter(n => n !== l.name) : [...st.off.peek(), l.name]) })
  // A full layer of white is some 10 µm: drawn at most 16 px thick.
  const high = um > 0 ? Math.max(1.5, Math.min(16, um * 2.2)) : 0
  return h("li", { class: `layer${off.has(l.name) ? " left-out" : ""}` },
    h("span", { class: `slab-edge ${kindClass(l.kind)}${high > 0 ? "" : " none"}`, css: { "background-color": l.on_white, height: `${high.toFixed(1)}px` } }),
    h("label", { class: "layer-name" }, tick, h("span", null, l.name)),
    h("span", { class: "layer-tint" }, tint === null ? "" : `${short(tint, 0)} %`),
    button(alone ? "With all" : "Alone", () => st.off.set(alone ? [] : others),
      { class: "quiet small", "data-key": `alone-${l.name}`, "aria-label": alone ? "Show all layers" : `Show ${l.name} alone` }))
}
