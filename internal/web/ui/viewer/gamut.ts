// Colours a screen cannot show are brought into its gamut as pictures of the program bring them (package look, gamut.go):
// along constant hue in OkLab (Ottosson 2020), to about the nearest point, with a soft knee over the last twentieth.
//
// The search is too slow for every pixel of every frame. Colours well inside are told by two comparisons and left alone;
// the rest go through a table of the search's answers (GamutTable), which both ways of drawing read.

export type Triple = [number, number, number]

const knee = 0.95
const weight = 2
const margin = 1e-6
const hollow = 0.006
const dark = 0.05

function okLab(r: number, g: number, b: number): Triple {
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b)
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b)
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b)
  return [
    0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  ]
}

function linear(L: number, a: number, b: number): Triple {
  let l = L + 0.3963377774 * a + 0.2158037573 * b
  let m = L - 0.1055613458 * a - 0.0638541728 * b
  let s = L - 0.0894841775 * a - 1.291485548 * b
  l = l * l * l
  m = m * m * m
  s = s * s * s
  return [
    4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
    -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
    -0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s,
  ]
}

function inside(v: Triple, slack: number): boolean {
  return Math.min(v[0], v[1], v[2]) >= -slack && Math.max(v[0], v[1], v[2]) <= 1 + margin
}

function hueDegrees(a: number, b: number): number {
  const h = Math.atan2(b, a) * 180 / Math.PI
  return h < 0 ? h + 360 : h
}

/** OkLab lightness and chroma of the most vivid sRGB colour of each degree of hue, two numbers a degree. */
let vividTable: Float64Array | undefined
function vivid(): Float64Array {
  if (vividTable) return vividTable
  const steps = 2000
  const t = new Float64Array(2 * 361)
  for (let edge = 0; edge < 6; edge++) {
    // Red, yellow, green, cyan, blue, magenta and back: one primary full, one empty, one between.
    const full = ((edge + 1) >> 1) % 3, other = [1, 0, 2, 1, 0, 2][edge]!
    for (let i = 0; i < steps; i++) {
      const v: Triple = [0, 0, 0]
      v[full] = 1
      v[other] = edge % 2 ? 1 - i / steps : i / steps
      const c = okLab(v[0], v[1], v[2])
      const chroma = Math.hypot(c[1], c[2]), h = Math.round(hueDegrees(c[1], c[2]))
      if (chroma > t[2 * h + 1]!) {
        t[2 * h] = c[0]
        t[2 * h + 1] = chroma
      }
    }
  }
  if (t[721]! > t[1]!) {
    t[0] = t[720]!
    t[1] = t[721]!
  }
  t[720] = t[0]!
  t[721] = t[1]!
  return vividTable = t
}

/** How much lightness to give up for a unit of chroma on the way into the gamut. */
function slope(p: Triple, chroma: number): number {
  const turn = hueDegrees(p[1], p[2]), at = Math.min(Math.trunc(turn), 359), near = turn - at
  const t = vivid()
  const tip = t[2 * at]! * (1 - near) + t[2 * at + 2]! * near
  const reach = t[2 * at + 1]! * (1 - near) + t[2 * at + 3]! * near
  const upper = reach / (weight * (1 - tip)), lower = -reach / (weight * tip)
  if (chroma > reach) return Math.min(Math.max((p[0] - tip) / (chroma - reach), lower), upper)
  return p[0] > tip ? upper : lower
}

function clamped(v: Triple): Triple {
  return [Math.min(Math.max(v[0], 0), 1), Math.min(Math.max(v[1], 0), 1), Math.min(Math.max(v[2], 0), 1)]
}

