// What is drawn over the sheet: the probe, the places of what was found, objects that are alike. Marks stand beside their
// places, never on them: numbers lie in a row above the sheet.

import type { Box } from "../api"
import * as st from "../state"
import type { Viewer } from "../viewer/viewer"
import { frame } from "./bench"
import { byId, button, fill, s } from "./dom"
import { effect, signal } from "./signal"
import { severityWords } from "./words"

export function startMarks(v: Viewer) {
  tags(v)
  const over = byId("over")
  const svg = s("svg", { "aria-hidden": "true" })
  over.append(svg)
  effect(() => {
    frame()
    const page = st.sheet()
    if (!page) { svg.replaceChildren(); return }
    svg.replaceChildren(...places(v), ...alike(v), ...probe(v))
  })
}

function box(v: Viewer, b: Box, room: number) {
  const a = v.toScreen({ x: b.x, y: b.y }), z = v.toScreen({ x: b.x + b.w, y: b.y + b.h })
  return { x: a.x - room, y: a.y - room, width: Math.max(1, z.x - a.x) + 2 * room, height: Math.max(1, z.y - a.y) + 2 * room }
}

/** A line that shows on any ground: light on dark. */
function twice(make: (c: string) => SVGElement): SVGElement[] {
  return [make("under"), make("upper")]
}

function places(v: Viewer): SVGElement[] {
  if (!st.marks() || st.section() !== "found") return []
  const out: SVGElement[] = []
  const now = st.chosen()
  st.findings().forEach((f, i) => {
    if (f.place.page !== st.pageNo() || !f.place.box) return
    const b = box(v, f.place.box, i === now ? 6 : 3)
    if (i === now) {
      out.push(...twice(c => corners(b, c)))
      const tag = spots().get(i)
      if (tag) out.push(...twice(c => s("line", { x1: tag.x, y1: tag.y, x2: Math.min(b.x + b.width, Math.max(b.x, tag.x)), y2: Math.max(tag.y, b.y), class: `lead ${c}` })))
    } else out.push(...twice(c => s("rect", { ...b, class: `found ${c}` })))
  })
  return out
}

/** The four corners of a box, so that its edges stay free. */
function corners(b: { x: number; y: number; width: number; height: number }, c: string): SVGElement {
  const l = Math.min(14, b.width / 3, b.height / 3)
  const { x, y } = b, r = x + b.width, u = y + b.height
  return s("path", { class: `corners ${c}`, d: `M${x} ${y + l}V${y}H${x + l}M${r - l} ${y}H${r}V${y + l}M${r} ${u - l}V${u}H${r - l}M${x + l} ${u}H${x}V${u - l}` })
}

function alike(v: Viewer): SVGElement[] {
  return st.lit().flatMap(b => twice(c => s("rect", { ...box(v, b, 2), rx: 2, class: `alike ${c}` })))
}

function probe(v: Viewer): SVGElement[] {
  const p = st.probe()
  if (!p) return []
  const at = v.toScreen(p)
  const wide = byId("sheet").clientWidth, high = byId("sheet").clientHeight
  const gap = 13
  return [
    ...twice(c => s("path", { class: `level ${c}`, d: `M0 ${at.y}H${at.x - gap}M${at.x + gap} ${at.y}H${wide}` })),
    ...twice(c => s("path", { class: `drop ${c}`, d: `M${at.x} ${at.y + gap}V${high}` })),
    ...twice(c => s("circle", { class: `ring ${c}`, cx: at.x, cy: at.y, r: gap - 2 })),
    ...twice(c => s("circle", { class: `point ${c}`, cx: at.x, cy: at.y, r: 1.5 })),
  ]
}

/** Where the foot of each number lies, on the canvas. */
const spots = signal<ReadonlyMap<number, { x: number; y: number }>>(new Map())
const rows = 2
/** The width of a number with what is free beside it; it grows with the type. */
let wide = 30

function tags(v: Viewer) {
  const el = byId("tags")
  const made = signal<ReadonlyMap<number, { b: HTMLButtonElement; at: Box }>>(new Map())
  effect(() => {
    const page = st.pageNo()
    const all = new Map<number, { b: HTMLButtonElement; at: Box }>()
    const list = st.marks() && st.section() !== "change" ? st.findings() : []
    list.forEach((f, i) => {
      if (f.place.page !== page || !f.place.box) return
      all.set(i, { at: f.place.box, b: button(String(i + 1), () => { st.section.set("found"); st.chosen.set(i) }, {
        class: `tag ${f.severity}`, "data-key": `tag-${i}`, title: f.what, "aria-label": `${i + 1}, ${severityWords[f.severity].toLowerCase()}: ${f.what}` }) })
    })
    fill(el, [...all.values()].map(t => t.b))
    made.set(all)
  })
  effect(() => {
    frame()
    const all = made()
    const now = st.chosen()
    const room = byId("sheet").clientWidth
    wide = (el.querySelector<HTMLElement>(".tag")?.offsetWidth ?? 28) + 2
    const sorted = [...all].map(([i, { b, at }]) => ({ i, b, want: v.toScreen({ x: at.x + at.w / 2, y: at.y }).x })).sort((a, z) => a.want - z.want)
    const feet = new Map<number, { x: number; y: number }>()
    const perRow = Math.max(1, Math.floor((room - 8) / wide))
    const count = sorted.length <= perRow ? 1 : rows
    const spread = lay(sorted.map(t => t.want), wide / count, room)
    sorted.forEach((t, k) => {
      const x = spread[k] ?? 0, y = 4 + (k % count) * wide
      t.b.style.setProperty("left", `${(x - wide / 2 + 1).toFixed(1)}px`)
      t.b.style.setProperty("top", `${y}px`)
      if (t.i === now) t.b.setAttribute("aria-current", "true")
      else t.b.removeAttribute("aria-current")
      feet.set(t.i, { x, y: y + wide - 2 })
    })
    spots.set(feet)
  })
}

/** Spreads places along a line so that none is nearer than apart to the next, moving each as little as need be. */
export function lay(wants: number[], apart: number, room: number): number[] {
  const low = wide / 2 + 2, high = room - wide / 2 - 2
  const out = wants.map(w => Math.min(high, Math.max(low, w)))
  for (let i = 1; i < out.length; i++) out[i] = Math.max(out[i] ?? 0, (out[i - 1] ?? 0) + apart)
  for (let i = out.length - 1, most = high; i >= 0; i--, most = (out[i + 1] ?? 0) - apart) out[i] = Math.min(out[i] ?? 0, most)
  return out.map(x => Math.max(low, x))
}
