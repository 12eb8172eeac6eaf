// Drawing without WebGL2: the arithmetic of shader.ts on the processor, on an image of whole numbers.

import type { Decoded } from "./decode"
import { easy, encode } from "./gamut"
import { gamutTable } from "./gl"
import { flakeSide, mixed, place, poisson, poissonTable, shaped, shard } from "./glint"
import type { GlintCap } from "./lamp"
import { shadow, spreadOf, touched, type Held, type Part, type Rectangle, type Renderer, type Scene } from "./renderer"

interface CanvasHeld extends Held { layers: Decoded["layers"] }

/** Numbers kept for each pixel: diffuse (3), brightest primary, metal (3), amplitude of the coat, share, widths of flakes
 * and coat, 1 where the sheet lies. */
const kept = 12

const enum Kept { diffuse = 0, brightest = 3, metal = 4, coat = 7, share = 8, flakesWidth = 9, coatWidth = 10, lies = 11 }

/** 4096 codes of the 45/0 colour to linear light, and 256 of widths. */
const rootOf = Float32Array.from({ length: 4096 }, (_, code) => {
  const root = (code - 1024) / 2047
  return root * Math.abs(root)
})
const squareOf = Float32Array.from({ length: 256 }, (_, b) => b * b / (255 * 255))

/** sRGB bytes of linear 0 to 1. */
const shownSteps = 8192
const shownOf = Uint8Array.from({ length: shownSteps + 1 }, (_, i) => Math.round(255 * encode(i / shownSteps)))

/** What is kept of each pixel, and their picture. */
interface Screen { width: number; height: number; places: Float32Array; image: ImageData }

export class CanvasRenderer implements Renderer {
  readonly kind = "canvas"
  readonly work = { gathers: 0, draws: 0, lights: 0, pixels: 0 }
  private full: Screen | null = null
  private coarse: Screen | null = null
  /** The one that is drawn. */
  private screen: Screen
  private readonly colour = new Float32Array(3)
  private readonly taken = new Float32Array(9)
  private readonly table = gamutTable()

  constructor(private readonly context: CanvasRenderingContext2D) {
    this.screen = this.make(1, 1)
  }

  private make(width: number, height: number): Screen {
    return { width, height, places: new Float32Array(kept * width * height), image: this.context.createImageData(width, height) }
  }

  resize(width: number, height: number, coarse: boolean): boolean {
    const before = coarse ? this.coarse : this.full
    const stays = before !== null && before.width === width && before.height === height
    const screen = this.screen = stays ? before : this.make(width, height)
    if (coarse) this.coarse = screen
    else this.full = screen
    return stays
  }

  hold(t: Decoded): CanvasHeld {
    return { layers: t.layers, width: t.width, height: t.height, bytes: 12 * t.width * t.height }
  }

  drop(): void {}

  gather(parts: readonly Part[], sheet: Rectangle, more: boolean): void {
    if (!more) this.screen.places.fill(0)
    for (const p of parts) this.part(p, sheet)
    this.work.gathers++
  }

