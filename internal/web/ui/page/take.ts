// Taking along: the file, a report, plates, pictures, the package for whoever prints.

import * as api from "../api"
import * as st from "../state"
import { button, fill, h } from "./dom"
import { attempt, tell } from "./say"
import { effect, signal } from "./signal"
import { bytes, jobWords } from "./words"
import { cautionList } from "./cautions"
import { follow } from "./work"

interface Thing { kind: api.Making; words: string; about: string; see?: boolean }
const things: Thing[] = [
  { kind: "report", words: "A report to read", about: "How the sheet looks, what was found, what each toner lays down. Opens beside this page.", see: true },
  { kind: "package", words: "A package for the printer", about: "The artwork, sheets, job tickets, proof, report, definitions and a letter in plain words, in one archive that shows when it was changed." },
  { kind: "plates", words: "The plates", about: "One picture in grey for each toner and page, as the press gets them." },
  { kind: "pictures", words: "Pictures of the sheet", about: "How it will look, to show to others." },
]

/** What has been made of which rev, by the job that made it. */
const made = signal<ReadonlyMap<string, api.Job<api.Made>>>(new Map())

export function takeSection(): HTMLElement {
  const el = h("div", { class: "part take" })
  effect(() => {
    const d = st.doc()
    if (!d) { fill(el); return }
    const p = st.pressOf(st.doc())
    const k = st.stockOf(st.doc())
    const errors = st.findings().filter(f => f.severity === "error").length
    fill(el, h("h2", null, "Take along"),
      errors > 0 ? h("p", { class: "before-you-go" }, `${errors === 1 ? "One thing" : `${errors} things`} will still print wrong. `, button("See what", () => st.section.set("found"), { class: "quiet" })) : null,
      h("ul", { class: "things" },
        h("li", null, h("h3", null, st.lineage(d).length > 1 ? "The mended file" : "The file"),
          h("p", { class: "aside" }, st.lineage(d).length > 1 ? "The PDF with its mends. What nobody asked to change is as it came, byte for byte." : "The PDF as it came."),
          h("a", { class: "button", href: api.fileURL(d.id, d.at), download: "" }, "Save the PDF")),
        things.map(t => thing(d, t))),
      cautionList([...k?.cautions ?? [], ...p?.cautions ?? [], "Toner on what touches food, skin or mouths, or is heated again (labels, sleeves for ovens, iron-ons), needs leave from the toner's data sheet."], k))
  })
  return el
}

function thing(d: api.Artwork, t: Thing): HTMLElement {
  const key = `${d.rev}/${t.kind}`
  const running = [...st.jobs().values()].find(j => j.artwork === d.id && j.kind === t.kind && (j.state === "waiting" || j.state === "running"))
  const done = made().get(key)
  return h("li", null, h("h3", null, t.words), h("p", { class: "aside" }, t.about),
    running ? working(running)
      : h("div", { class: "row" },
        done?.result ? h("a", t.see ? { class: "button main", href: api.reportURL(done.id), target: "_blank", "data-key": `get-${t.kind}` }
          : { class: "button main", href: api.jobFileURL(done.id), download: done.result.name, "data-key": `get-${t.kind}` },
        t.see ? "Open it" : `Save it${done.result.bytes ? ` (${bytes(done.result.bytes)})` : ""}`) : null,
        button(done ? "Make it anew" : "Make it", () => attempt(() => begin(d, t, key)), { "data-key": `make-${t.kind}`, "aria-label": `${done ? "Make it anew" : "Make it"}: ${t.words}` })))
}

function working(j: api.Job): HTMLElement {
  const words = jobWords(j.kind, j.what)
  const p = h("progress", { max: Math.max(1, j.total), "aria-label": words })
  if (j.total > 0) p.value = j.done
  return h("div", { class: "job" }, h("span", null, words), p, button("Stop", () => attempt(() => api.stopJob(j.id)), { class: "quiet", "aria-label": `Stop: ${words}`, "data-key": `halt-${j.id}` }))
}

async function begin(d: api.Artwork, t: Thing, key: string) {
  const j = await api.make(d.id, t.kind)
  const result = await follow(j)
  st.know(made, key, { ...j, state: "done", result })
  tell(`${t.words}: made.`)
}
