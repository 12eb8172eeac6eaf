// What the page asks of the server, with the shapes of docs/api.md.

export interface Fault { what: string; remedy?: string; line?: number; column?: number; code?: string; more?: Fault[] }

/** A request the server could not carry out: its sentence and what to do about it. */
export class ApiError extends Error {
  constructor(readonly status: number, readonly fault: Fault) { super(fault.what) }
}

/** Any error as a person can read it. */
export function faultOf(e: unknown): Fault {
  if (e instanceof ApiError) return e.fault
  if (e instanceof TypeError) return { what: "The server does not answer.", remedy: "Look whether laydown still runs, then try again." }
  return { what: e instanceof Error ? e.message : String(e) }
}

/** Boxes are in mm from the top left corner of the trim, y down. */
export interface Box { x: number; y: number; w: number; h: number }
export interface Point { x: number; y: number }

export interface Setup { press: string; stock: string; job: string }
/** As asked for; uses are those that hold, wherever they are named. */
export interface SetupNow extends Setup { uses?: { press: string; stock: string }; problem?: Fault | null }
export interface Version { n: number; from?: number; title: string; steps: string[] | null; made: string; bytes: number; rev: string }
export interface Artwork {
  id: string; name: string; bytes: number; pages: number; setup: SetupNow
  versions: Version[]; at: number; rev: string
  checked?: { rev: string; errors: number; warnings: number; notes: number; clean: boolean } | null
  trial?: { rev: string; of: number; do: string[]; notes?: string[] | null } | null
}
export interface Draft { id: string; kind: "press" | "stock"; name: string; yaml: string; form?: unknown }
export interface Limits { upload_bytes: number; artworks: number }
export interface State { version: string; limits: Limits; artworks: Artwork[]; drafts: Draft[]; jobs: Job[] }

export interface TonerInfo { name: string; kind: string; on_white: string; thickness_um: number; may_tint: boolean; cautions?: string[] | null }
export interface PressInfo {
  name: string; title: string; notes?: string; draft?: string
  toners: TonerInfo[]; mixes?: string[] | null
  sets: { name: string; stations: string[] }[]
  pile_per_pass: number; pile_sum: number
  cautions?: string[] | null
}
export interface StockInfo {
  name: string; title: string; draft?: string; front: string; back: string
  surface: string; gloss?: string; weight_gsm: number; thickness_um?: number; opacity?: number; hits?: number
  cautions?: string[] | null
}
export interface RemedyInfo {
  id: string; title: string; safe: boolean
  options: { name: string; help: string; required: boolean }[]; answers: string[]
}

export interface Laid { name: string; kind: string; colour: string; on_white: string; thickness_um: number; pass: number; coverage: number }
export interface Page {
  number: number; rev: string; trim: Box; bleed: Box; region: Box
  levels: { dpi: number; width: number; height: number }[]
  laydown: Laid[]; passes?: { set: string; toners: string[] }[] | null; pass_error?: string
  stock: { name: string; title: string; colour: string; surface: string; thickness_um: number }
  side: string; film: boolean; glint: { flake_um: number; spread_deg: number; seed: number }
  on_layers: string[]; cautions: string[]; notes?: string[] | null
}

export interface Amounts {
  x: number; y: number; lab: [number, number, number]; srgb: string
  tints: Record<string, number>; pile: number
  stack: { name: string; tint: number; um: number }[]
  item: number; why: Why[]
  knowledge?: { toner: string; words: string }[] | null
}
export interface Why { item: number; kind: string; does: string; depth?: number; cover?: number; object?: number; offset?: number; layer?: string }
export interface Row {
  y: number; x0: number; x1: number
  toners: { name: string; thickness_um: number }[]; tints: Record<string, string>
}
export interface ItemBox { item: number; box: Box }
export interface Alike {
  item: number; kind: string; paints: string
  boxes: ItemBox[]; count: number; font?: string
  options: Record<string, string>; use: string
}

