// The sheet: its viewer, the probe, the keys, and what is drawn over it.

import * as api from "../api"
import * as st from "../state"
import { CutEdge } from "../viewer/cutedge"
import type { Source } from "../viewer/sheet"
import { Viewer } from "../viewer/viewer"
import { startAmounts } from "./amounts"
import { byId, button, fill } from "./dom"
import { startFold } from "./fold"
import { openKeys, sheetOnly } from "./keys"
import { startMarks } from "./marks"
import { complain } from "./say"
import { derived, effect, signal, untracked } from "./signal"

/** Runs each time the sheet has been drawn anew. */
export const frame = signal(0)
/** The page as it was before, which lies left of the fold line. */
export const before = signal<api.Page | null>(null)
let viewer: Viewer | null = null

/** A click on the sheet while pointing. */
export let pointed: (p: api.Point) => void = () => {}
export function onPointed(fn: (p: api.Point) => void) { pointed = fn }

function source(id: string, p: api.Page, rev: string, off: readonly string[], through: boolean): Source {
  return { id, rev, through: through && p.film, page: p.number, region: p.region, levels: p.levels, off: [...off], film: p.film, glint: p.glint }
}

export function startBench() {
  const v = viewer = new Viewer(byId<HTMLCanvasElement>("canvas"))
  const cut = new CutEdge(byId<HTMLCanvasElement>("cut"))
  v.onframe = () => frame.set(frame.peek() + 1)
  let fitting = false // the whole sheet is what is wanted, in whatever window
  let told = false // the view in the state is the viewer's word
  v.onview = () => {
    if (fitting || !st.sheet.peek()) return
    told = true
    st.view.set(v.view)
  }
  const fit = () => {
    fitting = true
    v.fit()
    fitting = false
    st.view.set(null)
  }
  v.onfold = f => st.fold.set(f)
  v.onproblem = (_, status, what) => { if (status >= 400 && status !== 410) complain(new api.ApiError(status, { what: `Part of the sheet cannot be shown: ${what}` })) }
  v.claim = at => nearProbe(v, at) ? { move: (x, y) => setProbe(v.toSheet(x, y)) } : null
  v.onpoint = p => {
    setProbe(p)
    const r = st.sheet.peek()?.region
    if (st.pointing.peek() && r && p.x >= r.x && p.y >= r.y && p.x < r.x + r.w && p.y < r.y + r.h) pointed(p)
  }

  // The page as laid, then its picture.
  let asked: AbortController | null = null
  let askedOther: AbortController | null = null, otherOf = ""
  const otherRev = derived(() => st.fold() > 0 ? st.otherVersion()?.rev ?? "" : "")
  effect(() => {
    const id = st.docId(), n = st.pageNo(), rev = st.rev()
    if (!st.ready() || !rev) return
    asked?.abort()
    const mine = asked = new AbortController()
    api.page(id, n, rev, mine.signal).then(p => {
      if (st.section.peek() === "look") st.lit.set([]) // items of another state are others
      st.sheet.set(p)
      if (!st.probe.peek()) st.probe.set(st.middle(p))
    }, e => {
      if (e instanceof api.ApiError && e.status === 410 && st.trialRev()) st.trial.set(null)
      else {
        // The page before must not stand for one that cannot be shown.
        if (!mine.signal.aborted && !st.sheet.peek()) v.show(null)
        complain(e)
      }
    })
  })
  effect(() => {
    const id = st.docId(), n = st.pageNo(), rev = otherRev()
    askedOther?.abort()
    if (!rev || otherOf !== `${id}/${n}`) before.set(null)
    otherOf = `${id}/${n}`
    if (!rev) return
    const mine = askedOther = new AbortController()
    api.page(id, n, rev, mine.signal).then(p => before.set(p), complain)
  })
  let shownPage = ""
  effect(() => {
    const p = st.sheet(), id = st.docId(), off = st.off(), through = st.through()
    if (!p) { shownPage = ""; return }
    const o = before()
    fitting = true // what is shown first fits of itself
    v.show(source(id, p, p.rev, off, through), o ? source(id, o, o.rev, off, through) : null)
    fitting = false
    v.fold = o ? st.fold() : 0
    const key = `${id}/${p.number}`
    if (key !== shownPage) {
      shownPage = key
      const want = untracked(st.view)
      if (want) v.set(want)
      else fit()
    }
  })
  effect(() => { v.fold = before() ? st.fold() : 0 })
  effect(() => { v.light = { ...st.light() } })
  effect(() => {
    const want = st.view()
    if (told) { told = false; return }
    if (!st.sheet.peek()) return
    if (!want) fit()
    else if (!near(want, v.view)) v.set(want)
  })
  new ResizeObserver(() => { if (st.view.peek() === null && st.sheet.peek()) fit() }).observe(byId("sheet"))

  startMarks(v)
  startFold()
  startAmounts(v, cut)
  tools(fit, v)
  keys(fit, v)
}

