// The sheet on a canvas: view, lamp, fold line, and when to draw. It knows nothing of the page around it.

import { CanvasRenderer } from "./canvas"
import { makeGL } from "./gl"
import { listen, type Drag } from "./input"
import { makeLamp } from "./lamp"
import { plan, type Laid } from "./plan"
import type { Part, Rectangle, Renderer, Scene } from "./renderer"
import { tileAddress, type Light, type Point, type Source, type View } from "./sheet"
import { Tiles, type Wish } from "./tiles"

export type { Box, Glint, Level, Light, Point, Source, View } from "./sheet"
export type { Drag } from "./input"

export interface Options {
  /** Bytes that tiles may take, 96 MB unless said. */
  bytes?: number
  /** Draw with "webgl2" or "canvas"; unless said, the first that the browser has. */
  kind?: "webgl2" | "canvas"
  /** How tiles are fetched; the browser's fetch unless said. */
  fetch?: (address: string, signal: AbortSignal) => Promise<Response>
  /** Pixels of the screen for one CSS pixel; the browser's unless said. */
  ratio?: number
}

export interface Stats {
  tiles: number
  /** Bytes of the tiles held, and the most there ever were. */
  bytes: number
  mostBytes: number
  /** Tiles that came since the viewer was made, and those missed now. */
  fetched: number
  waiting: number
  /** The level drawn last; -1: nothing. */
  level: number
  /** Milliseconds of the last frame on this side of the graphics card. */
  frameMs: number
  /** Since the viewer was made: tiles drawn, screens gathered from tiles, screens lit. */
  draws: number
  gathers: number
  lights: number
}

const megabyte = 1 << 20
/** Share of the store that the tiles of one frame may take. */
const frameShare = 0.7
/** CSS pixels free round a sheet that fits, and how near the fold line is taken hold of. */
const rim = 28
const grip = 10
/** Pixels of the screen that the finest texel may be large; and how much smaller than fitting a sheet may be. */
const largestTexel = 8
const smallest = 0.25
/** Without WebGL2: milliseconds that a frame may take while something moves, and of rest before it is drawn in full. */
const movingMs = 70
const restMs = 140
/** Milliseconds of a glide from view to view. */
const glideMs = 160

export class Viewer {
  /** The canvas drawn on. It is another than the one given where that one could not be used. */
  canvas: HTMLCanvasElement
  /** After each frame. */
  onframe: () => void = () => {}
  /** A tap on the bench: where, in mm of the sheet. */
  onpoint: (at: Point, e: PointerEvent) => void = () => {}
  /** The pointer moves without a button; null: it left. */
  onhover: (at: Point | null, e: PointerEvent | null) => void = () => {}
  /** The view changed, by hand or by call. */
  onview: () => void = () => {}
  /** The fold line was moved by hand. */
  onfold: (fold: number) => void = () => {}
  /** A tile could not be had (410: the rev is gone). */
  onproblem: (source: Source, status: number, what: string) => void = () => {}
  /** A drag that begins at a place in mm may be the page's. */
  claim: (at: Point, e: PointerEvent) => Drag | null = () => null

  private renderer!: Renderer
  private readonly tiles: Tiles
  private sources: [Source | null, Source | null] = [null, null]
  private place: View = { x: 0, y: 0, zoom: 1 }
  private lamp: Light = { up: 66, round: -40, tiltTop: 0, tiltRight: 0, lit: true }
  private folded = 0
  private width = 1 // CSS pixels
  private height = 1
  private ratio = 1
  private scaled = 1 // pixels of the screen for one drawn, without WebGL2
  private asked = 0
  private stale = { gather: true, light: true }
  private whole = false
  /** What was gathered: the view, the sources, the parts by name, and whether over another source. */
  private drawn = { view: "", of: "", parts: new Set<string>(), over: false }
  private lost = false
  private level = -1
  private frameMs = 0
  private resting = 0
  private moving = false
  private slow = 1
  private gliding = 0
  private idlers: (() => void)[] = []
  private bench: [number, number, number] = [0.5, 0.5, 0.5]
  private readonly stop = new AbortController()
  private readonly sizes: ResizeObserver
  private readonly calm = matchMedia("(prefers-reduced-motion: reduce)")
  private readonly dark = matchMedia("(prefers-color-scheme: dark)")

