// What the sheet is printed on and by: press, stock, and the job if there is one.

import * as api from "../api"
import * as st from "../state"
import { cautionList, lastWord } from "./cautions"
import { button, fill, h, newId, selectLine } from "./dom"
import { copyAndEdit, editDraft } from "./drafts"
import { pressPicture, setWords, stockPicture, stockWords } from "./pictures"
import { dropTrial } from "./mending"
import { attempt } from "./say"
import { derived, effect, signal, untracked } from "./signal"

/** In the page while an artwork has no press and stock yet. */
export function startLaying(el: HTMLElement) {
  const asked = derived(() => st.ready() ? "" : st.doc()?.id ?? "")
  effect(() => {
    const now = asked(), d = untracked(st.doc)
    untracked(() => now && d ? fill(el, h("h2", { class: "big" }, "What will it be printed on?"), form(d, () => {})) : fill(el))
  })
}

/** As a window over the bench, later on. */
export function openLaying() {
  const d = st.doc()
  if (!d) return
  const id = newId("laying")
  const close = () => dlg.close()
  const dlg = h("dialog", { class: "wide", "aria-labelledby": id, onclose: () => dlg.remove() },
    h("div", { class: "dialog-head" }, h("h2", { id }, "What it is printed on"), button("Close", close, { class: "quiet" })),
    form(d, close))
  document.body.append(dlg)
  dlg.showModal()
}

function form(d: api.Artwork, done: () => void): HTMLElement {
  const press = signal(d.setup.press || (d.setup.uses?.press ?? ""))
  const stock = signal(d.setup.stock || (d.setup.uses?.stock ?? ""))
  const job = h("textarea", { rows: 9, spellcheck: "false", value: d.setup.job, class: "code", "aria-describedby": "job-help" })
  const fault = h("p", { class: "fault", role: "alert" })
  const pressList = h("fieldset", { class: "choice presses" }), stockList = h("fieldset", { class: "choice stocks" })
  const pressGroup = newId("press"), stockGroup = newId("stock")
  effect(() => fill(pressList, h("legend", null, "The press"), st.presses().map(p => card(pressGroup, p.draft ?? p.name, press,
    pressPicture(p), p.title, setWords(p), p.draft ? undefined : () => edit("press", p.name, press)))))
  effect(() => fill(stockList, h("legend", null, "The stock"), st.stocks().map(k => card(stockGroup, k.draft ?? k.name, stock,
    stockPicture(k), k.title, stockWords(k), k.draft ? undefined : () => edit("stock", k.name, stock)))))
  const cautions = h("div", { class: "cautions" })
  effect(() => {
    const p = st.presses().find(p => (p.draft ?? p.name) === press())
    const k = st.stocks().find(k => (k.draft ?? k.name) === stock())
    const list = [...k?.cautions ?? [], ...p?.cautions ?? []]
    fill(cautions, cautionList(list.length > 0 ? [...list, lastWord] : []))
  })
  const go = button("Lay it on the bench", () => attempt(async () => {
    fault.textContent = ""
    dropTrial() // it ends with the setup it is looked at with
    try {
      st.take(await api.setSetup(d.id, { press: press.peek(), stock: stock.peek(), job: job.value }))
      st.chosen.set(-1) // its number means another finding now
      done()
    } catch (e) {
      const f = api.faultOf(e)
      fault.textContent = `${f.line ? `Line ${f.line}${f.column ? `, column ${f.column}` : ""}: ` : ""}${f.what} ${f.remedy ?? ""}`
      if (f.line) selectLine(job, f.line, f.column ?? 1)
    }
  }), { class: "main" })
  effect(() => { go.disabled = (press() === "" || stock() === "") && job.value.trim() === "" })
  job.addEventListener("input", () => { go.disabled = (press.peek() === "" || stock.peek() === "") && job.value.trim() === "" })
  const details = h("details", { class: "job-text" }, h("summary", null, "A job in writing"),
    h("p", { id: "job-help", class: "aside" }, "Finished size, bleed, what white is to lie under: as YAML, or drop the file on this page. The choice above goes before what it says of press and stock."),
    h("label", null, h("span", null, "The job"), job))
  if (d.setup.job) details.open = true
  return h("div", { class: "laying" }, pressList, stockList, details, cautions, fault, h("div", { class: "row end" }, go))
}

/** Makes a copy to be changed, and chooses it. */
function edit(kind: "press" | "stock", from: string, value: { set(v: string): void }) {
  attempt(async () => value.set(await copyAndEdit(kind, from)))
}

function card(group: string, value: string, chosen: { (): string; set(v: string): void }, picture: Node, title: string, words: string, copy?: () => void): HTMLElement {
  const input = h("input", { type: "radio", name: group, value, "data-key": `${group}-${value}`, onchange: () => chosen.set(value) })
  effect(() => { input.checked = chosen() === value })
  return h("div", { class: "card" }, h("label", null, input, picture, h("span", { class: "words" }, h("strong", null, title), h("span", { class: "aside" }, words))),
    copy ? button("Change a copy", copy, { class: "quiet small", "aria-label": `Change a copy of ${title}` })
      : button("Change", () => editDraft(value), { class: "quiet small", "aria-label": `Change ${title}` }))
}