/** Puts the probe on the sheet, at the nearest place of it. */
function setProbe(p: api.Point) {
  const r = st.sheet.peek()?.region
  if (!r) return
  const rim = 0.01 // the far edges are no longer of the page
  st.probe.set({ x: round(Math.min(r.x + r.w - rim, Math.max(r.x, p.x)), 3), y: round(Math.min(r.y + r.h - rim, Math.max(r.y, p.y)), 3) })
}

function nearProbe(v: Viewer, at: api.Point): boolean {
  const p = st.probe.peek()
  return p !== null && Math.hypot(p.x - at.x, p.y - at.y) * v.view.zoom < 15
}

function near(a: st.View, b: st.View): boolean {
  return Math.abs(a.x - b.x) < 0.01 && Math.abs(a.y - b.y) < 0.01 && Math.abs(a.zoom / b.zoom - 1) < 0.001
}

const round = (x: number, decimals: number) => Number(x.toFixed(decimals))

function tools(fit: () => void, v: Viewer) {
  const el = byId("sheet-tools")
  effect(() => {
    const folded = st.fold() > 0
    fill(el,
      button("Nearer", () => v.zoomBy(1.5), { "data-key": "nearer" }),
      button("Farther", () => v.zoomBy(1 / 1.5), { "data-key": "farther" }),
      button("Whole", fit, { "data-key": "whole", "aria-label": "Show the whole sheet" }),
      button("Numbers", () => st.marks.set(!st.marks.peek()), { "aria-pressed": String(st.marks()), "data-key": "marks", "aria-label": "Show the numbers of what was found" }),
      st.otherVersion() && button("Fold back", () => st.fold.set(folded ? 0 : 0.5), { "aria-pressed": String(folded), "data-key": "fold" }),
      button("Keys", openKeys, { "data-key": "keys", "aria-haspopup": "dialog" }))
  })
}

/** A step of the probe that is a little on the screen, whatever the zoom. */
function step(zoom: number): number {
  const want = 6 / zoom
  const nice = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5]
  return nice.find(x => x >= want) ?? 10
}

function keys(fit: () => void, v: Viewer) {
  const sheet = byId("sheet")
  const arrows: Record<string, [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }
  const focusLamp = () => { st.section.set("look"); setTimeout(() => byId("tilt-top").focus(), 50) }
  const find = (by: number) => {
    const all = st.findings()
    if (all.length === 0) return
    st.section.set("found")
    st.chosen.set((Math.max(st.chosen.peek(), by < 0 ? 0 : -1) + by + all.length) % all.length)
  }
  const single: Record<string, () => void> = {
    "+": () => v.zoomBy(1.25), "=": () => v.zoomBy(1.25), "-": () => v.zoomBy(0.8), "−": () => v.zoomBy(0.8), "0": fit,
    "n": () => find(1), "p": () => find(-1), "l": focusLamp, "?": openKeys,
    "f": () => { if (st.otherVersion()) st.fold.set(st.fold.peek() > 0 ? 0 : 0.5) },
    "m": () => st.light.set({ ...st.light.peek(), lit: !st.light.peek().lit }),
    "[": () => st.turnTo(Math.max(1, st.pageNo.peek() - 1)),
    "]": () => st.turnTo(Math.min(st.doc()?.pages ?? 1, st.pageNo.peek() + 1)),
    "Enter": () => { const p = st.probe.peek(); if (p && st.pointing.peek()) pointed(p) },
  }
  addEventListener("keydown", e => {
    if (document.body.dataset.state !== "bench" || document.querySelector("dialog[open]") || e.defaultPrevented) return
    const onSheet = document.activeElement === sheet
    if (e.key === "Escape") {
      if (st.lit.peek().length > 0 && st.section.peek() === "look") st.lit.set([])
      else if (st.trial.peek()) st.trial.set(null)
      else if (st.chosen.peek() >= 0) st.chosen.set(-1)
      else st.fold.set(0)
      return
    }
    if ((e.ctrlKey || e.metaKey) && !e.altKey && !typing() && e.key.toLowerCase() === "z") {
      e.preventDefault()
      void stepVersion(e.shiftKey ? 1 : -1)
      return
    }
    if (e.ctrlKey || e.metaKey || e.altKey) return
    const elsewhere = document.activeElement !== document.body && document.activeElement?.id !== "side"
    if (!onSheet && (sheetOnly() || elsewhere)) return
    const to = arrows[e.key]
    if (to) {
      e.preventDefault()
      if (e.shiftKey) { v.panBy(-to[0] * 60, -to[1] * 60); return }
      moveProbe(v, to)
      return
    }
    const act = single[e.key]
    if (!act) return
    e.preventDefault()
    act()
  })
}