  constructor(canvas: HTMLCanvasElement, private readonly options: Options = {}) {
    this.canvas = canvas
    const load = options.fetch ?? ((address, signal) => fetch(address, { signal }))
    this.tiles = new Tiles({
      hold: t => this.renderer.hold(t),
      drop: h => this.renderer.drop(h),
      changed: () => { this.redraw(true) },
      failed: (source, status, what) => this.onproblem(source, status, what),
      fetch: load,
    }, options.bytes ?? 96 * megabyte)
    this.make()
    const { signal } = this.stop
    this.canvas.addEventListener("webglcontextlost", e => {
      e.preventDefault()
      this.lost = true
      this.tiles.clear(true)
    }, { signal })
    this.canvas.addEventListener("webglcontextrestored", () => {
      this.lost = false
      this.tiles.clear(true) // those that came meanwhile
      this.make()
      this.resize()
    }, { signal })
    this.dark.addEventListener("change", () => this.recolour(), { signal })
    listen(this.canvas, {
      panBy: (dx, dy) => this.panBy(dx, dy),
      zoomBy: (f, at) => this.zoomBy(f, at),
      claim: (px, py, e) => this.take(px, py, e),
      tap: (px, py, e) => this.onpoint(this.toSheet(px, py), e),
      hover: (px, py, e) => this.hover(px, py, e),
    }, signal)
    this.sizes = new ResizeObserver(() => this.resize())
    this.sizes.observe(this.canvas)
    this.recolour()
    this.resize()
  }

  private make(): void {
    let gl: Renderer | null = null
    if (this.options.kind !== "canvas") {
      try {
        gl = makeGL(this.canvas)
      } catch (e) {
        // A canvas that gave a WebGL2 context gives no other; a copy takes its place.
        console.warn(e)
        const copy = this.canvas.cloneNode(false) as HTMLCanvasElement
        this.canvas.replaceWith(copy)
        this.canvas = copy
      }
    }
    if (!gl) {
      const context = this.canvas.getContext("2d", { alpha: false })
      if (!context) throw new Error("this browser gives no canvas to draw on")
      gl = new CanvasRenderer(context)
    }
    this.renderer = gl
  }

  /** How it draws. */
  get kind(): "webgl2" | "canvas" { return this.renderer.kind }

  get stats(): Stats {
    const { tiles, renderer: { work } } = this
    return {
      tiles: tiles.count, bytes: tiles.bytes, mostBytes: tiles.most, fetched: tiles.fetched, waiting: tiles.waiting, level: this.level,
      frameMs: this.frameMs, draws: work.draws, gathers: work.gathers, lights: work.lights,
    }
  }

  /** Shows a page; before is what lies at the left of the fold line. The view stays unless nothing was shown before. */
  show(source: Source | null, before: Source | null = null): void {
    const first = !this.sources[0]
    this.sources = [source && this.backed(source), before && this.backed(before)]
    if (first && source) this.fit()
    this.redraw(true)
  }

  /** A film with the bench behind it. */
  private backed(s: Source): Source {
    return s.film && !s.backing ? { ...s, backing: this.benchLab() } : { ...s }
  }