  private part(p: Part, sheet: Rectangle): void {
    const t = p.held as CanvasHeld, { width, height, places } = this.screen
    const constant = t.width === 1 && t.height === 1, spread = spreadOf(p)
    // A pixel belongs to the tile in which its middle lies.
    const x0 = Math.max(p.from, Math.ceil(sheet[0] - 0.5), Math.ceil(p.x - 0.5)), x1 = Math.min(p.to, width, Math.ceil(sheet[2] - 0.5), Math.ceil(p.x + p.w - 0.5))
    const y0 = Math.max(0, Math.ceil(sheet[1] - 0.5), Math.ceil(p.y - 0.5)), y1 = Math.min(height, Math.ceil(sheet[3] - 0.5), Math.ceil(p.y + p.h - 0.5))
    if (x0 >= x1 || y0 >= y1) return
    const sx = p.texels[0] / p.w, sy = p.texels[1] / p.h
    const { taken } = this
    for (let y = y0; y < y1; y++) {
      let last = -1, at = kept * (y * width + x0)
      const v = (y + 0.5 - p.y) * sy
      for (let x = x0; x < x1; x++, at += kept) {
        const u = (x + 0.5 - p.x) * sx
        if (constant || p.exact) {
          const i = constant ? 0 : clamp(Math.floor(v), t.height - 1) * t.width + clamp(Math.floor(u), t.width - 1)
          if (last >= 0 && same(t.layers, i, last)) {
            places.copyWithin(at, at - kept, at)
            last = i
            continue
          }
          last = i
          taken.fill(0)
          addTexel(taken, t.layers, i, 1)
        } else {
          const i = Math.floor(u - (spread || 0.5)), j = Math.floor(v - (spread || 0.5))
          const fx = spread ? 0.5 : Math.min(Math.max((u - 0.5 - i - 0.5) * p.sharp + 0.5, 0), 1)
          const fy = spread ? 0.5 : Math.min(Math.max((v - 0.5 - j - 0.5) * p.sharp + 0.5, 0), 1)
          const i0 = clamp(i, t.width - 1), i1 = clamp(spread ? Math.floor(u + spread) : i + 1, t.width - 1)
          const j0 = clamp(j, t.height - 1) * t.width, j1 = clamp(spread ? Math.floor(v + spread) : j + 1, t.height - 1) * t.width
          taken.fill(0)
          addTexel(taken, t.layers, j0 + i0, (1 - fx) * (1 - fy))
          addTexel(taken, t.layers, j0 + i1, fx * (1 - fy))
          addTexel(taken, t.layers, j1 + i0, (1 - fx) * fy)
          addTexel(taken, t.layers, j1 + i1, fx * fy)
        }
        keep(taken, places, at)
      }
    }
    this.work.draws++
  }

