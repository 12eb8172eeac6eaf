// What lies at the probe, and the cut edge along its row.

import * as api from "../api"
import * as st from "../state"
import { rowOf, type CutEdge } from "../viewer/cutedge"
import type { Viewer } from "../viewer/viewer"
import { frame } from "./bench"
import { byId, fill, h, num, short } from "./dom"
import { complain, speak } from "./say"
import { debounce, effect, signal, untracked } from "./signal"

/** The exact amounts at the probe, once the server told. */
export const amounts = signal<api.Amounts | null>(null)
/** A section of the row, as wide as what is seen. */
const row = signal<api.Row | null>(null)

export function startAmounts(v: Viewer, cut: CutEdge) {
  let asked = new AbortController()
  const ask = debounce(70, (id: string, n: number, rev: string, p: api.Point, off: string[]) => {
    asked.abort()
    const mine = asked = new AbortController()
    api.at(id, n, rev, p, off, mine.signal).then(a => {
      amounts.set(a)
      speak(spoken(a))
    }, quietly)
  })
  effect(() => {
    const p = st.probe(), rev = st.sheet()?.rev, off = st.off()
    if (!p || !rev) {
      ask.stop()
      asked.abort()
      amounts.set(null)
      return
    }
    ask(untracked(st.docId), untracked(st.pageNo), rev, p, [...off])
  })

  let askedRow = new AbortController()
  const askRow = debounce(60, (id: string, n: number, rev: string, y: number, x0: number, x1: number, count: number) => {
    askedRow.abort()
    const mine = askedRow = new AbortController()
    api.row(id, n, rev, y, x0, x1, count, mine.signal).then(r => row.set(r), quietly)
  })
  const forgetRow = () => {
    askRow.stop()
    askedRow.abort()
    last = ""
    row.set(null)
  }
  let last = ""
  effect(() => {
    frame()
    const p = st.probe(), page = st.sheet()
    if (!p || !page) {
      if (!page) forgetRow()
      return
    }
    const want = rowOf(v, page.region, p.y)
    const key = want ? [page.rev, page.number, want.y, want.x0.toFixed(3), want.x1.toFixed(3), want.n].join() : ""
    if (key === last) return
    last = key
    if (want) askRow(untracked(st.docId), untracked(st.pageNo), page.rev, want.y, want.x0, want.x1, want.n)
    else forgetRow()
  })
  effect(() => {
    const page = st.sheet()
    // Seen from the side a toner does not take the colour of the stock.
    if (page) cut.lay(page.laydown.map(l => ({ ...l, colour: l.on_white })), { colour: page.stock.colour, name: page.stock.title })
  })
  effect(() => {
    frame()
    st.sheet()
    cut.draw(row(), v, st.probe())
  })

  const core = byId("core")
  effect(() => {
    const p = st.probe(), a = amounts()
    fill(core, p && h("p", { class: "where" }, h("span", null, "At "), h("strong", { id: "where" }, `${num(p.x)} mm, ${num(p.y)} mm`)),
      a && h("p", { class: "sum" }, h("span", { class: "chip", css: { background: a.srgb } }), labWords(a), h("span", { class: "pile-sum" }, `${short(a.pile, 0)} % in all`)))
  })
}

export function labWords(a: api.Amounts): string {
  return `Lab ${a.lab.map(x => short(x, 1)).join(" ")}`
}

function spoken(a: api.Amounts): string {
  const on = Object.entries(a.tints).filter(([, t]) => t > 0).map(([n, t]) => `${n} ${short(t, 0)} percent`)
  return `${num(a.x)}, ${num(a.y)} millimetres: ${on.length ? on.join(", ") : "bare stock"}.`
}

function quietly(e: unknown) {
  if (e instanceof DOMException && e.name === "AbortError") return
  if (e instanceof api.ApiError && e.status === 410) return // another rev is on its way
  complain(e)
}
