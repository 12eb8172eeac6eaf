// What the page shows, kept in signals, and its address, which says the same in words.

import * as api from "./api"
import { debounce, derived, effect, signal, untracked } from "./page/signal"

export interface View { x: number; y: number; zoom: number }
export interface Light { up: number; round: number; tiltTop: number; tiltRight: number; lit: boolean }
export type Section = "look" | "found" | "change" | "take"
const sections: Section[] = ["look", "found", "change", "take"]

export const restingLight: Light = { up: 66, round: -40, tiltTop: 0, tiltRight: 0, lit: true }

// What the server holds.
export const artworks = signal<api.Artwork[]>([])
export const drafts = signal<api.Draft[]>([])
export const presses = signal<api.PressInfo[]>([])
export const stocks = signal<api.StockInfo[]>([])
export const remedies = signal<api.RemedyInfo[]>([])
export const limits = signal<api.Limits | null>(null)
/** Findings by rev, as far as they are known here. */
export const outcomes = signal<ReadonlyMap<string, api.Outcome>>(new Map())
export const jobs = signal<ReadonlyMap<string, api.Job>>(new Map())
/** What mends proved, by the rev they led to, as far as it is known here. */
export const proofs = signal<ReadonlyMap<string, api.MendOutcome>>(new Map())

// What is looked at.
export const docId = signal("")
export const pageNo = signal(1)
export const view = signal<View | null>(null) // null = the whole page
export const light = signal<Light>(restingLight)
export const off = signal<readonly string[]>([])
export const probe = signal<api.Point | null>(null)
export const through = signal(false) // film is looked at from its other side
export const fold = signal(0) // share of the width where before and after meet; 0 = not folded
export const foldWith = signal(0) // the version on the other side; 0 = the one before
export const section = signal<Section>("look")
export const chosen = signal(-1) // index of the finding chosen
export const marks = signal(true)
/** An unproven trial that is looked at instead of the version. */
export const trial = signal<{ id: string; rev: string; uses: string[]; words: string } | null>(null)
/** Boxes lit on the sheet, beside findings. */
export const lit = signal<readonly api.Box[]>([])
/** A click on the sheet chooses an object rather than just moving the probe. */
export const pointing = signal(false)
/** The page as laid, once the server told. */
export const sheet = signal<api.Page | null>(null)

export const doc = derived(() => artworks().find(a => a.id === docId()) ?? null)
export const ready = derived(() => {
  const d = doc()
  return d !== null && laid(d)
})

/** The artwork has a press and a stock, chosen or by its job. */
export const laid = (d: api.Artwork) => (d.setup.uses?.press ?? d.setup.press) !== "" && (d.setup.uses?.stock ?? d.setup.stock) !== ""

/** The press an artwork is laid out for. */
export function pressOf(d: api.Artwork | null): api.PressInfo | undefined {
  const name = d?.setup.press || d?.setup.uses?.press || "-"
  return presses().find(p => p.draft === name) ?? presses().find(p => !p.draft && p.name === name)
}

/** The stock an artwork lies on. */
export function stockOf(d: api.Artwork | null): api.StockInfo | undefined {
  const name = d?.setup.stock || d?.setup.uses?.stock || "-"
  return stocks().find(k => k.draft === name) ?? stocks().find(k => !k.draft && k.name === name)
}
export const trialRev = derived(() => {
  const t = trial()
  return t && t.id === docId() ? t.rev : ""
})
export const rev = derived(() => trialRev() || doc()?.rev || "")
export const outcome = derived(() => outcomes().get(doc()?.rev ?? "") ?? null)
export const findings = derived(() => outcome()?.findings ?? [])

/** The version on the other side of the fold, if there is one. */
export const otherVersion = derived(() => {
  const d = doc()
  if (!d) return null
  if (trialRev()) return d.versions.find(v => v.n === d.at) ?? null
  const before = lineage(d).slice(1)
  return before.find(v => v.n === foldWith()) ?? before[0] ?? null
})

/** The version looked at and those it was made of, back to the file as it came. */
export function lineage(d: api.Artwork): api.Version[] {
  const out: api.Version[] = []
  let v = d.versions.find(v => v.n === d.at)
  while (v && !out.includes(v)) {
    out.push(v)
    const from: number | undefined = v.from
    v = from ? d.versions.find(w => w.n === from) : undefined
  }
  return out
}

/** The newest version made of the one looked at. */
export const madeOf = (d: api.Artwork) => d.versions.filter(v => v.from === d.at).pop() ?? null

/** Takes an artwork as the server has it now. */
export function take(a: api.Artwork) {
  const list = artworks.peek()
  const i = list.findIndex(b => b.id === a.id)
  artworks.set(i < 0 ? [...list, a] : list.map(b => b.id === a.id ? a : b))
}

export function drop(id: string) {
  artworks.set(artworks.peek().filter(a => a.id !== id))
  if (docId.peek() === id) leave()
}

/** Back to the welcome. */
export function leave() {
  open("")
}

/** Shows an artwork from its first page. */
export function open(id: string, page = 1) {
  docId.set(id)
  turnTo(page)
  section.set("look")
  fold.set(0)
  off.set([])
}