  /** The bench's colour as the backing of an address: CIELAB (D50) of its sRGB colour. */
  benchLab(): string {
    const [r, g, b] = this.bench.map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4) as [number, number, number]
    // sRGB to XYZ of D50, by the matrix of IEC 61966-2-1 and the Bradford adaptation of ICC.1:2022 Annex E.
    const f = (t: number) => t > 216 / 24389 ? Math.cbrt(t) : (24389 / 27 * t + 16) / 116
    const x = f((0.4360747 * r + 0.3850649 * g + 0.1430804 * b) / 0.9642956)
    const y = f(0.2225045 * r + 0.7168786 * g + 0.0606169 * b)
    const z = f((0.0139322 * r + 0.0971045 * g + 0.7141733 * b) / 0.8251046)
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)].map(v => (Math.round(10 * v) / 10 + 0).toFixed(1)).join(",") // + 0: no -0
  }

  /** Reads the bench's colour from the custom property --bench of the canvas anew. */
  recolour(): void {
    const text = getComputedStyle(this.canvas).getPropertyValue("--bench").trim()
    const c = text && colourOf(text)
    if (c && c.some((v, i) => v !== this.bench[i])) {
      this.bench = c
      this.sources = this.sources.map(s => s?.film ? { ...s, backing: this.benchLab() } : s) as typeof this.sources
    }
    this.redraw(true)
  }

  get view(): View { return { ...this.place } }

  /** Moves to a view; glide: on the way, unless the person wants no motion. */
  set(view: Partial<View>, glide = false): void {
    cancelAnimationFrame(this.gliding)
    const from = this.place, to = this.within({ ...from, ...view })
    if (!glide || this.calm.matches) {
      this.place = to
      this.moved()
      return
    }
    const start = performance.now()
    const step = () => {
      const t = Math.min(1, (performance.now() - start) / glideMs), e = t * (2 - t)
      const zoom = from.zoom * (to.zoom / from.zoom) ** e
      this.place = t === 1 ? to : { x: from.x + (to.x - from.x) * e, y: from.y + (to.y - from.y) * e, zoom }
      this.moved()
      if (t < 1) this.gliding = requestAnimationFrame(step)
    }
    step()
  }

  private within(v: View): View {
    const s = this.sources[0]
    if (!s) return v
    const least = smallest * this.fitting(s.region.w, s.region.h)
    const finest = s.levels.at(-1)?.dpi ?? 4800
    const most = Math.max(least, largestTexel * finest / 25.4 / this.ratio)
    const { x, y, w, h } = s.region
    return {
      zoom: Math.min(Math.max(v.zoom, least), most),
      // The middle of the screen stays on the sheet, so that it cannot be lost.
      x: Math.min(Math.max(v.x, x), x + w), y: Math.min(Math.max(v.y, y), y + h),
    }
  }

  private fitting(w: number, h: number): number {
    return Math.max(1e-3, Math.min((this.width - 2 * rim) / w, (this.height - 2 * rim) / h))
  }

  /** Shows the whole sheet, or a part in mm. */
  fit(part = this.sources[0]?.region, glide = false): void {
    if (!part) return
    this.set({ x: part.x + part.w / 2, y: part.y + part.h / 2, zoom: this.fitting(part.w, part.h) }, glide)
  }

  /** Zooms by a factor; what lies at a place of the canvas (CSS pixels, its middle unless said) stays there. */
  zoomBy(factor: number, at = { x: this.width / 2, y: this.height / 2 }): void {
    const from = this.place, dx = at.x - this.width / 2, dy = at.y - this.height / 2
    const zoom = this.within({ ...from, zoom: from.zoom * factor }).zoom
    this.set({ zoom, x: from.x + dx / from.zoom - dx / zoom, y: from.y + dy / from.zoom - dy / zoom })
  }

  /** Moves the sheet by CSS pixels. */
  panBy(dx: number, dy: number): void {
    const { x, y, zoom } = this.place
    this.set({ x: x - dx / zoom, y: y - dy / zoom })
  }

  /** The place in mm under CSS pixels of the canvas. */
  toSheet(px: number, py: number): Point {
    const { x, y, zoom } = this.place
    return { x: x + (px - this.width / 2) / zoom, y: y + (py - this.height / 2) / zoom }
  }

  /** CSS pixels of the canvas over a place in mm. */
  toScreen(at: Point): Point {
    const { x, y, zoom } = this.place
    return { x: (at.x - x) * zoom + this.width / 2, y: (at.y - y) * zoom + this.height / 2 }
  }

  get light(): Light { return { ...this.lamp } }

  /** Moves the lamp or tilts the sheet. */
  set light(l: Partial<Light>) {
    const n = { ...this.lamp, ...l }
    n.up = Math.min(Math.max(n.up, 0), 90)
    n.tiltTop = Math.min(Math.max(n.tiltTop, -80), 80)
    n.tiltRight = Math.min(Math.max(n.tiltRight, -80), 80)
    this.lamp = n
    this.move()
    this.redraw(false)
  }

  /** The fold line: what share of the width, from the left, shows the state before; 0 = none. */
  get fold(): number { return this.folded }
  set fold(f: number) {
    this.folded = Math.min(Math.max(f, 0), 1)
    this.redraw(true)
  }

  private moved(): void {
    this.move()
    this.redraw(true)
    this.onview()
  }

  /** Without WebGL2, draws coarsely until things rest. */
  private move(): void {
    if (this.renderer.kind !== "canvas") return
    this.moving = true
    clearTimeout(this.resting)
    this.resting = setTimeout(() => {
      this.moving = false
      this.redraw(true)
    }, restMs)
  }

  private take(px: number, py: number, e: PointerEvent): Drag | null {
    if (this.onFold(px)) return {
      move: x => {
        // Off 0, which would be no fold line.
        this.fold = Math.min(Math.max(x / this.width, 0.001), 1)
        this.onfold(this.folded)
      },
    }
    return this.claim(this.toSheet(px, py), e)
  }

  private onFold(px: number): boolean {
    return this.folded > 0 && this.sources[1] !== null && Math.abs(px - this.folded * this.width) <= grip
  }

  private hover(px: number, py: number, e: PointerEvent | null): void {
    this.canvas.style.cursor = e && this.onFold(px) ? "ew-resize" : ""
    this.onhover(e && this.toSheet(px, py), e)
  }

  private resize(): void {
    const { canvas } = this
    this.ratio = this.options.ratio ?? devicePixelRatio
    const before = this.width
    this.width = Math.max(1, canvas.clientWidth)
    this.height = Math.max(1, canvas.clientHeight)
    const w = Math.max(1, Math.round(this.width * this.ratio)), h = Math.max(1, Math.round(this.height * this.ratio))
    if (canvas.width !== w || canvas.height !== h) {
      canvas.width = w
      canvas.height = h
    }
    this.scaled = 1
    this.renderer.resize(w, h)
    this.drawn.view = ""
    if (before <= 1 && this.sources[0]) this.fit()
    this.redraw(true)
    this.draw()
  }

  private redraw(gather: boolean): void {
    this.stale.light = true
    this.stale.gather ||= gather
    if (!this.asked) this.asked = requestAnimationFrame(() => {
      this.asked = 0
      this.draw()
      this.rest()
    })
  }

  private laid(source: Source, from: number, to: number): Laid {
    const { canvas, place, scaled } = this
    const width = Math.ceil(canvas.width / scaled), height = Math.ceil(canvas.height / scaled)
    const scale = place.zoom * this.ratio / scaled
    // Whole pixels, so that texels fall on pixels where both are as large and panning blurs nothing.
    const x = Math.round(width / 2 - (place.x - source.region.x) * scale), y = Math.round(height / 2 - (place.y - source.region.y) * scale)
    return { source, x, y, scale, from, to, width, height }
  }

  /** Draws what is stale at once. */
  private draw(): void {
    if (this.lost || !(this.stale.gather || this.stale.light)) return
    const began = performance.now()
    this.rescale()
    const { renderer, tiles } = this
    const [source, before] = this.sources
    const width = Math.ceil(this.canvas.width / this.scaled)
    const split = before && this.folded > 0 ? Math.round(this.folded * width) : 0
    const main = source && this.laid(source, split, width)
    if (this.stale.gather) {
      const parts: Part[] = [], wishes: Wish[] = []
      tiles.tick()
      this.whole = true
      const bytes = frameShare * tiles.limit
      if (main && split < width) {
        const p = plan(main, tiles, bytes * (1 - split / width), parts, wishes)
        this.level = p.level
        this.whole = p.whole
      }
      if (before && split > 0) {
        const p = plan(this.laid(before, 0, split), tiles, bytes * split / width, parts, wishes)
        if (split >= width) this.level = p.level
        this.whole &&= p.whole
      }
      tiles.want(wishes)
      this.gather(parts, main, split)
    }
    if (main || !source) renderer.light(this.scene(main, split))
    this.stale = { gather: false, light: false }
    this.frameMs = performance.now() - began
    if (renderer.kind === "canvas") this.pace()
    this.onframe()
  }

  /** Hands parts to the renderer: where the view stayed and only tiles of its level came, these alone. Another source in the same view
   * replaces the one before tile by tile, without a flash of what is coarse. */
  private gather(parts: Part[], l: Laid | null, split: number): void {
    const sheet = sheetOf(l), { drawn } = this
    const view = [sheet, split, this.scaled, l?.scale].join()
    const of = this.sources.map(s => s && tileAddress(s, 0, 0, 0)).join(" ")
    const stays = view === drawn.view && l !== null
    if (stays && of !== drawn.of) this.drawn = { view, of, parts: new Set(), over: true }
    else if (!stays) this.drawn = { view, of, parts: new Set(), over: false }
    const known = this.drawn.parts
    const fresh = parts.filter(p => !known.has(p.name) && (p.fine || !this.drawn.over))
    const more = stays && fresh.every(p => p.fine)
    if (more && fresh.length === 0) return
    if (!more) known.clear()
    const taken = more ? fresh : parts
    for (const p of taken) known.add(p.name)
    this.renderer.gather(taken, sheet, more)
  }

  private scene(l: Laid | null, split: number): Scene {
    const region = l?.source.region ?? { w: 0, h: 0 }
    const scale = l?.scale ?? 1, x = l?.x ?? 0, y = l?.y ?? 0
    const ratio = this.ratio / this.scaled
    return {
      lamp: makeLamp(this.lamp, Math.max(region.w, region.h), l?.source.glint),
      mm: 1 / scale,
      middle: [x + region.w * scale / 2, y + region.h * scale / 2],
      sheet: sheetOf(l),
      bench: this.bench,
      fold: [split > 0 ? split : -1, 10 * ratio],
      ratio,
    }
  }

  /** Without WebGL2: fewer pixels while something moves, as many fewer as frames were too slow. */
  private rescale(): void {
    if (this.renderer.kind !== "canvas") return
    const scaled = this.moving ? this.slow : 1
    if (scaled === this.scaled) return
    this.scaled = scaled
    this.renderer.resize(Math.ceil(this.canvas.width / scaled), Math.ceil(this.canvas.height / scaled))
    this.drawn.view = ""
    this.stale.gather = true
  }

  private pace(): void {
    const full = this.frameMs * this.scaled * this.scaled
    this.slow = Math.min(Math.max(Math.ceil(Math.sqrt(full / movingMs)), 1), 6)
  }

  /** Resolves when every tile of the view is there (or was given up) and drawn in full. */
  idle(): Promise<void> {
    return new Promise(done => {
      this.idlers.push(done)
      this.redraw(false)
    })
  }

  private rest(): void {
    if (!this.idlers.length || this.asked || this.moving || this.tiles.waiting > 0) return
    for (const done of this.idlers.splice(0)) done()
  }

  /** Whether every tile of the view is drawn in its own resolution. */
  get complete(): boolean { return this.whole }

  /** Draws at once and gives the picture, RGBA by rows from the top. */
  pixels(): ImageData {
    this.stale.light = true
    this.draw()
    return new ImageData(new Uint8ClampedArray(this.renderer.read().buffer), Math.ceil(this.canvas.width / this.scaled), Math.ceil(this.canvas.height / this.scaled))
  }

  /** Draws the next frame at once, gathered anew or only lit, waits for it, and gives the milliseconds it took. */
  time(gather = false): number {
    this.renderer.finish()
    const began = performance.now()
    this.stale = { gather, light: true }
    if (gather) this.drawn.view = ""
    this.draw()
    this.renderer.finish()
    return performance.now() - began
  }

  /** Lets go of everything. */
  close(): void {
    this.stop.abort()
    this.sizes.disconnect()
    cancelAnimationFrame(this.asked)
    cancelAnimationFrame(this.gliding)
    clearTimeout(this.resting)
    this.tiles.clear()
    this.renderer.close()
  }
}

/** The sheet in whole pixels; those it covers in part are its own, as in pictures. */
function sheetOf(l: Laid | null): Rectangle {
  if (!l) return [-1e4, -1e4, -1e4, -1e4]
  const { w, h } = l.source.region
  return [l.x, l.y, Math.ceil(l.x + w * l.scale - 1e-6), Math.ceil(l.y + h * l.scale - 1e-6)]
}

/** sRGB 0 to 1 of a CSS colour: #rgb, #rrggbb or rgb(r g b). */
function colourOf(text: string): [number, number, number] | null {
  const hex = /^#([0-9a-f]{3}|[0-9a-f]{6})$/i.exec(text)?.[1]
  if (hex) {
    const d = hex.length / 3
    return [0, 1, 2].map(i => parseInt(hex.slice(i * d, i * d + d).padStart(2, hex[i * d]!), 16) / 255) as [number, number, number]
  }
  const n = /^rgb\(([^)]*)\)$/i.exec(text)?.[1]?.split(/[\s,/]+/).map(Number)
  return n && n.length >= 3 && n.every(v => v >= 0) ? [n[0]! / 255, n[1]! / 255, n[2]! / 255] : null
}
