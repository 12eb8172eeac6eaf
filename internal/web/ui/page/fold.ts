// The fold line: left of it the sheet as it was, right of it as it is. It is dragged, or moved by arrow keys.

import * as st from "../state"
import { byId, fill, h } from "./dom"
import { effect } from "./signal"

export function startFold() {
  const line = byId("foldline")
  const sheet = byId("sheet")
  fill(line, h("span", { class: "side-word before" }, "before"), h("span", { class: "grip" }), h("span", { class: "side-word after" }, "after"))
  effect(() => {
    const f = st.fold()
    const on = f > 0 && st.otherVersion() !== null
    line.hidden = !on
    line.style.setProperty("left", `${(f * 100).toFixed(3)}%`)
    line.setAttribute("aria-valuenow", String(Math.round(f * 100)))
    line.setAttribute("aria-valuetext", `${Math.round(f * 100)} percent of the view show ${st.otherVersion()?.title ?? "the sheet before"}`)
  })
  const move = (x: number) => {
    const r = sheet.getBoundingClientRect()
    st.fold.set(Math.min(0.999, Math.max(0.001, (x - r.left) / r.width)))
  }
  line.addEventListener("pointerdown", e => {
    line.setPointerCapture(e.pointerId)
    e.preventDefault()
    line.focus()
  })
  line.addEventListener("pointermove", e => { if (line.hasPointerCapture(e.pointerId)) move(e.clientX) })
  line.addEventListener("keydown", e => {
    const by: Record<string, number> = { ArrowLeft: -0.02, ArrowRight: 0.02, PageDown: -0.1, PageUp: 0.1 }
    const d = by[e.key]
    if (d !== undefined) st.fold.set(Math.min(0.999, Math.max(0.001, st.fold.peek() + d)))
    else if (e.key === "Home") st.fold.set(0.001)
    else if (e.key === "End") st.fold.set(0.999)
    else return
    e.preventDefault()
  })
}