  light(s: Scene): void {
    const { table, colour } = this, { width, height, places, image } = this.screen
    const out = image.data
    const { to, eye, distance, strength, ambient, widening, glint } = s.lamp
    const numbers = glint ? poissonTable() : null
    const [wayX, wayY, soft, depth] = shadow(s)
    const [left, top, right, bottom] = s.sheet
    const side = glint ? flakeSide(s, glint) : 1, cells = s.mm / side, shards = shaped(s)
    const foldAt = s.fold[0], foldWide = s.fold[1]
    let at = 0, o = 0
    for (let y = 0; y < height; y++) {
      for (let x = 0; x < width; x++, at += kept, o += 4) {
        const px = x + 0.5, py = y + 0.5
        if (places[at + Kept.lies] === 0) {
          const sx = px - wayX, sy = py - wayY
          const missed = px > left && px < right && py > top && py < bottom
          const inShadow = missed ? 0 : smooth(sx - left, soft) * smooth(right - sx, soft) * smooth(sy - top, soft) * smooth(bottom - sy, soft)
          for (let c = 0; c < 3; c++) out[o + c] = 255 * s.bench[c]! * (1 - depth * inShadow)
          out[o + 3] = 255
          continue
        }
        let tx = to[0], ty = to[1], tz = to[2]
        if (distance > 0) {
          tx = tx * distance - (px - s.middle[0]) * s.mm
          ty = ty * distance - (s.middle[1] - py) * s.mm
          tz *= distance
          const n = 1 / Math.sqrt(tx * tx + ty * ty + tz * tz)
          tx *= n
          ty *= n
          tz *= n
        }
        let hx = tx + eye[0], hy = ty + eye[1], nh = tz + eye[2]
        const n = 1 / Math.sqrt(hx * hx + hy * hy + nh * nh)
        hx *= n
        hy *= n
        nh *= n
        const nl = tz, nv = eye[2], c = 1 - (hx * eye[0] + hy * eye[1] + nh * eye[2])
        const grazing = c * c * c * c * c, nh2 = nh * nh
        const seen = nl > 0 && nv > 0, fall = seen ? strength : 0
        const k = places[at + Kept.coat]!
        const coat = seen ? k * (0.04 + 0.96 * grazing) * lobe(places[at + Kept.coatWidth]!, widening, nl, nv, nh2) : 0
        let r = (places[at]! + coat) * fall, g = (places[at + 1]! + coat) * fall, b = (places[at + 2]! + coat) * fall
        let room = 0.04 * k * ambient
        r += places[at]! * ambient + room
        g += places[at + 1]! * ambient + room
        b += places[at + 2]! * ambient + room
        const share = places[at + Kept.share]!
        if (share > 0) {
          const alpha = places[at + Kept.flakesWidth]!
          const m0 = places[at + Kept.metal]!, m1 = places[at + Kept.metal + 1]!, m2 = places[at + Kept.metal + 2]!
          if (seen) {
            let f = lobe(alpha, widening, nl, nv, nh2) * fall
            if (glint && numbers) {
              let cx = (px - left) * cells, cy = (py - top) * cells
              if (shards) [cx, cy] = shard(cx, cy, glint.seed) as unknown as [number, number]
              f *= flicker(glint, numbers, side, widening, alpha, share, nh, hx / nh, hy / nh, Math.floor(cx), Math.floor(cy))
            }
            if (m0 > 0) r += f * (m0 + Math.max(share - m0, 0) * grazing)
            if (m1 > 0) g += f * (m1 + Math.max(share - m1, 0) * grazing)
            if (m2 > 0) b += f * (m2 + Math.max(share - m2, 0) * grazing)
          }
          room = ambient * Math.max(0.35, 1 - 1.3 * alpha * alpha)
          r += room * m0
          g += room * m1
          b += room * m2
        }
        const hi = Math.max(r, g, b), knee = Math.max(0.85, places[at + Kept.brightest]! * (fall + ambient))
        if (hi > knee && knee < 1) {
          const f = (knee + (1 - knee) * (1 - Math.exp((knee - hi) / (1 - knee)))) / hi
          r *= f
          g *= f
          b *= f
        }
        let dim = 1
        const past = px - foldAt
        if (past >= 0 && past < foldWide) dim = 1 - 0.4 * (1 - past / foldWide) ** 2
        if (easy(r, g, b) && dim === 1) {
          out[o] = shownOf[r * shownSteps + 0.5 | 0]!
          out[o + 1] = shownOf[g * shownSteps + 0.5 | 0]!
          out[o + 2] = shownOf[b * shownSteps + 0.5 | 0]!
        } else {
          if (easy(r, g, b)) {
            colour[0] = encode(r)
            colour[1] = encode(g)
            colour[2] = encode(b)
          } else {
            table.colour(r, g, b, colour, 0)
          }
          out[o] = 255 * colour[0]! * dim
          out[o + 1] = 255 * colour[1]! * dim
          out[o + 2] = 255 * colour[2]! * dim
        }
        out[o + 3] = 255
      }
    }
    this.work.lights++
    const [x0, y0, x1, y1] = touched(s.sheet, width, height)
    this.work.pixels = Math.max(0, x1 - x0) * Math.max(0, y1 - y0)
    this.context.putImageData(image, 0, 0)
  }

  read(): Uint8ClampedArray<ArrayBuffer> { return new Uint8ClampedArray(this.screen.image.data) }

  whenDrawn(done: () => void): void { done() }

  finish(): void {}

  close(): void {}
}

function clamp(v: number, last: number): number { return v < 0 ? 0 : v > last ? last : v }

function smooth(d: number, soft: number): number {
  const t = Math.min(Math.max((d + soft) / (2 * soft), 0), 1)
  return t * t * (3 - 2 * t)
}

function same(l: Decoded["layers"], i: number, j: number): boolean {
  i *= 4
  j *= 4
  for (const a of l) if (a[i] !== a[j] || a[i + 1] !== a[j + 1] || a[i + 2] !== a[j + 2] || a[i + 3] !== a[j + 3]) return false
  return true
}

/** Adds so much of a texel: 45/0 colour, metal, share, flakes' width times share, coat's width. */
function addTexel(s: Float32Array, l: Decoded["layers"], i: number, w: number): void {
  if (w === 0) return
  const [a, b, c] = l, o = 4 * i
  for (let k = 0; k < 3; k++) {
    s[k]! += w * rootOf[a[o + k]! << 4 | b[o + k]! >> 4]!
    s[3 + k]! += w * 2 * squareOf[c[o + k]!]!
  }
  const share = c[o + 3]! / 255
  s[6]! += w * share
  s[7]! += w * share * squareOf[b[o + 3]!]!
  s[8]! += w * squareOf[a[o + 3]!]!
}

