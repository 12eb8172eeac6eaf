// What is kept of each pixel on the graphics card between gathering and lighting, and the rectangles it is lit in.

import { blockSide } from "./decode"
import { touched, type Held, type Part, type Rectangle } from "./renderer"

/** Pixels along the side of the cells that a screen is lit in, and what cells hold. */
const cellPixels = 32
const sheetCell = 1
const metalCell = 2
/** Cells along a side of the largest rectangle that is lit at once: small ones cost a software card more than their pixels. */
const mergedCells = 4

export class Screen {
  readonly body: WebGLTexture
  readonly metal: WebGLTexture
  /** Pixels that the sheet touches. */
  sheet: Rectangle = [0, 0, 0, 0]
  /** Rectangles that are lit: left, top, right, bottom in pixels; so many dull ones, then so many shiny ones. */
  readonly rectangles: WebGLBuffer
  dulls = 0
  shinies = 0
  private readonly kept: WebGLFramebuffer
  private readonly cells: Uint8Array

  constructor(private readonly gl: WebGL2RenderingContext, readonly width: number, readonly height: number) {
    this.cells = new Uint8Array(Math.ceil(width / cellPixels) * Math.ceil(height / cellPixels))
    this.rectangles = gl.createBuffer()
    this.kept = gl.createFramebuffer()
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.kept)
    this.body = screenTexture(gl, gl.RGBA32UI, width, height, gl.COLOR_ATTACHMENT0)
    this.metal = screenTexture(gl, gl.R32UI, width, height, gl.COLOR_ATTACHMENT1)
    gl.drawBuffers([gl.COLOR_ATTACHMENT0, gl.COLOR_ATTACHMENT1])
  }

  /** Makes the textures what is drawn into. more: what they hold stays. */
  begin(sheet: Rectangle, more: boolean): void {
    const { gl, width, height } = this
    this.sheet = touched(sheet, width, height)
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.kept)
    gl.viewport(0, 0, width, height)
    gl.disable(gl.SCISSOR_TEST)
    if (more) return
    gl.clearBufferuiv(gl.COLOR, 0, [0, 0, 0, 0])
    this.unmark()
  }

  /** Forgets all marks. Programs for other cells round otherwise, so that what stood in for tiles must not choose them. */
  unmark(): void { this.cells.fill(0) }

  /** Marks the cells that a part covers, and those where it has metal by blocks. */
  mark(p: Part, held: Held, metal: Uint8Array | null): void {
    const constant = held.width === 1 && held.height === 1
    this.markCells(p.x, p.y, p.x + p.w, p.y + p.h, p, metal && constant ? sheetCell | metalCell : sheetCell)
    if (!metal || constant) return
    const across = Math.ceil(held.width / blockSide), sx = p.w / p.texels[0], sy = p.h / p.texels[1]
    metal.forEach((there, i) => {
      if (!there) return
      const x = i % across * blockSide, y = Math.floor(i / across) * blockSide
      // Averages reach a texel beyond the block.
      this.markCells(p.x + (x - 1) * sx, p.y + (y - 1) * sy, p.x + (x + blockSide + 1) * sx, p.y + (y + blockSide + 1) * sy, p, metalCell)
    })
  }

  private markCells(left: number, top: number, right: number, bottom: number, p: Part, flag: number): void {
    const { cells, width, height } = this
    const across = Math.ceil(width / cellPixels)
    const i0 = Math.floor(Math.max(left, p.from) / cellPixels), i1 = Math.ceil(Math.min(right, p.to, width) / cellPixels)
    const j0 = Math.floor(Math.max(top, 0) / cellPixels), j1 = Math.ceil(Math.min(bottom, height) / cellPixels)
    for (let j = j0; j < j1; j++) for (let i = i0; i < i1; i++) cells[j * across + i]! |= flag
  }

  /** Makes rectangles of cells alike, inside the sheet. */
  end(): void {
    const { gl, cells, sheet, width, height } = this
    const across = Math.ceil(width / cellPixels), down = Math.ceil(height / cellPixels)
    const lists: [number[], number[]] = [[], []]
    /** Runs of the row above that may go on below, by first and last cell and kind: where in its list. */
    let open = new Map<number, number>()
    for (let j = 0; j < down; j++) {
      const now = new Map<number, number>()
      for (let i = 0; i < across;) {
        const kind = cells[j * across + i]! & metalCell ? 1 : 0
        if (!(cells[j * across + i]! & sheetCell)) {
          i++
          continue
        }
        let end = i + 1
        const same = (k: number) => cells[k]! & sheetCell && (cells[k]! & metalCell ? 1 : 0) === kind
        while (end < across && end - i < mergedCells && same(j * across + end)) end++
        const list = lists[kind]!, name = (i * across + end) * 4 + kind, above = j % mergedCells ? open.get(name) : undefined
        const bottom = Math.min((j + 1) * cellPixels, sheet[3])
        if (above !== undefined) {
          list[above + 3] = bottom
          now.set(name, above)
        } else {
          now.set(name, list.length)
          list.push(Math.max(i * cellPixels, sheet[0]), Math.max(j * cellPixels, sheet[1]), Math.min(end * cellPixels, sheet[2]), bottom)
        }
        i = end
      }
      open = now
    }
    this.dulls = lists[0].length / 4
    this.shinies = lists[1].length / 4
    gl.bindBuffer(gl.ARRAY_BUFFER, this.rectangles)
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([...lists[0], ...lists[1]]), gl.DYNAMIC_DRAW)
  }

  close(): void {
    const { gl } = this
    gl.deleteTexture(this.body)
    gl.deleteTexture(this.metal)
    gl.deleteBuffer(this.rectangles)
    gl.deleteFramebuffer(this.kept)
  }
}

/** A texture of whole numbers, attached to the frame buffer that is bound. */
function screenTexture(gl: WebGL2RenderingContext, format: number, width: number, height: number, attachment: number): WebGLTexture {
  const t = gl.createTexture()
  gl.activeTexture(gl.TEXTURE0)
  gl.bindTexture(gl.TEXTURE_2D, t)
  gl.texStorage2D(gl.TEXTURE_2D, 1, format, width, height)
  filter(gl, gl.TEXTURE_2D, gl.NEAREST)
  gl.framebufferTexture2D(gl.FRAMEBUFFER, attachment, gl.TEXTURE_2D, t, 0)
  return t
}

export function filter(gl: WebGL2RenderingContext, target: number, kind: number): void {
  gl.texParameteri(target, gl.TEXTURE_MIN_FILTER, kind)
  gl.texParameteri(target, gl.TEXTURE_MAG_FILTER, kind)
  gl.texParameteri(target, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE)
  gl.texParameteri(target, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE)
}
