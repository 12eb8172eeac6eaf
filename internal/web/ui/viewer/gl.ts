// Drawing with WebGL2.

import { blockSide, type Decoded } from "./decode"
import { GamutTable } from "./gamut"
import { cellSide, poisson, poissonRows, poissonTable, shardsBelow } from "./glint"
import { shadow, type Held, type Part, type Rectangle, type Renderer, type Scene } from "./renderer"
import { benchFragment, gatherPlain, gatherSmooth, gatherVertex, lightFragment, lightVertex } from "./shader"

interface GLHeld extends Held { texture: WebGLTexture; metal: Uint8Array | null }

interface Program {
  id: WebGLProgram
  at: (name: string) => WebGLUniformLocation | null
}

/** Makes a renderer, or null where the browser has no WebGL2; throws where the programs do not compile. */
export function makeGL(canvas: HTMLCanvasElement): GLRenderer | null {
  const gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, stencil: false, powerPreference: "low-power" })
  return gl && new GLRenderer(gl)
}

/** Side in pixels of the cells that the screen is lit in, and what they hold. */
const cellPixels = 32
const sheetCell = 1
const metalCell = 2
/** Cells along a side of the largest rectangle that is lit at once: small ones cost a software card more than their pixels. */
const mergedCells = 4

export class GLRenderer implements Renderer {
  readonly kind = "webgl2"
  readonly work = { gathers: 0, draws: 0, lights: 0 }
  private width = 1
  private height = 1
  private readonly plain: Program
  private readonly smooth: Program
  private readonly bench: Program
  private readonly dull: Program
  private readonly shiny: Program
  private shards: Program | null = null // made when one is as near as that
  private readonly kept: WebGLFramebuffer
  private body: WebGLTexture | null = null
  private metal: WebGLTexture | null = null
  /** Rectangles that are lit: left, top, right, bottom; the dull ones first, then the shiny ones, then room for the bench's. */
  private readonly rectangles: WebGLBuffer
  private readonly noVertices: WebGLVertexArrayObject
  private readonly cellVertices: WebGLVertexArrayObject
  private cells = new Uint8Array(0)
  private sheet: Rectangle = [0, 0, 0, 0]
  private dulls = 0
  private shinies = 0

  constructor(private readonly gl: WebGL2RenderingContext) {
    this.plain = program(gl, gatherVertex, gatherPlain)
    this.smooth = program(gl, gatherVertex, gatherSmooth)
    this.bench = program(gl, lightVertex, benchFragment)
    this.dull = this.lights("dull")
    this.shiny = this.lights("shiny")
    this.kept = gl.createFramebuffer()
    this.noVertices = gl.createVertexArray()
    this.cellVertices = gl.createVertexArray()
    this.rectangles = gl.createBuffer()
    gl.bindVertexArray(this.cellVertices)
    gl.bindBuffer(gl.ARRAY_BUFFER, this.rectangles)
    gl.enableVertexAttribArray(0)
    gl.vertexAttribDivisor(0, 1)
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1)

