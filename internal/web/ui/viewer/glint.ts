// Glint (package look, glint.go): the flakes' light of a place is multiplied by a Poisson number over its mean. Here the
// number belongs to a square cell of the page, so that flakes stay where they are while the sheet is moved; cells are the
// smallest of a fixed series that are about as large as a pixel of the screen and not smaller than a flake.

/** Means in the table: 2^low to 2^high, so many an octave; slices are means over equal shares of the probability. */
export const poisson = { low: -6, high: 10, octave: 2, slices: 256 }

/** Side of the smallest cell in mm: a pixel of 4800 dpi. Others are this times a power of two. */
const cellBase = 25.4 / 4800

/** Side in mm of the cells for a screen of so many mm a pixel, and flakes of such a side in mm. */
function cellSide(pixel: number, flake: number): number {
  const octave = Math.round(Math.log2(pixel / cellBase) + 0.2)
  const least = Math.max(0, Math.round(Math.log2(flake / cellBase)))
  return cellBase * 2 ** Math.max(octave, least)
}

/** Cells per pixel of the screen below which flakes are drawn with a shape of their own: a cell of three pixels and more. */
const shardsBelow = 1 / 3

/** What tells how large flakes are drawn: mm a pixel, and pixels of the screen along the side of one. */
interface Seen { mm: number; grain: number; lamp: { glint: { flake: number } | null } }

/** Whether flakes are so near that they have shapes. */
export function shaped(s: Seen): boolean {
  const own = s.mm / s.grain
  return s.lamp.glint !== null && own / cellSide(own, s.lamp.glint.flake) < shardsBelow
}

/** Side in mm of the cells of a scene: those that have shapes are as large in coarse pixels, others are as coarse as these. */
export function flakeSide(s: Seen, g: { flake: number }): number {
  return cellSide(shaped(s) ? s.mm / s.grain : s.mm, g.flake)
}

/** Rows of the table. */
export const poissonRows = poisson.octave * (poisson.high - poisson.low) + 1

let table: Float32Array | undefined

/** Poisson numbers over their mean: a row of slices for each mean, the least mean first. The mean of a row is 1. */
export function poissonTable(): Float32Array {
  if (table) return table
  table = new Float32Array(poissonRows * poisson.slices)
  for (let i = 0; i < poissonRows; i++) row(2 ** (poisson.low + i / poisson.octave), table.subarray(i * poisson.slices, (i + 1) * poisson.slices))
  return table
}

/** Walks through the probabilities from 0 flakes upwards, built from the likeliest number so that none is too small. */
function row(mean: number, out: Float32Array): void {
  const mode = Math.floor(mean)
  const p: number[] = []
  p[mode] = 1
  for (let k = mode; k > 0; k--) p[k - 1] = p[k]! * k / mean
  for (let k = mode; ; k++) {
    const next = p[k]! * mean / (k + 1)
    if (next < 1e-12) break
    p.push(next)
  }
  const sum = p.reduce((a, b) => a + b, 0)
  const exact = new Float64Array(out.length)
  let k = 0, left = p[0]! / sum, total = 0
  for (let i = 0; i < out.length; i++) {
    for (let need = 1 / out.length; need > 0;) {
      const part = k === p.length - 1 ? need : Math.min(need, left)
      exact[i]! += part * k
      need -= part
      left -= part
      if (left <= 0 && k < p.length - 1) left = p[++k]! / sum
    }
    total += exact[i]!
  }
  for (let i = 0; i < out.length; i++) out[i] = exact[i]! * out.length / total
}

/** Mixes the bits of a 32-bit number. */
export function mixed(v: number): number {
  v = Math.imul(v ^ v >>> 16, 0x7feb352d)
  v = Math.imul(v ^ v >>> 15, 0x846ca68b)
  return (v ^ v >>> 16) >>> 0
}

/** A cell's own random number. */
export function place(x: number, y: number, seed: number): number {
  return mixed(Math.imul(x, 0x9e3779b1) ^ mixed(Math.imul(y, 0x85ebca77) ^ seed))
}

const nearest = new Int32Array(2)

/** The cell of the nearest flake to a place in cells, each flake somewhere in its cell; valid until the next call. */
export function shard(x: number, y: number, seed: number): Int32Array {
  const i0 = Math.floor(x), j0 = Math.floor(y)
  let least = 9
  for (let j = j0 - 1; j <= j0 + 1; j++) {
    for (let i = i0 - 1; i <= i0 + 1; i++) {
      const h = mixed(Math.imul(i, 0x85ebca77) ^ mixed(Math.imul(j, 0x9e3779b1) ^ seed))
      const dx = i + (h & 0xff) / 255 - x, dy = j + (h >>> 8 & 0xff) / 255 - y
      const far = dx * dx + dy * dy
      if (far < least) {
        least = far
        nearest[0] = i
        nearest[1] = j
      }
    }
  }
  return nearest
}
