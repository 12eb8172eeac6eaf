// The cut edge: the section through the layers along a row of the sheet, under it and aligned with it in x. The stock lies at
// the bottom, each layer is as thick as its tint times the thickness of its solid, in laydown order. Heights are far larger
// than widths; the bar at the right says how much.

import type { Box, Point } from "./sheet"
import { fillLayer, type Layer } from "./strata"

export type { Layer } from "./strata"

/** Amounts along a row as the server tells them. */
export interface Row {
  y: number
  x0: number
  x1: number
  /** First laid first; a toner laid twice counts twice. */
  toners: { name: string; thickness_um: number }[]
  /** By toner: base64 of a byte a step, 0 none to 255 solid. */
  tints: Record<string, string>
}

/** What the row of a view is asked for. */
export interface RowRequest { y: number; x0: number; x1: number; n: number }

/** What the cut edge needs of the viewer: where places of the sheet lie across the canvas above. */
export interface Across {
  readonly canvas: HTMLCanvasElement
  readonly view: { zoom: number }
  toSheet(px: number, py: number): Point
  toScreen(at: Point): Point
}

/** The most steps a row may have. */
const mostSteps = 4096
/** CSS pixels: the stock; the line above the highest pile, where the scale is told; the scale's bar at the right, beside a sheet that fits. */
const stockHeight = 22
const headroom = 24
const scaleWidth = 20

/** The row that a view shows of a page's region at a height in mm; null where it shows none. from and to: only between these places. */
export function rowOf(a: Across, region: Box, y: number, from = -Infinity, to = Infinity): RowRequest | null {
  const width = a.canvas.clientWidth
  const x0 = Math.max(region.x, a.toSheet(0, 0).x, from), x1 = Math.min(region.x + region.w, a.toSheet(width, 0).x, to)
  if (!(x1 > x0) || y < region.y || y >= region.y + region.h) return null
  const n = Math.min(mostSteps, Math.max(1, Math.ceil((x1 - x0) * a.view.zoom * devicePixelRatio)))
  return { y, x0, x1, n }
}

/** The rows of the states that a view shows at a height in mm, each with its rev: left of the fold line the one before. */
export function rowsOf(a: Across & { readonly foldAt: number | null }, now: State, before: State | null, y: number): [string, RowRequest][] {
  const fold = before && a.foldAt
  const all: [State, RowRequest | null][] = before && fold !== null
    ? [[before, rowOf(a, before.region, y, -Infinity, fold)], [now, rowOf(a, now.region, y, fold)]]
    : [[now, rowOf(a, now.region, y)]]
  return all.flatMap(([s, w]) => w ? [[s.rev, w]] : [])
}

/** What the rows of a state of a page are asked for by. */
interface State { rev: string; region: Box }

export class CutEdge {
  private layers = new Map<string, Layer>()
  private stock = { colour: "#fff", name: "" }
  /** CSS pixels of height for a µm; it only shrinks while the laydown stays, so that heights do not jump. */
  private scale = 0
  private readonly decoded = new WeakMap<Row, Uint8Array[]>()

  constructor(readonly canvas: HTMLCanvasElement) {}

  /** The toners of a page and its stock; to be told again when they change. */
  lay(layers: readonly Layer[], stock: { colour: string; name: string }): void {
    this.layers = new Map(layers.map(l => [l.name, l]))
    this.stock = stock
    this.scale = 0
  }

  /** Draws the section along a row (none: the bare bench), as the viewer stands, with the line of a probe at a place of the sheet. Two
   * rows lie side by side where the sheet is folded. */
  draw(rows: readonly Row[], across: Across, probe: Point | null): void {
    const { canvas } = this
    const ratio = devicePixelRatio
    const w = Math.max(1, Math.round(canvas.clientWidth * ratio)), h = Math.max(1, Math.round(canvas.clientHeight * ratio))
    if (canvas.width !== w || canvas.height !== h) {
      canvas.width = w
      canvas.height = h
    }
    const c = canvas.getContext("2d")
    if (!c) return
    c.clearRect(0, 0, w, h)
    const line = getComputedStyle(canvas).color
    // The two canvases may begin at different places of the page.
    const shift = across.canvas.getBoundingClientRect().left - canvas.getBoundingClientRect().left
    const ground = h - stockHeight * ratio
    this.fitHeights(rows, ground / ratio)
    for (const row of rows) this.section(c, row, across, shift, line, ratio, w, h)
    if (rows.length > 0) this.bar(c, across.view.zoom, line, ratio, w, ground)
    if (probe) {
      const x = Math.round((across.toScreen(probe).x + shift) * ratio) + 0.5
      c.strokeStyle = line
      c.lineWidth = Math.max(1, Math.round(ratio))
      c.setLineDash([4 * ratio, 3 * ratio])
      c.beginPath()
      c.moveTo(x, 0)
      c.lineTo(x, h)
      c.stroke()
      c.setLineDash([])
    }
  }