    gl.activeTexture(gl.TEXTURE2)
    gl.bindTexture(gl.TEXTURE_2D, gl.createTexture())
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R16F, poisson.slices, poissonRows, 0, gl.RED, gl.FLOAT, poissonTable())
    filter(gl, gl.TEXTURE_2D, gl.NEAREST)
    const table = gamutTable()
    gl.activeTexture(gl.TEXTURE3)
    gl.bindTexture(gl.TEXTURE_3D, gl.createTexture())
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGBA8, table.side, table.side, table.side, 0, gl.RGBA, gl.UNSIGNED_BYTE, Uint8Array.from(table.nodes, v => Math.round(255 * v)))
    filter(gl, gl.TEXTURE_3D, gl.LINEAR)
    gl.texParameteri(gl.TEXTURE_3D, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE)
    gl.activeTexture(gl.TEXTURE0)

  }

  private lights(kind: "dull" | "shiny" | "shards"): Program {
    const { gl } = this
    const p = program(gl, lightVertex, lightFragment(gamutTable(), kind))
    gl.useProgram(p.id)
    gl.uniform1i(p.at("u_body"), 0)
    gl.uniform1i(p.at("u_metal"), 1)
    gl.uniform1i(p.at("u_poisson"), 2)
    gl.uniform1i(p.at("u_gamut"), 3)
    return p
  }

  resize(width: number, height: number): void {
    const { gl } = this
    this.width = width
    this.height = height
    this.cells = new Uint8Array(Math.ceil(width / cellPixels) * Math.ceil(height / cellPixels))
    gl.deleteTexture(this.body)
    gl.deleteTexture(this.metal)
    const screen = (unit: number, format: number) => {
      const t = gl.createTexture()
      gl.activeTexture(gl.TEXTURE0 + unit)
      gl.bindTexture(gl.TEXTURE_2D, t)
      gl.texStorage2D(gl.TEXTURE_2D, 1, format, width, height)
      filter(gl, gl.TEXTURE_2D, gl.NEAREST)
      gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0 + unit, gl.TEXTURE_2D, t, 0)
      return t
    }
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.kept)
    this.body = screen(0, gl.RGBA32UI)
    this.metal = screen(1, gl.R32UI)
    gl.drawBuffers([gl.COLOR_ATTACHMENT0, gl.COLOR_ATTACHMENT1])
    gl.activeTexture(gl.TEXTURE0)
  }

  hold(t: Decoded): GLHeld {
    const { gl } = this
    const texture = gl.createTexture()
    gl.bindTexture(gl.TEXTURE_2D_ARRAY, texture)
    gl.texStorage3D(gl.TEXTURE_2D_ARRAY, 1, gl.RGBA8, t.width, t.height, 3)
    t.layers.forEach((l, i) => gl.texSubImage3D(gl.TEXTURE_2D_ARRAY, 0, 0, 0, i, t.width, t.height, 1, gl.RGBA, gl.UNSIGNED_BYTE, l))
    filter(gl, gl.TEXTURE_2D_ARRAY, gl.NEAREST)
    return { texture, metal: t.metal, width: t.width, height: t.height, bytes: 12 * t.width * t.height }
  }

  drop(h: Held): void {
    this.gl.deleteTexture((h as GLHeld).texture)
  }

  gather(parts: readonly Part[], sheet: Rectangle, more: boolean): void {
    const { gl, work } = this
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.kept)
    gl.bindVertexArray(this.noVertices)
    gl.viewport(0, 0, this.width, this.height)
    gl.disable(gl.SCISSOR_TEST)
    if (!more) {
      gl.clearBufferuiv(gl.COLOR, 0, [0, 0, 0, 0])
      this.cells.fill(0)
    }
    const [x0, y0, x1, y1] = this.sheet = [Math.max(sheet[0], 0), Math.max(sheet[1], 0), Math.min(sheet[2], this.width), Math.min(sheet[3], this.height)]
    gl.enable(gl.SCISSOR_TEST)
    gl.activeTexture(gl.TEXTURE0)
    let bound: Program | null = null
    for (const p of parts) {
      const left = Math.max(p.from, x0), right = Math.min(p.to, x1)
      if (right <= left || y1 <= y0) continue
      const held = p.held as GLHeld
      const constant = held.width === 1 && held.height === 1
      const use = constant || p.exact ? this.plain : this.smooth
      if (use !== bound) {
        gl.useProgram(use.id)
        gl.uniform2f(use.at("u_size"), this.width, this.height)
        bound = use
      }
      gl.bindTexture(gl.TEXTURE_2D_ARRAY, held.texture)
      gl.scissor(left, this.height - y1, right - left, y1 - y0)
      gl.uniform4f(use.at("u_quad"), p.x, p.y, p.w, p.h)
      gl.uniform4f(use.at("u_texel"), 0, 0, p.texels[0], p.texels[1])
      gl.uniform2i(use.at("u_last"), held.width - 1, held.height - 1)
      if (use === this.smooth) gl.uniform1f(use.at("u_sharp"), p.sharp)
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4)
      this.mark(p, held)
      work.draws++
    }
    gl.disable(gl.SCISSOR_TEST)
    this.fillRectangles()
    work.gathers++
  }

  /** Marks the cells of the screen that a part covers, and those where it has metal. */
  private mark(p: Part, held: GLHeld): void {
    const constant = held.width === 1 && held.height === 1
    this.markCells(p.x, p.y, p.x + p.w, p.y + p.h, p.from, p.to, held.metal && constant ? sheetCell | metalCell : sheetCell)
    if (!held.metal || constant) return
    const across = Math.ceil(held.width / blockSide), sx = p.w / p.texels[0], sy = p.h / p.texels[1]
    held.metal.forEach((there, i) => {
      if (!there) return
      const x = i % across * blockSide, y = Math.floor(i / across) * blockSide
      // Averages reach a texel beyond the block.
      this.markCells(p.x + (x - 1) * sx, p.y + (y - 1) * sy, p.x + (x + blockSide + 1) * sx, p.y + (y + blockSide + 1) * sy, p.from, p.to, metalCell)
    })
  }

  private markCells(x0: number, y0: number, x1: number, y1: number, from: number, to: number, flag: number): void {
    const across = Math.ceil(this.width / cellPixels)
    const i0 = Math.floor(Math.max(x0, from) / cellPixels), i1 = Math.ceil(Math.min(x1, to, this.width) / cellPixels)
    const j0 = Math.floor(Math.max(y0, 0) / cellPixels), j1 = Math.ceil(Math.min(y1, this.height) / cellPixels)
    for (let j = j0; j < j1; j++) for (let i = i0; i < i1; i++) this.cells[j * across + i]! |= flag
  }

  /** Makes rectangles of cells alike, inside the sheet. */
  private fillRectangles(): void {
    const { gl, cells, sheet } = this
    const across = Math.ceil(this.width / cellPixels), down = Math.ceil(this.height / cellPixels)
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
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([...lists[0], ...lists[1], ...new Array<number>(16).fill(0)]), gl.DYNAMIC_DRAW)
  }

  light(s: Scene): void {
    const { gl, work, width, height } = this
    gl.bindFramebuffer(gl.FRAMEBUFFER, null)
    gl.viewport(0, 0, width, height)
    gl.clearColor(...s.bench, 1)
    gl.clear(gl.COLOR_BUFFER_BIT)
    gl.activeTexture(gl.TEXTURE1)
    gl.bindTexture(gl.TEXTURE_2D, this.metal)
    gl.activeTexture(gl.TEXTURE0)
    gl.bindTexture(gl.TEXTURE_2D, this.body)
    gl.bindVertexArray(this.cellVertices)
    gl.bindBuffer(gl.ARRAY_BUFFER, this.rectangles)

    // The shadow falls on four strips round the sheet.
    const [dx, dy, soft, depth] = shadow(s), [x0, y0, x1, y1] = s.sheet
    const left = x0 + Math.min(dx, 0) - soft, right = x1 + Math.max(dx, 0) + soft, top = y0 + Math.min(dy, 0) - soft, bottom = y1 + Math.max(dy, 0) + soft
    const strips = new Float32Array([left, top, right, y0, left, y1, right, bottom, left, y0, x0, y1, x1, y0, right, y1])
    const cells = this.dulls + this.shinies
    gl.bufferSubData(gl.ARRAY_BUFFER, 16 * cells, strips)
    this.use(this.bench, s)
    gl.uniform4f(this.bench.at("u_sheet"), ...s.sheet)
    gl.uniform4f(this.bench.at("u_shadow"), dx, dy, soft, depth)
    this.fill(cells, 4)
    if (this.dulls > 0) {
      this.use(this.dull, s)
      this.fill(0, this.dulls)
    }
    if (this.shinies > 0) {
      const near = s.lamp.glint && s.mm / cellSide(s.mm, s.lamp.glint.flake) < shardsBelow
      const p = near ? this.shards ??= this.lights("shards") : this.shiny
      this.use(p, s)
      this.glint(p, s)
      this.fill(this.dulls, this.shinies)
    }
    work.lights++
  }

  /** Draws so many rectangles from one on. */
  private fill(first: number, count: number): void {
    const { gl } = this
    gl.vertexAttribPointer(0, 4, gl.FLOAT, false, 0, 16 * first)
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, count)
  }

  private use(p: Program, s: Scene): void {
    const { gl } = this
    const l = s.lamp
    gl.useProgram(p.id)
    gl.uniform2f(p.at("u_size"), this.width, this.height)
    gl.uniform2f(p.at("u_middle"), ...s.middle)
    gl.uniform1f(p.at("u_mm"), s.mm)
    gl.uniform3f(p.at("u_to"), ...l.to)
    gl.uniform3f(p.at("u_eye"), ...l.eye)
    gl.uniform1f(p.at("u_nv"), l.eye[2])
    gl.uniform1f(p.at("u_distance"), l.distance)
    gl.uniform1f(p.at("u_strength"), l.strength)
    gl.uniform1f(p.at("u_ambient"), l.ambient)
    gl.uniform1f(p.at("u_widening"), l.widening)
    gl.uniform2f(p.at("u_fold"), ...s.fold)
    gl.uniform3f(p.at("u_bench"), ...s.bench)
  }

  private glint(p: Program, s: Scene): void {
    const { gl } = this
    const g = s.lamp.glint
    if (!g) {
      gl.uniform4f(p.at("u_glint"), 0, 0, 0, 0)
      return
    }
    const side = cellSide(s.mm, g.flake), scale = s.mm / side
    const x = -s.sheet[0] * scale, y = -s.sheet[1] * scale
    gl.uniform4f(p.at("u_glint"), g.density * side * side, g.cap, g.cells, 1)
    gl.uniform3f(p.at("u_cell"), scale, x - Math.floor(x), y - Math.floor(y))
    gl.uniform2i(p.at("u_first"), Math.floor(x), Math.floor(y))
    gl.uniform1ui(p.at("u_seed"), g.seed >>> 0)
  }

  read(): Uint8Array<ArrayBuffer> {
    const { gl, width, height } = this
    const up = new Uint8Array(4 * width * height)
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, up)
    const out = new Uint8Array(up.length), row = 4 * width
    for (let y = 0; y < height; y++) out.set(up.subarray((height - 1 - y) * row, (height - y) * row), y * row)
    return out
  }

  finish(): void {
    // A pixel that is read waits for the card; finish() alone need not.
    this.gl.readPixels(0, 0, 1, 1, this.gl.RGBA, this.gl.UNSIGNED_BYTE, new Uint8Array(4))
  }

  close(): void {
    this.gl.getExtension("WEBGL_lose_context")?.loseContext()
  }
}