const typing = () => document.activeElement instanceof HTMLInputElement && document.activeElement.type !== "range" || document.activeElement instanceof HTMLTextAreaElement

function moveProbe(v: Viewer, to: [number, number]) {
  const p = st.probe.peek(), page = st.sheet.peek()
  if (!p || !page) return
  const by = step(v.view.zoom)
  const to1 = (a: number, d: number) => round(Math.round(a / by) * by + d * by, 3)
  setProbe({ x: to1(p.x, to[0]), y: to1(p.y, to[1]) })
  keepInSight(v, st.probe.peek() ?? p)
}

/** Moves the sheet when the probe would leave what is seen of it. */
function keepInSight(v: Viewer, p: api.Point) {
  const c = byId("sheet").getBoundingClientRect()
  const at = v.toScreen(p), edge = 30
  const dx = at.x < edge ? edge - at.x : at.x > c.width - edge ? c.width - edge - at.x : 0
  const dy = at.y < edge ? edge - at.y : at.y > c.height - edge ? c.height - edge - at.y : 0
  if (dx || dy) v.panBy(dx, dy)
}

/** Shows a box with room round it, unless it is well in sight. */
export function goTo(b: api.Box) {
  const v = viewer
  if (!v) return
  const c = byId("sheet").getBoundingClientRect()
  st.probe.set({ x: round(b.x + b.w / 2, 2), y: round(b.y + b.h / 2, 2) })
  const best = Math.min(c.width / Math.max(b.w, 2), c.height / Math.max(b.h, 2)) * 0.45
  const least = Math.min(c.width / (st.sheet.peek()?.region.w ?? 200), c.height / (st.sheet.peek()?.region.h ?? 200)) * 0.9
  v.set({ x: b.x + b.w / 2, y: b.y + b.h / 2, zoom: Math.max(least, Math.min(best, 24)) }, true)
}

/** Goes nearer until a box fills the sheet; false where it nearly does already. */
export function nearer(b: api.Box): boolean {
  const v = viewer
  if (!v) return false
  const c = byId("sheet").getBoundingClientRect(), most = 60
  const zoom = Math.min(c.width / Math.max(b.w, 0.5), c.height / Math.max(b.h, 0.5), most) * 0.8
  if (zoom < v.view.zoom * 1.2) return false
  v.set({ x: b.x + b.w / 2, y: b.y + b.h / 2, zoom }, true)
  return true
}

/**
 * Lays the fold line through the first of the places that change, so that before and after meet there; through the middle where that is out of
 * sight. A line that lies already stays, unless all places are shown as before.
 */
export function foldAt(places: readonly api.Box[]) {
  const v = viewer, wide = byId("sheet").clientWidth
  const share = (x: number) => v ? v.toScreen({ x, y: 0 }).x / wide : 0.5
  if (st.fold.peek() > 0 && !(places.length > 0 && places.every(b => share(b.x + b.w) <= st.fold.peek()))) return
  const [b] = places
  const x = b ? share(b.x + b.w / 2) : 0.5
  st.fold.set(x > 0.04 && x < 0.96 ? Number(x.toFixed(3)) : 0.5)
}

/** Takes the last change back, or brings it again. */
export async function stepVersion(by: number) {
  const d = st.doc()
  if (!d) return
  const to = by < 0 ? st.lineage(d)[1] : st.madeOf(d)
  if (!to) return
  try {
    st.trial.set(null)
    st.chosen.set(-1)
    st.take(await api.setAt(d.id, to.n))
  } catch (e) { complain(e) }
}