/** Shows another page. */
export function turnTo(page: number) {
  pageNo.set(page)
  view.set(null)
  probe.set(null)
  chosen.set(-1)
  lit.set([])
  sheet.set(null)
}

/** The middle of the finished page: where the probe lies before anybody moved it. */
export function middle(p: api.Page): api.Point {
  const to1 = (v: number) => Number(v.toFixed(1))
  return { x: to1(p.trim.x + p.trim.w / 2), y: to1(p.trim.y + p.trim.h / 2) }
}

export function know<K, V>(s: { peek(): ReadonlyMap<K, V>; set(m: ReadonlyMap<K, V>): void }, k: K, v: V) {
  s.set(new Map(s.peek()).set(k, v))
}

// The address.

const brief = (v: number, decimals: number) => String(Number(v.toFixed(decimals)))

/** The state as the part of an address after "#". */
export function address(): string {
  const d = doc()
  if (!d) return ""
  const p: string[] = []
  const put = (k: string, v: string) => p.push(`${k}=${encodeURIComponent(v).replace(/%2C/g, ",").replace(/%20/g, "+")}`)
  if (section() !== "look") put("see", section())
  if (chosen() >= 0) put("finding", String(chosen() + 1))
  const at = probe()
  if (at) put("at", `${brief(at.x, 2)},${brief(at.y, 2)}`)
  const v = view()
  if (v) put("view", `${brief(v.x, 2)},${brief(v.y, 2)},${brief(v.zoom, 3)}`)
  const l = light()
  const r = restingLight
  if (l.up !== r.up || l.round !== r.round || l.tiltTop !== 0 || l.tiltRight !== 0)
    put("lamp", [l.up, l.round, l.tiltTop, l.tiltRight].map(x => brief(x, 1)).join(","))
  if (!l.lit) put("light", "measured")
  if (off().length > 0) put("without", off().map(n => n.replace(/[%,]/g, encodeURIComponent)).join(","))
  if (through()) put("from", "behind")
  if (fold() > 0) put("fold", brief(fold(), 3))
  if (foldWith() > 0) put("with", String(foldWith()))
  if (d.versions.length > 1) put("version", String(d.at))
  return `${d.id}/${pageNo()}${p.length ? "?" + p.join("&") : ""}`
}

/** A name of an address, as it was before its commas and per cent signs were written otherwise. */
function decoded(name: string): string {
  try {
    return decodeURIComponent(name)
  } catch {
    return name
  }
}

/** The version an address asked for and that is not the current one; 0 = none. */
export let askedVersion = 0

/** Takes over what an address says; what it does not say is as at rest. */
export function readAddress(text: string) {
  const [path = "", rest = ""] = text.replace(/^#/, "").split("?")
  const [id = "", n = "1"] = path.split("/")
  const q = new URLSearchParams(rest)
  const numbers = (k: string, count: number) => {
    const v = (q.get(k) ?? "").split(",").map(Number)
    return v.length === count && v.every(Number.isFinite) ? v as [number, number, number, number] : null
  }
  const page = Math.max(1, Math.floor(Number(n)) || 1)
  const same = id === docId.peek() && page === pageNo.peek() ? sheet.peek() : null
  docId.set(id)
  pageNo.set(page)
  const see = q.get("see") as Section | null
  section.set(see && sections.includes(see) ? see : "look")
  chosen.set((Math.floor(Number(q.get("finding"))) || 0) - 1)
  const at = numbers("at", 2)
  probe.set(at ? { x: at[0], y: at[1] } : same && middle(same))
  const v = numbers("view", 3)
  view.set(v && v[2] > 0 ? { x: v[0], y: v[1], zoom: v[2] } : null)
  const l = numbers("lamp", 4)
  const measured = q.get("light") === "measured"
  light.set(l ? { up: l[0], round: l[1], tiltTop: l[2], tiltRight: l[3], lit: !measured } : { ...restingLight, lit: !measured })
  off.set((q.get("without") ?? "").split(",").filter(x => x !== "").map(decoded))
  through.set(q.get("from") === "behind")
  fold.set(Math.min(1, Math.max(0, Number(q.get("fold")) || 0)))
  foldWith.set(Math.floor(Number(q.get("with"))) || 0)
  askedVersion = Math.floor(Number(q.get("version"))) || 0
}

/** Keeps the address as the state is. Another artwork, page or section is a step the browser can go back. */
export function keepAddress() {
  let step = ""
  const write = (text: string, now: string) => {
    const url = text ? "#" + text : location.pathname
    if (("#" + text) === location.hash || (!text && !location.hash)) { step = now; return }
    if (step !== "" && step !== now) history.pushState(null, "", url)
    else history.replaceState(null, "", url)
    step = now
  }
  const soon = debounce(200, write)
  const stepOf = () => `${docId()}/${pageNo()}/${section()}`
  let known = false
  effect(() => {
    const text = address()
    const now = stepOf()
    // Before the artworks are known the address must not be lost.
    if (!known && docId() !== "" && !doc()) return
    known = true
    soon(text, now)
  })
  addEventListener("popstate", () => {
    soon.stop()
    untracked(() => readAddress(location.hash))
    step = untracked(stepOf)
  })
}
