// The core sample: a drawn column of what lies at the probe, top first, in the same look as the cut edge.

import { fillLayer, type Layer } from "./strata"

/** A toner at the probe: first laid first. */
export interface Deposit {
  name: string
  /** Percent. */
  tint: number
  /** Mean thickness. */
  um: number
}

/** CSS pixels of the stock at the foot, and the least a layer is drawn high. */
const foot = 16
const least = 2

/** Draws the column over the whole canvas: heights by µm, the whole pile as high as the room. Answers the middle of each layer in
 * CSS pixels from the top, first laid first, for labels beside it. */
export function drawCore(canvas: HTMLCanvasElement, stack: readonly Deposit[], layers: readonly Layer[], stock: string): number[] {
  const ratio = devicePixelRatio
  const w = Math.max(1, Math.round(canvas.clientWidth * ratio)), h = Math.max(1, Math.round(canvas.clientHeight * ratio))
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w
    canvas.height = h
  }
  const c = canvas.getContext("2d")
  if (!c) return []
  const line = getComputedStyle(canvas).color
  c.clearRect(0, 0, w, h)
  const box = (top: number, bottom: number) => {
    c.beginPath()
    c.rect(ratio / 2, top, w - ratio, bottom - top)
  }
  const ground = h - foot * ratio
  box(ground, h)
  fillLayer(c, { name: "", kind: "stock", colour: stock, thickness_um: 0 }, line, ratio)
  const pile = stack.reduce((sum, d) => sum + d.um, 0)
  const room = ground - 2 * ratio - least * ratio * stack.length
  const scale = pile > 0 ? Math.max(0, Math.min(room / pile, 12 * ratio)) : 0
  let at = ground
  return stack.map(d => {
    const high = d.um * scale + least * ratio
    const layer = layers.find(l => l.name === d.name) ?? { name: d.name, kind: "spot", colour: "#888", thickness_um: d.um }
    box(at - high, at)
    fillLayer(c, layer, line, ratio)
    at -= high
    return (at + high / 2) / ratio
  })
}