  private section(c: CanvasRenderingContext2D, row: Row, across: Across, shift: number, line: string, ratio: number, w: number, h: number): void {
    const tints = this.tints(row)
    const n = tints[0]?.length ?? 0
    const left = (across.toScreen({ x: row.x0, y: row.y }).x + shift) * ratio, right = (across.toScreen({ x: row.x1, y: row.y }).x + shift) * ratio
    const ground = h - stockHeight * ratio
    const step = n > 0 ? (right - left) / n : 0
    const from = Math.max(0, Math.round(left)), to = Math.min(w, Math.round(right))
    if (to <= from) return

    // The stock goes on below: its lower edge is torn.
    c.beginPath()
    c.moveTo(from, ground)
    c.lineTo(to, ground)
    c.lineTo(to, h)
    const tooth = 6 * ratio
    for (let x = to, i = 0; x > from; x -= tooth, i++) c.lineTo(x, h - (i % 2) * 3 * ratio)
    c.lineTo(from, h)
    c.closePath()
    c.fillStyle = this.stock.colour
    c.fill()
    c.globalAlpha = 0.55
    c.strokeStyle = line
    c.lineWidth = 0.75 * ratio
    c.stroke()
    c.globalAlpha = 1

    const base = new Float32Array(to - from).fill(ground), top = new Float32Array(to - from)
    row.toners.forEach((t, i) => {
      const amounts = tints[i]!, high = t.thickness_um * this.scale * ratio / 255
      let any = false
      for (let x = from; x < to; x++) {
        const tint = n > 0 ? amounts[Math.min(n - 1, Math.max(0, Math.floor((x + 0.5 - left) / step)))]! : 0
        if (tint > 0) any = true
        top[x - from] = base[x - from]! - tint * high
      }
      if (!any) return
      const layer = this.layers.get(t.name) ?? { name: t.name, kind: "spot", colour: "#888", thickness_um: t.thickness_um }
      for (const [a, b] of runs(base, top)) {
        c.beginPath()
        c.moveTo(from + a, base[a]!)
        for (let x = a; x < b; x++) {
          c.lineTo(from + x, top[x]!)
          c.lineTo(from + x + 1, top[x]!)
        }
        for (let x = b - 1; x >= a; x--) {
          c.lineTo(from + x + 1, base[x]!)
          c.lineTo(from + x, base[x]!)
        }
        c.closePath()
        fillLayer(c, layer, line, ratio)
      }
      base.set(top)
    })
  }

  /** Finds the pixels for a µm at which the highest pile fits. */
  private fitHeights(rows: readonly Row[], room: number): void {
    let most = 0, usual = 0
    for (const row of rows) {
      const tints = this.tints(row), n = tints[0]?.length ?? 0
      for (let k = 0; k < n; k++) {
        let pile = 0
        for (let i = 0; i < tints.length; i++) pile += tints[i]![k]! / 255 * row.toners[i]!.thickness_um
        most = Math.max(most, pile)
      }
      // At first as if one solid of every second toner lay there, that common rows look alike.
      usual = Math.max(usual, row.toners.reduce((sum, t) => sum + t.thickness_um, 0) / 2)
    }
    if (rows.length === 0) return
    const fits = Math.max(10, room - headroom) / Math.max(most, usual, 1)
    if (this.scale === 0 || fits < this.scale) this.scale = fits
  }

  private bar(c: CanvasRenderingContext2D, zoom: number, line: string, ratio: number, w: number, ground: number): void {
    const [um, high] = barFor(this.scale, (ground / ratio - headroom) * 0.7)
    const times = this.scale / (zoom / 1000)
    const x = w - scaleWidth / 2 * ratio, top = ground - high * ratio
    // Layers end before the bar, so that neither hides the other.
    c.fillStyle = getComputedStyle(this.canvas).backgroundColor
    c.fillRect(w - scaleWidth * ratio, 0, scaleWidth * ratio, c.canvas.height)
    c.fillStyle = line
    const thick = Math.max(1, Math.round(1.5 * ratio))
    c.fillRect(x, top, thick, ground - top)
    c.fillRect(x - 3 * ratio, top, 6 * ratio + thick, thick)
    c.fillRect(x - 3 * ratio, ground - thick, 6 * ratio + thick, thick)
    c.font = `${12 * ratio}px system-ui, sans-serif`
    c.textBaseline = "middle"
    c.textAlign = "right"
    const words = times >= 1.5 ? `the bar: ${um} µm, heights × ${twoDigits(times)}` : `the bar: ${um} µm`
    c.fillText(words, w - (scaleWidth + 4) * ratio, headroom / 2 * ratio)
    c.textAlign = "start"
  }

  private tints(row: Row): Uint8Array[] {
    let d = this.decoded.get(row)
    if (!d) {
      const by = new Map<string, Uint8Array>()
      for (const [name, text] of Object.entries(row.tints)) by.set(name, Uint8Array.from(atob(text), ch => ch.charCodeAt(0)))
      const n = Math.max(0, ...[...by.values()].map(v => v.length))
      d = row.toners.map(t => by.get(t.name) ?? new Uint8Array(n))
      this.decoded.set(row, d)
    }
    return d
  }
}

/** Runs of columns where there is a layer. */
function runs(base: Float32Array, top: Float32Array): [number, number][] {
  const out: [number, number][] = []
  let start = -1
  for (let x = 0; x <= base.length; x++) {
    const there = x < base.length && top[x]! < base[x]!
    if (there && start < 0) start = x
    if (!there && start >= 0) {
      out.push([start, x])
      start = -1
    }
  }
  return out
}

/** A round number of µm whose bar is at most so many CSS pixels high, and how high it is. */
function barFor(scale: number, most: number): [number, number] {
  let um = 0.5
  for (const next of [1, 2, 5, 10, 20, 50, 100, 200, 500]) if (next * scale <= most) um = next
  return [um, um * scale]
}

function twoDigits(v: number): string {
  const d = 10 ** Math.max(0, Math.floor(Math.log10(v)) - 1)
  return (Math.round(v / d) * d).toLocaleString("en")
}