export type Severity = "error" | "warning" | "note"
export interface Finding {
  id: string; severity: Severity; class: string; what: string; why?: string; remedy?: string; remedies?: string[]
  place: { page?: number; box?: Box; object?: number; offset?: number; items?: number[]; colourants?: string[]; layer?: string }
  mends?: string[]; incomplete?: boolean; figures?: Record<string, number>; notes?: string[]; count?: number
}
export interface Outcome { file: string; clean: boolean; findings: Finding[]; pages: number[] }
export interface PlateDiff { colourant: string; same: boolean; pixels: number; share_percent: number; worst_percent: number; boxes: Box[] | null; twin?: string }
export interface PageDiff { page: number; same: boolean; plates_same: boolean; size_a_mm: { w: number; h: number }; size_b_mm: { w: number; h: number }; plates: PlateDiff[] }
export interface Breach { page: number; colourant?: string; pixels?: number; box: Box; what: string }
export interface MendStep {
  remedy: string; use: string; title: string; safe: boolean; changed: boolean
  plates?: { page: number; plates: PlateDiff[] }[]; notes?: string[]; left?: string[]; failed?: string; refused?: Breach[]
}
export interface MendOutcome {
  file: string; out?: string; steps: MendStep[]; refused?: Breach[]
  difference?: { same: boolean; complete: boolean; pages: PageDiff[] }
  before: Outcome; after?: Outcome; answered: boolean; version?: number; rev?: string
}
/** A figure of a plan; null: some definition does not tell what it takes. */
export interface Figure { what: string; value: number | null; unit: string; formula: string; not_given?: string[] }
export interface Reckoning {
  quantity?: number; pieces_on_a_sheet: number; currency?: string; price_note?: string
  sheets: Figure[]; time: Figure[]; minutes: Figure; costs: Figure[]; total: Figure; per_piece: Figure
  price_breaks?: { quantity: number; total: Figure; per_piece: Figure }[]
}
export interface PlanChoice {
  name: string; passes: { set: string; set_up: number; page: number; of_page: number; toners: string[] }[]; set_changes: number
  why: string[]; unusual?: { page: number; words: string }[]; register_words: string[]; reckoning?: Reckoning | null
  against_first?: { minutes: number | null; cost: number | null; look?: { mean_de00: number; largest_mm2: number; lost?: string[] } | null }
}
export interface PlanOutcome { notes: string[]; impossible?: { what: string; remedy: string }; plans: PlanChoice[]; cautions: string[] }
export interface Made { name: string; bytes: number }
export interface Job<R = unknown> {
  id: string; artwork: string; rev?: string; kind: string; state: "waiting" | "running" | "done" | "failed" | "stopped"
  what: string; done: number; total: number; error?: Fault | null; result?: R
}
export interface Trial { rev: string; of: number; page: number; changed: boolean; steps: { use: string; changed: boolean; notes?: string[] | null }[]; notes?: string[] | null }
export type Making = "report" | "plates" | "pictures" | "package"

/** Sends a request; body is sent as JSON unless it is a Blob. */
export async function ask<T>(method: string, path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const init: RequestInit = { method, signal: signal ?? null }
  if (body instanceof Blob) {
    init.body = body
    init.headers = { "Content-Type": "application/octet-stream" }
  } else if (body !== undefined) {
    init.body = JSON.stringify(body)
    init.headers = { "Content-Type": "application/json" }
  }
  const res = await fetch(path, init)
  if (!res.ok) throw new ApiError(res.status, await said(res))
  return (res.status === 204 ? undefined : await res.json()) as T
}

async function said(res: Response): Promise<Fault> {
  const body = await res.json().catch(() => null) as { error?: Fault } | null
  return body?.error ?? { what: `The server answered ${res.status}.` }
}

/** Sends a file and tells how much of it has gone. */
export function upload(file: File, query: Record<string, string>, told: (done: number, total: number) => void, stop: AbortSignal, password = ""): Promise<Artwork> {
  return new Promise((resolve, reject) => {
    const x = new XMLHttpRequest()
    x.open("POST", `/api/artworks?${new URLSearchParams({ name: file.name, ...query })}`)
    x.setRequestHeader("Content-Type", "application/pdf")
    if (password) x.setRequestHeader("Artwork-Password", encodeURIComponent(password))
    x.responseType = "json"
    x.upload.onprogress = e => told(e.loaded, e.total)
    x.onload = () => {
      if (x.status >= 200 && x.status < 300) resolve(x.response as Artwork)
      else reject(new ApiError(x.status, (x.response as { error?: Fault } | null)?.error ?? { what: `The server answered ${x.status}.` }))
    }
    x.onerror = () => reject(new TypeError("no answer"))
    x.onabort = () => reject(new DOMException("stopped", "AbortError"))
    stop.addEventListener("abort", () => x.abort())
    x.send(file)
  })
}

