// Taking along: the file, a report, plates, pictures, the package for whoever prints.

import * as api from "../api"
import * as st from "../state"
import { button, fill, h, plural } from "./dom"
import { attempt, tell } from "./say"
import { progressLine } from "./progress"
import { derived, effect, signal, untracked } from "./signal"
import { bytes } from "./words"
import { cautionList } from "./cautions"
import { planOf, planPart } from "./plan"
import { follow } from "./work"

interface Thing { kind: api.Making; words: string; about: string; see?: boolean }
const things: Thing[] = [
  { kind: "report", words: "A report to read", about: "How the sheet looks, what was found, what each toner lays down. Opens beside this page.", see: true },
  { kind: "package", words: "A package for the printer", about: "The artwork, sheets, job tickets, proof, report, definitions and a letter in plain words, in one archive that shows when it was changed." },
  { kind: "plates", words: "The plates", about: "One picture in grey for each toner and page, as the press gets them." },
  { kind: "pictures", words: "Pictures of the sheet", about: "How it will look, to show to others." },
]

/** What has been made, by the job that made it. */
const made = signal<ReadonlyMap<string, api.Made>>(new Map())

export function takeSection(): HTMLElement {
  const before = h("div"), list = h("ul", { class: "things" }), mind = h("section", { class: "cautions" }), heed = h("div")
  const el = h("div", { class: "part take" }, h("h2", null, "Take along"), before, planPart(), heed, list, mind)
  effect(() => {
    const errors = st.findings().filter(f => f.severity === "error").length
    before.hidden = errors === 0
    fill(before, errors > 0 && h("p", { class: "before-you-go" }, `${errors === 1 ? "One thing" : `${errors} things`} will still print wrong. `, button("See what", () => st.section.set("found"), { class: "quiet" })))
  })
  const file = h("li")
  fill(list, file, things.map(thing))
  effect(() => {
    const d = st.doc()
    if (!d) { fill(file); return }
    const mended = st.lineage(d).length > 1
    fill(file, h("h3", null, mended ? "The mended file" : "The file"),
      h("p", { class: "aside" }, mended ? "The PDF with its mends. What nobody asked to change is as it came, byte for byte." : "The PDF as it came."),
      h("a", { class: "button", href: api.fileURL(d.id, d.at), download: "" }, "Save the PDF"))
  })
  const cautions = derived(() => {
    const d = st.doc()
    // The plan knows the toners of all pages, the sheet those of its own.
    const known = d ? planOf(d)?.cautions ?? st.sheet()?.cautions ?? [] : []
    return d && !/^use:/m.test(d.setup.job) ? [unsaid, ...known] : known
  })
  effect(() => {
    const all = cautions()
    fill(mind, cautionList(all))
    fill(heed, all.length > 0 && h("p", null, `${plural(all.length, "caution applies", "cautions apply")} to it. `, button("Read them", () => mind.scrollIntoView(), { class: "quiet", "data-key": "heed" })))
  })
  return el
}

/** Where the job does not tell what the pieces are for. */
const unsaid = "Toner on what touches food, skin or mouths, or is heated again (labels, sleeves for ovens, iron-ons), needs leave from the toner's data sheet."

function thing(t: Thing): HTMLElement {
  const row = h("div", { class: "row" })
  const latest = derived(() => {
    const d = st.doc()
    return [...st.jobs().values()].filter(j => j.kind === t.kind && j.artwork === d?.id && j.rev === d.rev && ["waiting", "running", "done"].includes(j.state)).pop()
  })
  const running = derived(() => latest()?.state !== "done" ? latest()?.id ?? "" : "")
  const done = derived(() => latest()?.state === "done" ? latest()?.id ?? "" : "")
  // A job may have been begun before the page was loaded anew, or in another tab.
  effect(() => {
    const id = done()
    if (id && !made().has(id)) attempt(async () => {
      try {
        const r = (await api.job<api.Made>(id)).result
        if (r) st.know(made, id, r)
      } catch (e) {
        if (!(e instanceof api.ApiError && e.status === 404)) throw e // results are kept for a while only
      }
    })
  })
  effect(() => {
    const now = running(), id = done(), r = made().get(id)
    untracked(() => {
      if (now) { fill(row, progressLine(now, "halt")); return }
      const save = r && h("a", { class: t.see ? "button" : "button main", href: api.jobFileURL(id), download: r.name, "data-key": `get-${t.kind}` }, `Save it (${bytes(r.bytes)})`)
      fill(row, r && t.see && h("a", { class: "button main", href: api.reportURL(id), target: "_blank", "data-key": `see-${t.kind}` }, "Open it"), save,
        button(r ? "Make it anew" : "Make it", () => attempt(() => begin(t)), { "data-key": `make-${t.kind}`, "aria-label": `${r ? "Make it anew" : "Make it"}: ${t.words}` }))
    })
  })
  return h("li", null, h("h3", null, t.words), h("p", { class: "aside" }, t.about), row)
}

async function begin(t: Thing) {
  const id = st.docId.peek()
  await follow(await api.make(id, t.kind))
  tell(`${t.words}: made.`)
}
