// Looking: the lamp, the layers edge-on, and what put them there.

import * as api from "../api"
import * as st from "../state"
import { amounts, amountsRev } from "./amounts"
import { cautionList } from "./cautions"
import { fill, h, short } from "./dom"
import { lamp } from "./lamp"
import { attempt } from "./say"
import { effect, signal } from "./signal"
import { layers } from "./layers"
import { kindWord } from "./words"

export function lookSection(): HTMLElement {
  const why = h("section", { class: "why" })
  const shown = signal(-1)
  const show = (item: number) => attempt(async () => {
    if (shown.peek() === item) { shown.set(-1); st.lit.set([]); return }
    const a = await api.alike(st.docId.peek(), st.pageNo.peek(), amountsRev(), item)
    st.lit.set(a.boxes.filter(b => b.item === item).map(b => b.box))
    shown.set(item)
  })
  effect(() => { if (st.lit().length === 0) shown.set(-1) })
  const mind = h("section", { class: "cautions" })
  effect(() => {
    const a = amounts()
    const list = a?.why ?? []
    fill(why, h("h2", null, "What put it there"),
      a === null ? h("p", { class: "aside" }, "Point at the sheet.")
        : list.length === 0 ? h("p", { class: "aside" }, "Nothing: here lies the bare stock.")
          : h("ol", null, list.map((w, i) => h("li", null, h("button", {
            type: "button", class: "line", "data-key": `why-${i}`, "aria-pressed": String(shown() === w.item), onclick: () => show(w.item),
          }, h("strong", null, `${short(w.item, 0)}. ${kindWord(w.kind)}`), h("span", null, w.does), w.layer ? h("span", { class: "aside" }, `layer “${w.layer}”`) : null)))))
  })
  effect(() => {
    fill(mind, cautionList(st.sheet()?.cautions ?? []))
  })
  const notes = h("div")
  effect(() => {
    const sure = (amounts()?.knowledge ?? []).map(k => `${k.toner}: ${k.words}`)
    const list = [...st.sheet()?.notes ?? [], ...sure]
    fill(notes, list.length > 0 && h("details", { class: "notes-of-look" }, h("summary", null, "How true are these colours?"), h("ul", null, list.map(n => h("li", null, n)))))
  })
  return h("div", { class: "part look" }, lamp(), layers(), why, notes, mind)
}
