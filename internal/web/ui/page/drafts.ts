// A press or a stock of one's own: a copy that is changed by its common figures or as text.

import * as api from "../api"
import * as st from "../state"
import { button, fill, h, newId, selectLine } from "./dom"
import { attempt, tell } from "./say"
import { fields, type Change } from "./draftform"
import { debounce } from "./signal"
import { definitions } from "./work"
import { setValue } from "./yaml"

/** Makes a copy, opens it for change and gives the id it goes by. */
export async function copyAndEdit(kind: "press" | "stock", from: string): Promise<string> {
  const d = await api.newDraft(kind, from)
  await definitions()
  openEditor(d)
  return d.id
}

export function editDraft(id: string) {
  const d = st.drafts.peek().find(d => d.id === id)
  if (d) openEditor(d)
}

function openEditor(first: api.Draft) {
  const id = newId("draft")
  const close = () => dlg.close()
  const fault = h("p", { class: "fault", role: "alert", id: `${id}-fault` })
  const text = h("textarea", { class: "code", rows: 22, spellcheck: "false", wrap: "off", value: first.yaml, "aria-describedby": `${id}-fault` })
  let saved = first.yaml
  const save = async (point: boolean) => {
    if (text.value === saved) return
    try {
      const d = await api.setDraft(first.id, text.value)
      saved = d.yaml
      fault.textContent = ""
      await definitions()
      // The setup of what uses it is another one now.
      const a = st.doc()
      if (a) st.take(await api.artwork(a.id))
      if (!form.contains(document.activeElement)) fill(form, fields(d, change))
    } catch (e) {
      const f = api.faultOf(e)
      fault.textContent = `${f.line ? `Line ${f.line}${f.column ? `, column ${f.column}` : ""}: ` : ""}${f.what} ${f.remedy ?? ""}`
      if (point && f.line) selectLine(text, f.line, f.column ?? 1)
    }
  }
  const later = debounce(700, () => attempt(() => save(false)))
  text.addEventListener("input", later)
  const change: Change = (path, value) => {
    const now = setValue(text.value, path, value)
    if (now === null) { fault.textContent = "The text has this written in a way of its own: change it there."; return }
    text.value = now
    later()
  }
  const form = h("div", { class: "draft-form" })
  fill(form, fields(first, change))
  const dlg = h("dialog", { class: "wide draft", "aria-labelledby": id, onclose: () => dlg.remove() },
    h("div", { class: "dialog-head" }, h("h2", { id }, first.kind === "press" ? "A press of your own" : "A stock of your own"), button("Close", () => attempt(async () => { await save(true); if (!fault.textContent) close() }), { class: "quiet" })),
    h("p", { class: "aside" }, "A copy: what came with the program stays as it is. It is checked as you write, and the sheet is looked at anew."),
    fault,
    h("div", { class: "draft-two" }, form, h("label", { class: "draft-text" }, h("span", null, "All of it, as text"), text)),
    h("div", { class: "row end" },
      button("Throw it away", () => attempt(async () => {
        await api.dropDraft(first.id)
        await definitions()
        close()
        tell("The copy is gone.")
      })),
      h("a", { class: "button", href: api.draftURL(first.id), download: "" }, "Save as a file")))
  document.body.append(dlg)
  dlg.showModal()
}
