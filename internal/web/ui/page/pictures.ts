// Small drawings of presses and stocks, made of their data and seen edge-on, as everything here.

import type { PressInfo, StockInfo } from "../api"
import { h, s } from "./dom"

/** A press: each of its sets as a pile of toners on a strip of stock, first laid at the bottom. */
export function pressPicture(p: PressInfo): SVGElement {
  const high = Math.max(1, ...p.sets.map(x => x.stations.length))
  const slab = 9, gap = 2, wide = 64, apart = 14
  const height = high * (slab + gap) + 8
  const width = p.sets.length * (wide + apart) - apart
  const out = s("svg", { viewBox: `0 0 ${width} ${height}`, width, height, class: "picture", "aria-hidden": "true" })
  p.sets.forEach((set, i) => {
    const x = i * (wide + apart)
    out.append(s("rect", { x, y: height - 5, width: wide, height: 5, class: "strip" }))
    set.stations.forEach((name, k) => {
      const t = p.toners.find(t => t.name === name)
      const y = height - 7 - (k + 1) * (slab + gap) + gap
      out.append(s("rect", { x: x + 0.5, y, width: wide - 1, height: slab, fill: t?.on_white ?? "none", class: `slab ${kindClass(t?.kind ?? "")}` }))
    })
  })
  return out
}

export const kindClass = (kind: string) => `kind-${kind.replace(/\W+/g, "-")}`

/** The sets of a press in words, first laid first. */
export function setWords(p: PressInfo): string {
  return p.sets.map(x => x.stations.join(", ")).join("; or ")
}

/** A stock: a swatch with its edge as thick as the sheet. */
export function stockPicture(k: StockInfo): HTMLElement {
  const mm = k.thickness_um ? k.thickness_um / 1000 : k.weight_gsm / 900
  return h("span", { class: `swatch surface-${k.surface}`, "aria-hidden": "true", css: { "background-color": k.front } },
    h("span", { class: "swatch-edge", css: { height: `${Math.max(2, Math.min(12, mm * 22)).toFixed(1)}px`, "background-color": k.back || k.front } }))
}

export function stockWords(k: StockInfo): string {
  return [k.surface, k.weight_gsm ? `${k.weight_gsm} g/m²` : "", k.hits ? `stands ${k.hits} passes` : ""].filter(x => x).join(", ")
}
