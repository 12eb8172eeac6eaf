// What lies at the probe, and the cut edge along its row.

import * as api from "../api"
import * as st from "../state"
import { rowsOf, type CutEdge, type RowRequest } from "../viewer/cutedge"
import type { Viewer } from "../viewer/viewer"
import { before, frame } from "./bench"
import { byId, fill, h, num, short } from "./dom"
import { complain, speak } from "./say"
import { debounce, effect, signal, untracked } from "./signal"

/** The exact amounts at the probe, once the server told. */
export const amounts = signal<api.Amounts | null>(null)
/** The state of the sheet that shows at the probe, left of the fold line the one before, and whether it is that. */
const lies = signal<api.Page | null>(null)
const beforeFold = signal(false)
/** The rev that the amounts are of. */
export const amountsRev = () => lies.peek()?.rev ?? ""
/** The row in sections, one at each side of the fold line, as wide as what is seen. */
const rows = signal<readonly api.Row[]>([])

export function startAmounts(v: Viewer, cut: CutEdge) {
  let asked = new AbortController()
  const ask = debounce(70, (id: string, n: number, rev: string, p: api.Point, off: string[]) => {
    asked.abort()
    const mine = asked = new AbortController()
    api.at(id, n, rev, p, off, mine.signal).then(a => {
      amounts.set(a)
      speak((beforeFold.peek() ? "Before: " : "") + spoken(a))
    }, quietly)
  })
  effect(() => {
    frame()
    const p = st.probe(), now = st.sheet(), was = before(), fold = v.foldAt
    const left = now !== null && was !== null && fold !== null && p !== null && p.x < fold
    beforeFold.set(left)
    lies.set(left ? was : now)
  })
  effect(() => {
    const p = st.probe(), rev = lies()?.rev, off = st.off()
    if (!p || !rev) {
      ask.stop()
      asked.abort()
      amounts.set(null)
      return
    }
    ask(untracked(st.docId), untracked(st.pageNo), rev, p, [...off])
  })

  let askedRow = new AbortController()
  const askRow = debounce(60, (id: string, n: number, wants: [string, RowRequest][]) => {
    askedRow.abort()
    const mine = askedRow = new AbortController()
    Promise.all(wants.map(([rev, w]) => api.row(id, n, rev, w.y, w.x0, w.x1, w.n, mine.signal))).then(r => rows.set(r), quietly)
  })
  const forgetRow = () => {
    askRow.stop()
    askedRow.abort()
    last = ""
    rows.set([])
  }
  let last = ""
  effect(() => {
    frame()
    const p = st.probe(), page = st.sheet()
    if (!p || !page) {
      if (!page) forgetRow()
      return
    }
    const wants = rowsOf(v, page, before(), p.y)
    const key = wants.map(([rev, w]) => [rev, page.number, w.y, w.x0.toFixed(3), w.x1.toFixed(3), w.n].join()).join(" ")
    if (key === last) return
    last = key
    if (wants.length > 0) askRow(untracked(st.docId), untracked(st.pageNo), wants)
    else forgetRow()
  })
  effect(() => {
    const page = st.sheet(), was = before()
    // Seen from the side a toner does not take the colour of the stock.
    if (page) cut.lay([...was?.laydown ?? [], ...page.laydown].map(l => ({ ...l, colour: l.on_white })), { colour: page.stock.colour, name: page.stock.title })
  })
  effect(() => {
    frame()
    st.sheet()
    cut.draw(rows(), v, st.probe())
  })

  const core = byId("core")
  effect(() => {
    const p = st.probe(), a = amounts()
    fill(core, p && h("p", { class: "where" }, h("span", null, "At "), h("strong", { id: "where" }, `${num(p.x)} mm, ${num(p.y)} mm`), beforeFold() && h("span", null, ", before")),
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
