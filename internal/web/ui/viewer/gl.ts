// Drawing with WebGL2.

import type { Decoded } from "./decode"
import { GamutTable } from "./gamut"
import { cellSide, poisson, poissonRows, poissonTable, shardsBelow } from "./glint"
import { shadow, type Held, type Part, type Renderer, type Scene } from "./renderer"
import { gatherPlain, gatherSmooth, gatherVertex, lightFragment, lightVertex } from "./shader"

interface GLHeld extends Held { texture: WebGLTexture }

interface Program {
  id: WebGLProgram
  at: (name: string) => WebGLUniformLocation | null
}

/** Makes a renderer, or null where the browser has no WebGL2; throws where the programs do not compile. */
export function makeGL(canvas: HTMLCanvasElement): GLRenderer | null {
  const gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, stencil: false, powerPreference: "low-power" })
  return gl && new GLRenderer(gl)
}

export class GLRenderer implements Renderer {
  readonly kind = "webgl2"
  readonly work = { gathers: 0, draws: 0, lights: 0 }
  private width = 1
  private height = 1
  private readonly plain: Program
  private readonly smooth: Program
  private readonly lit: Program
  private readonly kept: WebGLFramebuffer
  private body: WebGLTexture | null = null
  private skin: WebGLTexture | null = null
  private readonly vertices: WebGLVertexArrayObject

  constructor(private readonly gl: WebGL2RenderingContext) {
    const table = gamutTable()
    this.plain = program(gl, gatherVertex, gatherPlain)
    this.smooth = program(gl, gatherVertex, gatherSmooth)
    this.lit = program(gl, lightVertex, lightFragment(table))
    this.kept = gl.createFramebuffer()
    this.vertices = gl.createVertexArray()
    gl.bindVertexArray(this.vertices)
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1)

    gl.activeTexture(gl.TEXTURE2)
    gl.bindTexture(gl.TEXTURE_2D, gl.createTexture())
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R16F, poisson.slices, poissonRows, 0, gl.RED, gl.FLOAT, poissonTable())
    filter(gl, gl.TEXTURE_2D, gl.LINEAR)
    gl.activeTexture(gl.TEXTURE3)
    gl.bindTexture(gl.TEXTURE_3D, gl.createTexture())
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGBA16F, table.side, table.side, table.side, 0, gl.RGBA, gl.FLOAT, table.nodes)
    filter(gl, gl.TEXTURE_3D, gl.LINEAR)
    gl.texParameteri(gl.TEXTURE_3D, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE)
    gl.activeTexture(gl.TEXTURE0)

    gl.useProgram(this.lit.id)
    gl.uniform1i(this.lit.at("u_body"), 0)
    gl.uniform1i(this.lit.at("u_skin"), 1)
    gl.uniform1i(this.lit.at("u_poisson"), 2)
    gl.uniform1i(this.lit.at("u_gamut"), 3)
  }

  resize(width: number, height: number): void {
    const { gl } = this
    this.width = width
    this.height = height
    gl.deleteTexture(this.body)
    gl.deleteTexture(this.skin)
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
    this.skin = screen(1, gl.RGBA8)
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
    return { texture, width: t.width, height: t.height, bytes: 12 * t.width * t.height }
  }

  drop(h: Held): void {
    this.gl.deleteTexture((h as GLHeld).texture)
  }

  gather(parts: readonly Part[]): void {
    const { gl, work } = this
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.kept)
    gl.viewport(0, 0, this.width, this.height)
    gl.disable(gl.SCISSOR_TEST)
    gl.clearBufferuiv(gl.COLOR, 0, [0, 0, 0, 0])
    gl.clearBufferfv(gl.COLOR, 1, [0, 0, 0, 0])
    gl.enable(gl.SCISSOR_TEST)
    gl.activeTexture(gl.TEXTURE0)
    let bound: Program | null = null
    for (const p of parts) {
      if (p.to <= p.from) continue
      const held = p.held as GLHeld
      const constant = held.width === 1 && held.height === 1
      const use = constant || p.exact ? this.plain : this.smooth
      if (use !== bound) {
        gl.useProgram(use.id)
        gl.uniform2f(use.at("u_size"), this.width, this.height)
        bound = use
      }
      gl.bindTexture(gl.TEXTURE_2D_ARRAY, held.texture)
      gl.scissor(p.from, 0, p.to - p.from, this.height)
      gl.uniform4f(use.at("u_quad"), p.x, p.y, p.w, p.h)
      gl.uniform4f(use.at("u_texel"), 0, 0, p.texels[0], p.texels[1])
      gl.uniform2i(use.at("u_last"), held.width - 1, held.height - 1)
      if (use === this.smooth) gl.uniform1f(use.at("u_sharp"), p.sharp)
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4)
      work.draws++
    }
    gl.disable(gl.SCISSOR_TEST)
    work.gathers++
  }

  light(s: Scene): void {
    const { gl, lit, work } = this
    const l = s.lamp
    gl.bindFramebuffer(gl.FRAMEBUFFER, null)
    gl.viewport(0, 0, this.width, this.height)
    gl.activeTexture(gl.TEXTURE0)
    gl.bindTexture(gl.TEXTURE_2D, this.body)
    gl.activeTexture(gl.TEXTURE1)
    gl.bindTexture(gl.TEXTURE_2D, this.skin)
    gl.activeTexture(gl.TEXTURE0)
    gl.useProgram(lit.id)
    gl.uniform2f(lit.at("u_size"), this.width, this.height)
    gl.uniform2f(lit.at("u_middle"), ...s.middle)
    gl.uniform1f(lit.at("u_mm"), s.mm)
    gl.uniform3f(lit.at("u_to"), ...l.to)
    gl.uniform3f(lit.at("u_eye"), ...l.eye)
    gl.uniform1f(lit.at("u_distance"), l.distance)
    gl.uniform1f(lit.at("u_strength"), l.strength)
    gl.uniform1f(lit.at("u_ambient"), l.ambient)
    gl.uniform1f(lit.at("u_widening"), l.widening)
    const g = l.glint
    if (g) {
      const side = cellSide(s.mm, g.flake), scale = s.mm / side
      const x = -s.sheet[0] * scale, y = -s.sheet[1] * scale
      gl.uniform4f(lit.at("u_glint"), g.density * side * side, g.cap, g.cells, 1)
      gl.uniform3f(lit.at("u_cell"), scale, x - Math.floor(x), y - Math.floor(y))
      gl.uniform2i(lit.at("u_first"), Math.floor(x), Math.floor(y))
      gl.uniform1ui(lit.at("u_seed"), g.seed >>> 0)
      gl.uniform1i(lit.at("u_shards"), scale < shardsBelow ? 1 : 0)
    } else {
      gl.uniform4f(lit.at("u_glint"), 0, 0, 0, 0)
    }
    gl.uniform3f(lit.at("u_bench"), ...s.bench)
    gl.uniform4f(lit.at("u_sheet"), ...s.sheet)
    gl.uniform4f(lit.at("u_shadow"), ...shadow(s))
    gl.uniform2f(lit.at("u_fold"), ...s.fold)
    gl.drawArrays(gl.TRIANGLES, 0, 3)
    work.lights++
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
