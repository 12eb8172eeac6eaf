// Changing by hand: objects to another toner, a white under something, a clear over something.

import * as st from "../state"
import { assignPart } from "./assign"
import { onPointed } from "./bench"
import { h } from "./dom"
import { coverPart } from "./cover"
import { proof } from "./proof"
import { derived, effect } from "./signal"

export function changeSection(): HTMLElement {
  const parts = [assignPart(), coverPart("underlay"), coverPart("clear")]
  const el = h("div", { class: "part change" }, h("h2", null, "Change"),
    h("p", { class: "aside" }, "All of it is only looked at until you keep it; then it is proved that nothing else changed, and it can be taken back."),
    parts.map(p => p.el), proof(false))
  // One part is open at a time, and what is pointed at is its.
  onPointed(p => parts.find(q => q.el.open)?.point(p))
  for (const p of parts) p.el.addEventListener("toggle", () => {
    if (p.el.open) for (const o of parts) if (o !== p) o.el.open = false
    if (p.el.open) st.trial.set(null)
    else p.reset()
  })
  // Objects of another state or page are others.
  const shown = derived(() => `${st.doc()?.rev ?? ""}/${st.pageNo()}`)
  effect(() => {
    shown()
    for (const p of parts) p.reset()
  })
  return el
}