let table: GamutTable | undefined
/** The one table of the page, made when first asked for. */
export function gamutTable(): GamutTable { return table ??= new GamutTable() }

function filter(gl: WebGL2RenderingContext, target: number, kind: number): void {
  gl.texParameteri(target, gl.TEXTURE_MIN_FILTER, kind)
  gl.texParameteri(target, gl.TEXTURE_MAG_FILTER, kind)
  gl.texParameteri(target, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE)
  gl.texParameteri(target, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE)
}

function program(gl: WebGL2RenderingContext, vertex: string, fragment: string): Program {
  const id = gl.createProgram()
  for (const [kind, source] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]] as const) {
    const shader = gl.createShader(kind)
    if (!shader) throw new Error("the graphics card is gone")
    gl.shaderSource(shader, source)
    gl.compileShader(shader)
    gl.attachShader(id, shader)
    gl.deleteShader(shader)
  }
  gl.linkProgram(id)
  if (!gl.getProgramParameter(id, gl.LINK_STATUS) && !gl.isContextLost()) {
    const logs = (gl.getAttachedShaders(id) ?? []).map(s => gl.getShaderInfoLog(s))
    throw new Error(`the graphics card does not take the programs of the sheet: ${[gl.getProgramInfoLog(id), ...logs].join("\n")}`)
  }
  const places = new Map<string, WebGLUniformLocation | null>()
  return {
    id,
    at: name => {
      if (!places.has(name)) places.set(name, gl.getUniformLocation(id, name))
      return places.get(name) ?? null
    },
  }
}