/** Brings a linear sRGB colour into the gamut. */
export function fit(v: Triple): Triple {
  const lo = Math.min(v[0], v[1], v[2]), hi = Math.max(v[0], v[1], v[2])
  if (lo >= 0.16 * hi && hi <= 0.8) return v
  if (hi <= 0) return [0, 0, 0]
  const p = okLab(v[0], v[1], v[2])
  const chroma = Math.hypot(p[1], p[2])
  const focus = Math.min(Math.max(p[0] - chroma * slope(p, chroma), 0.001), 0.999)
  const along = (t: number) => linear(focus + t * (p[0] - focus), t * p[1], t * p[2])
  const within = (t: number) => inside(along(t), hollow * hi)
  if (within(1 / knee) && inside(v, margin)) return clamped(v)
  const steps = 48
  let edge = 0, beyond = 1 / knee
  for (let i = 0; i < steps; i++) {
    edge = (steps - 1 - i) / (steps * knee)
    if (within(edge)) break
    beyond = edge
  }
  for (let i = 0; i < 16; i++) {
    const m = (edge + beyond) / 2
    if (within(m)) edge = m
    else beyond = m
  }
  if (edge > 0 && chroma > 0) {
    const reach = 1 / edge
    const soft = Math.min(1, chroma / 0.02)
    const eased = knee + (1 - knee) * (1 - Math.exp((knee - reach) / (1 - knee)))
    edge *= Math.min(reach, 1) + soft * (eased - Math.min(reach, 1))
  }
  const out = clamped(along(edge))
  const share = hi / dark
  if (share < 1) {
    const clip = clamped(v)
    for (let c = 0; c < 3; c++) out[c] = clip[c]! + share * (out[c]! - clip[c]!)
  }
  return out
}

/** sRGB's curve (IEC 61966-2-1) of linear 0 to 1. */
export function encode(v: number): number {
  return v <= 0.0031308 ? 12.92 * v : 1.055 * Math.pow(v, 1 / 2.4) - 0.055
}

/** Share of the way past the brightest primary that must be free, and of it that the darkest must have, for a colour to be
 * left alone without a search: held against the search on random colours by a test. */
export const easyRoom = 0.1
export const easyLeast = 0.1

/** Whether a colour is so far inside that fit leaves it alone. */
export function easy(r: number, g: number, b: number): boolean {
  const lo = Math.min(r, g, b), hi = Math.max(r, g, b)
  return lo >= easyLeast * hi && hi + easyRoom * (hi - lo) <= 1
}

/**
 * Answers of fit, coded for sRGB, on a grid of signed square roots of linear light: between its nodes they are
 * interpolated in three directions.
 */
export class GamutTable {
  /** Nodes along each side; the first is the root from, the last the root to. */
  readonly side = 40
  readonly from = -0.4
  readonly to = 1.5
  /** Red, green, blue and a 1 of each node, red fastest, sRGB 0 to 1. */
  readonly nodes: Float32Array

  constructor() {
    const { side } = this
    this.nodes = new Float32Array(4 * side ** 3)
    const axis = Array.from({ length: side }, (_, i) => {
      const root = this.from + (this.to - this.from) * i / (side - 1)
      return root * Math.abs(root)
    })
    let k = 0
    for (const b of axis) {
      for (const g of axis) {
        for (const r of axis) {
          const v = fit([r, g, b])
          this.nodes[k] = encode(v[0])
          this.nodes[k + 1] = encode(v[1])
          this.nodes[k + 2] = encode(v[2])
          this.nodes[k + 3] = 1
          k += 4
        }
      }
    }
  }

  /** Place of a linear value on the grid, 0 to side - 1. */
  private axis(v: number): number {
    const root = v < 0 ? -Math.sqrt(-v) : Math.sqrt(v)
    return Math.min(Math.max((root - this.from) / (this.to - this.from), 0), 1) * (this.side - 1)
  }

  /** The sRGB colour, 0 to 1, of linear light, into out from index at. */
  colour(r: number, g: number, b: number, out: Float32Array, at: number): void {
    const n = this.side, last = n - 2
    const x = this.axis(r), y = this.axis(g), z = this.axis(b)
    const i = Math.min(x | 0, last), j = Math.min(y | 0, last), k = Math.min(z | 0, last)
    const fx = x - i, fy = y - j, fz = z - k
    const t = this.nodes, o = 4 * ((k * n + j) * n + i)
    const dy = 4 * n, dz = 4 * n * n
    for (let c = 0; c < 3; c++) {
      const p = o + c
      const low = (t[p]! * (1 - fx) + t[p + 4]! * fx) * (1 - fy) + (t[p + dy]! * (1 - fx) + t[p + dy + 4]! * fx) * fy
      const q = p + dz
      const high = (t[q]! * (1 - fx) + t[q + 4]! * fx) * (1 - fy) + (t[q + dy]! * (1 - fx) + t[q + dy + 4]! * fx) * fy
      out[at + c] = low + (high - low) * fz
    }
  }
}
