// What the two ways of drawing (gl.ts, canvas.ts) have in common.

import type { Decoded } from "./decode"
import type { Lamp } from "./lamp"

/** A tile in the keeping of a renderer, as large as it is for it. */
export interface Held {
  readonly width: number
  readonly height: number
  readonly bytes: number
}

/** A tile on the canvas: where it lies in pixels (fractions allowed, y down) and which columns it may touch. */
export interface Part {
  /** Tells it from others of the same view. */
  name: string
  /** Of the level that the view asks for; others stand in. */
  fine: boolean
  held: Held
  x: number
  y: number
  w: number
  h: number
  /** Size of the tile in texels; a constant tile is held as one. */
  texels: [number, number]
  from: number
  to: number
  /** Above 1: the way between texels is that part of a texel. */
  sharp: number
  /** Pixels and texels coincide. */
  exact: boolean
}

/** Left, top, right, bottom in pixels. */
export type Rectangle = [number, number, number, number]

/** Where a pixel takes in four texels spread over it instead of the four round its middle: where it is so much larger than a texel.
 * Answers by how many texels these lie off its middle; 0: the four round the middle. */
export function spreadOf(p: Part): number {
  const across = p.texels[0] / p.w
  return across > 4 / 3 ? across / 4 : 0
}

/** Whole pixels that a rectangle touches, of so many across and down. */
export function touched(r: Rectangle, width: number, height: number): Rectangle {
  return [Math.max(Math.floor(r[0]), 0), Math.max(Math.floor(r[1]), 0), Math.min(Math.ceil(r[2]), width), Math.min(Math.ceil(r[3]), height)]
}

/** What light falls on, in pixels. */
export interface Scene {
  lamp: Lamp
  /** mm a pixel. */
  mm: number
  /** Middle of the sheet. */
  middle: [number, number]
  sheet: Rectangle
  /** sRGB 0 to 1. */
  bench: [number, number, number]
  /** Fold line: its column, and how wide its shadow is; below 0 = none. */
  fold: [number, number]
  /** Pixels for one CSS pixel. */
  ratio: number
  /** Pixels of the screen along the side of one, which the browser enlarges: flakes that have a shape at the screen's own keep it. */
  grain: number
}

/** Draws in pixels of a canvas, as large as those of the screen or coarser. */
export interface Renderer {
  readonly kind: "webgl2" | "canvas"
  /** Since it was made: screens gathered from tiles, tiles drawn, screens lit; and how many pixels were lit last. */
  readonly work: { gathers: number; draws: number; lights: number; pixels: number }
  /** Sets the size in pixels, which the canvas has from now on. What was gathered of a size stays while pixels of another grain are drawn,
   * coarse or not; answers whether it did. */
  resize(width: number, height: number, coarse: boolean): boolean
  hold(t: Decoded): Held
  drop(h: Held): void
  /** Takes in what the tiles say of each pixel; later parts cover earlier ones. Nothing is taken in outside the sheet, whose left, top,
   * right and bottom are whole pixels unless these are coarse. more: on top of what was gathered. all: these parts
   * are all that is to be seen now, none but tiles of their level, so that what stood in before leaves nothing behind. */
  gather(parts: readonly Part[], sheet: Rectangle, more: boolean, all: readonly Part[] | null): void
  /** Lights what was gathered. */
  light(scene: Scene): void
  /** The picture of the last light, RGBA by rows from the top; only right after light. */
  read(): Uint8ClampedArray<ArrayBuffer>
  /** Calls once all that was asked for is drawn, at some later time. */
  whenDrawn(done: () => void): void
  /** Waits until all is drawn. */
  finish(): void
  close(): void
}

/** The shadow of the sheet on the bench: way in pixels, softness in pixels, depth. */
export function shadow(s: Scene): [number, number, number, number] {
  const lift = 3 * s.ratio, z = Math.max(s.lamp.to[2], 0.3)
  const most = 3 * lift
  const way = (v: number) => Math.min(Math.max(-v / z * lift, -most), most)
  return [way(s.lamp.to[0]), -way(s.lamp.to[1]), 7 * s.ratio, 0.45]
}
