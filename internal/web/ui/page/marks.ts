// What is drawn over the sheet: the probe, the places of what was found, objects that are alike. Marks stand beside their
// places, never on them: numbers lie in a row above the sheet.

import type { Box } from "../api"
import * as st from "../state"
import type { Viewer } from "../viewer/viewer"
import { frame, nearer } from "./bench"
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
  const bundles: HTMLButtonElement[] = []
  effect(() => {
    frame()
    const all = made()
    const now = st.chosen()
    const room = byId("sheet").clientWidth
    wide = (el.querySelector<HTMLElement>(".tag:not([hidden])")?.offsetWidth ?? 28) + 2
    const sorted = [...all].map(([i, { b, at }]) => ({ i, b, at, want: v.toScreen({ x: at.x + at.w / 2, y: at.y }).x })).sort((a, z) => a.want - z.want)
    const feet = new Map<number, { x: number; y: number }>()
    const perRow = Math.max(1, Math.floor((room - 8) / wide))
    const groups = bundled(sorted, rows * perRow, room, t => t.i === now)
    const count = groups.length <= perRow ? 1 : rows
    const spread = lay(groups.map(g => g.reduce((sum, t) => sum + t.want, 0) / g.length), wide / count, room)
    let used = 0
    groups.forEach((g, k) => {
      const x = spread[k] ?? 0, y = 4 + (k % count) * wide
      const [first] = g
      for (const t of g) t.b.hidden = g.length > 1
      const b = g.length > 1 ? bundle(bundles, used++, g.map(t => t.i), g.map(t => t.at)) : first?.b
      if (!b || !first) return
      if (!b.isConnected) el.append(b)
      b.style.setProperty("left", `${(x - wide / 2 + 1).toFixed(1)}px`)
      b.style.setProperty("top", `${y}px`)
      if (g.length > 1) return
      if (first.i === now) b.setAttribute("aria-current", "true")
      else b.removeAttribute("aria-current")
      feet.set(first.i, { x, y: y + wide - 2 })
    })
    for (const b of bundles.slice(used)) b.remove()
    spots.set(feet)
  })
}

/** Puts neighbours together where there are more than find room, all but those that stay alone. Sorted by where they want to be. */
export function bundled<T extends { want: number }>(sorted: readonly T[], most: number, room: number, alone: (t: T) => boolean): T[][] {
  if (sorted.length <= most) return sorted.map(t => [t])
  const out: T[][] = []
  let from = -Infinity, open = false
  for (const t of sorted) {
    const x = Math.min(room, Math.max(0, t.want))
    if (open && !alone(t) && x - from < wide) out[out.length - 1]?.push(t)
    else {
      out.push([t])
      from = x
      open = !alone(t)
    }
  }
  return out
}

/** A button that stands for several numbers and leads nearer to their places, or to the list where they have one place. */
function bundle(all: HTMLButtonElement[], k: number, items: readonly number[], boxes: readonly Box[]): HTMLButtonElement {
  const b = all[k] ??= button("", () => {}, { class: "tag bundle", "data-key": `bundle-${k}` })
  const words = `+${items.length}`
  if (b.textContent !== words) b.textContent = words
  b.setAttribute("aria-label", `${items.length} of what was found lie here, the first is ${(items[0] ?? 0) + 1}: nearer`)
  b.onclick = () => {
    const x = Math.min(...boxes.map(o => o.x)), y = Math.min(...boxes.map(o => o.y))
    const w = Math.max(...boxes.map(o => o.x + o.w)) - x, h = Math.max(...boxes.map(o => o.y + o.h)) - y
    if (nearer({ x, y, w, h })) return
    st.section.set("found")
    st.chosen.set(items[0] ?? -1)
  }
  return b
}

/** Spreads places along a line so that none is nearer than apart to the next, moving each as little as need be. */
export function lay(wants: number[], apart: number, room: number): number[] {
  const low = wide / 2 + 2, high = room - wide / 2 - 2
  const out = wants.map(w => Math.min(high, Math.max(low, w)))
  for (let i = 1; i < out.length; i++) out[i] = Math.max(out[i] ?? 0, (out[i - 1] ?? 0) + apart)
  for (let i = out.length - 1, most = high; i >= 0; i--, most = (out[i + 1] ?? 0) - apart) out[i] = Math.min(out[i] ?? 0, most)
  return out.map(x => Math.max(low, x))
}