const grazing45 = (1 - Math.cos(Math.PI / 8)) ** 5

/** Takes a place apart into a diffuse part and two lobes (shader.ts, keep). */
function keep(s: Float32Array, out: Float32Array, at: number): void {
  const share = s[6]!, flakes = share > 0 ? Math.max(s[7]! / share, 0.01) : 0.01, coat = Math.max(s[8]!, 0.01)
  const wide = s[3]! > 0 || s[4]! > 0 || s[5]! > 0 ? lobe(flakes, 0, Math.SQRT1_2, 1, nh45) : 0
  for (let c = 0; c < 3; c++) {
    let metal = s[3 + c]!, left = s[c]!
    if (metal > 0) {
      const seen = wide * (metal + Math.max(share - metal, 0) * grazing45), most = Math.max(left, 0)
      if (seen > most) metal *= most / seen
      if (metal > 0) left -= wide * (metal + Math.max(share - metal, 0) * grazing45)
    }
    out[at + Kept.metal + c] = metal
    out[at + c] = left
  }
  const light = 0.2126 * out[at]! + 0.7152 * out[at + 1]! + 0.0722 * out[at + 2]!
  const full = (0.04 + 0.96 * grazing45) * lobe(coat, 0, Math.SQRT1_2, 1, nh45)
  const k = full > 0.9 * light ? Math.max(0, 0.9 * light / full) : 1
  for (let c = 0; c < 3; c++) out[at + c]! -= k * full
  out[at + Kept.brightest] = Math.max(s[0]!, s[1]!, s[2]!)
  out[at + Kept.coat] = k
  out[at + Kept.share] = share
  out[at + Kept.flakesWidth] = flakes
  out[at + Kept.coatWidth] = coat
  out[at + Kept.lies] = 1
}

const nh45 = (1 + Math.SQRT1_2) / 2

/** pi D V, weakened as a lamp weakens it that fills an angle. */
function lobe(alpha: number, widening: number, nl: number, nv: number, nh2: number): number {
  const wide = Math.min(1, alpha + widening), a2 = wide * wide, k = 1 - a2, q = 1 - nh2 * k
  return 0.5 * alpha * alpha / (q * q * (nl * Math.sqrt(nv * nv * k + a2) + nv * Math.sqrt(nl * nl * k + a2)))
}

/** What the flakes' light of a cell of the page is multiplied by (shader.ts, flicker). */
function flicker(g: GlintCap, table: Float32Array, side: number, widening: number, alpha: number, share: number, nh: number, hx: number, hy: number, x: number, y: number): number {
  const wide = Math.min(1, alpha + widening), a2 = wide * wide, q = 1 - nh * nh * (1 - a2)
  const p = Math.min(1, a2 / (Math.PI * q * q) * nh * g.cap)
  const fine = Math.pow(1e6, Math.min(Math.max((0.2 - alpha) / 0.045, 0), 1))
  const mean = share * g.density * side * side * p * fine
  const spread = Math.min(Math.max((alpha - 0.15) / 0.05, 0), 1) * Math.min(1, Math.sqrt(2 ** poisson.high / Math.max(mean, 1)))
  if (spread === 0) return 1
  const row = (Math.min(Math.max(Math.log2(Math.max(mean, 1e-6)), poisson.low), poisson.high) - poisson.low) * poisson.octave
  const own = place(x, y, g.seed)
  const u = hx * g.cells + (own & 0xffff) / 65536, v = hy * g.cells + (own >>> 16) / 65536
  const i = Math.floor(u), j = Math.floor(v)
  let fx = u - i, fy = v - j
  fx *= fx * (3 - 2 * fx)
  fy *= fy * (3 - 2 * fy)
  const slice = (a: number, b: number) => {
    const h = mixed(own ^ Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca77))
    return table[(row + (h & 0xffff) / 65536 | 0) * poisson.slices + (h >>> 24)]!
  }
  const top = slice(i, j) * (1 - fx) + slice(i + 1, j) * fx, low = slice(i, j + 1) * (1 - fx) + slice(i + 1, j + 1) * fx
  return 1 + spread * (top + (low - top) * fy - 1)
}