const art = (id: string) => `/api/artworks/${encodeURIComponent(id)}`
const query = (o: Record<string, string | number | undefined>) => {
  const p = new URLSearchParams()
  for (const [k, v] of Object.entries(o)) if (v !== undefined && v !== "") p.set(k, String(v))
  return p.toString()
}

export const state = () => ask<State>("GET", "/api/state")
export const presses = () => ask<PressInfo[]>("GET", "/api/presses")
export const stocks = () => ask<StockInfo[]>("GET", "/api/stocks")
export const remedies = () => ask<RemedyInfo[]>("GET", "/api/remedies")
export const example = (faulty: boolean) => ask<Artwork>("POST", "/api/example", { faulty })
export const artwork = (id: string) => ask<Artwork>("GET", art(id))
export const setSetup = (id: string, s: Setup) => ask<Artwork>("PUT", `${art(id)}/setup`, { press: s.press, stock: s.stock, job: s.job })
export const setAt = (id: string, n: number) => ask<Artwork>("PUT", `${art(id)}/at`, { n })
export const forget = (id: string) => ask<void>("DELETE", art(id))
export const fileURL = (id: string, version: number) => `${art(id)}/file?version=${version}`
export const thumbURL = (id: string, page: number, rev: string) => `${art(id)}/pages/${page}/thumb.png?${query({ rev })}`
export const page = (id: string, n: number, rev: string, signal?: AbortSignal) => ask<Page>("GET", `${art(id)}/pages/${n}?${query({ rev })}`, undefined, signal)
export const row = (id: string, n: number, rev: string, y: number, x0: number, x1: number, count: number, signal?: AbortSignal) =>
  ask<Row>("GET", `${art(id)}/pages/${n}/row?${query({ rev, y: y.toFixed(3), x0: x0.toFixed(3), x1: x1.toFixed(3), n: count })}`, undefined, signal)
export const at = (id: string, n: number, rev: string, p: Point, off: string[], signal?: AbortSignal) =>
  ask<Amounts>("GET", `${art(id)}/pages/${n}/at?${query({ rev, x: p.x.toFixed(3), y: p.y.toFixed(3) })}${off.map(o => `&off=${encodeURIComponent(o)}`).join("")}`, undefined, signal)
export const alike = (id: string, n: number, rev: string, item: number, signal?: AbortSignal) =>
  ask<Alike>("GET", `${art(id)}/pages/${n}/alike?${query({ rev, item })}`, undefined, signal)
export const chosen = (id: string, n: number, rev: string, options: Record<string, string>) =>
  ask<{ boxes: ItemBox[] }>("GET", `${art(id)}/pages/${n}/chosen?${query({ ...options, rev })}`)
export const check = (id: string, rev: string) => ask<Job<Outcome>>("POST", `${art(id)}/check?${query({ rev })}`)
export const tryOut = (id: string, uses: string[], pageNumber: number, signal?: AbortSignal) =>
  ask<Trial>("POST", `${art(id)}/try`, { do: uses, page: pageNumber }, signal)
export const mend = (id: string, uses: string[], allSafe: boolean, title?: string) =>
  ask<Job<MendOutcome>>("POST", `${art(id)}/mend`, { do: uses, all_safe: allSafe, title })
export const plan = (id: string, rev: string, quantity: number) => ask<Job<PlanOutcome>>("POST", `${art(id)}/plan?${query({ rev })}`, { quantity })
export const proof = (id: string, rev: string) => ask<MendOutcome>("GET", `${art(id)}/proof?${query({ rev })}`)
export const make = (id: string, kind: Making) => ask<Job<Made>>("POST", `${art(id)}/make`, { kind })
export const job = <R>(id: string) => ask<Job<R>>("GET", `/api/jobs/${encodeURIComponent(id)}`)
export const stopJob = (id: string) => ask<void>("DELETE", `/api/jobs/${encodeURIComponent(id)}`)
export const jobFileURL = (id: string) => `/api/jobs/${encodeURIComponent(id)}/file`
export const reportURL = (id: string) => `/api/jobs/${encodeURIComponent(id)}/report`
export const newDraft = (kind: "press" | "stock", from: string) => ask<Draft>("POST", "/api/drafts", { kind, from })
export const setDraft = (id: string, yaml: string) => ask<Draft>("PUT", `/api/drafts/${encodeURIComponent(id)}`, { yaml })
export const dropDraft = (id: string) => ask<void>("DELETE", `/api/drafts/${encodeURIComponent(id)}`)
export const draftURL = (id: string) => `/api/drafts/${encodeURIComponent(id)}/file`
