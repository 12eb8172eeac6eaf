// Which tiles a screen needs, and what stands in for those that are not there yet.

import type { Part } from "./renderer"
import { tileSide, type Source } from "./sheet"
import type { Tiles, Wish } from "./tiles"

/** A source on the screen: its top left corner and pixels per millimetre, and the columns of the screen it may touch. */
export interface Laid {
  source: Source
  x: number
  y: number
  scale: number
  from: number
  to: number
  width: number
  height: number
}

/** Pixels of the screen per texel of a level. */
function texelSize(l: Laid, level: number): number {
  return l.scale * 25.4 / l.source.levels[level]!.dpi
}

interface Range { x0: number; y0: number; x1: number; y1: number }

/** Tiles of a level that the screen shows, half-open. */
function range(l: Laid, level: number): Range {
  const size = l.source.levels[level]!, side = tileSide * texelSize(l, level)
  const nx = Math.ceil(size.width / tileSide), ny = Math.ceil(size.height / tileSide)
  return {
    x0: Math.max(0, Math.floor((l.from - l.x) / side)), x1: Math.min(nx, Math.ceil((l.to - l.x) / side)),
    y0: Math.max(0, Math.floor(-l.y / side)), y1: Math.min(ny, Math.ceil((l.height - l.y) / side)),
  }
}

function texels(l: Laid, level: number): number {
  const r = range(l, level), size = l.source.levels[level]!
  return Math.max(0, Math.min(r.x1 * tileSide, size.width) - r.x0 * tileSide) * Math.max(0, Math.min(r.y1 * tileSide, size.height) - r.y0 * tileSide)
}

/** The coarsest level with a texel or more for each pixel, or a coarser one whose tiles on the screen fit in so many bytes. */
export function levelFor(l: Laid, bytes: number): number {
  const last = l.source.levels.length - 1
  let level = 0
  while (level < last && texelSize(l, level) > 1.001) level++
  while (level > 0 && 12 * texels(l, level) > bytes) level--
  return level
}

/** The level that shows the whole page in a tile or few, kept as what stands in for everything. */
function base(s: Source): number {
  let level = 0
  while (level + 1 < s.levels.length && Math.max(s.levels[level + 1]!.width, s.levels[level + 1]!.height) <= 2 * tileSide) level++
  return level
}

/** Adds what to draw of a source, coarse before fine, and what is missed. Answers the level and whether it is all there. */
export function plan(l: Laid, tiles: Tiles, bytes: number, parts: Part[], wishes: Wish[]): { level: number; whole: boolean } {
  const level = levelFor(l, bytes), { source } = l
  const low = Math.min(base(source), level)
  const stand: Part[][] = source.levels.map(() => [])
  const drawn = new Set<string>()
  const draw = (k: number, x: number, y: number): boolean | undefined => {
    const name = `${k}/${x}/${y}`
    if (drawn.has(name)) return true
    const t = tiles.look(source, k, x, y)
    if (!t) return undefined
    drawn.add(name)
    if (t.held) {
      const step = texelSize(l, k)
      stand[k]!.push({
        held: t.held, x: l.x + x * tileSide * step, y: l.y + y * tileSide * step, w: t.width * step, h: t.height * step,
        name: `${t.address} ${l.from}`, fine: k === level, texels: [t.width, t.height], from: l.from, to: l.to,
        sharp: k === source.levels.length - 1 ? Math.max(1, step / 2) : 1,
        exact: Math.abs(step - 1) < 1e-4,
      })
    }
    return true
  }
  const middle = { x: (l.from + l.to) / 2, y: l.height / 2 }
  const miss = (k: number, x: number, y: number, first: number) => {
    const side = tileSide * texelSize(l, k)
    const d = Math.hypot(l.x + (x + 0.5) * side - middle.x, l.y + (y + 0.5) * side - middle.y)
    wishes.push({ source, level: k, x, y, rank: first + d })
  }

  const all = range(l, low)
  for (let y = all.y0; y < all.y1; y++) for (let x = all.x0; x < all.x1; x++) if (!tiles.look(source, low, x, y)) miss(low, x, y, -1e6)

  let whole = true
  const r = range(l, level)
  for (let y = r.y0; y < r.y1; y++) {
    for (let x = r.x0; x < r.x1; x++) {
      if (draw(level, x, y)) continue
      whole = false
      if (level !== low) miss(level, x, y, 0)
      else miss(level, x, y, -1e6)
      for (let k = level - 1; k >= 0; k--) if (draw(k, x >> (level - k), y >> (level - k))) break
      if (level + 1 < source.levels.length) for (let i = 0; i < 4; i++) draw(level + 1, 2 * x + (i & 1), 2 * y + (i >> 1))
    }
  }
  for (const p of stand) parts.push(...p)
  return { level, whole }
}
