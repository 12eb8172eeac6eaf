// The sheet on a canvas: view, lamp, fold line, and when to draw. It knows nothing of the page around it.

import { colourOf, labText, type Colour } from "./benchcolour"
import { CanvasRenderer } from "./canvas"
import { makeGL } from "./gl"
import { listen, type Drag } from "./input"
import { makeLamp } from "./lamp"
import { coarsest, Pace, type Budget } from "./pace"
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
  /** Pixels of the screen along the side of one drawn while something moves, 1 to 6; unless said, as many as keep frames in time. */
  grain?: number
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
  /** Of the last frame: pixels of the screen along the side of one drawn, and how many were lit. */
  grain: number
  pixels: number
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
/** Milliseconds that frames may take while something moves, and of rest before all is drawn in full. */
const budgets: Record<"webgl2" | "canvas", Budget> = { webgl2: { most: 20, aim: 14 }, canvas: { most: 80, aim: 60 } }
const restMs = 120
/** Longer than that frames do not count: something else held them up. */
const heldUp = 1000
/** How many times longer a frame takes whose view changed than one whose lamp moved, about. */
const viewTimes = 3
/** Milliseconds of a glide from view to view. */
const glideMs = 160

/** What the renderer holds of one grain. */
interface Gathered {
  /** Where sheet and fold lay, the sources, the parts by name, and whether they lie over another source. */
  view: string
  of: string
  parts: Set<string>
  over: boolean
  /** The change that it took in last. */
  change: number
}
/** What a frame took in of tiles. */
type Took = "nothing" | "more" | "all"
const nothing = (): Gathered => ({ view: "", of: "", parts: new Set(), over: false, change: -1 })

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
  private across = 1 // pixels of the screen
  private down = 1
  private asked = 0
  private stale = true
  /** Changes of anything but the lamp, counted. */
  private change = 0
  private full = nothing()
  private coarse = nothing()
  private lost = false
  private level = -1
  private frameMs = 0
  private grain = 1 // of the last frame
  private resting = 0
  private moving: "" | "lamp" | "view" = ""
  private pace!: Record<"lamp" | "view", Pace>
  private timing = false
  private least = Infinity // milliseconds of a full frame
  private gliding = 0
  private idlers: (() => void)[] = []
  private bench: Colour = [0.5, 0.5, 0.5]
  private readonly stop = new AbortController()
  private readonly sizes: ResizeObserver
  private readonly calm = matchMedia("(prefers-reduced-motion: reduce)")
  private readonly dark = matchMedia("(prefers-color-scheme: dark)")

  /** The canvas has the size that its style gives it. */
  constructor(canvas: HTMLCanvasElement, private readonly options: Options = {}) {
    this.canvas = canvas
    const load = options.fetch ?? ((address, signal) => fetch(address, { signal }))
    this.tiles = new Tiles({
      hold: t => this.renderer.hold(t),
      drop: h => this.renderer.drop(h),
      changed: () => this.redraw(true),
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
    if (!options.ratio) this.followRatio()
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
    this.pace = { lamp: new Pace(budgets[gl.kind]), view: new Pace(budgets[gl.kind]) }
    this.least = Infinity
    this.timing = false
  }

  /** How it draws. */
  get kind(): "webgl2" | "canvas" { return this.renderer.kind }

  get stats(): Stats {
    const { tiles, renderer: { work } } = this
    return {
      tiles: tiles.count, bytes: tiles.bytes, mostBytes: tiles.most, fetched: tiles.fetched, waiting: tiles.waiting, level: this.level,
      frameMs: this.frameMs, grain: this.grain, pixels: work.pixels, draws: work.draws, gathers: work.gathers, lights: work.lights,
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
    return s.film && !s.backing ? { ...s, backing: labText(this.bench) } : { ...s }
  }

  /** Reads the bench's colour from the custom property --bench of the canvas anew. */
  recolour(): void {
    const text = getComputedStyle(this.canvas).getPropertyValue("--bench").trim()
    const c = text && colourOf(text)
    if (c && c.some((v, i) => v !== this.bench[i])) {
      this.bench = c
      this.sources = this.sources.map(s => s?.film ? { ...s, backing: labText(this.bench) } : s) as typeof this.sources
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
    this.move("lamp")
    this.redraw(false)
  }

  /** The fold line: what share of the width, from the left, shows the state before; 0 = none. */
  get fold(): number { return this.folded }
  set fold(f: number) {
    const to = Math.min(Math.max(f, 0), 1)
    if (to === this.folded) return
    this.folded = to
    this.move("view")
    this.redraw(true)
  }

  /** Where the fold line lies in mm of the sheet; null where there is none. */
  get foldAt(): number | null {
    return this.folded > 0 && this.sources[1] ? this.toSheet(this.folded * this.width, 0).x : null
  }

  private moved(): void {
    this.move("view")
    this.redraw(true)
    this.onview()
  }

  /** Draws in time rather than in full until things rest. */
  private move(what: "lamp" | "view"): void {
    if (this.moving !== "view") this.moving = what
    this.waitForRest()
  }

  private waitForRest(): void {
    clearTimeout(this.resting)
    // As long as a frame is being drawn, a hand that moves on could not be heard of.
    this.resting = setTimeout(() => this.timing && !this.lost ? this.waitForRest() : this.settle(), restMs)
  }

  private settle(): void {
    clearTimeout(this.resting)
    this.moving = ""
    if (this.grain > 1) this.redraw(false)
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

  /** The window may come to a screen of other pixels, or be zoomed: draws anew then. */
  private followRatio(): void {
    matchMedia(`(resolution: ${devicePixelRatio}dppx)`).addEventListener("change", () => {
      this.redraw(true)
      this.followRatio()
    }, { once: true, signal: this.stop.signal })
  }

  private resize(): void {
    const { canvas } = this
    this.ratio = this.options.ratio ?? devicePixelRatio
    const before = this.width
    this.width = Math.max(1, canvas.clientWidth)
    this.height = Math.max(1, canvas.clientHeight)
    this.across = Math.max(1, Math.round(this.width * this.ratio))
    this.down = Math.max(1, Math.round(this.height * this.ratio))
    this.full = nothing()
    this.coarse = nothing()
    if (before <= 1 && this.sources[0]) this.fit()
    this.redraw(true)
    this.draw()
  }

  private redraw(gather: boolean): void {
    this.stale = true
    if (gather) this.change++
    if (!this.asked) this.asked = requestAnimationFrame(() => {
      this.asked = 0
      this.draw()
      this.rest()
    })
  }

  private laid(source: Source, from: number, to: number): Laid {
    const { across: width, down: height, place } = this
    const scale = place.zoom * this.ratio
    // Whole pixels, so that texels fall on pixels where both are as large and panning blurs nothing.
    const x = Math.round(width / 2 - (place.x - source.region.x) * scale), y = Math.round(height / 2 - (place.y - source.region.y) * scale)
    return { source, x, y, scale, from, to, width, height }
  }

  /** Draws what is stale at once. */
  private draw(): void {
    if (this.lost || !this.stale) return
    if (this.ratio !== (this.options.ratio ?? devicePixelRatio)) {
      this.resize()
      return
    }
    const began = performance.now()
    const { renderer, moving } = this
    const [source, before] = this.sources
    const split = before && this.folded > 0 ? Math.round(this.folded * this.across) : 0
    const main = source && this.laid(source, split, this.across)
    this.size(moving && main && this.wide(main) ? this.options.grain ?? this.pace[moving].grain : 1)
    const took = this.takeIn(main, before, split)
    if (main || !source) renderer.light(this.scene(main, split))
    this.stale = false
    this.frameMs = performance.now() - began
    if (main) this.clock(began, took)
    this.onframe()
  }

  /** Gives the canvas pixels of a grain; the browser enlarges them. */
  private size(grain: number): void {
    const { canvas, renderer } = this
    const w = Math.ceil(this.across / grain), h = Math.ceil(this.down / grain)
    if (canvas.width !== w || canvas.height !== h) {
      canvas.width = w
      canvas.height = h
    }
    this.grain = grain
    if (!renderer.resize(w, h, grain > 1)) Object.assign(grain > 1 ? this.coarse : this.full, nothing())
  }

  /** Whether a sheet is large enough on the screen to be drawn coarsely. */
  private wide(l: Laid): boolean {
    const [x0, y0, x1, y1] = sheetOf(l)
    return Math.min(x1, l.width) - Math.max(x0, 0) > 4 * coarsest && Math.min(y1, l.height) - Math.max(y0, 0) > 4 * coarsest
  }

  /** Hands tiles to the renderer where anything but the lamp changed since it took some of this grain. */
  private takeIn(main: Laid | null, before: Source | null, split: number): Took {
    const held = this.grain === 1 ? this.full : this.coarse
    const view = [sheetOf(main), split, main?.scale].join()
    if (held.change === this.change && held.view === view) return "nothing"
    const parts: Part[] = [], wishes: Wish[] = [], { tiles, across: width } = this
    tiles.tick()
    const bytes = frameShare * tiles.limit
    let whole = true
    if (main && split < width) {
      const p = plan(main, tiles, bytes * (1 - split / width), parts, wishes)
      this.level = p.level
      whole = p.whole
    }
    if (before && split > 0) {
      const p = plan(this.laid(before, 0, split), tiles, bytes * split / width, parts, wishes)
      if (split >= width) this.level = p.level
      whole &&= p.whole
    }
    tiles.want(wishes)
    return this.gather(held, view, parts, main, whole)
  }

  /** Hands parts to the renderer: where the view stayed and only tiles of its level came, these alone. Another source in the same view
   * replaces the one before tile by tile, without a flash of what is coarse. */
  private gather(held: Gathered, view: string, parts: Part[], l: Laid | null, whole: boolean): Took {
    const of = this.sources.map(s => s && tileAddress(s, 0, 0, 0)).join(" ")
    const stays = view === held.view && l !== null
    if (!stays || of !== held.of) Object.assign(held, { view, of, parts: new Set(), over: stays })
    held.change = this.change
    const known = held.parts
    const fresh = parts.filter(p => !known.has(p.name) && (p.fine || !held.over))
    const more = stays && fresh.every(p => p.fine)
    if (more && fresh.length === 0) return "nothing"
    if (!more) known.clear()
    const taken = more ? fresh : parts
    for (const p of taken) known.add(p.name)
    const drawn = (all: Part[]) => this.grain > 1 ? all.map(p => this.coarsened(p)) : all
    this.renderer.gather(drawn(taken), this.drawn(sheetOf(l)), more, whole && more ? drawn(parts) : null)
    return more ? "more" : "all"
  }

  /** A rectangle of the screen in pixels that are drawn. */
  private drawn([x0, y0, x1, y1]: Rectangle): Rectangle {
    const { canvas, across, down } = this, sx = canvas.width / across, sy = canvas.height / down
    return [x0 * sx, y0 * sy, x1 * sx, y1 * sy]
  }

  /** A part in coarse pixels. A column belongs to the side of the fold line on which its middle lies. */
  private coarsened(p: Part): Part {
    const [x, y, right, bottom] = this.drawn([p.x, p.y, p.x + p.w, p.y + p.h])
    const [from, , to] = this.drawn([p.from, 0, p.to, 0])
    return { ...p, x, y, w: right - x, h: bottom - y, from: Math.ceil(from - 0.5), to: Math.ceil(to - 0.5), exact: false }
  }

  private scene(l: Laid | null, split: number): Scene {
    const region = l?.source.region ?? { w: 0, h: 0 }
    const scale = l?.scale ?? 1, x = l?.x ?? 0, y = l?.y ?? 0
    const share = this.canvas.width / this.across, ratio = this.ratio * share
    const [middleX, middleY, fold] = this.drawn([x + region.w * scale / 2, y + region.h * scale / 2, split, 0])
    return {
      lamp: makeLamp(this.lamp, Math.max(region.w, region.h), l?.source.glint),
      mm: 1 / (scale * share),
      middle: [middleX, middleY],
      sheet: this.drawn(sheetOf(l)),
      bench: this.bench,
      fold: [fold, split > 0 ? 10 * ratio : 0],
      ratio,
      grain: this.grain,
    }
  }

  /** Finds out what a frame took, to draw the next ones in time. */
  private clock(began: number, took: Took): void {
    if (this.timing || document.hidden) return
    this.timing = true
    const { moving, grain } = this
    this.renderer.whenDrawn(() => {
      this.timing = false
      if (document.hidden) return
      const ms = Math.min(performance.now() - began, heldUp), { lamp, view } = this.pace
      if (moving && took === "nothing") lamp.took(ms, grain)
      else if (moving === "view" && took === "all") view.took(ms, grain)
      if (grain > 1) return
      this.least = Math.min(this.least, ms)
      lamp.guess(this.least)
      view.guess(viewTimes * this.least)
    })
  }

  /** Resolves when every tile of the view is there (or was given up) and drawn in full, without waiting for rest. */
  idle(): Promise<void> {
    return new Promise(done => {
      this.idlers.push(done)
      this.settle()
      this.redraw(false)
    })
  }

  private rest(): void {
    if (!this.idlers.length || this.asked || this.grain > 1 || this.tiles.waiting > 0) return
    for (const done of this.idlers.splice(0)) done()
  }

  /** Draws at once and gives the picture, RGBA by rows from the top: in full, or as coarse as it is while something moves. */
  pixels(full = true): ImageData {
    if (full) this.settle()
    this.stale = true
    this.draw()
    return new ImageData(this.renderer.read(), this.canvas.width, this.canvas.height)
  }

  /** Draws the next frame at once, gathered anew or only lit, waits for it, and gives the milliseconds it took. */
  time(gather = false): number {
    this.renderer.finish()
    const began = performance.now()
    this.stale = true
    if (gather) {
      this.change++
      this.full.view = this.coarse.view = ""
    }
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
