// Drawing with WebGL2.

import type { Decoded } from "./decode"
import { GamutTable } from "./gamut"
import { flakeSide, poisson, poissonRows, poissonTable, shaped } from "./glint"
import { shadow, spreadOf, type Held, type Part, type Rectangle, type Renderer, type Scene } from "./renderer"
import { filter, Screen } from "./screen"
import { benchFragment, gatherPlain, gatherSmooth, gatherSpread, gatherVertex, lightFragment, lightVertex } from "./shader"

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

/** Milliseconds between looks whether all is drawn. */
const lookAgain = 2

export class GLRenderer implements Renderer {
  readonly kind = "webgl2"
  readonly work = { gathers: 0, draws: 0, lights: 0, pixels: 0 }
  private readonly plain: Program
  private readonly smooth: Program
  private spread: Program | null = null // made when first drawn coarsely
  private readonly bench: Program
  private readonly dull: Program
  private readonly shiny: Program
  private shards: Program | null = null // made when one is as near as that
  private full: Screen | null = null
  private coarse: Screen | null = null
  /** The one that is drawn. */
  private screen!: Screen
  private readonly strips: WebGLBuffer
  private readonly noVertices: WebGLVertexArrayObject
  private readonly cellVertices: WebGLVertexArrayObject
  private closed = false

  constructor(private readonly gl: WebGL2RenderingContext) {
    this.plain = program(gl, gatherVertex, gatherPlain)
    this.smooth = program(gl, gatherVertex, gatherSmooth)
    this.bench = program(gl, lightVertex, benchFragment)
    this.dull = this.lights("dull")
    this.shiny = this.lights("shiny")
    this.noVertices = gl.createVertexArray()
    this.cellVertices = gl.createVertexArray()
    this.strips = gl.createBuffer()
    gl.bindVertexArray(this.cellVertices)
    gl.bindBuffer(gl.ARRAY_BUFFER, this.strips)
    gl.enableVertexAttribArray(0)
    gl.vertexAttribDivisor(0, 1)
    gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA)
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

  resize(width: number, height: number, coarse: boolean): boolean {
    let screen = coarse ? this.coarse : this.full
    const stays = screen !== null && screen.width === width && screen.height === height
    if (!screen || !stays) {
      screen?.close()
      screen = new Screen(this.gl, width, height)
    }
    if (coarse) this.coarse = screen
    else this.full = screen
    this.screen = screen
    return stays
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

  gather(parts: readonly Part[], sheet: Rectangle, more: boolean, all: readonly Part[] | null): void {
    const { gl, work, screen } = this
    screen.begin(sheet, more)
    gl.bindVertexArray(this.noVertices)
    gl.enable(gl.SCISSOR_TEST)
    gl.activeTexture(gl.TEXTURE0)
    const [x0, y0, x1, y1] = screen.sheet, whole = sheet.every(Number.isInteger)
    let bound: Program | null = null
    for (const p of parts) {
      const left = Math.max(p.from, x0), right = Math.min(p.to, x1)
      if (right <= left || y1 <= y0) continue
      const held = p.held as GLHeld
      const constant = held.width === 1 && held.height === 1, spread = spreadOf(p)
      const use = constant || p.exact ? this.plain : spread ? this.spread ??= program(gl, gatherVertex, gatherSpread) : this.smooth
      if (use !== bound) {
        gl.useProgram(use.id)
        gl.uniform2f(use.at("u_size"), screen.width, screen.height)
        bound = use
      }
      gl.bindTexture(gl.TEXTURE_2D_ARRAY, held.texture)
      gl.scissor(left, screen.height - y1, right - left, y1 - y0)
      // What lies at an edge of the sheet is drawn past it, so that pixels which the edge cuts have something to be lit.
      const l = !whole && p.x < sheet[0] + 0.5 ? -1 : 0, t = !whole && p.y < sheet[1] + 0.5 ? -1 : 0
      const w = p.w - l + (!whole && p.x + p.w > sheet[2] - 1 ? 1 : 0), h = p.h - t + (!whole && p.y + p.h > sheet[3] - 1 ? 1 : 0)
      const across = p.texels[0] / p.w, down = p.texels[1] / p.h
      gl.uniform4f(use.at("u_quad"), p.x + l, p.y + t, w, h)
      if (whole) gl.uniform4f(use.at("u_texel"), 0, 0, p.texels[0], p.texels[1])
      else gl.uniform4f(use.at("u_texel"), l * across, t * down, w * across, h * down)
      gl.uniform2i(use.at("u_last"), held.width - 1, held.height - 1)
      if (use === this.smooth) gl.uniform1f(use.at("u_sharp"), p.sharp)
      else if (use === this.spread) gl.uniform1f(use.at("u_spread"), spread)
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4)
      screen.mark(p, held, held.metal)
      work.draws++
    }
    gl.disable(gl.SCISSOR_TEST)
    if (all) {
      screen.unmark()
      for (const p of all) screen.mark(p, p.held, (p.held as GLHeld).metal)
    }
    screen.end()
    work.gathers++
  }

