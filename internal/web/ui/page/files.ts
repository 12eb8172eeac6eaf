// Files coming in: dropped anywhere on the page, or chosen.

import * as api from "../api"
import * as st from "../state"
import { byId, button, h, newId } from "./dom"
import { attempt, complain, tell } from "./say"
import { signal } from "./signal"

export interface Coming { name: string; done: number; total: number; stop: () => void }
/** Files on their way to the server. */
export const coming = signal<readonly Coming[]>([])

export function acceptDrops() {
  const veil = byId("drop")
  let depth = 0
  const files = (e: DragEvent) => e.dataTransfer?.types.includes("Files") ?? false
  addEventListener("dragenter", e => { if (files(e)) { depth++; veil.hidden = false; e.preventDefault() } })
  addEventListener("dragover", e => { if (files(e)) e.preventDefault() })
  addEventListener("dragleave", e => { if (files(e) && --depth <= 0) { depth = 0; veil.hidden = true } })
  addEventListener("drop", e => {
    depth = 0
    veil.hidden = true
    if (!files(e)) return
    e.preventDefault()
    attempt(() => bring([...e.dataTransfer?.files ?? []]))
  })
}

/** Asks for files. */
export function chooseFile() {
  const field = h("input", { type: "file", accept: ".pdf,application/pdf,.yaml,.yml", multiple: true,
    onchange: () => attempt(() => bring([...field.files ?? []])) })
  field.click()
}

const isJob = (f: File) => /\.ya?ml$/i.test(f.name)

/** Takes files in: artwork is laid on the bench, a job goes with the artwork at hand. */
export async function bring(files: File[]) {
  const jobText = files.filter(isJob)
  const artworks = files.filter(f => !isJob(f))
  let last = ""
  for (const f of artworks) {
    try {
      last = await send(f)
    } catch (e) { complain(e) }
  }
  if (last) st.open(last)
  const id = st.docId.peek()
  const text = jobText[0] ? await jobText[0].text() : ""
  if (text && !id) throw new api.ApiError(400, { what: "A job tells of an artwork, and there is none on the bench.", remedy: "Bring the PDF first, or both together." })
  if (text) {
    const d = st.artworks.peek().find(a => a.id === id)
    if (d) st.take(await api.setSetup(id, { ...d.setup, job: text }))
    tell("The job has been read.")
  }
}

async function send(f: File, password = ""): Promise<string> {
  const most = st.limits.peek()?.upload_bytes ?? Infinity
  if (f.size > most) throw new api.ApiError(413, { what: `${f.name} is too large to be sent.`, remedy: "Use the command line, which reads files where they are." })
  const stop = new AbortController()
  const mine = (done: number, total: number): Coming => ({ name: f.name, done, total, stop: () => stop.abort() })
  const others = () => coming.peek().filter(c => c.name !== f.name)
  coming.set([...others(), mine(0, f.size)])
  try {
    const a = await api.upload(f, {}, (done, total) => coming.set([...others(), mine(done, total)]), stop.signal, password)
    st.take(a)
    return a.id
  } catch (e) {
    if (!(e instanceof api.ApiError) || e.fault.code !== "password") throw e
    const said = await askPassword(f.name, password ? e.fault.what : "")
    if (!said) throw e
    return send(f, said)
  } finally {
    coming.set(others())
  }
}

/** Asks for the password of a file; "" when the person would rather not. */
function askPassword(name: string, fault: string): Promise<string> {
  return new Promise(resolve => {
    const id = newId("password")
    const field = h("input", { type: "password", autocomplete: "off", id: `${id}-field` })
    let given = ""
    const close = (said: string) => { given = said; dlg.close() }
    const dlg = h("dialog", { "aria-labelledby": id, onclose: () => { dlg.remove(); resolve(given) } },
      h("form", { class: "part", onsubmit: (e: Event) => { e.preventDefault(); close(field.value) } },
        h("h2", { id }, `${name} asks for a password`), fault ? h("p", { class: "fault" }, fault) : null,
        h("label", { for: `${id}-field` }, "Password"), field,
        h("div", { class: "row end" }, button("Leave it", () => close("")), h("button", { type: "submit", class: "main" }, "Open it"))))
    document.body.append(dlg)
    dlg.showModal()
    field.focus()
  })
}

export async function openExample(faulty: boolean) {
  const a = await api.example(faulty)
  st.take(a)
  st.open(a.id)
}
