// What the two ways of drawing (gl.ts, canvas.ts) have in common.

import type { Decoded } from "./decode"
import type { Lamp } from "./lamp"

/** A tile in the keeping of a renderer, as large as it is for it. */
export interface Held {
  readonly width: number
  readonly height: number
  readonly bytes: number
}

/** A tile on the screen: where it lies in pixels (fractions allowed, y down) and which columns of the screen it may touch. */
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
  /** Screen and texels coincide. */
  exact: boolean
}

/** Left, top, right, bottom in pixels. */
export type Rectangle = [number, number, number, number]

/** What light falls on, in pixels of the screen. */
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
  /** Pixels of the screen for one CSS pixel. */
  ratio: number
}

export interface Renderer {
  readonly kind: "webgl2" | "canvas"
  /** Draw calls and pixels worked on since it was made, for tests and measurements. */
  readonly work: { gathers: number; draws: number; lights: number }
  /** Sets the size of the screen in pixels. */
  resize(width: number, height: number): void
  hold(t: Decoded): Held
  drop(h: Held): void
  /** Takes in what the tiles say of each pixel; later parts cover earlier ones. Nothing is taken in outside the sheet, whose left, top,
   * right and bottom are whole pixels. more: on top of what was gathered. */
  gather(parts: readonly Part[], sheet: Rectangle, more: boolean): void
  /** Lights what was gathered. */
  light(scene: Scene): void
  /** The picture of the last light, RGBA by rows from the top; only right after light. */
  read(): Uint8Array<ArrayBuffer>
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