  light(s: Scene): void {
    const { gl, work, screen } = this
    const [left, top, right, bottom] = screen.sheet
    gl.bindFramebuffer(gl.FRAMEBUFFER, null)
    gl.viewport(0, 0, screen.width, screen.height)
    gl.clearColor(...s.bench, 1)
    gl.clear(gl.COLOR_BUFFER_BIT)
    this.cells(s)
    this.shadow(s)
    work.lights++
    work.pixels = Math.max(0, right - left) * Math.max(0, bottom - top)
  }

  /** Lights what the tiles said, cell by cell. */
  private cells(s: Scene): void {
    const { gl, screen } = this
    gl.activeTexture(gl.TEXTURE1)
    gl.bindTexture(gl.TEXTURE_2D, screen.metal)
    gl.activeTexture(gl.TEXTURE0)
    gl.bindTexture(gl.TEXTURE_2D, screen.body)
    gl.bindVertexArray(this.cellVertices)
    gl.bindBuffer(gl.ARRAY_BUFFER, screen.rectangles)
    if (screen.dulls > 0) {
      this.use(this.dull, s)
      this.fill(0, screen.dulls)
    }
    if (screen.shinies > 0) {
      const p = shaped(s) ? this.shards ??= this.lights("shards") : this.shiny
      this.use(p, s)
      this.glint(p, s)
      this.fill(screen.dulls, screen.shinies)
    }
  }

  /** Draws the shadow of the sheet, which falls on four strips round it, and the bench where an edge of the sheet cuts pixels. */
  private shadow(s: Scene): void {
    const { gl, bench } = this
    const [dx, dy, soft, depth] = shadow(s), [x0, y0, x1, y1] = s.sheet
    const left = x0 + Math.min(dx, 0) - soft, right = x1 + Math.max(dx, 0) + soft, top = y0 + Math.min(dy, 0) - soft, bottom = y1 + Math.max(dy, 0) + soft
    const inner: Rectangle = [Math.ceil(x0), Math.ceil(y0), Math.floor(x1), Math.floor(y1)]
    gl.bindVertexArray(this.cellVertices)
    gl.bindBuffer(gl.ARRAY_BUFFER, this.strips)
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([
      left, top, right, inner[1], left, inner[3], right, bottom, left, inner[1], inner[0], inner[3], inner[2], inner[1], right, inner[3],
    ]), gl.DYNAMIC_DRAW)
    this.use(bench, s)
    gl.uniform4f(bench.at("u_sheet"), ...s.sheet)
    gl.uniform4f(bench.at("u_shadow"), dx, dy, soft, depth)
    gl.enable(gl.BLEND)
    this.fill(0, 4)
    gl.disable(gl.BLEND)
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
    gl.uniform2f(p.at("u_size"), this.screen.width, this.screen.height)
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
    const side = flakeSide(s, g), scale = s.mm / side
    const x = -s.sheet[0] * scale, y = -s.sheet[1] * scale
    gl.uniform4f(p.at("u_glint"), g.density * side * side, g.cap, g.cells, 1)
    gl.uniform3f(p.at("u_cell"), scale, x - Math.floor(x), y - Math.floor(y))
    gl.uniform2i(p.at("u_first"), Math.floor(x), Math.floor(y))
    gl.uniform1ui(p.at("u_seed"), g.seed >>> 0)
  }

  read(): Uint8ClampedArray<ArrayBuffer> {
    const { gl, screen: { width, height } } = this
    const up = new Uint8Array(4 * width * height)
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, up)
    const out = new Uint8ClampedArray(up.length), row = 4 * width
    for (let y = 0; y < height; y++) out.set(up.subarray((height - 1 - y) * row, (height - y) * row), y * row)
    return out
  }

  whenDrawn(done: () => void): void {
    const { gl } = this
    const fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0)
    gl.flush()
    const look = () => {
      if (this.closed || gl.isContextLost()) return
      if (fence && gl.getSyncParameter(fence, gl.SYNC_STATUS) !== gl.SIGNALED) {
        setTimeout(look, lookAgain)
        return
      }
      gl.deleteSync(fence)
      done()
    }
    setTimeout(look)
  }

  finish(): void {
    // A pixel that is read waits for the card; finish() alone need not.
    this.gl.readPixels(0, 0, 1, 1, this.gl.RGBA, this.gl.UNSIGNED_BYTE, new Uint8Array(4))
  }

  close(): void {
    this.closed = true
    this.gl.getExtension("WEBGL_lose_context")?.loseContext()
  }
}

let table: GamutTable | undefined
/** The one table of the page, made when first asked for. */
export function gamutTable(): GamutTable { return table ??= new GamutTable() }

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
